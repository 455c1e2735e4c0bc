"""A part in a vise: where the jaws find flat to grip, and what they do to it.

Where the sheet lies flat the jaws need straight edges that face them, on both sides and over
the same length; where it stands they press the part's own two faces. The force comes from the
job or from the mill, and from nowhere else.

Source: least grip and least flat, common practice.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from jigs.finding import Finding, Severity
from jigs.guides.guide import Guide, Plane
from jigs.holding.clamp import Squeeze, ViseGrip, squeeze
from jigs.holding.hold import Hold
from jigs.holding.holding import force_text
from jigs.holding.materials import WorkMaterial
from jigs.holding.means import Mill
from jigs.part import Part
from jigs.setup import Setup
from kerf.contour import Region, Transform
from kerf.tolerance import JAW_TOUCH_MM, SQUARE_RAD

#: A flat shorter than this gives a jaw nothing to bear on, mm. Source: common practice.
LEAST_FLAT_MM: Final = 5.0
#: A part gripped by less than this is hardly gripped, mm. Source: common practice.
LEAST_GRIP_MM: Final = 3.0


def fault(
    code: str, message: str, hint: str, subject: str, severity: Severity = Severity.FAIL
) -> Finding:
    """Return a finding that carries no measured value."""
    return Finding(code=code, severity=severity, subject=subject, message=message, hint=hint)


@dataclass(frozen=True, slots=True, kw_only=True)
class Gripped:
    """A part between jaws.

    Args:
        grip: where and how it is gripped, y across the jaws; None when that cannot be judged.
        squeezed: what clamping does to it; None when that is not known.
        said: the assumptions, in words.
        findings: of the vise.
    """

    grip: ViseGrip | None = None
    squeezed: Squeeze | None = None
    said: str = ""
    findings: tuple[Finding, ...] = ()


def in_vise(
    part: Part,
    setup: Setup,
    hold: Hold,
    mill: Mill | None,
    guide: Guide,
    material: WorkMaterial | None,
    *,
    subject: str,
) -> Gripped:
    """Return how a vise grips the part.

    Args:
        part, setup, guide: of the set-up.
        hold: what the job says.
        mill: whose vise it is; None when the shop lists none.
        material: of the part; None when the table does not know it.
        subject: for messages.
    """
    force = hold.force_n
    if force is None and mill is not None and mill.clamp_force_n > 0:
        force = mill.clamp_force_n
    if force is None:
        unknown = fault(
            "vise-force",
            "nobody says how hard the vise grips, so holding was not judged",
            'write clamp_force = "6 kN" in [setup.holding], or for the [[mill]]',
            subject,
            Severity.WARN,
        )
        return Gripped(findings=(unknown,))
    stands = guide.plane is not Plane.XY
    findings = _check_squeezed(guide, part, subject) if stands else []
    lying = part.region.transformed(setup.pose())
    if not stands and hold.jaws == "X":
        lying = lying.transformed(Transform(a=0.0, b=1.0, d=1.0, e=0.0))
    box = lying.bounds()
    tall = box.height if stands else part.height_mm
    grip_mm = min(hold.grip_mm or (mill.jaw_height_mm if mill else 0.0) or tall, tall)
    if stands:
        left, right, fixed, moving = box.x_min, box.x_max, 0.0, part.height_mm
    else:
        moving, fixed = box.y_min, box.y_max
        flats = [_flat(lying, box.y_max, 1.0), _flat(lying, box.y_min, -1.0)]
        left, right = max(f[0] for f in flats), min(f[1] for f in flats)
    if mill is not None and mill.jaw_width_mm > 0 and right - left > mill.jaw_width_mm:
        middle = (left + right) / 2
        left, right = middle - mill.jaw_width_mm / 2, middle + mill.jaw_width_mm / 2
    if right - left < LEAST_FLAT_MM:
        findings.append(
            fault(
                "vise-no-flat",
                f"the jaws find only {max(0.0, right - left):.1f} mm of flat common to both sides "
                f"of the part; at least {LEAST_FLAT_MM:.0f} mm is asked",
                "turn the part, use soft jaws cut to its outline, or hold it by clamps",
                subject,
            )
        )
        return Gripped(findings=tuple(findings))
    grip = ViseGrip(
        force_n=force,
        friction=hold.friction,
        left_mm=left,
        right_mm=right,
        fixed_mm=fixed,
        moving_mm=moving,
        grip_mm=grip_mm,
    )
    across = abs(fixed - moving)
    squeezed = None
    if material is not None:
        squeezed = squeeze(
            force_n=force,
            across_mm=across,
            length_mm=grip.length_mm,
            height_mm=tall,
            grip_mm=grip_mm,
            modulus_mpa=material.modulus_mpa,
        )
    findings += _check_vise(grip, squeezed, across, tall, hold, mill, subject)
    return Gripped(
        grip=grip,
        squeezed=squeezed,
        findings=tuple(findings),
        said=f"vise at {force_text(force)}, friction {hold.friction:.2f}, "
        f"gripped {grip_mm:.1f} mm high over {grip.length_mm:.1f} mm, on parallels or pads",
    )


def _flat(lying: Region, y: float, side: float) -> tuple[float, float]:
    """Return the ends along x of what of the outline lies flat against a jaw at y."""
    xs: list[float] = []
    for edge in lying.outer.edges():
        level = abs(edge.end.y - edge.start.y) <= SQUARE_RAD * abs(edge.end.x - edge.start.x)
        near = side * (y - edge.start.y) < JAW_TOUCH_MM and side * (y - edge.end.y) < JAW_TOUCH_MM
        if edge.is_line and level and near:
            xs += [edge.start.x, edge.end.x]
    return (min(xs), max(xs)) if xs else (0.0, 0.0)


def _check_squeezed(guide: Guide, part: Part, subject: str) -> list[Finding]:
    """Return a failed check when the vise closes on the guide instead of the part."""
    if guide.jaws is None or guide.jaws.squeezed != "part":
        return []
    thick = max(plate.thickness_mm for plate in guide.plates)
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


def _check_vise(
    grip: ViseGrip,
    squeezed: Squeeze | None,
    across_mm: float,
    tall_mm: float,
    hold: Hold,
    mill: Mill | None,
    subject: str,
) -> list[Finding]:
    """Return what a machinist would say of the part in this vise."""
    findings = []
    if mill is not None and 0 < mill.jaw_opening_mm < across_mm:
        findings.append(
            Finding(
                code="vise-narrow",
                severity=Severity.FAIL,
                subject=subject,
                message=f"the part is {across_mm:.1f} mm across the jaws; the vise of {mill.name} "
                f"opens {mill.jaw_opening_mm:.1f} mm",
                measured=across_mm,
                limit=mill.jaw_opening_mm,
                unit="mm",
                hint="turn the part, or take another vise",
            )
        )
    if grip.grip_mm < LEAST_GRIP_MM:
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
                hint="take lower parallels, or serrated jaws",
            )
        )
    if mill is not None and mill.jaw_lift_mm > hold.bow_mm:
        findings.append(
            Finding(
                code="jaw-lifts",
                severity=Severity.WARN,
                subject=subject,
                message=f"the moving jaw of {mill.name} lifts a part by {mill.jaw_lift_mm:.3f} mm; "
                f"{hold.bow_mm:.3f} mm is allowed",
                measured=mill.jaw_lift_mm,
                limit=hold.bow_mm,
                unit="mm",
                hint="seat the part with a soft mallet while tightening, and try the parallels",
            )
        )
    if squeezed is not None:
        bends = max(squeezed.bows_mm, squeezed.shortens_mm)
        if grip.force_n > squeezed.buckles_n / 2:
            findings.append(
                fault(
                    "part-buckles",
                    f"clamping at {force_text(grip.force_n)} is over half of what buckles the "
                    f"part, {force_text(squeezed.buckles_n)}",
                    "tighten less, or hold the part flat on tape",
                    subject,
                )
            )
        elif bends > hold.bow_mm:
            what = "bows the part up" if squeezed.bows_mm >= bends else "shortens the part"
            findings.append(
                Finding(
                    code="part-bends",
                    severity=Severity.WARN,
                    subject=subject,
                    message=f"clamping {what} by {bends:.3f} mm; {hold.bow_mm:.3f} mm is allowed",
                    measured=bends,
                    limit=hold.bow_mm,
                    unit="mm",
                    hint="tighten less, or grip nearer the middle of its height",
                )
            )
    return findings
