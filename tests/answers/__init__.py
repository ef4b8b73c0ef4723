"""Tests; they mirror the tree."""
