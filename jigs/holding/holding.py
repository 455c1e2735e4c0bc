"""Will it hold: every load along every tool path against what the job says holds the part.

The factor is the number by which every force may grow before something gives. It is taken at
each station of each path, over all phases of a tooth, and the least of all counts; the track
of least factors is kept for the map on the sheet, which shows where along the outline the
part is closest to coming loose, and what lets go first.

A factor under the shop's limit fails. A limit met on an assumed strength is no pass either:
the finding stays a warning until the shop has pulled its own tape.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from jigs.finding import Finding, Severity
from jigs.holding.bond import BondGroup, BondStrength, bond_factors
from jigs.holding.clamp import Straps, ViseGrip, strap_factors, vise_factors
from jigs.holding.cutting import N_PER_LBF
from jigs.holding.toolpath import Loads
from kerf.contour import Point

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """How far each load is from each way of coming loose.

    Args:
        ways: name of a way ("slip", "peel") → factors, shape (loads,).
        factor: the factor of each load, shape (loads,); not above any of ``ways``.
        gives: index into ``places`` of what gives first, shape (loads,).
        places: where the hold can give first; empty when the whole gives at once.
    """

    ways: dict[str, Floats]
    factor: Floats
    gives: NDArray[np.int64]
    places: tuple[Point, ...] = ()


Judge = Callable[[Floats], Judgement]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """The least factor at one station of a path.

    Args:
        at: where the tool stands, set-up coordinates, mm.
        factor: least over all phases there; infinite when nothing loads the hold.
    """

    at: Point
    factor: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CutHolding:
    """How one cut is held.

    Args:
        cut: its name.
        factor: least along its path; infinite when nothing loads the hold.
        way: what gives first there: "slip", "peel", "tip", "pin".
        at: where the tool stands then, set-up coordinates, mm.
        gives: where the hold gives then; None when the whole gives at once.
        force_n: greatest force on the part of that moment, N.
        spots: the factor along the path.
    """

    cut: str
    factor: float
    way: str
    at: Point
    gives: Point | None
    force_n: float
    spots: tuple[Spot, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Holding:
    """How a set-up is held.

    Args:
        by: "tape", "vise" or "clamps".
        said: every assumption, in words.
        proven: whether strength comes from the shop's own pull tests or stated forces.
        limit: least factor the shop allows.
        cuts: each cut, in order; one or more.
    """

    by: str
    said: str
    proven: bool
    limit: float
    cuts: tuple[CutHolding, ...]

    @property
    def worst(self) -> CutHolding:
        """The cut with the least factor."""
        return min(self.cuts, key=lambda cut: cut.factor)

    @property
    def capacity_n(self) -> float:
        """Force that the hold bears at its worst moment, in that place and direction, N."""
        worst = self.worst
        return worst.force_n * worst.factor if math.isfinite(worst.factor) else math.inf


def bond_judge(group: BondGroup, strength: BondStrength, *, base_mm: float = 0.0) -> Judge:
    """Return the judge of a bond; ``base_mm`` is the bond's depth below the part's face, mm."""

    def judge(rows: Floats) -> Judgement:
        lifted = rows.copy()
        lifted[:, 2] += base_mm
        found = bond_factors(group, strength, lifted)
        ways = {"slip": found.slip, "peel": found.peel}
        if group.pins:
            ways["pin"] = found.pin
        return Judgement(ways=ways, factor=found.factor, gives=found.lifts, places=group.corners)

    return judge


def vise_judge(grip: ViseGrip) -> Judge:
    """Return the judge of a vise."""

    def judge(rows: Floats) -> Judgement:
        found = vise_factors(grip, rows)
        return Judgement(
            ways={"slip": found.slip, "tip": found.tip},
            factor=found.factor,
            gives=np.zeros(len(rows), dtype=np.int64),
        )

    return judge


def strap_judge(straps: Straps) -> Judge:
    """Return the judge of strap clamps."""

    def judge(rows: Floats) -> Judgement:
        found = strap_factors(straps, rows)
        return Judgement(
            ways={"slip": found.slip, "tip": found.tip},
            factor=found.factor,
            gives=np.zeros(len(rows), dtype=np.int64),
        )

    return judge


def cut_holding(name: str, loads: Loads, judge: Judge) -> CutHolding:
    """Return how one cut is held.

    Args:
        name: of the cut.
        loads: of the cut; one or more.
        judge: of what holds.
    """
    judged = judge(loads.rows)
    factor = np.where(np.isnan(judged.factor), math.inf, judged.factor)
    least = np.full(len(loads.at), math.inf)
    np.minimum.at(least, loads.station, factor)
    worst = int(factor.argmin())
    way = min(judged.ways, key=lambda key: float(judged.ways[key][worst]))
    force = loads.rows[worst, 3:6]
    return CutHolding(
        cut=name,
        factor=float(factor[worst]),
        way=way,
        at=_point(loads.at[loads.station[worst]]),
        gives=judged.places[int(judged.gives[worst])] if judged.places and way != "pin" else None,
        force_n=float(np.linalg.norm(force)),
        spots=tuple(
            Spot(at=_point(at), factor=float(f)) for at, f in zip(loads.at, least, strict=True)
        ),
    )


def _point(row: Floats) -> Point:
    return Point(float(row[0]), float(row[1]))


#: What to do about each way of coming loose.
_HINTS: Final = {
    "slip": "take a lighter cut, or more holding force or area",
    "peel": "take a lighter cut or a low or left-hand helix, tape nearer the edge, or clamp there",
    "tip": "grip more of its height, clamp nearer to the cut, or take a lighter cut",
    "pin": "take a thicker pin, or bring the part nearer to the plate",
}
#: What holds, as the subject of a sentence.
_HOLDS: Final = {
    "tape": "the tape holds",
    "vise": "the vise holds",
    "clamps": "the clamps hold",
}
_WAYS: Final = {
    "slip": "slips",
    "peel": "lifts at an edge",
    "tip": "tips out of its hold",
    "pin": "bends a pin",
}


def check_holding(holding: Holding, *, subject: str) -> list[Finding]:
    """Return a failed check for each cut under the limit, and a warning for what is unproven."""
    findings = []
    for cut in holding.cuts:
        if cut.factor >= holding.limit:
            continue
        where = f" at ({cut.gives.x:.1f}, {cut.gives.y:.1f}) mm" if cut.gives is not None else ""
        findings.append(
            Finding(
                code=f"holding-{cut.way}",
                severity=Severity.FAIL,
                subject=f'{subject}: cut "{cut.cut}"',
                message=(
                    f"the part {_WAYS[cut.way]}{where} when the tool is at "
                    f"({cut.at.x:.1f}, {cut.at.y:.1f}) mm of the set-up: {_HOLDS[holding.by]} "
                    f"{cut.factor:.2f} times the cutting force of {force_text(cut.force_n)}; "
                    f"at least {holding.limit:.1f} is asked"
                ),
                measured=cut.factor,
                limit=holding.limit,
                hint=_HINTS[cut.way]
                + (", or pins in the bores" if (holding.by, cut.way) == ("tape", "slip") else ""),
            )
        )
    if not holding.proven:
        findings.append(
            Finding(
                code="holding-unproven",
                severity=Severity.WARN,
                subject=subject,
                message=f"holding is UNPROVEN: {holding.said}",
                hint="stick a piece of known area, pull it along the bed and straight off, and "
                "write both forces into the shop file as [[tape.test]]",
            )
        )
    return findings


def factor_text(factor: float) -> str:
    """Return a factor, rounded down, so that none reads larger than it is."""
    return f"{math.floor(factor * 10) / 10:.1f}" if math.isfinite(factor) else "nothing loads it"


def force_text(force_n: float, *, places: int = 0) -> str:
    """Return a force in both units."""
    return f"{force_n:.{places}f} N ({force_n / N_PER_LBF:.{places}f} lbf)"
