"""What the sheet says of a set-up under the cutter: recipes, holding, clashes, strength.

Recipe cards give every figure in both units, because feeds and speeds are read from whatever
table hangs at the machine. Holding names its assumption before its number, and the map shows
where the part would come loose first.
"""

from __future__ import annotations

import math
from typing import Final

from jigs import quantity
from jigs.checks.jaws import Pressing
from jigs.checks.upright import upright_swept
from jigs.drawing.holding_view import HoldingView, clash_figure, holding_figure
from jigs.guides.guide import Plane
from jigs.holding.cut import Cut, ToolKind
from jigs.holding.cutting import CutForces, DrillForces
from jigs.holding.hold import HoldBy
from jigs.holding.holding import Holding, factor_text, force_text
from jigs.holding.recipe import Recipe, feed_text, power_text, speed_text
from jigs.holding.strength import LEAST_FACTOR
from jigs.plan import Plan, PlannedSetup
from jigs.setup import Flip, Setup
from jigs.sheet.clearance_content import clearance_section
from jigs.sheet.content import Block, Field, Fields, Grid, Lines, Picture, Section
from kerf.contour import Region

#: A wall that gives less is not told, mm: it would read as nothing.
_TOLD_MM: Final = 5e-4
#: Height of the map of factors on paper, mm.
_MAP_MM: Final = 95.0


def machining_sections(
    planned: PlannedSetup, plan: Plan, *, width_mm: float
) -> tuple[Section, ...]:
    """Return the sections on recipes, holding, clashes and strength that have something to say."""
    return tuple(
        section
        for section in (
            _recipe_section(planned, plan),
            clearance_section(planned, plan),
            _holding_section(planned, width_mm),
            _clash_section(planned, width_mm),
            _strength_section(planned, plan),
        )
        if section is not None
    )


def hold_words(setup: Setup) -> str:
    """Return what holds the part, and the coolant; empty when the job does not say."""
    hold = setup.hold
    return "" if hold is None else f"{hold.by.value}, {hold.coolant.value}"


def _recipe_section(planned: PlannedSetup, plan: Plan) -> Section | None:
    """Return a card for each cut, in order; None when nothing is cut."""
    asked = {r.cut.name: r for r in planned.machined.recipes}
    blocks: list[Block] = []
    for number, cut in enumerate(planned.setup.cuts, 1):
        fields = _card(cut, asked.get(cut.name), planned, plan)
        blocks += [Lines(lines=(f"{number}. {cut.name}",)), Fields(fields=fields)]
    if not blocks:
        return None
    return Section(key="recipes", heading="Tools and recipes", blocks=tuple(blocks))


def _card(cut: Cut, asked: Recipe | None, planned: PlannedSetup, plan: Plan) -> tuple[Field, ...]:
    units = plan.job.units
    drill = cut.kind is ToolKind.DRILL
    hand = "left-hand" if cut.helix_rad < 0 else "right-hand"
    material = {"hss": "HSS", "carbide": "carbide"}[cut.tool_material]
    edges = f", {cut.teeth} flutes" if not drill and cut.kind is not ToolKind.FLY_CUTTER else ""
    gear = f", gear {asked.gear}" if asked is not None and asked.gear else ""
    fields = [
        Field(name="tool", value=f"{material} {cut.kind.value}{edges}"),
        Field(name="diameter", value=_both(cut.diameter_mm)),
        Field(name="spindle", value=f"{cut.speed_rpm:.0f} rpm{gear}"),
        Field(
            name="feed", value=f"{cut.feed_mm_min:.0f} mm/min ({cut.feed_mm_min / 25.4:.1f} in/min)"
        ),
        Field(name="per turn" if drill else "per tooth", value=feed_text(cut.feed_mm)),
    ]
    if not drill:
        fields += [
            Field(name="depth a pass", value=_both(cut.depth_mm)),
            Field(name="width", value=_both(cut.width_mm)),
            *_curled(cut),
            Field(
                name="milling", value=f"{'climb' if cut.climb else 'conventional'}, {hand} helix"
            ),
        ]
    low, high = _from_zero(cut, planned)
    fields.append(
        Field(
            name="Z from zero",
            value=f"{quantity.offset_text(high, units)} to {quantity.offset_text(low, units)}",
        )
    )
    if asked is not None:
        has = "" if asked.has_kw is None else f" of {asked.has_kw:.1f} kW"
        fields += [
            Field(name="cutting speed", value=speed_text(asked.surface_m_min)),
            Field(name="power", value=power_text(asked.power_kw) + has),
            Field(name="on the part", value=_forces(asked.forces)),
        ]
    if len(fields) % 2:
        fields.append(Field(name="tool number, offset", value=""))
    return tuple(fields)


def _curled(cut: Cut) -> tuple[Field, ...]:
    """Return how wide a straight cut would engage the tool, where a bore's wall curls round it."""
    if cut.engaged_mm <= 1.05 * cut.width_mm:
        return ()
    return (Field(name="engages as", value=_both(cut.engaged_mm)),)


def _both(length_mm: float) -> str:
    """Return a length in both units."""
    return f"{length_mm:.3f} mm ({length_mm / 25.4:.4f} in)"


def _forces(forces: CutForces | DrillForces) -> str:
    """Return the greatest forces on the part, with the reserve holding is judged with."""
    if isinstance(forces, DrillForces):
        return f"down {force_text(forces.thrust_n)}, up {force_text(forces.lift_n)}"
    return f"side {force_text(forces.side_n)}, up {force_text(forces.lift_n)}"


def _from_zero(cut: Cut, planned: PlannedSetup) -> tuple[float, float]:
    """Return the lowest and highest Z of a cut from program zero, machine axis up."""
    z = planned.setup.zero_mm[2]
    if planned.guide.plane is not Plane.XY:
        zero = planned.setup.pose().point(*planned.setup.zero_mm[:2])
        enters = [planned.setup.pose().point(*p).y - zero.y for p in cut.points]
        return min(enters) - cut.depth_mm, max(enters)
    if planned.setup.flip is Flip.NONE:
        return cut.low_mm - z, cut.high_mm - z
    return z - cut.high_mm, z - cut.low_mm


def _holding_section(planned: PlannedSetup, width_mm: float) -> Section | None:
    """Return the verdict on holding with its map; None when it was not judged."""
    holding = planned.machined.holding
    if holding is None:
        return None
    worst = holding.worst
    fields = (
        Field(name="held by", value=holding.by),
        Field(
            name="factor, least", value=f"{factor_text(worst.factor)} (asked {holding.limit:.1f})"
        ),
        Field(name="force then", value=force_text(worst.force_n)),
        Field(
            name="it bears there",
            value=force_text(holding.capacity_n) if math.isfinite(holding.capacity_n) else "more",
        ),
    )
    rows = tuple(
        (
            cut.cut,
            factor_text(cut.factor),
            f"{holding.limit:.1f}",
            cut.way if math.isfinite(cut.factor) else "",
            "holds" if cut.factor >= holding.limit else "DOES NOT HOLD",
        )
        for cut in holding.cuts
    )
    mark = "" if holding.proven else "UNPROVEN. "
    blocks: list[Block] = [
        Fields(fields=fields),
        Lines(lines=(f"{mark}Assumed: {holding.said}.",)),
        Grid(columns=("cut", "factor", "asked", "gives first", ""), rows=rows),
    ]
    if planned.machined.held.pressing is not None:
        blocks.insert(1, Lines(lines=vise_lines(planned.machined.held.pressing)))
    blocks.append(_map(holding, planned, width_mm))
    return Section(key="holding", heading="Will it hold", blocks=tuple(blocks))


def _map(holding: Holding, planned: PlannedSetup, width_mm: float) -> Picture:
    """Return the map of factors along the tool's path."""
    part, plates = _lying(planned)
    view = HoldingView(
        title=f"Factor of the hold along the path, {planned.setup.name}",
        part=part,
        plates=plates,
        holds=planned.machined.held.shown,
        jaws=planned.machined.jaws,
        holding=holding,
    )
    limit = holding.limit
    flat = planned.guide.plane is Plane.XY
    path = "Path of the tool, seen from above" if flat else "Where the tool enters, from the front"
    held = " Hatched: where it is held." if view.holds else ""
    jaws = " Dashed: the jaws." if view.jaws else ""
    return Picture(
        figures=(holding_figure(view, width_mm=width_mm, height_mm=_MAP_MM),),
        caption=f"{path}: heaviest below {limit:.1f}, heavy up to {2 * limit:.1f}, light beyond."
        f"{held}{jaws}",
    )


def vise_lines(made: Pressing) -> tuple[str, ...]:
    """Return what the vise does to part and height, each with what it rests on."""
    lines = [f"The jaws press with {made.pressure_mpa:.0f} MPa {made.spread}."]
    if made.squeezed is not None:
        bends = made.squeezed.shortens_mm, made.squeezed.bows_mm
        told = [_both(b) if b >= 5e-4 else "less than 0.001 mm" for b in bends]
        lines.append(
            f"Clamping shortens the part by {told[0]} and bows it by {told[1]}, worked out for a "
            "plain block."
        )
    if made.measured_mm is not None:
        lines.append(
            f"The moving jaw lifts its side by {_both(made.measured_mm)}, by the shop's indicator."
        )
    elif made.lift is not None:
        follows = " and takes its side of the part up with it"
        stays = "; gripped high for its width, the part stays down"
        assumed = f" Assumed: {', '.join(made.assumed)}." if made.assumed else ""
        lines.append(
            f"The moving jaw rises by {_both(made.lift.rises_mm)}, worked out"
            f"{follows if made.lift.lifts_mm > 0 else stays}.{assumed}"
        )
    return tuple(lines)


def _lying(planned: PlannedSetup) -> tuple[Region, tuple[Region, ...]]:
    """Return part and plates in set-up coordinates."""
    pose = planned.setup.pose()
    return planned.part.region.transformed(pose), tuple(
        plate.region.transformed(plate.to_part.then(pose)) for plate in planned.guide.plates
    )


def _clash_section(planned: PlannedSetup, width_mm: float) -> Section | None:
    """Return the picture of what the cutter meets; None when it meets nothing."""
    machined, hold = planned.machined, planned.setup.hold
    straps = hold is not None and hold.by is HoldBy.CLAMPS
    clashes = [item for item in machined.access if item.clash]
    if not clashes:
        return None
    part, plates = _lying(planned)
    names = {item.cut for item in clashes}
    swept = [r for p in planned.machined.paths if p.cut.name in names for r in p.swept]
    if planned.guide.plane is not Plane.XY:
        swept = [
            r
            for cut in planned.setup.cuts
            if cut.name in names
            for r in upright_swept(cut, planned.part, planned.setup)
        ]
    figure = clash_figure(
        clashes,
        part=part,
        plates=plates,
        swept=swept,
        about=(*machined.jaws, *(machined.held.shown if straps else ())),
        title=f"Where things meet that must not, {planned.setup.name}",
        width_mm=width_mm,
        height_mm=_MAP_MM,
    )
    return Section(
        key="clash",
        heading="The cutter meets something" if any(names) else "The jaws close on the guide",
        blocks=(Picture(figures=(figure,)),),
    )


def _strength_section(planned: PlannedSetup, plan: Plan) -> Section | None:
    """Return how the guide bears the push; None when nothing is cut, or nothing is known."""
    found = planned.machined.strength
    if not found or not planned.setup.cuts:
        return None
    units = plan.job.units
    rows: tuple[tuple[str, ...], ...] = tuple(
        (
            quantity.told_in(item.place, units),
            f"{item.stress_mpa:.1f} MPa ({item.stress_mpa * 145.038:.0f} psi)",
            f"{item.factor:.1f}",
            quantity.length_text(item.moves_mm, units) if item.moves_mm >= _TOLD_MM else "",
        )
        for item in found
    )
    columns: tuple[str, ...] = ("place", "stress", "factor", "gives")
    if not any(item.moves_mm >= _TOLD_MM for item in found):
        columns, rows = columns[:3], tuple(row[:3] for row in rows)
    push = force_text(planned.setup.push_n)
    return Section(
        key="strength",
        heading="The guide under the push",
        blocks=(
            Lines(
                lines=(
                    f"Pushed by {push} at each contact in turn. Asked is a factor of "
                    f"{LEAST_FACTOR:.0f}: plastic is notched, and ages.",
                )
            ),
            Grid(columns=columns, rows=rows),
        ),
    )
