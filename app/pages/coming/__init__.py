"""The coming days."""
