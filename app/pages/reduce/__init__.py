"""When to reduce, and speed, spacing and rule together."""
