"""Roster."""
