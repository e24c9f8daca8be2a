"""Template tags of this slice."""
