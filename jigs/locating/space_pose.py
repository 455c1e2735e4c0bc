"""The pose in space of a part on its locators: 3-2-1, first order and exact.

The part is a prism: flat above and below, its edge straight up. A pose turns it about the part
origin by a rotation vector and then shifts it. What each locator asks is written for the guide
as it stands and the part as it has moved, without small angles:

- a wall's nose is a sphere of radius ρ (0: a point) about L, at the contact's height; it touches
  the moved face: a plane, or a cylinder of radius R about the moved axis,
  gap = ±(distance of L from the axis − |R + ρ|);
- a flat wall on a bulging edge is a plane upright in the guide: at the contact's height the
  leaning cylinder is cut in an ellipse, R √(1 + k²) deep along n, k being the slope of its axis
  towards n;
- a pin's axis stands upright: the moved axis of the bore crosses the contact's height where the
  pin holds it, n · (crossing − centre) = δ;
- a support's tip touches the moved underside from below.

Solved by Newton's method with the gaps' own slopes, one row [m, X × m] each (m the direction in
which the gap grows when the part moves there, X the place): every pass squares the error.

Source: rigid motion and its exponential, Murray, Li & Sastry, *A Mathematical Introduction to
Robotic Manipulation*, ch. 2 [from memory]; rows as in Asada & By 1985; an upright cut through
a leaning cylinder is an ellipse (any text on analytic geometry).

Refused: more or fewer than six independent contacts; locators so far out that the part cannot
touch all of them; a flat wall on a straight edge, whose place of contact a turn decides.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from jigs.locating.contacts import Contact, ContactKind
from jigs.locating.pose import as_deltas
from kerf.contour import Floats
from kerf.errors import GeometryError
from kerf.tolerance import POSE_STEP_MM, RANK_RELATIVE

#: Newton's passes before a pose is taken not to exist; five are usual.
_PASSES = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class SpacePose:
    """Where the part lies against where it should: a turn about the part origin, then a shift.

    Args:
        shift_mm: shift of the part origin, mm.
        turn_rad: rotation vector: the axis of the turn, as long as its angle, rad.
    """

    shift_mm: tuple[float, float, float]
    turn_rad: tuple[float, float, float]

    def shift_at(self, at: tuple[float, float, float]) -> tuple[float, float, float]:
        """Return how far the part's point ``at`` is moved by this pose, mm; exact."""
        by = _turned(np.array(self.turn_rad), np.array(at)) + np.array(self.shift_mm)
        return float(by[0]), float(by[1]), float(by[2])

    def linear_shift_at(self, at: tuple[float, float, float]) -> tuple[float, float, float]:
        """Return the first-order movement of the part's point ``at``, mm."""
        x, y, z = np.asarray(self.shift_mm) + np.cross(self.turn_rad, at)
        return float(x), float(y), float(z)

    @property
    def tilt_rad(self) -> float:
        """Angle by which the part's upright leans, rad."""
        x, y, z = _turned(np.array(self.turn_rad), np.array([0.0, 0.0, 1.0]))
        return math.atan2(math.hypot(x, y), 1.0 + z)


def space_rows(contacts: Sequence[Contact]) -> Floats:
    """Return the rows [n, p × n] of contacts in space, supports pushing up; shape (n, 6)."""
    points = np.array([(c.at.x, c.at.y, c.z_mm) for c in contacts], dtype=np.float64)
    normals = np.array(
        [(0.0, 0.0, 1.0) if c.kind is ContactKind.SUPPORT else (*c.normal, 0.0) for c in contacts],
        dtype=np.float64,
    )
    if not len(points):
        return np.empty((0, 6))
    return np.hstack((normals, np.cross(points, normals)))


def space_pose_linear(contacts: Sequence[Contact], locator_mm: Sequence[float]) -> SpacePose:
    """Return the first-order pose in space when each locator stands off by ``locator_mm``.

    Args:
        contacts: six contacts and supports that fix the part (3-2-1).
        locator_mm: movement of each along its normal, mm; up for a support.
    Raises:
        GeometryError: not six contacts, or six that leave a motion free; the counts differ.
    Source: as ``pose_linear``, rows [n, p × n].
    """
    deltas = as_deltas(contacts, locator_mm)[0]
    rows = space_rows(contacts)
    if len(rows) != 6:
        raise GeometryError(f"a pose in space needs exactly six contacts, not {len(rows)}")
    size = float(np.max(np.abs(rows[:, 3:]))) or 1.0
    scaled = rows / np.array([1.0, 1.0, 1.0, size, size, size])
    values = np.linalg.svd(scaled, compute_uv=False)
    if values[-1] <= RANK_RELATIVE * values[0]:
        raise GeometryError("the six contacts leave a motion free, so that the part has no place")
    x, y, z, a, b, c = map(float, np.linalg.solve(scaled, deltas))
    return SpacePose(shift_mm=(x, y, z), turn_rad=(a / size, b / size, c / size))


def space_pose_exact(contacts: Sequence[Contact], locator_mm: Sequence[float]) -> SpacePose:
    """Return the exact pose in space, curvature of edges and noses included.

    Args and Raises: as ``space_pose_linear``; also GeometryError when no pose touches all six
    locators, or a flat wall stands against a straight edge.
    """
    for c in contacts:
        if math.isinf(c.locator_radius_mm) and c.radius_mm == 0.0 and not c.holds_both_ways:
            raise GeometryError(
                f'contact "{c.name}": a flat wall against a straight face touches all along it, '
                "so that in space it has no one place",
                hint="give the place where it touches as a point, locator radius 0",
            )
    deltas = as_deltas(contacts, locator_mm)[0]
    start = space_pose_linear(contacts, locator_mm)
    shift, spin = np.array(start.shift_mm), _rotation(np.array(start.turn_rad))
    reach = max(1.0, *(abs(v) for c in contacts for v in (*c.at, c.z_mm)))
    for _ in range(_PASSES):
        gaps, rows = space_gaps(contacts, shift, spin, deltas)
        rows[:, 3:] /= reach
        try:
            step: Floats = -np.array(np.linalg.solve(rows, gaps), dtype=np.float64)
        except np.linalg.LinAlgError:
            break
        size = float(np.abs(step).max())
        if not size < reach:
            break
        turn = _rotation(step[3:] / reach)
        shift, spin = turn @ shift + step[:3], turn @ spin
        if size <= POSE_STEP_MM * reach:
            x, y, z = map(float, shift)
            a, b, c_ = map(float, _rotation_vector(spin))
            return SpacePose(shift_mm=(x, y, z), turn_rad=(a, b, c_))
    raise GeometryError(
        "no pose of the part touches all six locators at these movements",
        hint="the movements are large against the part or its edge's curvature",
    )


def space_gaps(
    contacts: Sequence[Contact], shift: Floats, spin: Floats, locator_mm: Floats
) -> tuple[Floats, Floats]:
    """Return the exact gaps between part and locators, and how they change.

    Args:
        contacts: n contacts and supports.
        shift: of the part origin, shape (3,), mm.
        spin: rotation matrix, shape (3, 3).
        locator_mm: movement of each locator along its normal, up for a support; shape (n,), mm.
    Returns:
        gaps, shape (n,), mm, negative where they overlap; and rows [m, X × m], shape (n, 6): a
        further small motion of the part by (v, ω) about the guide's origin adds m · (v + ω × X).
    """
    upright = np.array([0.0, 0.0, 1.0])
    axis = spin @ upright
    gaps, rows = np.empty(len(contacts)), np.empty((len(contacts), 6))
    for i, c in enumerate(contacts):
        n = upright if c.kind is ContactKind.SUPPORT else np.array([*c.normal, 0.0])
        p = np.array([*c.at, c.z_mm])
        radius, nose = c.radius_mm, c.locator_radius_mm
        centre = p + radius * n
        moved = spin @ centre + shift
        if c.holds_both_ways or math.isinf(nose):
            # Where the moved axis crosses the contact's height in the guide.
            place = moved + (c.z_mm - moved[2]) / axis[2] * axis
            slope = float(n @ axis) / float(axis[2])
            along = n - slope * upright
            rise = math.hypot(1.0, slope)
            gaps[i] = n @ (place - centre) - locator_mm[i] - radius * (rise - 1.0)
            lean = radius * slope / (rise * axis[2]) * np.cross(axis, along)
            rows[i] = np.concatenate((along, np.cross(place, along) - lean))
            continue
        tip = p + (locator_mm[i] - nose) * n
        if radius == 0.0:
            along = spin @ n
            gaps[i] = along @ (moved - tip) - nose
        else:
            off = moved - tip
            off = off - (off @ axis) * axis
            far = float(np.linalg.norm(off))
            reach = radius + nose
            along = math.copysign(1.0, reach) * off / far
            gaps[i] = math.copysign(1.0, reach) * (far - abs(reach))
        rows[i] = np.concatenate((along, np.cross(tip, along)))
    return gaps, rows


def _turned(vector: Floats, at: Floats) -> Floats:
    """Return how far a turn moves a point: R(vector) at − at, exact for tiny turns."""
    angle = float(np.linalg.norm(vector))
    if angle == 0.0:
        return np.zeros(3)
    axis = vector / angle
    across = np.cross(axis, at)
    out: Floats = math.sin(angle) * across + 2 * math.sin(angle / 2) ** 2 * np.cross(axis, across)
    return out


def _rotation(vector: Floats) -> Floats:
    """Return the rotation matrix of a rotation vector (Rodrigues' formula)."""
    return np.eye(3) + np.column_stack([_turned(vector, e) for e in np.eye(3)])


def _rotation_vector(spin: Floats) -> Floats:
    """Return the rotation vector of a turn below half a turn."""
    twice = np.array([spin[2, 1] - spin[1, 2], spin[0, 2] - spin[2, 0], spin[1, 0] - spin[0, 1]])
    sine = float(np.linalg.norm(twice)) / 2
    angle = math.atan2(sine, (float(np.trace(spin)) - 1) / 2)
    return twice / 2 if sine == 0.0 else twice / (2 * sine) * angle
