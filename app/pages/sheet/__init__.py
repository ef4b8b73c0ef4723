"""The day sheet."""
