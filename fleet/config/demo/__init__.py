"""The demo fleet of a fictional line: six years of records, relative to today."""
