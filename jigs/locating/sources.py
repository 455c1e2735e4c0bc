"""What makes a contact vary, in numbers: one function per cause.

Each returns a ``Source`` (along the contact's normal) or a ``FrameSource`` (the whole guide),
with a greatest ± for the worst case and a standard uncertainty for the root sum of squares.
Where only a ± is known the cause is taken as uniform within it, u = ± / √3 (JCGM 100:2008,
4.3.7); where only an uncertainty is known the ± is three times it, which 0.27 % of normal
draws exceed.
"""

from __future__ import annotations

import math
from typing import Final

from jigs.locating.contacts import FrameSource, Source, Tie
from kerf.contour import Point, Vector
from kerf.errors import GeometryError

#: Worst case from a standard uncertainty. Source: three-sigma limits, common practice.
COVERAGE_WORST: Final = 3.0


def kerf_source(*, u_kerf_mm: float, sheet: str) -> Source:
    """Return what the kerf's uncertainty does to a laser-cut wall: half of it, all walls at once.

    A kerf wider than the card says sets every wall back from the part by half the excess.

    Args:
        u_kerf_mm: standard uncertainty of the full kerf, mm, >= 0.
        sheet: name of the card or sheet; walls of one sheet move together.
    """
    half = _known(u_kerf_mm, "kerf uncertainty") / 2
    return Source(
        name="kerf",
        limit_mm=COVERAGE_WORST * half,
        u_mm=half,
        tie=Tie.TOGETHER,
        group=f"kerf of {sheet}",
        sign=-1,
    )


def edge_source(*, edge_tolerance_mm: float) -> Source:
    """Return the part's real edge about the drawn one, ± mm."""
    return _uniform("part edge", edge_tolerance_mm)


def locator_source(*, tolerance_mm: float, name: str = "locator") -> Source:
    """Return the place of a locator (pin, stop, jaw) along the normal, ± mm."""
    return _uniform(name, tolerance_mm)


def clearance_source(*, clearance_mm: float) -> Source:
    """Return the float of a part that is not pushed against its wall, clearance per side, mm.

    Raises:
        GeometryError: the clearance is below zero: the part does not go in.
    """
    if not clearance_mm >= 0:
        raise GeometryError(
            f"the clearance must be 0 mm or more per side, not {clearance_mm:.4g} mm",
            hint="a negative clearance is a press fit; the part would not go in",
        )
    return _uniform("clearance", clearance_mm)


def lean_source(*, lean_rad: float, height_mm: float) -> Source:
    """Return what a wall out of square does when touched away from its measured face.

    Args:
        lean_rad: greatest ± lean of the wall, rad, 0 to below a quarter turn.
        height_mm: distance through the sheet from where the size holds to the contact, mm.
    """
    if not 0 <= lean_rad < math.pi / 2:
        raise GeometryError(f"a wall's lean lies between 0 and a quarter turn, not {lean_rad:.4g}")
    return _uniform("lean", math.tan(lean_rad) * abs(height_mm))


def give_source(*, force_n: float, stiffness_n_per_mm: float) -> Source:
    """Return how far a locator gives under a force, mm; the contact moves back by up to it."""
    if not (force_n >= 0 and stiffness_n_per_mm > 0):
        raise GeometryError("a locator's give needs a force of 0 N or more and a stiffness above 0")
    return _uniform("give", force_n / stiffness_n_per_mm)


def temperature_source(
    *,
    at: Point,
    normal: Vector,
    zero: Point,
    part_per_k: float,
    guide_per_k: float,
    change_k: float,
) -> Source:
    """Return what guide and part growing apart do to a contact, ± change_k about 20 °C.

    The locator moves by the guide's growth and the edge by the part's, both from ``zero``.
    All contacts of a guide share the temperature.

    Args:
        at, normal: the contact, part coordinates.
        zero: the point from which the machine measures, part coordinates, mm.
        part_per_k, guide_per_k: coefficients of linear expansion, 1/K.
        change_k: greatest ± departure from the temperature the sizes hold at, K, >= 0.
    Source: linear expansion; coefficients from the job's materials.
    """
    reach = (at.x - zero.x) * normal.x + (at.y - zero.y) * normal.y
    moved = (guide_per_k - part_per_k) * _known(change_k, "temperature change") * reach
    return Source(
        name="temperature",
        limit_mm=abs(moved),
        u_mm=abs(moved) / math.sqrt(3),
        tie=Tie.TOGETHER,
        group="temperature",
        sign=1 if moved >= 0 else -1,
    )


def temperature_frame(*, zero: Point, part_per_k: float, change_k: float) -> FrameSource:
    """Return the part's own growth from ``zero`` while it is cut, tied to the contacts' growth."""
    limit = part_per_k * _known(change_k, "temperature change")
    return FrameSource(
        name="temperature",
        limit=limit,
        u=limit / math.sqrt(3),
        stretch=1.0,
        about=zero,
        group="temperature",
    )


def pick_up_frame(*, along: Vector, limit_mm: float, u_mm: float | None = None) -> FrameSource:
    """Return the error of picking up one face: the guide stands off by it along ``along``.

    Args:
        along: unit normal of the face, part coordinates.
        limit_mm: greatest ±, mm.
        u_mm: standard uncertainty, mm; limit/√3 when none.
    """
    _known(limit_mm, "pick-up error")
    return FrameSource(
        name="pick-up",
        limit=limit_mm,
        u=limit_mm / math.sqrt(3) if u_mm is None else u_mm,
        shift=along,
    )


def tram_frame(*, about: Point, limit_rad: float) -> FrameSource:
    """Return the guide standing turned in the machine, ± rad about the picked-up point."""
    _known(limit_rad, "tram error")
    return FrameSource(
        name="tram", limit=limit_rad, u=limit_rad / math.sqrt(3), turn=1.0, about=about
    )


def _uniform(name: str, limit_mm: float) -> Source:
    """Return a source uniform within ± limit_mm."""
    _known(limit_mm, name)
    return Source(name=name, limit_mm=limit_mm, u_mm=limit_mm / math.sqrt(3))


def _known(value: float, what: str) -> float:
    """Return the value, refusing what is negative or not a number."""
    if not 0 <= value < math.inf:
        raise GeometryError(f"{what} must be 0 or more, not {value:.4g}")
    return value
