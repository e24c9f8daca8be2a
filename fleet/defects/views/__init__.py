"""Pages of defects, work in hand and isolations."""
