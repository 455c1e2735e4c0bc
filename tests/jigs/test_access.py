"""Room about a tool: chips, jaws, and what only looks near because the part lies between."""

from __future__ import annotations

import math

import pytest
from shapely import box

from jigs.finding import Severity
from jigs.holding.access import JAWS, Access, Obstacle, access, check_access
from jigs.holding.cut import Cut, ToolKind
from jigs.holding.toolpath import tool_path
from kerf.contour import Contour, Point, Region, Transform
from kerf.shapes import ell

CUT = Cut(
    name="edge", kind=ToolKind.END_MILL, tool_material="carbide", diameter_mm=6.0, teeth=2,
    feed_mm=0.03, depth_mm=1.0, width_mm=2.0, speed_rpm=5000.0, climb=True, helix_rad=0.0,
    lead_rad=math.pi / 2, outline=False, bore=None, points=(Point(5, 0), Point(5, 40)),
    low_mm=2.0, high_mm=5.0, reach_mm=0.0, holder_mm=0.0, relief=True, key_path="",
)  # fmt: skip
#: A wall 1 mm right of the rim, taller than the tool's tip.
WALL = Obstacle(
    name='plate "op10"',
    shape=Region(outer=Contour.rectangle(9, -20, 5, 80)),
    bottom_mm=0.0,
    top_mm=5.0,
)


def met(part_to_x: float) -> Access:
    path = tool_path(
        CUT,
        ell(width_mm=9, height_mm=9, leg_mm=3),
        pose=Transform(),
        height_mm=5,
        turned_over=False,
    )
    (found,) = access(path, WALL, part=box(-30, -30, part_to_x, 70))
    return found


@pytest.mark.parametrize(
    ("part_to_x", "room"),
    [(8.5, math.inf), (8.0, math.inf), (7.0, 1.0), (4.0, 1.0)],
    ids=["inside", "to the rim", "through the edge", "half out"],
)
def test_chips_need_room_where_the_tool_is_outside_the_part(part_to_x, room):
    """The rim stands 1 mm off the wall; chips go there only where no part is. Source: by hand."""
    found = met(part_to_x)
    assert found.gap_mm == pytest.approx(1.0)
    assert found.room_mm == pytest.approx(room, abs=1e-3)
    codes = [(f.code, f.severity) for f in check_access([found], subject="s")]
    assert codes == ([("chip-room", Severity.WARN)] if room < 2 else [])


def test_a_jaw_that_closes_on_a_plate_is_no_cut():
    clash = (Region(outer=Contour.rectangle(0, 0, 4, 2)),)
    item = Access(cut="", against='plate "a"', what=JAWS[0], clash=clash, gap_mm=0.0, above_mm=4.9)
    (finding,) = check_access([item], subject="s")
    assert finding.code == "guide-squeezed"
    assert finding.message.startswith('the fixed jaw closes on plate "a" about (2.0, 1.0) mm')
