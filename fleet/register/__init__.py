"""Vehicles, types and positions, equipment, fittings, usage, storage: what is where."""
