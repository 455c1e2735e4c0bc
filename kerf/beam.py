"""From finished size to the path of the beam: kerf once, by type.

Designs hold finished-size ``Region``s. Only this module makes ``BeamPath``s from
them, and the writers take only a ``CutPlan`` of beam paths, so that applying the
kerf twice, or not at all, fails the type checker.

The beam removes ``kerf`` across its full width. The wall it leaves stands half a
kerf from its path, so the path of a finished region runs on the region offset
outward by half a kerf: outers grow, holes shrink, arcs stay arcs, and an outside
corner is rounded by the beam's turn about it, which leaves the corner itself sharp.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from kerf.contour import Contour, Point, Region
from kerf.errors import GeometryError
from kerf.offset import offset


class Operation(StrEnum):
    """What the laser does along a path; the name of its layer."""

    INSIDE = "inside"  #: cut-outs, cut before the piece is freed
    OUTSIDE = "outside"  #: the cut that frees the piece
    SCORE = "score"  #: marked, not through: lines a person reads an edge from
    ENGRAVE = "engrave"  #: lettering and marks
    REFERENCE = "reference"  #: never burnt: sheet edge, part outline for the eye


@dataclass(frozen=True, slots=True, kw_only=True)
class KerfCard:
    """What one laser takes out of one sheet.

    Args:
        name: identity of the card, printed on the plastic and in the record.
        kerf_mm: full width removed where it governs the fit, mm, > 0.
        u_mm: standard uncertainty of ``kerf_mm``, mm, >= 0.
        measured_on, measured_by: who says so and when; empty when assumed.
    """

    name: str
    kerf_mm: float
    u_mm: float
    measured_on: str = ""
    measured_by: str = ""

    def __post_init__(self) -> None:
        if not 0.0 < self.kerf_mm <= 2.0:
            raise GeometryError(
                f'kerf card "{self.name}": kerf is {self.kerf_mm:.4g} mm; '
                "a laser's full kerf lies above 0 and up to 2 mm",
                hint="give the full width the beam removes, in millimetres",
            )
        if not self.u_mm >= 0.0:
            raise GeometryError(f'kerf card "{self.name}": uncertainty must be 0 mm or more')


@dataclass(frozen=True, slots=True, kw_only=True)
class BeamPath:
    """A closed path of the beam's centre, in sheet coordinates, mm.

    Args:
        operation: INSIDE or OUTSIDE.
        contour: where the centre of the beam runs.
        piece: name of the piece the cut belongs to.
    """

    operation: Operation
    contour: Contour
    piece: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """An open line the laser marks or a reference the eye needs; no kerf applies.

    Args:
        operation: SCORE, ENGRAVE or REFERENCE.
        points: two or more points, mm.
        piece: name of the piece it is on.
    """

    operation: Operation
    points: tuple[Point, ...]
    piece: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CutPlan:
    """All that one cut file holds, in the order it is burnt.

    Args:
        width_mm, height_mm: the frame, lower left corner at (0, 0).
        strokes: marks, burnt first.
        paths: cuts, inside before outside for each piece.
        kerf: the card the paths were made with.
    """

    width_mm: float
    height_mm: float
    strokes: tuple[Stroke, ...]
    paths: tuple[BeamPath, ...]
    kerf: KerfCard


def beam_paths(region: Region, card: KerfCard, *, piece: str) -> tuple[BeamPath, ...]:
    """Return the beam's paths that leave ``region`` standing at its finished size.

    Args:
        region: finished size, sheet coordinates, mm.
        card: the kerf.
        piece: name of the piece.
    Returns:
        holes first (INSIDE), then the outer loop (OUTSIDE).
    Raises:
        GeometryError: a hole or slot is narrower than the kerf, so that the beam cannot
            pass through it.
    """
    grown = offset(region, card.kerf_mm / 2)
    if len(grown.regions) != 1 or len(grown.regions[0].holes) != len(region.holes):
        raise GeometryError(
            f'"{piece}": a cut-out or gap is narrower than the kerf of {card.kerf_mm:.3f} mm',
            hint="widen the gap, or drop the feature",
        )
    (only,) = grown.regions
    return (
        *(BeamPath(operation=Operation.INSIDE, contour=h, piece=piece) for h in only.holes),
        BeamPath(operation=Operation.OUTSIDE, contour=only.outer, piece=piece),
    )
