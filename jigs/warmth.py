"""What temperature and moisture do to a guide that was measured in one state and used in another.

The guide grows from the corner where its faces are picked up, by its material's coefficient
times the change; the part grows by its own. A contact's locator moves with the guide and the
part's edge with the part, so along the normal the difference counts; and the part's features
move with the part. The change is the same for all, so its causes are tied: what one contact
gains another may give back.

Source: linear expansion, ΔL = α L ΔT; moisture likewise with the growth per percent.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

from jigs.finding import Finding, Severity
from jigs.guides.guide import Guide
from jigs.locating.contacts import Contact, FrameSource, Source, Tie
from kerf.beam import KerfCard
from kerf.contour import Point
from kerf.materials import material_named

GROUP = "temperature"
#: Temperature at which sizes hold, °C. Source: ISO 1.
REFERENCE_C: Final = 20.0


def growth_per_unit(stock: str, *, change_k: float, change_percent: float = 0.0) -> float | None:
    """Return how much a unit of length may grow, ±; None when the material is not known.

    Args:
        stock: the material's name.
        change_k: greatest ± change of temperature, K.
        change_percent: greatest ± change of moisture content, percent.
    """
    material = material_named(stock)
    if material is None:
        return None
    return material.expansion_per_k.high * change_k + material.moisture_per_percent * change_percent


def warmer_k(used_at_c: float | None, card: KerfCard) -> float:
    """Return how far the temperature of use is from that of measuring, K, >= 0.

    Args:
        used_at_c: at the machine, °C; None when it is that of measuring.
        card: whose coupon was measured at a temperature; 20 °C when it does not say.
    Source: ISO 1, 20 °C is the reference for sizes.
    """
    if used_at_c is None:
        return 0.0
    return abs(used_at_c - (REFERENCE_C if card.temperature_c is None else card.temperature_c))


def check_used_at(
    guide: Guide, used_at_c: float | None, card: KerfCard, *, stock: str, subject: str
) -> tuple[Finding, ...]:
    """Return by how much the guide's longest plate is longer or shorter at the machine."""
    material = material_named(stock)
    if used_at_c is None or material is None or warmer_k(used_at_c, card) == 0.0:
        return ()
    measured_c = REFERENCE_C if card.temperature_c is None else card.temperature_c
    box = guide.plates[0].region.bounds()
    length_mm = max(box.width, box.height)
    low, high = (
        per_k * length_mm * abs(used_at_c - measured_c)
        for per_k in (material.expansion_per_k.low, material.expansion_per_k.high)
    )
    assumed = " (assumed: the kerf card does not say)" if card.temperature_c is None else ""
    span = f"{high:.3f} mm" if f"{low:.3f}" == f"{high:.3f}" else f"{low:.3f} to {high:.3f} mm"
    return (
        Finding(
            code="used-at",
            severity=Severity.NOTE,
            subject=f"{subject}: temperature",
            message=(
                f"measured at {measured_c:g} °C{assumed} and used at {used_at_c:g} °C, the plate "
                f"is {span} {'longer' if used_at_c > measured_c else 'shorter'} over its "
                f"{length_mm:.1f} mm; the offsets are not moved, the budget counts it"
            ),
            measured=high,
            unit="mm",
            hint="or measure the guide at the machine's temperature and enter it with "
            "`jigs measured`",
        ),
    )


def pick_up_corner(guide: Guide) -> Point:
    """Return the corner from which the guide grows, part coordinates, mm.

    It is where the lines of its X and Y faces meet; the first plate's middle when it has none.
    """
    plate = guide.plates[0]
    centre = plate.region.bounds().centre
    x, y = centre.x, centre.y
    for face in guide.faces:
        if face.plate != plate.name:
            continue
        if abs(face.normal.x) > abs(face.normal.y):
            x = face.start.x
        else:
            y = face.start.y
    return plate.to_part.point(x, y)


def warmed_contacts(
    contacts: tuple[Contact, ...], *, corner: Point, guide_growth: float, part_growth: float
) -> tuple[Contact, ...]:
    """Return the contacts with what growth does to each added to its sources.

    Args:
        contacts: where the part rests.
        corner: the point the guide grows from, part coordinates.
        guide_growth, part_growth: ± growth of a unit of length.
    """
    out = []
    for contact in contacts:
        reach = (contact.at.x - corner.x) * contact.normal.x + (
            contact.at.y - corner.y
        ) * contact.normal.y
        moved = (guide_growth - part_growth) * reach
        source = Source(
            name="temperature",
            limit_mm=abs(moved),
            u_mm=abs(moved) / math.sqrt(3),
            tie=Tie.TOGETHER,
            group=GROUP,
            sign=1 if moved >= 0 else -1,
        )
        out.append(replace(contact, sources=(*contact.sources, source)))
    return tuple(out)


def growth_frame(*, corner: Point, growth: float) -> FrameSource:
    """Return what carries the features along: growth from the corner, tied to the contacts'."""
    return FrameSource(
        name="temperature",
        limit=growth,
        u=growth / math.sqrt(3),
        stretch=1.0,
        about=corner,
        group=GROUP,
    )


def unknown_growth(subject: str, stock: str) -> Finding:
    """Return the finding for a material whose growth nobody has told."""
    return Finding(
        code="growth-unknown",
        severity=Severity.WARN,
        subject=subject,
        message=f'how much "{stock}" grows is not known: the budget leaves temperature out',
        hint="name the material as acrylic, acetal, aluminium, steel, MDF or plywood",
    )
