"""The guides."""
