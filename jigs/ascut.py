"""From a few sizes measured on the real guide to where its walls really are.

What is not known of a cut plate is small and few: how far every wall stands proud of its
finished size (the kerf was not quite what the card says), how the axes' scales are off, and
what each wall does on its own. The card says how large each may be before anything is
measured; the readings narrow that down. Both are joined by generalised least squares with
prior knowledge, so that one reading already helps and ten are not over-trusted: a size
measured on the datum's own walls speaks for those, and less for the others.

From the walls follow the datum offsets (the face moved, and the part moved with the walls it
rests on), the clearances and their uncertainty. If the part still goes in and no wall has gone
too far, the guide serves with its new offsets and no recut is needed; else the kerf to recut
with is named.

Sources: Bayesian form of least squares (JCGM 101:2008, annex; any text on inverse problems);
pose from locator movements G q = δ (Asada & By 1985).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from jigs.guides.guide import CheckSize, Guide, SetBy
from jigs.locating.contacts import Contact, ContactKind
from jigs.locating.sources import COVERAGE_WORST
from jigs.walls import Walls, less
from kerf.beam import KerfCard
from kerf.contour import Floats, Point, Vector
from kerf.errors import InputError, InputErrors, ReadingError
from kerf.tolerance import AS_CUT_FAR_MM, AS_CUT_ON_WALL_MM, SCALE_UNKNOWN_U, WALL_OWN_U_MM


class Serves(StrEnum):
    """Whether the guide as cut may be used."""

    AS_IS = "as it is"  #: every check is within its limits
    RESET = "with the new offsets"  #: out of limits, but offsets can be corrected for it
    RECUT = "recut"  #: the part does not go in, or sits too loosely


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """One check size, as measured.

    Args:
        check: what was to be measured.
        measured_mm: mean of the readings, mm.
        u_mm: its standard uncertainty, mm.
        fitted_mm: the size once all readings are joined with what the card says, mm.
    """

    check: CheckSize
    measured_mm: float
    u_mm: float
    fitted_mm: float

    @property
    def off_mm(self) -> float:
        """Measured less nominal, mm."""
        return self.measured_mm - self.check.nominal_mm

    @property
    def is_within(self) -> bool:
        """Whether the size lies within the guide's limits."""
        return abs(self.off_mm) <= self.check.plus_minus_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class NewOffset:
    """A datum offset recomputed from the guide as cut.

    Args:
        axis, face: of the datum.
        was_mm, now_mm: offset as designed and as cut, mm.
        u_mm: standard uncertainty of the new one, pick-up included, mm.
        reading_mm: what the axis must read at touch now, mm.
    """

    axis: str
    face: str
    was_mm: float
    now_mm: float
    u_mm: float
    reading_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AsCut:
    """The guide as it came off the laser.

    Args:
        checked: the sizes.
        proud_mm, proud_u_mm: how far walls stand proud of finished size (negative: back).
        kerf_mm: the full kerf that this cut had, mm.
        offsets: datum offsets set by guide faces, recomputed.
        clearance_mm: least and greatest clearance per side at the walls that locate, mm.
        clearance_u_mm: greatest standard uncertainty among them, mm.
        contacts: the guide's contacts with what is left of the kerf's uncertainty.
        serves: the verdict.
        advice: the verdict in one or two sentences.
    """

    checked: tuple[Checked, ...]
    proud_mm: float
    proud_u_mm: float
    kerf_mm: float
    offsets: tuple[NewOffset, ...]
    clearance_mm: tuple[float, float]
    clearance_u_mm: float
    contacts: tuple[Contact, ...]
    serves: Serves
    advice: str


def as_cut(
    guide: Guide,
    card: KerfCard,
    measured_mm: dict[str, tuple[float, ...]],
    *,
    zero: Point,
    instrument_u_mm: float,
) -> AsCut:
    """Return the guide as cut.

    Args:
        guide: as designed, as it lies in use.
        card: the kerf it was cut with.
        measured_mm: readings of each check size, by its name; one or more each, mm.
        zero: program zero in the guide's coordinates, mm.
        instrument_u_mm: standard uncertainty of one reading from the instrument, mm, > 0.
    Raises:
        InputErrors: a name the guide does not have, an empty list, or nothing measured.
        ReadingError: a size so far off that another must have been measured.
    """
    if not instrument_u_mm > 0.0:
        raise InputError(f"the instrument's uncertainty must be above 0 mm, not {instrument_u_mm}")
    checks = _named(guide, measured_mm)
    walls = Walls(guide)
    rows, change, noise = [], [], []
    for check in checks:
        values = measured_mm[check.name]
        mean = math.fsum(values) / len(values)
        _check_sensible(check, mean)
        rows.append((check, mean))
        change.append(mean - check.nominal_mm)
        spread = 0.0
        if len(values) > 1:
            spread = math.fsum((v - mean) ** 2 for v in values) / (len(values) - 1) / len(values)
        noise.append(instrument_u_mm**2 + spread)
    # Every wall that will be asked about must be an unknown before the fit.
    for check, _ in rows:
        walls.movement(check.start, check.plate), walls.movement(check.end, check.plate)
    ask = _Asked(guide, walls, zero)
    scale_u = card.u_scale or SCALE_UNKNOWN_U
    prior = np.concatenate(
        (
            [(card.u_mm / 2) ** 2, scale_u**2, scale_u**2],
            np.full(len(walls.known), WALL_OWN_U_MM**2),
        )
    )
    sense = np.array([walls.size_row(check.start, check.end, check.plate) for check, _ in rows])
    pull = (prior[:, None] * sense.T) @ np.linalg.inv(
        sense @ (prior[:, None] * sense.T) + np.diag(noise)
    )
    state = pull @ np.array(change)
    spread_ = np.diag(prior) - pull @ (sense * prior)

    def told(row: Floats) -> tuple[float, float]:
        return float(row @ state), math.sqrt(max(0.0, float(row @ spread_ @ row)))

    checked = tuple(
        Checked(
            check=check,
            measured_mm=mean,
            u_mm=math.sqrt(variance),
            fitted_mm=check.nominal_mm + told(row)[0],
        )
        for (check, mean), variance, row in zip(rows, noise, sense, strict=True)
    )
    proud, proud_u = float(state[0]), math.sqrt(max(0.0, float(spread_[0, 0])))
    offsets = []
    for datum, face_row in ask.faces:
        moved, u = told(walls.padded(face_row))
        finder_u2 = max(0.0, datum.u_mm**2 - (card.u_mm / 2) ** 2)
        offsets.append(
            NewOffset(
                axis=datum.axis,
                face=datum.face,
                was_mm=datum.offset_mm,
                now_mm=datum.offset_mm + moved,
                u_mm=math.sqrt(finder_u2 + u * u),
                reading_mm=datum.reading_mm + moved,
            )
        )
    gaps = [told(walls.padded(row)) for row in ask.gaps]
    clear = [guide.clearance_mm + gap for gap, _ in gaps] or [guide.clearance_mm - proud]
    clear_u = max((u for _, u in gaps), default=proud_u)
    serves, advice = _verdict(guide, card, checked, proud, min(clear), max(clear), clear_u)
    return AsCut(
        checked=checked,
        proud_mm=proud,
        proud_u_mm=proud_u,
        kerf_mm=card.kerf_mm - 2 * proud,
        offsets=tuple(offsets),
        clearance_mm=(min(clear), max(clear)),
        clearance_u_mm=clear_u,
        contacts=tuple(
            _narrowed(contact, u) for contact, u in zip(guide.contacts, ask.us(told), strict=True)
        ),
        serves=serves,
        advice=advice,
    )


def _named(guide: Guide, measured_mm: dict[str, tuple[float, ...]]) -> tuple[CheckSize, ...]:
    """Return the checks that were measured, in the guide's order; refuse strange names."""
    names = [check.name for check in guide.checks]
    faults = [
        InputError(
            f'"{name}" is no check size of this guide',
            where="measured sizes",
            hint="check sizes: " + ", ".join(f'"{known}"' for known in names),
        )
        for name in measured_mm
        if name not in names
    ]
    faults += [
        InputError(f'"{name}" has no reading', where="measured sizes")
        for name, values in measured_mm.items()
        if not values
    ]
    if not measured_mm:
        faults.append(
            InputError(
                "nothing was measured",
                hint="measure at least one of: " + ", ".join(f'"{known}"' for known in names),
            )
        )
    if faults:
        raise InputErrors(tuple(faults))
    return tuple(check for check in guide.checks if check.name in measured_mm)


def _check_sensible(check: CheckSize, mean_mm: float) -> None:
    """Refuse a reading that belongs to another size or unit."""
    off = mean_mm - check.nominal_mm
    if abs(off) <= AS_CUT_FAR_MM:
        return
    inch = abs(mean_mm * 25.4 - check.nominal_mm) <= AS_CUT_FAR_MM
    raise ReadingError(
        f'"{check.name}" reads {mean_mm:.3f} mm where the guide is {check.nominal_mm:.3f} mm: '
        f"off by {off:+.3f} mm, more than any cut can be",
        hint="that is its size in inches: give the readings their unit"
        if inch
        else "was another size measured, or is a digit wrong?",
    )


class _Asked:
    """What is to be known of the walls: datum faces, contacts, clearances."""

    def __init__(self, guide: Guide, walls: Walls, zero: Point) -> None:
        plate = guide.plates[0]
        to_sheet = plate.to_part.inverse()
        self._walls = walls
        # What locates lies on the first plate; of several, the others carry or clear.
        self._first = plate.name
        # Wall contacts stand on the guide's own walls; pins and jaws are not laser-cut.
        self._contact_rows: list[dict[int, float] | None] = []
        normals: list[tuple[Point, Vector]] = []
        for contact in guide.contacts:
            at = to_sheet.point(*contact.at)
            normal = to_sheet.vector(*contact.normal)
            row = self._try_row(guide, contact) if contact.kind is ContactKind.WALL else None
            self._contact_rows.append(row)
            if contact.kind is not ContactKind.SUPPORT:
                normals.append((at, normal))
        moves = [
            row or {}
            for row, contact in zip(self._contact_rows, guide.contacts, strict=True)
            if contact.kind is not ContactKind.SUPPORT
        ]
        self.gaps: list[dict[int, float]] = [
            less({}, row) for row in self._contact_rows if row is not None
        ]
        if not normals:
            self.gaps = self._pocket_gaps(guide)
        self.faces = []
        for datum in guide.datums:
            if datum.set_by is not SetBy.GUIDE_FACE:
                continue
            face = next((f for f in guide.faces if f"face {f.name}" == datum.face), None)
            if face is None:
                continue
            axis = Vector(1.0, 0.0) if abs(face.normal.x) > abs(face.normal.y) else Vector(0.0, 1.0)
            middle = Point((face.start.x + face.end.x) / 2, (face.start.y + face.end.y) / 2)
            face_row = walls.row(middle, axis, face.plate)
            part_row = (
                _part_row(normals, moves, zero, axis) if normals else self._centre_row(guide, axis)
            )
            self.faces.append((datum, less(face_row, part_row)))

    def us(self, told: object) -> list[float | None]:
        """Return each contact's own standard uncertainty, mm; None where it is not laser-cut."""
        assert callable(told)
        return [
            None if row is None else told(self._walls.padded(row))[1] for row in self._contact_rows
        ]

    def _try_row(self, guide: Guide, contact: Contact) -> dict[int, float] | None:
        """Return the row of a contact on the wall of its plate; None when no wall is there."""
        plate = next(
            (p for p in guide.plates if p.touches is None or contact.name in p.touches), None
        )
        if plate is None:
            return None
        lay = plate.to_part.inverse()
        at, normal = lay.point(*contact.at), lay.vector(*contact.normal)
        try:
            return self._walls.row(at, normal, plate.name)
        except InputError:
            return None

    def _pocket_gaps(self, guide: Guide) -> list[dict[int, float]]:
        """Return how the clearance changes at the four sides of the pocket about its middle."""
        return [
            less(
                {}, less(self._walls.row(at, inward, self._first), self._scale_row(middle, inward))
            )
            for at, inward, middle in self._sides(guide)
        ]

    def _centre_row(self, guide: Guide, axis: Vector) -> dict[int, float]:
        """Return how the middle of the pocket moves along an axis: half of both sides' moves."""
        out: dict[int, float] = {}
        for at, inward, _ in self._sides(guide):
            if abs(inward.x * axis.x + inward.y * axis.y) > 0.5:
                for key, value in self._walls.row(at, axis, self._first).items():
                    out[key] = out.get(key, 0.0) + value / 2
        return out

    def _sides(self, guide: Guide) -> list[tuple[Point, Vector, Point]]:
        """Return a place on each side of the pocket, the direction into it, and its middle.

        Ends of check sizes are preferred: they lie on walls that locate, where an extreme
        point of the pocket may lie in a finger notch.
        """
        holes = guide.plates[0].region.holes
        if not holes:
            return []
        pocket = max(holes, key=lambda loop: loop.area_mm2)
        box = pocket.bounds()
        middle = box.centre
        ends = [
            (end, self._walls.movement(end, self._first)[0])
            for check in guide.checks
            for end in (check.start, check.end)
            if pocket.nearest(*end)[2] <= AS_CUT_ON_WALL_MM
        ]
        sides = []
        for x, y, into in (
            (box.x_min, middle.y, Vector(1.0, 0.0)),
            (box.x_max, middle.y, Vector(-1.0, 0.0)),
            (middle.x, box.y_min, Vector(0.0, 1.0)),
            (middle.x, box.y_max, Vector(0.0, -1.0)),
        ):
            facing = [p for p, n in ends if n.x * into.x + n.y * into.y > 0.99]
            sides.append((facing[0] if facing else pocket.nearest(x, y)[1], into, middle))
        return sides

    @staticmethod
    def _scale_row(at: Point, direction: Vector) -> dict[int, float]:
        return {1: at.x * direction.x, 2: at.y * direction.y}


def _part_row(
    normals: list[tuple[Point, Vector]], moves: list[dict[int, float]], zero: Point, axis: Vector
) -> dict[int, float]:
    """Return how the part's zero point moves along an axis when its contacts move (G q = δ)."""
    g = np.array([[n.x, n.y, p.x * n.y - p.y * n.x] for p, n in normals])
    at_zero = np.array([axis.x, axis.y, zero.x * axis.y - zero.y * axis.x])
    shares = at_zero @ np.linalg.pinv(g)
    out: dict[int, float] = {}
    for share, move in zip(shares, moves, strict=True):
        for key, value in move.items():
            out[key] = out.get(key, 0.0) + float(share) * value
    return out


def _narrowed(contact: Contact, u_mm: float | None) -> Contact:
    """Return the contact with its kerf source cut down to what is left of it."""
    if u_mm is None:
        return contact
    return replace(
        contact,
        sources=tuple(
            replace(source, u_mm=u_mm, limit_mm=COVERAGE_WORST * u_mm)
            if source.name == "kerf"
            else source
            for source in contact.sources
        ),
    )


def _verdict(
    guide: Guide,
    card: KerfCard,
    checked: tuple[Checked, ...],
    proud_mm: float,
    least_mm: float,
    greatest_mm: float,
    u_mm: float,
) -> tuple[Serves, str]:
    """Return whether the guide serves, and why, in words."""
    room = max(check.plus_minus_mm for check in guide.checks)
    kerf = card.kerf_mm - 2 * proud_mm
    recut = (
        f"recut with a kerf of {kerf:.3f} mm ({kerf - card.kerf_mm:+.3f} mm on the card's "
        f"{card.kerf_mm:.3f} mm), which moves every wall by {abs(proud_mm):.3f} mm"
    )
    if guide.clearance_mm > 0.0 and least_mm < 0.0:
        return Serves.RECUT, f"the part does not go in: clearance is {least_mm:.3f} mm; {recut}"
    if greatest_mm > guide.clearance_mm + room + 2 * u_mm:
        return Serves.RECUT, (
            f"the part sits too loosely: clearance is {greatest_mm:.3f} mm where "
            f"{guide.clearance_mm:.3f} mm was asked; {recut}"
        )
    if all(one.is_within for one in checked):
        return Serves.AS_IS, "every size is within its limits; the new offsets are closer still"
    worst = max(checked, key=lambda one: abs(one.off_mm) - one.check.plus_minus_mm)
    return Serves.RESET, (
        f'"{worst.check.name}" is off by {worst.off_mm:+.3f} mm (± {worst.check.plus_minus_mm:.3f} '
        "mm allowed), but the part still goes in: set the new offsets, no recut is needed"
    )
