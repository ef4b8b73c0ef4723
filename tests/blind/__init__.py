"""A second wash, written apart from the model, on which plans and learning are scored."""
