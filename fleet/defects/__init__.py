"""Defect tickets and isolations."""
