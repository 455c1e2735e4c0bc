"""Which locators a pushed part comes to rest on.

A nest, or a guide with more stops than three, does not fix the part by itself: a finger or
a clamp pushes it against some of the walls. Without friction the part settles where the
push can do no more work, a linear programme: the pose q that makes w·q greatest while every
gap G q + c stays open, w being the push as force and moment. Its answer is three contacts
whose reactions are all positive. The sets are few, so all triples are weighed at once; the
answer is proven, not searched for.

Source: frictionless seating as a linear programme, Lynch & Park, *Modern Robotics*, ch. 12
(form closure and linear programming); basic solutions as in any text on the simplex method.

Refused: a push that leaves the part free to slide on for ever, or that is balanced by fewer
than three contacts: named outcomes, not poses.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from jigs.locating.contacts import Contact, ContactKind
from jigs.locating.pose import Pose, locating_rows
from kerf.contour import Floats, Point, Vector
from kerf.errors import GeometryError
from kerf.tolerance import BALANCE_RELATIVE, COINCIDENT_MM, RANK_RELATIVE, UNIT_VECTOR


@dataclass(frozen=True, slots=True, kw_only=True)
class Push:
    """A finger or clamp that holds the part against its locators.

    Args:
        at: where it presses, part coordinates, mm.
        along: unit direction of the force on the part.
    """

    at: Point
    along: Vector

    def __post_init__(self) -> None:
        if not abs(math.hypot(*self.along) - 1) <= UNIT_VECTOR:
            raise GeometryError("the direction of a push must be a unit vector")

    @property
    def wrench(self) -> tuple[float, float, float]:
        """Force along x and y, and moment about the part origin, for a unit push."""
        moment = self.at.x * self.along.y - self.at.y * self.along.x
        return self.along.x, self.along.y, moment


class Rest(StrEnum):
    """How a pushed part ends."""

    SEATED = "seated"  #: three contacts carry it
    LOOSE = "loose"  #: no three contacts can balance the push: it slides or turns away
    UNSURE = "unsure"  #: the push is balanced by fewer than three: one motion stays


@dataclass(frozen=True, slots=True, kw_only=True)
class Seating:
    """Where a pushed part comes to rest.

    Args:
        rest: how it ends; the rest is empty unless it is seated.
        contacts: the three contacts that carry it.
        reactions: force on each per unit of push, > 0.
        pose: how far the part moved from its nominal place to get there, first order.
    """

    rest: Rest
    contacts: tuple[Contact, ...] = ()
    reactions: tuple[float, ...] = ()
    pose: Pose | None = None


def seating(contacts: Sequence[Contact], push: Push, *, clearance_mm: float = 0.0) -> Seating:
    """Return the three contacts the part comes to rest on, without friction.

    Args:
        contacts: walls of the guide in the plane, any number; pins hold both ways.
        push: the finger or clamp.
        clearance_mm: clearance per side between part and every wall, mm, >= 0.
    Raises:
        GeometryError: the clearance is negative.
    """
    if not clearance_mm >= 0:
        raise GeometryError(f"the clearance must be 0 mm or more, not {clearance_mm:.4g} mm")
    flat = [c for c in contacts if c.kind is not ContactKind.SUPPORT]
    rows, owners = one_sided_rows(flat)
    gap = np.full(len(rows), -clearance_mm)
    triples, reactions, poses = _balanced_triples(rows, push.wrench, gap)
    if not len(triples):
        return Seating(rest=Rest.LOOSE)
    # Of the triples that balance the push, the one whose pose no other wall forbids.
    size = max(1.0, float(np.abs(rows[:, 2]).max()))
    open_everywhere = np.all(poses @ rows.T >= gap - COINCIDENT_MM * size / 100, axis=1)
    triples, reactions, poses = (
        triples[open_everywhere],
        reactions[open_everywhere],
        poses[open_everywhere],
    )
    if not len(triples):
        return Seating(rest=Rest.LOOSE)
    best = int(np.argmax(reactions.min(axis=1)))
    if not reactions[best].min() > BALANCE_RELATIVE:
        return Seating(rest=Rest.UNSURE)
    x, y, turn = map(float, poses[best])
    return Seating(
        rest=Rest.SEATED,
        contacts=tuple(flat[owners[i]] for i in triples[best]),
        reactions=tuple(map(float, reactions[best])),
        pose=Pose(x_mm=x, y_mm=y, turn_rad=turn),
    )


def possible_seats(
    contacts: Sequence[Contact], push: Push
) -> tuple[tuple[Contact, Contact, Contact], ...]:
    """Return every three contacts on which the pushed part may come to rest.

    With more than three locators that all touch on paper, their small errors decide which
    three the part rests on; every three with positive reactions can be it.

    Args:
        contacts: contacts in the plane that touch the part at its nominal place.
        push: the finger or clamp.
    """
    flat = [c for c in contacts if c.kind is not ContactKind.SUPPORT]
    rows, owners = one_sided_rows(flat)
    triples, reactions, _ = _balanced_triples(rows, push.wrench, np.zeros(len(rows)))
    out = []
    for triple, reaction in zip(triples, reactions, strict=True):
        if reaction.min() > BALANCE_RELATIVE:
            i, j, k = (owners[t] for t in triple)
            out.append((flat[i], flat[j], flat[k]))
    return tuple(out)


def one_sided_rows(contacts: Sequence[Contact]) -> tuple[Floats, list[int]]:
    """Return the rows of contacts that only push, a pin counting as two, and their owners."""
    rows = locating_rows(contacts)
    both = [i for i, c in enumerate(contacts) if c.holds_both_ways]
    return np.vstack((rows, -rows[both])), [*range(len(contacts)), *both]


def _balanced_triples(
    rows: Floats, wrench: tuple[float, float, float], gap: Floats
) -> tuple[NDArray[np.int64], Floats, Floats]:
    """Return the triples of rows that balance a push, their reactions and their poses.

    rows: shape (n, 3); gap: least value of each row times the pose, shape (n,), mm.
    """
    triples = np.array(list(combinations(range(len(rows)), 3)), dtype=np.int64).reshape(-1, 3)
    size = max(float(np.abs(rows[:, 2]).max(initial=0.0)), 1e-300)
    scale = np.array([1.0, 1.0, size])
    matrices = rows[triples] / scale
    values = np.abs(np.linalg.det(matrices))
    sound = values > RANK_RELATIVE
    triples, matrices = triples[sound], matrices[sound]
    load = np.asarray(wrench) / scale
    reactions: Floats = np.linalg.solve(
        matrices.transpose(0, 2, 1), np.broadcast_to(-load, (len(triples), 3))[:, :, None]
    )[:, :, 0]
    held = np.all(reactions >= -BALANCE_RELATIVE, axis=1)
    triples, matrices, reactions = triples[held], matrices[held], reactions[held]
    poses: Floats = np.linalg.solve(matrices, gap[triples][:, :, None])[:, :, 0] / scale
    return triples, reactions, poses
