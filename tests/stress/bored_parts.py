"""Random parts with bores for the pin plate, and what may be said of those it refuses."""

from __future__ import annotations

import math
import random
from pathlib import Path

import numpy as np
import shapely

from jigs.job import read_job
from jigs.plan import plan
from jigs.record import record
from kerf.errors import InputError

SHOP = """schema = 1
units = "mm"
[[laser]]
name = "laser"
bed = [900, 900]
[[laser.card]]
name = "card"
sheet = "acrylic-3"
kerf = 0.22
u = 0.02
[[sheet]]
name = "acrylic-3"
material = "cast acrylic"
thickness = 3
size = [900, 900]
[[finder]]
name = "finder"
tip_diameter = 10
[[tape]]
name = "tape"
thickness = 0.3
"""
PINS = (
    '[[pin]]\nname = "set"\nclass = "minus ZZ"\nfrom = "0.061 in"\nto = "0.500 in"\n'
    'step = "0.001 in"\n',
    '[[pin]]\nname = "r5"\ndiameter = 4.97\nclass = "minus X"\nrelieved = true\nland = 0.8\n',
    '[[pin]]\nname = "d6"\ndiameter = 6\nclass = "ISO 8734"\n',
    '[[pin]]\nname = "d8"\ndiameter = 8\nclass = "ISO 2338 h8"\n',
)
#: Ways in which a part without a plate may be refused.
NAMED = (
    "no bore fits a pin",
    "no round bore",
    "the shop has no pins",
    "the shop has no round pin",
    "hold the part's place but not its turn",
    "is not held by a plate",
    "passes over",
)


def random_job(folder: Path, seed: int) -> Path:
    """Write a random job with its drawing and shop; return the job file."""
    import ezdxf

    rng = random.Random(seed)
    count = rng.randint(5, 11)
    size = rng.uniform(20, 90)
    angles = sorted(rng.uniform(0, math.tau) for _ in range(count))
    ring = [
        (
            rng.uniform(0.55, 1.0) * size * math.cos(a),
            rng.uniform(0.55, 1.0) * size * rng.uniform(0.5, 1) * math.sin(a),
        )
        for a in angles
    ]
    outline = shapely.Polygon(ring).buffer(0)
    if isinstance(outline, shapely.MultiPolygon):
        outline = max(outline.geoms, key=lambda g: g.area)
    outline = outline.buffer(3).buffer(-1)
    bores: list[tuple[float, float, float]] = []
    x0, y0, x1, y1 = outline.bounds
    for _ in range(rng.choice((0, 1, 1, 2, 3, 4, 6, 9)) * 4):
        x, y = rng.uniform(x0, x1), rng.uniform(y0, y1)
        d = rng.choice((1.2, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 25.0, rng.uniform(2, 14)))
        disc = shapely.Point(x, y).buffer(d / 2 + 1)
        if outline.contains(disc) and all(
            math.dist((x, y), b[:2]) > (d + b[2]) / 2 + 0.5 for b in bores
        ):
            bores.append((x, y, d))
    doc = ezdxf.new("R2000", setup=False)
    doc.header["$INSUNITS"] = 4
    space = doc.modelspace()
    space.add_lwpolyline(list(outline.exterior.simplify(0.05).coords)[:-1], close=True)
    for x, y, d in bores:
        space.add_circle((x, y), d / 2)
    doc.saveas(folder / "part.dxf")
    shop = SHOP + "".join(rng.sample(PINS, rng.randint(0, len(PINS))) or PINS[:1])
    (folder / "shop.toml").write_text(shop, encoding="utf-8")
    at = outline.representative_point()
    more = rng.choice(("", 'stops = "auto"', "setback = 9", "border = 8", 'bore_class = "H7"'))
    flip = rng.choice(("none", "x", "y"))
    tape = rng.choice(('hold = "tape"', 'hold = "tape"\n[setup.holding]\nmargin = 4', ""))
    (folder / "job.toml").write_text(
        f"""schema = 1
units = "mm"
[job]
number = "{seed}"
name = "random"
[part]
profile = "part.dxf"
height = {rng.uniform(3, 25):.3f}
material = "6061-T6"
edge_tolerance = 0.05
[[part.critical]]
name = "c"
at = [{at.x:.3f}, {at.y:.3f}]
tolerance = 0.4
[[setup]]
name = "op20"
guide = "pinplate"
sheet = "acrylic-3"
plate_thickness = {rng.choice((8, 12.7, 25)):.1f}
turn = {rng.uniform(-180, 180):.3f}
flip = "{flip}"
zero = [0, 0, 0]
{more}
{tape}
""",
        encoding="utf-8",
    )
    return folder / "job.toml"


def check_random(folder: Path, seed: int) -> str:
    """Make the plate of a random part; return what came out: roles of the pins, or the refusal.

    What is made obeys the table: pins enter bores and holes, tape stays under material.
    """
    job = read_job(random_job(folder, seed))
    refused = None
    try:
        worked = plan(job)
    except InputError as fault:
        refused = fault
    if refused is not None:
        named = [n for n in NAMED if n in refused.what]
        assert named, refused.describe()
        assert refused.hint
        return named[0]
    base = record(worked)["setups"][0]["base"]
    rows = np.array(base["to_part"])
    for pin, hole in zip(base["pins"], base["holes"], strict=True):
        at = rows[:, :2] @ np.array(hole["at"]) + rows[:, 2]
        assert math.dist(at, pin["at_part"]) < 1e-9
        if pin["bore"] is not None:
            assert pin["clearance_mm"][0] >= 0
    part = shapely.Polygon(
        job.part.region.outer.facets(), [h.facets() for h in job.part.region.holes]
    )
    for zone in worked.setups[0].guide.tape or ():
        figure = shapely.Polygon(zone.outer.facets(), [h.facets() for h in zone.holes])
        assert figure.difference(part).area < 0.01
    if worked.setups[0].setup.hold is not None and not base["tape"]["zones"]:
        assert "tape-gone" in {f.code for f in worked.findings}
    return " / ".join(p["role"].split(",")[0] for p in base["pins"])
