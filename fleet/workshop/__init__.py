"""The workshop: what it can do, and the programme of its visits."""
