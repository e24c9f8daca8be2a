"""What makes a row a fact: entries, versions, corrections, guards, the announce port."""
