"""The pose of a part on its locators: linear map, second order, and exact.

A pose is (x, y, turn): the part turns about the part origin, then shifts. A contact with
point p and unit normal n into the part keeps the gap

    n·t + θ (p × n) − δ = 0                      (first order; one row of G q = δ)

where δ is how far its locator stands along n from its nominal place. Three contacts with
independent rows fix the pose. Source: method of Asada & By 1985 (kinematic locating matrix)
and Cai, Hu & Yuan 1997 (deviation of a located part).

Second order: with e = z × n, nose radius ρ, edge radius R (signed), material slip under the
locator s = e·t + θ n·(p − ρ n), the gap gains

    θ s − θ² (n·p − ρ) / 2 + s² / (2 (R + ρ))     (last term absent for a straight edge).

Derived from rolling the edge's osculating circle past the nose; the immobility of a part by
such terms is Rimon and Burdick's second-order mobility. A pin in a bore, and a flat wall on
a bulging edge, keep their normal fixed in the guide and gain −θ² n·c / 2 only, c being the
bore's, or the edge's, centre.

Exact: Newton on the true distances between circles, lines and points; no small angles.
In space: ``space_pose``.

Refused: more or fewer than three independent contacts; locators so far out that the edge
cannot touch all of them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from jigs.locating.contacts import Contact, ContactKind
from kerf.contour import Floats, Point, Vector
from kerf.errors import GeometryError
from kerf.tolerance import POSE_STEP_MM, RANK_RELATIVE


@dataclass(frozen=True, slots=True, kw_only=True)
class Pose:
    """Where the part lies against where it should: a turn about the part origin, then a shift.

    Args:
        x_mm, y_mm: shift of the part origin, mm.
        turn_rad: counter-clockwise turn, rad.
    """

    x_mm: float
    y_mm: float
    turn_rad: float

    def shift_at(self, at: Point) -> Vector:
        """Return how far the part's point ``at`` is moved by this pose, mm; exact."""
        # 1 − cos written through the half angle: exact for tiny turns.
        drop, sin = 2 * math.sin(self.turn_rad / 2) ** 2, math.sin(self.turn_rad)
        return Vector(
            self.x_mm - drop * at.x - sin * at.y,
            self.y_mm + sin * at.x - drop * at.y,
        )

    def linear_shift_at(self, at: Point) -> Vector:
        """Return the first-order movement of the part's point ``at``, mm."""
        return Vector(self.x_mm - self.turn_rad * at.y, self.y_mm + self.turn_rad * at.x)


def locating_rows(contacts: Sequence[Contact]) -> Floats:
    """Return the rows [nx, ny, p × n] of contacts in the plane; shape (n, 3)."""
    return np.array(
        [
            (c.normal.x, c.normal.y, c.at.x * c.normal.y - c.at.y * c.normal.x)
            for c in contacts
            if c.kind is not ContactKind.SUPPORT
        ],
        dtype=np.float64,
    ).reshape(-1, 3)


def feature_rows(points: Sequence[Point]) -> Floats:
    """Return what moves each point along x and along y: shape (points, 2, 3)."""
    rows = np.zeros((len(points), 2, 3))
    rows[:, 0, 0] = rows[:, 1, 1] = 1.0
    rows[:, 0, 2] = [-p.y for p in points]
    rows[:, 1, 2] = [p.x for p in points]
    return rows


def inverse_rows(contacts: Sequence[Contact]) -> Floats:
    """Return G⁻¹ of exactly three independent contacts in the plane, shape (3, 3).

    Raises:
        GeometryError: not three contacts, or three that leave a direction free.
    """
    rows = locating_rows(contacts)
    if len(rows) != 3:
        raise GeometryError(f"a pose needs exactly three contacts in the plane, not {len(rows)}")
    # Moments in units of the largest one, so that the rank does not hang on the unit of length.
    size = float(np.max(np.abs(rows[:, 2]))) or 1.0
    scaled = rows / np.array([1.0, 1.0, size])
    values = np.linalg.svd(scaled, compute_uv=False)
    if values[-1] <= RANK_RELATIVE * values[0]:
        raise GeometryError(
            "the three contacts leave a direction free, so that the part has no one place",
            hint="their normals meet in one point or are parallel: move one contact",
        )
    out: Floats = np.array(np.linalg.inv(scaled), dtype=np.float64)
    out[2] /= size
    return out


def pose_linear(contacts: Sequence[Contact], locator_mm: Sequence[float]) -> Pose:
    """Return the first-order pose when each locator stands off by ``locator_mm``.

    Args:
        contacts: three contacts that fix the part in the plane.
        locator_mm: movement of each locator along its normal, mm, same order.
    Raises:
        GeometryError: see ``inverse_rows``; or the counts differ.
    Source: Asada & By 1985; Cai, Hu & Yuan 1997.
    """
    x, y, turn = inverse_rows(contacts) @ as_deltas(contacts, locator_mm)[0]
    return Pose(x_mm=float(x), y_mm=float(y), turn_rad=float(turn))


def pose_exact(contacts: Sequence[Contact], locator_mm: Sequence[float]) -> Pose:
    """Return the exact pose, curvature of edges and noses included.

    Args and Raises: as ``pose_linear``; also GeometryError when no pose touches all three.
    """
    x, y, turn = poses_exact(contacts, [locator_mm])[0]
    return Pose(x_mm=float(x), y_mm=float(y), turn_rad=float(turn))


def poses_exact(contacts: Sequence[Contact], locators_mm: ArrayLike) -> Floats:
    """Return exact poses for many sets of locator movements at once.

    Args:
        contacts: three contacts that fix the part in the plane.
        locators_mm: shape (m, 3), mm.
    Returns:
        shape (m, 3): x mm, y mm, turn rad.
    Raises:
        GeometryError: as ``pose_linear``; or some set of movements has no pose that touches
            all three locators.
    """
    deltas = as_deltas(contacts, locators_mm)
    # Newton's step is taken with the nominal matrix: the gaps are off by second order only,
    # so each pass gains the digits of one turn angle, and no matrix is solved per draw.
    inverse = inverse_rows(contacts)
    reach = max(1.0, *(abs(v) for c in contacts for v in c.at))
    poses: Floats = deltas @ inverse.T
    for _ in range(60):
        step = gaps_mm(contacts, poses, deltas) @ inverse.T
        poses = poses - step
        size = float(np.max(np.abs(step) * np.array([1.0, 1.0, reach]), initial=0.0))
        if size <= POSE_STEP_MM * reach:
            return poses
        if not size < 1e3 * reach:
            break
    raise GeometryError(
        "no pose of the part touches all three locators at these movements",
        hint="the movements are large against the part or its edge's curvature",
    )


def gaps_mm(contacts: Sequence[Contact], poses: Floats, locators_mm: Floats) -> Floats:
    """Return the exact gap between part and locator; negative where they overlap.

    Args:
        contacts: contacts in the plane, n of them.
        poses: shape (m, 3).
        locators_mm: movement of each locator along its normal, shape (m, n), mm.
    Returns:
        shape (m, n), mm.
    """
    sin = np.sin(poses[:, 2])
    drop = 2 * np.sin(poses[:, 2] / 2) ** 2  # 1 − cos, exact for tiny turns
    columns = []
    for i, c in enumerate(contacts):
        delta = locators_mm[:, i]
        nx, ny = c.normal
        if _keeps_normal(c):
            # n · (movement of the centre) − δ
            cx, cy = c.at.x + c.radius_mm * nx, c.at.y + c.radius_mm * ny
            mx = poses[:, 0] - drop * cx - sin * cy
            my = poses[:, 1] + sin * cx - drop * cy
            columns.append(nx * mx + ny * my - delta)
            continue
        rho = c.locator_radius_mm
        # Centre of the locator's nose, against the moved part's edge.
        lx = c.at.x + (delta - rho) * nx
        ly = c.at.y + (delta - rho) * ny
        if c.radius_mm == 0.0:
            # (R n) · (L − t) − n · p is how deep L lies in the part; the rest is rounding care.
            ax, ay = lx - c.at.x - poses[:, 0], ly - c.at.y - poses[:, 1]
            bx, by = lx - poses[:, 0], ly - poses[:, 1]
            deep = nx * ax + ny * ay - drop * (nx * bx + ny * by) + sin * (nx * by - ny * bx)
            columns.append(-deep - rho)
            continue
        reach = c.radius_mm + rho
        cx, cy = c.at.x + c.radius_mm * nx, c.at.y + c.radius_mm * ny
        mx = poses[:, 0] - drop * cx - sin * cy
        my = poses[:, 1] + sin * cx - drop * cy
        dx, dy = (cx - lx) + mx, (cy - ly) + my
        columns.append(math.copysign(1.0, reach) * (np.hypot(dx, dy) - abs(reach)))
    return np.column_stack(columns)


def second_order(contacts: Sequence[Contact]) -> Floats:
    """Return the symmetric matrices K of the gaps' second-order terms qᵀ K q / 2.

    Returns:
        shape (n, 3, 3), for contacts in the plane.
    """
    out = np.zeros((len(contacts), 3, 3))
    for k, c in zip(out, contacts, strict=True):
        nx, ny = c.normal
        depth = nx * c.at.x + ny * c.at.y
        if _keeps_normal(c):
            k[2, 2] = -(depth + c.radius_mm)
            continue
        rho = c.locator_radius_mm
        slip = np.array([-ny, nx, depth - rho])
        k[2] += slip
        k[:, 2] += slip
        k[2, 2] -= depth - rho
        if c.radius_mm != 0.0:
            k += np.outer(slip, slip) / (c.radius_mm + rho)
    return out


def _keeps_normal(c: Contact) -> bool:
    """Whether the contact's normal stays fixed in the guide while the part turns."""
    flat = math.isinf(c.locator_radius_mm) and c.radius_mm != 0.0
    return c.holds_both_ways or flat


def as_deltas(contacts: Sequence[Contact], locators_mm: ArrayLike) -> Floats:
    """Return the locator movements as floats, shape (m, number of contacts)."""
    deltas = np.atleast_2d(np.asarray(locators_mm, dtype=np.float64))
    if deltas.shape[1] != len(contacts) or not np.all(np.isfinite(deltas)):
        raise GeometryError(
            f"{len(contacts)} contacts need as many finite movements, not {deltas.shape[1]}"
        )
    return deltas
