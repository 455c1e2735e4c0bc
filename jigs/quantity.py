"""Lengths as people read them: the one place where millimetres become inches."""

from __future__ import annotations


def length_text(value_mm: float, units: str, *, places: int | None = None) -> str:
    """Return a length with its unit.

    Args:
        value_mm: the length, mm.
        units: "mm" (3 places) or "inch" (4 places).
        places: decimals, when not the usual.
    """
    if units == "inch":
        text = f"{value_mm / 25.4:.{4 if places is None else places}f}"
        unit = "in"
    else:
        text = f"{value_mm:.{3 if places is None else places}f}"
        unit = "mm"
    if float(text) == 0:
        text = text.lstrip("-")
    return f"{text.replace('-', '−')} {unit}"
