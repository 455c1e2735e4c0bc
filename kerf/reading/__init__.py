"""Readers: somebody else's drawing in, closed line/arc regions out."""
