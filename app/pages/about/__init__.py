"""About the model."""
