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

import math
from dataclasses import dataclass, replace
from enum import StrEnum

from kerf.contour import Contour, Point, Region
from kerf.errors import GeometryError
from kerf.offset import OffsetUnproven, offset
from kerf.stretch import stretched
from kerf.tolerance import (
    BEAM_ARC_MM,
    CARD_AGREES_MM,
    GREATEST_KERF_MM,
    GREATEST_SCALE_ERROR,
    LOST_KERFS,
)
from kerf.widen import widened


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

    One number and its uncertainty make a card; a calibrated one says more. "Along X" is
    the kerf that a dimension measured along X feels: the beam's extent in X.

    Args:
        name: identity of the card, printed on the plastic and in the record.
        kerf_mm: full width removed where it governs the fit, mm, > 0: at the face where
            more material is left, the mean of X and Y.
        u_mm: standard uncertainty of ``kerf_mm``, mm, >= 0.
        measured_on, measured_by: who says so and when; empty when assumed.
        entry_mm, exit_mm: kerf at the face the beam enters and at the other one, mm.
        kerf_x_mm, kerf_y_mm: kerf along X and along Y at the face that governs, mm.
        scale_x, scale_y: length cut over length commanded, each axis.
        u_scale: standard uncertainty of the scales, unitless.
        inside_extra_mm: by how much the kerf of a cut-out exceeds that of an outline, mm.
        curve_mm2: an arc of path radius R from ``CURVE_LEAST_RADIUS_MM`` up is cut wider by
            ``curve_mm2 / R``, mm², >= 0.
        dof: degrees of freedom of ``u_mm``; infinite when it is not from few readings.
        temperature_c: temperature at which the coupon was measured, °C.
        instrument: what it was measured with.

    Raises:
        GeometryError: a kerf outside (0, 2] mm, a scale more than 2 % off 1, or numbers
            that contradict each other.
    """

    name: str
    kerf_mm: float
    u_mm: float
    measured_on: str = ""
    measured_by: str = ""
    entry_mm: float | None = None
    exit_mm: float | None = None
    kerf_x_mm: float | None = None
    kerf_y_mm: float | None = None
    scale_x: float = 1.0
    scale_y: float = 1.0
    u_scale: float = 0.0
    inside_extra_mm: float = 0.0
    curve_mm2: float = 0.0
    dof: float = math.inf
    temperature_c: float | None = None
    instrument: str = ""

    def __post_init__(self) -> None:
        whole = f'kerf card "{self.name}"'
        for what, kerf in (
            ("kerf", self.kerf_mm),
            ("kerf at the entry face", self.entry_mm),
            ("kerf at the exit face", self.exit_mm),
            ("kerf along X", self.kerf_x_mm),
            ("kerf along Y", self.kerf_y_mm),
            ("kerf of a cut-out", self.kerf_mm + self.inside_extra_mm),
        ):
            if kerf is not None and not 0.0 < kerf <= GREATEST_KERF_MM:
                raise GeometryError(
                    f"{whole}: {what} is {kerf:.4g} mm; "
                    "a laser's full kerf lies above 0 and up to 2 mm",
                    hint="give the full width the beam removes, in millimetres",
                )
        for axis, scale in (("X", self.scale_x), ("Y", self.scale_y)):
            if not abs(scale - 1.0) <= GREATEST_SCALE_ERROR:
                raise GeometryError(
                    f"{whole}: scale along {axis} is {scale:.6g}; it must lie within 2 % of 1",
                    hint="a larger error is a wrong unit or step setting: mend it at the laser",
                )
        for what, spread in (("uncertainty", self.u_mm), ("scale uncertainty", self.u_scale)):
            if not spread >= 0.0:
                raise GeometryError(f"{whole}: {what} must be 0 or more")
        if not self.dof > 0.0:
            raise GeometryError(f"{whole}: degrees of freedom must be above 0")
        if not 0.0 <= self.curve_mm2 < math.inf:
            raise GeometryError(
                f"{whole}: curve widening must be 0 mm² or more, not {self.curve_mm2:.4g} mm²",
                hint="a curve is cut slower than a straight, hence wider, never narrower",
            )
        self._check_consistent(whole)

    def _check_consistent(self, whole: str) -> None:
        """Refuse a kerf that its own faces or axes contradict."""
        if (self.entry_mm is None) != (self.exit_mm is None):
            raise GeometryError(
                f"{whole}: entry and exit kerf come together or not at all",
                hint="give both, or leave both out",
            )
        if (self.kerf_x_mm is None) != (self.kerf_y_mm is None):
            raise GeometryError(
                f"{whole}: kerf along X and along Y come together or not at all",
                hint="give both, or leave both out",
            )
        if self.entry_mm is not None and self.exit_mm is not None:
            least = min(self.entry_mm, self.exit_mm)
            if abs(self.kerf_mm - least) > CARD_AGREES_MM:
                raise GeometryError(
                    f"{whole}: kerf is {self.kerf_mm:.4f} mm, yet the smaller of entry and exit "
                    f"is {least:.4f} mm; the part touches where more material is left",
                    hint=f"set the kerf to {least:.4f} mm, or leave entry and exit out",
                )
        if not (
            min(self.along_x_mm, self.along_y_mm) - CARD_AGREES_MM
            <= self.kerf_mm
            <= max(self.along_x_mm, self.along_y_mm) + CARD_AGREES_MM
        ):
            raise GeometryError(
                f"{whole}: kerf is {self.kerf_mm:.4f} mm, outside what is given along X "
                f"({self.along_x_mm:.4f} mm) and along Y ({self.along_y_mm:.4f} mm)",
                hint="set the kerf to the mean of the two",
            )

    @property
    def along_x_mm(self) -> float:
        """Kerf a dimension along X feels at the face that governs, outline cuts, mm."""
        return self.kerf_mm if self.kerf_x_mm is None else self.kerf_x_mm

    @property
    def along_y_mm(self) -> float:
        """Kerf a dimension along Y feels at the face that governs, outline cuts, mm."""
        return self.kerf_mm if self.kerf_y_mm is None else self.kerf_y_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class BeamPath:
    """A closed path of the beam's centre, in the laser's commanded coordinates, mm.

    Args:
        operation: INSIDE or OUTSIDE.
        contour: where the centre of the beam runs; the cut begins and ends at its first
            vertex.
        piece: name of the piece the cut belongs to.
        lead_in: pierce point, then any points on the way to the first vertex; empty when
            the beam pierces on the path itself.
        tabs: stretches left uncut, as (from, to) along the contour from its first vertex,
            mm, ascending and apart.
        deviation_mm: greatest distance of the wall this path cuts from the wanted wall
            that comes of replacing ellipses by arcs, mm; 0 when the path is exact.
    """

    operation: Operation
    contour: Contour
    piece: str
    lead_in: tuple[Point, ...] = ()
    tabs: tuple[tuple[float, float], ...] = ()
    deviation_mm: float = 0.0


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
        kerf: the card the paths were made with; None when the drawn lines are followed
            as they are (a coupon), which the file and the piece must say.
        left_to_laser: whether the lines are a finished size that the laser's own software
            must still offset by its kerf; only without ``kerf``.
        mirrored: names of the pieces that are cut as the mirror image of what they are in use,
            which they are turned over for; the file says so.
    """

    width_mm: float
    height_mm: float
    strokes: tuple[Stroke, ...]
    paths: tuple[BeamPath, ...]
    kerf: KerfCard | None
    left_to_laser: bool = False
    mirrored: tuple[str, ...] = ()


def beam_paths(region: Region, card: KerfCard, *, piece: str) -> tuple[BeamPath, ...]:
    """Return the beam's paths that leave ``region`` standing at its finished size.

    A round beam and one scale for both axes keep every arc exact. Kerfs that differ along X
    and Y are an elliptical beam: the loop is stretched until the beam is round, offset, and
    stretched back, together with the axes' scales; ellipses become arcs within
    ``BEAM_ARC_MM`` each way, and each path states its bound.

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
    inside = [_path(hole, card, operation=Operation.INSIDE, piece=piece) for hole in region.holes]
    outside = _path(region.outer, card, operation=Operation.OUTSIDE, piece=piece)
    return (*inside, outside)


def commanded_strokes(strokes: tuple[Stroke, ...], card: KerfCard) -> tuple[Stroke, ...]:
    """Return marks with the axes' scales undone, so that they land where they were drawn."""
    if card.scale_x == card.scale_y == 1.0:
        return strokes
    return tuple(
        replace(
            stroke,
            points=tuple(Point(x / card.scale_x, y / card.scale_y) for x, y in stroke.points),
        )
        for stroke in strokes
    )


def _path(loop: Contour, card: KerfCard, *, operation: Operation, piece: str) -> BeamPath:
    """Return the path of one loop, material on its left.

    The deviations add up so: a wall offset from a loop within t of the true one is itself
    within t (Minkowski sum), and stretching back never lengthens beyond the scale's 2 %.
    """
    inside = operation is Operation.INSIDE
    extra = card.inside_extra_mm if inside else 0.0
    along_x, along_y = card.along_x_mm + extra, card.along_y_mm + extra
    widest = max(along_x, along_y)
    body = Region(outer=loop)  # a hole is offset as the void it is, inward
    try:
        if card.curve_mm2 > 0.0:
            body = widened(
                body, curve_mm2=card.curve_mm2, kerf_mm=(along_x + along_y) / 2, void=inside
            )
        fx, fy = widest / along_x, widest / along_y
        rounded, there = stretched(body, x_factor=fx, y_factor=fy, tolerance_mm=BEAM_ARC_MM)
        moved = offset(rounded, -widest / 2 if inside else widest / 2)
        if len(moved.regions) != 1 or moved.regions[0].holes:
            raise _too_narrow(piece, card)
        if _unreached_mm(rounded.outer, moved.regions[0].outer) > widest / 2 + LOST_KERFS * widest:
            raise _too_narrow(piece, card)
        path, back = stretched(
            moved.regions[0],
            x_factor=1 / (fx * card.scale_x),
            y_factor=1 / (fy * card.scale_y),
            tolerance_mm=BEAM_ARC_MM,
        )
    except OffsetUnproven as fault:
        raise GeometryError(
            f'"{piece}": {fault.what}', where=fault.where, hint=fault.hint
        ) from fault
    return BeamPath(
        operation=operation,
        contour=path.outer.reversed() if inside else path.outer,
        piece=piece,
        deviation_mm=there + back * max(card.scale_x, card.scale_y),
    )


def _unreached_mm(wall: Contour, path: Contour) -> float:
    """Return how far the path stays from the wall at worst, mm: half a kerf where it cuts it.

    A gap that the beam cannot enter closes without a trace in the path; its bottom is far
    from any cut. An inside corner keeps its fillet, which is near.
    """
    import shapely

    places = [p for edge in wall.edges() for p in (edge.start, edge.point_at(0.5))]
    ring = shapely.LinearRing(path.facets(BEAM_ARC_MM))
    return float(shapely.distance(shapely.points(places), ring).max())


def _too_narrow(piece: str, card: KerfCard) -> GeometryError:
    return GeometryError(
        f'"{piece}": a cut-out or gap is narrower than the kerf of {card.kerf_mm:.3f} mm',
        hint="widen the gap, or drop the feature",
    )


def drawn_paths(region: Region, *, piece: str) -> tuple[BeamPath, ...]:
    """Return paths that follow the drawn lines, kerf left out on purpose: for a coupon only.

    Args:
        region: the coupon as drawn, mm.
        piece: name of the piece.
    Returns:
        holes first (INSIDE), then the outer loop (OUTSIDE).
    """
    return (
        *(BeamPath(operation=Operation.INSIDE, contour=h, piece=piece) for h in region.holes),
        BeamPath(operation=Operation.OUTSIDE, contour=region.outer, piece=piece),
    )
