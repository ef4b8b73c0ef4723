"""The work of each page; the only meeting of computation and database."""
