"""Charts as inline SVG."""
