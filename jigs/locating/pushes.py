"""Which single push seats a part best, and up to which friction it does.

Offered are places on the stretches where a clamp square to the edge seats every contact
(``clamp_places``), away from their ends, and the part's sharp corners, pushed by a notched
finger in the middle of the directions that seat there. Of two pushes the better is the one
that still seats at a higher friction: nobody knows the friction on the day, so the reserve is
what counts. A push that seats only when it is aimed to a degree or two is not one for a hand,
and comes last.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from jigs.locating.clamping import ClampPlace, clamp_directions, least_reactions
from jigs.locating.contacts import Contact, share_along
from jigs.locating.seating import Push
from kerf.contour import Contour, Edge, Point, Vector
from kerf.tolerance import BALANCE_RELATIVE

#: Beyond this no dry pair of metal and plastic goes; the search for a push's reserve ends there.
MOST_FRICTION: Final = 1.0
#: Halvings of that search: the answer is right to a thousandth.
_HALVINGS: Final = 10
#: Edges that meet at less than this are no corner a finger could take, rad.
_SHARP_RAD: Final = math.radians(20.0)
#: Shares of the asked friction at which the directions of a corner push are tried.
_SHARES: Final = (1.0, 0.75, 0.5, 0.25, 0.0)
#: Where along a stretch a push is tried, its middle first.
_ALONG: Final = (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8)
#: A push this near a sharp corner is at the corner, mm.
_AT_CORNER_MM: Final = 0.1
#: A hand or a toggle clamp set by eye aims no better than this, rad. Source: common practice.
AIM_RAD: Final = math.radians(5.0)


def seats_at(contacts: Sequence[Contact], push: Push, friction: float) -> bool:
    """Return whether a push seats all three contacts, whatever state friction is in."""
    least = least_reactions(contacts, push, friction=friction)
    return least is not None and min(least) > BALANCE_RELATIVE


def friction_limit(contacts: Sequence[Contact], push: Push) -> float | None:
    """Return the friction at the contacts up to which a push surely seats all three.

    More friction only widens the box of slopes, so that a push which fails at one friction
    fails at every higher one: halving finds the limit.

    Args:
        contacts: three contacts that fix the part in the plane.
        push: the clamp.
    Returns:
        0 to ``MOST_FRICTION``, rounded down to about a thousandth; None when the push does not
        seat them even without friction.
    Raises:
        GeometryError: contacts that do not fix the part.
    """
    if not seats_at(contacts, push, 0.0):
        return None
    if seats_at(contacts, push, MOST_FRICTION):
        return MOST_FRICTION
    low, high = 0.0, MOST_FRICTION
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if seats_at(contacts, push, middle) else (low, middle)
    return low


def aim_rad(contacts: Sequence[Contact], push: Push, *, friction: float) -> float:
    """Return by how much a push may be aimed wrong, either way, and still surely seat all, rad.

    0 when it does not seat them even as aimed.

    Raises:
        GeometryError: a negative coefficient, or contacts that do not fix the part.
    """
    wedge = clamp_directions(contacts, push.at, friction=friction)
    if wedge is None:
        return 0.0
    low, high = wedge
    off = math.atan2(push.along.y, push.along.x) - (low + high) / 2
    return max(0.0, (high - low) / 2 - abs(math.remainder(off, math.tau)))


def square_push(loop: Contour, at: Point) -> Push:
    """Return the push square to a loop's edge at the point nearest ``at``.

    At a sharp corner it halves the corner's angle.
    """
    index, point, _ = loop.nearest(*at)
    edges = tuple(loop.edges())
    edge = edges[index]
    for mine, other in ((edge, edges[index - 1]), (edges[(index + 1) % len(edges)], edge)):
        if math.dist(mine.start, point) <= _AT_CORNER_MM and _turn_rad(other, mine) >= _SHARP_RAD:
            a, b = other.normal_at(1.0), mine.normal_at(0.0)
            size = math.hypot(a.x + b.x, a.y + b.y)
            return Push(at=mine.start, along=Vector((a.x + b.x) / size, (a.y + b.y) / size))
    return Push(at=point, along=edge.normal_at(share_along(edge, point)))


def is_corner(loop: Contour, at: Point) -> bool:
    """Return whether a point lies at a sharp corner of a loop that sticks out."""
    edges = tuple(loop.edges())
    return any(
        math.dist(after.start, at) <= _AT_CORNER_MM and _turn_rad(before, after) >= _SHARP_RAD
        for before, after in zip((edges[-1], *edges[:-1]), edges, strict=True)
    )


def best_push(
    loop: Contour,
    contacts: Sequence[Contact],
    places: Sequence[ClampPlace],
    *,
    friction: float,
    finger_mm: float,
    reached: Callable[[Sequence[Point]], NDArray[np.bool_]] | None = None,
) -> Push | None:
    """Return the push with the greatest reserve of friction; None when none is found.

    A push square to an edge that surely seats, however a hand aims it, goes before one at a
    corner, and one at a stretch too short for a finger comes last.

    Args:
        loop: outer loop of the part.
        contacts: three contacts that fix the part in the plane.
        places: where a push square to the edge seats them (``clamp_places``).
        friction: at the contacts, >= 0.
        finger_mm: least length of a stretch that a finger finds, mm.
        reached: tells at which points a finger finds room; everywhere when None.
    Raises:
        GeometryError: contacts that do not fix the part.
    """

    def best(pushes: Sequence[Push]) -> tuple[bool, float, Push] | None:
        found: tuple[bool, float, Push] | None = None
        for push in pushes:
            # Most are told from the best so far by one look at the friction they must beat.
            if found is not None:
                beat = found[1] if found[0] or found[1] < friction else friction
                if not seats_at(contacts, push, beat):
                    continue
            limit = friction_limit(contacts, push)
            if limit is not None:
                aim = aim_rad(contacts, push, friction=friction)
                sure = limit >= friction and aim >= AIM_RAD
                if found is None or (sure, limit) > found[:2]:
                    found = sure, limit, push
        return found

    def square(least_mm: float) -> list[Push]:
        return [
            Push(at=loop.point_at(s), along=loop.normal_at(s))
            for place in places
            if place.end_mm - place.start_mm >= least_mm
            for share in _ALONG
            for s in (place.start_mm + share * (place.end_mm - place.start_mm),)
        ]

    found = best(square(finger_mm))
    if found is None or not found[0]:
        at_corner = [
            push
            for share in _SHARES
            for push in _corner_pushes(loop, contacts, friction=share * friction)
        ]
        if reached is not None and at_corner:
            free = reached([push.at for push in at_corner])
            at_corner = [push for push, is_free in zip(at_corner, free, strict=True) if is_free]
        found = best([*square(finger_mm), *at_corner]) or best(square(0.0))
    return found[2] if found is not None else None


def _corner_pushes(loop: Contour, contacts: Sequence[Contact], *, friction: float) -> list[Push]:
    """Return the pushes at sharp corners, in the middle of the directions that seat there."""
    edges = tuple(loop.edges())
    out = []
    for before, after in zip((edges[-1], *edges[:-1]), edges, strict=True):
        turn = _turn_rad(before, after)
        if turn < _SHARP_RAD:
            continue
        wedge = clamp_directions(contacts, after.start, friction=friction)
        if wedge is None:
            continue
        n = before.normal_at(1.0)
        first = math.atan2(n.y, n.x)
        # The finger bears on both edges of the corner: its push lies between their normals.
        least = math.remainder(wedge[0] - first, math.tau)
        low, high = max(least, 0.0), min(least + wedge[1] - wedge[0], turn)
        if high > low:
            angle = first + (low + high) / 2
            out.append(Push(at=after.start, along=Vector(math.cos(angle), math.sin(angle))))
    return out


def _turn_rad(before: Edge, after: Edge) -> float:
    """Return the left turn from one edge to the next, rad; above 0 the corner sticks out."""
    a, b = before.normal_at(1.0), after.normal_at(0.0)
    return math.atan2(a.x * b.y - a.y * b.x, a.x * b.x + a.y * b.y)
