"""Vise and strap clamps: friction against cutting, tipping, and what clamping does to the part.

A vise holds by friction on two faces. What acts along a face and up is shared by the two as by
the supports of a beam: nearer to a face, more of it. Each face is judged like a bond: its share
and the turn that comes with it are spread elastically, and the worst corner must stay under
friction times pressure; a force square to the jaws takes its part of that pressure off. That
force, off the middle of the face, and a turn about the spindle shift the pressure across a face,
linearly, and no edge of it may lift: for a rectangle that is the middle-third rule. One face is
taken to carry all of it, since the moving jaw may rock, and the parallels nothing. Soft jaws,
whose pressure stands at a third already, lift an edge sooner but hold on to twice that couple.

Straps hold by the bed's friction under what they press; their own heads sway and are left
out. The share of each strap follows its force. The part tips when the load outweighs the
straps about an edge of what carries it.

A part gripped low bows up: the jaws push below its middle, and the couple bends it. A thin
part buckles, every part shortens. A guide between the jaws that is as thick as the part takes
the clamping itself, and lets the part loose.

Sources: friction, Coulomb; elastic share of an eccentric load, *Shigley's Mechanical
Engineering Design*, 8-12; a face stays pressed while the resultant is in its middle third,
any text on mechanics of materials; beam under end couples δ = M L² / (8 E I) and strut
N = π² E I / L², *Roark's Formulas for Stress and Strain*, tables 8.1 and 15.1.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from jigs.holding.bond import BondStrength, bond_factors, bond_group
from kerf.contour import Contour, Point, Region
from kerf.errors import GeometryError

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class ViseGrip:
    """A part between two jaws that close along y; x runs along the jaws.

    Args:
        force_n: of the vise, N, > 0.
        friction: of the part on each jaw, > 0.
        left_mm, right_mm: ends of the gripped length along x, mm.
        fixed_mm, moving_mm: y of the two jaw faces, mm.
        grip_mm: gripped height from the part's lower face, mm, > 0.
        face: where each jaw bears, x along it and the height over the part's lower face, mm;
            empty for the whole gripped length and height.
    """

    force_n: float
    friction: float
    left_mm: float
    right_mm: float
    fixed_mm: float
    moving_mm: float
    grip_mm: float
    face: tuple[Region, ...] = ()

    def __post_init__(self) -> None:
        sizes = (self.force_n, self.friction, self.grip_mm, self.right_mm - self.left_mm)
        if not all(0 < s < math.inf for s in sizes):
            raise GeometryError(
                "a vise needs a force, friction, gripped height and length above 0, not "
                f"{self.force_n:.4g} N, {self.friction:.4g}, {self.grip_mm:.4g} mm and "
                f"{self.right_mm - self.left_mm:.4g} mm"
            )

    @property
    def length_mm(self) -> float:
        """Gripped length along the jaws, mm."""
        return self.right_mm - self.left_mm

    def bears_on(self) -> tuple[Region, ...]:
        """Return where each jaw bears, x along it and the height over the lower face."""
        whole = Contour.rectangle(self.left_mm, 0.0, self.length_mm, self.grip_mm)
        return self.face or (Region(outer=whole),)


@dataclass(frozen=True, slots=True, kw_only=True)
class GripFactors:
    """How far each load is from breaking a grip; arrays of shape (loads,), infinite where safe.

    Args:
        slip: against slipping.
        tip: against leaving the moving jaw, or tipping off the bed.
    """

    slip: Floats
    tip: Floats

    @property
    def factor(self) -> Floats:
        """The lesser of the two, shape (loads,)."""
        least: Floats = np.minimum(self.slip, self.tip)
        return least


def vise_factors(grip: ViseGrip, loads: Floats) -> GripFactors:
    """Return how far a part in a vise is from slipping and from rolling out of the jaws.

    A force toward the bed is carried by the parallels or pads that the part stands on, as far
    along as the jaws grip; beyond, it tips the part over their end.

    Args:
        grip: the vise.
        loads: shape (n, 7), as for ``bond_factors``; z from the part's lower face.
    """
    rows = np.asarray(loads, dtype=np.float64)
    face = bond_group(grip.bears_on())
    shape, middle = face.moments, face.moments.centroid
    middle_y = (grip.fixed_mm + grip.moving_mm) / 2
    x, y, z = rows[:, 0] - middle.x, rows[:, 1] - middle_y, rows[:, 2] - middle.y
    fx, fy, turn = rows[:, 3], rows[:, 4], rows[:, 6]
    fz, down = np.maximum(rows[:, 5], 0.0), np.minimum(rows[:, 5], 0.0)
    beyond = rows[:, 0] - np.clip(rows[:, 0], grip.left_mm, grip.right_mm)
    off = np.abs(fy) / grip.force_n  # share of the clamping that a force square to it takes

    # Both faces seen along y: each its share of the force (fx, fz), at (x, z) on the face.
    pressure = grip.force_n / shape.area_mm2
    strength = BondStrength(
        shear_mpa=grip.friction * pressure, pull_mpa=pressure, proven=True, said="friction"
    )
    used = np.zeros(len(rows))  # share of the friction, of the face that is nearer to slipping
    for side in (1.0, -1.0):
        share = 0.5 + side * y / (grip.fixed_mm - grip.moving_mm)
        up = np.maximum(fz * share, 0.0)  # what presses down there, the parallels carry
        flat = np.zeros((len(rows), 7))
        flat[:, 0], flat[:, 1] = middle
        flat[:, 3], flat[:, 4] = fx * share, up
        flat[:, 6] = x * up + (beyond * down - z * fx) * share
        used = np.maximum(used, 1 / bond_factors(face, strength, flat).slip)

    # A force square to the jaws, and a turn, shift the pressure: ∫ σ x dA and ∫ σ z dA.
    yaw, roll = x * fy + turn, -z * fy
    inertia = np.array([[shape.iyy_mm4, shape.ixy_mm4], [shape.ixy_mm4, shape.ixx_mm4]])
    slopes = np.linalg.solve(inertia, np.vstack((yaw, -roll)))
    shifted = np.abs(slopes.T @ (np.array(face.corners) - middle).T).max(axis=1) / pressure
    with np.errstate(divide="ignore", over="ignore"):
        return GripFactors(slip=1 / (used + off), tip=1 / (off + shifted))


@dataclass(frozen=True, slots=True, kw_only=True)
class Straps:
    """Strap clamps on a part that stands on the bed.

    Args:
        at: where they press, mm.
        force_n: of each, N, > 0.
        friction: of the part on the bed, > 0.
        carried: corners of the hull of what carries the part, counter-clockwise, mm.
    """

    at: tuple[Point, ...]
    force_n: float
    friction: float
    carried: tuple[Point, ...]

    def __post_init__(self) -> None:
        if not (self.at and self.force_n > 0 and self.friction > 0 and len(self.carried) > 2):
            raise GeometryError("straps need a place, a force, friction and a bed under the part")


def strap_factors(straps: Straps, loads: Floats) -> GripFactors:
    """Return how far a clamped part is from slipping on its bed and from tipping off it.

    Args:
        straps: the clamps.
        loads: shape (n, 7), as for ``bond_factors``.
    """
    rows = np.asarray(loads, dtype=np.float64)
    at = np.array(straps.at)
    middle = at.mean(axis=0)
    arm = at - middle
    polar = float((arm**2).sum())
    count, total = len(at), straps.force_n * len(at)
    x, y, z = rows[:, 0] - middle[0], rows[:, 1] - middle[1], rows[:, 2]
    fx, fy, fz = rows[:, 3], rows[:, 4], rows[:, 5]
    turn = x * fy - y * fx + rows[:, 6]
    spin = turn / polar if polar > 0 else np.zeros(len(rows))
    share_x = fx[:, None] / count - spin[:, None] * arm[:, 1]
    share_y = fy[:, None] / count + spin[:, None] * arm[:, 0]
    worst = np.hypot(share_x, share_y).max(axis=1)
    lift = np.maximum(fz, 0.0)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        # μ (P − λ lift / count) = λ worst, at the worst strap
        slip = straps.friction * straps.force_n / (worst + straps.friction * lift / count)
        if polar == 0.0:  # one strap: nothing but the strap's own head resists a turn
            slip = np.where(np.abs(turn) > 1e-9, 0.0, slip)
    tip = np.full(len(rows), math.inf)
    hull = np.array(straps.carried)
    for a, b in zip(hull, np.roll(hull, -1, axis=0), strict=True):
        along = (b - a) / np.hypot(*(b - a))
        inward = np.array([-along[1], along[0]])
        holds = float(((at - a) @ inward).sum()) * straps.force_n
        over = fz * ((rows[:, :2] - a) @ inward) - z * (rows[:, 3:5] @ inward)
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            tip = np.where(over > 0, np.minimum(tip, max(holds, 0.0) / over), tip)
    with np.errstate(divide="ignore", over="ignore"):
        tip = np.where(lift > 0, np.minimum(tip, total / lift), tip)
    return GripFactors(slip=slip, tip=tip)


@dataclass(frozen=True, slots=True, kw_only=True)
class Squeeze:
    """What clamping does to a part, as a plate between the jaws.

    Args:
        shortens_mm: how much shorter it gets from jaw to jaw, mm.
        bows_mm: how far its middle rises because the jaws push below it, mm.
        buckles_n: clamping force at which it would buckle, N.
    """

    shortens_mm: float
    bows_mm: float
    buckles_n: float


def squeeze(
    *,
    force_n: float,
    across_mm: float,
    length_mm: float,
    height_mm: float,
    grip_mm: float,
    modulus_mpa: float,
    pressed_mm: float | None = None,
) -> Squeeze:
    """Return what clamping does to a part.

    Args:
        force_n: of the vise, N.
        across_mm: from jaw to jaw, mm.
        length_mm: gripped along the jaws, mm.
        height_mm: of the part, mm.
        grip_mm: gripped height from below, mm, up to the part's.
        modulus_mpa: Young's modulus, MPa.
        pressed_mm: height at which the jaws press, from the lower face, mm; the middle of the
            grip when None.
    Raises:
        GeometryError: a size that is not above 0, or a grip higher than the part.
    """
    sizes = (force_n, across_mm, length_mm, height_mm, grip_mm, modulus_mpa)
    if not all(0 < s < math.inf for s in sizes) or grip_mm > height_mm * (1 + 1e-9):
        raise GeometryError("clamping needs sizes above 0, and a grip no higher than the part")
    inertia = length_mm * height_mm**3 / 12
    couple = force_n * abs(height_mm / 2 - (grip_mm / 2 if pressed_mm is None else pressed_mm))
    return Squeeze(
        shortens_mm=force_n * across_mm / (modulus_mpa * length_mm * height_mm),
        bows_mm=couple * across_mm**2 / (8 * modulus_mpa * inertia),
        buckles_n=math.pi**2 * modulus_mpa * inertia / across_mm**2,
    )
