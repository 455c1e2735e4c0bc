"""What a job says of a pin plate: the plate, the bores, how its pins stand, its stops."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from jigs.finding import Finding, Severity
from jigs.fits import RUNNING_FITS, Limits, general_limits, iso_limits
from jigs.locating.pin_places import PartBore, round_holes
from jigs.part import Part
from jigs.table import Table
from kerf.contour import Point
from kerf.errors import InputError

#: A bore is meant by a point this near to its centre, mm.
MEANT_MM: Final = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenBore:
    """A bore whose size is known better than the drawing says."""

    at: Point
    limits: Limits


@dataclass(frozen=True, slots=True, kw_only=True)
class PinPlateOptions:
    """The pin plate's own keys of a set-up.

    Args:
        size_mm: of the plate along x and y, mm; None for one that suits the part.
        thickness_mm, thickness_u_mm: of the decked plate and its standard uncertainty, mm.
        material: of the plate.
        border_mm: of plate round the part, mm.
        bores: centres of the bores to use, the round pin's first; empty to choose.
        sizes: bores with limits of their own.
        bore_class: ISO 286 class of the other bores; empty when none is given.
        bore_tolerance_mm: ± of the other bores; None when not given.
        slip: class of the holes of pins that are not pressed.
        hole_place_mm: ± of a hole's place in the plate, mm.
        pitch_mm: ± of the distance between two bores of the part, mm.
        least_mm: least clearance with which the part goes on its pins, mm.
        fit: running fit of ANSI B4.1 that the pins must keep; empty for none.
        stops: "none", "auto" or "given".
        stop_points: where stops stand, part coordinates.
        stop_diameter_mm: mm.
        stop_height_mm: mm; None for the tape's thickness.
        setback_mm: distance that glue keeps from pins, stops and acrylic, mm.
        height_tolerance_mm: ± of the part's height, mm.
    """

    size_mm: tuple[float, float] | None
    thickness_mm: float
    thickness_u_mm: float
    material: str
    border_mm: float
    bores: tuple[Point, ...]
    sizes: tuple[GivenBore, ...]
    bore_class: str
    bore_tolerance_mm: float | None
    slip: str
    hole_place_mm: float
    pitch_mm: float
    least_mm: float
    fit: str
    stops: str
    stop_points: tuple[Point, ...]
    stop_diameter_mm: float
    stop_height_mm: float | None
    setback_mm: float
    height_tolerance_mm: float


def read_options(table: Table) -> PinPlateOptions:
    """Read the pin plate's own keys.

    Defaults: a hole's place ± 0.01 mm on a milling machine with a readout; bores of one set-up
    ± 0.02 mm from each other; a part that goes on with 0.005 mm; part height ± 0.2 mm
    (ISO 2768-1, class m). Source: common practice for the first three.
    """
    width, height = table.lengths_mm("plate", 2, (0.0, 0.0))
    if table.has("plate") and not (width > 0 and height > 0):
        table.fault("plate", "both sizes of the plate must be above 0", "plate = [150, 100]")
    bores = table.points_mm("bores") if table.has("bores") else ()
    if len(bores) > 2:
        table.fault("bores", f"{len(bores)} bores are given; a part is located by 1 or 2")
    bore_class = table.text("bore_class", "")
    if bore_class:
        table.build("bore_class", lambda: iso_limits(bore_class, 6.0))
    slip = table.text("slip", "H7")
    table.build("slip", lambda: iso_limits(slip, 6.0))
    stops, stop_points = _stops(table)
    return PinPlateOptions(
        size_mm=(width, height) if table.has("plate") else None,
        thickness_mm=table.length_mm("plate_thickness", above=0.0),
        thickness_u_mm=table.length_mm("plate_thickness_u", 0.01, least=0.0),
        material=table.text("plate_material", "6061-T6"),
        border_mm=table.length_mm("border", 20.0, least=5.0),
        bores=bores,
        sizes=tuple(given for row in table.tables("bore") if (given := _given(row))),
        bore_class=bore_class,
        bore_tolerance_mm=table.length_mm("bore_tolerance", least=0.0)
        if table.has("bore_tolerance")
        else None,
        slip=slip,
        hole_place_mm=table.length_mm("hole_place", 0.01, least=0.0),
        pitch_mm=table.length_mm("bore_place", 0.02, least=0.0),
        least_mm=table.length_mm("pin_clearance", 0.005, least=0.0),
        fit=table.choice("fit", RUNNING_FITS) if table.has("fit") else "",
        stops=stops,
        stop_points=stop_points,
        stop_diameter_mm=table.length_mm("stop_diameter", 8.0, above=0.0),
        stop_height_mm=table.length_mm("stop_height", above=0.0)
        if table.has("stop_height")
        else None,
        setback_mm=table.length_mm("setback", 5.0, least=0.0),
        height_tolerance_mm=table.length_mm("height_tolerance", 0.2, least=0.0),
    )


def _stops(table: Table) -> tuple[str, tuple[Point, ...]]:
    """Return whether there are hard stops, and where they are given."""
    if not isinstance(table.raw("stops"), list):
        return table.choice("stops", ("none", "auto"), "none"), ()
    points = table.points_mm("stops")
    if len(points) != 3:
        table.fault(
            "stops",
            f"{len(points)} stops are given; a part rests on 3",
            'give 3 points under the part, or "auto"',
        )
    return "given", points


def _given(row: Table) -> GivenBore | None:
    """Return a bore with limits of its own, or None with a fault noted."""
    at = row.point_mm("at")
    least, most = row.length_mm("least", above=0.0), row.length_mm("most", above=0.0)
    row.finish()
    return row.build("most", lambda: GivenBore(at=at, limits=Limits(least_mm=least, most_mm=most)))


def part_bores(
    part: Part, options: PinPlateOptions, *, where: str
) -> tuple[tuple[PartBore, ...], tuple[Finding, ...]]:
    """Return the part's round bores with their limits, and what was assumed of them.

    Raises:
        InputError: a bore that the job names is not in the part.
    """
    found, assumed = [], []
    holes = round_holes(part.region)
    for given in options.sizes:
        _meant(holes, given.at, where=f"{where}.bore")
    for number, (at, size) in enumerate(holes, 1):
        own = [g.limits for g in options.sizes if math.dist(g.at, at) <= MEANT_MM]
        name = f"bore {number}"
        try:
            if own:
                limits = own[0]
            elif options.bore_class:
                limits = iso_limits(options.bore_class, size)
            elif options.bore_tolerance_mm is not None:
                by = options.bore_tolerance_mm
                limits = Limits.about(size, lower_mm=-by, upper_mm=by)
            else:
                limits = general_limits(size)
                assumed.append(name)
        except ValueError:
            continue  # too small or too large for any pin of its class
        found.append(PartBore(name=name, at=at, drawn_mm=size, limits=limits))
    if options.bores:
        meant = [_meant(holes, at, where=f"{where}.bores") for at in options.bores]
        by_name = {bore.name: bore for bore in found}
        found = [by_name[f"bore {i + 1}"] for i in meant if f"bore {i + 1}" in by_name]
    note = Finding(
        code="bore-untoleranced",
        severity=Severity.NOTE,
        subject="bores of the part",
        message="the job gives no limits for "
        f"{', '.join(assumed)}: ISO 2768-1 class m is taken, as for any size without a tolerance",
        hint='measure them, or write bore_class = "H7" or [[setup.bore]] with least and most',
    )
    return tuple(found), (note,) if assumed else ()


def _meant(holes: Sequence[tuple[Point, float]], at: Point, *, where: str) -> int:
    """Return the index of the round hole that a point means.

    Raises:
        InputError: none lies there.
    """
    near = [i for i, (centre, _) in enumerate(holes) if math.dist(centre, at) <= MEANT_MM]
    if not near:
        listed = ", ".join(f"({c.x:.3f}, {c.y:.3f})" for c, _ in holes[:8]) or "none"
        raise InputError(
            f"no round bore of the part is centred at ({at.x:.3f}, {at.y:.3f}) mm",
            where=where,
            hint=f"round bores are centred at {listed}",
        )
    return near[0]
