"""SVG's basic shapes as runs of pieces, in user units.

Source: W3C SVG 1.1, chapter Basic Shapes (where each outline starts, which way it runs, how
rx and ry of a rectangle complete each other and are capped at half a side), chapter
Coordinate Systems, section Units (what a percentage refers to).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

from kerf.contour import Point, Vector
from kerf.errors import InputError
from kerf.reading.svg_path import EllipticArc, Line, Piece, Subpath, subpaths
from kerf.reading.svg_value import ABSOLUTE_MM, PX_PER_MM, length, numbers

SHAPES = frozenset({"path", "rect", "circle", "ellipse", "line", "polyline", "polygon"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """What percentages refer to: the nearest viewport, user units; None when it has no size."""

    width: float | None
    height: float | None

    def x(self, text: str, where: str, *, auto: str = "0") -> float:
        """Return a length along x, user units."""
        return self._length(text, self.width, where, auto)

    def y(self, text: str, where: str, *, auto: str = "0") -> float:
        """Return a length along y, user units."""
        return self._length(text, self.height, where, auto)

    def r(self, text: str, where: str) -> float:
        """Return a length that is neither: a percentage is of the diagonal over √2."""
        if self.width is None or self.height is None:
            return self._length(text, None, where, "0")
        return self._length(text, math.hypot(self.width, self.height) / math.sqrt(2), where, "0")

    @staticmethod
    def _length(text: str, whole: float | None, where: str, auto: str) -> float:
        value, unit = length(auto if text.strip() == "auto" else text, where=where)
        if unit == "%":
            if whole is None:
                raise InputError(
                    f'"{text.strip()}" is a share of a page that has no size',
                    where=where,
                    hint="give the drawing a viewBox",
                )
            return value / 100 * whole
        return value if unit == "" else value * ABSOLUTE_MM[unit] * PX_PER_MM


def shape_subpaths(
    tag: str, attributes: Mapping[str, str], frame: Frame, *, where: str
) -> tuple[Subpath, ...]:
    """Return the runs a basic shape or path draws; none when it has no extent.

    Args:
        tag: one of ``SHAPES``.
        attributes: the element's attributes.
        frame: what percentages refer to.
        where: file and element, for errors.
    Raises:
        InputError: broken path data, lengths or points; a negative size.
    """
    if tag == "path":
        return subpaths(attributes.get("d", ""), where=where)
    if tag in ("polyline", "polygon"):
        return _poly(attributes.get("points", ""), closed=tag == "polygon", where=where)

    def along(name: str) -> float:
        text = attributes.get(name, "0")
        if name in ("x", "cx", "x1", "x2", "width", "rx"):
            return frame.x(text, where)
        return frame.r(text, where) if name == "r" else frame.y(text, where)

    if tag == "line":
        start, end = Point(along("x1"), along("y1")), Point(along("x2"), along("y2"))
        return (Subpath(pieces=(Line(start=start, end=end),), closed=False),)
    sizes = {"rect": ("width", "height"), "circle": ("r",), "ellipse": ("rx", "ry")}[tag]
    for name in sizes:
        if along(name) < 0:
            raise InputError(
                f"the {tag}'s {name} is below zero",
                where=where,
                hint="repair or delete this element",
            )
    if tag == "rect":
        rx, ry = attributes.get("rx", "auto"), attributes.get("ry", "auto")
        corner_x = along("ry" if rx.strip() == "auto" else "rx")
        corner_y = along("rx" if ry.strip() == "auto" else "ry")
        return _rectangle(
            along("x"), along("y"), along("width"), along("height"), corner_x, corner_y
        )
    rx_mm, ry_mm = (along("r"), along("r")) if tag == "circle" else (along("rx"), along("ry"))
    if rx_mm == 0 or ry_mm == 0:
        return ()
    return (_ellipse(Point(along("cx"), along("cy")), rx_mm, ry_mm),)


def _poly(text: str, *, closed: bool, where: str) -> tuple[Subpath, ...]:
    """Return the run of a polyline or polygon."""
    values = numbers(text)
    if values is None or len(values) % 2:
        raise InputError(
            "the list of points is broken: it must hold pairs of plain numbers",
            where=where,
            hint="save the drawing again from the program that made it",
        )
    points = [Point(x, y) for x, y in zip(values[::2], values[1::2], strict=True)]
    if closed and len(points) > 1 and points[0] != points[-1]:
        points.append(points[0])
    pieces = tuple(Line(start=a, end=b) for a, b in pairwise(points))
    return (Subpath(pieces=pieces, closed=closed),) if pieces else ()


def _rectangle(
    x: float, y: float, width: float, height: float, rx: float, ry: float
) -> tuple[Subpath, ...]:
    """Return the run of a rectangle with elliptical corners."""
    if width == 0 or height == 0:
        return ()
    rx, ry = min(max(rx, 0.0), width / 2), min(max(ry, 0.0), height / 2)
    if rx == 0 or ry == 0:
        rx = ry = 0.0
    right, low = x + width, y + height
    corners = (
        (Point(right - rx, y), Point(right, y + ry), Point(right - rx, y + ry), -math.pi / 2),
        (Point(right, low - ry), Point(right - rx, low), Point(right - rx, low - ry), 0.0),
        (Point(x + rx, low), Point(x, low - ry), Point(x + rx, low - ry), math.pi / 2),
        (Point(x, y + ry), Point(x + rx, y), Point(x + rx, y + ry), math.pi),
    )
    pieces: list[Piece] = []
    at = Point(x + rx, y)
    for start, end, centre, t0 in corners:
        if at != start:
            pieces.append(Line(start=at, end=start))
        if rx:
            pieces.append(_arc(start, end, centre, rx, ry, t0, math.pi / 2))
        at = end
    return (Subpath(pieces=tuple(pieces), closed=True),)


def _ellipse(centre: Point, rx: float, ry: float) -> Subpath:
    """Return the run of a circle or ellipse: two half turns."""
    right, left = Point(centre.x + rx, centre.y), Point(centre.x - rx, centre.y)
    halves = (
        _arc(right, left, centre, rx, ry, 0.0, math.pi),
        _arc(left, right, centre, rx, ry, math.pi, math.pi),
    )
    return Subpath(pieces=halves, closed=True)


def _arc(
    start: Point, end: Point, centre: Point, rx: float, ry: float, t0: float, sweep: float
) -> EllipticArc:
    """Return an arc of an ellipse whose axes lie along x and y."""
    u, v = Vector(rx, 0.0), Vector(0.0, ry)
    return EllipticArc(start=start, end=end, centre=centre, u=u, v=v, t0_rad=t0, sweep_rad=sweep)
