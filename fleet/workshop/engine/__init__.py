"""The workshop programme as a sum: pure data in, a programme out. No Django, no clock."""
