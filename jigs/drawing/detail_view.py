"""A round window on a small feature, drawn large: what a relief or a sharp corner looks like.

The plate and the part are cut by the window's circle; arcs are drawn as facets a hundredth
of a millimetre fine on paper, since a cut arc need not end at a vertex.
"""

from __future__ import annotations

import math

import shapely
from shapely.geometry.base import BaseGeometry

from jigs import quantity
from jigs.drawing.board import Board
from jigs.drawing.labels import label
from jigs.drawing.scene import HATCH, PLATE, Curve, Figure, Pen, circle
from jigs.drawing.setup_view import Detail
from kerf.contour import Edge, Region, Transform, Vector, Vertex

#: Features smaller than this on paper deserve a window, mm.
SMALL_ON_PAPER_MM = 2.0

_RIM = Pen(width_mm=0.3)
_PART_EDGE = Pen(width_mm=0.5, dash=(3.0, 1.0))


def detail_figure(
    detail: Detail,
    plates: tuple[Region, ...],
    part: Region,
    *,
    units: str = "mm",
    diameter_mm: float = 44.0,
) -> Figure:
    """Return the window on a small feature, with the radii of the arcs seen in it.

    Args:
        detail: where and how large the window is.
        plates, part: finished sizes, sheet coordinates.
        units: "mm" or "inch".
        diameter_mm: of the window on paper.
    """
    scale = diameter_mm / (2 * detail.radius_mm)
    shift = Transform.translation(-detail.at.x, -detail.at.y).then(Transform.scaling(scale))
    board = Board(shift)
    window = shapely.Point(0.0, 0.0).buffer(diameter_mm / 2, quad_segs=64)
    body = shapely.union_all([_polygon(region, shift) for region in plates])
    seen = body.intersection(window)
    board.hatch(seen, pitch_mm=2.4, angle_rad=math.pi / 4, pen=HATCH)
    for region, pen in ((_polygon(part, shift), _PART_EDGE), (body, PLATE)):
        for run in _runs(region.boundary.intersection(window)):
            board.draw(Curve(vertices=tuple(Vertex(x, y) for x, y in run), pen=pen))
    board.draw(circle((0.0, 0.0), diameter_mm / 2, pen=_RIM))
    board.close_model()
    for edge in _arcs_in(plates, detail):
        tip = edge.point_at(0.5)
        inward = edge.normal_at(0.5)
        sign = -1.0 if edge.bulge > 0 else 1.0
        radius = quantity.length_text(edge.radius_mm, units)
        label(board, (f"R {radius}",), tip, toward=Vector(-sign * inward.x, -sign * inward.y))
    if not part_hidden(part, detail):
        at = min(
            (loop.nearest(*detail.at)[1] for loop in part.loops()),
            key=lambda p: math.dist(p, detail.at),
        )
        label(board, ("part",), at, toward=Vector(0.3, -1.0))
    head = f"DETAIL {detail.letter}  {scale:.3g} : 1"
    box = board.extent
    board.put_text((head,), (box.x_min, box.y_min - 5.0), pen=Pen(width_mm=0.42))
    return board.finished(name=f"detail-{detail.letter.lower()}", title=head)


def part_hidden(part: Region, detail: Detail) -> bool:
    """Return whether no edge of the part lies in the window."""
    return all(loop.nearest(*detail.at)[2] > 0.9 * detail.radius_mm for loop in part.loops())


def small_features(
    plates: tuple[Region, ...], *, paper_scale: float, most: int = 2
) -> tuple[Detail, ...]:
    """Return windows on the plates' smallest arcs, one for each radius, at most ``most``.

    Args:
        plates: finished sizes, sheet coordinates.
        paper_scale: paper mm per model mm of the main picture; arcs whose radius is drawn
            below ``SMALL_ON_PAPER_MM`` are small.
        most: how many windows at most.
    """
    arcs = [
        edge
        for region in plates
        for loop in region.loops()
        for edge in loop.edges()
        if not edge.is_line and edge.radius_mm * paper_scale < SMALL_ON_PAPER_MM
    ]
    details: list[Detail] = []
    radii: set[float] = set()
    for edge in sorted(arcs, key=lambda e: (round(e.radius_mm, 6), e.start)):
        key = round(edge.radius_mm, 3)
        middle = edge.point_at(0.5)
        shown = any(math.dist(middle, d.at) < d.radius_mm for d in details)
        if key in radii or shown or len(details) == most:
            continue
        radii.add(key)
        details.append(
            Detail(
                letter=chr(ord("P") + len(details)),
                at=middle,
                radius_mm=max(4 * edge.radius_mm, 2.0),
            )
        )
    return tuple(details)


def _arcs_in(plates: tuple[Region, ...], detail: Detail) -> list[Edge]:
    """Return the plates' arcs in the window, one for each radius."""
    found: dict[float, Edge] = {}
    for region in plates:
        for loop in region.loops():
            for edge in loop.edges():
                near = math.dist(edge.point_at(0.5), detail.at) < 0.9 * detail.radius_mm
                if not edge.is_line and near:
                    found.setdefault(round(edge.radius_mm, 4), edge)
    return list(found.values())


def _polygon(region: Region, by: Transform) -> shapely.Polygon:
    """Return a region on paper as a polygon."""
    moved = region.transformed(by)
    return shapely.Polygon(moved.outer.facets(0.01), [hole.facets(0.01) for hole in moved.holes])


def _runs(lines: BaseGeometry) -> list[list[tuple[float, float]]]:
    """Return the runs of a line geometry, joined where they meet."""
    merged = shapely.line_merge(lines) if lines.geom_type == "MultiLineString" else lines
    return [
        [(float(x), float(y)) for x, y in part.coords]
        for part in shapely.get_parts(merged)
        if part.geom_type == "LineString" and part.length > 0
    ]
