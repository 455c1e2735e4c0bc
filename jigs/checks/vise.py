"""A part in a vise: where the jaws find flat to grip, how high, and what they do to it.

Where the sheet lies flat the jaws need straight edges that face them, on both sides and over
the same length; soft jaws are cut to the outline, and grip wherever it faces them within 45°.
Where the sheet stands the jaws press the part's own two faces, from the part's lowest point up
to their top. The force comes from the job or from the mill, and from nowhere else.

A vise has no bed: a guide that lies flat lies on top of the jaws, about what stands out of them.

The jaws press at the middle of the gripped height. Soft jaws yield toward their top, where
nothing backs them, so their pressure is taken to fall to nothing there: they press at a third.

Source: least flat and the pressure of soft jaws, common practice.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

from jigs.checks.jaws import Pressing, check_jaws, check_squeezed, fault, pressing
from jigs.finding import Finding, Severity
from jigs.guides.guide import Guide, Plane
from jigs.guides.vise import is_far
from jigs.holding.clamp import ViseGrip
from jigs.holding.hold import Hold, HoldBy
from jigs.holding.holding import force_text
from jigs.holding.materials import WorkMaterial
from jigs.holding.means import Mill
from jigs.part import Part
from jigs.setup import Setup
from jigs.shop import Shop
from kerf.boolean import intersection
from kerf.contour import Contour, Region, Transform
from kerf.tolerance import COINCIDENT_MM, JAW_TOUCH_MM, ROUGH_FACET_MM, SQUARE_RAD

#: A flat shorter than this gives a jaw nothing to bear on, mm. Source: common practice.
LEAST_FLAT_MM: Final = 5.0
_ON_JAWS: Final = (
    "Lay the guide on top of the jaws, about what stands out of them, and keep it there while the "
    "vise is tightened."
)
#: Soft jaws bear where the outline faces them within this.
_FACES: Final = math.cos(math.radians(45.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Gripped:
    """A part between jaws.

    Args:
        grip: where and how it is gripped, y across the jaws; None when that cannot be judged.
        pressing: what clamping does to part and jaws; None without a grip.
        said: the assumptions, in words.
        findings: of the vise.
    """

    grip: ViseGrip | None = None
    pressing: Pressing | None = None
    said: str = ""
    findings: tuple[Finding, ...] = ()


def on_jaws(guide: Guide, part: Part, setup: Setup, shop: Shop) -> Guide:
    """Return a guide that lies flat on the jaws of the vise that will hold the part.

    A guide that is held some other way (bolted, a stack on its base, a machined plate) is
    returned as it is, and so is one that no vise is named for.

    Raises:
        InputError: a mill that the shop does not have.
    """
    hold = setup.hold
    if hold is None or hold.by is not HoldBy.VISE or guide.plane is not Plane.XY:
        return guide
    if guide.bolts or guide.stack is not None or guide.base is not None:
        return guide
    mill = shop.mill(setup.mill, where=setup.key_path + ".mill")
    return replace(
        guide,
        seat_mm=-_grip_mm(hold, _jaws_mm(mill, part), part.height_mm),
        words=(*guide.words, _ON_JAWS),
    )


def _grip_mm(hold: Hold, covered_mm: float, tall_mm: float) -> float:
    """Return the gripped height, mm: what the job says, at most what jaws cover and part has."""
    return min(hold.step_mm or hold.grip_mm or covered_mm, covered_mm, tall_mm)


def _jaws_mm(mill: Mill | None, part: Part) -> float:
    """Return the height of the jaws, mm; of the part where no jaws are known."""
    return (mill.jaw_height_mm if mill is not None else 0.0) or part.height_mm


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

    For a sheet that stands y runs from the eye to the far jaw: the part lies from minus its
    height to 0.

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
    findings = check_squeezed(guide, part, subject) if stands else _check_out(guide, part, subject)
    if findings:
        return Gripped(findings=tuple(findings))
    lying = part.region.transformed(setup.pose())
    if not stands and hold.jaws == "X":
        lying = lying.transformed(Transform(a=0.0, b=1.0, d=1.0, e=0.0))
    box = lying.bounds()
    tall = box.height if stands else part.height_mm
    covered = max(jaw_top_mm(guide, setup) - box.y_min, 0.0) if stands else _jaws_mm(mill, part)
    grip_mm = _grip_mm(hold, covered, tall)
    if stands:
        fixed, moving = (0.0, -part.height_mm) if is_far(guide) else (-part.height_mm, 0.0)
        bears = [(box.x_min, box.x_max)]
    else:
        moving, fixed = box.y_min, box.y_max
        sides = [(box.y_max, 1.0), (box.y_min, -1.0)]
        bears = _common(*(_facing(lying, s) if hold.soft else _flat(lying, y, s) for y, s in sides))
    if mill is not None and mill.jaw_width_mm > 0 and bears:
        middle, half = (bears[0][0] + bears[-1][1]) / 2, mill.jaw_width_mm / 2
        bears = _common(bears, [(middle - half, middle + half)])
    length = sum(b - a for a, b in bears)
    if length < LEAST_FLAT_MM:
        hint = "turn the part, or hold it by clamps"
        if not hold.soft:
            hint = "turn the part, use soft jaws cut to its outline, or hold it by clamps"
        findings.append(
            fault(
                "vise-no-flat",
                f"the jaws find only {length:.1f} mm of flat common to both sides of the part; at "
                f"least {LEAST_FLAT_MM:.0f} mm is asked",
                hint,
                subject,
            )
        )
        return Gripped(findings=tuple(findings))
    if grip_mm <= 0.0:
        return Gripped(findings=tuple(findings))  # the guide says that the jaws stand too low
    face = tuple(Region(outer=Contour.rectangle(a, 0.0, b - a, grip_mm)) for a, b in bears)
    if stands:
        standing = lying.transformed(Transform.translation(0.0, -box.y_min))
        face = tuple(piece for band in face for piece in intersection(standing, band))
    grip = ViseGrip(
        force_n=force,
        friction=hold.friction,
        left_mm=bears[0][0],
        right_mm=bears[-1][1],
        fixed_mm=fixed,
        moving_mm=moving,
        grip_mm=grip_mm,
        face=face,
    )
    made = pressing(grip, hold, mill, material, tall_mm=tall)
    findings += check_jaws(grip, made, hold, mill, tall_mm=tall, subject=subject)
    stood = f"on a step {hold.step_mm:.1f} mm deep" if hold.step_mm else "on parallels or pads"
    return Gripped(
        grip=grip,
        pressing=made,
        findings=tuple(findings),
        said=f"vise at {force_text(force)}, {'soft' if hold.soft else 'hard'} jaws, "
        f"{hold.friction_text}, gripped {grip_mm:.1f} mm high over {length:.1f} mm, "
        + ("in the guide" if stands else stood)
        + (", the guide on top of the jaws" if guide.seat_mm < 0.0 else ""),
    )


def _check_out(guide: Guide, part: Part, subject: str) -> list[Finding]:
    """Return a failed check when a guide on the jaws lies as high as the part."""
    if guide.seat_mm + part.height_mm > COINCIDENT_MM:
        return []
    return [
        fault(
            "part-sunk",
            f"the jaws grip all {part.height_mm:.1f} mm of the part, and the guide that lies on "
            "them touches nothing",
            f"grip less of it, grip = {part.height_mm / 2:.1f} in [setup.holding], and stand the "
            "part on higher parallels",
            subject,
        )
    ]


def jaw_top_mm(guide: Guide, setup: Setup) -> float:
    """Return the height of the jaws' top in the picture of a sheet that stands, mm."""
    to_setup = guide.plates[0].to_part.then(setup.pose())
    return max(to_setup.point(*rest.start).y for rest in guide.rests if rest.normal.y > 0)


def _flat(lying: Region, y: float, side: float) -> list[tuple[float, float]]:
    """Return where along x a part lies flat against a jaw at y, mm: spans in order."""
    spans: list[tuple[float, float]] = []
    for edge in lying.outer.edges():
        level = abs(edge.end.y - edge.start.y) <= SQUARE_RAD * abs(edge.end.x - edge.start.x)
        near = side * (y - edge.start.y) < JAW_TOUCH_MM and side * (y - edge.end.y) < JAW_TOUCH_MM
        if edge.is_line and level and near:
            spans.append((edge.start.x, edge.end.x))
    return _joined(spans)


def _facing(lying: Region, side: float) -> list[tuple[float, float]]:
    """Return the same of what faces a soft jaw that is cut to the outline."""
    points = lying.outer.facets(ROUGH_FACET_MM)
    spans: list[tuple[float, float]] = []
    for (x0, y0), (x1, y1) in zip(points, [*points[1:], points[0]], strict=True):
        size = math.hypot(x1 - x0, y1 - y0)
        if size > 0.0 and side * (x0 - x1) >= _FACES * size:  # outward is right of travel
            spans.append((float(x0), float(x1)))
    return _joined(spans)


def _joined(spans: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return spans from left to right, those that meet as one."""
    found: list[tuple[float, float]] = []
    for low, high in sorted((min(span), max(span)) for span in spans):
        if found and low <= found[-1][1] + COINCIDENT_MM:
            found[-1] = (found[-1][0], max(found[-1][1], high))
        else:
            found.append((low, high))
    return found


def _common(
    one: list[tuple[float, float]], other: list[tuple[float, float]]
) -> list[tuple[float, float]]:
    """Return where spans of both are, from left to right."""
    return [
        (low, high)
        for a, b in one
        for c, d in other
        for low, high in [(max(a, c), min(b, d))]
        if high - low > COINCIDENT_MM
    ]
