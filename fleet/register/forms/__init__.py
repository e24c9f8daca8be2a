"""Forms of the register."""
