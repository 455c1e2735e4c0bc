"""One cut of a set-up as the job file gives it: tool, recipe, path and heights.

Coordinates are the part's, as drawn. Heights are from the part's underside as drawn, like
``zero``. A path is the outline (the tool outside it), a bore (the tool inside it), or the
points the tool's axis passes. For a sheet that stands in the machine, points are where the
tool enters in the drawing's plane, its y up: it goes one ``depth`` down from there, at the
middle of ``z`` across the sheet.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from jigs.holding.cutting import Engagement, engaged_mm
from jigs.table import Table
from kerf.contour import Point

SPEED_UNITS: Final = {"rpm": 1.0, "/min": 1.0}
#: Spindle speeds may also be given as cutting speeds, m/min.
SURFACE_UNITS: Final = {"m/min": 1.0, "sfm": 0.3048, "ft/min": 0.3048}

#: Helix of an end mill that says nothing of itself, degrees. Source: common practice.
USUAL_HELIX_DEG: Final = 30.0


class ToolKind(StrEnum):
    """What cuts."""

    END_MILL = "end mill"
    FLY_CUTTER = "fly cutter"
    DRILL = "drill"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bore:
    """A round path inside a bore.

    Args:
        at: centre, part coordinates, mm.
        diameter_mm: of the finished bore, mm.
    """

    at: Point
    diameter_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """What the job says of one cut.

    Args:
        name: as printed ("pivot bore").
        kind: what cuts.
        tool_material: "hss" or "carbide".
        diameter_mm: of the tool, mm.
        teeth: that cut.
        feed_mm: per tooth, mm; for a drill per turn.
        depth_mm: along the spindle in one pass, mm; for a drill the whole depth.
        width_mm: across the feed, mm.
        speed_rpm: of the spindle.
        climb: whether the work stands right of the feed (down milling).
        helix_rad: of the flutes, positive when it lifts the part.
        lead_rad: angle of the edge from the part's face.
        outline: whether the tool goes round the outline.
        bore: a bore the tool goes round in; None.
        points: where the tool's axis passes, or the holes of a drill, part coordinates, mm.
        low_mm, high_mm: heights between which it cuts, from the underside as drawn, mm.
        reach_mm: from tip to holder, mm; 0 when not given.
        holder_mm: diameter of the holder, mm; 0 when not given.
        relief: whether a guide may be cut away where the tool would meet it.
        key_path: where it stands in the job file.
    """

    name: str
    kind: ToolKind
    tool_material: str
    diameter_mm: float
    teeth: int
    feed_mm: float
    depth_mm: float
    width_mm: float
    speed_rpm: float
    climb: bool
    helix_rad: float
    lead_rad: float
    outline: bool
    bore: Bore | None
    points: tuple[Point, ...]
    low_mm: float
    high_mm: float
    reach_mm: float
    holder_mm: float
    relief: bool
    key_path: str

    @property
    def radius_mm(self) -> float:
        """Half the tool's diameter, mm."""
        return self.diameter_mm / 2

    @property
    def feed_mm_min(self) -> float:
        """Feed of the table, mm/min."""
        return self.feed_mm * self.speed_rpm * (1 if self.kind is ToolKind.DRILL else self.teeth)

    @property
    def engaged_mm(self) -> float:
        """Width of the straight cut that engages as much of the tool, mm."""
        if self.bore is None:
            return self.width_mm
        return engaged_mm(
            width_mm=self.width_mm, tool_mm=self.diameter_mm, bore_mm=self.bore.diameter_mm
        )

    @property
    def engagement(self) -> Engagement:
        """The cut of a milling tool."""
        return Engagement(
            diameter_mm=self.diameter_mm,
            teeth=self.teeth,
            feed_mm=self.feed_mm,
            depth_mm=self.depth_mm,
            width_mm=self.engaged_mm,
            climb=self.climb,
            helix_rad=self.helix_rad,
            lead_rad=self.lead_rad,
        )


def read_cuts(
    row: Table, *, height_mm: float, turned_over: bool, stands: bool = False
) -> tuple[Cut, ...]:
    """Read the [[setup.cut]] of a set-up, faults noted.

    Args:
        row: the set-up.
        height_mm: of the part, for heights that are not given.
        turned_over: whether the drawn underside is up.
        stands: whether the sheet stands, so that heights lie across it.
    """
    return tuple(
        _cut(entry, number, height_mm, turned_over, stands)
        for number, entry in enumerate(row.tables("cut"), 1)
    )


def _cut(entry: Table, number: int, height_mm: float, turned_over: bool, stands: bool) -> Cut:
    kind = ToolKind(entry.choice("kind", tuple(ToolKind), ToolKind.END_MILL.value))
    drill, fly = kind is ToolKind.DRILL, kind is ToolKind.FLY_CUTTER
    diameter = entry.length_mm("tool_diameter", above=0.0)
    depth = entry.length_mm("depth", height_mm if drill else None, above=0.0)
    width = diameter if drill else entry.length_mm("width", diameter, above=0.0, most=diameter)
    hand = entry.choice("hand", ("right", "left"), "right")
    usual = 0.0 if fly else USUAL_HELIX_DEG
    helix = math.radians(entry.number("helix", usual, least=0.0, most=60.0))
    milling = entry.choice("milling", ("climb", "conventional"), "climb")
    lead = math.radians(entry.number("lead", 90.0, above=0.0, most=90.0))
    outline, bore, points = _path(entry, diameter, drill=drill, stands=stands)
    top = (0.0, depth) if turned_over else (height_mm - depth, height_mm)
    if stands:
        top = (0.0, height_mm)
    low, high = _heights(entry, top)
    cut = Cut(
        name=entry.text("name", f"cut {number}"),
        kind=kind,
        tool_material=entry.choice("tool", ("carbide", "hss"), "hss" if drill else "carbide"),
        diameter_mm=diameter,
        teeth=entry.whole("flutes", 1 if fly else 2, least=1),
        feed_mm=entry.length_mm("feed_per_rev" if drill else "feed_per_tooth", above=0.0),
        depth_mm=depth,
        width_mm=width,
        speed_rpm=_speed_rpm(entry, diameter),
        climb=milling == "climb",
        helix_rad=helix if hand == "right" else -helix,
        lead_rad=lead,
        outline=outline,
        bore=bore,
        points=points,
        low_mm=low,
        high_mm=high,
        reach_mm=entry.length_mm("reach", 0.0, least=0.0),
        holder_mm=entry.length_mm("holder", 0.0, least=0.0),
        relief=entry.flag("relief", True),
        key_path=f"{entry.faults.file.name}: {entry.path}",
    )
    entry.finish()
    return cut


def _path(
    entry: Table, tool_mm: float, *, drill: bool, stands: bool
) -> tuple[bool, Bore | None, tuple[Point, ...]]:
    """Return whether the path is the outline, the bore, or the points."""
    raw = entry.raw("path")
    if raw == "outline" and not drill and not stands:
        return True, None, ()
    if isinstance(raw, dict) and not drill and not stands:
        table = entry.table("path")
        assert table is not None
        bore = Bore(at=table.point_mm("bore"), diameter_mm=table.length_mm("diameter", above=0.0))
        if bore.diameter_mm <= tool_mm:
            table.fault(
                "diameter",
                f"a bore of {bore.diameter_mm:.4g} mm is no larger than its tool, {tool_mm:.4g} mm",
                "take a smaller tool, or drill it",
            )
        table.finish()
        return False, bore, ()
    if isinstance(raw, list):
        points = entry.points_mm("path")
        if len(set(points)) < (1 if drill else 2):
            entry.fault("path", "a path needs at least 2 places, a drill at least 1")
        return False, None, points
    entry.fault(
        "path",
        "path is missing" if raw is None else "path is not understood",
        "holes as [[x, y], …]"
        if drill
        else "where the tool enters, as [[x, y], [x, y], …]"
        if stands
        else 'write path = "outline", [[x, y], [x, y], …] or { bore = [x, y], diameter = … }',
    )
    return False, None, ()


def _heights(entry: Table, top: tuple[float, float]) -> tuple[float, float]:
    """Return the heights of the cut; one depth from the upper face when not given."""
    low, high = entry.lengths_mm("z", 2, top)
    if not low < high:
        entry.fault("z", f"z runs from {low:.6g} to {high:.6g} mm; the lower end comes first")
    return low, high


def _speed_rpm(entry: Table, diameter_mm: float) -> float:
    """Return the spindle speed: a number is rpm, a text may be a cutting speed."""
    units = dict(SPEED_UNITS)
    for unit, factor in SURFACE_UNITS.items():
        units[unit] = factor * 1000 / (math.pi * diameter_mm)
    return entry.amount("speed", units, above=0.0)
