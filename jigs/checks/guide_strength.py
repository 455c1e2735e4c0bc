"""How the plates of a guide bear what pushes them: walls, surfaces, inside corners, pins, jaws.

Every contact takes the whole push in turn. Dowels of a stack, and pins of a machined plate, are
asked to bear the cutter's side force as well, as if what holds the part took none of it: the
dowels of a layer share it like the bolts of an eccentric joint, a pin of a plate takes its own
share beside the tape where tape holds (``bond_factors``), and all of it where nothing else does.

Source: eccentric joint, *Shigley's Mechanical Engineering Design*, 8-12; what loads what,
common practice.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from jigs.guides.guide import Guide, Plane, Plate
from jigs.holding.corners import Crack, cracks
from jigs.holding.cutting import CutForces
from jigs.holding.materials import WorkMaterial
from jigs.holding.means import Mill
from jigs.holding.recipe import Recipe
from jigs.holding.strength import Body, Rest, Strength, bearing_mpa, rest_strength
from jigs.locating.contacts import Contact, ContactKind
from jigs.part import Part
from jigs.setup import Setup
from jigs.shop import Sheet
from kerf.beam import KerfCard
from kerf.contour import Point, Vector
from kerf.materials import Material, material_named

#: Width of a pad when the guide does not say its own, mm.
USUAL_PAD_MM: Final = 6.0
#: A push that leans no more than 45° from straight down is carried by the parallels.
_STEEP: Final = math.cos(math.radians(45.0))
#: Young's modulus of a part of unknown material, MPa: aluminium, the softer of the usual.
_PART_MPA: Final = 68_900.0


def plate_strength(
    guide: Guide,
    part: Part,
    setup: Setup,
    sheet: Sheet,
    card: KerfCard,
    material: WorkMaterial | None,
    *,
    side_n: float,
    pin_side_n: dict[str, float],
    clamp_n: float,
) -> tuple[tuple[Strength, ...], dict[str, tuple[Crack, ...]]]:
    """Return how the guide bears what pushes it, and the cracks of each plate by its name.

    Empty when nothing pushes, or when the sheet's strength is not known.

    Args:
        guide, part, setup, sheet, card: of the set-up.
        material: of the part; None when unknown.
        side_n: greatest side force of the cuts, N; 0 without cuts.
        pin_side_n: what each pin takes of it beside its hold, N, where that is known.
        clamp_n: force of a vise that closes on the guide, N; 0 for none.
    """
    stock = material_named(sheet.material)
    if stock is None or stock.modulus_mpa is None or stock.strength_mpa is None:
        return _pin_strength(guide, setup, side_n, pin_side_n), {}
    found: list[Strength] = []
    split: dict[str, tuple[Crack, ...]] = {}
    push = setup.push_n
    for plate in guide.plates if push > 0.0 else ():
        body = Body(
            region=plate.region,
            thickness_mm=plate.thickness_mm,
            touched_mm=_touched_mm(guide, plate, part),
            material=stock,
            corner_mm=card.kerf_mm / 2,
            bolts=tuple(plate.to_part.inverse().point(*p) for p in guide.bolts)
            if plate is guide.plates[0]
            else (),
        )
        rests = tuple(
            _rest(contact, plate, guide)
            for contact in guide.contacts
            if contact.kind is ContactKind.WALL
            and (plate.touches is None or contact.name in plate.touches)
        )
        modulus = material.modulus_mpa if material else _PART_MPA
        for rest in rests:
            found += rest_strength(body, rest, push_n=push, part_modulus_mpa=modulus)
        bending = tuple(rest for rest in rests if not rest.is_backed)
        split[plate.name] = cracks(body, bending, push_n=push)
        found += [
            Strength(
                place=f"inside corner at ({c.corner.at.x:.0f}, {c.corner.at.y:.0f}) mm, "
                f"radius {c.radius_mm:.2f} mm",
                stress_mpa=c.stress_mpa,
                factor=c.factor,
                is_told=True,
            )
            for c in split[plate.name][:1]
        ]
        found += _dowel_strength(guide, plate, rests, stock, load_n=push + side_n)
    found += _squeezed_strength(guide, stock, clamp_n)
    return (*found, *_pin_strength(guide, setup, side_n, pin_side_n)), split


def side_force_n(recipes: Sequence[Recipe]) -> float:
    """Return the greatest side force of some cuts, N."""
    return max((r.forces.side_n for r in recipes if isinstance(r.forces, CutForces)), default=0.0)


def spacer_force_n(guide: Guide, setup: Setup, mill: Mill | None) -> float:
    """Return the force of a vise that closes on the guide itself, N; 0 for none."""
    if guide.jaws is None or guide.jaws.squeezed != "plate" or setup.hold is None:
        return 0.0
    return setup.hold.force_n or (mill.clamp_force_n if mill is not None else 0.0)


def shared_n(at: Point, along: Vector, places: Sequence[Point], force_n: float) -> float:
    """Return the greatest share that one of some like pins takes of a side force, N.

    F / n straight on, and F e r / Σ r² across the line to their middle.

    >>> shared_n(Point(5.0, 0.0), Vector(0.0, 1.0), (Point(0.0, 0.0), Point(10.0, 0.0)), 100.0)
    50.0
    """
    count = len(places)
    cx, cy = sum(p.x for p in places) / count, sum(p.y for p in places) / count
    polar = sum((p.x - cx) ** 2 + (p.y - cy) ** 2 for p in places)
    turn = force_n * ((at.x - cx) * along.y - (at.y - cy) * along.x)
    spin = turn / polar if polar > 0.0 else 0.0
    return max(
        math.hypot(
            force_n * along.x / count - spin * (p.y - cy),
            force_n * along.y / count + spin * (p.x - cx),
        )
        for p in places
    )


def _dowel_strength(
    guide: Guide, plate: Plate, rests: Sequence[Rest], stock: Material, *, load_n: float
) -> list[Strength]:
    """Return how a layer bears on the dowels that keep it in its place, the worst contact's."""
    limit = stock.strength_mpa
    if guide.stack is None or not guide.stack.dowels or not rests or limit is None:
        return []
    lay = plate.to_part.inverse()
    places = [lay.point(*dowel.at) for dowel in guide.stack.dowels]
    worst = max(
        (shared_n(r.at, Vector(-r.normal.x, -r.normal.y), places, load_n), r.name) for r in rests
    )
    stress = bearing_mpa(
        force_n=worst[0],
        diameter_mm=min(dowel.limits.least_mm for dowel in guide.stack.dowels),
        thickness_mm=plate.thickness_mm,
    )
    return [
        Strength(
            place=f'dowels in plate "{plate.name}": bearing, pushed at {worst[1]}',
            stress_mpa=stress,
            factor=limit.low / stress,
        )
    ]


def _squeezed_strength(guide: Guide, stock: Material, clamp_n: float) -> list[Strength]:
    """Return how a plate bears a vise that closes on it: at most its own height in the jaws."""
    limit = stock.strength_mpa
    if clamp_n <= 0.0 or limit is None:
        return []
    plate = guide.plates[0]
    jaw_top = max(rest.start.y for rest in guide.rests if rest.normal.y > 0)
    area = plate.region.area_mm2 * min(jaw_top / plate.region.bounds().height, 1.0)
    stress = clamp_n / area
    return [
        Strength(
            place=f'plate "{plate.name}": squeezed by the jaws',
            stress_mpa=stress,
            factor=limit.low / stress,
        )
    ]


def _pin_strength(
    guide: Guide, setup: Setup, side_n: float, pin_side_n: dict[str, float]
) -> tuple[Strength, ...]:
    """Return how a machined plate bears each pin under push and cut; empty where not known."""
    base = guide.base
    stock = material_named(base.material) if base is not None else None
    if base is None or stock is None or stock.strength_mpa is None:
        return ()
    deep = {hole.name: hole.depth_mm for hole in base.holes}
    found = []
    for pin in guide.pins:
        force = setup.push_n + pin_side_n.get(pin.name, side_n)
        if force <= 0.0:
            continue
        stress = bearing_mpa(
            force_n=force,
            diameter_mm=pin.diameter_mm,
            thickness_mm=deep.get(pin.name, base.thickness_mm),
        )
        found.append(
            Strength(
                place=f"pin {pin.name}: bearing under {force:.0f} N",
                stress_mpa=stress,
                factor=stock.strength_mpa.low / stress,
            )
        )
    return tuple(found)


def _touched_mm(guide: Guide, plate: Plate, part: Part) -> float:
    """Return the height over which part and plate touch, mm; all of the sheet at least a tenth."""
    if guide.plane is not Plane.XY:
        return min(plate.thickness_mm, part.height_mm)
    bottom = plate.low_mm - guide.seat_mm
    low, high = max(0.0, bottom), bottom + plate.thickness_mm
    return max(min(high, part.height_mm) - low, plate.thickness_mm / 10)


def _rest(contact: Contact, plate: Plate, guide: Guide) -> Rest:
    """Return a contact as the plate sees it, in its own coordinates."""
    lay = plate.to_part.inverse()
    normal = lay.vector(*contact.normal)
    size = math.hypot(*normal)
    return Rest(
        name=contact.name,
        at=lay.point(*contact.at),
        normal=Vector(normal.x / size, normal.y / size),
        part_radius_mm=max(contact.radius_mm, 0.0),
        pad_mm=guide.pad_mm or USUAL_PAD_MM,
        step_mm=guide.clearance_mm if guide.pad_mm else 0.0,
        # What pushes a plate that stands down on its parallels does not bend it.
        is_backed=guide.plane is not Plane.XY and abs(normal.y) > _STEEP * size,
    )
