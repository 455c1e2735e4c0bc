"""Whether what a guide does about the lean of its walls serves: edge known, edge reached, marks.

A leaning wall is at finished size at its proud edge alone. The part touches there only when it
reaches that high, or that low; if not, it touches further in, where the wall stands back by the
share of the lean that lies between, and sits that much off its place.

Source: similar triangles along a straight wall; that a laser wall is straight is taken from
common practice.
"""

from __future__ import annotations

from jigs.finding import Finding, Severity
from jigs.guides.guide import Guide, Plate
from jigs.guides.vise import is_far
from jigs.part import Part
from jigs.setup import Setup
from jigs.shop import Sheet
from kerf.beam import KerfCard
from kerf.lean import Lean, LeanUse, wall_lean
from kerf.readings import Side
from kerf.tolerance import LEAN_UNREACHED_MM


def check_lean(
    part: Part, setup: Setup, guide: Guide, sheet: Sheet, card: KerfCard, *, subject: str
) -> tuple[Finding, ...]:
    """Return what is to be said of the lean of a guide's walls.

    Args:
        part: as this set-up sees it.
        setup: what was asked.
        guide: what was made.
        sheet, card: what it is cut from, and the kerf.
        subject: the guide, in the reader's words.
    """
    lean = wall_lean(card, thickness_mm=sheet.thickness_mm, use=setup.lean)
    findings = []
    if setup.lean is LeanUse.OPPOSED:
        findings += [*_check_known(lean, card, subject), *_check_read(sheet, subject)]
    plate = locating_plate(guide)
    if lean is not None and plate is not None:
        findings += _check_reached(part, setup, guide, plate, lean, subject)
    return tuple(findings)


def locating_plate(guide: Guide) -> Plate | None:
    """Return the plate whose walls locate the part; None when laser-cut walls do not."""
    if guide.base is not None or (guide.pocket is None and not guide.contacts):
        return None
    return next((p for p in guide.plates if not p.is_under and p.touches != ()), None)


def touch_mm(lean: Lean, plate: Plate, guide: Guide) -> float:
    """Return where the proud edge lies above the part's lower face, mm; negative when below it.

    Of a plate that stands in a vise it is the distance from the jaw on which part and plate lie.
    """
    if guide.jaws is not None:
        return 0.0 if lean.proud is on_fixed_jaw(guide, lean.up) else plate.thickness_mm
    return plate.low_mm - guide.seat_mm + (0.0 if lean.touches_low else plate.thickness_mm)


def on_fixed_jaw(guide: Guide, up: Side) -> Side:
    """Return which face of a plate that stands in a vise lies on the fixed jaw.

    Args:
        guide: with jaws.
        up: the face that looks at the eye.
    """
    return up if not is_far(guide) else Side.EXIT if up is Side.ENTRY else Side.ENTRY


def unreached_mm(lean: Lean, plate: Plate, guide: Guide, part: Part) -> float:
    """Return how far along the wall the part stays from the proud edge, mm; 0 when it reaches."""
    edge = touch_mm(lean, plate, guide)
    return max(0.0, edge - part.height_mm, -edge)


def _check_known(lean: Lean | None, card: KerfCard, subject: str) -> list[Finding]:
    """Return a finding when nobody knows the lean that is to be opposed."""
    if lean is not None:
        return []
    return [
        Finding(
            code="lean-unknown",
            severity=Severity.WARN,
            subject=f"{subject}: lean",
            message=(
                f"the lean is to be opposed, but kerf card {card.name} does not tell it: which "
                "edge of the walls the part touches, and how far the other stands back, is not "
                "known"
            ),
            hint="measure a coupon at both faces, and put entry and exit on the card",
        )
    ]


def _check_read(sheet: Sheet, subject: str) -> list[Finding]:
    """Return a note when the marks of a plate turned over cannot be read from above."""
    if sheet.is_clear:
        return []
    why = (
        f"nothing is read through {sheet.material}"
        if sheet.is_opaque
        else f'the shop file does not say whether sheet "{sheet.name}" is clear'
    )
    return [
        Finding(
            code="lean-marks-below",
            severity=Severity.NOTE,
            subject=f"{subject}: engraving",
            message=(
                f"{why}, so the marks are read on the engraved face, which lies away from you in "
                "use: read them before the plate is put in place"
            ),
            hint=""
            if sheet.is_opaque
            else "if marks are read through it, write clear = true at the sheet: then they are "
            "written to be read from above",
        )
    ]


def _check_reached(
    part: Part, setup: Setup, guide: Guide, plate: Plate, lean: Lean, subject: str
) -> list[Finding]:
    """Return a finding when the part does not reach the edge that is at finished size."""
    apart_mm = unreached_mm(lean, plate, guide, part)
    back_mm = lean.standoff_mm * min(1.0, apart_mm / plate.thickness_mm)
    if back_mm <= LEAN_UNREACHED_MM:
        return []
    edge = "lower edge" if lean.touches_low else "upper edge"
    if guide.jaws is not None:
        # The part lies on the fixed jaw, so it is the other edge that it may not reach.
        edge = "edge nearest the moving jaw"
    other = LeanUse.OPPOSED if setup.lean is LeanUse.ALLOWED else LeanUse.ALLOWED
    return [
        Finding(
            code="lean-unreached",
            severity=Severity.WARN,
            subject=f"{subject}: lean",
            message=(
                f"the walls of plate {plate.name} are at finished size at their {edge}, from "
                f"which the part stays {apart_mm:.2f} mm: it touches them where they stand back "
                f"{back_mm:.3f} mm, per side"
            ),
            measured=back_mm,
            limit=LEAN_UNREACHED_MM,
            unit="mm",
            hint=f'ask for lean = "{other.value}", or use a thinner sheet'
            if guide.jaws is not None
            else f'ask for lean = "{other.value}", raise or lower the part, or use a thinner sheet',
        )
    ]
