"""What a running server tells whoever operates it: numbers and a log, nothing of anybody."""
