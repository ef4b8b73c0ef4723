"""Faults made from the source by a fixed list of operators, and whether the tests notice them."""
