"""Who may do what: roles and their one table, and the ways in, worked out without web or disk."""
