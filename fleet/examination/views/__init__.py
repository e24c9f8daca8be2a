"""Pages of tests and procedures."""
