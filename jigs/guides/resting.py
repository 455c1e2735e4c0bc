"""Where a part rests in a guide: floating, at given points, or at contacts the program chooses.

One place for what all kinds with laser-cut walls share: the causes that make a cut wall and a
picked-up face vary, and the choice of contacts among the edges the kind can reach.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from jigs.finding import Finding
from jigs.guides.guide import Plane
from jigs.locating.candidates import candidates
from jigs.locating.choose import Choice, choose_contacts
from jigs.locating.contacts import Contact, FrameSource, Source, contact_at_point
from jigs.locating.seating import Push
from jigs.locating.sources import COVERAGE_WORST, edge_source, kerf_source, pick_up_frame
from jigs.part import Part
from jigs.setup import Flip, Setup
from jigs.shop import Finder
from kerf.beam import KerfCard
from kerf.contour import Edge, Point, Region, Transform, Vector
from kerf.errors import GeometryError, InputError

#: Places offered to the choice: the outline divided by this, so that a large part costs no more.
PLACES = 80

#: Greatest angle between the normals of two chosen contacts, rad: beyond it the part is wedged
#: between them, and no push seats all three surely. Source: common practice.
FACING_RAD = 2 * math.pi / 3

#: Contacts keep off what is cut when at least this share of the outline is left to them.
OFF_CUTS_SHARE = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Resting:
    """The contacts a guide gives, and what the choice has to say.

    Args:
        contacts: none when the part floats.
        findings: notes of the choice.
        choice: how they were chosen, its layouts named as ``contacts`` are; None when they were
            not.
    """

    contacts: tuple[Contact, ...]
    findings: tuple[Finding, ...] = ()
    choice: Choice | None = None


def wall_sources(part: Part, card: KerfCard) -> tuple[Source, ...]:
    """Return what makes a laser-cut wall and the part's edge on it vary."""
    return (
        kerf_source(u_kerf_mm=card.u_mm, sheet=card.name),
        edge_source(edge_tolerance_mm=part.edge_tolerance_mm),
    )


def face_frame(
    normals: tuple[Vector, ...], *, to_part: Transform, finder: Finder, card: KerfCard
) -> tuple[FrameSource, ...]:
    """Return what picking up faces does to the part, part coordinates.

    The finder errs by itself. The face was cut by the same beam as the walls: a kerf wider
    than its card sets the face back into the plate, so the part appears moved along the face's
    outward normal by half the excess, while each wall moves back from the part: one cause.

    Args:
        normals: outward normals of the faces, sheet coordinates.
        to_part: sheet → part (its turn and flip matter, not its shift).
        finder: what picks them up.
        card: the kerf they were cut with.
    """
    sources: list[FrameSource] = []
    for normal in normals:
        along = to_part.vector(*normal)
        sources += [
            pick_up_frame(along=along, limit_mm=COVERAGE_WORST * finder.u_mm, u_mm=finder.u_mm),
            FrameSource(
                name="kerf",
                limit=COVERAGE_WORST * card.u_mm / 2,
                u=card.u_mm / 2,
                shift=along,
                group=f"kerf of {card.name}",
            ),
        ]
    return tuple(sources)


def resting(
    part: Part,
    setup: Setup,
    *,
    card: KerfCard,
    frame: tuple[FrameSource, ...],
    keep_mm: float,
    pad_mm: float,
    on_edge: Callable[[int, int], bool] | None = None,
    at_place: Callable[[Contact], bool] | None = None,
    load: Push | None = None,
) -> Resting:
    """Return where the part rests.

    Args:
        part: the part.
        setup: says whether it floats, rests at given points, or where the program likes.
        card: the kerf of the walls.
        frame: causes that move the whole guide (see ``face_frame``).
        keep_mm: distance a contact keeps from corners, mm.
        pad_mm: width of what touches: on a straight edge long enough it stays whole on it, mm.
        on_edge: which edges (loop, edge) the guide can reach; all of the outline when none.
        at_place: which places on them; all when none.
        load: what the three must carry without friction, such as the part's weight.
    Raises:
        InputError: a given point is off the outline, or no three places hold the part.
    """
    if setup.contacts == "float":
        return Resting(contacts=())
    sources = wall_sources(part, card)
    if setup.contacts == "given":
        try:
            return Resting(
                contacts=tuple(
                    contact_at_point(part.region, at, name=f"C{i}", on=f"pad C{i}", sources=sources)
                    for i, at in enumerate(setup.contact_points, start=1)
                )
            )
        except GeometryError as fault:
            raise InputError(
                fault.what, where=setup.key_path + ".contacts", hint=fault.hint
            ) from None
    outline = Region(outer=part.region.outer)
    offered = tuple(
        place
        for place in candidates(
            outline,
            pitch_mm=outline.outer.length_mm / PLACES,
            corner_mm=keep_mm,
            on_edge=on_edge,
        )
        if _is_whole_on(outline.outer.edge(place.edge), place.contact.at, pad_mm)
        and (at_place is None or at_place(place.contact))
    )
    box = outline.bounds()
    chosen = choose_contacts(
        part,
        candidates=offered,
        sources=sources,
        spacing_mm=max(2 * keep_mm, max(box.width, box.height) / 10),
        frame=frame,
        facing_rad=FACING_RAD,
        load=load,
    )
    if not chosen.contacts:
        why = chosen.findings[0] if chosen.findings else None
        raise InputError(
            f"no three contacts hold the part: {why.message}" if why else "no three contacts",
            where=setup.key_path + ".contacts",
            hint=(why.hint if why else "") or "locate from a bore, or give the contacts yourself",
        )
    contacts = named_by_axis(chosen.contacts, setup)
    return Resting(
        contacts=contacts,
        findings=chosen.findings,
        choice=replace(chosen, contacts=contacts, runner_up=named_by_axis(chosen.runner_up, setup)),
    )


def off_cuts(part: Part, setup: Setup, *, thickness_mm: float) -> Callable[[Contact], bool] | None:
    """Return which places no cut of the set-up sweeps where the plate stands; None for all.

    A cut that leaves no place (the whole outline is milled) rules out none: then its clash is
    for the check of the cutter's way to tell, and for the guide to be relieved.

    Args:
        part: the part.
        setup: lies flat; its cuts are asked.
        thickness_mm: how high the plate stands.
    """
    import shapely

    from jigs.holding.toolpath import tool_path
    from jigs.locating.within import polygon

    turned_over = setup.flip is not Flip.NONE
    paths = [
        tool_path(
            cut,
            part.region,
            pose=setup.pose(),
            height_mm=part.height_mm,
            turned_over=turned_over,
        )
        for cut in setup.cuts
    ]
    to_part = setup.pose().inverse()
    swept = shapely.union_all(
        [
            polygon(region.transformed(to_part))
            for path in paths
            if path.low_mm < thickness_mm
            for region in path.swept
        ]
    )
    outline = polygon(Region(outer=part.region.outer)).exterior
    if swept.is_empty or outline.difference(swept).length < OFF_CUTS_SHARE * outline.length:
        return None
    shapely.prepare(swept)
    return lambda contact: not shapely.intersects_xy(swept, contact.at.x, contact.at.y)


def named_by_axis(contacts: tuple[Contact, ...], setup: Setup) -> tuple[Contact, ...]:
    """Return the contacts named by the machine axis that each holds: Y1, Y2, X1.

    The axes are the set-up's, not the drawing's: what a turned part rests on is named as it
    stands in the machine.
    """
    across, up, _ = Plane(setup.plane).axes
    pose = setup.pose()
    out: list[Contact] = []
    for letter, level in ((up, False), (across, True)):
        mine = sorted(
            (tuple(at) if not level else (at.y, at.x), i)
            for i, c in enumerate(contacts)
            for at, normal in ((pose.point(*c.at), pose.vector(*c.normal)),)
            if (abs(normal.x) > abs(normal.y)) == level
        )
        for number, (_, i) in enumerate(mine, 1):
            name = f"{letter}{number}"
            out.append(replace(contacts[i], name=name, on=f"pad {name}"))
    return tuple(out)


def _is_whole_on(edge: Edge, at: Point, pad_mm: float) -> bool:
    """Return whether a pad at a place of an edge does not hang over the end of a straight one."""
    if not edge.is_line or edge.chord_mm < 2 * pad_mm:
        return True
    return min(math.dist(at, edge.start), math.dist(at, edge.end)) >= pad_mm / 2 - 1e-9
