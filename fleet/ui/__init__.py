"""Pieces of pages that any slice uses."""
