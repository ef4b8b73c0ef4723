"""Long computations: who runs them, in which line they wait, by which processes."""
