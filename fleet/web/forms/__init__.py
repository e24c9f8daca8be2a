"""Forms of the screens that join slices."""
