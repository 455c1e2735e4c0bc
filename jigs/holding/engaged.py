"""How much of a milling tool is in the material along its path: more where a wall curls round it.

On a straight the width of the cut says it. In an inside corner, and along a wall that curls
round the tool, more of the rim is in the material, and the force grows with it: most parts that
let go do so there. The rim's leading half is looked at, station by station, against what one
pass before, the same tool one width further out, has left standing. An outside corner engages
less; that is not counted.

What stands beyond either end of an open path is not known; the pass before is taken to run on
straight there.

Source: geometry of two passes; a corner and an arc worked by hand in the tests.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from jigs.finding import Finding, Severity
from jigs.holding.cut import Cut, ToolKind

Floats = NDArray[np.float64]

#: A corner that engages the tool by this much more is told, rad: 30°. Source: common practice.
_TELLS_RAD: Final = math.radians(30.0)
#: Places looked at on the leading half of the rim: a degree apart.
_RIM: Final = 180
#: Engagement is rounded up to these steps, so that few forces are worked out, rad: 10°.
_STEP_RAD: Final = math.radians(10.0)
#: A wall that engages the rim by no more than this beyond a straight one's is straight, rad: 3°.
_STRAIGHT_RAD: Final = math.radians(3.0)


def engaged_widths_mm(
    cut: Cut, tracks: tuple[tuple[tuple[float, float], ...], ...], where: Floats
) -> Floats:
    """Return the width of the straight cut that engages as much, at each station, mm.

    Args:
        cut: the cut.
        tracks: runs of its axis, mm; the outline's are closed.
        where: shape (n, 4): stations and the unit direction of feed there.
    Returns:
        shape (n,), from ``cut.engaged_mm`` up to the tool's diameter.
    """
    out: Floats = np.full(len(where), cut.engaged_mm)
    whole = cut.width_mm >= cut.diameter_mm
    if cut.kind is ToolKind.DRILL or cut.bore is not None or whole or len(where) == 0:
        return out
    radius, side = cut.radius_mm, 1.0 if cut.climb else -1.0  # the work stands right of the feed
    left = shapely.union_all([_cleared(cut, track, side) for track in tracks])
    shapely.prepare(left)
    turn = (np.arange(_RIM) + 0.5) * math.pi / _RIM  # from the finished wall to the other side
    ux, uy = where[:, 2:3], where[:, 3:4]
    x = where[:, :1] + radius * (side * uy * np.cos(turn) + ux * np.sin(turn))
    y = where[:, 1:2] + radius * (-side * ux * np.cos(turn) + uy * np.sin(turn))
    cuts = ~shapely.contains_xy(left, x.ravel(), y.ravel()).reshape(x.shape)
    arc = cuts.mean(axis=1) * math.pi
    straight = cut.engagement.arc_rad
    steps = np.ceil((arc - straight - _STRAIGHT_RAD) / _STEP_RAD)
    wide = np.minimum(straight + np.maximum(steps, 0.0) * _STEP_RAD, math.pi)
    bends = steps > 0
    out[bends] = radius * (1 - np.cos(wide[bends]))
    return out


def check_engaged(cut: Cut, where: Floats, widths_mm: Floats, *, subject: str) -> list[Finding]:
    """Return a note where a corner engages the tool much more than the straights do.

    Args:
        cut: the cut.
        where, widths_mm: its stations and ``engaged_widths_mm`` there.
        subject: for messages.
    """
    if len(where) == 0 or cut.kind is ToolKind.DRILL:
        return []
    worst = int(widths_mm.argmax())
    straight = cut.engagement.arc_rad
    met = math.acos(max(-1.0, 1 - float(widths_mm[worst]) / cut.radius_mm))
    if met - straight < _TELLS_RAD:
        return []
    return [
        Finding(
            code="corner-engages",
            severity=Severity.NOTE,
            subject=f'{subject}: cut "{cut.name}"',
            message=(
                f"in the inside corner at ({where[worst, 0]:.1f}, {where[worst, 1]:.1f}) mm of the "
                f"set-up the tool is in the material over {math.degrees(met):.0f}° of its turn, on "
                f"the straights over {math.degrees(straight):.0f}°; holding is judged with the "
                "force there"
            ),
            measured=math.degrees(met),
            limit=math.degrees(straight + _TELLS_RAD),
            unit="°",
            hint="slow the feed there, clear the corner with a smaller tool first, or round it",
        )
    ]


def _cleared(cut: Cut, track: tuple[tuple[float, float], ...], side: float) -> shapely.Geometry:
    """Return what the pass before has left free of material."""
    radius, width = cut.radius_mm, cut.width_mm
    if cut.outline:
        stock = shapely.Polygon(track).buffer(width).buffer(-radius)
        box = stock.buffer(4 * cut.diameter_mm).envelope
        return box.difference(stock)
    line = shapely.LineString(_run_on(track, 4 * cut.diameter_mm))
    before = shapely.offset_curve(line, side * width, join_style="round")
    return before.buffer(radius)


def _run_on(track: tuple[tuple[float, float], ...], by_mm: float) -> list[tuple[float, float]]:
    """Return a run that goes on straight beyond its ends."""
    points = [p for i, p in enumerate(track) if i == 0 or p != track[i - 1]]
    for ends in (0, -1):
        end, inner = points[ends], points[1 if ends == 0 else -2]
        size = math.dist(end, inner)
        beyond = (
            end[0] + (end[0] - inner[0]) / size * by_mm,
            end[1] + (end[1] - inner[1]) / size * by_mm,
        )
        points.insert(0 if ends == 0 else len(points), beyond)
    return points
