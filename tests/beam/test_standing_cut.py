"""Cut the standing guide's written file with the virtual laser, load the part, measure.

Source: the contact law itself (pads touch, walls stand back by the clearance) and statics: a
body on frictionless supports rests only when its weight falls between them. The laser and the
part's points share no code with the program.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely
import virtual_laser as laser
from quick_make import cut_files
from shop_floor import drawn, fillet_rows, shop_text

from jigs.job import read_job
from jigs.plan import plan
from kerf.errors import InputError

VISE = """[[mill]]
name = "mill"
jaw_width = {width}
jaw_height = {height}
jaw_opening = {opening}
"""
JOB = """schema = 1
units = "mm"
[job]
number = "1"
name = "part"
[part]
shape = {{ kind = "rectangle", width = 70, height = 12 }}
height = 40
material = "steel"
edge_tolerance = 0.01
[[setup]]
name = "op30"
guide = "standing"
plane = "{plane}"
side = "{side}"
fixed_jaw = "{fixed}"
sheet = "acrylic-5"
clearance = 0.5
turn = {turn}
flip = "{flip}"
zero = [5, 7, 3]
{more}
[setup.view]
shape = {{ kind = "points", points = {points} }}
height = {thick}
[[setup.view.critical]]
name = "cross hole"
at = [20, 20]
tolerance = 0.5
"""
#: Level underneath, upright on the left, a curved flank above: (x, y, corner radius).
SHAPE = [[0, 0, 2], [70, 0, 9], [62, 30, 15], [40, 45, 6], [0, 45, 8]]


def worked(folder: Path, points=None, *, vise=(150, 44, 120), plane="XZ", side="left", fixed="",
           turn=0.0, flip="none", thick=12, more=""):  # fmt: skip
    shop = shop_text()
    if vise is not None:
        shop += VISE.format(width=vise[0], height=vise[1], opening=vise[2])
    (folder / "shop.toml").write_text(shop)
    points = drawn(SHAPE, turn, flip, side) if points is None else points
    (folder / "job.toml").write_text(
        JOB.format(points=points, plane=plane, side=side, fixed=fixed, turn=turn, flip=flip,
                   thick=thick, more=more)
    )  # fmt: skip
    return plan(read_job(folder / "job.toml"))


def made(folder: Path, **asked):
    return cut_files(worked(folder, **asked), folder / "out")[0]


def codes(folder: Path, **asked) -> set[str]:
    return {f.code for f in worked(folder, **asked).findings}


@pytest.mark.parametrize(
    ("plane", "side", "turn", "flip"),
    [
        (p, s, t, f)
        for p, s in (("XZ", "left"), ("YZ", "right"))
        for t in (0, 17.3, 90, 180)
        for f in ("none", "x", "y")
    ],
)
def test_pads_carry_and_walls_stand_back(tmp_path, plane, side, turn, flip):
    setup = made(tmp_path, plane=plane, side=side, turn=turn, flip=flip)
    plate = setup["plates"][0]
    sheet = laser.cut(tmp_path / "out" / plate["dxf"], 0.24)
    contacts = laser.placed(
        np.array([c["at"] for c in setup["locating"]["contacts"]]), plate["to_part"]
    )
    assert len(contacts) == 3
    assert np.abs(shapely.distance(shapely.points(contacts), sheet.plate)).max() < 0.002
    outline = laser.placed(
        laser.outline_points(fillet_rows(drawn(SHAPE, turn, flip, side))), plate["to_part"]
    )
    points = shapely.points(outline)
    within = shapely.contains(sheet.plate, points)
    depth = shapely.distance(points, sheet.plate.exterior)
    assert depth[within].max(initial=0.0) < 0.002  # the part never enters the plate
    near_pad = np.min(
        np.hypot(*(outline[:, None, :] - contacts[None, :, :]).transpose(2, 0, 1)), axis=1
    )
    gap = shapely.distance(points, sheet.plate)
    assert gap[near_pad > 3.7].min() > 0.5 - 0.002
    low = np.abs(outline[:, 1] - outline[:, 1].min()) < 1e-6
    assert gap[low & (near_pad > 5)].max() < 0.5 + 0.002
    # Statics: the weight falls between the two pads under the part.
    middle = shapely.Polygon(outline).centroid
    names = [c["name"] for c in setup["locating"]["contacts"]]
    under = [p for p, name in zip(contacts, names, strict=True) if name[0] == "Z"]
    assert len(under) == 2
    assert min(p[0] for p in under) < middle.x < max(p[0] for p in under)
    # Nothing hangs over the part: straight above it, and its clearance, there is no plate.
    x0, _, x1, y1 = shapely.Polygon(outline).bounds
    above = shapely.box(x0, outline[outline[:, 0] < x0 + 1e-6, 1].max(), x1, y1 + 50)
    assert above.intersection(sheet.plate).area < 1e-3 or side == "right"
    zero = laser.placed(np.array([[5.0, 7.0]]), plate["to_part"])[0]
    x0, _, x1, y1 = sheet.plate.bounds
    datums, along = setup["datums"], plane[0]
    face = x0 if side == "left" else x1
    sign = -1 if side == "left" else 1
    assert datums[along]["offset_mm"] == pytest.approx(face - zero[0], abs=0.001)
    assert datums[along]["reading_mm"] == pytest.approx(face - zero[0] + 5 * sign, abs=0.001)
    assert datums["Z"]["offset_mm"] == pytest.approx(y1 - zero[1], abs=0.001)
    assert datums["Z"]["reading_mm"] == datums["Z"]["offset_mm"]


@pytest.mark.parametrize(
    ("plane", "fixed", "flip", "offset", "side"),
    [
        # The part is 12 mm from jaw to jaw, program zero 3 mm in from the face drawn at z = 0.
        ("XZ", "+Y", "none", 3.0, "−Y"),
        ("XZ", "-Y", "none", -9.0, "+Y"),
        ("XZ", "+Y", "x", 9.0, "−Y"),
        ("XZ", "-Y", "y", -3.0, "+Y"),
        ("YZ", "-X", "none", -3.0, "+X"),
        ("YZ", "+X", "none", 9.0, "−X"),
        ("YZ", "-X", "y", -9.0, "+X"),
    ],
)
def test_the_jaw_sets_the_third_axis(tmp_path, plane, fixed, flip, offset, side):
    setup = made(tmp_path, plane=plane, fixed=fixed, flip=flip)
    datum = setup["datums"][{"XZ": "Y", "YZ": "X"}[plane]]
    assert datum["set_by"] == "jaw"
    assert datum["offset_mm"] == pytest.approx(offset)
    assert datum["side"] == side
    assert datum["reading_mm"] == pytest.approx(offset + (5 if side[0] == "+" else -5))


@pytest.mark.parametrize(
    ("code", "asked"),
    [
        ("jaw-too-low", {"vise": (150, 12, 120), "more": "grip = 10"}),
        ("jaw-too-low", {"more": "parallels = 40\ngrip = 5"}),
        ("jaw-too-narrow", {"vise": (100, 44, 120)}),
        ("jaw-hidden", {"vise": (125, 44, 120)}),
        ("jaw-opening", {"vise": (150, 44, 10)}),
        ("plate-squeezed", {"thick": 5.1}),
        ("spacer-thin", {"more": "spacer = true"}),
        ("face-in-jaws", {"more": "rise = 25"}),
        ("part-drops", {"more": "contacts = [[10, 0], [25, 0], [0, 25]]"}),
    ],
)
def test_a_vise_that_does_not_serve_is_a_finding(tmp_path, code, asked):
    assert code not in codes(tmp_path)
    assert code in codes(tmp_path, **asked)


@pytest.mark.parametrize(
    ("says", "asked"),
    [
        ("no mill", {"vise": None}),
        ("jaw_width missing", {"vise": (0, 44, 120)}),
        ("drop or slide", {"points": [[0, 0, 1], [60, 0, 1], [60, 4, 1], [30, 60, 1]], "turn": 60}),
        ("cannot stand at +X", {"fixed": "+X"}),
    ],
)
def test_what_cannot_be_made_is_said(tmp_path, says, asked):
    with pytest.raises(InputError) as caught:
        worked(tmp_path, **asked)
    assert says in caught.value.what
    assert caught.value.hint
