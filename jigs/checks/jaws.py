"""What a vise's jaws do to the part and to themselves, and what a machinist would say of it.

Clamping shortens the part, bows it where the jaws press off its middle, may buckle it; it
presses on part and jaws, and the moving jaw tilts back and lifts. A lift that the shop has
measured counts before the one that is worked out; one that rests on assumed figures of the
vise is told as a note, for it says to measure.

Source: the share of strength that jaws may press with, common practice.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from jigs.finding import Finding, Severity
from jigs.guides.guide import Guide
from jigs.guides.vise import LEAST_GRIP_MM
from jigs.holding.clamp import Squeeze, ViseGrip, squeeze
from jigs.holding.hold import Hold
from jigs.holding.holding import force_text
from jigs.holding.jaw_lift import JawLift, jaw_lift
from jigs.holding.materials import ALUMINIUM_HARDENED, WorkMaterial
from jigs.holding.means import Mill
from jigs.part import Part

#: Jaws that press with more than this share of the weaker one's strength mark it.
MARKS: Final = 0.5
#: Soft jaws are bars of hardened aluminium. Source: common practice.
_SOFT: Final = ALUMINIUM_HARDENED


def fault(
    code: str, message: str, hint: str, subject: str, severity: Severity = Severity.FAIL
) -> Finding:
    """Return a finding that carries no measured value."""
    return Finding(code=code, severity=severity, subject=subject, message=message, hint=hint)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pressing:
    """What clamping does to part and jaws.

    Args:
        pressure_mpa: greatest of the jaws on the part, MPa: evenly spread by hard jaws, falling
            to nothing at the top of soft ones.
        spread: how that is taken to be spread, in words.
        allowed_mpa: strength of the weaker of part and jaw, MPa; None when not known.
        weaker: which of them that is, in words.
        squeezed: what clamping does to the part; None when its material is not known.
        lift: what the moving jaw does, worked out; None when the mill's jaws are not known.
        measured_mm: how far it lifts the part by the shop's indicator, mm; None when nobody
            measured.
        assumed: figures of the moving jaw that are assumed, in words; empty when measured.
    """

    pressure_mpa: float
    spread: str
    allowed_mpa: float | None
    weaker: str
    squeezed: Squeeze | None
    lift: JawLift | None
    measured_mm: float | None
    assumed: tuple[str, ...]

    @property
    def lifts_mm(self) -> float | None:
        """How far the moving jaw lifts its side of the part, mm; None when nobody can say."""
        if self.measured_mm is not None:
            return self.measured_mm
        return self.lift.lifts_mm if self.lift is not None else None


def pressing(
    grip: ViseGrip,
    hold: Hold,
    mill: Mill | None,
    material: WorkMaterial | None,
    *,
    tall_mm: float,
) -> Pressing:
    """Return what clamping does to part and jaws.

    Args:
        grip: the vise on the part.
        hold: what the job says.
        mill: whose vise it is.
        material: of the part; None when the table does not know it.
        tall_mm: of the part as it stands in the vise.
    """
    across = abs(grip.fixed_mm - grip.moving_mm)
    bodies = [(material.strength_mpa, "the part")] if material is not None else []
    if hold.soft:
        bodies.append((_SOFT.strength_mpa, "the soft jaws"))
    allowed, weaker = min(bodies, default=(None, ""))
    pressed = grip.grip_mm / 3 if hold.soft else grip.grip_mm / 2
    squeezed = None
    if material is not None:
        squeezed = squeeze(
            force_n=grip.force_n,
            across_mm=across,
            length_mm=grip.length_mm,
            height_mm=tall_mm,
            grip_mm=grip.grip_mm,
            modulus_mpa=material.modulus_mpa,
            pressed_mm=pressed,
        )
    lift: JawLift | None = None
    assumed: tuple[str, ...] = ()
    if mill is not None and mill.jaw_height_mm > 0:
        lift = jaw_lift(
            mill.moving_jaw,
            force_n=grip.force_n,
            at_mm=mill.jaw_height_mm - grip.grip_mm + pressed,
            across_mm=across,
            grip_mm=grip.grip_mm,
        )
        assumed = mill.moving_jaw.assumed
    measured = mill.jaw_lift_mm if mill is not None else None
    even = grip.force_n / sum(region.area_mm2 for region in grip.bears_on())
    return Pressing(
        pressure_mpa=even * (2.0 if hold.soft else 1.0),
        spread="at the foot of their grip, falling to nothing at its top"
        if hold.soft
        else "evenly over what they bear on",
        allowed_mpa=allowed,
        weaker=weaker,
        squeezed=squeezed,
        lift=lift,
        measured_mm=measured,
        assumed=assumed if measured is None else (),
    )


def check_squeezed(guide: Guide, part: Part, subject: str) -> list[Finding]:
    """Return a failed check when the vise closes on the guide instead of the part."""
    if guide.jaws is None:
        return []
    thick = max(plate.thickness_mm for plate in guide.plates)
    if guide.jaws.squeezed == "plate":
        return [
            fault(
                "guide-squeezed",
                "the guide is the spacer between the jaws, so the vise grips the guide and does "
                "not hold the part",
                "leave spacer out and take a thinner sheet, or hold the part by something else",
                subject,
            )
        ]
    if thick < part.height_mm:
        return []
    return [
        fault(
            "guide-squeezed",
            f"the guide is {thick:.2f} mm thick and the part {part.height_mm:.2f} mm: the jaws "
            "close on the guide, and nothing holds the part",
            "take a thinner sheet, or hold the part another way",
            subject,
        )
    ]


def check_jaws(
    grip: ViseGrip,
    made: Pressing,
    hold: Hold,
    mill: Mill | None,
    *,
    tall_mm: float,
    subject: str,
) -> list[Finding]:
    """Return what a machinist would say of the part in this vise."""
    return [
        *_check_size(grip, hold, mill, tall_mm, subject),
        *_check_pressure(grip, made, subject),
        *_check_lift(grip, made, hold, mill, subject),
        *_check_bends(grip, made.squeezed, hold, subject),
    ]


def _check_size(
    grip: ViseGrip, hold: Hold, mill: Mill | None, tall_mm: float, subject: str
) -> list[Finding]:
    """Return whether the vise opens far enough, and grips high enough."""
    findings = []
    across = abs(grip.fixed_mm - grip.moving_mm)
    if mill is not None and 0 < mill.jaw_opening_mm < across:
        findings.append(
            Finding(
                code="vise-narrow",
                severity=Severity.FAIL,
                subject=subject,
                message=f"the part is {across:.1f} mm across the jaws; the vise of {mill.name} "
                f"opens {mill.jaw_opening_mm:.1f} mm",
                measured=across,
                limit=mill.jaw_opening_mm,
                unit="mm",
                hint="turn the part, or take another vise",
            )
        )
    if grip.grip_mm < LEAST_GRIP_MM:
        deeper = "cut the step deeper" if hold.step_mm else "take lower parallels"
        findings.append(
            Finding(
                code="grip-low",
                severity=Severity.WARN,
                subject=subject,
                message=f"the part is gripped by {grip.grip_mm:.2f} mm of its {tall_mm:.1f} mm; "
                f"at least {LEAST_GRIP_MM:.0f} mm is sure",
                measured=grip.grip_mm,
                limit=LEAST_GRIP_MM,
                unit="mm",
                hint=f"{deeper}, or serrated jaws",
            )
        )
    return findings


def _check_pressure(grip: ViseGrip, made: Pressing, subject: str) -> list[Finding]:
    """Return whether jaws or part are marked, or crushed."""
    if made.allowed_mpa is None or made.pressure_mpa <= MARKS * made.allowed_mpa:
        return []
    crushed = made.pressure_mpa > made.allowed_mpa
    most = grip.force_n * MARKS * made.allowed_mpa / made.pressure_mpa
    return [
        Finding(
            code="jaws-crush" if crushed else "jaws-mark",
            severity=Severity.FAIL if crushed else Severity.WARN,
            subject=subject,
            message=f"the jaws press with {made.pressure_mpa:.0f} MPa {made.spread}: "
            f"{made.weaker} {'give way' if crushed else 'may be marked'} "
            f"({made.allowed_mpa:.0f} MPa)",
            measured=made.pressure_mpa,
            limit=MARKS * made.allowed_mpa,
            unit="MPa",
            hint=f"tighten to no more than {force_text(most)}, or grip over more height or length",
        )
    ]


def _check_lift(
    grip: ViseGrip, made: Pressing, hold: Hold, mill: Mill | None, subject: str
) -> list[Finding]:
    """Return what the moving jaw does to the height of the part."""
    lifts = made.lifts_mm
    if mill is None or lifts is None or lifts <= hold.bow_mm:
        return []
    lift, severity = made.lift, Severity.WARN
    if made.measured_mm is not None or lift is None:
        message = (
            f"the moving jaw of {mill.name} lifts a part by {lifts:.3f} mm (by the shop's "
            f"indicator); {hold.bow_mm:.3f} mm is allowed"
        )
        hint = "seat the part with a soft mallet while tightening, and try the parallels"
    else:
        if made.assumed:
            severity = Severity.NOTE
        assumed = f"; assumed: {', '.join(made.assumed)}" if made.assumed else ""
        message = (
            f"worked out, the moving jaw of {mill.name} tilts back by "
            f"{math.degrees(lift.tilt_rad):.3f}° under {force_text(grip.force_n)} and takes its "
            f"side of the part up by {lifts:.3f} mm, the middle by {lifts / 2:.3f} mm, with up to "
            f"{force_text(lift.uplift_n)}; {hold.bow_mm:.3f} mm is allowed{assumed}"
        )
        hint = (
            "tap the part down with a soft mallet while tightening and feel that no parallel "
            "slides; put an indicator on the part and write what it rises as jaw_lift"
        )
    return [
        Finding(
            code="jaw-lifts",
            severity=severity,
            subject=subject,
            message=message,
            measured=lifts,
            limit=hold.bow_mm,
            unit="mm",
            hint=hint,
        )
    ]


def _check_bends(
    grip: ViseGrip, squeezed: Squeeze | None, hold: Hold, subject: str
) -> list[Finding]:
    """Return whether clamping buckles, bows or shortens the part too far."""
    if squeezed is None:
        return []
    bends = max(squeezed.bows_mm, squeezed.shortens_mm)
    if grip.force_n > squeezed.buckles_n / 2:
        return [
            fault(
                "part-buckles",
                f"clamping at {force_text(grip.force_n)} is over half of what buckles the "
                f"part, {force_text(squeezed.buckles_n)}",
                "tighten less, or hold the part flat on tape",
                subject,
            )
        ]
    if bends <= hold.bow_mm:
        return []
    bows = squeezed.bows_mm >= bends
    most = grip.force_n * hold.bow_mm / bends
    return [
        Finding(
            code="part-bends",
            severity=Severity.WARN,
            subject=subject,
            message=f"clamping {'bows the part up' if bows else 'shortens the part'} by "
            f"{bends:.3f} mm; {hold.bow_mm:.3f} mm is allowed",
            measured=bends,
            limit=hold.bow_mm,
            unit="mm",
            hint=f"tighten to no more than {force_text(most)}"
            + (", or grip nearer the middle of its height" if bows else ""),
        )
    ]
