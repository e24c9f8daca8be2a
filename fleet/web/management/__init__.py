"""Commands of the screens that join slices."""
