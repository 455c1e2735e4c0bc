"""Do the contacts hold the part, which push seats it on all of them, and how hard.

Read from the finished guide: the verdict on closure, the push the job gives or else the one
with the most reserve, each contact's reaction, where on the outline a clamp pushed square to
the edge seats every contact (``clamp_reach``), and the forces between lifting under the cutter
and crushing a pad.

What friction hinders here is a help elsewhere, so its figure is always told with the result,
and so is the friction up to which the push still seats.

Not judged: friction under the part, weight (where it lies flat), the order in which the part
comes to its contacts.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from jigs.checks.clamp_reach import FINGER_MM, Reach, seating_places
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
    clamp_reactions,
    least_reactions,
)
from jigs.locating.closure import ClosureReport, closure_report, has_force_closure
from jigs.locating.contacts import Contact, ContactKind
from jigs.locating.pushes import AIM_RAD, aim_rad, best_push, friction_limit, is_corner, square_push
from jigs.locating.report import LocatingReport
from jigs.locating.seating import Push, possible_seats
from jigs.part import Part
from jigs.setup import Setup
from kerf.contour import Contour, Floats, Point


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
        aim_rad: by how much it may be aimed wrong, either way, and still seat all, rad.
        forces: how hard it may push while the cutter loads the part; None when nothing is cut
            or the push does not seat.
        load_n: greatest side force of the cuts, N.
        bears_n: what a contact may carry, N; infinite where that is not known.
        in_cut: whether a cut passes its place, so that it cannot stay.
    """

    push: Push
    is_given: bool
    force_n: float
    friction: float
    reactions_n: tuple[tuple[str, float], ...]
    least_n: tuple[tuple[str, float], ...]
    reserve: float | None
    directions_rad: tuple[float, float] | None
    aim_rad: float
    forces: ForceRange | None
    load_n: float
    bears_n: float
    in_cut: bool = False

    @property
    def seats(self) -> bool:
        """Whether it surely seats every contact at the assumed friction."""
        return self.reserve is not None and self.reserve >= self.friction

    @property
    def is_sure(self) -> bool:
        """Whether it does so however a hand aims it."""
        return self.seats and self.aim_rad >= AIM_RAD


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
        why = "the part floats" if located is None else "the contacts do not locate the part"
        return _without_push(bare, push, why, subject)
    if any(c.holds_both_ways for c in flat):
        turned = replace(bare, turn=_turn_to_edge(flat, setup))
        return _without_push(turned, push, "the part stands on pins", subject)
    if len(flat) != 3:
        seats = possible_seats(flat, push) if push is not None else ()
        return replace(bare, rests_on=tuple(tuple(c.name for c in seat) for seat in seats))
    loop, reach = part.region.outer, Reach(part, guide, setup, machined)
    found, _ = seating_places(reach, flat, friction, stays=False)
    asked = push or best_push(
        loop, flat, found, friction=friction, finger_mm=FINGER_MM, reached=reach.by_finger
    )
    stay, places_friction = seating_places(reach, flat, friction, stays=True)
    places = tuple(p for p in stay if p.end_mm - p.start_mm >= FINGER_MM)
    clamping, findings = None, out.findings
    if asked is not None and setup.push_n > 0.0:
        clamping = _clamping(
            flat, asked, setup, guide, machined, is_given=push is not None, friction=friction
        )
        clamping = replace(clamping, in_cut=bool(reach.in_cut([asked.at])[0]))
        if push is not None:
            findings += _check_given(flat, clamping, loop, subject=subject)
    elif push is not None:
        return _without_push(bare, push, "its force (push) is 0 N", subject)
    return replace(
        bare,
        places=places,
        places_friction=places_friction,
        share=sum(p.end_mm - p.start_mm for p in places) / loop.length_mm,
        clamping=clamping,
        findings=findings,
    )


def check_push_used(
    seated: Seated | None, push: Push | None, *, subject: str
) -> tuple[Finding, ...]:
    """Return a note where the job gives a push to a guide that holds no part."""
    if push is None or seated is not None:
        return ()
    return (_not_used("the guide holds no part", subject),)


def _without_push(bare: Seated, push: Push | None, why: str, subject: str) -> Seated:
    """Return how a part sits that no push seats, with a note where the job gives one."""
    if push is None:
        return bare
    return replace(bare, findings=(*bare.findings, _not_used(why, subject)))


def _not_used(why: str, subject: str) -> Finding:
    return Finding(
        code="push-not-used",
        severity=Severity.NOTE,
        subject=subject,
        message=f"push_at is not used: {why}",
        hint="leave push_at out, or let three contacts locate the part",
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
        aim_rad=aim_rad(flat, push, friction=friction),
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
    flat: Sequence[Contact], clamping: Clamping, loop: Contour, *, subject: str
) -> tuple[Finding, ...]:
    """Return what is wrong with the push that the job gives."""
    found = [
        replace(f, subject=f"{subject}: {f.subject}")
        for f in check_push(flat, clamping.push, friction=clamping.friction)
    ]
    square = square_push(loop, clamping.push.at).along
    along = clamping.push.along
    off = math.acos(max(-1.0, min(1.0, square.x * along.x + square.y * along.y)))
    grips = math.atan(clamping.friction)
    if off > max(grips, AIM_RAD) and not is_corner(loop, clamping.push.at):
        found.append(
            Finding(
                code="clamp-slips",
                severity=Severity.WARN,
                subject=f"{subject}: push_at",
                message=f"the push leans {math.degrees(off):.0f}° off square to the edge; at a "
                f"friction of {clamping.friction:.2f} what pushes slips along it beyond "
                f"{math.degrees(grips):.0f}°",
                measured=off,
                limit=grips,
                unit="rad",
                hint="push square to the edge (leave push_angle out), or at a corner",
            )
        )
    if clamping.seats and not clamping.is_sure:
        aim = math.degrees(clamping.aim_rad)
        found.append(
            Finding(
                code="clamp-aim",
                severity=Severity.WARN,
                subject=f"{subject}: push_at",
                message=f"at a friction of {clamping.friction:.2f} it seats the part only when it "
                f"is aimed to ±{aim:.1f}°; by hand ±{math.degrees(AIM_RAD):.0f}° is usual",
                measured=clamping.aim_rad,
                limit=AIM_RAD,
                unit="rad",
                hint="turn the push (push_angle) to the middle of the directions that seat, as "
                "the sheet gives them, or move it between the contacts",
            )
        )
    if clamping.in_cut:
        found.append(
            Finding(
                code="push-in-cut",
                severity=Severity.WARN,
                subject=f"{subject}: push_at",
                message="a cut of this set-up passes the place of the push",
                hint="take it away once the part is held, or push elsewhere",
            )
        )
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
