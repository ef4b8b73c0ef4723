"""Studies."""
