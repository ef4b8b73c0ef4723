"""When to reduce wiping and when to go back: the search, why, what else helps, other days."""
