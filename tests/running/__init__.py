"""What a running server tells whoever operates it."""
