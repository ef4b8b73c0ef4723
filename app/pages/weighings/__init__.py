"""Three weighings."""
