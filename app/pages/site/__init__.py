"""Site."""
