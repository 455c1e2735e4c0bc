"""A part bonded to its bed: what tape and glue feel under a load, and the pins that help.

The bond is a thin elastic layer under a stiff part. A load in its plane is felt as its own
share everywhere plus a turn about the bond's centroid (the elastic method for eccentrically
loaded bolt and weld groups); a load above the plane, or along the spindle, pulls at one edge
and presses at the other, linearly across the bond. Both fields are affine in the place, and
the measure of harm is convex, so the worst place is always a corner of the bond's hull: none
is missed by sampling.

Pins in bores stand beside the bond as springs, with their gap: a pin takes nothing before the
part has moved by its gap. Bond and pins are solved together, for each load anew.

A factor says by how much every force may grow until the worst place gives way; shear and pull
at one place add as (τ/τ₀)² + (σ/σ₀)² = 1. Pressing never counts as harm. Whoever has not
tested their own tape gets the lowest figures there are, and "unproven" beside the result.

Sources: elastic group, Budynas and Nisbett, *Shigley's Mechanical Engineering Design*, 8-12
and 9-4; bending of an unsymmetrical section, any text on mechanics of materials; pin as a
cantilever, *Roark's Formulas for Stress and Strain*, table 8.1.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from kerf.contour import Point, Region, Vector
from kerf.errors import GeometryError
from kerf.hull import convex_hull
from kerf.moments import Moments, moments
from kerf.tolerance import ROUGH_FACET_MM

Floats = NDArray[np.float64]

#: Shear strength of tape and glue that nobody tested, MPa. Source: assumption, the low end of
#: 0.05 to 0.10 MPa; no published figure for the sandwich was found.
ASSUMED_SHEAR_MPA: Final = 0.05
#: Strength against a straight pull, MPa: short-term rating of structural tapes (about 16 kPa).
ASSUMED_PULL_MPA: Final = 0.016
#: Stiffness of the layer in shear, N/mm³, when no test told how far it gave: 1 MPa over 0.3 mm.
#: Source: assumption; it only decides what pins take off the bond.
ASSUMED_STIFFNESS: Final = 3.3

#: Rounds in which pins' gaps are taken up, and the share of each correction that is used.
_GAP_ROUNDS: Final = 60
_GAP_EASE: Final = 0.5
#: A pin's share of its stiffness is settled to this: its force to a millionth.
_GAP_SETTLED: Final = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class BondStrength:
    """What a bond carries.

    Args:
        shear_mpa: in its plane, MPa, > 0.
        pull_mpa: straight off, at the worst place, MPa, > 0.
        proven: whether both come from the shop's own pull tests.
        said: the assumption in words, for sheet and record.
        stiffness_n_mm3: shear stress per movement, N/mm³, > 0.
    """

    shear_mpa: float
    pull_mpa: float
    proven: bool
    said: str
    stiffness_n_mm3: float = ASSUMED_STIFFNESS

    def __post_init__(self) -> None:
        values = (self.shear_mpa, self.pull_mpa, self.stiffness_n_mm3)
        if not all(0 < v < math.inf for v in values):
            raise GeometryError(
                "strength and stiffness of a bond must be above 0, not "
                f"{self.shear_mpa:.4g} MPa, {self.pull_mpa:.4g} MPa, "
                f"{self.stiffness_n_mm3:.4g} N/mm³"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldingPin:
    """A pin in a bore of the part that takes side load.

    Args:
        name: as printed.
        at: centre, part coordinates, mm.
        diameter_mm: of the pin, mm, > 0.
        free_mm: from where the pin leaves its plate to where the part bears on it, mm, > 0.
        gap_mm: how far the part moves before it bears (half the diametral clearance), mm.
        along: the only unit direction it holds in (a relieved pin); None for a round pin.
        modulus_mpa: Young's modulus, MPa.
        yield_mpa: bending stress it may see, MPa. Hardened dowels and gauge pins do not bend
            but break, well above this. Source: common practice.
        root_n_mm: stiffness of the plate about the pin, N/mm; infinite for a metal plate.
        top_mm: height of its end above the part's lower face, mm.
    """

    name: str
    at: Point
    diameter_mm: float
    free_mm: float
    gap_mm: float = 0.0
    along: Vector | None = None
    modulus_mpa: float = 205_000.0
    yield_mpa: float = 600.0
    root_n_mm: float = math.inf
    top_mm: float = 0.0

    def __post_init__(self) -> None:
        if not (self.diameter_mm > 0 and self.free_mm > 0 and self.gap_mm >= 0):
            raise GeometryError(
                f'pin "{self.name}": diameter and free length must be above 0 mm and the gap 0 mm '
                f"or more, not {self.diameter_mm:.4g}, {self.free_mm:.4g} and {self.gap_mm:.4g} mm"
            )

    @property
    def stiffness_n_mm(self) -> float:
        """Side force per movement where the part bears, N/mm: a cantilever on its root."""
        inertia = math.pi * self.diameter_mm**4 / 64
        free = 3 * self.modulus_mpa * inertia / self.free_mm**3
        return 1 / (1 / free + (0.0 if math.isinf(self.root_n_mm) else 1 / self.root_n_mm))

    def bending_mpa(self, force_n: float) -> float:
        """Return the bending stress at the root under a side force, MPa: 32 F L / (π d³)."""
        return 32 * force_n * self.free_mm / (math.pi * self.diameter_mm**3)


@dataclass(frozen=True, slots=True, kw_only=True)
class BondGroup:
    """The geometry of a bond, and the pins that stand beside it.

    Args:
        moments: area, centroid and second moments of all patches together.
        corners: of the patches' hull, mm: where the worst stress is.
        pins: pins that share side loads.
    """

    moments: Moments
    corners: tuple[Point, ...]
    pins: tuple[HoldingPin, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BondFactors:
    """How far each load is from breaking the hold; arrays of shape (loads,).

    Args:
        slip: against slip: shear alone.
        peel: against peel at the edge: pull alone; infinite where nothing pulls.
        bond: shear and pull together, the least over the bond.
        pin: against bending of the worst pin; infinite without pins.
        lifts: index of the corner that gives way first, into ``BondGroup.corners``.
        pin_force_n: shape (loads, pins): side force on each pin, N.
    """

    slip: Floats
    peel: Floats
    bond: Floats
    pin: Floats
    lifts: NDArray[np.int64]
    pin_force_n: Floats

    @property
    def factor(self) -> Floats:
        """The least of bond and pins for each load, shape (loads,)."""
        least: Floats = np.minimum(self.bond, self.pin)
        return least


def bond_group(patches: Iterable[Region], pins: Sequence[HoldingPin] = ()) -> BondGroup:
    """Return the bond group of one or more patches of tape.

    Args:
        patches: where the part is bonded, part coordinates, mm; they do not overlap.
        pins: pins that share side loads.
    Raises:
        GeometryError: there is no patch, or it has no area.
    """
    regions = tuple(patches)
    hull = convex_hull(regions)
    return BondGroup(
        moments=moments(regions),
        corners=tuple(Point(float(x), float(y)) for x, y in hull.facets(ROUGH_FACET_MM)),
        pins=tuple(pins),
    )


def bond_factors(group: BondGroup, strength: BondStrength, loads: Floats) -> BondFactors:
    """Return how far a bond and its pins are from giving way, load by load.

    Args:
        group: the bond.
        strength: what it carries.
        loads: shape (n, 6) or (n, 7): x, y (part coordinates) and z above the bond, mm; then
            the force on the part there, fx, fy, fz, N, fz positive away from the bed; and, if
            given, a turning moment about z, N·mm. One row acts at a time.
    Raises:
        GeometryError: the rows are not six or seven finite numbers each, or a load acts below
            the bond.
    """
    rows = np.asarray(loads, dtype=np.float64)
    if rows.ndim != 2 or rows.shape[1] not in (6, 7) or not np.isfinite(rows).all():
        raise GeometryError("a load is a row of finite numbers: x, y, z, fx, fy, fz and a moment")
    if (rows[:, 2] < 0).any():
        raise GeometryError("a load acts below the bond; its height z must be 0 mm or more")
    shape = group.moments
    centre = np.array(shape.centroid)
    corners = np.array(group.corners) - centre
    arm, z, force = rows[:, :2] - centre, rows[:, 2], rows[:, 3:6]
    turn = arm[:, 0] * force[:, 1] - arm[:, 1] * force[:, 0]
    if rows.shape[1] == 7:
        turn = turn + rows[:, 6]

    moves, pin_forces = _moves(group, strength, np.column_stack((force[:, :2], turn)))
    along_x = strength.stiffness_n_mm3 * (moves[:, :1] - moves[:, 2:] * corners[:, 1])
    along_y = strength.stiffness_n_mm3 * (moves[:, 1:2] + moves[:, 2:] * corners[:, 0])
    shear = np.hypot(along_x, along_y)  # shape (loads, corners), MPa

    pull = np.maximum(_pull(shape, arm, z, force, corners), 0.0)
    harm = np.hypot(shear / strength.shear_mpa, pull / strength.pull_mpa)
    with np.errstate(divide="ignore", over="ignore"):
        return BondFactors(
            slip=strength.shear_mpa / shear.max(axis=1),
            peel=strength.pull_mpa / pull.max(axis=1),
            bond=1 / harm.max(axis=1),
            pin=_pin_factors(group.pins, pin_forces),
            lifts=harm.argmax(axis=1),
            pin_force_n=pin_forces,
        )


def slip_capacity_n(group: BondGroup, strength: BondStrength) -> float:
    """Return the side force through the centroid at which the bond alone slips, N."""
    return group.moments.area_mm2 * strength.shear_mpa


def _moves(group: BondGroup, strength: BondStrength, wrench: Floats) -> tuple[Floats, Floats]:
    """Return how the part moves in its plane under each load, and what each pin takes.

    Args:
        wrench: shape (n, 3): force in x and y, N, and moment about the bond's centroid, N·mm.
    Returns:
        shape (n, 3): shift in x and y at the centroid, mm, and turn, rad; shape (n, pins), N.
    """
    n = len(wrench)
    shape, k = group.moments, strength.stiffness_n_mm3
    bond = k * np.array([shape.area_mm2, shape.area_mm2, shape.polar_mm4])
    moves: Floats = wrench / bond
    if not group.pins:
        return moves, np.zeros((n, 0))
    held, stiff, gap = _pin_rows(group)
    forces = np.zeros((n, len(group.pins)))
    # Pins that the bond alone keeps from bearing take nothing, and change nothing.
    meets = (_travel(held, moves) > gap).any(axis=1)
    if not meets.any():
        return moves, forces
    load = wrench[meets]
    per_pin = stiff[:, None, None] * np.einsum("pdi,pdj->pij", held, held)
    bears = np.ones((len(load), len(group.pins)))
    for _ in range(_GAP_ROUNDS):
        moved = _solved(np.diag(bond) + np.tensordot(bears, per_pin, axes=1), load)
        travel = _travel(held, moved)
        taken = bears * stiff * travel
        with np.errstate(divide="ignore", invalid="ignore"):
            wanted = np.where(travel > gap, 1 - gap / travel, 0.0)
        change = wanted - bears
        if np.abs(change).max() < _GAP_SETTLED:
            break
        bears = bears + _GAP_EASE * change
    moves[meets], forces[meets] = moved, taken
    return moves, forces


def _travel(held: Floats, moves: Floats) -> Floats:
    """Return how far the part moves at each pin, the way the pin feels it, mm: (loads, pins)."""
    felt = np.tensordot(moves, held, axes=(1, 2))  # shape (loads, pins, 2)
    out: Floats = np.hypot(felt[:, :, 0], felt[:, :, 1])
    return out


def _solved(k: Floats, load: Floats) -> Floats:
    """Return x of k x = load for many 3 × 3 matrices at once, by Cramer's rule.

    Stiffness matrices are positive definite, so the determinant is far from zero.
    """
    a, b, c = k[:, :, 0], k[:, :, 1], k[:, :, 2]
    bc = np.cross(b, c)
    det = (a * bc).sum(axis=1)
    parts = (
        (load * bc).sum(axis=1),
        (a * np.cross(load, c)).sum(axis=1),
        (a * np.cross(b, load)).sum(axis=1),
    )
    out: Floats = np.column_stack(parts) / det[:, None]
    return out


def _pin_rows(group: BondGroup) -> tuple[Floats, Floats, Floats]:
    """Return how pins feel the part move: shape (pins, 2, 3); their stiffness; their gaps.

    A relieved pin has one direction; its second row is zero.
    """
    centre = group.moments.centroid
    rows = []
    for pin in group.pins:
        x, y = pin.at.x - centre.x, pin.at.y - centre.y
        if pin.along is None:
            rows.append([[1.0, 0.0, -y], [0.0, 1.0, x]])
        else:
            ux, uy = pin.along
            rows.append([[ux, uy, x * uy - y * ux], [0.0, 0.0, 0.0]])
    return (
        np.array(rows),
        np.array([pin.stiffness_n_mm for pin in group.pins]),
        np.array([pin.gap_mm for pin in group.pins]),
    )


def _pull(shape: Moments, arm: Floats, z: Floats, force: Floats, corners: Floats) -> Floats:
    """Return the pull at each corner under each load, shape (loads, corners), MPa.

    Linear across the bond, with its resultant and both moments equal to the load's: an upward
    force pulls where it acts, a side force at height z lifts the edge it comes from.
    """
    about_y = arm[:, 0] * force[:, 2] - z * force[:, 0]  # ∫ σ x dA
    about_x = arm[:, 1] * force[:, 2] - z * force[:, 1]  # ∫ σ y dA
    inertia = np.array([[shape.iyy_mm4, shape.ixy_mm4], [shape.ixy_mm4, shape.ixx_mm4]])
    slopes = np.linalg.solve(inertia, np.vstack((about_y, about_x)))
    field: Floats = force[:, 2:] / shape.area_mm2 + slopes.T @ corners.T
    return field


def _pin_factors(pins: Sequence[HoldingPin], forces: Floats) -> Floats:
    """Return the factor of the worst pin against bending for each load, shape (loads,)."""
    if not pins:
        return np.full(len(forces), math.inf)
    unit = np.array([pin.bending_mpa(1.0) / pin.yield_mpa for pin in pins])
    with np.errstate(divide="ignore", over="ignore"):
        worst: Floats = 1 / (forces * unit).max(axis=1)
    return worst
