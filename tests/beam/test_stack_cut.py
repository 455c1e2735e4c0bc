"""Cut every layer of a stack with the virtual laser, put them on their dowels, load the part.

Source: ISO 286 m6 for 6 mm (+0.004 to +0.012 mm); the clearance law itself; a layer on two
dowels as a rigid body. Laser, part and layers share no code with the program.
"""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
import shapely
import shapely.affinity
import virtual_laser as laser
from shop_floor import fillet_rows, shop_text

from jigs.job import read_job
from jigs.outputs import write_outputs
from jigs.plan import plan

JOB = """schema = 1
units = "mm"
[job]
number = "1"
name = "block"
[part]
shape = {{ kind = "points", points = {points} }}
height = {height}
material = "6061-T6"
edge_tolerance = 0.02
[[part.critical]]
name = "bore"
at = [25, 20]
tolerance = 1
[[setup]]
name = "op10"
guide = "stack"
sheet = "acrylic-5"
clearance = 0.12
turn = {turn}
flip = "{flip}"
zero = [5, 7, {zero}]
notch = 0
{more}
"""
#: (x, y, corner radius); no corner sharper than 2 mm, none hollow.
ROUNDED = [[0, 0, 4], [60, 0, 6], [60, 30, 3], [30, 45, 5], [0, 40, 8]]
DOWEL = (6.004, 6.012)


def make(
    tmp_path: Path, *, turn=0.0, flip="none", more="lip = 3", height=14, zero=14, kerf=0.24, u=0.01
):
    (tmp_path / "shop.toml").write_text(
        shop_text(kerf=kerf, u=u, stock="thickness_u = 0.02", finder="u = 0.005")
    )
    job = tmp_path / "job.toml"
    job.write_text(
        JOB.format(points=ROUNDED, turn=turn, flip=flip, more=more, height=height, zero=zero)
    )
    worked = plan(read_job(job))
    write_outputs(worked, tmp_path / "out")
    return worked, json.loads((tmp_path / "out" / "record.json").read_text())["setups"][0]


def layers(tmp_path: Path, setup, kerf=0.24):
    """Return each plate by its role's name, cut, in part coordinates."""
    out = {}
    for plate in setup["plates"]:
        (a, b, c), (d, e, f) = plate["to_part"]
        piece = laser.cut(tmp_path / "out" / plate["dxf"], kerf).plate
        out[plate["name"].removeprefix("op10-")] = shapely.affinity.affine_transform(
            piece, (a, b, d, e, c, f)
        )
    return out


def dowel_holes(piece) -> list[tuple[float, float, float, float]]:
    """Return (x, y, least, greatest diameter) of the round holes, by place."""
    found = []
    for ring in piece.interiors:
        hole = shapely.Polygon(ring)
        if hole.area > 100:
            continue
        centre = hole.centroid
        radii = np.hypot(*(shapely.get_coordinates(ring) - [centre.x, centre.y]).T)
        found.append((centre.x, centre.y, 2 * radii.min(), 2 * radii.max()))
    return sorted(found)


@pytest.mark.parametrize(
    ("turn", "flip"),
    [(0, "none"), (17.3, "none"), (90, "none"), (180, "none"), (17.3, "x"), (180, "y")],
)
def test_layers_pin_together_and_the_part_loads(tmp_path, turn, flip):
    _, setup = make(tmp_path, turn=turn, flip=flip)
    pieces = layers(tmp_path, setup)
    assert list(pieces) == ["nest", "base", "wall", "cap"]
    holes = {name: np.array(dowel_holes(piece)) for name, piece in pieces.items()}
    told = sorted(tuple(d["at"]) for d in setup["stack"]["dowels"])
    for name, found in holes.items():
        assert len(found) == 2, name
        # Coaxial with the record, so with one another, and round at the stated size.
        assert np.abs(found[:, :2] - np.array(told)).max() < 0.001
        (size,) = (
            layer["hole_mm"]
            for layer in setup["stack"]["layers"]
            if layer["plate"] == f"op10-{name}"
        )
        assert np.abs(found[:, 2:] - size).max() < 0.001
        # The largest dowel enters even where the kerf is three of its u narrower.
        assert size - 3 * 0.01 > DOWEL[1]
    part = laser.outline_points(fillet_rows(ROUNDED))
    at = shapely.points(part)
    assert np.abs(shapely.distance(at, pieces["nest"]) - 0.12).max() < 0.001
    stand_off = setup["stack"]["stand_off_mm"]
    assert np.abs(shapely.distance(at, pieces["wall"]) - 0.12 - stand_off).max() < 0.001
    assert all(pieces["base"].contains(at))
    depth = shapely.distance(at, pieces["cap"].boundary)
    assert all(pieces["cap"].contains(at))
    assert depth.min() == pytest.approx(3.0, abs=0.001)


def test_no_wall_touches_the_part_however_the_layers_shift(tmp_path):
    _, setup = make(tmp_path, turn=17.3, u=0.02)
    pieces = layers(tmp_path, setup)
    part = shapely.Polygon(laser.outline_points(fillet_rows(ROUNDED)))
    least_hole = min(h[2] for p in pieces.values() for h in dowel_holes(p))
    widest = least_hole + 3 * 0.02
    play = 2 * (widest - DOWEL[0]) / 2  # of nest and wall, about the same dowels
    first, second = (complex(*d["at"]) for d in setup["stack"]["dowels"])
    rng = np.random.default_rng(8)
    for _ in range(60):
        one, other = play * np.exp(2j * np.pi * rng.random(2))
        # The rigid motion that brings the two holes nearest to those places.
        way = (second + other - first - one) / (second - first)
        turned = way / abs(way)
        shift = (first + one + second + other - turned * (first + second)) / 2
        moved = shapely.affinity.affine_transform(
            pieces["wall"],
            (turned.real, -turned.imag, turned.imag, turned.real, shift.real, shift.imag),
        )
        # The part lies anywhere in the nest's pocket: nearest to a wall, it has used up 0.12 mm.
        assert moved.distance(part) > 0.12


def test_zero_is_the_nests_edges_and_heights_add_up(tmp_path):
    _, setup = make(tmp_path, turn=17.3, flip="x", zero=9)
    plate = setup["plates"][0]
    assert plate["name"] == "op10-nest"
    sheet = laser.cut(tmp_path / "out" / plate["dxf"], 0.24)
    zero = laser.placed(np.array([[5.0, 7.0]]), plate["to_part"])[0]
    x_min, y_min, *_ = sheet.plate.bounds
    assert setup["datums"]["X"]["offset_mm"] == pytest.approx(x_min - zero[0], abs=0.001)
    assert setup["datums"]["Y"]["offset_mm"] == pytest.approx(y_min - zero[1], abs=0.001)
    # Turned over, zero lies 14 − 9 above the part's underside, which lies on one sheet of 5.
    z = setup["datums"]["Z"]
    assert z["offset_mm"] == pytest.approx(-10.0)
    assert z["u_mm"] == pytest.approx(math.hypot(0.005, 0.02))
    # The other layers stand back where the finder touches.
    for other in setup["plates"][1:]:
        back = laser.cut(tmp_path / "out" / other["dxf"], 0.24).plate.bounds
        assert back[0] - x_min == pytest.approx(2.0, abs=0.001)
        assert back[1] - y_min == pytest.approx(2.0, abs=0.001)
        assert other["to_part"] == plate["to_part"]


def test_zero_on_the_base_takes_the_dowels_play_into_the_budget(tmp_path):
    worked, setup = make(
        tmp_path, more='lip = 0\nzero_on = "base"\npin_points = [[-10, 20], [70, 20]]'
    )
    (tmp_path / "other").mkdir()
    nested, _ = make(tmp_path / "other", more="lip = 0\npin_points = [[-10, 20], [70, 20]]")
    assert {f["plate"] for f in setup["faces"]} == {"op10-base"}
    base = next(p for p in setup["plates"] if p["name"] == "op10-base")
    bounds = laser.cut(tmp_path / "out" / base["dxf"], 0.24).plate.bounds
    zero = laser.placed(np.array([[5.0, 7.0]]), base["to_part"])[0]
    assert setup["datums"]["X"]["offset_mm"] == pytest.approx(bounds[0] - zero[0], abs=0.001)
    # On the line between the dowels the bore moves as they do: both layers' play, along and across.
    play = 2 * ((6.012 + 0.03 + 0.02 + 0.03 - 6.004) / 2)
    (with_play,), (without,) = worked.setups[0].critical, nested.setups[0].critical
    assert with_play.worst_x_mm - without.worst_x_mm == pytest.approx(play, abs=1e-9)
    assert with_play.worst_y_mm - without.worst_y_mm == pytest.approx(play, abs=1e-9)
    assert "dowels" in dict(with_play.shares)


def test_pads_locate_in_the_nest_alone(tmp_path):
    _, setup = make(tmp_path, turn=17.3, flip="y", more='contacts = "auto"\nlip = 3')
    pieces = layers(tmp_path, setup)
    for contact in setup["locating"]["contacts"]:
        at = shapely.Point(contact["at"])
        assert pieces["nest"].distance(at) < 0.002
        gap = pieces["wall"].distance(at)
        assert gap == pytest.approx(setup["stack"]["stand_off_mm"], abs=0.002)


def test_a_driven_lowest_layer_grips_and_the_others_slip(tmp_path):
    worked, setup = make(tmp_path, more='pin_fit = "drive"')
    sizes = {layer["plate"]: (layer["fit"], layer["hole_mm"]) for layer in setup["stack"]["layers"]}
    assert sizes["op10-base"] == ("drive", pytest.approx(DOWEL[0] - 0.03))
    assert sizes["op10-nest"] == ("slip", pytest.approx(DOWEL[1] + 0.03 + 0.02))
    (base,) = (p for name, p in layers(tmp_path, setup).items() if name == "base")
    assert max(h[3] for h in dowel_holes(base)) < DOWEL[0] - 0.028
    (finding,) = (f for f in worked.findings if f.code == "stack-pin-drive")
    assert "may crack" in finding.message
