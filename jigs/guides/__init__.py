"""Guide kinds: one module each, found through one table."""
