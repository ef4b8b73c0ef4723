"""The season."""
