"""Commands that belong to no single slice."""
