"""A sheet that stands in the vise: what cuts sweep there, what stands in their way, their loads.

All is told in the picture of the standing sheet: x along the jaws, y up, seen by the eye on
the near side, and depth from the part's far face (0) toward the eye. Things are outlines in
the picture between two depths. A tool comes down from above, a drill at the middle of its
cut's ``z`` across the part, a mill over all of it; it meets what its column covers in the
picture only where their depths meet too: a plate thinner than the part may stand behind it.

Loads are told as the vise is (``checks.vise``): y runs away from the eye.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely

from jigs.checks.vise import jaw_top_mm
from jigs.guides.guide import Guide
from jigs.guides.vise import is_far
from jigs.holding.access import JAW_MM, JAWS, Access, room_mm
from jigs.holding.clamp import ViseGrip
from jigs.holding.cut import Cut, ToolKind
from jigs.holding.materials import WorkMaterial
from jigs.holding.means import Mill
from jigs.holding.overhang import plan_view
from jigs.holding.toolpath import STATION_MM, Loads, local_loads
from jigs.part import Part
from jigs.setup import Flip, Setup
from kerf.boolean import difference, intersection, union
from kerf.contour import Contour, Point, Region, Transform
from kerf.hull import convex_hull
from kerf.measure import region_gap
from kerf.tolerance import CLASH_DUST_MM2, COINCIDENT_MM

#: How far the jaws are drawn beside the plates, mm.
_SHOWN_MM: Final = 8.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stander:
    """Something that stands about the part in the vise.

    Args:
        name: as printed.
        shape: in the picture, mm.
        far_mm, near_mm: depths between which it stands, toward the eye, mm.
    """

    name: str
    shape: Region
    far_mm: float
    near_mm: float


def standers(guide: Guide, part: Part, setup: Setup, mill: Mill | None) -> tuple[Stander, ...]:
    """Return the plates beside the part, which lie on the fixed jaw, the jaws and their floor."""
    pose, deep, far = setup.pose(), part.height_mm, is_far(guide)
    found = []
    floor = math.inf
    for plate in guide.plates:
        region = plate.region.transformed(plate.to_part.then(pose))
        floor = min(floor, region.bounds().y_min)
        low = 0.0 if far else deep - plate.thickness_mm
        found.append(
            Stander(
                name=f'plate "{plate.name}"',
                shape=region,
                far_mm=low,
                near_mm=low + plate.thickness_mm,
            )
        )
    if mill is None or not mill.jaw_width_mm > 0:
        return tuple(found)
    box = union(s.shape for s in found)[0].bounds()
    top, half = jaw_top_mm(guide, setup), mill.jaw_width_mm / 2
    middle = (box.x_min + box.x_max) / 2
    jaw = Region(outer=Contour.rectangle(middle - half, floor, 2 * half, top - floor))
    names = JAWS if far else JAWS[::-1]
    bed = top - mill.jaw_height_mm
    below = Region(outer=Contour.rectangle(middle - half, bed - JAW_MM, 2 * half, JAW_MM))
    found.append(
        Stander(name="the floor of the vise", shape=below, far_mm=-JAW_MM, near_mm=deep + JAW_MM)
    )
    found.append(Stander(name=names[0], shape=jaw, far_mm=-JAW_MM, near_mm=0.0))
    found.append(Stander(name=names[1], shape=jaw, far_mm=deep, near_mm=deep + JAW_MM))
    return tuple(found)


def upright_jaws(guide: Guide, part: Part, setup: Setup, mill: Mill | None) -> tuple[Region, ...]:
    """Return the jaws in the picture, both alike there, as far as they are drawn."""
    about = standers(guide, part, setup, mill)
    jaw = next((item.shape for item in about if item.name in JAWS), None)
    if jaw is None:
        return ()
    plates = [item.shape.bounds() for item in about if item.name.startswith("plate")]
    low, high = min(b.x_min for b in plates) - _SHOWN_MM, max(b.x_max for b in plates) + _SHOWN_MM
    box = jaw.bounds()
    window = Contour.rectangle(low, box.y_min, high - low, box.height)
    return intersection(jaw, Region(outer=window))


def upright_access(guide: Guide, part: Part, setup: Setup, mill: Mill | None) -> tuple[Access, ...]:
    """Return how every cut, and its holder, meets the plates and jaws it comes down between."""
    about = standers(guide, part, setup, mill)
    lying = part.region.transformed(setup.pose())
    found = []
    for cut in setup.cuts:
        for what, radius, rise in _bodies(cut):
            far, near = _depths_mm(cut, part, setup, radius)
            shapes = upright_swept(cut, part, setup, radius_mm=radius, rise_mm=rise)
            tip = min(shape.bounds().y_min for shape in shapes)
            inside = far >= 0.0 and near <= part.height_mm
            seen = plan_view((lying,)) if inside else shapely.Polygon()
            for item in about:
                beside = max(item.far_mm - near, far - item.near_mm)
                met = (
                    _met(cut, what, shapes, item, tip)
                    if beside < -COINCIDENT_MM
                    else _passed(cut, what, shapes, item, tip, max(beside, COINCIDENT_MM))
                )
                room = math.hypot(room_mm(shapes, item.shape, seen), max(beside, 0.0))
                found.append(replace(met, room_mm=room))
            if what == "holder":
                found.append(_holder_on_part(cut, shapes, lying, part, setup))
    return tuple(found)


def _bodies(cut: Cut) -> list[tuple[str, float, float]]:
    """Return tool and, where the job gives it, holder: name, radius, rise over the tip, mm."""
    bodies = [("tool", cut.radius_mm, 0.0)]
    if cut.reach_mm > 0 and cut.holder_mm > cut.diameter_mm:
        bodies.append(("holder", cut.holder_mm / 2, cut.reach_mm))
    return bodies


def _met(cut: Cut, what: str, shapes: tuple[Region, ...], item: Stander, tip: float) -> Access:
    """Return how a column meets something that stands at its depth."""
    clash = tuple(
        c for s in shapes for c in intersection(s, item.shape) if c.area_mm2 > CLASH_DUST_MM2
    )
    if clash:
        top = max(c.bounds().y_max for c in clash)
        above, gap = tip - top, 0.0
    else:
        gap = min(region_gap(s, item.shape).distance_mm for s in shapes)
        box = item.shape.bounds()
        under = [
            c
            for s in shapes
            for c in intersection(_below(s, box.y_min - 1.0), item.shape)
            if c.area_mm2 > CLASH_DUST_MM2
        ]
        above = tip - max((c.bounds().y_max for c in under), default=box.y_max)
        gap = 0.0 if under else max(gap, COINCIDENT_MM)
    return Access(
        cut=cut.name, against=item.name, what=what, clash=clash, gap_mm=gap, above_mm=above
    )


def _passed(
    cut: Cut, what: str, shapes: tuple[Region, ...], item: Stander, tip: float, beside: float
) -> Access:
    """Return how far a column passes in front of, or behind, something."""
    gap = min(region_gap(s, item.shape).distance_mm for s in shapes)
    return Access(
        cut=cut.name,
        against=item.name,
        what=what,
        clash=(),
        gap_mm=math.hypot(gap, beside),
        above_mm=tip - item.shape.bounds().y_max,
    )


def _below(shape: Region, floor: float) -> Region:
    """Return the shadow a column throws down to a level."""
    box = shape.bounds()
    low = min(floor, box.y_min - 1.0)
    return Region(outer=Contour.rectangle(box.x_min, low, box.width, box.y_min - low))


def _holder_on_part(
    cut: Cut, shapes: tuple[Region, ...], lying: Region, part: Part, setup: Setup
) -> Access:
    """Return whether the holder comes down on the part beside its tool."""
    bored = upright_swept(cut, part, setup)
    clash = tuple(
        c
        for s in shapes
        for rim in difference(s, bored)
        for c in intersection(rim, lying)
        if c.area_mm2 > CLASH_DUST_MM2
    )
    low = min(s.bounds().y_min for s in shapes)
    top = max((c.bounds().y_max for c in clash), default=lying.bounds().y_max)
    return Access(
        cut=cut.name,
        against="the part",
        what="holder",
        clash=clash,
        gap_mm=0.0 if clash else math.inf,
        above_mm=low - top,
    )


def upright_swept(
    cut: Cut,
    part: Part,
    setup: Setup,
    *,
    radius_mm: float | None = None,
    rise_mm: float = 0.0,
) -> tuple[Region, ...]:
    """Return what a tool sweeps in the picture: its tip and all above it.

    Args:
        cut, part, setup: of the set-up.
        radius_mm: of what goes down; the tool's when None.
        rise_mm: how far it stays over the tip, mm.
    """
    pose, radius = setup.pose(), cut.radius_mm if radius_mm is None else radius_mm
    tips = [Point(p.x, p.y - cut.depth_mm + rise_mm) for p in (pose.point(*p) for p in cut.points)]
    top = part.region.transformed(pose).bounds().y_max + 1.0
    columns = [
        Region(outer=Contour.rectangle(tip.x - radius, tip.y, 2 * radius, max(top - tip.y, 1.0)))
        for tip in tips
    ]
    if len(columns) < 2 or cut.kind is ToolKind.DRILL:
        return union(columns)
    return union(Region(outer=convex_hull(pair)) for pair in itertools.pairwise(columns))


def upright_loads(cut: Cut, part: Part, setup: Setup, material: WorkMaterial) -> Loads:
    """Return the loads of a cut: x along the jaws, y away from the eye, z up.

    Points are where the tool enters; the force acts half its depth below. Between points it is
    followed as it feeds along the jaws; a plunge is looked at as a feed either way.
    """
    pose = setup.pose()
    floor = part.region.transformed(pose).bounds().y_min
    enters = [pose.point(*p) for p in cut.points]
    rows: list[tuple[float, float, float]] = []  # x, y, sense of feed
    if cut.kind is ToolKind.DRILL or len(enters) == 1:
        rows = [(p.x, p.y, 1.0) for p in enters]
    else:
        for a, b in itertools.pairwise(enters):
            count = max(1, math.ceil(math.dist(a, b) / STATION_MM))
            senses = (1.0, -1.0) if a.x == b.x else (math.copysign(1.0, b.x - a.x),)
            rows += [
                (a.x + (b.x - a.x) * i / count, a.y + (b.y - a.y) * i / count, sense)
                for sense in senses
                for i in range(count + 1)
            ]
    where = np.array(rows, dtype=np.float64)
    local = local_loads(cut, material, through=True)
    n, m = len(where), len(local)
    out = np.zeros((n, m, 7))
    out[:, :, 0] = where[:, :1]
    out[:, :, 1] = -_across_mm(cut, part, setup)
    out[:, :, 2] = np.maximum(where[:, 1:2] - floor - cut.depth_mm / 2, 0.0)
    out[:, :, 3:5] = where[:, 2:3, None] * local[:, :2]
    out[:, :, 5:] = local[:, 2:]
    return Loads(
        rows=out.reshape(-1, 7), station=np.repeat(np.arange(n), m), at=where[:, :2].copy()
    )


def gripped_area(grip: ViseGrip, part: Part, setup: Setup) -> tuple[Region, ...]:
    """Return where the jaws press on the part, in the picture."""
    low = part.region.transformed(setup.pose()).bounds().y_min
    return tuple(face.transformed(Transform.translation(0.0, low)) for face in grip.bears_on())


def _depths_mm(cut: Cut, part: Part, setup: Setup, radius_mm: float) -> tuple[float, float]:
    """Return the depths between which something on the spindle comes, toward the eye, mm.

    A drill stays at the middle of ``z``; a mill may be stepped over all of it.
    """
    middle, over = _across_mm(cut, part, setup), radius_mm
    if cut.kind is not ToolKind.DRILL:
        over += max((cut.high_mm - cut.low_mm) / 2 - cut.radius_mm, 0.0)
    return middle - over, middle + over


def _across_mm(cut: Cut, part: Part, setup: Setup) -> float:
    """Return the depth of a tool's axis, from the part's far face toward the eye, mm."""
    middle = (cut.low_mm + cut.high_mm) / 2
    return middle if setup.flip is Flip.NONE else part.height_mm - middle
