"""Cut a check template's files with the virtual laser; measure window, notches and radii.

Source: Taylor's principle (a go gauge of full form at the greatest size, no-go gauges of one
dimension at the least size); a gauge takes a tenth of the tolerance, common practice. The laser
and the part's points share no code with the program.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import shapely
import virtual_laser as laser
from quick_make import cut_files
from shop_floor import ROUNDED, fillet_rows, shop_text

from jigs.job import read_job
from jigs.plan import plan
from kerf.errors import InputError

JOB = """schema = 1
units = "mm"
[job]
number = "1"
name = "part"
[part]
shape = {{ kind = "points", points = {points} }}
height = 6
material = "steel"
edge_tolerance = {edge}
[[setup]]
name = "check"
guide = "template"
sheet = "acrylic-5"
turn = {turn}
flip = "{flip}"
{more}
"""


def worked(folder: Path, *, u=0.02, edge=0.2, turn=0.0, flip="none", more="", points=ROUNDED):
    (folder / "shop.toml").write_text(shop_text(u=u))
    (folder / "job.toml").write_text(
        JOB.format(points=points, edge=edge, turn=turn, flip=flip, more=more)
    )
    return plan(read_job(folder / "job.toml"))


@pytest.mark.parametrize(
    ("turn", "flip"),
    [(0, "none"), (17.3, "none"), (17.3, "x"), (90, "y"), (90, "none"), (180, "x"), (180, "y")],
)
def test_window_and_notches_are_at_the_limits(tmp_path, turn, flip):
    (setup,) = cut_files(worked(tmp_path, turn=turn, flip=flip), tmp_path)
    plate = setup["plates"][0]
    sheet = laser.cut(tmp_path / plate["dxf"], 0.24).plate
    outline = laser.placed(laser.outline_points(fillet_rows(ROUNDED), 0.05), plate["to_part"])
    gap = shapely.distance(shapely.points(outline), sheet)
    assert np.abs(gap - 0.2).max() < 0.001
    size = np.ptp(outline, axis=0)
    x0, y0, x1, y1 = sheet.bounds
    middle = outline.min(axis=0) + size / 2
    for level, at in ((True, y1 - 5), (False, x1 - 5)):
        line = ((x0, at), (x1, at)) if level else ((at, y0), (at, y1))
        free = shapely.LineString(line).difference(sheet)
        parts = [p for p in shapely.get_parts(free) if p.length > 5]
        assert len(parts) == 1
        assert parts[0].length == pytest.approx(size[0 if level else 1] - 0.4, abs=0.002)
        c = parts[0].centroid
        assert (c.x if level else c.y) == pytest.approx(middle[0 if level else 1], abs=0.002)


def test_each_radius_has_its_gauge(tmp_path):
    (setup,) = cut_files(worked(tmp_path), tmp_path)
    sheet = laser.cut(tmp_path / "check-radii.dxf", 0.24).plate
    edge = np.array(sheet.exterior.coords)
    finished = setup["plates"][1]["finished"][0]
    corners = sorted({r for x, y, r in ROUNDED if (x, y) != (38, 25)})
    arcs = [
        (v, w) for v, w in zip(finished, (*finished[1:], finished[0]), strict=True) if v[2] != 0
    ]
    found = {"hollow": [], "nose": []}
    for (ax, ay, bulge), (bx, by, _) in arcs:
        low, high = sorted((ax, bx))
        span = (edge[:, 0] > low + 0.3) & (edge[:, 0] < high - 0.3) & (edge[:, 1] > 5)
        x, y = edge[span].T
        # Least-squares circle (Kåsa): x² + y² = 2 a x + 2 b y + c.
        a, b, c = np.linalg.lstsq(
            np.column_stack((2 * x, 2 * y, np.ones(len(x)))), x * x + y * y, rcond=None
        )[0]
        found["hollow" if bulge < 0 else "nose"].append(math.sqrt(c + a * a + b * b))
        assert abs(ay - by) < 1e-9
    assert sorted(found["hollow"]) == pytest.approx(corners, abs=0.002)
    assert found["nose"] == pytest.approx([5.0], abs=0.002)


@pytest.mark.parametrize(
    ("u", "edge", "gauges"),
    # Half the kerf's u and 0.012 mm a wall, twice (95 %), against a tenth of 2 × edge.
    [(0.02, 0.2, True), (0.05, 0.2, False), (0.02, 0.1, False), (0.0, 0.125, True)],
)
def test_it_says_whether_it_may_gauge(tmp_path, u, edge, gauges):
    assert (2 * math.hypot(u / 2, 0.012) <= 0.1 * 2 * edge) is gauges
    (planned,) = worked(tmp_path, u=u, edge=edge).setups
    codes = {f.code for f in planned.findings}
    assert ("template-guide-only" in codes) is not gauges
    told = planned.guide.plates[0].lines
    assert told == ((f"GAUGE FOR ±{edge:.2f} mm",) if gauges else ("GUIDE ONLY, NOT A GAUGE",))
    assert planned.guide.plates[1].lines == told


def test_the_hint_tells_the_kerf_that_would_do(tmp_path):
    (planned,) = worked(tmp_path, u=0.05, edge=0.2).setups
    hint = next(f.hint for f in planned.findings if f.code == "template-guide-only")
    u = float(hint.split("u = ")[1].split(" mm")[0])
    assert "template-guide-only" not in {f.code for f in worked(tmp_path, u=u - 5e-4).findings}
    assert "template-guide-only" in {f.code for f in worked(tmp_path, u=u + 5e-4).findings}


@pytest.mark.parametrize(
    ("says", "asked"),
    [
        ("no tolerance", {"edge": 0}),
        ("too coarse", {"edge": 1, "points": [[0, 0, 0], [40, 0, 0], [40, 30, 0], [21, 30, 0],
                        [21, 10, 0], [20, 10, 0], [20, 30, 0], [0, 30, 0]]}),
        ("nothing to gauge", {"edge": 22}),
        ("has no contacts", {"more": "contacts = [[10, 0], [30, 0], [0, 20]]"}),
    ],
)  # fmt: skip
def test_what_cannot_be_gauged_is_said(tmp_path, says, asked):
    with pytest.raises(InputError) as caught:
        worked(tmp_path, **asked)
    assert says in caught.value.what
    assert caught.value.hint
