"""Drill the pin plate from its hole table, cut the sheet over it, load the part, measure.

Source: common practice: a part on pins in reamed holes is where the holes are. The plate's holes
come from the record's table alone, the sheet's from the written file through the virtual laser,
the part from its drawing; none shares geometry with the program.
"""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
import shapely
import virtual_laser as laser
from shop_floor import fillet_rows, shop_text

from jigs.job import read_job
from jigs.outputs import write_outputs
from jigs.plan import plan
from kerf.errors import InputError

SHOP = (
    shop_text(kerf=0.22, thickness=3)
    + """[[tape]]
name = "tape"
thickness = 0.3
[[pin]]
name = "set"
class = "minus ZZ"
from = 2.5
to = 10.5
step = 0.02
[[pin]]
name = "relieved 6"
diameter = 5.97
class = "minus X"
relieved = true
land = 1
[[pin]]
name = "relieved 8"
diameter = 7.97
class = "minus X"
relieved = true
land = 1
"""
)
#: The lever of the test, as DXF: (x, y, corner radius); bores (x, y, diameter).
OUTLINE = [[-15, -15, 12], [80, -12, 8], [95, 20, 10], [40, 34, 6], [-12, 16, 9]]
BORES = [(0.0, 0.0, 8.0), (72.0, 8.0, 6.0), (30.0, 12.0, 3.5)]
JOB = """schema = 1
units = "mm"
[job]
number = "1"
name = "lever"
[part]
profile = "lever.dxf"
height = 10
material = "6061-T6"
edge_tolerance = 0.05
[[part.critical]]
name = "tip"
at = [85, 10]
tolerance = 0.3
[[setup]]
name = "op20"
guide = "pinplate"
sheet = "acrylic-3"
plate_thickness = 15
bore_class = "H7"
turn = {turn}
flip = "{flip}"
zero = [5, 7, {z}]
hold = "tape"
{more}
"""


def drawing(path: Path, bores=BORES) -> None:
    import ezdxf

    doc = ezdxf.new("R2000", setup=False)
    doc.header["$INSUNITS"] = 4
    space = doc.modelspace()
    space.add_lwpolyline(fillet_rows(OUTLINE), format="xyb", close=True)
    for x, y, size in bores:
        space.add_circle((x, y), size / 2)
    doc.saveas(path)


def make(folder: Path, *, turn=0.0, flip="none", more="", bores=BORES, z=10.0, shop=SHOP):
    (folder / "shop.toml").write_text(shop)
    drawing(folder / "lever.dxf", bores)
    (folder / "job.toml").write_text(JOB.format(turn=turn, flip=flip, more=more, z=z))
    worked, _ = write_outputs(plan(read_job(folder / "job.toml")), folder / "out")
    record = json.loads((folder / "out" / "record.json").read_text())
    return worked, record["setups"][0]


def ring(rows) -> np.ndarray:
    """Return points on a closed loop of (x, y, bulge), in order."""
    return np.vstack(
        [
            laser.arc_points(x, y, *rows[(i + 1) % len(rows)][:2], b)
            for i, (x, y, b) in enumerate(rows)
        ]
    )


@pytest.mark.parametrize(
    ("turn", "flip"), [(t, f) for t in (0, 17.3, 90, 180) for f in ("none", "x", "y")]
)
def test_the_part_goes_on_where_the_holes_are(tmp_path, turn, flip):
    _, setup = make(tmp_path, turn=turn, flip=flip)
    plate, base = setup["plates"][0], setup["base"]
    sheet = laser.cut(tmp_path / "out" / plate["dxf"], 0.22)
    x0, y0, x1, y1 = sheet.plate.bounds
    # The sheet lies on the plate, edges flush: its corner is the table's zero.
    corner = np.array([x0, y0])
    assert (x1 - x0, y1 - y0) == pytest.approx((base["width_mm"], base["height_mm"]), abs=0.002)

    # Virtual holes of the plate, from the table alone; the part laid by the record's pose.
    drilled = {h["name"]: np.array(h["at"]) for h in base["holes"]}
    centres = laser.placed(np.array([(x, y) for x, y, _ in BORES]), plate["to_part"]) - corner
    for pin in base["pins"]:
        hole = drilled[pin["name"]]
        gap = np.hypot(*(centres - hole).T)
        bore = int(gap.argmin())
        assert gap[bore] < 0.002
        # The largest pin goes into the smallest bore, and into its hole of the plate.
        least, most = pin["limits_mm"]
        assert most <= BORES[bore][2]
        assert most <= next(h for h in base["holes"] if h["name"] == pin["name"])["limits_mm"][0]
        assert pin["clearance_mm"][0] == pytest.approx(BORES[bore][2] - most, abs=1e-9)
        assert least < most
    assert {p["role"] for p in base["pins"]} == {"round, holds place", "relieved, holds turn"}

    # The cut sheet's holes stand over them.
    cut = {
        h["name"]: shapely.Polygon(ring)
        for h in base["holes"]
        for ring in sheet.plate.interiors
        if shapely.Polygon(ring).contains(shapely.Point(drilled[h["name"]] + corner))
    }
    assert set(cut) == set(drilled)
    for hole in base["holes"]:
        ring = shapely.get_coordinates(cut[hole["name"]].exterior) - drilled[hole["name"]] - corner
        assert np.hypot(*ring.T) == pytest.approx(hole["pilot_mm"] / 2, abs=0.002)

    # P1 is at whole millimetres; every hole is held by the plate.
    first = drilled["P1"]
    assert first == pytest.approx(np.round(first), abs=1e-9)
    for hole in base["holes"]:
        reach = hole["limits_mm"][1] / 2 + 3
        assert reach < hole["at"][0] < base["width_mm"] - reach
        assert reach < hole["at"][1] < base["height_mm"] - reach

    # Offsets are the plate's edges from program zero.
    zero = laser.placed(np.array([[5.0, 7.0]]), plate["to_part"])[0]
    assert setup["datums"]["X"]["offset_mm"] == pytest.approx(x0 - zero[0], abs=0.001)
    assert setup["datums"]["Y"]["offset_mm"] == pytest.approx(y0 - zero[1], abs=0.001)
    assert setup["datums"]["X"]["reading_mm"] == pytest.approx(x0 - zero[0] - 5, abs=0.001)


@pytest.mark.parametrize(("turn", "flip"), [(0, "none"), (17.3, "x"), (90, "y")])
def test_tape_lies_under_material_and_off_everything(tmp_path, turn, flip):
    more = (
        'stops = "auto"\n[setup.holding]\nmargin = 2\n[[setup.cut]]\npath = [[40, -20], [40, 40]]'
        "\ntool_diameter = 6\nfeed_per_tooth = 0.03\ndepth = 1\nspeed = 9000\nz = [0, 10]"
    )
    _, setup = make(tmp_path, turn=turn, flip=flip, more=more)
    plate, base = setup["plates"][0], setup["base"]
    corner = np.array(
        [min(x for x, *_ in plate["finished"][0]), min(y for _, y, *_ in plate["finished"][0])]
    )

    def lying(points):
        return laser.placed(np.asarray(points), plate["to_part"]) - corner

    part = shapely.Polygon(lying(ring(fillet_rows(OUTLINE))))
    for x, y, size in BORES:
        (at,) = lying([(x, y)])
        part = part.difference(shapely.Point(at).buffer(size / 2, quad_segs=64))
    zones = []
    for loops in base["tape"]["zones"]:
        rings = [ring(loop) for loop in loops]
        zones.append(shapely.Polygon(rings[0], rings[1:]))
    tape = shapely.union_all(zones)
    assert tape.area == pytest.approx(base["tape"]["area_mm2"], rel=1e-4)
    assert tape.difference(part).area < 0.01
    assert tape.distance(part.boundary) == pytest.approx(2.0, abs=0.005)
    slot = shapely.LineString(lying([(40, -20), (40, 40)])).buffer(3 + 1)
    assert tape.intersection(slot).area < 0.05
    for thing, size in [
        *((h["at"], h["limits_mm"][1]) for h in base["holes"]),
        *((s["at"], s["diameter_mm"]) for s in base["stops"]),
    ]:
        assert shapely.Point(thing).distance(tape) >= size / 2 + 5 - 0.005
    assert len(base["stops"]) == 3
    for stop in base["stops"]:
        disc = shapely.Point(stop["at"]).buffer(stop["diameter_mm"] / 2)
        assert disc.difference(part).area < 0.01
        assert disc.distance(slot) > 0


def test_heights_stand_one_upon_the_other(tmp_path):
    """Source: JCGM 100:2008, 5.1.2: independent thicknesses add, their uncertainties in
    quadrature."""
    worked, setup = make(tmp_path, z=0)
    base, guide = setup["base"], worked.setups[0].guide
    assert [h["name"] for h in base["heights"]] == ["plate", "tape", "part"]
    assert base["top_mm"] == pytest.approx(15 + 0.3 + 10)
    u = [h["u_mm"] for h in base["heights"]]
    assert base["top_u_mm"] == pytest.approx(math.sqrt(sum(v * v for v in u)))
    assert guide.seat_mm == pytest.approx(15.3)
    z = setup["datums"]["Z"]
    assert z["face"] == "plate's decked face"
    assert z["offset_mm"] == pytest.approx(-0.3)


def test_one_bore_and_an_edge(tmp_path):
    _, setup = make(tmp_path, turn=17.3, bores=BORES[:1])
    plate, base = setup["plates"][0], setup["base"]
    assert [p["role"] for p in base["pins"]] == ["round, holds place", "beside an edge, holds turn"]
    corner = np.array([min(x for x, *_ in plate["finished"][0])] * 2)
    corner[1] = min(y for _, y, *_ in plate["finished"][0])
    outline = laser.placed(ring(fillet_rows(OUTLINE)), plate["to_part"])
    part = shapely.Polygon(outline - corner)
    pin, hole = base["pins"][1], base["holes"][1]
    radius = sum(pin["limits_mm"]) / 4
    assert part.distance(shapely.Point(hole["at"])) == pytest.approx(radius, abs=0.002)


@pytest.mark.parametrize(
    ("more", "bores", "shop", "said"),
    [
        ("", [(0, 0, 1.2)], SHOP, "no bore fits a pin"),
        ("", [], SHOP, "no round bore"),
        ("plate = [70, 40]", BORES, SHOP, "is not held by a plate of 70.0 × 40.0 mm"),
        ("bores = [[3, 3]]", BORES, SHOP, "no round bore of the part is centred at (3.000, 3.000)"),
        ("contacts = [[0,0],[1,1],[2,2]]", BORES, SHOP, "locates from bores"),
        ("", BORES, SHOP.split("[[pin]]")[0], "the shop has no pins"),
        (
            "bores = [[0, 0], [72, 8]]\n[[setup.cut]]\npath = [[-20, 0], [20, 0]]\n"
            "tool_diameter = 6\nfeed_per_tooth = 0.03\ndepth = 1\nspeed = 9000\nz = [0, 5]",
            BORES,
            SHOP,
            "passes over bore 1",
        ),
    ],
)
def test_what_cannot_be_made_is_refused_by_name(tmp_path, more, bores, shop, said):
    with pytest.raises(InputError) as caught:
        make(tmp_path, more=more, bores=bores, shop=shop)
    message = caught.value.describe()
    assert said in message
    assert "job.toml: setup[0]" in message
    assert caught.value.hint


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ('plate = [105, 90]\nborder = 5\nplate_material = "acetal"', "pin-in-plastic"),
        ("plate = [112, 90]\nborder = 12\nbores = [[0, 0], [72, 8]]", "part-overhangs"),
        ("[setup.holding]\nmargin = 30", "tape-gone"),
        ("setback = 20\n[setup.holding]\nmargin = 8", "tape-little"),
        ('stops = "auto"\nstop_height = 0.5', "stop-too-high"),
        ('stops = "auto"\nstop_diameter = 60', "stops-no-room"),
    ],
)
def test_faults_of_a_plate_are_findings(tmp_path, more, code):
    worked, _ = make(tmp_path, more=more)
    found = {f.code: f for f in worked.findings}
    assert code in found, sorted(found)
    assert found[code].hint
