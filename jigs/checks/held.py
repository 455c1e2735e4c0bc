"""What the job says holds the part, laid out in the set-up, and how that holds every cut.

Only what the job names is judged. Tape lies under the part as it stands, back from its edge,
and not where a cut goes through; a vise needs two flats along its jaws; straps press where the
job says. What the job leaves open (no force for the vise, no tape in the shop) is a finding.

Pins of the guide stand beside tape alone: in a vise or under straps the part does not move
far enough to bear on them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from jigs.checks.jaws import Pressing, fault
from jigs.checks.out_of_jaws import check_springs
from jigs.checks.upright import gripped_area, upright_loads
from jigs.checks.vise import in_vise
from jigs.finding import Finding, Severity
from jigs.guides.guide import Guide, Plane
from jigs.holding.bond import (
    BondGroup,
    BondStrength,
    HoldingPin,
    bond_factors,
    bond_group,
)
from jigs.holding.clamp import Straps, ViseGrip
from jigs.holding.hold import STRAP_MM, Hold, HoldBy
from jigs.holding.holding import (
    Holding,
    Judge,
    bond_judge,
    check_holding,
    cut_holding,
    force_text,
    strap_judge,
    vise_judge,
)
from jigs.holding.materials import HOLDING_SCATTER, WorkMaterial
from jigs.holding.means import Mill
from jigs.holding.overhang import Hollow, plan_view
from jigs.holding.toolpath import Loads, ToolPath, cut_loads
from jigs.part import Part
from jigs.setup import Setup
from jigs.shop import Shop
from kerf.boolean import difference
from kerf.contour import Contour, Point, Region, Transform, Vector
from kerf.errors import InputError
from kerf.hull import convex_hull
from kerf.offset import offset
from kerf.tolerance import CLASH_DUST_MM2, ROUGH_FACET_MM


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """What holding came to.

    Args:
        holding: the verdict; None when it was not judged.
        grip: the vise, y across the jaws; None without one.
        pressing: what the vise does to the part; None without one.
        holds_at: where tape or straps hold, set-up coordinates; None where nothing is known to.
        shown: the same as outlines to draw; empty for a vise on a part that lies flat.
        findings: of holding.
        pin_side_n: what each pin takes of the cuts beside the tape at worst, N, by its name.
    """

    holding: Holding | None = None
    grip: ViseGrip | None = None
    pressing: Pressing | None = None
    holds_at: BaseGeometry | None = None
    shown: tuple[Region, ...] = ()
    findings: tuple[Finding, ...] = ()
    pin_side_n: tuple[tuple[str, float], ...] = ()


def held(
    part: Part,
    setup: Setup,
    shop: Shop,
    guide: Guide,
    *,
    paths: Sequence[ToolPath],
    hollows: Sequence[Hollow],
    material: WorkMaterial | None,
    subject: str,
) -> Held:
    """Return how the set-up holds its part.

    Args:
        part: as seen in this set-up.
        setup, shop, guide: of the set-up.
        paths: its cuts where it lies flat; empty for a sheet that stands.
        hollows: what earlier set-ups took away from beneath.
        material: of the part; None when the table does not know it.
        subject: for messages.
    Raises:
        InputError: a tape or mill that the shop does not have; a sheet that stands and no vise,
            or one whose grip is given.
    """
    hold, cuts = setup.hold, setup.cuts
    if hold is None:
        return Held(findings=(_not_judged(subject),) if cuts else ())
    mill = shop.mill(setup.mill, where=setup.key_path + ".mill")
    stands = guide.plane is not Plane.XY
    if stands and hold.by is not HoldBy.VISE:
        raise InputError(
            f'{guide.kind} "{setup.name}": a part that stands in the vise is held by the vise, '
            f"not by {hold.by.value}",
            where=hold.key_path.removesuffix(".holding") + ".hold",
            hint='write hold = "vise", or lay the sheet flat: plane = "XY"',
        )
    if stands and (hold.grip_mm or hold.step_mm):
        key = "grip" if hold.grip_mm else "step"
        raise InputError(
            f'{guide.kind} "{setup.name}": {key} is given, but a part that stands in a guide is '
            "gripped from its lowest point to the top of the jaws",
            where=f"{hold.key_path}.{key}",
            hint=f"leave {key} out here; grip in the [[setup]] itself sets the guide's foot for it",
        )
    made = {
        HoldBy.TAPE: lambda: _tape(part, setup, hold, shop, guide, paths, hollows, subject),
        HoldBy.VISE: lambda: _vise(part, setup, hold, mill, guide, material, subject),
        HoldBy.CLAMPS: lambda: _clamps(part, setup, hold, hollows),
    }[hold.by]()
    if made.judge is None or material is None or not cuts:
        return made.held
    if stands:
        loads = [(cut.name, upright_loads(cut, part, setup, material)) for cut in setup.cuts]
    else:
        across = made.held.grip is not None and hold.jaws == "X"
        loads = [
            (path.cut.name, _swapped(found) if across else found)
            for path in paths
            for found in (cut_loads(path, material),)
        ]
    judged = tuple(cut_holding(name, load, made.judge) for name, load in loads)
    springs: list[Finding] = []
    if made.held.grip is not None:
        box = part.region.transformed(setup.pose()).bounds()
        long_mm = box.height if hold.jaws == "X" and not stands else box.width
        for name, load in loads:
            springs += check_springs(
                name, load.rows, made.held.grip, material, long_mm=long_mm, subject=subject
            )
    if made.held.grip is not None and hold.jaws == "X" and not stands:
        judged = tuple(
            replace(
                cut,
                at=Point(cut.at.y, cut.at.x),
                spots=tuple(replace(s, at=Point(s.at.y, s.at.x)) for s in cut.spots),
            )
            for cut in judged
        )
    holding = Holding(
        by=hold.by.value,
        said=f"{made.said}; cutting forces of {material.name}, the highest published figure "
        f"times {HOLDING_SCATTER:.1f}",
        proven=made.proven,
        limit=shop.least_factor,
        cuts=judged,
    )
    return replace(
        made.held,
        holding=holding,
        pin_side_n=_pin_shares([load for _, load in loads], made),
        findings=(*made.held.findings, *springs, *check_holding(holding, subject=subject)),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Made:
    """A hold laid out: its judge (None when it cannot be judged), words and findings."""

    held: Held
    judge: Judge | None = None
    said: str = ""
    proven: bool = True
    bond: tuple[BondGroup, BondStrength, float] | None = None


def _pin_shares(loads: Sequence[Loads], made: _Made) -> tuple[tuple[str, float], ...]:
    """Return the greatest side force that each pin beside a bond takes, N."""
    if made.bond is None or not made.bond[0].pins:
        return ()
    group, strength, base_mm = made.bond
    rows = np.vstack([load.rows for load in loads])
    rows[:, 2] += base_mm
    most = bond_factors(group, strength, rows).pin_force_n.max(axis=0)
    return tuple((pin.name, float(n)) for pin, n in zip(group.pins, most, strict=True))


def _not_judged(subject: str) -> Finding:
    return fault(
        "holding-not-judged",
        "the job gives cuts but does not say what holds the part, so holding was not judged",
        'write hold = "tape", "vise" or "clamps" in this [[setup]]',
        subject,
        Severity.WARN,
    )


# ---- tape ----


def _tape(
    part: Part,
    setup: Setup,
    hold: Hold,
    shop: Shop,
    guide: Guide,
    paths: Sequence[ToolPath],
    hollows: Sequence[Hollow],
    subject: str,
) -> _Made:
    tape = shop.tape(hold.tape, where=hold.key_path + ".tape")
    patches = bonded_patches(part, setup, hold.margin_mm, paths, hollows, zones=guide.tape)
    if not patches:
        return _Made(
            held=Held(
                findings=(
                    fault(
                        "bond-gone",
                        f"no area is left under the part for tape, {hold.margin_mm:.1f} mm back "
                        "from its edge and clear of what is cut through",
                        "lessen the margin, or hold it by clamps",
                        subject,
                    ),
                )
            )
        )
    strength = tape.strength(coolant=hold.coolant, temperature_c=hold.temperature_c)
    held = Held(holds_at=plan_view(patches), shown=patches)
    if strength is None:
        hot = fault(
            "tape-hot",
            f'tape "{tape.name}" holds nothing at {hold.temperature_c:.0f} °C; '
            f"its limit is {tape.hot_c:.0f} °C",
            "cool the cut, take lighter passes, or hold the part another way",
            subject,
        )
        return _Made(held=replace(held, findings=(hot,)))
    pose = setup.pose()
    pins = tuple(_posed(pin, pose) for pin in guide.pins)
    group = bond_group(patches, pins)
    area = group.moments.area_mm2
    said = f"{strength.said}; {area:.0f} mm² ({area / 645.16:.2f} in²) bonded"
    if pins:
        said += f", {len(pins)} pins bear once it has moved by their gap"
    return _Made(
        held=held,
        judge=bond_judge(group, strength, base_mm=tape.thickness_mm),
        said=said,
        proven=strength.proven,
        bond=(group, strength, tape.thickness_mm),
    )


def _posed(pin: HoldingPin, pose: Transform) -> HoldingPin:
    """Return a pin in set-up coordinates."""
    along = None if pin.along is None else Vector(*pose.vector(*pin.along))
    return replace(pin, at=pose.point(*pin.at), along=along)


def bonded_patches(
    part: Part,
    setup: Setup,
    margin_mm: float,
    paths: Sequence[ToolPath],
    hollows: Sequence[Hollow],
    *,
    zones: Sequence[Region] | None = None,
) -> tuple[Region, ...]:
    """Return where tape holds the part to the end, set-up coordinates; empty for nowhere.

    Its underside less bores, less hollows cut from beneath, less what is cut through, and a
    margin back from every edge; or the zones a guide lays itself (part coordinates), less what
    is cut through or hollow.
    """
    gone = [r for hollow in hollows for r in hollow.swept]
    gone += [r for path in paths if path.low_mm <= 0.0 for r in path.swept]
    given = (part.region,) if zones is None else zones
    left = tuple(kept for r in given for kept in _less(r.transformed(setup.pose()), gone))
    if zones is not None or margin_mm == 0.0:
        return left
    return tuple(kept for region in left for kept in offset(region, -margin_mm).regions)


def _less(region: Region, gone: Sequence[Region]) -> tuple[Region, ...]:
    """Return a region without what is gone; what only touches it is left alone."""
    figure = plan_view((region,))
    meets = [r for r in gone if plan_view((r,)).intersection(figure).area > CLASH_DUST_MM2]
    return difference(region, meets) if meets else (region,)


# ---- vise ----


def _vise(
    part: Part,
    setup: Setup,
    hold: Hold,
    mill: Mill | None,
    guide: Guide,
    material: WorkMaterial | None,
    subject: str,
) -> _Made:
    gripped = in_vise(part, setup, hold, mill, guide, material, subject=subject)
    grip = gripped.grip
    shown: tuple[Region, ...] = ()
    if grip is not None and guide.plane is not Plane.XY:
        shown = gripped_area(grip, part, setup)
    return _Made(
        held=Held(grip=grip, pressing=gripped.pressing, shown=shown, findings=gripped.findings),
        judge=vise_judge(grip) if grip is not None else None,
        said=gripped.said,
    )


# ---- straps ----


def _clamps(part: Part, setup: Setup, hold: Hold, hollows: Sequence[Hollow]) -> _Made:
    pose = setup.pose()
    lying = part.region.transformed(pose)
    ground = difference(lying, tuple(r for h in hollows for r in h.swept)) if hollows else (lying,)
    at = tuple(pose.point(*p) for p in hold.clamps)
    hull = convex_hull(ground)
    assert hold.force_n is not None  # the reader asks for it
    straps = Straps(
        at=at,
        force_n=hold.force_n,
        friction=hold.friction,
        carried=tuple(Point(float(x), float(y)) for x, y in hull.facets(ROUGH_FACET_MM)),
    )
    count = "1 clamp" if len(at) == 1 else f"{len(at)} clamps"
    return _Made(
        held=Held(
            holds_at=shapely.MultiPoint([(p.x, p.y) for p in at]),
            shown=tuple(Region(outer=Contour.circle(*p, STRAP_MM)) for p in at),
            findings=_check_straps(lying, at, setup),
        ),
        judge=strap_judge(straps),
        said=f"{count} at {force_text(hold.force_n)} each, {hold.friction_text} on the bed",
    )


def _check_straps(lying: Region, at: Sequence[Point], setup: Setup) -> tuple[Finding, ...]:
    """Return a failed check for each strap that does not press on the part."""
    return tuple(
        fault(
            "clamp-off",
            f"clamp {number} at ({p.x:.1f}, {p.y:.1f}) mm of the set-up does not press on the part",
            "move it onto the part",
            f'set-up "{setup.name}"',
        )
        for number, p in enumerate(at, 1)
        if not lying.contains(*p)
    )


# ---- loads of other frames ----


def _swapped(loads: Loads) -> Loads:
    """Return loads with x and y swapped, for jaws that close along x; a mirror turns moments."""
    rows = loads.rows[:, [1, 0, 2, 4, 3, 5, 6]].copy()
    rows[:, 6] *= -1
    return replace(loads, rows=rows, at=loads.at[:, ::-1].copy())
