"""Staff."""
