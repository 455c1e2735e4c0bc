"""Do the contacts hold the part, which push seats it on all of them, and how hard.

Read from the finished guide: the verdict on closure, the push the job gives or else the one
with the most reserve, each contact's reaction, where on the outline a clamp pushed square to
the edge seats every contact, and the forces between lifting under the cutter and crushing
a pad. Places that a cut of this set-up passes over, and places down in a pocket that no
finger reaches, are left out.

What friction hinders here is a help elsewhere, so its figure is always told with the result,
and so is the friction up to which the push still seats.

Not judged: friction under the part, weight (where it lies flat), the order in which the part
comes to its contacts.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely

from jigs.checks.comes_out import Leaving, leaving
from jigs.checks.machining import Machining
from jigs.finding import Finding, Severity
from jigs.guides.guide import Guide, Plane
from jigs.holding.cutting import DrillForces
from jigs.holding.holding import force_text
from jigs.holding.strength import LEAST_FACTOR
from jigs.locating.clamping import (
    ClampPlace,
    ForceRange,
    SideLoad,
    check_push,
    clamp_directions,
    clamp_force_range,
    clamp_places,
    clamp_reactions,
    least_reactions,
)
from jigs.locating.closure import ClosureReport, closure_report, has_force_closure
from jigs.locating.contacts import Contact, ContactKind
from jigs.locating.pushes import best_push, friction_limit
from jigs.locating.report import LocatingReport
from jigs.locating.seating import Push, possible_seats
from jigs.locating.within import polygon
from jigs.part import Part
from jigs.setup import Setup
from kerf.contour import Contour, Floats, Point, Vector
from kerf.tolerance import COINCIDENT_MM

#: Least length of edge that a finger or clamp finds, mm. Source: common practice.
FINGER_MM: Final = 3.0
#: A finger gets down between part and wall where the gap is at least this wide, mm; elsewhere
#: the part must stand this far out of the plate. Source: common practice.
FINGER_ROOM_MM: Final = 6.0
PROUD_MM: Final = 2.0
#: Points at which an edge is asked whether it can be reached lie this far apart, mm.
_STEP_MM: Final = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Clamping:
    """What one push does, and where else one may act.

    Args:
        push: the push that is judged, part coordinates.
        is_given: whether the job gives it; else it is the one with the most reserve.
        force_n: its force.
        friction: assumed between the part and its contacts.
        reactions_n: what each contact carries without friction, N; below 0 it is lifted off.
        least_n: the least it carries over all states of friction, N; empty when the part can
            jam at this friction.
        reserve: friction up to which the push surely seats all; None when it does not even
            without any.
        directions_rad: directions at its place that seat all, from the drawing's x, rad; None
            when none does at this friction.
        forces: how hard it may push while the cutter loads the part; None when nothing is cut
            or the push does not seat.
        load_n: greatest side force of the cuts, N.
        bears_n: what a contact may carry, N; infinite where that is not known.
    """

    push: Push
    is_given: bool
    force_n: float
    friction: float
    reactions_n: tuple[tuple[str, float], ...]
    least_n: tuple[tuple[str, float], ...]
    reserve: float | None
    directions_rad: tuple[float, float] | None
    forces: ForceRange | None
    load_n: float
    bears_n: float

    @property
    def seats(self) -> bool:
        """Whether it surely seats every contact at the assumed friction."""
        return self.reserve is not None and self.reserve >= self.friction


@dataclass(frozen=True, slots=True, kw_only=True)
class Seated:
    """How the part is held by its guide and seated in it.

    Args:
        closure: verdict on the contacts alone, without friction; None for a part that floats.
        wedges: whether friction alone can hold the part between its contacts.
        friction: assumed between part and guide.
        rests_on: each set of contacts that the given push may bring the part to rest on, by
            name, where there are more than three.
        turn: how a part on a pin and an edge must be turned to touch the edge, seen as it
            stands: "clockwise" or "counter-clockwise"; empty elsewhere.
        places: where a clamp pushed square to the edge seats all contacts, longest first.
        places_friction: the friction at which they do: the assumed one, or 0 when no place
            seats them then.
        share: their share of the outline.
        clamping: the push that is judged; None when the part does not rest on three walls, or
            nothing pushes.
        leaving: how the part comes out.
        findings: what is to be said of it.
    """

    closure: ClosureReport | None
    wedges: bool
    friction: float
    rests_on: tuple[tuple[str, ...], ...] = ()
    turn: str = ""
    places: tuple[ClampPlace, ...] = ()
    places_friction: float = 0.0
    share: float = 0.0
    clamping: Clamping | None = None
    leaving: Leaving | None = None
    findings: tuple[Finding, ...] = ()


def seated(
    part: Part,
    setup: Setup,
    guide: Guide,
    located: LocatingReport | None,
    machined: Machining,
    *,
    push: Push | None,
    subject: str,
) -> Seated | None:
    """Return how a part sits in its guide; None for a guide that holds no part.

    Args:
        part: as seen in this set-up.
        setup, guide: of the set-up, the guide as it will be cut.
        located: how contacts locate it; None when it floats.
        machined: its cuts, and what the guide bears.
        push: what the job gives (``SeatPush.on``); None to find one.
        subject: what the findings are about.
    """
    friction = setup.push.friction
    out = leaving(part, guide, friction=friction, subject=subject)
    if out is None:
        return None
    flat = tuple(c for c in guide.contacts if c.kind is not ContactKind.SUPPORT)
    bare = Seated(
        closure=closure_report(flat) if flat else None,
        wedges=bool(flat) and has_force_closure(flat, friction=friction),
        friction=friction,
        leaving=out,
        findings=out.findings,
    )
    if located is None or not located.determined:
        return bare
    if any(c.holds_both_ways for c in flat):
        return replace(bare, turn=_turn_to_edge(flat, setup))
    if len(flat) != 3:
        seats = possible_seats(flat, push) if push is not None else ()
        return replace(bare, rests_on=tuple(tuple(c.name for c in seat) for seat in seats))
    places, places_friction = _places(part, setup, guide, machined, flat, friction)
    loop = part.region.outer
    asked = push or best_push(loop, flat, places, friction=friction, finger_mm=FINGER_MM)
    clamping, findings = None, out.findings
    if asked is not None and setup.push_n > 0.0:
        clamping = _clamping(
            flat, asked, setup, guide, machined, is_given=push is not None, friction=friction
        )
        if push is not None:
            findings += _check_given(flat, clamping, subject=subject)
    return replace(
        bare,
        places=places,
        places_friction=places_friction,
        share=sum(p.end_mm - p.start_mm for p in places) / loop.length_mm,
        clamping=clamping,
        findings=findings,
    )


def _turn_to_edge(flat: Sequence[Contact], setup: Setup) -> str:
    """Return how the part turns about its pin to touch the one wall; empty without one."""
    walls = [c for c in flat if not c.holds_both_ways]
    if len(walls) != 1:
        return ""
    (wall,) = walls
    pin = next(c for c in flat if c.holds_both_ways)
    pose = setup.pose()
    n = pose.vector(*wall.normal)
    arm = pose.vector(wall.at.x - pin.at.x, wall.at.y - pin.at.y)
    # The wall pushes the part round one way, so the part must be turned the other.
    return "clockwise" if arm.x * n.y - arm.y * n.x > 0 else "counter-clockwise"


# ---- where a clamp may push ----


def _places(
    part: Part,
    setup: Setup,
    guide: Guide,
    machined: Machining,
    flat: Sequence[Contact],
    friction: float,
) -> tuple[tuple[ClampPlace, ...], float]:
    """Return the stretches that seat all contacts and can be reached, and at which friction."""
    loop = part.region.outer
    for mu in dict.fromkeys((friction, 0.0)):
        found = clamp_places(loop, flat, friction=mu)
        kept = [p for place in found for p in _reached(place, part, setup, guide, machined)]
        if kept:
            kept.sort(key=lambda p: (p.start_mm - p.end_mm, p.start_mm))
            return tuple(kept), mu
    return (), friction


def _reached(
    place: ClampPlace, part: Part, setup: Setup, guide: Guide, machined: Machining
) -> list[ClampPlace]:
    """Return what is left of a stretch where no cut passes and a finger can get at it."""
    loop = part.region.outer
    length = place.end_mm - place.start_mm
    count = max(2, math.ceil(length / _STEP_MM) + 1)
    steps = np.linspace(place.start_mm, place.end_mm, count)
    points = shapely.points([loop.point_at(float(s)) for s in steps])
    free = np.ones(count, dtype=np.bool_)
    cut = _cut_away(setup, machined)
    if cut is not None:
        free &= ~np.asarray(shapely.intersects(cut, points))
    top = max(plate.low_mm + plate.thickness_mm for plate in guide.plates)
    if guide.room is not None and guide.seat_mm + part.height_mm < top + PROUD_MM:
        wall = polygon(guide.room).boundary
        free &= np.asarray(shapely.distance(points, wall)) >= FINGER_ROOM_MM
    if free.all():
        return [place]
    edges = np.flatnonzero(np.diff(np.concatenate(([0], free.astype(np.int8), [0]))))
    return [
        replace(
            place,
            start_mm=float(steps[a]),
            end_mm=float(steps[b - 1]),
            start=loop.point_at(float(steps[a])),
            end=loop.point_at(float(steps[b - 1])),
        )
        for a, b in edges.reshape(-1, 2)
        if b - a > 1
    ]


def _cut_away(setup: Setup, machined: Machining) -> shapely.Geometry | None:
    """Return what the cuts of the set-up sweep, part coordinates; None for nothing."""
    to_part = setup.pose().inverse()
    swept = [
        polygon(region.transformed(to_part)) for path in machined.paths for region in path.swept
    ]
    return shapely.union_all(swept) if swept else None


# ---- the push that is judged ----


def _clamping(
    flat: Sequence[Contact],
    push: Push,
    setup: Setup,
    guide: Guide,
    machined: Machining,
    *,
    is_given: bool,
    friction: float,
) -> Clamping:
    """Return what a push does."""
    names = [c.name for c in flat]
    force = setup.push_n
    plain = clamp_reactions(flat, push)
    least = least_reactions(flat, push, friction=friction)
    loads = _side_loads(setup, guide, machined)
    bears = _bears_n(setup, machined, names)
    return Clamping(
        push=push,
        is_given=is_given,
        force_n=force,
        friction=friction,
        reactions_n=tuple((n, force * r) for n, r in zip(names, plain, strict=True)),
        least_n=tuple((n, force * r) for n, r in zip(names, least, strict=True)) if least else (),
        reserve=friction_limit(flat, push),
        directions_rad=clamp_directions(flat, push.at, friction=friction),
        forces=clamp_force_range(flat, push, loads, friction=friction, contact_limit_n=bears)
        if loads or math.isfinite(bears)
        else None,
        load_n=max((load.force_n for load in loads), default=0.0),
        bears_n=bears,
    )


def _side_loads(setup: Setup, guide: Guide, machined: Machining) -> list[SideLoad]:
    """Return the side loads of the cuts where the part lies flat, part coordinates.

    A reaction is worst at a corner of what a path spans: its size is convex in the load's place.
    """
    if guide.plane is not Plane.XY:
        return []
    to_part = setup.pose().inverse()
    forces = {asked.cut.name: asked.forces for asked in machined.recipes}
    loads = []
    for path in machined.paths:
        force = forces.get(path.cut.name)
        if force is None:
            continue
        side, turn = (
            (0.0, force.torque_nm * 1000)
            if isinstance(force, DrillForces)
            else (force.side_n, max(abs(phase[3]) for phase in force.phases))
        )
        for x, y in _span(path.tracks):
            loads.append(
                SideLoad(at=to_part.point(float(x), float(y)), force_n=side, turn_nmm=turn)
            )
    return loads


def _span(tracks: Sequence[Sequence[Point]]) -> Floats:
    """Return the corners of the hull of all tracks, shape (n, 2)."""
    hull = shapely.MultiPoint([tuple(p) for track in tracks for p in track]).convex_hull
    out: Floats = np.unique(shapely.get_coordinates(hull), axis=0)
    return out


def _bears_n(setup: Setup, machined: Machining, names: Sequence[str]) -> float:
    """Return what every contact may carry with the guide's least factor, N.

    Bending grows with the force, the pressure of a bulging edge with its root; the lesser of
    both readings is taken.
    """
    shares = [
        item.factor / LEAST_FACTOR
        for item in machined.strength
        if any(item.place.startswith(f"contact {name}:") for name in names)
    ]
    return setup.push_n * min((min(s, s * s) for s in shares), default=math.inf)


def _check_given(
    flat: Sequence[Contact], clamping: Clamping, *, subject: str
) -> tuple[Finding, ...]:
    """Return what is wrong with the push that the job gives."""
    found = [
        replace(f, subject=f"{subject}: {f.subject}")
        for f in check_push(flat, clamping.push, friction=clamping.friction)
    ]
    worst = max(clamping.reactions_n, key=lambda pair: pair[1])
    if worst[1] > clamping.bears_n:
        found.append(
            Finding(
                code="clamp-heavy",
                severity=Severity.WARN,
                subject=f'{subject}: contact "{worst[0]}"',
                message=f"a push of {force_text(clamping.force_n)} loads it with "
                f"{force_text(worst[1])}; with the factor asked of the guide it bears "
                f"{force_text(clamping.bears_n)}",
                measured=worst[1],
                limit=clamping.bears_n,
                unit="N",
                hint="push less, move the clamp between the contacts, or widen the pads",
            )
        )
    return tuple(found)


def outline_points(loop: Contour, place: ClampPlace) -> tuple[tuple[Point, Vector], ...]:
    """Return points along a stretch of a loop with the normals into the part, for a picture."""
    count = max(2, math.ceil((place.end_mm - place.start_mm) / _STEP_MM) + 1)
    steps = np.linspace(place.start_mm, place.end_mm, count)
    # A hair within the stretch, so that its end is not taken for the next edge's start.
    steps[[0, -1]] += COINCIDENT_MM * np.array([1.0, -1.0])
    return tuple((loop.point_at(float(s)), loop.normal_at(float(s))) for s in steps)
