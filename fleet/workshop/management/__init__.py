"""Commands of the fitness slice."""
