"""Screens that join slices."""
