"""Cut the corner guide's written file with the virtual laser, load the part, measure.

Source: the contact law itself: pads touch, walls stand back by the clearance; the laser and
the part's points share no code with the program.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import shapely
import virtual_laser as laser
from shop_floor import SQUARE, drawn, fillet_rows, shop_text

from jigs.job import read_job
from jigs.outputs import write_outputs
from jigs.plan import plan
from kerf.errors import InputError

JOB = """schema = 1
units = "mm"
[job]
number = "1"
name = "part"
[part]
shape = {{ kind = "points", points = {points} }}
height = 10
material = "steel"
edge_tolerance = 0.01
[[part.critical]]
name = "bore"
at = [20, 20]
tolerance = 0.5
[[setup]]
name = "op10"
guide = "corner"
hand = "{hand}"
sheet = "acrylic-5"
clearance = {clearance}
turn = {turn}
flip = "{flip}"
zero = [5, 7, 10]
"""


def make(folder: Path, points, *, turn=0.0, flip="none", hand="left", clearance=0.5):
    (folder / "shop.toml").write_text(shop_text())
    (folder / "job.toml").write_text(
        JOB.format(points=points, turn=turn, flip=flip, hand=hand, clearance=clearance)
    )
    write_outputs(plan(read_job(folder / "job.toml")), folder / "out")
    return json.loads((folder / "out" / "record.json").read_text())["setups"][0]


@pytest.mark.parametrize("hand", ["left", "right"])
@pytest.mark.parametrize(
    ("turn", "flip"),
    [(t, f) for t in (0, 17.3, 90, 180) for f in ("none", "x", "y")],
)
def test_pads_touch_and_walls_stand_back(tmp_path, turn, flip, hand):
    points = drawn(SQUARE, turn, flip, hand)
    setup = make(tmp_path, points, turn=turn, flip=flip, hand=hand)
    plate = setup["plates"][0]
    sheet = laser.cut(tmp_path / "out" / plate["dxf"], 0.24)
    contacts = laser.placed(
        np.array([c["at"] for c in setup["locating"]["contacts"]]), plate["to_part"]
    )
    assert len(contacts) == 3
    assert np.abs(shapely.distance(shapely.points(contacts), sheet.plate)).max() < 0.002
    rows = fillet_rows(points)
    outline = laser.placed(laser.outline_points(rows), plate["to_part"])
    gap = shapely.distance(shapely.points(outline), sheet.plate)
    depth = shapely.distance(shapely.points(outline), sheet.plate.exterior)
    inside = shapely.contains(sheet.plate, shapely.points(outline))
    assert depth[inside].max(initial=0.0) < 0.002  # the part never enters the plate
    near_pad = np.min(
        np.hypot(*(outline[:, None, :] - contacts[None, :, :]).transpose(2, 0, 1)), axis=1
    )
    x_min, y_min, x_max, _ = shapely.LinearRing(outline).bounds
    side = x_min if hand == "left" else x_max
    on_walls = (np.abs(outline[:, 1] - y_min) < 1e-6) | (np.abs(outline[:, 0] - side) < 1e-6)
    clear = on_walls & (near_pad > 3.7)
    assert clear.sum() > 50
    assert gap[clear].min() > 0.5 - 0.002
    zero = laser.placed(np.array([[5.0, 7.0]]), plate["to_part"])[0]
    bounds = sheet.plate.bounds
    face_x = bounds[0] if hand == "left" else bounds[2]
    assert setup["datums"]["X"]["offset_mm"] == pytest.approx(face_x - zero[0], abs=0.001)
    assert setup["datums"]["Y"]["offset_mm"] == pytest.approx(bounds[1] - zero[1], abs=0.001)
    sign = -1 if hand == "left" else 1
    assert setup["datums"]["X"]["side"] == ("−X" if hand == "left" else "+X")
    assert setup["datums"]["X"]["reading_mm"] == pytest.approx(
        face_x - zero[0] + sign * 5, abs=0.001
    )


def test_a_part_with_no_edge_along_the_walls_is_told_which_turns_would_do(tmp_path):
    with pytest.raises(InputError) as caught:
        make(tmp_path, drawn(SQUARE, 17.3, "none", "left"), turn=0)
    assert "lower wall" in caught.value.what
    assert "17.3" in caught.value.hint


def test_a_part_with_no_square_edges_is_sent_to_a_nest(tmp_path):
    with pytest.raises(InputError) as caught:
        make(tmp_path, [[0, 0, 1], [50, 10, 1], [20, 45, 1]])
    assert "nest" in caught.value.hint
