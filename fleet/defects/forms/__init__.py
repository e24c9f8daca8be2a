"""Forms of defects, work in hand and isolations."""
