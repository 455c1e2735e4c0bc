"""A drawing as it was read, with its faults ringed and numbered.

Sound parts are tinted, every edge that was read is drawn thin, and each fault has a ring round
its place, with a number that the table repeats; a gap is also bridged by a bar between its
two ends. Mended places are marked by a small ring without a number.
"""

from __future__ import annotations

import math
from typing import Final

from jigs.drawing.scene import Area, Curve, Figure, Ink, Item, Pen, Text, circle, polyline
from kerf.contour import Bounds, Point, Transform, Vertex
from kerf.lettering import Anchor
from kerf.reading.drawing import Drawing, Fault, Healing, box_of

#: Size of the picture's longer side without margins, mm on paper.
_PAPER_MM: Final = 180.0
_MARGIN_MM: Final = 16.0
_RING_MM: Final = 4.0
_MENDED_MM: Final = 1.6
_NUMBER_MM: Final = 3.5
#: Faults numbered, and faults ringed at all; more, and nobody could see the part.
_NUMBERED: Final = 99
_RINGED: Final = 1000

_EDGE: Final = Pen(width_mm=0.25)
_RING: Final = Pen(width_mm=0.6, ink=Ink.ACCENT)
_MENDED: Final = Pen(width_mm=0.3, ink=Ink.GREY)
_BAR: Final = Pen(width_mm=0.8, ink=Ink.ACCENT)
_FIGURE: Final = Pen(width_mm=0.5, ink=Ink.ACCENT)


def faults_figure(drawing: Drawing, part: int | None = None) -> Figure:
    """Return the picture of a drawing.

    Args:
        drawing: as surveyed, with at least one strand.
        part: tint only this part (from 1); None for all.
    """
    box = _seen(drawing)
    scale = _PAPER_MM / max(box.width, box.height, 1e-9)
    to_paper = Transform(
        a=scale,
        c=_MARGIN_MM - scale * box.x_min,
        e=scale,
        f=_MARGIN_MM - scale * box.y_min,
    )
    items: list[Item] = []
    for number, region in enumerate(drawing.regions, start=1):
        if part is None or number == part:
            items.append(Area(region=region.transformed(to_paper), fill=Ink.PALE))
    for strand in drawing.strands:
        rows = tuple(Vertex(*to_paper.point(x, y), bulge) for x, y, bulge in strand.rows)
        items.append(Curve(vertices=rows, closed=strand.closed, pen=_EDGE))
    for healed in drawing.healed[:_RINGED]:
        if healed.kind != Healing.CURVE:
            items.append(circle(to_paper.point(*healed.at), _MENDED_MM, pen=_MENDED))
    for number, fault in enumerate(drawing.faults[:_RINGED], start=1):
        items += _marked(fault, number, to_paper)
    return Figure(
        name="read",
        title=f"{drawing.path}: {len(drawing.regions)} part(s), {len(drawing.faults)} fault(s)",
        width_mm=scale * box.width + 2 * _MARGIN_MM,
        height_mm=scale * box.height + 2 * _MARGIN_MM,
        items=tuple(items),
    )


def _seen(drawing: Drawing) -> Bounds:
    """Return the box of all that is drawn, mm."""
    boxes = [box_of(drawing.strands), *(region.bounds() for region in drawing.regions)]
    return Bounds(
        min(b.x_min for b in boxes),
        min(b.y_min for b in boxes),
        max(b.x_max for b in boxes),
        max(b.y_max for b in boxes),
    )


def _marked(fault: Fault, number: int, to_paper: Transform) -> list[Item]:
    """Return the marks of one fault: rings, the bar across a gap, and its number."""
    at, to = to_paper.point(*fault.at), to_paper.point(*fault.to)
    items: list[Item] = [circle(at, _RING_MM, pen=_RING)]
    if math.dist(at, to) > 0.05:
        items.append(polyline(at, to, pen=_BAR))
        if math.dist(at, to) > _RING_MM:
            items.append(circle(to, _RING_MM, pen=_RING))
    if number <= _NUMBERED:
        place = Point(at.x + _RING_MM + 0.8, at.y + _RING_MM * 0.4)
        items.append(
            Text(
                text=str(number),
                at=place,
                height_mm=_NUMBER_MM,
                anchor=Anchor.LEFT,
                pen=_FIGURE,
            )
        )
    return items
