"""The writes of the register; each module holds one subject."""
