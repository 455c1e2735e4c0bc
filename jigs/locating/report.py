"""Does the part sit where it should: the one report the pipeline asks for.

First the contacts are held against the part (on its edge, normal into it, none twice), then
against each other (rank, freedoms, fights), and only a part that has one place gets numbers.
With more than three contacts the part rests on some three of them; which, the errors of the
locators decide. Given a push, every three it may rest on are weighed and the worst is told;
without one there is no number to give.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from jigs.finding import Finding, Severity
from jigs.locating.contacts import Contact, ContactKind, FrameSource, share_along
from jigs.locating.determinacy import Determinacy, plane_determinacy, space_determinacy
from jigs.locating.error import SHARE, CriticalError, check_share, critical_errors
from jigs.locating.heights import HeightError, height_errors, lean_frame
from jigs.locating.seating import Push, possible_seats
from jigs.locating.verdict import check_location
from jigs.part import Part
from kerf.contour import Region
from kerf.tolerance import (
    COINCIDENT_MM,
    CONTACT_NORMAL_RAD,
    CONTACT_ON_EDGE_MM,
    WEAK_CONDITIONING,
)

_LESSEN = "spread the contacts, touch a better edge, or lessen the leading cause"


@dataclass(frozen=True, slots=True, kw_only=True)
class LocatingReport:
    """What the contacts do for the part.

    Args:
        determined: the contacts in the plane leave the part no motion.
        free: motions left in the plane, in words; "turning about (30, 20)".
        fought: contacts that hold a motion twice, in words.
        conditioning: largest over smallest singular value of the locating matrix.
        length_scale_mm: the length turns were weighed with, mm.
        contacts: the contacts judged, as given.
        critical: the errors of the part's critical features; empty when the part has no one
            place.
        heights: errors across the sheet and the lean, when three supports carry a part that
            three contacts fix; ``critical`` holds the lean too, at the part's upper face.
        findings: what is wrong, in words.
    """

    determined: bool
    free: tuple[str, ...]
    fought: tuple[str, ...]
    conditioning: float
    length_scale_mm: float
    contacts: tuple[Contact, ...]
    critical: tuple[CriticalError, ...]
    heights: tuple[HeightError, ...]
    findings: tuple[Finding, ...]


def locating_report(
    part: Part,
    contacts: tuple[Contact, ...],
    *,
    share: float = SHARE,
    length_scale_mm: float | None = None,
    frame: tuple[FrameSource, ...] = (),
    push: Push | None = None,
) -> LocatingReport:
    """Return whether and how well the contacts locate the part.

    Args:
        part: the part, its outline, holes and critical features.
        contacts: contacts in the plane, and supports; the bore's centre for pins.
        share: share of each tolerance that location may use, above 0 and up to 1.
        length_scale_mm: length turns are weighed with; half the contacts' box when none.
        frame: causes that move the whole guide (pick-up, tram, growth).
        push: the finger or clamp that decides on which three of many contacts the part rests.
    Raises:
        InputError: the share lies outside (0, 1].
        GeometryError: the length scale is not above zero.
    """
    check_share(share)
    flat = tuple(c for c in contacts if c.kind is not ContactKind.SUPPORT)
    supports = tuple(c for c in contacts if c.kind is ContactKind.SUPPORT)
    sound = [*check_contacts(part.region, contacts)]
    plane = plane_determinacy(flat, length_scale_mm=length_scale_mm)
    findings = [*sound, *_check_freedom(part, flat, plane), *_check_supports(supports)]
    critical: tuple[CriticalError, ...] = ()
    stands = len(supports) == 3 and space_determinacy(supports).rank == 3
    if stands:
        frame = (*frame, *lean_frame(supports, height_mm=part.height_mm))
    if plane.determined and not any(f.severity is Severity.FAIL for f in sound):
        seats = (flat,) if len(flat) == 3 else possible_seats(flat, push) if push else ()
        if not seats:
            findings.append(_no_seat(part, plane, pushed=push is not None))
        else:
            findings += _check_sources(part, flat)
            critical = _worst_of(
                [critical_errors(part.critical, s, share=share, frame=frame) for s in seats]
            )
            findings += [
                f
                for c in critical
                for f in check_location(c, subject=f'feature "{c.name}"', hint=_LESSEN)
            ]
    heights: tuple[HeightError, ...] = ()
    if stands and critical and len(flat) == 3:
        heights = height_errors(part.critical, supports, flat, height_mm=part.height_mm)
    return LocatingReport(
        determined=plane.determined and not any(f.severity is Severity.FAIL for f in sound),
        free=plane.free,
        fought=plane.fought,
        conditioning=plane.conditioning,
        length_scale_mm=plane.length_scale_mm,
        contacts=contacts,
        critical=critical,
        heights=heights,
        findings=tuple(findings),
    )


def check_contacts(region: Region, contacts: Sequence[Contact]) -> list[Finding]:
    """Return what is wrong with contacts against the part's outline, each by itself."""
    findings = []
    for c in contacts:
        subject = f'contact "{c.name}"'
        where = f"({c.at.x:.3f}, {c.at.y:.3f})"
        if c.kind is ContactKind.SUPPORT:
            if region.distance_mm(c.at.x, c.at.y) > COINCIDENT_MM:
                findings.append(
                    _fail(
                        "support-off-part",
                        subject,
                        f"the support at {where} is not under the part",
                        hint="move the support under material, clear of holes",
                    )
                )
        elif c.holds_both_ways:
            if not any(hole.contains(c.at.x, c.at.y) for hole in region.holes):
                findings.append(
                    _fail(
                        "pin-off-bore",
                        subject,
                        f"the pin at {where} stands in no hole of the part",
                        hint="give the centre of a through hole as the pin's place",
                    )
                )
        else:
            findings += _check_wall(region, c, subject, where)
    for a, b in combinations(contacts, 2):
        apart = math.hypot(a.at.x - b.at.x, a.at.y - b.at.y)
        parallel = abs(a.normal.x * b.normal.y - a.normal.y * b.normal.x) <= CONTACT_NORMAL_RAD
        if apart <= CONTACT_ON_EDGE_MM and parallel and a.kind is b.kind:
            findings.append(
                _fail(
                    "contact-doubled",
                    f'contacts "{a.name}" and "{b.name}"',
                    f"both stand at ({a.at.x:.3f}, {a.at.y:.3f}) and hold the same motion",
                    measured=apart,
                    limit=CONTACT_ON_EDGE_MM,
                    hint="take one away, or move it along the edge",
                )
            )
    return findings


def _check_wall(region: Region, c: Contact, subject: str, where: str) -> list[Finding]:
    """Return what is wrong with a wall contact's place or normal."""
    off = math.inf
    turned = math.inf
    for loop in region.loops():
        for edge in loop.edges():
            point, distance = edge.nearest(c.at.x, c.at.y)
            off = min(off, distance)
            if distance <= CONTACT_ON_EDGE_MM:
                normal = edge.normal_at(share_along(edge, point))
                cross = normal.x * c.normal.y - normal.y * c.normal.x
                dot = normal.x * c.normal.x + normal.y * c.normal.y
                turned = min(turned, abs(math.atan2(cross, dot)))
    if off > CONTACT_ON_EDGE_MM:
        return [
            _fail(
                "contact-off-outline",
                subject,
                f"the contact at {where} is {off:.3f} mm off the part's outline",
                measured=off,
                limit=CONTACT_ON_EDGE_MM,
                hint="put it on the edge where the part touches",
            )
        ]
    if turned > CONTACT_NORMAL_RAD:
        return [
            Finding(
                code="contact-normal",
                severity=Severity.FAIL,
                subject=subject,
                message=f"its normal leans {math.degrees(turned):.2f}° from the edge's at {where}",
                measured=turned,
                limit=CONTACT_NORMAL_RAD,
                unit="rad",
                hint="the normal points into the part, square to the edge",
            )
        ]
    return []


def _check_freedom(part: Part, contacts: tuple[Contact, ...], plane: Determinacy) -> list[Finding]:
    """Return what the contacts leave free or hold twice."""
    subject = f'part "{part.name}": locating'
    findings = []
    if len(contacts) < 3:
        findings.append(
            Finding(
                code="contacts-too-few",
                severity=Severity.FAIL,
                subject=subject,
                message=f"{len(contacts)} contacts cannot hold the three motions of the plane",
                measured=float(len(contacts)),
                limit=3.0,
                hint="give three contacts: two along one face, one square to them",
            )
        )
    if not plane.determined:
        words = " and ".join(plane.free)
        verb = "is" if len(plane.free) == 1 else "are"
        round_part = len(contacts) >= 3 and all(c.radius_mm != 0 for c in contacts)
        findings.append(
            _fail(
                "part-free",
                subject,
                f"{words} {verb} free",
                hint="a round edge cannot resist turning about its centre; use a flat, a notch "
                "or a second bore"
                if round_part
                else "move or add a contact so that its normal resists this motion",
            )
        )
    elif plane.conditioning > WEAK_CONDITIONING:
        findings.append(
            Finding(
                code="locating-weak",
                severity=Severity.WARN,
                subject=subject,
                message=f"conditioning is {plane.conditioning:.0f} at a length scale of "
                f"{plane.length_scale_mm:.1f} mm: small locator errors turn the part a lot",
                measured=plane.conditioning,
                limit=WEAK_CONDITIONING,
                hint="spread the two contacts that share a face",
            )
        )
    findings += [
        Finding(
            code="locators-fight",
            severity=Severity.WARN,
            subject=subject,
            message=words,
            hint="take one away, or relieve it, so that the part rests on the others",
        )
        for words in plane.fought
    ]
    return findings


def _check_supports(supports: tuple[Contact, ...]) -> list[Finding]:
    """Return what supports under the part leave free or hold twice; none when there are none."""
    if not supports:
        return []
    rank = space_determinacy(supports).rank
    names = ", ".join(c.name for c in supports)
    if rank < 3:
        return [
            Finding(
                code="part-tilts",
                severity=Severity.FAIL,
                subject=f"supports {names}",
                message="they lie on one line or are fewer than three: the part can tilt",
                measured=float(rank),
                limit=3.0,
                hint="spread three supports under the part",
            )
        ]
    if len(supports) > 3:
        return [
            Finding(
                code="supports-rock",
                severity=Severity.WARN,
                subject=f"supports {names}",
                message=f"{len(supports)} supports: the part rests on three of them and may rock",
                measured=float(len(supports)),
                limit=3.0,
                hint="use three supports, or a flat plate under the whole part",
            )
        ]
    return []


def _no_seat(part: Part, plane: Determinacy, *, pushed: bool) -> Finding:
    """Return the finding that no three contacts can be named to carry the part."""
    return _fail(
        "part-not-seated",
        f'part "{part.name}": locating',
        "the push is not balanced by any three of the contacts"
        if pushed
        else f"more than three contacts ({'; '.join(plane.fought)}): nothing says on which three "
        "the part rests",
        hint="move the clamp so that it pushes toward two faces"
        if pushed
        else "say where a clamp or finger pushes, or take contacts away",
    )


def _check_sources(part: Part, contacts: tuple[Contact, ...]) -> list[Finding]:
    """Return a warning when a contact is said not to vary at all: no error could be told."""
    bare = [c.name for c in contacts if not any(s.limit_mm or s.u_mm for s in c.sources)]
    if not bare or not part.critical:
        return []
    return [
        Finding(
            code="variation-missing",
            severity=Severity.WARN,
            subject=f"contacts {', '.join(bare)}",
            message="no variation is stated, so that their error counts as none",
            hint="give the kerf's uncertainty and the part's edge tolerance",
        )
    ]


def _worst_of(seats: list[tuple[CriticalError, ...]]) -> tuple[CriticalError, ...]:
    """Return, for each feature, the seat with the greatest error."""
    return tuple(max(one, key=lambda c: c.worst_mm) for one in zip(*seats, strict=True))


def _fail(
    code: str,
    subject: str,
    message: str,
    *,
    measured: float | None = None,
    limit: float | None = None,
    hint: str,
) -> Finding:
    """Return a failing finding; its measure, if any, is in millimetres."""
    return Finding(
        code=code,
        severity=Severity.FAIL,
        subject=subject,
        message=message,
        measured=measured,
        limit=limit,
        unit="" if measured is None else "mm",
        hint=hint,
    )
