"""Dimensioned vector figures, shared by sheet, preview and page."""
