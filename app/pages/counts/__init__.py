"""Counts."""
