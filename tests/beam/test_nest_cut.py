"""Cut the nest's written file with the virtual laser, load the part, measure the clearance.

Source: the clearance law itself (a wall parallel to the outline at the asked distance);
the laser and the part's points share no code with the program.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import shapely
import virtual_laser as laser
from shop_floor import ROUNDED, fillet_rows, shop_text

from jigs.job import read_job
from jigs.outputs import write_outputs
from jigs.plan import plan

JOB = """schema = 1
units = "mm"
[job]
number = "1"
name = "part"
[part]
shape = {{ kind = "points", points = {points} }}
height = 10
material = "steel"
edge_tolerance = 0.05
[[setup]]
name = "op10"
guide = "nest"
sheet = "acrylic-5"
clearance = {clearance}
turn = {turn}
flip = "{flip}"
zero = [5, 7, 10]
notch = {notch}
"""


def make(tmp_path: Path, *, kerf=0.24, clearance=0.1, turn=0.0, flip="none", notch=0):
    (tmp_path / "shop.toml").write_text(shop_text(kerf=kerf))
    job = tmp_path / "job.toml"
    job.write_text(
        JOB.format(points=ROUNDED, clearance=clearance, turn=turn, flip=flip, notch=notch)
    )
    worked = plan(read_job(job))
    write_outputs(worked, tmp_path / "out")
    return json.loads((tmp_path / "out" / "record.json").read_text())


@pytest.mark.parametrize("turn", [0, 17.3, 90, 180])
@pytest.mark.parametrize("flip", ["none", "x", "y"])
def test_wall_stands_at_the_asked_clearance_everywhere(tmp_path, turn, flip):
    record = make(tmp_path, turn=turn, flip=flip)
    plate = record["setups"][0]["plates"][0]
    sheet = laser.cut(tmp_path / "out" / plate["dxf"], 0.24)
    part = laser.placed(laser.outline_points(fillet_rows(ROUNDED)), plate["to_part"])
    gap = shapely.distance(shapely.points(part), sheet.plate)
    assert np.abs(gap - 0.1).max() < 0.001


@pytest.mark.parametrize(("kerf", "clearance"), [(0.08, 0.02), (0.24, 0.0), (0.5, 0.25)])
def test_kerf_and_clearance_are_taken_once(tmp_path, kerf, clearance):
    record = make(tmp_path, kerf=kerf, clearance=clearance)
    plate = record["setups"][0]["plates"][0]
    sheet = laser.cut(tmp_path / "out" / plate["dxf"], kerf)
    part = laser.placed(laser.outline_points(fillet_rows(ROUNDED)), plate["to_part"])
    gap = shapely.distance(shapely.points(part), sheet.plate)
    assert np.abs(gap - clearance).max() < 0.001


def test_datum_offsets_are_those_of_the_cut_plate(tmp_path):
    record = make(tmp_path, turn=17.3, flip="x")
    setup = record["setups"][0]
    plate = setup["plates"][0]
    sheet = laser.cut(tmp_path / "out" / plate["dxf"], 0.24)
    zero = laser.placed(np.array([[5.0, 7.0]]), plate["to_part"])[0]
    x_min, y_min, *_ = sheet.plate.bounds
    assert setup["datums"]["X"]["offset_mm"] == pytest.approx(x_min - zero[0], abs=0.001)
    assert setup["datums"]["Y"]["offset_mm"] == pytest.approx(y_min - zero[1], abs=0.001)
    # Touched from the − side, the spindle stands a tip radius short of the face.
    assert setup["datums"]["X"]["reading_mm"] == pytest.approx(x_min - zero[0] - 5, abs=0.001)


def test_pocket_has_one_entity_of_as_many_edges_as_the_part_and_no_facet(tmp_path):
    record = make(tmp_path)
    plate = record["setups"][0]["plates"][0]
    sheet = laser.cut(tmp_path / "out" / plate["dxf"], 0.24)
    (pocket,) = sheet.inside
    # The cut begins within an edge, away from every contact: that edge is in two.
    assert len(laser.loop_rows(pocket)) == len(fillet_rows(ROUNDED)) + 1
    # A square corner may turn about the beam; the cut begins within one such turn or edge.
    assert len(laser.loop_rows(sheet.outside[0])) in (5, 9)


def test_notches_only_ever_widen_the_pocket(tmp_path):
    record = make(tmp_path, notch=16)
    plate = record["setups"][0]["plates"][0]
    sheet = laser.cut(tmp_path / "out" / plate["dxf"], 0.24)
    part = laser.placed(laser.outline_points(fillet_rows(ROUNDED)), plate["to_part"])
    gap = shapely.distance(shapely.points(part), sheet.plate)
    assert gap.min() > 0.1 - 0.001
    assert np.mean(np.abs(gap - 0.1) < 0.001) > 0.6
    assert gap.max() > 3.0
