"""A set-up under the cutter: recipes, holding, support, access and the guide's strength.

One entry for the pipeline: ``machining`` reads the part, the set-up, the shop and the finished
guide, and answers with everything the sheet and the record show, findings among it. It
changes nothing; ``surroundings.relieved_guide`` is what cuts a guide away, before it is marked.

A part's material that the table does not know leaves forces out and says so; a guide's sheet
without figures of strength leaves strength out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from jigs.checks.guide_strength import plate_strength, side_force_n, spacer_force_n
from jigs.checks.held import Held, held
from jigs.checks.jaws import fault
from jigs.checks.out_of_jaws import check_parallels
from jigs.checks.surroundings import (
    check_faces,
    flat_access,
    jaws_on_plates,
    obstacles,
)
from jigs.checks.upright import upright_access, upright_jaws
from jigs.finding import Finding, Severity
from jigs.guides.guide import Guide, Plane
from jigs.holding.access import JAWS, Access, check_access
from jigs.holding.corners import check_cracks
from jigs.holding.engaged import check_engaged, engaged_widths_mm
from jigs.holding.hold import HoldBy
from jigs.holding.holding import Holding
from jigs.holding.materials import KNOWN, WorkMaterial, work_material_named
from jigs.holding.means import Mill
from jigs.holding.overhang import (
    Hollow,
    check_overhang,
    check_pieces,
    check_thin,
    loose_pieces,
    plan_view,
)
from jigs.holding.recipe import Recipe, check_recipe, recipe
from jigs.holding.strength import (
    Strength,
    check_strength,
)
from jigs.holding.toolpath import ToolPath, stations, tool_path
from jigs.part import Part
from jigs.setup import Flip, Setup
from jigs.shop import Finder, Sheet, Shop
from kerf.beam import KerfCard
from kerf.contour import Region
from kerf.tolerance import PIECE_DUST_MM2


@dataclass(frozen=True, slots=True, kw_only=True)
class Machining:
    """A set-up under the cutter.

    Args:
        material: group of the part's material; None when unknown.
        mill: what it runs on; None when the shop lists none.
        paths: where each cut goes, set-up coordinates; empty for a sheet that stands.
        recipes: what each cut asks; empty when the material is unknown.
        held: how the part is held.
        access: how near each cut comes to everything.
        strength: how the guide bears the push.
        findings: of all of it.
        jaws: of the vise that grips the part, as drawn; empty without one.
    """

    material: WorkMaterial | None
    mill: Mill | None
    paths: tuple[ToolPath, ...]
    recipes: tuple[Recipe, ...]
    held: Held
    access: tuple[Access, ...]
    strength: tuple[Strength, ...]
    findings: tuple[Finding, ...]
    jaws: tuple[Region, ...] = ()

    @property
    def holding(self) -> Holding | None:
        """The verdict on holding; None when it was not judged."""
        return self.held.holding


def setup_paths(part: Part, setup: Setup) -> tuple[ToolPath, ...]:
    """Return where each cut of a set-up goes when the part lies flat, set-up coordinates."""
    return tuple(
        tool_path(
            cut,
            part.region,
            pose=setup.pose(),
            height_mm=part.height_mm,
            turned_over=setup.flip is not Flip.NONE,
        )
        for cut in setup.cuts
    )


def hollows_beneath(part: Part, setup: Setup, earlier: Sequence[Setup]) -> tuple[Hollow, ...]:
    """Return what earlier set-ups cut away from the face that is now below.

    A cut belongs to the face it opens; one that goes right through leaves a hole, no hollow,
    and one that faces the whole part leaves a face.
    Set-ups that see another view of the part are passed over.
    """
    found = []
    lying = part.region.transformed(setup.pose())
    for before in earlier:
        turned = (before.flip is Flip.NONE) != (setup.flip is Flip.NONE)
        if not turned or before.view is not None or setup.view is not None:
            continue
        for cut in before.cuts:
            drawn_side_down = setup.flip is Flip.NONE
            opens = cut.low_mm <= 0.0 if drawn_side_down else cut.high_mm >= part.height_mm
            depth = cut.high_mm if drawn_side_down else part.height_mm - cut.low_mm
            if not opens or depth >= part.height_mm:
                continue
            path = tool_path(
                cut, part.region, pose=setup.pose(), height_mm=part.height_mm, turned_over=False
            )
            if plan_view((lying,)).difference(plan_view(path.swept)).area < PIECE_DUST_MM2:
                continue
            found.append(
                Hollow(
                    swept=path.swept,
                    depth_mm=depth,
                    left_by=f'"{cut.name}" of set-up "{before.name}"',
                )
            )
    return tuple(found)


def machining(
    part: Part,
    setup: Setup,
    shop: Shop,
    guide: Guide,
    *,
    paths: Sequence[ToolPath],
    earlier: Sequence[Setup],
    sheet: Sheet,
    card: KerfCard,
    finder: Finder,
) -> Machining:
    """Return how a set-up fares under the cutter.

    Args:
        part: as seen in this set-up.
        setup, shop, guide: of the set-up; the guide as it will be cut.
        paths: where its cuts go (``setup_paths``); empty for a sheet that stands.
        earlier: the set-ups made before it.
        sheet, card, finder: of the guide and its zero.
    Raises:
        InputError: a tape or mill that the shop does not have.
        GeometryError: a figure that could not be worked out.
    """
    subject = f'{guide.kind} "{setup.name}"'
    flat = guide.plane is Plane.XY
    material = work_material_named(part.material)
    mill = shop.mill(setup.mill, where=setup.key_path + ".mill")
    findings: list[Finding] = []
    if setup.cuts and material is None:
        findings.append(
            fault(
                "material-unknown",
                f'cutting forces of "{part.material}" are not known here, so holding and recipe '
                "were not judged",
                f"name the material as one of: {KNOWN}",
                subject,
                Severity.WARN,
            )
        )
    recipes = tuple(recipe(cut, material, mill) for cut in setup.cuts) if material else ()
    for asked in recipes:
        findings += check_recipe(asked, mill, subject=f'{subject}: cut "{asked.cut.name}"')
    for path in paths if material else ():
        where = stations(path)
        wide = engaged_widths_mm(path.cut, path.tracks, where)
        findings += check_engaged(path.cut, where, wide, subject=subject)
    hollows = hollows_beneath(part, setup, earlier) if flat else ()
    if guide.base is not None and guide.base.overhangs:
        lay = guide.base.to_part.then(setup.pose())
        ends = Hollow(
            swept=tuple(region.transformed(lay) for region in guide.base.overhangs),
            depth_mm=0.0,
            left_by="the edge of the plate",
            is_cut=False,
        )
        hollows = (*hollows, ends)
    holds = held(
        part,
        setup,
        shop,
        guide,
        paths=paths,
        hollows=hollows,
        material=material,
        subject=subject,
    )
    findings += holds.findings
    if flat:
        findings += _check_support(part, setup, paths, hollows, holds, material, subject)
        about = obstacles(guide, part, setup, holds.grip, mill)
        found = (*jaws_on_plates(about), *flat_access(paths, part, setup, about))
        jaws = tuple(item.shape for item in about if item.name in JAWS)
        if holds.grip is not None and setup.hold is not None:
            findings += check_parallels(paths, setup.hold, subject)
    else:
        about = []
        jaws = upright_jaws(guide, part, setup, mill) if holds.grip is not None else ()
        found = upright_access(guide, part, setup, mill)
    findings += check_access(found, subject=subject)
    findings += check_faces(guide, part, setup, finder, about=about, subject=subject)
    findings += _check_travel(guide, paths, mill, subject)
    by_vise = setup.hold is not None and setup.hold.by is HoldBy.VISE
    strength, split = plate_strength(
        guide,
        part,
        setup,
        sheet,
        card,
        material,
        side_n=side_force_n(recipes),
        pin_side_n=dict(holds.pin_side_n),
        clamp_n=spacer_force_n(guide, setup, mill) if by_vise else 0.0,
    )
    findings += check_strength(strength, subject=subject)
    for name, found_cracks in split.items():
        findings += check_cracks(
            found_cracks, push_n=setup.push_n, subject=f'{subject}: plate "{name}"'
        )
    return Machining(
        material=material,
        mill=mill,
        paths=tuple(paths),
        recipes=recipes,
        held=holds,
        access=found,
        strength=strength,
        findings=tuple(findings),
        jaws=jaws,
    )


def _check_support(
    part: Part,
    setup: Setup,
    paths: Sequence[ToolPath],
    hollows: Sequence[Hollow],
    holds: Held,
    material: WorkMaterial | None,
    subject: str,
) -> list[Finding]:
    """Return overhangs, thin floors and walls, and pieces that come free."""
    if not paths:
        return []
    lying = part.region.transformed(setup.pose())
    pieces = loose_pieces(_blank(lying, paths), paths, held_at=holds.holds_at)
    return [
        *check_pieces(pieces, subject=subject),
        *check_overhang(lying, paths, hollows, material=material, subject=subject),
        *check_thin(lying, paths, hollows, material=material, subject=subject),
    ]


def _blank(lying: Region, paths: Sequence[ToolPath]) -> Region:
    """Return the part before these cuts: holes that a cut passes along are not there yet."""
    swept = plan_view([r for path in paths if path.low_mm <= 0.0 for r in path.swept]).buffer(0.05)
    kept = tuple(
        hole for hole in lying.holes if not plan_view((Region(outer=hole),)).intersects(swept)
    )
    return Region(outer=lying.outer, holes=kept)


def _check_travel(
    guide: Guide, paths: Sequence[ToolPath], mill: Mill | None, subject: str
) -> list[Finding]:
    """Return a failed check when cuts and faces lie further apart than the mill travels."""
    if mill is None or not all(mill.travel_mm) or not paths:
        return []
    findings = []
    boxes = [region.bounds() for path in paths for region in path.swept]
    spans = {
        "X": max(b.x_max for b in boxes) - min(b.x_min for b in boxes),
        "Y": max(b.y_max for b in boxes) - min(b.y_min for b in boxes),
    }
    for axis, room in zip("XY", mill.travel_mm, strict=False):
        offsets = [abs(d.offset_mm) for d in guide.datums if d.axis == axis]
        need = max([spans[axis], *offsets])
        if need > room:
            findings.append(
                Finding(
                    code="travel-short",
                    severity=Severity.FAIL,
                    subject=subject,
                    message=f"cuts and zero face reach over {need:.1f} mm of {axis}; {mill.name} "
                    f"travels {room:.1f} mm",
                    measured=need,
                    limit=room,
                    unit="mm",
                    hint="turn the part, or take a larger mill",
                )
            )
    return findings
