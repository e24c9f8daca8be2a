"""Every printed paper."""
