"""Both sides of a part: whether the second side rests on the datums of the first.

A part that is turned over keeps its two sides true to one another as far as both are located
from the same edges, bores or faces of it. For each set-up that sees the part from the other
side than an earlier one, this module asks what of the part sets the drawing's x and y in
either (edges by contacts, bores by pins, the middle of the outline where the part floats) and
what sets Z, and says which stay and which change.

What a change costs: both set-ups' errors add up at every critical feature, whichever datums
they rest on (``pair_error``). In that sum stands, twice, what the part's own edge is off from
the drawing; on the same edges it would be one and the same and would cancel. A height that is
counted from the other face brings in the part's own height.

Best of all is a second side that rests on what the first one cuts itself, in the same clamping
as its other features: bores for pins, or the whole outline. Then the first location moves all
of them alike, and between the two sides stands the second location alone.

Set-ups that see another view of the part are left out: they speak of other axes. A blank lies in
the drawing's own axes and counts, by its first copy.

Source: worst case of two set-ups, ``locating.pairs``; height nobody toleranced, ISO 2768-1
class m (``fits.general_limits``).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from jigs.blank import LETTERS
from jigs.finding import Finding, Severity
from jigs.fits import general_limits
from jigs.guides.guide import Guide, Plane, SetBy
from jigs.holding.cut import ToolKind
from jigs.locating.contacts import Contact, ContactKind
from jigs.locating.error import CriticalError
from jigs.locating.pairs import PairError, pair_error
from jigs.part import Part
from jigs.quantity import number
from jigs.setup import Flip, Setup
from kerf.contour import Point
from kerf.errors import InputError
from kerf.tolerance import COINCIDENT_MM, SQUARE_RAD

#: A contact sets an axis when at least this share of its normal lies along it: a slanted edge
#: sets both.
_SETS: Final = 0.4

#: What is less than this is not told, mm: it rounds to nothing.
TOLD_MM: Final = 0.0005

MIDDLE: Final = "the middle of the outline"


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One set-up as it locates the part.

    Args:
        setup: what was asked.
        guide: what was made.
        part: the part as it is seen there: as drawn, or its blank.
        critical: the location error of each critical feature.
    """

    setup: Setup
    guide: Guide
    part: Part
    critical: tuple[CriticalError, ...]

    @property
    def errors(self) -> dict[str, CriticalError]:
        """The errors by the drawing's names: of a blank, those of its first copy."""
        if self.setup.blank is None:
            return {error.name: error for error in self.critical}
        first = " " + LETTERS[0]
        return {e.name.removesuffix(first): e for e in self.critical if e.name.endswith(first)}


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisDatum:
    """What of the part sets one axis of the drawing, before and after it is turned over.

    Args:
        axis: "x", "y" or "z".
        before, after: in words; empty where nothing does.
    """

    axis: str
    before: tuple[str, ...]
    after: tuple[str, ...]

    @property
    def is_kept(self) -> bool:
        """Whether the later set-up rests on nothing that the earlier one did not."""
        return bool(self.after) and set(self.after) <= set(self.before)

    @property
    def is_lost(self) -> bool:
        """Whether the two have nothing in common."""
        return not set(self.before) & set(self.after)


@dataclass(frozen=True, slots=True, kw_only=True)
class Turned:
    """A set-up against the earlier one that saw the other side.

    Args:
        before, after: names of the set-ups.
        over: axis the part was turned over about, "x" or "y".
        axes: the datums of x, y and, where it is known, z.
        features: between the two sides, for each critical feature.
        edges_mm: of that, what the part's own edges are off, in the same order, mm.
        height_mm: ± of the part's height where z changes its face, mm; 0 where it does not.
        is_made_before: whether the earlier set-up itself cuts all that sets x and y later, so that
            its own location error is not between the two sides.
    """

    before: str
    after: str
    over: str
    axes: tuple[AxisDatum, ...]
    features: tuple[PairError, ...]
    edges_mm: tuple[float, ...]
    height_mm: float
    is_made_before: bool

    @property
    def is_kept(self) -> bool:
        """Whether every axis rests on the earlier set-up's datums."""
        return all(axis.is_kept for axis in self.axes)


def turned_over(sides: Sequence[Side]) -> dict[str, Turned]:
    """Return, by name, each set-up against the nearest earlier one that saw the other side.

    Args:
        sides: the set-ups that see the part, or its blank, as drawn, in the order they are run.
    """
    flat = [side for side in sides if side.guide.plane is Plane.XY]
    found = {}
    for i, after in enumerate(flat):
        before = next(
            (s for s in reversed(flat[:i]) if _is_over(s.setup) != _is_over(after.setup)), None
        )
        if before is not None:
            found[after.setup.name] = _turned(before, after)
    return found


def is_located(guide: Guide) -> bool:
    """Return whether a guide locates the part at all."""
    return guide.pocket is not None or bool(guide.contacts)


def _is_over(setup: Setup) -> bool:
    return setup.flip is not Flip.NONE


def _turned(before: Side, after: Side) -> Turned:
    """Return how two set-ups compare."""
    axes = [
        AxisDatum(
            axis=axis,
            before=_rests_on(before, number),
            after=_rests_on(after, number),
        )
        for number, axis in enumerate("xy")
    ]
    height_mm = 0.0
    faces = _z_face(before), _z_face(after)
    if faces[0] and faces[1] and before.part.height_mm == after.part.height_mm:
        axes.append(AxisDatum(axis="z", before=(faces[0],), after=(faces[1],)))
        if faces[0] != faces[1]:
            height_mm = _height_limit_mm(after.part)
    made = _makes_all(before, after)
    pairs = [(e, after.errors[name]) for name, e in before.errors.items() if name in after.errors]
    over = after.setup.flip if _is_over(after.setup) else before.setup.flip
    return Turned(
        before=before.setup.name,
        after=after.setup.name,
        over=over.value,
        axes=tuple(axes),
        features=tuple(_alone(b) if made else pair_error(a, b) for a, b in pairs),
        edges_mm=tuple(_edge_mm(b) + (0.0 if made else _edge_mm(a)) for a, b in pairs),
        height_mm=height_mm,
        is_made_before=made,
    )


def _alone(after: CriticalError) -> PairError:
    """Return what stands between two sides when the second rests on what the first has cut."""
    return PairError(
        first=after.name,
        second=after.name,
        worst_x_mm=after.worst_x_mm,
        worst_y_mm=after.worst_y_mm,
        worst_mm=after.worst_mm,
        rss_mm=max(after.rss_x_mm, after.rss_y_mm),
        tolerance_mm=after.tolerance_mm,
        limit_mm=after.limit_mm,
        ok=after.ok,
    )


def _makes_all(before: Side, after: Side) -> bool:
    """Return whether a set-up cuts all that the later one rests on in x and y."""
    # A blank's outline is sawn; what a cut goes round there is the blank.
    outline = before.setup.blank is None and any(cut.outline for cut in before.setup.cuts)
    if after.guide.pocket is not None:
        return outline
    contacts = [c for c in after.guide.contacts if c.kind is not ContactKind.SUPPORT]
    bores = [cut.bore.at for cut in before.setup.cuts if cut.bore is not None]
    bores += [p for cut in before.setup.cuts if cut.kind is ToolKind.DRILL for p in cut.points]
    return bool(contacts) and all(
        outline
        if contact.kind is ContactKind.WALL
        else any(math.dist(contact.at, at) <= COINCIDENT_MM for at in bores)
        for contact in contacts
    )


def _edge_mm(error: CriticalError) -> float:
    """Return what of an error comes from the part's own edge, mm."""
    return error.worst_mm * sum(share for name, share in error.shares if name == "part edge")


def _height_limit_mm(part: Part) -> float:
    """Return ± of the part's height that nobody toleranced, mm; 0 outside the table."""
    try:
        return general_limits(part.height_mm).plus_minus_mm
    except InputError:
        return 0.0


def _rests_on(side: Side, axis: int) -> tuple[str, ...]:
    """Return what of the part sets a drawing axis, in words, each once and in order."""
    of = " of the blank" if side.setup.blank is not None else ""
    if side.guide.pocket is not None:
        return (MIDDLE + of,)
    words = [
        _words(side.part, contact) + of
        for contact in side.guide.contacts
        if contact.kind is not ContactKind.SUPPORT and abs(contact.normal[axis]) >= _SETS
    ]
    return tuple(dict.fromkeys(words))


def _words(part: Part, contact: Contact) -> str:
    """Return the edge or bore that a contact touches, in words."""
    if contact.kind is not ContactKind.WALL:
        return f"the bore at {_place(contact.at)}"
    loop = min(part.region.loops(), key=lambda one: one.nearest(*contact.at)[2])
    edge = loop.edge(loop.nearest(*contact.at)[0])
    if not edge.is_line:
        return f"the arc of radius {edge.radius_mm:.3f} mm about {_place(edge.centre)}"
    (x1, y1), (x2, y2) = edge.start, edge.end
    if abs(x2 - x1) <= max(COINCIDENT_MM, SQUARE_RAD * abs(y2 - y1)):
        return f"the edge x = {number(x1, 3)} mm"
    if abs(y2 - y1) <= max(COINCIDENT_MM, SQUARE_RAD * abs(x2 - x1)):
        return f"the edge y = {number(y1, 3)} mm"
    return f"the edge from {_place(edge.start).removesuffix(' mm')} to {_place(edge.end)}"


def _place(at: Point) -> str:
    """Return a place of the drawing, mm."""
    return f"({number(at.x, 3)}, {number(at.y, 3)}) mm"


def _z_face(side: Side) -> str:
    """Return the face of the part, as drawn, that Z is counted from; empty when it stands."""
    datum = next((d for d in side.guide.datums if d.axis == "Z"), None)
    if datum is None or side.guide.plane is not Plane.XY:
        return ""
    touches_top = datum.set_by is SetBy.PART_FACE
    return "the upper face" if touches_top != _is_over(side.setup) else "the lower face"


def check_turned(turned: Turned, *, subject: str, contacts: tuple[Contact, ...]) -> Finding:
    """Return what to say of a set-up that sees the other side.

    A note while both sides together stay within location's share of every tolerance, a warning
    beyond it.

    Args:
        turned: how it compares with the earlier one.
        subject: for the message.
        contacts: the earlier set-up's, for the remedy.
    """
    worst = max(turned.features, key=lambda p: p.worst_mm / p.limit_mm, default=None)
    plane = [axis for axis in turned.axes if axis.axis != "z"]
    if turned.is_made_before:
        code = "flip-datums-made"
        what = f"it rests on what {turned.before} has cut itself: " + "; ".join(
            f"{axis.axis} on {_listed(axis.after)}" for axis in plane
        )
    elif turned.is_kept:
        code = "flip-datums-kept"
        what = f"it rests on the datums of {turned.before}: " + "; ".join(
            f"{axis.axis} on {_listed(axis.after)}" for axis in turned.axes
        )
    else:
        lost = all(axis.is_lost for axis in plane)
        code = "flip-no-datum" if lost else "flip-datums-changed"
        what = "; ".join(
            f"{axis.axis} rests on {_listed(axis.after)}, in {turned.before} on "
            f"{_listed(axis.before)}"
            for axis in turned.axes
            if not axis.is_kept
        )
        if lost:
            what = f"no datum of {turned.before} is left in x or y: {what}"
    cost = ""
    if worst is not None:
        edges = turned.edges_mm[turned.features.index(worst)]
        cost = f"; {worst.first} can be off by ±{worst.worst_mm:.3f} mm between the two sides"
        if edges > TOLD_MM:
            cost += f", {edges:.3f} mm of it from the part's own edges"
        if turned.is_made_before:
            cost += f"; the error of locating in {turned.before} moves both alike"
        elif edges > TOLD_MM and not all(axis.is_kept for axis in plane):
            cost += ", which would cancel on the same edges"
    if turned.height_mm:
        cost += f"; z takes in the part's height, ±{turned.height_mm:.2f} mm where not toleranced"
    return Finding(
        code=code,
        severity=Severity.NOTE if worst is None or worst.ok else Severity.WARN,
        subject=f"{subject}: turned over about {turned.over}",
        message=what + cost,
        measured=worst.worst_mm if worst is not None else None,
        limit=worst.limit_mm if worst is not None else None,
        unit="mm" if worst is not None else "",
        hint="" if turned.is_kept or turned.is_made_before else _remedy(turned, contacts),
    )


def _listed(words: tuple[str, ...]) -> str:
    """Return words as a list in a sentence."""
    if not words:
        return "nothing"
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _remedy(turned: Turned, contacts: tuple[Contact, ...]) -> str:
    """Return what would keep the datums."""
    walls = [c for c in contacts if c.kind is ContactKind.WALL]
    plane = [axis for axis in turned.axes if axis.axis != "z" and not axis.is_kept]
    if not plane:
        return f"set Z from {_listed(turned.axes[-1].before)} in both, or measure the part's height"
    if len(walls) == 3:
        points = ", ".join(f"[{number(c.at.x, 3)}, {number(c.at.y, 3)}]" for c in walls)
        return (
            f"contacts = [{points}] rests on those of {turned.before}; a corner guide needs its "
            "other hand"
        )
    if any(c.kind is not ContactKind.WALL for c in contacts):
        return f"locate both sides from the bores of {turned.before}"
    return (
        f"locate {turned.after} in a nest as {turned.before}, or both by contacts on the same edges"
    )


def turned_record(turned: Turned) -> dict[str, object]:
    """Return the comparison as plain values for the record."""
    return {
        "before": turned.before,
        "over": turned.over,
        "datums": {
            axis.axis: {
                "before": list(axis.before),
                "after": list(axis.after),
                "kept": axis.is_kept,
            }
            for axis in turned.axes
        },
        "features": [
            {
                "name": pair.first,
                "worst_x_mm": pair.worst_x_mm,
                "worst_y_mm": pair.worst_y_mm,
                "edges_mm": edges,
                "tolerance_mm": pair.tolerance_mm,
                "ok": pair.ok,
            }
            for pair, edges in zip(turned.features, turned.edges_mm, strict=True)
        ],
        "height_mm": turned.height_mm,
        "made_before": turned.is_made_before,
    }
