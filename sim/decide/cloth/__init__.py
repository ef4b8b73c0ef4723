"""Cloth: when a set is changed, how many sets to own, what to order, and a whole season."""
