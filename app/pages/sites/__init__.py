"""The list of sites, and the set-up of a new one."""
