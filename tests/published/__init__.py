"""Numbers that others published, a file a source, the citation beside each number."""
