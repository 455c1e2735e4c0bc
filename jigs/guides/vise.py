"""How plate and part stand between a vise's jaws, and what the vise must be for that.

Heights are in the set-up's turn, as the plate stands: the plate's lower edge on the vise's floor
or on parallels, the jaws' top above it. The jaws must cover enough of the part to grip it, the
plate must lie whole on the fixed jaw, what is gripped must fit between the jaws, and the faces
that set zero must stand above the jaws far enough for a finder. A plate beside the part must be
thinner than it, or the jaws would squeeze the plate and leave the part loose; a plate that is
the spacer by choice must be the thicker one.
"""

from __future__ import annotations

from dataclasses import dataclass

from jigs.finding import Finding, Severity
from jigs.guides.guide import Guide, Plane
from jigs.holding.means import Mill
from jigs.part import Part
from jigs.setup import Setup
from jigs.shop import Finder, Sheet, Shop
from kerf.contour import Bounds
from kerf.errors import InputError
from kerf.tolerance import COINCIDENT_MM

#: Least height of part between the jaws, mm. Source: common practice (1/8 in).
LEAST_GRIP_MM = 3.0

#: Sides on which the fixed jaw may stand in each plane, the usual one first: away from the eye.
FIXED = {Plane.XZ: ("+Y", "-Y"), Plane.YZ: ("-X", "+X")}

#: How sure the sheet's thickness must be, in standard uncertainties.
SURE = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """Heights of a plate that stands in a vise, in the set-up's turn, mm.

    Args:
        floor_mm: lower edge of the plate.
        jaw_top_mm: top of the jaws.
        top_mm: upper edge of the plate.
        parallels_mm: height of what the plate stands on, above the vise's floor.
    """

    floor_mm: float
    jaw_top_mm: float
    top_mm: float
    parallels_mm: float


def vise_of(shop: Shop, setup: Setup) -> Mill:
    """Return the mill whose vise the set-up uses.

    Raises:
        InputError: the shop file has no such mill, or does not say how large its jaws are.
    """
    where = setup.key_path + ".mill"
    hint = f"give [[mill]] jaw_width, jaw_height and jaw_opening in {shop.file.name}"
    mill = shop.mill(setup.mill, where=where)
    if mill is None:
        raise InputError("the shop file has no mill, so no vise", where=where, hint=hint)
    missing = [
        name
        for name, value in (
            ("jaw_width", mill.jaw_width_mm),
            ("jaw_height", mill.jaw_height_mm),
            ("jaw_opening", mill.jaw_opening_mm),
        )
        if not value > 0.0
    ]
    if missing:
        raise InputError(
            f'the vise of mill "{mill.name}" is not described: {", ".join(missing)} missing',
            where=where,
            hint=hint,
        )
    return mill


def check_vise(
    mill: Mill,
    stand: Stand,
    *,
    part: Part,
    outline: Bounds,
    plate: Bounds,
    sheet: Sheet,
    finder: Finder,
    grip_mm: float,
    gap_mm: float,
    clear_mm: float,
    spacer: bool,
    subject: str,
) -> tuple[Finding, ...]:
    """Return what of vise, plate and part does not go together.

    Args:
        mill: its vise.
        stand: the heights.
        part: gives the size across the jaws.
        outline, plate: boxes of part and plate in the set-up's turn, mm.
        sheet: gives the plate's measured thickness.
        finder: what touches the faces and the jaw.
        grip_mm: asked height of part between the jaws.
        gap_mm: by how much the plate must be thinner than the part (or, as spacer, thicker).
        clear_mm: asked height of the zero faces above the jaws.
        spacer: whether the jaws press the plate by choice.
        subject: the guide, in the reader's words.
    """
    found = []

    def fail(
        code: str,
        message: str,
        *,
        measured: float,
        limit: float,
        hint: str,
        severity: Severity = Severity.FAIL,
    ) -> None:
        found.append(
            Finding(
                code=code,
                severity=severity,
                subject=subject,
                message=message,
                measured=measured,
                limit=limit,
                unit="mm",
                hint=hint,
            )
        )

    grip = stand.jaw_top_mm - outline.y_min
    least = max(grip_mm, LEAST_GRIP_MM)
    if grip < least - COINCIDENT_MM:
        fail(
            "jaw-too-low",
            f"the jaws cover {max(grip, 0.0):.2f} mm of the part; they must cover {least:.2f} mm",
            measured=grip,
            limit=least,
            hint="take lower parallels, a lower foot, or a vise with higher jaws than "
            f"{mill.jaw_height_mm:.1f} mm",
        )
    if plate.width > mill.jaw_width_mm + COINCIDENT_MM:
        fail(
            "jaw-too-narrow",
            f"the plate is {plate.width:.1f} mm wide and the jaws {mill.jaw_width_mm:.1f} mm: "
            "it does not lie whole on the fixed jaw",
            measured=mill.jaw_width_mm,
            limit=plate.width,
            hint="make `wall` narrower, turn the part, or use wider jaws",
        )
    elif plate.width + finder.tip_diameter_mm > mill.jaw_width_mm:
        fail(
            "jaw-hidden",
            f"the plate leaves {mill.jaw_width_mm - plate.width:.1f} mm of the fixed jaw free; "
            f"the tip of {finder.name} needs {finder.tip_diameter_mm:.1f} mm",
            measured=mill.jaw_width_mm - plate.width,
            limit=finder.tip_diameter_mm,
            hint="touch the jaw before the plate goes in, or make `wall` narrower",
            severity=Severity.WARN,
        )
    gripped = max(part.height_mm, sheet.thickness_mm)
    if gripped > mill.jaw_opening_mm:
        fail(
            "jaw-opening",
            f"{gripped:.2f} mm must go between jaws that open {mill.jaw_opening_mm:.2f} mm",
            measured=gripped,
            limit=mill.jaw_opening_mm,
            hint="use a vise that opens wider, or look at the part from another side",
        )
    spread = SURE * sheet.thickness_u_mm
    if not spacer and sheet.thickness_mm + spread > part.height_mm - gap_mm:
        fail(
            "plate-squeezed",
            f"the plate may be {sheet.thickness_mm + spread:.2f} mm thick and the part is "
            f"{part.height_mm:.2f} mm: the gap must be {gap_mm:.2f} mm, or the jaws squeeze the "
            "plate",
            measured=part.height_mm - sheet.thickness_mm - spread,
            limit=gap_mm,
            hint="use a thinner sheet, or make the plate the spacer with spacer = true",
        )
    if spacer and sheet.thickness_mm - spread < part.height_mm + gap_mm:
        fail(
            "spacer-thin",
            f"the plate is to be the spacer but may be {sheet.thickness_mm - spread:.2f} mm "
            f"thick, and the part is {part.height_mm:.2f} mm: the jaws would squeeze the part",
            measured=sheet.thickness_mm - spread - part.height_mm,
            limit=gap_mm,
            hint="use a thicker sheet, or spacer = false",
        )
    above = stand.top_mm - stand.jaw_top_mm
    if above < clear_mm - COINCIDENT_MM:
        fail(
            "face-in-jaws",
            f"the faces that set zero stand {max(above, 0.0):.2f} mm above the jaws; a finder "
            f"needs {clear_mm:.2f} mm",
            measured=above,
            limit=clear_mm,
            hint="let the walls rise higher (`rise`), or take lower jaws",
        )
    return tuple(found)


def is_far(guide: Guide) -> bool:
    """Return whether the fixed jaw stands on the far side of a sheet that stands."""
    assert guide.jaws is not None
    return guide.jaws.fixed == FIXED[guide.plane][0]
