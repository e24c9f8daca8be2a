"""Pages and papers of this slice."""
