"""Cut a fence's rail and stop with the virtual laser, put the stop in its seat, load the part.

Source: the contact law itself (pads touch, walls stand back by the clearance); the laser and
the part's points share no code with the program.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely
import virtual_laser as laser
from quick_make import cut_files
from shop_floor import SQUARE, drawn, fillet_rows, shop_text

from jigs.job import read_job
from jigs.plan import plan
from kerf.errors import InputError

MILL = """[[mill]]
name = "mill"
{table}
bolt = 8
"""
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
tolerance = 0.8
[[setup]]
name = "op10"
guide = "fence"
hand = "{hand}"
stops = {stops}
stop = {stop}
sheet = "acrylic-5"
clearance = {clearance}
turn = {turn}
flip = "{flip}"
zero = [5, 7, 10]
{more}
"""


def worked(folder: Path, points=None, *, turn=0.0, flip="none", hand="left", clearance=0.8,
           stops=(0, 40), stop=1, table="slot_pitch = 63", more=""):  # fmt: skip
    (folder / "shop.toml").write_text(shop_text() + MILL.format(table=table))
    points = drawn(SQUARE, turn, flip, hand) if points is None else points
    (folder / "job.toml").write_text(
        JOB.format(points=points, turn=turn, flip=flip, hand=hand, clearance=clearance,
                   stops=list(stops), stop=stop, more=more)
    )  # fmt: skip
    return plan(read_job(folder / "job.toml"))


def in_part(plate: shapely.Polygon, to_part) -> shapely.Polygon:
    matrix = np.array(to_part)
    return shapely.transform(plate, lambda p: p @ matrix[:, :2].T + matrix[:, 2])


@pytest.mark.parametrize(
    ("hand", "stop", "turn", "flip"),
    [
        (h, s, t, f)
        for h, s in (("left", 1), ("right", 2))
        for t in (0, 17.3, 90, 180)
        for f in ("none", "x", "y")
    ],
)
def test_pads_touch_and_the_stop_is_seated(tmp_path, hand, stop, turn, flip):
    (setup,) = cut_files(worked(tmp_path, hand=hand, stop=stop, turn=turn, flip=flip), tmp_path)
    cuts = [laser.cut(tmp_path / plate["dxf"], 0.24).plate for plate in setup["plates"]]
    rail, piece = (
        in_part(cut, plate["to_part"]) for cut, plate in zip(cuts, setup["plates"], strict=True)
    )
    contacts = {c["name"]: shapely.Point(c["at"]) for c in setup["locating"]["contacts"]}
    assert sorted(contacts) == ["X1", "Y1", "Y2"]
    assert max(rail.distance(contacts[name]) for name in ("Y1", "Y2")) < 0.002
    assert piece.distance(contacts["X1"]) < 0.002
    outline = laser.outline_points(fillet_rows(drawn(SQUARE, turn, flip, hand)))
    points = shapely.points(outline)
    for plate in (rail, piece):
        within = shapely.contains(plate, points)
        assert shapely.distance(points, plate.exterior)[within].max(initial=0.0) < 0.002
    ends = np.array([p.coords[0] for p in contacts.values()])
    near_pad = np.hypot(*(outline[:, None] - ends[None]).transpose(2, 0, 1)).min(axis=1)
    gap = shapely.distance(points, shapely.union_all([rail, piece]))
    assert gap[near_pad > 3.9].min() > 0.8 - 0.002
    # The stop sits in its seat: nothing overlaps, and it cannot move against the part's push.
    assert rail.intersection(piece).area < 0.02
    turned = np.array(setup["plates"][0]["to_part"])[:, :2]
    push = turned @ np.array([-1.0 if hand == "left" else 1.0, 0.0])
    pushed = shapely.transform(piece, lambda p: p + 0.01 * push)
    assert 0.03 < rail.intersection(pushed).area < 0.2  # one neck, 7 mm deep
    zero = laser.placed(np.array([[5.0, 7.0]]), setup["plates"][0]["to_part"])[0]
    x0, y0, x1, _ = cuts[0].bounds
    face = x0 if hand == "left" else x1
    assert setup["datums"]["X"]["offset_mm"] == pytest.approx(face - zero[0], abs=0.001)
    assert setup["datums"]["Y"]["offset_mm"] == pytest.approx(y0 - zero[1], abs=0.001)


def test_stops_stand_at_their_lengths(tmp_path):
    offsets = []
    for stop in (1, 2, 3):
        found = worked(tmp_path, stops=(0, 40, 90.5), stop=stop).setups[0]
        offsets.append(found.guide.datums[0].offset_mm)
    assert np.diff(offsets) == pytest.approx([-40.0, -50.5])


@pytest.mark.parametrize(("table", "pitch"), [("hole_pitch = 25", 25.0), ("slot_pitch = 63", None)])
def test_bolts_lie_on_the_table(tmp_path, table, pitch):
    rail = worked(tmp_path, table=table).setups[0].guide.plates[0].region
    centres = sorted(hole.bounds().centre for hole in rail.holes)
    assert len(centres) >= 2
    assert {round(hole.bounds().width, 6) for hole in rail.holes} == {9.0}  # ISO 273 medium, M8
    assert max(y for _, y in centres) == pytest.approx(min(y for _, y in centres))
    steps = np.diff([x for x, _ in centres])
    assert steps.min() > 20
    if pitch:
        assert steps / pitch == pytest.approx(np.round(steps / pitch))


def test_three_walls_stand_between_the_rail_and_the_part(tmp_path):
    contacts = {c.name: c for c in worked(tmp_path).setups[0].guide.contacts}
    kerf = {name: c.sources[0].limit_mm for name, c in contacts.items()}
    assert kerf["X1"] == pytest.approx(3 * kerf["Y1"])


def test_scale_reads_from_the_stop(tmp_path):
    plate = worked(tmp_path, more="scale = 10").setups[0].guide.plates[0]
    x = {
        round(s.points[0].x, 6)
        for s in plate.strokes
        if s.operation.value == "engrave" and len(s.points) == 2
        and abs(s.points[0].x - s.points[1].x) < 1e-9
        and abs(s.points[0].y - s.points[1].y) in (3.5, 6.0)
    }  # fmt: skip
    face = plate.to_part.inverse().point(0.0, 0.0).x
    assert len(x) >= 3
    assert all(abs((v - face) / 10 - round((v - face) / 10)) < 1e-6 for v in x)


@pytest.mark.parametrize(
    ("says", "asked"),
    [
        ("seats need", {"stops": (0, 20)}),
        ("begin at 0", {"stops": (5, 60)}),
        ("stop 3 is asked", {"stop": 3}),
        ("the clearance is 4.00 mm", {"clearance": 4.0}),
        ("does not describe the table", {"more": 'fasten = "grid"'}),
        ("lies along the rail", {"points": drawn(SQUARE, 17.3, "none", "left")}),
    ],
)
def test_what_cannot_be_made_is_said(tmp_path, says, asked):
    with pytest.raises(InputError) as caught:
        worked(tmp_path, **asked)
    assert says in caught.value.describe()
    assert "hint" in caught.value.describe()


def test_a_stop_off_the_sheet_is_a_finding(tmp_path):
    codes = {f.code for f in worked(tmp_path, stops=(0, 300, 640), stop=1).findings}
    assert "stop-off-sheet" in codes
    assert "stop-off-sheet" not in {f.code for f in worked(tmp_path).findings}


def test_pads_keep_off_what_is_cut(tmp_path):
    free = worked(tmp_path).setups[0].guide.contacts
    taken = next(c for c in free if c.name == "Y1").at
    cut = (
        '[[setup.cut]]\nname = "notch"\ntool_diameter = 8\nflutes = 2\nfeed_per_tooth = 0.03\n'
        f"depth = 1\nspeed = 8000\npath = [[{taken.x}, {taken.y - 10}], [{taken.x}, {taken.y + 5}]]"
        "\nz = [0, 10]\n"
    )
    now = worked(tmp_path, more=cut).setups[0].guide.contacts
    assert all(abs(c.at.x - taken.x) > 4 for c in now if c.name.startswith("Y"))
