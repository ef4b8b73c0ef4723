"""People: the work of a day by role, who is needed in each half-hour, and what it costs."""
