"""Speed and spacing."""
