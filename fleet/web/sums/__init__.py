"""Workshop sums: forms in the trade's units, results with their working in words."""
