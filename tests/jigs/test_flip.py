"""The second side: which datums stay, what a change costs, and the axis that is engraved.

Source: JCGM 100:2008, 5.1.2 (independent contributions add in the worst case and in quadrature);
ISO 2768-1 class m (±0.2 mm over 6 up to 30 mm); a reflection keeps its axis (definition).
"""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely

from jigs.finding import Severity
from jigs.flip_marks import WORD, flip_axis
from jigs.job import read_job
from jigs.plan import plan
from kerf import lettering
from kerf.beam import Operation
from kerf.tolerance import MARK_CLEAR_MM

HEAD = """schema = 1
units = "mm"
[job]
number = "1"
name = "plate"
[part]
shape = {{ kind = "points", points = [[0,0], [90,0,3], [90,35,12], [55,60,10], [0,60,3]] }}
height = 8
material = "6061-T6"
edge_tolerance = 0.02
[[part.critical]]
name = "bore"
at = [25, 30]
tolerance = {tolerance}
{more}
"""
SETUP = """[[setup]]
name = "{name}"
guide = "{guide}"
sheet = "acrylic-5"
clearance = 0.3
zero = [25, 30, {z}]
{keys}
"""
DEMO = Path(__file__).parents[2] / "templates" / "tide-lever"
SHOP = Path(__file__).parents[2] / "templates" / "shop.toml"
CORNER = "corner", 'hand = "left"'


def planned(folder: Path, first, second, *, tolerance=1.0, more="", z=(0, 0)):
    text = HEAD.format(tolerance=tolerance, more=more)
    for name, (guide, keys), at in (("op10", first, z[0]), ("op20", second, z[1])):
        text += SETUP.format(name=name, guide=guide, keys=keys, z=at)
    (folder / "job.toml").write_text(text, encoding="utf-8")
    (folder / "shop.toml").write_bytes(SHOP.read_bytes())
    return plan(read_job(folder / "job.toml"))


def told(worked):
    (finding,) = (f for f in worked.setups[1].findings if f.code.startswith("flip-"))
    return finding


def test_the_same_edges_are_kept_and_both_sides_add_up(tmp_path):
    # Turned over about y the left edge lies right: the corner's other hand rests on it again.
    worked = planned(tmp_path, CORNER, ("corner", 'hand = "right"\nflip = "y"'))
    finding = told(worked)
    assert (finding.code, finding.severity) == ("flip-datums-kept", Severity.NOTE)
    assert "x on the edge x = 0.000" in finding.message
    assert "y on the edge y = 0.000" in finding.message
    one, other = (s.critical[0] for s in worked.setups)
    worst = max(
        one.worst_x_mm + other.worst_x_mm,
        one.worst_y_mm + other.worst_y_mm,
    )
    assert finding.measured == pytest.approx(worst)
    turned = worked.setups[1].turned
    assert turned.is_kept
    # ± 0.02 mm of the edge in either set-up, at the feature between the pads: no less than that.
    assert turned.edges_mm[0] >= 2 * 0.02 - 1e-9


def test_another_edge_is_a_change_with_its_cost(tmp_path):
    worked = planned(tmp_path, CORNER, ("corner", 'flip = "x"\nturn = 180'), tolerance=0.3)
    finding = told(worked)
    assert (finding.code, finding.severity) == ("flip-datums-changed", Severity.WARN)
    assert "x rests on the edge x = 90.000 mm, in op10 on the edge x = 0.000 mm" in finding.message
    assert "y rests" not in finding.message
    assert "which would cancel on the same edges" in finding.message
    assert finding.measured > finding.limit == pytest.approx(0.15)
    # The remedy works: those points in a nest, the part turned over the same way.
    points = finding.hint.split("contacts = ")[1].split(" rests")[0]
    nest = ("nest", f'flip = "x"\nturn = 180\ncontacts = {points}\nnotch = 0')
    mended = told(planned(tmp_path, CORNER, nest, tolerance=0.3))
    assert mended.code == "flip-datums-kept"


def test_no_datum_left_in_either_axis_says_what_would_mend_it(tmp_path):
    worked = planned(tmp_path, CORNER, ("nest", 'flip = "x"'))
    finding = told(worked)
    assert finding.code == "flip-no-datum"
    assert "no datum of op10 is left in x or y" in finding.message
    assert "the middle of the outline" in finding.message
    assert "contacts = [[" in finding.hint


def test_floating_both_times_keeps_the_middle(tmp_path):
    finding = told(planned(tmp_path, ("nest", ""), ("nest", 'flip = "y"')))
    assert finding.code == "flip-datums-kept"
    assert "x on the middle of the outline" in finding.message


@pytest.mark.parametrize(
    ("z", "kept"),
    # Zero on the drawn upper face, touched in op10; turned over, the part rests on that face.
    [((8, 8), True), ((8, 0), False), ((0, 0), True), ((0, 8), False)],
)
def test_height_joins_in_where_z_changes_its_face(tmp_path, z, kept):
    worked = planned(tmp_path, CORNER, ("corner", 'hand = "right"\nflip = "y"'), z=z)
    turned = worked.setups[1].turned
    assert turned.axes[2].is_kept is kept
    assert turned.height_mm == pytest.approx(0.0 if kept else 0.2)
    assert ("part's height, ±0.20 mm" in told(worked).message) is not kept
    assert "would cancel" not in told(worked).message  # x and y rest on the same edges
    assert ("set Z from" in told(worked).hint) is not kept


def test_edges_the_first_side_cuts_itself_are_said_to_be_true(tmp_path):
    cut = """[[setup.cut]]
name = "outline"
tool_diameter = 6
flutes = 3
feed_per_tooth = 0.03
depth = 2
width = 0.5
speed = 8000
path = "outline"
z = [0, 8]
"""
    worked = planned(tmp_path, ("nest", cut), ("nest", 'flip = "y"'))
    finding, turned = told(worked), worked.setups[1].turned
    assert finding.code == "flip-datums-made"
    assert turned.is_made_before
    # Only the second location stands between the sides.
    (second,) = worked.setups[1].critical
    assert turned.features[0].worst_mm == pytest.approx(second.worst_mm)
    assert "locating in op10 moves both alike" in finding.message


def test_nothing_is_said_without_turning_over(tmp_path):
    worked = planned(tmp_path, ("nest", ""), ("nest", "turn = 90"))
    assert worked.setups[1].turned is None
    assert not [f for f in worked.findings if f.code.startswith("flip-")]


def test_a_tie_across_sides_is_kept_in_the_budget_and_on_the_sheet(tmp_path):
    tie = '[[part.critical]]\nname = "slot"\nat = [60, 20]\ntolerance = 0.9\npair = "bore"\n'
    worked = planned(tmp_path, ("nest", ""), ("nest", 'flip = "x"\nturn = 30'), more=tie)
    (pair,) = worked.pairs
    first, second = ({c.name: c for c in s.critical} for s in worked.setups)
    either = max(
        max(a[n].worst_x_mm + b[m].worst_x_mm, a[n].worst_y_mm + b[m].worst_y_mm)
        for a, b in ((first, second), (second, first))
        for n, m in (("slot", "bore"),)
    )
    assert pair.worst_mm == pytest.approx(either)
    from jigs.sheet.flip_content import flip_section

    section = flip_section(worked.setups[1], worked)
    rows = [row for block in section.blocks[1:2] for row in block.rows]
    assert [row[0] for row in rows] == ["bore", "slot", "slot to bore, tied by the drawing"]


@pytest.mark.parametrize(("flip", "turn"), [("x", 17.3), ("y", 17.3), ("x", 90), ("y", 180)])
def test_the_axis_is_engraved_through_the_middle_clear_of_cuts(tmp_path, flip, turn):
    worked = planned(tmp_path, ("nest", ""), ("nest", f'flip = "{flip}"\nturn = {turn}'))
    assert not [f for f in worked.findings if f.code == "mark-no-room"]
    first, second = (s.guide.plates[0] for s in worked.setups)
    assert flip_axis(worked.setups[0].setup, first) is None
    way = flip_axis(worked.setups[1].setup, second)
    # The part's own axis, turned by the set-up's turn: a reflection keeps its axis.
    drawn = math.radians(turn) + (0.0 if flip == "x" else math.pi / 2)
    assert abs(way.x * math.sin(drawn) - way.y * math.cos(drawn)) < 1e-12
    lay = second.to_part.inverse()
    centre = worked.setups[1].part.region.transformed(lay).bounds().centre
    region = second.region
    solid = shapely.Polygon(region.outer.facets(), [h.facets() for h in region.holes])
    walls = solid.boundary
    dashes = 0
    for stroke in second.strokes:
        if stroke.operation is not Operation.ENGRAVE:
            continue
        line = shapely.LineString(stroke.points)
        assert solid.contains(line)
        assert line.distance(walls) > MARK_CLEAR_MM - 1e-3
        off = [abs((p.x - centre.x) * way.y - (p.y - centre.y) * way.x) for p in stroke.points]
        dashes += max(off) < 1e-9 and len(stroke.points) == 2
    assert dashes >= 4
    letters = lettering.strokes(WORD, height_mm=3.0, at=(0.0, 0.0))
    shapes = {np.round(np.ptp(np.array(s), axis=0), 6).tobytes() for s in letters}
    seen = {np.round(np.ptp(np.array(s.points), axis=0), 6).tobytes() for s in second.strokes}
    assert shapes <= seen


def test_pins_in_bores_that_the_first_side_cut_leave_its_location_out():
    job = read_job(DEMO / "job.toml")
    worked = plan(replace(job, setups=job.setups[:2]))
    assert [s.setup.flip for s in worked.setups] == ["none", "x"]
    finding, turned = told(worked), worked.setups[1].turned
    assert finding.code == "flip-datums-made"
    assert "the bore at (96.000, 22.000)" in finding.message
    assert [axis.is_lost for axis in turned.axes[:2]] == [True, True]  # op10 rests on the blank
    for pair, second in zip(turned.features, worked.setups[1].critical, strict=True):
        assert pair.worst_mm == pytest.approx(second.worst_mm)
