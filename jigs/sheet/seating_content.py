"""Seating and clamping on the sheet: what holds the part, where to push, how it comes out.

Directions are those of the machine, counted counter-clockwise from the axis that lies to the
right in the picture; places are those of the drawing, as the job gives them. Every figure
stands with the friction it was worked out for.
"""

from __future__ import annotations

import math
from typing import Final

from jigs import quantity
from jigs.checks.clamp_reach import outline_points
from jigs.checks.seated import Clamping, Seated
from jigs.drawing.clamp_view import ClampView, clamp_figure
from jigs.drawing.setup_view import Spot
from jigs.holding.holding import force_text
from jigs.locating.choose import Choice
from jigs.locating.clamping import ClampPlace
from jigs.locating.closure import Closure
from jigs.locating.contacts import ContactKind
from jigs.locating.pushes import is_corner
from jigs.plan import Plan, PlannedSetup
from jigs.sheet.content import Block, Field, Fields, Grid, Lines, Picture, Section
from jigs.sheet.ways_content import (
    PLACES,
    arc_rad,
    degrees_text,
    direction_rad,
    leaving_lines,
    place_text,
    towards_text,
)
from kerf.contour import Transform, Vector

#: Height of the picture on paper, mm.
_PICTURE_MM: Final = 78.0
#: Stretches listed on the sheet; the record holds all of them.
_LISTED: Final = 5
#: Two contacts lie on one straight edge when their normals differ by less (cosine).
_PARALLEL: Final = math.cos(math.radians(0.5))


def seating_section(planned: PlannedSetup, plan: Plan, *, width_mm: float) -> Section | None:
    """Return how the part is seated and clamped; None for a guide that holds no part."""
    seated, units = planned.seated, plan.job.units
    if seated is None:
        return None
    lines = [_closure_line(seated, planned)]
    clamping = seated.clamping
    blocks: list[Block] = []
    if clamping is not None:
        lines.append(_push_line(seated, clamping, planned))
        blocks += [
            Fields(fields=_push_fields(clamping, planned, units)),
            _reaction_grid(clamping),
        ]
    elif _rests_on_three(planned) and planned.setup.push_n > 0.0:
        lines.append(f"No single push that can be reached seats it. {_in_two(planned)}")
    if clamping is not None or seated.places:
        blocks.append(_picture(seated, planned, width_mm))
        if seated.places:
            blocks.append(_place_grid(seated.places, units))
    after = [*_choice_lines(planned.guide.choice, units)]
    if clamping is not None:
        after += _force_lines(clamping, planned)
    if seated.leaving is not None:
        after += leaving_lines(seated.leaving, planned, units)
    return Section(
        key="seating",
        heading="Seating and clamping",
        blocks=(Lines(lines=tuple(lines)), *blocks, Lines(lines=tuple(after))),
    )


def _rests_on_three(planned: PlannedSetup) -> bool:
    """Return whether three walls locate the part and nothing else does."""
    located = planned.locating
    kinds = [c.kind for c in planned.guide.contacts if c.kind is not ContactKind.SUPPORT]
    return located is not None and located.determined and kinds == [ContactKind.WALL] * 3


def _closure_line(seated: Seated, planned: PlannedSetup) -> str:
    """Return what the guide alone does for the part, in words."""
    closure = seated.closure
    if closure is None:
        return (
            "The part floats: the pocket holds it within its clearance and nothing seats it, so "
            "each push may leave it in another place."
        )
    pins = any(c.holds_both_ways for c in planned.guide.contacts)
    if closure.closure is Closure.FIRST_ORDER:
        return (
            "The pins hold the part every way in the plane, but for their clearance: no push is "
            "needed to seat it."
            if pins
            else "The contacts hold the part every way in the plane: it cannot move, and goes in "
            "from above only."
        )
    if closure.closure is Closure.SECOND_ORDER:
        return (
            "The contacts hold the part by the curve of its edges alone: with the least "
            f"clearance or wear it can move{_of(closure.motion)}."
        )
    if closure.closure is Closure.UNPROVEN:
        return f"Whether the contacts alone hold the part is not proven: {closure.motion}."
    if seated.turn:
        return (
            f"Turn the part {seated.turn}, as seen in the picture, about its pin until it "
            "touches the other one, and hold it there: nothing else does."
        )
    if seated.rests_on:
        sets = "; ".join(" ".join(names) for names in seated.rests_on)
        return f"Pushed so, the part rests on three of its contacts, one of these sets: {sets}."
    held = (
        f" At a friction of {seated.friction:.2f} it can be wedged between them."
        if seated.wedges
        else ""
    )
    return (
        "The contacts locate the part but do not hold it: until it is clamped, only the push "
        f"keeps it there.{held}"
    )


def _of(motion: str) -> str:
    return f" ({motion})" if motion else ""


# ---- the push ----


def _push_line(seated: Seated, clamping: Clamping, planned: PlannedSetup) -> str:
    """Return what the judged push does, and what to do when it is not sure."""
    who = "The push of the job" if clamping.is_given else "The surest single push"
    names = _listed([name for name, _ in clamping.reactions_n])
    if clamping.reserve is None:
        where = "Push at an edge drawn heavy." if seated.places else _in_two(planned)
        lifted = _listed([name for name, force in clamping.reactions_n if force <= 0.0])
        return f"{who} does NOT seat the part: it lifts it off {lifted}. {where}"
    if clamping.is_sure:
        return (
            f"{who} seats the part on {names} for sure: up to a friction of "
            f"{clamping.reserve:.2f} at the contacts; {clamping.friction:.2f} is assumed."
        )
    if clamping.seats:
        return (
            f"{_in_two(planned)} {who} seats it on {names} only when it is aimed to "
            f"±{math.degrees(clamping.aim_rad):.1f}° (friction {clamping.friction:.2f} at the "
            "contacts)."
        )
    return (
        f"{_in_two(planned)} {who} is NOT sure to seat it on {names}: only up to a friction of "
        f"{clamping.reserve:.2f}; {clamping.friction:.2f} is assumed."
    )


def _in_two(planned: PlannedSetup) -> str:
    """Return how to seat the part in two pushes: along the straight edge that two contacts share.

    On curved edges nothing slides straight: then each contact is felt for by itself.
    """
    a, b, c = (c for c in planned.guide.contacts if c.kind is ContactKind.WALL)
    for one, other, last in ((a, b, c), (b, c, a), (a, c, b)):
        alike = one.normal.x * other.normal.x + one.normal.y * other.normal.y
        if alike > _PARALLEL and one.radius_mm == other.radius_mm == 0.0:
            return (
                f"Push it flat against {one.name} and {other.name} first, slide it along them to "
                f"{last.name}, and feel that no contact lets a paper strip out."
            )
    return "Tap it against each contact in turn, and feel that none lets a paper strip out."


def _push_fields(clamping: Clamping, planned: PlannedSetup, units: str) -> tuple[Field, ...]:
    """Return place, direction and force of the push."""
    at = clamping.push.at
    corner = ", the corner" if is_corner(planned.part.region.outer, at) else ""
    turn = planned.setup.pose()
    angle = direction_rad(turn, clamping.push.along)
    fields = [
        Field(name="push at, drawing", value=place_text(at, units) + corner),
        Field(
            name="towards",
            value=f"{towards_text(angle, planned.guide.plane)}, {degrees_text(angle)} "
            f"from +{planned.guide.plane.axes[0]}",
        ),
        Field(name="force", value=force_text(clamping.force_n)),
    ]
    if clamping.directions_rad is not None and clamping.aim_rad > 0.0:
        low, high = arc_rad(turn, *clamping.directions_rad)
        said = f"{degrees_text(low)} to {degrees_text(high)}"
    else:
        said = f"not this one at friction {clamping.friction:.2f}"
    fields.append(Field(name="directions that seat", value=said))
    return tuple(fields)


def _reaction_grid(clamping: Clamping) -> Grid:
    """Return what each contact carries."""
    least = dict(clamping.least_n)
    rows = []
    for name, force in clamping.reactions_n:
        low = least.get(name)
        verdict = "seats" if low is not None and low > 0 else "may stay off"
        rows.append(
            (
                name,
                _force(force) if force > 0 else "lifts off",
                "may jam" if low is None else _force(low) if low > 0 else "none",
                verdict if force > 0 else "LIFTS OFF",
            )
        )
    return Grid(
        columns=(
            "contact",
            "carries, no friction",
            f"least, friction {clamping.friction:.2f}",
            "",
        ),
        rows=tuple(rows),
    )


def _force(force_n: float) -> str:
    """Return a force with a place more where it is small."""
    return force_text(force_n, places=0 if force_n >= 10 else 1)


def _force_lines(clamping: Clamping, planned: PlannedSetup) -> list[str]:
    """Return how hard the push may and must be."""
    forces = clamping.forces
    lines = []
    if clamping.in_cut:
        lines.append("A cut passes the place of this push: take it away once the part is held.")
    if forces is None:
        return lines
    if clamping.load_n > 0.0 and not clamping.in_cut:
        held = (
            " What holds the part while it is cut is judged under Will it hold."
            if planned.machined.holding is not None
            else ""
        )
        lines.append(
            f"This push alone keeps every contact closed against the cutter from "
            f"{force_text(forces.least_n)} up (side load {force_text(clamping.load_n)}, any way, "
            f"anywhere on the paths; friction {clamping.friction:.2f} against us, none under the "
            f"part).{held}"
        )
    if math.isfinite(forces.most_n):
        load = " with that load" if clamping.load_n > 0.0 else ""
        lines.append(
            f"The pads bear {force_text(clamping.bears_n)} each, with the factor asked of the "
            f"guide: a push there of {force_text(forces.most_n)} at most{load}."
            if forces.most_n > 0.0
            else "The cutter alone loads a pad with more than the "
            f"{force_text(clamping.bears_n)} it bears: let the hold take the cut, not the guide."
        )
    return lines


# ---- where a clamp may push ----


def _place_grid(places: tuple[ClampPlace, ...], units: str) -> Grid:
    """Return the longest stretches, in the drawing's coordinates."""
    return Grid(
        columns=("clamp square to the edge, drawing: from", "to", "length"),
        rows=tuple(
            (
                place_text(p.start, units),
                place_text(p.end, units),
                quantity.length_text(p.end_mm - p.start_mm, units, places=PLACES[units]),
            )
            for p in places[:_LISTED]
        ),
    )


def _picture(seated: Seated, planned: PlannedSetup, width_mm: float) -> Picture:
    """Return the picture of contacts, edges that serve and the push."""
    guide, loop = planned.guide, planned.part.region.outer
    first = guide.plates[0]
    lay = first.to_part.inverse()
    shown = guide.plates if guide.stack is None else guide.plates[:1]
    clamping = seated.clamping
    view = ClampView(
        title=f"Where a clamp may push, {planned.setup.name}",
        part=planned.part.region.transformed(lay),
        plates=tuple(p.region.transformed(p.to_part.then(lay)) for p in shown),
        contacts=tuple(
            Spot(name=c.name, at=lay.point(*c.at), normal=_unit(lay, c.normal))
            for c in guide.contacts
            if c.kind is ContactKind.WALL
        ),
        stretches=tuple(
            tuple((lay.point(*p), _unit(lay, n)) for p, n in outline_points(loop, place))
            for place in seated.places
        ),
        push=None
        if clamping is None
        else (lay.point(*clamping.push.at), _unit(lay, clamping.push.along)),
        words=() if clamping is None else ("push", force_text(clamping.force_n)),
    )
    return Picture(
        figures=(clamp_figure(view, width_mm=width_mm, height_mm=_PICTURE_MM),),
        caption=_caption(seated),
    )


def _caption(seated: Seated) -> str:
    """Return what the heavy edges are."""
    if not seated.places:
        return (
            "Arrow: the push. No single clamp square to an edge that can be reached seats all "
            "contacts, not even without friction."
        )
    share = seated.share
    said = f"{share:.0%}" if share >= 0.01 else "under 1%"
    at = (
        f"at a friction of {seated.places_friction:.2f}"
        if seated.places_friction > 0.0
        else "but only where nothing rubs"
    )
    return (
        f"Arrow: the push. Heavy beside the edge: a clamp pushed square to it there seats every "
        f"contact, {at}; {said} of the outline."
    )


def _unit(lay: Transform, direction: Vector) -> Vector:
    x, y = lay.vector(*direction)
    size = math.hypot(x, y)
    return Vector(x / size, y / size)


def _choice_lines(choice: Choice | None, units: str) -> list[str]:
    """Return what the next best layout would cost; nothing when contacts were not chosen."""
    if choice is None or not choice.runner_up:
        return []
    where = ", ".join(
        f"{c.name} at {place_text(c.at, units)}".replace(" ", "\u00a0") for c in choice.runner_up
    )
    loss = f"{quantity.length_text(choice.loss_mm, units, signed=True)} at the worst feature"
    if choice.loss_mm < 0.0:
        # Tolerances differ: the layouts are ranked by the share of them that location takes.
        loss = (
            f"{choice.runner_up_share:.0%} of the tightest tolerance against "
            f"{choice.worst_share:.0%}"
        )
    elif float(quantity.bare_length(choice.loss_mm, units)) == 0.0:
        loss = "just as good at the worst feature"
    what = "on other faces" if choice.other_faces else "on the same faces"
    return [
        f"The contacts were chosen from {choice.candidates} places. Second best {what}: "
        f"{loss}, with (drawing) {where}."
    ]


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]
