"""Who logs in, who does and signs, and what they may."""
