"""Where a clamp may push so that every contact seats, and how hard.

A unit push f at a place p is balanced by the three contacts, Σ λ n = −f and the same for
moments. All λ positive: the part is driven onto all three. Friction can keep it from getting
there: a contact carries nothing while the others, with friction, balance the push. With each
contact's friction written as a slope m within ±μ, its force acts along n + m e; the λ are
ratios of polynomials that are linear in every single slope, so over the box of all slopes
they take their signs from its corners. Positive at all corners therefore proves that no
state of friction, full or partial, leaves a contact empty. The clamp's own friction is one
slope more.

Along an edge pushed square, λ is linear in the place on a line and a sinusoid on an arc, so
the ends of the seating stretches are exact.

Source: frictionless reactions and Coulomb cones, Lynch & Park, *Modern Robotics*, ch. 12; the
corner argument is ours (a function linear in each variable has its extremes at corners).

Refused: contacts that do not fix the part; friction at which the part can jam.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise, product

import numpy as np

from jigs.finding import Finding, Severity
from jigs.locating.closure import tangent_rows
from jigs.locating.contacts import Contact
from jigs.locating.pose import inverse_rows, locating_rows
from jigs.locating.seating import Push
from kerf.contour import Contour, Edge, Floats, Point
from kerf.errors import GeometryError
from kerf.tolerance import BALANCE_RELATIVE, COINCIDENT_MM


@dataclass(frozen=True, slots=True, kw_only=True)
class ClampPlace:
    """A stretch of the part's edge where a clamp pushed square to it seats every contact.

    Args:
        edge: index of the edge in its loop.
        start_mm, end_mm: ends of the stretch, length along the loop from its first vertex, mm.
        start, end: the same as points.
    """

    edge: int
    start_mm: float
    end_mm: float
    start: Point
    end: Point


@dataclass(frozen=True, slots=True, kw_only=True)
class SideLoad:
    """A load in the plane that may act in any direction, such as a cutting force.

    Args:
        at: where it acts, part coordinates, mm.
        force_n: its greatest size, N, >= 0.
        turn_nmm: greatest turning moment beside it, either way, N·mm, >= 0.
    """

    at: Point
    force_n: float
    turn_nmm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ForceRange:
    """How hard a clamp may push.

    Args:
        least_n: below this some contact could lift under load, N.
        most_n: above this some contact carries more than it may, N; infinite without a limit.
        possible: there is a force between the two.
    """

    least_n: float
    most_n: float
    possible: bool


def clamp_reactions(contacts: Sequence[Contact], push: Push) -> tuple[float, float, float]:
    """Return the frictionless reaction of each contact per unit of push; negative lifts.

    Args:
        contacts: three contacts that fix the part in the plane.
        push: the clamp.
    Raises:
        GeometryError: the contacts do not fix the part.
    """
    a, b, c = -(inverse_rows(contacts).T @ np.asarray(push.wrench))
    return float(a), float(b), float(c)


def least_reactions(
    contacts: Sequence[Contact], push: Push, *, friction: float = 0.0, clamp_friction: float = 0.0
) -> tuple[float, float, float] | None:
    """Return each contact's least reaction over all states of friction, per unit of push.

    All above 0: the push seats every contact. None when the part can jam between its
    contacts at this friction, whatever the push.

    Args:
        contacts: three contacts that fix the part in the plane.
        push: the clamp; its force may lean by its own friction.
        friction, clamp_friction: coefficients at the contacts and at the clamp, >= 0.
    Raises:
        GeometryError: a negative coefficient, or contacts that do not fix the part.
    """
    corners = _corner_maps(contacts, friction)
    if corners is None:
        return None
    lean = np.array([-push.along.y, push.along.x])
    worst = np.full(3, np.inf)
    for slope in _slopes(clamp_friction):
        fx, fy = np.asarray(push.along) + slope * lean
        wrench = np.array([fx, fy, push.at.x * fy - push.at.y * fx])
        worst = np.minimum(worst, (corners @ wrench).min(axis=0))
    a, b, c = worst
    return float(a), float(b), float(c)


def clamp_places(
    loop: Contour,
    contacts: Sequence[Contact],
    *,
    friction: float = 0.0,
    clamp_friction: float = 0.0,
) -> tuple[ClampPlace, ...]:
    """Return every stretch of a loop where a clamp, square to the edge, seats all contacts.

    Args:
        loop: outer loop (or a hole) of the part, material to the left.
        contacts: three contacts that fix the part in the plane.
        friction, clamp_friction: coefficients at the contacts and at the clamp, >= 0.
    Raises:
        GeometryError: a negative coefficient, or contacts that do not fix the part.
    """
    corners = _corner_maps(contacts, friction)
    if corners is None:
        return ()
    places = []
    before = 0.0
    for index, edge in enumerate(loop.edges()):
        for t0, t1 in _seating_shares(edge, corners, clamp_friction):
            places.append(
                ClampPlace(
                    edge=index,
                    start_mm=before + t0 * edge.length_mm,
                    end_mm=before + t1 * edge.length_mm,
                    start=edge.point_at(t0),
                    end=edge.point_at(t1),
                )
            )
        before += edge.length_mm
    return tuple(places)


def clamp_directions(
    contacts: Sequence[Contact], at: Point, *, friction: float = 0.0
) -> tuple[float, float] | None:
    """Return the directions in which a push at one point seats every contact.

    Args:
        contacts: three contacts that fix the part in the plane.
        at: where the push acts, part coordinates, mm.
        friction: coefficient at the contacts, >= 0.
    Returns:
        least and greatest angle of the push from x, counter-clockwise, rad; every direction
        strictly between seats. None when no push at this point does.
    Raises:
        GeometryError: a negative coefficient, or contacts that do not fix the part.
    """
    corners = _corner_maps(contacts, friction)
    if corners is None:
        return None
    # Each reaction is a · f for a push f here: the directions form a wedge of half planes.
    rows = (corners @ np.array([[1.0, 0.0], [0.0, 1.0], [-at.y, at.x]])).reshape(-1, 2)
    size = np.linalg.norm(rows, axis=1)
    if np.any(size <= BALANCE_RELATIVE):
        return None
    angles = np.arctan2(rows[:, 1], rows[:, 0])
    about = (angles - angles[0] + math.pi) % math.tau - math.pi
    least = float(angles[0] + about.max() - math.pi / 2)
    most = float(angles[0] + about.min() + math.pi / 2)
    middle = (least + most) / 2
    inside = rows @ np.array([math.cos(middle), math.sin(middle)])
    if not most > least or not np.all(inside > BALANCE_RELATIVE * size):
        return None
    return least, most


def clamp_force_range(
    contacts: Sequence[Contact],
    push: Push,
    loads: Sequence[SideLoad],
    *,
    friction: float = 0.0,
    contact_limit_n: float = math.inf,
) -> ForceRange | None:
    """Return the clamp forces at which no contact lifts under any one load, nor is overloaded.

    Args:
        contacts: three contacts that fix the part in the plane.
        push: the clamp.
        loads: loads that act one at a time, each in any direction.
        friction: coefficient at the contacts; helps nothing and may hinder.
        contact_limit_n: what a contact may carry, N, > 0.
    Returns:
        None when the push does not seat every contact at this friction.
    Raises:
        GeometryError: a negative force or coefficient, or contacts that do not fix the part.
    """
    if not contact_limit_n > 0 or any(
        not (load.force_n >= 0 and load.turn_nmm >= 0) for load in loads
    ):
        raise GeometryError("a load is 0 N or more, and what a contact may carry is above 0 N")
    corners = _corner_maps(contacts, friction)
    if corners is None:
        return None
    unit = corners @ np.asarray(push.wrench)  # shape (corners, 3)
    if not np.all(unit > BALANCE_RELATIVE):
        return None
    swing = np.zeros_like(unit)
    for load in loads:
        # Reaction to a force (fx, fy) at p is linear in it: its greatest is a vector's length.
        along = corners @ np.array([[1.0, 0.0], [0.0, 1.0], [-load.at.y, load.at.x]])
        turned = load.turn_nmm * np.abs(corners[:, :, 2])
        swing = np.maximum(swing, load.force_n * np.linalg.norm(along, axis=2) + turned)
    least = float((swing / unit).max())
    most = float(((contact_limit_n - swing) / unit).min())
    return ForceRange(least_n=least, most_n=most, possible=most > least or most == least > 0)


def check_push(
    contacts: Sequence[Contact], push: Push, *, friction: float = 0.0, clamp_friction: float = 0.0
) -> list[Finding]:
    """Return a finding for every contact that a push lifts or may leave empty."""
    where = f"clamp at ({push.at.x:.2f}, {push.at.y:.2f}) mm"
    least = least_reactions(contacts, push, friction=friction, clamp_friction=clamp_friction)
    if least is None:
        return [
            Finding(
                code="part-jams",
                severity=Severity.FAIL,
                subject=where,
                message=f"at a friction of {friction:.2f} the part can jam between its contacts "
                "before all of them touch",
                measured=friction,
                hint="spread the contacts, or lessen the friction",
            )
        ]
    plain = clamp_reactions(contacts, push)
    findings = []
    for contact, low, bare in zip(contacts, least, plain, strict=True):
        if low > BALANCE_RELATIVE:
            continue
        lifts = bare <= BALANCE_RELATIVE
        findings.append(
            Finding(
                code="clamp-lifts" if lifts else "clamp-unsure",
                severity=Severity.FAIL if lifts else Severity.WARN,
                subject=f'{where}: contact "{contact.name}"',
                message="the push lifts the part off this contact"
                if lifts
                else f"at a friction of {friction:.2f} the part can stick before it touches here",
                measured=bare if lifts else low,
                limit=0.0,
                hint="move the clamp so that its line passes between the contacts",
            )
        )
    return findings


def _slopes(friction: float) -> tuple[float, ...]:
    """Return the extreme slopes of a friction cone.

    Raises:
        GeometryError: the coefficient is negative.
    """
    if not 0 <= friction < math.inf:
        raise GeometryError(f"a coefficient of friction is 0 or more, not {friction:.4g}")
    return (-friction, friction) if friction else (0.0,)


def _corner_maps(contacts: Sequence[Contact], friction: float) -> Floats | None:
    """Return the maps wrench → reactions at every corner of the slopes, shape (c, 3, 3).

    None when the determinant changes sign between corners: some state of friction has no
    unique balance, the part can jam.
    """
    slopes = _slopes(friction)
    inverse_rows(contacts)  # refuses contacts that do not fix the part
    rows, along = locating_rows(contacts), tangent_rows(contacts)
    corners = np.array(list(product(slopes, repeat=3)))
    leaning = rows + corners[:, :, None] * along
    dets = np.linalg.det(leaning)
    if not (np.all(dets > 0) or np.all(dets < 0)):
        return None
    out: Floats = -np.array(np.linalg.inv(leaning).transpose(0, 2, 1), dtype=np.float64)
    return out


def _seating_shares(
    edge: Edge, corners: Floats, clamp_friction: float
) -> list[tuple[float, float]]:
    """Return the stretches, as shares of the edge, in which every reaction is positive."""
    # On both kinds of edge the wrench of a push (n + m e) at the edge is linear in a basis:
    # (1, t) on a line, (1, cos, sin of the normal's angle) on an arc.
    slopes = _slopes(clamp_friction)
    sweep = edge.sweep_rad
    cuts = {0.0, 1.0}
    for slope in slopes:
        if edge.is_line:
            w0, w1 = (_edge_wrench(edge, t, slope) for t in (0.0, 1.0))
            r0, r1 = corners @ w0, corners @ w1
            change = r0 - r1
            with np.errstate(divide="ignore", invalid="ignore"):
                roots = (r0 / change).ravel()
        else:
            # Three samples fix a + b cos φ + c sin φ, φ measured from the edge's middle.
            turn = sweep / 2
            low, mid, high = (corners @ _edge_wrench(edge, t, slope) for t in (0.0, 0.5, 1.0))
            c = (high - low) / (2 * math.sin(turn))
            b = (mid - (high + low) / 2) / (1 - math.cos(turn))
            a = mid - b
            size = np.hypot(b, c)
            with np.errstate(divide="ignore", invalid="ignore"):
                half = np.arccos(-a / size)
            peak = np.arctan2(c, b)
            angles = np.concatenate([(peak + s * half).ravel() for s in (1.0, -1.0)])
            angles = (angles + math.pi) % math.tau - math.pi
            roots = angles / sweep + 0.5
        cuts |= {float(t) for t in roots if np.isfinite(t) and 0 < t < 1}
    ends = sorted(cuts)
    out: list[tuple[float, float]] = []
    for t0, t1 in pairwise(ends):
        if (t1 - t0) * edge.length_mm <= COINCIDENT_MM:
            continue
        middle = (t0 + t1) / 2
        if all(
            np.all(corners @ _edge_wrench(edge, middle, slope) > BALANCE_RELATIVE)
            for slope in slopes
        ):
            if out and out[-1][1] == t0:
                out[-1] = (out[-1][0], t1)
            else:
                out.append((t0, t1))
    return out


def _edge_wrench(edge: Edge, t: float, slope: float) -> Floats:
    """Return the wrench of a unit push into the edge at share t, leaning by ``slope``."""
    p, n = edge.point_at(t), edge.normal_at(t)
    fx, fy = n.x - slope * n.y, n.y + slope * n.x
    return np.array([fx, fy, p.x * fy - p.y * fx])
