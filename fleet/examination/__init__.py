"""Procedures, instruments, tests and their readings."""
