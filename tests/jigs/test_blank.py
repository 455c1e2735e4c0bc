"""Several parts from one blank: sizes by hand, cuts and features at every copy, faults by name."""

from __future__ import annotations

from pathlib import Path

import pytest

from jigs.blank import BlankAsked, blank_for
from jigs.job import read_job
from jigs.plan import plan
from jigs.record import record
from jigs.sheet.content import Lines
from jigs.sheet.setup_content import sheet_content
from kerf.contour import Contour, Region
from kerf.errors import InputError

PART = Region(outer=Contour.rectangle(-10, -5, 60, 30))


def asked(**more) -> BlankAsked:
    given = {
        "copies": 2,
        "along": "y",
        "saw_mm": 3.0,
        "clean_up_mm": 1.5,
        "pitch_mm": None,
        "size_mm": None,
        "key_path": "job.toml: setup[0].view.blank",
    }
    return BlankAsked(**(given | more))


@pytest.mark.parametrize(
    ("copies", "along", "size", "pitch", "saws"),
    [
        (2, "y", (63.0, 69.0), 36.0, (28.0,)),
        (2, "x", (129.0, 33.0), 66.0, (53.0,)),
        (3, "y", (63.0, 105.0), 36.0, (28.0, 64.0)),
    ],
)
def test_the_least_blank(copies, along, size, pitch, saws):
    """Source: sums by hand: part 60 × 30, saw 3, 1.5 on every side: 30 + 3 + 2 × 1.5 = 36."""
    blank = blank_for(PART, asked(copies=copies, along=along))
    assert (blank.box.width, blank.box.height) == pytest.approx(size)
    assert blank.pitch_mm == pytest.approx(pitch)
    assert blank.saw_at_mm == pytest.approx(saws)
    assert blank.left_over_mm == pytest.approx((0.0, 0.0))


@pytest.mark.parametrize("copies", [2, 3, 5])
@pytest.mark.parametrize("along", ["x", "y"])
def test_every_part_keeps_its_clean_up_from_saw_and_edges(copies, along):
    blank = blank_for(PART, asked(copies=copies, along=along, pitch_mm=75.0))
    axis = "xy".index(along)
    low, high = (
        (blank.box.x_min, blank.box.x_max) if axis == 0 else (blank.box.y_min, blank.box.y_max)
    )
    start, end = (-10, 50) if axis == 0 else (-5, 25)
    walls = [low, *(s for at in blank.saw_at_mm for s in (at - 1.5, at + 1.5)), high]
    for i, by in enumerate(blank.copies):
        assert start + by[axis] - walls[2 * i] >= 1.5 - 1e-9
        assert walls[2 * i + 1] - (end + by[axis]) >= 1.5 - 1e-9


def test_what_the_blank_at_hand_has_over_is_told():
    blank = blank_for(PART, asked(size_mm=(80.0, 70.0)))
    assert blank.left_over_mm == pytest.approx((17.0, 1.0))


@pytest.mark.parametrize(
    ("more", "said", "key"),
    [
        ({"size_mm": (62.0, 69.0)}, "too small for 2 parts: along x 63.00 mm", "size"),
        ({"size_mm": (63.0, 60.0)}, "too small for 2 parts: along y 69.00 mm", "size"),
        ({"pitch_mm": 34.0}, "36.00 mm are needed", "pitch"),
    ],
)
def test_a_blank_too_small_is_refused_with_what_it_needs(more, said, key):
    with pytest.raises(InputError) as caught:
        blank_for(PART, asked(**more))
    assert said in caught.value.what
    assert caught.value.where.endswith("." + key)
    assert caught.value.hint


JOB = """schema = 1
units = "mm"
[job]
number = "1"
name = "cover"
[part]
shape = { kind = "rectangle", width = 60, height = 30 }
height = 10
material = "6061-T6"
edge_tolerance = 0.02
[[part.critical]]
name = "bore"
at = [20, 15]
tolerance = 0.4
[[setup]]
name = "op10"
guide = "corner"
sheet = "acrylic-5"
clearance = 0.5
zero = [0, 0, 10]
hold = "clamps"
[setup.view]
height = 10
blank = BLANK
[setup.holding]
clamps = [[50, 15]]
clamp_force = "5 kN"
[[setup.cut]]
name = "drill"
kind = "drill"
tool_diameter = 5
feed_per_rev = 0.1
speed = "150 ft/min"
path = [[20, 15]]
"""


def job_with(folder: Path, blank: str):
    template = Path(__file__).parents[2] / "templates" / "shop.toml"
    (folder / "shop.toml").write_bytes(template.read_bytes())
    (folder / "job.toml").write_text(JOB.replace("BLANK", blank), encoding="utf-8")
    return read_job(folder / "job.toml")


def test_what_is_said_of_one_part_holds_for_every_copy(tmp_path):
    job = job_with(tmp_path, '{ copies = 2, along = "y", saw = 3, clean_up = 1.5 }')
    (setup,) = job.setups
    assert [c.name for c in setup.cuts] == ["drill A", "drill B"]
    assert [tuple(c.points[0]) for c in setup.cuts] == [(20, 15), (20, 51)]
    assert [(c.name, tuple(c.at)) for c in setup.view.critical] == [
        ("bore A", (20, 15)),
        ("bore B", (20, 51)),
    ]
    worked = plan(job)
    assert {c.name for c in worked.setups[0].critical} == {"bore A", "bore B"}
    told = record(worked)["setups"][0]["blank"]
    assert told["copies"] == [[0.0, 0.0], [0.0, 36.0]]
    section = sheet_content(worked, 0).section("blank")
    lines = next(b for b in section.blocks if isinstance(b, Lines)).lines
    assert "63.000 mm × 69.000 mm × 10.000 mm" in lines[0]
    assert "34.500 mm from the lower edge" in lines[1]
    assert "part A keeps its lower face, part B its upper face" in lines[2]


@pytest.mark.parametrize(
    ("blank", "said"),
    [
        ("{ copies = 1 }", "whole number from 2 up"),
        ("{ copies = 40 }", "at most 26"),
        ('{ copies = 2, along = "z" }', 'must be one of "x", "y"'),
        ("{ copies = 2, saw = -1 }", "at least 0"),
        ("{ copies = 2, kerf = 1 }", "unknown key"),
        ("{ copies = 2, size = [40, 40] }", "too small for 2 parts"),
        ('{ copies = 2 }\nprofile = "x.dxf"', "no profile or shape of its own"),
    ],
)
def test_faults_of_a_blank_are_named_with_their_place(tmp_path, blank, said):
    with pytest.raises(InputError) as caught:
        job_with(tmp_path, blank)
    message = caught.value.describe()
    assert said in message
    assert "setup[0].view" in message
