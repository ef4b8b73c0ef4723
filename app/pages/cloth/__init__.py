"""Cloth."""
