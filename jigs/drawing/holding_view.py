"""Where along the tool's path the part is closest to coming loose, and where cuts meet things.

Both pictures show the part as it lies in the machine, X to the right and Y up; one that stands
in the vise is seen from the front, the jaws dashed. The path is
drawn heavier the nearer the hold is to giving: three weights, below what is asked, up to
twice that, and beyond; the colour only repeats the weight. The worst place of the tool and
the place that gives first are named. A clash is drawn as the overlap of what the cutter
sweeps and what stands in its way, hatched and outlined.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from jigs.drawing.board import Board
from jigs.drawing.labels import label
from jigs.drawing.scene import HATCH, LETTER_BOLD, PLATE, Figure, Ink, Pen, around, circle, polyline
from jigs.drawing.setup_view import fitted, polygon
from jigs.holding.access import Access
from jigs.holding.holding import CutHolding, Holding, Spot, factor_text
from jigs.holding.toolpath import STATION_MM
from kerf.contour import Point, Region, Vector
from kerf.tolerance import ROUGH_FACET_MM

#: Pens of the path: below the limit, up to twice the limit, beyond.
_BANDS: Final = (
    Pen(width_mm=2.0, ink=Ink.FAIL),
    Pen(width_mm=1.2, ink=Ink.NEAR),
    Pen(width_mm=0.6, ink=Ink.GOOD),
)
_BODY: Final = Pen(width_mm=0.5)
_SWEPT: Final = Pen(width_mm=0.25, ink=Ink.GREY, dash=(2.0, 1.2))
_ABOUT: Final = Pen(width_mm=0.25)
_CLASH: Final = Pen(width_mm=0.7, ink=Ink.FAIL)
#: Spots further apart than this many pitches belong to different runs.
_APART: Final = 2.5
_MARK_MM: Final = 1.6


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldingView:
    """What the map shows, set-up coordinates, mm.

    Args:
        title: one line.
        part: as it lies.
        plates: the guide, for orientation.
        holds: where tape lies, or straps or jaws press; may be empty.
        jaws: of a vise, to be drawn dashed; may be empty.
        holding: the verdict.
    """

    title: str
    part: Region
    plates: tuple[Region, ...]
    holds: tuple[Region, ...]
    jaws: tuple[Region, ...] = ()
    holding: Holding


def holding_figure(view: HoldingView, *, width_mm: float, height_mm: float) -> Figure:
    """Return the map of factors, no larger than the frame."""

    def draw(board: Board) -> None:
        for plate in view.plates:
            board.area(plate, pen=PLATE)
        board.area(view.part, pen=_BODY, fill=Ink.PALE)
        for patch in view.holds:
            area = board.area(patch, pen=None)
            board.hatch(polygon(area), pitch_mm=1.6, angle_rad=-math.pi / 4, pen=HATCH)
        _dashed(board, view.jaws)
        for cut in view.holding.cuts:
            for band, run in _runs(cut.spots, view.holding.limit):
                points = [board.at(p) for p in run]
                if len(points) == 1:
                    board.draw(circle(points[0], _MARK_MM, pen=_BANDS[band]))
                else:
                    board.draw(polyline(*points, pen=_BANDS[band]))
        worst = view.holding.worst
        board.draw(circle(board.at(worst.at), _MARK_MM, pen=_BODY, fill=Ink.WHITE))
        if worst.gives is not None:
            board.draw(circle(board.at(worst.gives), _MARK_MM, pen=_CLASH, fill=Ink.WHITE))
        board.close_model()
        notes = _worst_notes(worst)
        for _, at, _ in notes:
            board.reserve(at)
        for lines, at, toward in notes:
            label(board, lines, at, toward=toward, pen=LETTER_BOLD)

    return fitted(
        draw,
        model=around(tuple(region.bounds() for region in (*view.plates, view.part, *view.jaws))),
        width_mm=width_mm,
        height_mm=height_mm,
        name="holding",
        title=view.title,
    )


def _dashed(board: Board, regions: Sequence[Region]) -> None:
    """Draw outlines of what is not there while the part lies still, or stands before it."""
    for region in regions:
        for loop in region.loops():
            ring = [board.at(p) for p in loop.facets(ROUGH_FACET_MM)]
            board.draw(polyline(*ring, ring[0], pen=_SWEPT))


def _worst_notes(worst: CutHolding) -> list[tuple[tuple[str, ...], Point, Vector]]:
    """Return the labels: where the tool is worst, and what gives first then."""
    factor = factor_text(worst.factor)
    notes: list[tuple[tuple[str, ...], Point, Vector]] = [
        ((f"worst: {worst.cut}", f"factor {factor}"), worst.at, Vector(0.8, 0.6))
    ]
    if worst.gives is not None:
        notes.append((("gives first here",), worst.gives, Vector(0.6, -0.8)))
    return notes


def _runs(spots: Sequence[Spot], limit: float) -> list[tuple[int, list[Point]]]:
    """Return the spots as runs of one band each; neighbouring runs share an end."""
    runs: list[tuple[int, list[Point]]] = []
    steps = [math.dist(a.at, b.at) for a, b in itertools.pairwise(spots)]
    pitch = max(STATION_MM, sorted(steps)[len(steps) // 2] if steps else 0.0)
    for spot in spots:
        band = 0 if spot.factor < limit else 1 if spot.factor < 2 * limit else 2
        last = runs[-1] if runs else None
        joined = last is not None and math.dist(last[1][-1], spot.at) <= _APART * pitch
        if last is not None and joined and last[0] == band:
            last[1].append(spot.at)
        else:
            start = [last[1][-1]] if last is not None and joined else []
            runs.append((band, [*start, spot.at]))
    return [
        (band, [p for i, p in enumerate(run) if i == 0 or p != run[i - 1]]) for band, run in runs
    ]


def clash_figure(
    clashes: Sequence[Access],
    *,
    part: Region,
    plates: Sequence[Region],
    swept: Sequence[Region],
    about: Sequence[Region] = (),
    title: str,
    width_mm: float,
    height_mm: float,
) -> Figure:
    """Return the picture of every clash, no larger than the frame.

    Args:
        clashes: those that meet something; one or more.
        part, plates, swept: set-up coordinates, mm.
        about: jaws and straps, drawn thin.
        title: one line.
        width_mm, height_mm: the frame on paper.
    """

    def draw(board: Board) -> None:
        for plate in plates:
            board.area(plate, pen=PLATE)
        board.area(part, pen=_BODY, fill=Ink.PALE)
        for item_shape in about:
            board.area(item_shape, pen=_ABOUT)
        _dashed(board, swept)
        notes = []
        for item in clashes:
            for region in item.clash:
                area = board.area(region, pen=_CLASH)
                board.hatch(polygon(area), pitch_mm=1.2, angle_rad=math.pi / 4, pen=HATCH)
            what = f"{item.what} of {item.cut}" if item.cut else item.what
            notes.append(((what, f"meets {item.against}"), item.at))
        board.close_model()
        for lines, at in notes:
            label(board, lines, at, toward=Vector(0.6, 0.8), pen=LETTER_BOLD)

    return fitted(
        draw,
        model=around(tuple(region.bounds() for region in (*plates, part, *swept, *about))),
        width_mm=width_mm,
        height_mm=height_mm,
        name="clash",
        title=title,
    )
