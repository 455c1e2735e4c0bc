"""A figure as SVG: plain paths in millimetres, arcs as arcs, text as strokes.

No style sheet, pattern, marker, clip or font is used, so that every reader draws the same
picture; numbers are rounded to a micrometre, so that the same figure gives the same bytes.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from functools import lru_cache
from xml.sax.saxutils import escape

from jigs.drawing.scene import Area, Curve, Figure, Pen, Text
from kerf.contour import Edge


@lru_cache(maxsize=32)
def svg(figure: Figure) -> str:
    """Return the figure as a standalone SVG document, size in mm, with its title inside.

    The last few are kept: sheet, page and preview show the same figures.
    """
    width, height = _number(figure.width_mm), _number(figure.height_mm)
    body = "\n".join(line for item in figure.items for line in _drawn(item, figure.height_mm))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}" fill="none" stroke-linecap="round" '
        f'stroke-linejoin="round">\n<title>{escape(figure.title)}</title>\n{body}\n</svg>\n'
    )


def _drawn(item: Area | Curve | Text, top_mm: float) -> list[str]:
    """Return the elements of one item."""
    if isinstance(item, Text):
        runs = (
            "M" + "L".join(f"{_number(x)} {_number(top_mm - y)}" for x, y in stroke)
            for stroke in item.strokes()
        )
        # The words travel with their strokes for readers that speak rather than draw.
        return [
            f'<path d="{"".join(runs)}" aria-label="{escape(item.text, {chr(34): "&quot;"})}"'
            f"{_stroke(item.pen)}/>"
        ]
    curves = item.curves() if isinstance(item, Area) else (item,)
    d = "".join(_path(curve, top_mm) for curve in curves)
    fill = f' fill="{item.fill}" fill-rule="evenodd"' if item.fill else ""
    return [f'<path d="{d}"{fill}{_stroke(item.pen)}/>']


def _stroke(pen: Pen | None) -> str:
    """Return the stroke attributes of a pen."""
    if pen is None:
        return ""
    dash = f' stroke-dasharray="{" ".join(map(_number, pen.dash))}"' if pen.dash else ""
    return f' stroke="{pen.ink}" stroke-width="{_number(pen.width_mm)}"{dash}'


def _path(curve: Curve, top_mm: float) -> str:
    """Return path commands; y runs down on the page."""
    first = curve.vertices[0]
    steps = _steps(curve.edges(), top_mm)
    return f"M{_number(first.x)} {_number(top_mm - first.y)}{steps}{'Z' if curve.closed else ''}"


def _steps(edges: Iterable[Edge], top_mm: float) -> str:
    """Return L and A commands. A flip of y turns a counter-clockwise arc into sweep flag 0."""
    out = []
    for edge in edges:
        end = f"{_number(edge.end.x)} {_number(top_mm - edge.end.y)}"
        if edge.is_line:
            out.append(f"L{end}")
        else:
            r = _number(edge.radius_mm)
            large = int(abs(edge.sweep_rad) > math.pi)
            out.append(f"A{r} {r} 0 {large} {int(edge.bulge < 0)} {end}")
    return "".join(out)


def _number(value: float) -> str:
    """Return a number to a micrometre, without trailing zeros or a negative zero."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
