"""How much of a tool is in the material in corners and curves, against circles met by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from jigs.holding.cut import Cut, ToolKind
from jigs.holding.cutting import engaged_mm
from jigs.holding.engaged import engaged_widths_mm
from jigs.holding.materials import ALUMINIUM_HARDENED
from jigs.holding.toolpath import cut_loads, stations, tool_path
from kerf.contour import Point, Region, Transform
from kerf.shapes import ell


def cut(**keys) -> Cut:
    base = {
        "name": "cut", "kind": ToolKind.END_MILL, "tool_material": "carbide", "diameter_mm": 10.0,
        "teeth": 3, "feed_mm": 0.03, "depth_mm": 2.0, "width_mm": 1.0, "speed_rpm": 5000.0,
        "climb": True, "helix_rad": 0.0, "lead_rad": math.pi / 2, "outline": False, "bore": None,
        "points": (), "low_mm": 0.0, "high_mm": 5.0, "reach_mm": 0.0, "holder_mm": 0.0,
        "relief": True, "key_path": "",
    }  # fmt: skip
    return Cut(**{**base, **keys})


def arc_rad(width: float, diameter: float = 10.0) -> float:
    """Return the angle a width engages. Source: cos = 1 - 2 w / D."""
    return math.acos(1 - 2 * width / diameter)


def widths(made: Cut, outline: Region | None = None) -> tuple[np.ndarray, np.ndarray]:
    shape = outline or ell(width_mm=90, height_mm=70, leg_mm=30)
    path = tool_path(made, shape, pose=Transform(), height_mm=5, turned_over=False)
    where = stations(path)
    return where, engaged_widths_mm(made, path.tracks, where)


@pytest.mark.parametrize("climb", [True, False])
@pytest.mark.parametrize("width", [0.2, 1.0, 4.0, 7.0])
def test_a_straight_engages_by_its_width(climb, width):
    points = (Point(-10, 3), Point(60, 43))
    _, found = widths(cut(points=points, climb=climb, width_mm=width))
    assert np.all(found == width)


@pytest.mark.parametrize("climb", [True, False])
@pytest.mark.parametrize("width", [0.3, 1.0, 3.0])
def test_an_inside_corner_of_an_outline(climb, width):
    """Straight ahead stands the other wall, one width of it: 90° more. Source: by hand."""
    outline = ell(width_mm=90, height_mm=70, leg_mm=30)  # its inside corner at (30, 30)
    where, found = widths(cut(outline=True, climb=climb, width_mm=width), outline)
    corner = np.hypot(where[:, 0] - 35, where[:, 1] - 35) < 1e-6
    # One of the stations there comes in, one goes out along the other wall, straight.
    assert np.count_nonzero(corner) == 2
    wanted = arc_rad(width) + math.pi / 2
    met = arc_rad(float(found[corner].max()))
    assert wanted - math.radians(4) <= met <= wanted + math.radians(10)
    assert found[corner].min() == width
    # The convex corners are followed as the straights are.
    assert np.all(found[np.hypot(where[:, 0] - 35, where[:, 1] - 35) > 15] == width)


@pytest.mark.parametrize("radius", [6.0, 8.0, 20.0])
def test_a_fillet_engages_like_a_bore(radius):
    """Far round an inside fillet, as in a bore of its radius. Source: the bore's closed form."""
    outline = ell(width_mm=190, height_mm=170, leg_mm=60, radius_mm=radius)
    where, found = widths(cut(outline=True, width_mm=0.5), outline)
    middle = np.array((60 + radius, 60 + radius))
    turned = np.hypot(*(where[:, :2] - middle).T)
    on = np.abs(turned - (radius - 5)) < 0.05
    assert on.any()
    wanted = arc_rad(min(engaged_mm(width_mm=0.5, tool_mm=10, bore_mm=2 * radius), 10.0))
    # The middle of the fillet: it is still in the curve ahead, and the curve before lies behind.
    at = where[on][:, :2] - middle
    half = np.argmin(np.abs(at[:, 0] - at[:, 1]))
    met = arc_rad(float(found[on][half]))
    assert wanted - math.radians(4) <= met <= wanted + math.radians(12)


def test_a_turn_into_the_work_engages_more_and_one_out_of_it_does_not():
    """A pocket's wall on the right: a left turn meets the next wall, a right turn leaves it."""
    left = (Point(0, 0), Point(40, 0), Point(40, 40))
    right = (Point(0, 0), Point(40, 0), Point(40, -40))
    for points, more in ((left, True), (right, False)):
        where, found = widths(cut(points=points))
        at = np.hypot(where[:, 0] - 40, where[:, 1]) < 1e-6
        assert (found[at].max() > 2.0) == more
        assert np.all(found[~at & (np.hypot(where[:, 0] - 40, where[:, 1]) > 12)] == 1.0)


def test_a_corner_pushes_harder_than_a_straight():
    """Law: at no station do the loads shrink, and in the corner they grow. Source: Kienzle."""
    outline = ell(width_mm=90, height_mm=70, leg_mm=30)
    made = cut(outline=True)
    path = tool_path(made, outline, pose=Transform(), height_mm=5, turned_over=False)
    loads = cut_loads(path, ALUMINIUM_HARDENED)
    side = np.hypot(loads.rows[:, 3], loads.rows[:, 4])
    most = np.zeros(len(loads.at))
    np.maximum.at(most, loads.station, side)
    assert most.min() == pytest.approx(np.median(most))
    corner = np.hypot(*(loads.at - 35).T) < 1e-6
    assert most[corner].max() > 1.4 * most.min()
