"""Pages of the workshop."""
