"""Brake-equipment maintenance register of a railway vehicle fleet."""
