"""What a stack's heights and fits have to say."""

from __future__ import annotations

from jigs.finding import Finding, Severity
from jigs.guides.dowels import Stack
from jigs.guides.stack_options import StackOptions
from jigs.part import Part
from jigs.shop import Sheet
from kerf.materials import material_named


def stack_findings(
    part: Part, sheet: Sheet, options: StackOptions, stack: Stack, spread_mm: float, subject: str
) -> tuple[Finding, ...]:
    """Return what heights and fits have to say."""
    found = []
    count = sum(layer.role in ("wall", "nest") for layer in stack.layers)
    tall, high = part.height_mm, count * sheet.thickness_mm
    room = stack.cap_gap_mm
    if room is not None and room < count * spread_mm:
        found.append(
            Finding(
                code="stack-cap-loose",
                severity=Severity.FAIL,
                subject=f"{subject}: cap",
                message=(
                    f"the part stands {room:.2f} mm out of {count} sheets; the cap reaches it for "
                    f"sure only above {count * spread_mm:.2f} mm, by which the sheets' thickness "
                    "can be off"
                ),
                measured=room,
                limit=count * spread_mm,
                unit="mm",
                hint="set fewer layers, measure the sheet's thickness better, or lip = 0",
            )
        )
    elif high > tall:
        found.append(
            Finding(
                code="stack-over-part",
                severity=Severity.NOTE,
                subject=subject,
                message=(
                    f"{count} sheets stand {high:.2f} mm about a part of {tall:.2f} mm: it lies "
                    f"{high - tall:.2f} mm below them"
                ),
                measured=high,
                limit=tall,
                unit="mm",
                hint="set fewer layers, or take a thinner sheet; one sheet needs a nest only",
            )
        )
    if options.pin_fit == "drive":
        stock = material_named(sheet.material)
        brittle = stock is None or stock.name == "acrylic"
        lowest = stack.layers[0]
        found.append(
            Finding(
                code="stack-pin-drive",
                severity=Severity.WARN if brittle else Severity.NOTE,
                subject=f"{subject}: dowels",
                message=(
                    f"dowels are driven into {lowest.plate}, {options.pin_mm - lowest.hole_mm:.3f} "
                    "mm smaller than their nominal size"
                    + (f": {sheet.material} may crack, at once or days later" if brittle else "")
                ),
                measured=options.pin_mm - lowest.hole_mm,
                unit="mm",
                hint='press them slowly in a drill press, warm; or pin_fit = "slip"',
            )
        )
    return tuple(found)
