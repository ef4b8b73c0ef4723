"""Plan a day, and trying a change on it."""
