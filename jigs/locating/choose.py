"""Choose the contacts: the layout with the least worst-case error, proven over its candidates.

The measure is the greatest of worst-case error over tolerance at the critical features, the
same worst case as ``error`` reports. Admissible are three places that are reachable, off what
is machined, apart by a spacing, and (unless asked otherwise) open to one straight push. Of
layouts that are tied, the one on machined, then long, then straight faces is taken, then the
one spread widest. Beside the best, the best layout on another set of faces is shown and what it
would cost: that is the alternative a machinist can choose, whereas the second-best triple is
the best one moved by one pitch.

Contacts may be fixed by the user; the rest is chosen round them, every triple weighed.

Limits: a growth or turn of the whole guide that is tied to the contacts' own causes
(``FrameSource.group``) is added here as if independent, which can only overstate it.

Refused: three fixed contacts (nothing to choose), a spacing below zero; no admissible layout
is an empty ``Choice`` with a finding that says why.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from jigs.finding import Finding, Severity
from jigs.locating.candidates import Candidate
from jigs.locating.contacts import Contact, FrameSource, Source, Tie
from jigs.locating.error import critical_errors
from jigs.locating.field import Field, Indices, spread
from jigs.locating.pose import locating_rows
from jigs.locating.runs import Runs, runs_of
from jigs.locating.search import Found, Other, best_of, best_three
from jigs.locating.seating import Push
from jigs.part import Critical, Part
from kerf.contour import Floats, Point
from kerf.errors import InputError
from kerf.tolerance import TIE_RELATIVE

#: Least cause of its own that each contact is given, as a share of the greatest cause there is.
_BREAK_TIES = 1e-6

SourcesFor = Callable[[Contact], tuple[Source, ...]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """The layout taken and the next one.

    Args:
        contacts: three contacts, named by the axis they hold; empty when none is admissible.
        worst_mm: greatest worst-case error at a critical feature, mm.
        worst_share: greatest worst-case error over tolerance: what was made least.
        runner_up: the best layout on another set of faces (or, when there is none, the next
            best of all); empty when there is no second.
        runner_up_worst_mm, runner_up_share: the same measures for it.
        other_faces: whether the runner-up lies on another set of faces.
        loss_mm: ``runner_up_worst_mm`` less ``worst_mm``; may be below 0 when tolerances differ.
        proven: no admissible triple of the candidates has a lesser ``worst_share``.
        candidates: how many places were offered.
        weighed: triples weighed one by one; the others were ruled out by bounds.
        tied: layouts within a tie of the best.
        findings: why there is no layout, or what was assumed.
    """

    contacts: tuple[Contact, ...]
    worst_mm: float
    worst_share: float
    runner_up: tuple[Contact, ...]
    runner_up_worst_mm: float
    runner_up_share: float
    other_faces: bool
    loss_mm: float
    proven: bool
    candidates: int
    weighed: int
    tied: int
    findings: tuple[Finding, ...]


def choose_contacts(
    part: Part,
    *,
    candidates: tuple[Candidate, ...],
    sources: SourcesFor | tuple[Source, ...],
    spacing_mm: float,
    fixed: tuple[Contact, ...] = (),
    frame: tuple[FrameSource, ...] = (),
    one_push: bool = True,
    facing_rad: float = math.pi,
    load: Push | None = None,
) -> Choice:
    """Return the contacts that keep the part's critical features best in place.

    Args:
        part: the part; without critical features the corners of its box are used, and a note
            says so.
        candidates: places to choose from (see ``candidates``).
        sources: what makes a contact vary: the same for all, or by contact.
        spacing_mm: least distance between two contacts, mm, >= 0.
        fixed: contacts the user has set, none to two; they keep their names and sources.
        frame: causes that move the whole guide.
        one_push: ask for normals within a half plane, so that one straight push can slide the
            part home; not asked where a fixed contact is a pin in a bore.
        facing_rad: greatest angle between two of the normals, rad; less than half a turn keeps
            contacts from wedging the part between them. Asked where ``one_push`` is.
        load: a force, such as the part's own weight, that the three must carry without
            friction.
    Raises:
        InputError: three or more fixed contacts; a spacing below zero; no cause of variation.
    """
    if len(fixed) > 2:
        raise InputError(
            f"{len(fixed)} contacts are fixed: there is nothing left to choose",
            hint="fix at most two, or give all of them and leave nothing to auto",
        )
    if not 0 <= spacing_mm < math.inf:
        raise InputError(f"the spacing must be 0 mm or more, not {spacing_mm:.4g} mm")
    features, notes = _features(part)
    offered = [
        replace(c.contact, sources=sources(c.contact) if callable(sources) else sources)
        for c in candidates
    ]
    contacts = [*offered, *fixed]
    if candidates and not any(source.limit_mm for c in contacts for source in c.sources):
        raise InputError(
            "no variation is stated for any contact, so that every layout is as good as another",
            hint="give the part's edge tolerance or the kerf's uncertainty",
        )
    faces = _faces(candidates, len(fixed))
    # A pin in a bore holds both ways: the part is dropped on it, not slid against it.
    slid = one_push and not any(c.holds_both_ways for c in fixed)
    if len(contacts) < 3:
        return _nothing(part, candidates, 0, notes)
    field = _field(part, features, contacts, faces, len(candidates), frame, spacing_mm, slid)
    if slid:
        field = replace(field, facing_cos=math.cos(facing_rad))
    if load is not None:
        field = replace(field, load=_load_about_middle(part, load))
    runs = None if fixed else runs_of(field)
    best = _search(field, len(candidates), len(fixed), None, runs)
    if not len(best.triples):
        return _nothing(part, candidates, best.weighed, notes)
    taken = best.triples[_preferred(field, best.triples, candidates)]
    home = tuple(map(int, np.sort(field.faces[taken])))
    second = _search(field, len(candidates), len(fixed), Other(faces=home), runs)
    elsewhere = len(second.triples) > 0
    if not elsewhere:
        same = Other(triple=tuple(map(int, np.sort(taken))))
        second = _search(field, len(candidates), len(fixed), same, runs)
    chosen = _named([contacts[i] for i in taken], fixed)
    worst_mm, worst_share = _worst(features, chosen, frame)
    other: tuple[Contact, ...] = ()
    other_mm = other_share = math.inf
    if len(second.triples):
        pick = second.triples[_preferred(field, second.triples, candidates)]
        other = _named([contacts[i] for i in pick], fixed)
        other_mm, other_share = _worst(features, other, frame)
    loss = other_mm - worst_mm
    return Choice(
        contacts=chosen,
        worst_mm=worst_mm,
        worst_share=worst_share,
        runner_up=other,
        runner_up_worst_mm=other_mm,
        runner_up_share=other_share,
        other_faces=elsewhere,
        loss_mm=0.0 if abs(loss) <= TIE_RELATIVE * worst_mm else loss,
        proven=True,
        candidates=len(candidates),
        weighed=best.weighed + second.weighed,
        tied=len(best.triples),
        findings=tuple(notes),
    )


def _features(part: Part) -> tuple[tuple[Critical, ...], list[Finding]]:
    """Return the features to keep in place: the critical ones, or the corners of the box."""
    if part.critical:
        return part.critical, []
    box = part.region.bounds()
    corners = [(x, y) for x in (box.x_min, box.x_max) for y in (box.y_min, box.y_max)]
    note = Finding(
        code="critical-missing",
        severity=Severity.NOTE,
        subject=f'part "{part.name}"',
        message="no critical feature is given; contacts are chosen for the corners of its box",
        hint="name the features that matter, with their tolerance",
    )
    return (
        tuple(
            Critical(name=f"box corner {n}", at=Point(x, y), tolerance_mm=1.0)
            for n, (x, y) in enumerate(corners, 1)
        ),
        [note],
    )


def _field(
    part: Part,
    features: tuple[Critical, ...],
    contacts: list[Contact],
    faces: Indices,
    free: int,
    frame: tuple[FrameSource, ...],
    spacing_mm: float,
    one_push: bool,
) -> Field:
    """Return contacts and features as arrays about the middle of the part's box."""
    box = part.region.bounds()
    middle, size = box.centre, math.hypot(box.width, box.height) / 2
    rows = locating_rows(contacts)
    normals = rows[:, :2]
    moments = (rows[:, 2] - middle.x * normals[:, 1] + middle.y * normals[:, 0]) / size
    groups: dict[tuple[Tie, str], Floats] = {}
    limits = np.zeros(len(contacts))
    for i, c in enumerate(contacts):
        for s in c.sources:
            if s.tie is Tie.ALONE:
                limits[i] += s.limit_mm
            else:
                row = groups.setdefault((s.tie, s.group), np.zeros(len(contacts)))
                row[i] += s.sign * s.limit_mm
    # Without causes of their own, contacts on the same faces would all tie: a millionth of the
    # shared ones then decides for the layout that is least sensitive.
    shared = max((float(np.abs(row).max()) for row in groups.values()), default=0.0)
    limits = np.maximum(limits, _BREAK_TIES * max(shared, float(limits.max())))
    lines, constants, tolerances = _feature_rows(features, frame, middle, size)

    def stack(tie: Tie) -> Floats:
        found = [row for (kind, _), row in groups.items() if kind is tie]
        return np.array(found, dtype=np.float64).reshape(-1, len(contacts))

    return Field(
        normals=normals,
        moments=moments,
        places=np.array([c.at for c in contacts], dtype=np.float64).reshape(-1, 2),
        limits=limits,
        together=stack(Tie.TOGETHER),
        rounds=stack(Tie.ROUND),
        rows=lines,
        constants=constants,
        tolerances=tolerances,
        spacing_mm=spacing_mm,
        free=free,
        faces=faces,
        one_push=one_push,
    )


def _load_about_middle(part: Part, load: Push) -> tuple[float, float, float]:
    """Return a load as the field counts it: its moment about the box's middle, over its size."""
    box = part.region.bounds()
    middle, size = box.centre, math.hypot(box.width, box.height) / 2
    fx, fy = load.along
    return fx, fy, ((load.at.x - middle.x) * fy - (load.at.y - middle.y) * fx) / size


def _feature_rows(
    features: tuple[Critical, ...], frame: tuple[FrameSource, ...], middle: Point, size: float
) -> tuple[Floats, Floats, Floats]:
    """Return the rows that can govern, with their constants and tolerances.

    Along x a feature's error depends on its y alone, and is convex in it; so a feature between
    two others, with no tighter tolerance and no greater constant, never governs.
    """
    lines: list[tuple[float, float, float]] = []
    constants: list[float] = []
    tolerances: list[float] = []
    for axis in (0, 1):
        along = []
        for c in features:
            lever = (-(c.at.y - middle.y), c.at.x - middle.x)[axis] / size
            constant = sum(f.limit * abs(f.moves(c.at)[axis]) for f in frame)
            along.append((lever, constant, c.tolerance_mm))
        along = sorted(set(along))
        for k, (lever, constant, tolerance) in enumerate(along):
            strict = [
                i
                for i, (_, c, t) in enumerate(along)
                if i != k and t <= tolerance and c >= constant
            ]
            if any(i < k for i in strict) and any(i > k for i in strict):
                continue
            lines.append((1.0, 0.0, lever) if axis == 0 else (0.0, 1.0, lever))
            constants.append(constant)
            tolerances.append(tolerance)
    return np.array(lines), np.array(constants), np.array(tolerances)


def _faces(candidates: tuple[Candidate, ...], fixed: int) -> Indices:
    """Return the number of the face of each contact, fixed ones each their own."""
    numbers: dict[tuple[int, int], int] = {}
    faces = [numbers.setdefault((c.loop, c.edge), len(numbers)) for c in candidates]
    return np.array([*faces, *range(len(numbers), len(numbers) + fixed)], dtype=np.int64)


def _search(
    field: Field,
    free: int,
    fixed: int,
    other: Other | None,
    runs: Runs | None,
) -> Found:
    """Return the best admissible triples that hold every fixed contact."""
    if fixed == 0:
        return best_three(field, other=other, runs=runs)
    held = np.arange(free, free + fixed)
    others = (
        np.arange(free)[:, None]
        if fixed == 2
        else np.column_stack(np.triu_indices(free, 1)).astype(np.int64)
    )
    triples = np.hstack((others, np.broadcast_to(held, (len(others), fixed))))
    return best_of(field, triples, other=other)


def _preferred(field: Field, triples: Indices, candidates: tuple[Candidate, ...]) -> int:
    """Return which of tied layouts to take: machined, long, straight faces, then wide spread."""
    finished = np.array([c.finished for c in candidates] + [False, False])
    length = np.array([c.face_length_mm for c in candidates] + [0.0, 0.0])
    straight = np.array([c.straight for c in candidates] + [False, False])
    # Fixed contacts stand at the end and are the same in every triple.
    ordered = np.sort(triples, axis=1)
    keys = (
        ordered[:, 2],
        ordered[:, 1],
        ordered[:, 0],
        -np.round(spread(field, triples), 9),
        -straight[triples].sum(axis=1),
        -np.round(length[triples].sum(axis=1), 6),
        -finished[triples].sum(axis=1),
    )
    return int(np.lexsort(keys)[0])


def _named(contacts: list[Contact], fixed: tuple[Contact, ...]) -> tuple[Contact, ...]:
    """Return the contacts in order, chosen ones named by the axis they hold: Y1, Y2, X1."""
    taken = {c.name for c in fixed}
    out = list(fixed)
    for letter in ("Y", "X"):
        mine = [
            c
            for c in contacts
            if c not in fixed and (abs(c.normal.y) >= abs(c.normal.x)) == (letter == "Y")
        ]
        number = 1
        for c in sorted(mine, key=lambda c: (c.at.x, c.at.y) if letter == "Y" else c.at[::-1]):
            while f"{letter}{number}" in taken:
                number += 1
            taken.add(f"{letter}{number}")
            out.append(replace(c, name=f"{letter}{number}"))
    return tuple(out)


def _worst(
    features: tuple[Critical, ...], contacts: tuple[Contact, ...], frame: tuple[FrameSource, ...]
) -> tuple[float, float]:
    """Return the greatest error, mm, and the greatest error over tolerance."""
    errors = critical_errors(features, contacts, frame=frame)
    return max(e.worst_mm for e in errors), max(e.worst_mm / e.tolerance_mm for e in errors)


def _nothing(
    part: Part, candidates: tuple[Candidate, ...], weighed: int, notes: list[Finding]
) -> Choice:
    """Return the empty choice and why it is empty."""
    round_part = _is_round(candidates)
    if len(candidates) == 0:
        message, hint = (
            "no place on the outline can be touched",
            "free an edge from machining, or take a smaller nose or corner distance",
        )
    elif round_part:
        message, hint = (
            "every normal meets in one point: no contact on this edge resists turning about it",
            "use a flat, a notch or a bore to hold the turn",
        )
    else:
        message, hint = (
            f"no three of {len(candidates)} places hold the part under the conditions set",
            "lessen the spacing, offer more edges, or do without the single push",
        )
    finding = Finding(
        code="turn-not-held" if round_part else "layout-none",
        severity=Severity.FAIL,
        subject=f'part "{part.name}": contacts',
        message=message,
        hint=hint,
    )
    return Choice(
        contacts=(),
        worst_mm=math.inf,
        worst_share=math.inf,
        runner_up=(),
        runner_up_worst_mm=math.inf,
        runner_up_share=math.inf,
        other_faces=False,
        loss_mm=math.inf,
        proven=True,
        candidates=len(candidates),
        weighed=weighed,
        tied=0,
        findings=(finding, *notes),
    )


def _is_round(candidates: tuple[Candidate, ...]) -> bool:
    """Return whether every place lies on arcs about one centre."""
    if not candidates or any(c.straight for c in candidates):
        return False
    centres = np.array(
        [
            (
                c.contact.at.x + c.contact.radius_mm * c.contact.normal.x,
                c.contact.at.y + c.contact.radius_mm * c.contact.normal.y,
            )
            for c in candidates
        ]
    )
    size = max(abs(c.contact.radius_mm) for c in candidates)
    return bool(np.ptp(centres, axis=0).max() <= 1e-6 * size)
