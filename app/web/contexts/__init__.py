"""What each page shows: a dataclass a page, and the function that fills it."""
