"""Seating and clamping on the sheet: what holds the part, where to push, how it comes out.

Directions are those of the machine, counted counter-clockwise from the axis that lies to the
right in the picture; places are those of the drawing, as the job gives them. Every figure
stands with the friction it was worked out for.
"""

from __future__ import annotations

import math
from typing import Final

from jigs import quantity
from jigs.checks.comes_out import Drawer, Leaving
from jigs.checks.seated import Clamping, Seated, outline_points
from jigs.drawing.clamp_view import ClampView, clamp_figure
from jigs.drawing.setup_view import Spot
from jigs.guides.guide import Plane
from jigs.holding.holding import force_text
from jigs.locating.choose import Choice
from jigs.locating.clamping import ClampPlace
from jigs.locating.closure import Closure
from jigs.locating.contacts import ContactKind
from jigs.locating.pushes import is_corner
from jigs.plan import Plan, PlannedSetup
from jigs.sheet.content import Block, Field, Fields, Grid, Lines, Picture, Section
from kerf.contour import Point, Transform, Vector
from kerf.tolerance import FREE_WAY_RAD

#: Height of the picture on paper, mm.
_PICTURE_MM: Final = 78.0
#: Stretches listed on the sheet; the record holds all of them.
_LISTED: Final = 5
#: A direction counts towards an axis when this share of it lies along it.
_ALONG: Final = 0.26


def seating_section(planned: PlannedSetup, plan: Plan, *, width_mm: float) -> Section | None:
    """Return how the part is seated and clamped; None for a guide that holds no part."""
    seated, units = planned.seated, plan.job.units
    if seated is None:
        return None
    lines = [_closure_line(seated, planned)]
    clamping = seated.clamping
    blocks: list[Block] = []
    if clamping is not None:
        lines.append(_push_line(clamping, planned))
        blocks += [
            Fields(fields=_push_fields(clamping, planned, units)),
            _reaction_grid(clamping),
        ]
    if clamping is not None or seated.places:
        blocks.append(_picture(seated, planned, width_mm))
        if seated.places:
            blocks.append(_place_grid(seated.places, units))
    after = [*_choice_lines(planned.guide.choice, units)]
    if clamping is not None:
        after += _force_lines(clamping, planned)
    if seated.leaving is not None:
        after += _leaving_lines(seated.leaving, planned, units)
    return Section(
        key="seating",
        heading="Seating and clamping",
        blocks=(Lines(lines=tuple(lines)), *blocks, Lines(lines=tuple(after))),
    )


def _closure_line(seated: Seated, planned: PlannedSetup) -> str:
    """Return what the guide alone does for the part, in words."""
    closure = seated.closure
    if closure is None:
        return (
            "The part floats: the pocket's walls hold it within its clearance and nothing seats "
            "it, so that a push brings it to another place than the last one did."
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


def _push_line(clamping: Clamping, planned: PlannedSetup) -> str:
    """Return what the judged push does, and what to do when it is not sure."""
    who = "The push of the job" if clamping.is_given else "The surest single push"
    names = _listed([name for name, _ in clamping.reactions_n])
    if clamping.reserve is None:
        lifted = _listed([name for name, force in clamping.reactions_n if force <= 0.0])
        return f"{who} does NOT seat the part: it lifts it off {lifted}. Move it."
    if clamping.seats:
        return (
            f"{who} seats the part on {names} for sure: up to a friction of "
            f"{clamping.reserve:.2f} at the contacts; {clamping.friction:.2f} is assumed."
        )
    return (
        f"{_in_two(planned)} {who} is NOT sure to seat it on {names}: only up to a friction of "
        f"{clamping.reserve:.2f}; {clamping.friction:.2f} is assumed."
    )


def _in_two(planned: PlannedSetup) -> str:
    """Return how to seat the part in two pushes: against the pair first."""
    walls = [c for c in planned.guide.contacts if c.kind is ContactKind.WALL]
    pair = next(
        (
            (a, b, c)
            for a, b, c in (walls, [*walls[1:], walls[0]], [walls[0], walls[2], walls[1]])
            if a.normal.x * b.normal.x + a.normal.y * b.normal.y > math.cos(math.radians(30))
        ),
        None,
    )
    if pair is None:
        return "Tap it against each contact in turn and feel that none lets a paper strip out."
    a, b, c = pair
    return (
        f"Push it flat against {a.name} and {b.name} first, slide it along them to {c.name}, and "
        "feel that no contact lets a paper strip out."
    )


def _push_fields(clamping: Clamping, planned: PlannedSetup, units: str) -> tuple[Field, ...]:
    """Return place, direction and force of the push."""
    at = clamping.push.at
    corner = ", the corner" if is_corner(planned.part.region.outer, at) else ""
    turn = planned.setup.pose()
    angle = _angle(turn, clamping.push.along)
    fields = [
        Field(name="push at, drawing", value=_at(at, units) + corner),
        Field(
            name="towards",
            value=f"{_towards(angle, planned.guide.plane)}, {_degrees(angle)} "
            f"from +{planned.guide.plane.axes[0]}",
        ),
        Field(name="force", value=force_text(clamping.force_n)),
    ]
    if clamping.directions_rad is not None:
        low, high = _arc(turn, *clamping.directions_rad)
        said = f"{_degrees(low)} to {_degrees(high)}"
    else:
        said = f"none is sure at friction {clamping.friction:.2f}"
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
    return force_text(force_n) if force_n >= 10 else f"{force_n:.1f} N ({force_n / 4.448:.1f} lbf)"


def _force_lines(clamping: Clamping, planned: PlannedSetup) -> list[str]:
    """Return how hard the push may and must be."""
    forces = clamping.forces
    if forces is None:
        return []
    lines = []
    if clamping.load_n > 0.0:
        lines.append(
            f"To keep every contact closed against the cutter by this push alone it takes "
            f"{force_text(forces.least_n)}: side load {force_text(clamping.load_n)}, any way, "
            f"anywhere on the paths, friction {clamping.friction:.2f} against us, none under the "
            "part counted. What holds the part is judged by itself (Will it hold)."
        )
    if math.isfinite(forces.most_n):
        load = " with that load" if clamping.load_n > 0.0 else ""
        lines.append(
            f"The pads bear a push of {force_text(max(forces.most_n, 0.0))} there at most{load} "
            f"({force_text(clamping.bears_n)} on any one, guide's own factor included)."
            if forces.most_n > 0.0
            else "The cutter alone loads a pad with more than the "
            f"{force_text(clamping.bears_n)} it bears: let the hold take the cut, not the guide."
        )
    return lines


# ---- where a clamp may push ----


def _place_grid(places: tuple[ClampPlace, ...], units: str) -> Grid:
    """Return the longest stretches, in the drawing's coordinates."""
    return Grid(
        columns=("clamp square to the edge, from", "to", "length"),
        rows=tuple(
            (
                _at(p.start, units),
                _at(p.end, units),
                quantity.length_text(p.end_mm - p.start_mm, units, places=_PLACES[units]),
            )
            for p in places[:_LISTED]
        ),
    )


#: Decimals of a clamp's place: it is set by eye.
_PLACES: Final = {"mm": 1, "inch": 2}


def _at(at: Point, units: str) -> str:
    """Return a place of the drawing."""
    x, y = (quantity.bare_length(v, units, places=_PLACES[units]) for v in at)
    text = f"x {x}, y {y} {'in' if units == 'inch' else 'mm'}"
    return text.replace("-", quantity.MINUS)


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


# ---- coming out ----


def _leaving_lines(out: Leaving, planned: PlannedSetup, units: str) -> list[str]:
    """Return how the part comes out, and whether it can wedge."""
    plane, turn = planned.guide.plane, planned.setup.pose()
    if plane is Plane.XY:
        first = "Take the cap off first: the" if out.over == "cap" else "The"
        straight = f"{first} part comes out straight up"
    else:
        straight = (
            f"With the jaws open the part comes out straight across the plate, along "
            f"{plane.axes[2]}"
        )
    ways = []
    for slide in out.slides:
        low, high = _arc(turn, slide.from_rad, slide.to_rad)
        if high - low <= 8 * FREE_WAY_RAD:
            said = f"towards {_towards(low, plane)} ({_degrees(low)})"
        elif high - low >= math.tau - FREE_WAY_RAD:
            said = "any way in the plane"
        else:
            said = f"any way from {_axis(low, plane)} round to {_axis(high, plane)}"
        if not all(slide.clear):
            said += ", though not everywhere clear of the guide further on"
        ways.append(said)
    if not ways:
        barred = "pins stand in its bores" if planned.guide.base else "walls bar every slide"
        return [f"{straight}, and no other way: {barred}."]
    lines = [f"{straight}; it also slides out {' or '.join(ways)}."]
    if out.drawer is not None:
        lines.append(_drawer_line(out.drawer, units))
    return lines


def _drawer_line(drawer: Drawer, units: str) -> str:
    """Return whether a slide wedges."""

    def length(value_mm: float) -> str:
        return quantity.length_text(value_mm, units, places=_PLACES[units])

    half = drawer.width_mm / 2
    tilt = (
        f", and can tilt by {math.degrees(drawer.tilt_rad):.2f}° in its clearance"
        if drawer.tilt_rad is not None
        else ""
    )
    verdict = (
        f"pushed anywhere on its width (±{length(half)} off its middle) it does not wedge"
        if drawer.offset_mm >= half
        else f"pushed more than {length(drawer.offset_mm)} off its middle it WEDGES"
    )
    return (
        f"The walls guide that slide over {length(drawer.guidance_mm)}{tilt}: at a friction of "
        f"{drawer.friction:.2f}, {verdict}."
    )


def _choice_lines(choice: Choice | None, units: str) -> list[str]:
    """Return what the next best layout would cost; nothing when contacts were not chosen."""
    if choice is None or not choice.runner_up:
        return []
    where = ", ".join(f"{c.name} at {_at(c.at, units)}" for c in choice.runner_up)
    loss = f"{quantity.length_text(choice.loss_mm, units, signed=True)} at the worst feature"
    if float(quantity.bare_length(choice.loss_mm, units)) == 0.0:
        loss = "just as good at the worst feature"
    what = "on other faces" if choice.other_faces else "on the same faces"
    return [
        f"The contacts were chosen from {choice.candidates} places. Second best {what}: "
        f"{loss}, with {where}."
    ]


# ---- directions ----


def _angle(turn: Transform, direction: Vector) -> float:
    """Return the angle of a part direction in the set-up, from its first axis, rad."""
    x, y = turn.vector(*direction)
    return math.atan2(y, x)


def _arc(turn: Transform, low_rad: float, high_rad: float) -> tuple[float, float]:
    """Return an arc of part directions in the set-up; a flip swaps its ends."""
    ends = [
        _angle(turn, Vector(math.cos(a), math.sin(a)))
        for a in (low_rad, (low_rad + high_rad) / 2, high_rad)
    ]
    half = (high_rad - low_rad) / 2
    return ends[1] - half, ends[1] + half


def _degrees(angle_rad: float) -> str:
    """Return a direction in whole degrees, 0 to 359."""
    return f"{round(math.degrees(angle_rad)) % 360}°"


def _axis(angle_rad: float, plane: Plane) -> str:
    """Return a direction as an axis where it lies along one, else in degrees from the first."""
    first, second, _ = plane.axes
    quarter = math.degrees(angle_rad) / 90
    if abs(quarter - round(quarter)) < 0.005:
        return (f"+{first}", f"+{second}", f"{quantity.MINUS}{first}", f"{quantity.MINUS}{second}")[
            round(quarter) % 4
        ]
    return f"{_degrees(angle_rad)} from +{first}"


def _towards(angle_rad: float, plane: Plane) -> str:
    """Return the axes a direction goes towards: "−X and −Y"."""
    first, second, _ = plane.axes
    x, y = math.cos(angle_rad), math.sin(angle_rad)
    return " and ".join(
        ("+" if share > 0 else quantity.MINUS) + axis
        for share, axis in ((x, first), (y, second))
        if abs(share) > _ALONG
    )


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]
