"""Cut a plate with several pockets with the virtual laser, and load a part into each.

Source: the clearance law itself; a copy is the first pocket moved by the record's shift. Laser
and part share no code with the program.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import shapely
import shapely.affinity
import virtual_laser as laser
from shop_floor import shop_text

from jigs.job import read_job
from jigs.outputs import write_outputs
from jigs.plan import plan
from kerf.errors import InputError, InputErrors

SHOP = shop_text(u=0.01, card="u_scale = 0.0001\nscale_x = 1.001\nscale_y = 0.998", size=(900, 600))
JOB = """schema = 1
units = "mm"
[job]
number = "1"
name = "part"
quantity = 7
[part]
shape = {{ kind = "rounded rectangle", width = 50, height = 30, radius = 5 }}
height = 10
material = "6061-T6"
edge_tolerance = 0.02
[[setup]]
name = "op10"
guide = "nest"
sheet = "acrylic-5"
clearance = 0.12
turn = {turn}
flip = "{flip}"
zero = [5, 7, 10]
{more}
"""
#: The rounded rectangle from first principles: quarter arcs have bulge tan(π/8).
Q = float(np.tan(np.pi / 8))
PART = [
    (5, 0, 0.0), (45, 0, Q), (50, 5, 0.0), (50, 25, Q),
    (45, 30, 0.0), (5, 30, Q), (0, 25, 0.0), (0, 5, Q),
]  # fmt: skip


def job_of(folder: Path, *, turn=0.0, flip="none", more="copies = 3"):
    (folder / "shop.toml").write_text(SHOP)
    (folder / "job.toml").write_text(JOB.format(turn=turn, flip=flip, more=more))
    return read_job(folder / "job.toml")


def make(folder: Path, **asked):
    worked = plan(job_of(folder, **asked))
    write_outputs(worked, folder / "out")
    return worked, json.loads((folder / "out" / "record.json").read_text())["setups"][0]


def cut(folder: Path, plate):
    """Return the plate, true mm: this laser stretches x by 1.001 and y by 0.998."""
    # A round beam in true mm is one of other radii in the file's; 0.2 % of 0.12 mm is nothing.
    sheet = laser.cut(folder / "out" / plate["dxf"], 0.24)
    return shapely.affinity.scale(sheet.plate, 1.001, 0.998, origin=(0, 0))


@pytest.mark.parametrize(
    ("turn", "flip", "along"),
    [(0, "none", "x"), (17.3, "x", "y"), (90, "y", "x"), (180, "none", "y")],
)
def test_every_copy_has_its_clearance_where_the_record_says(tmp_path, turn, flip, along):
    more = f'copies = 3\nalong = "{along}"\nnotch = 0'
    worked, setup = make(tmp_path, turn=turn, flip=flip, more=more)
    plate = cut(tmp_path, setup["plates"][0])
    part = laser.placed(laser.outline_points(PART), setup["plates"][0]["to_part"])
    shifts = np.array(setup["copies"])
    assert shifts.shape == (3, 2)
    across = 1 if along == "x" else 0
    assert (shifts[:, across] == 0).all()
    assert np.diff(shifts[:, 1 - across]).min() > 0
    for by in shifts:
        gap = shapely.distance(shapely.points(part + by), plate)
        assert np.abs(gap - 0.12).max() < 0.002
    # Webs are kept: as wide as a sheet is thick twice, at least.
    holes = [shapely.Polygon(ring) for ring in plate.interiors]
    assert len(holes) == 3
    apart = min(a.distance(b) for i, a in enumerate(holes) for b in holes[:i])
    assert apart >= 10.0 - 0.001
    assert not [f for f in worked.findings if f.code == "web-thin"]


def test_pads_touch_in_every_copy(tmp_path):
    _, setup = make(tmp_path, turn=17.3, more='copies = 2\ncontacts = "auto"')
    plate = cut(tmp_path, setup["plates"][0])
    for by in setup["copies"]:
        for contact in setup["locating"]["contacts"]:
            at = laser.placed(np.array([contact["at"]]), setup["plates"][0]["to_part"])[0] + by
            assert plate.distance(shapely.Point(at)) < 0.002
    # The program's own virtual cut looks at both, too.
    names = list(setup["proof"][0]["contact_gaps_mm"])
    assert len(names) == 6
    assert f"{names[0]} of copy 2" in names


def test_like_walls_are_checked_with_the_scales_uncertainty(tmp_path):
    _, setup = make(tmp_path, more="copies = 5\npitch = 120\nnotch = 0")
    checks = {c["name"]: c for c in setup["checks"]}
    for number in range(2, 6):
        check = checks[f"copy 1 to copy {number}, like walls"]
        assert check["nominal_mm"] == pytest.approx(120 * (number - 1))
        # u_scale 0.0001: 0.048 mm over 480 mm, twice that is asked; a calliper's 0.02 at least.
        expected = max(0.02, 2 * 0.0001 * 120 * (number - 1))
        assert check["plus_minus_mm"] == pytest.approx(expected)
    html = (tmp_path / "out" / "setup-sheet.html").read_text(encoding="utf-8")
    assert "+480.000 mm" in html
    assert "7 parts take 2 loads, the last of 2." in html


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ("copies = 2\npitch = 50.1", "pockets of two copies meet"),
        ("pitch = 60", "for one copy"),
        ("copies = 0", "copies"),
        ("copies = 1000", "at most 100"),
    ],
)
def test_bad_copies_are_refused_by_key(tmp_path, more, words):
    with pytest.raises((InputError, InputErrors)) as fault:
        plan(job_of(tmp_path, more=more))
    assert words in fault.value.describe()
    assert "setup[0]" in fault.value.describe()


def test_a_pitch_that_leaves_too_thin_a_web_is_found(tmp_path):
    worked = plan(job_of(tmp_path, more="copies = 2\npitch = 53\nnotch = 0"))
    (web,) = (f for f in worked.findings if f.code == "web-thin")
    assert web.measured == pytest.approx(53 - 50 - 0.24, abs=1e-6)
