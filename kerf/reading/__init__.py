"""Readers: somebody else's drawing in, closed line/arc regions out."""

from kerf.reading.any import read_drawing, survey_drawing

__all__ = ["read_drawing", "survey_drawing"]
