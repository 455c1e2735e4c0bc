"""Whole jobs in a vise: hard jaws and soft, what they press, lift and stand in the way of."""

from __future__ import annotations

import math

import pytest
from cut_jobs import MILL, OUTLINE, PLATE, SETUP, VISE, found, worked

from jigs.finding import Severity
from jigs.holding.toolpath import cut_loads
from jigs.record import record
from jigs.sheet.setup_content import sheet_content
from kerf.errors import InputErrors

KNEE = """
[[mill]]
name = "knee mill"
travel = [600, 250, 300]
jaw_opening = 100
jaw_height = 40
jaw_width = 150
"""
SOFT = VISE.replace("grip = 6", 'jaw_faces = "soft"\nstep = 6')
ROUND = PLATE.replace(
    '{ kind = "points", points = [[-50, -30], [50, -30], [50, 30], [-50, 30]] }',
    '{ kind = "circle", diameter = 70 }',
)
NEST = SETUP.replace('"corner"', '"nest"')


def test_a_vise_holds_what_its_friction_holds(tmp_path):
    made = worked(tmp_path, PLATE + SETUP + VISE + MILL)
    held = made.setups[0].machined.held
    assert held.grip is not None
    assert held.grip.length_mm == pytest.approx(100)
    assert held.holding is not None
    assert held.holding.worst.factor > 3
    weak = worked(tmp_path, PLATE + SETUP + VISE.replace("6 kN", "60 N") + MILL)
    assert not weak.is_good


def test_a_part_gripped_low_bows(tmp_path):
    part = PLATE.replace("height = 12", "height = 6")
    job = part + SETUP.replace("12]", "6]") + VISE.replace("grip = 6", "grip = 2")
    made = worked(tmp_path, job + MILL.replace("[8, 12]", "[5, 6]"))
    assert found(made, "grip-low")
    # F (h/2 - g/2) L² / (8 E I), worked by hand: 12 N·m on 60 mm, 100 × 6 mm thick.
    (bends,) = found(made, "part-bends")
    assert bends.measured == pytest.approx(12_000 * 60**2 / (8 * 68_900 * 1800))
    assert not found(made, "part-buckles")
    # A thin sheet that lies between the jaws buckles: π² E I / L². Source: *Roark*, 15.1.
    thin = part.replace("height = 6", "height = 1")
    job = thin + NEST.replace("12]", "1]") + VISE.replace("grip = 6", "grip = 0.6")
    (buckles,) = found(worked(tmp_path, job), "part-buckles")
    assert f"{math.pi**2 * 68_900 * (100 / 12) / 60**2:.0f} N" in buckles.message


def test_a_round_part_gives_a_vise_no_flat(tmp_path):
    assert found(worked(tmp_path, ROUND + NEST + VISE + MILL), "vise-no-flat")


def test_a_vise_without_a_force_is_not_judged(tmp_path):
    made = worked(tmp_path, PLATE + SETUP + 'hold = "vise"\n' + MILL)
    assert found(made, "vise-force")
    assert made.setups[0].machined.holding is None


def test_soft_jaws_grip_a_round_part_where_it_faces_them(tmp_path):
    """Within 45°, so over 70 sin 45° of its 70 mm, short of a facet. Source: worked by hand."""
    held = worked(tmp_path, ROUND + NEST + SOFT + MILL).setups[0].machined.held
    assert held.grip is not None
    assert held.grip.length_mm == pytest.approx(70 * 2**-0.5, abs=1.0)
    assert held.grip.grip_mm == 6
    assert held.grip.friction == 0.2
    assert held.pressing is not None
    # A triangle of pressures: twice the even one at the foot.
    assert held.pressing.pressure_mpa == pytest.approx(2 * 6000 / (6 * held.grip.length_mm))
    assert held.holding is not None
    assert "soft jaws, friction 0.20 (assumed)" in held.holding.said
    assert "step 6.0 mm deep" in held.holding.said


def test_flats_count_where_both_sides_have_them(tmp_path):
    """A foot 30 wide below, two of 20 above at either end: 10 mm in all. Source: by hand."""
    points = "[[-50, -20], [-15, -20], [-15, -30], [15, -30], [15, -20], [50, -20], [50, 30],"
    points += " [10, 30], [10, 20], [-10, 20], [-10, 30], [-50, 30]]"
    part = PLATE.replace("[[-50, -30], [50, -30], [50, 30], [-50, 30]]", points)
    grip = worked(tmp_path, part + NEST + VISE + MILL).setups[0].machined.held.grip
    assert grip is not None
    assert [(f.bounds().x_min, f.bounds().x_max) for f in grip.face] == [
        pytest.approx((-15, -10)),
        pytest.approx((10, 15)),
    ]


def test_a_guide_that_lies_flat_lies_on_the_jaws(tmp_path):
    made = worked(tmp_path, PLATE + SETUP + VISE + MILL)
    machined = made.setups[0].machined
    assert made.setups[0].guide.seat_mm == -6
    assert "the guide on top of the jaws" in machined.holding.said
    assert not found(made, "guide-squeezed")
    # The tool's lowest 8 mm stay under the plate's top, 6 + 5 mm up.
    over = [a.above_mm for a in machined.access if a.against == 'plate "op10"']
    assert over == pytest.approx([8 - 11.0], abs=0.2)
    sunk = found(
        worked(tmp_path, PLATE + SETUP + VISE.replace("= 6\n", "= 12\n") + MILL), "part-sunk"
    )
    assert [f.severity for f in sunk] == [Severity.FAIL]
    assert "grip = 6.0" in sunk[0].hint


def test_jaws_that_close_on_a_bolted_fence_are_named_and_drawn(tmp_path):
    setup = SETUP.replace('"corner"', '"fence"').replace("clearance = 0.5", "clearance = 1")
    shop = KNEE + "hole_pitch = 25\nbolt = 6\n"
    made = worked(tmp_path, PLATE + setup + VISE + MILL, shop)
    hits = found(made, "guide-squeezed")
    assert hits
    assert all(f.severity is Severity.FAIL and "jaw closes on plate" in f.message for f in hits)
    content = sheet_content(made, 0)
    section = content.section("clash")
    assert section is not None
    assert section.heading == "The jaws close on the guide"
    assert any("jaw" in text.text for text in section.blocks[0].figures[0].texts())
    assert "jaw" not in repr(content.section("clearances")).replace("fixed jaw", "").replace(
        "moving jaw", ""
    )


def test_jaws_are_as_wide_as_the_shop_says(tmp_path):
    """Round the outline the tool meets what of the jaws sticks out beside the part."""
    cut = OUTLINE.replace("z = [0, 12]", "z = [5, 12]")
    wide = worked(tmp_path, PLATE + NEST + VISE + cut, KNEE)
    narrow = worked(tmp_path, PLATE + NEST + VISE + cut, KNEE.replace("= 150", "= 80"))
    sizes = [
        sum(r.area_mm2 for a in m.setups[0].machined.access if "jaw" in a.against for r in a.clash)
        for m in (wide, narrow)
    ]
    # 6 mm of path along each jaw: 70 mm more of it under wider jaws, and its rounded ends less.
    assert sizes[0] > sizes[1] + 2 * 6 * 20
    assert any("fixed jaw" in f.message for f in found(wide, "clash-tool"))


def test_the_moving_jaw_lifts_by_the_shops_indicator_or_is_worked_out(tmp_path):
    job = PLATE + SETUP + VISE + MILL
    out = worked(tmp_path, job, KNEE)
    (note,) = found(out, "jaw-lifts")
    assert note.severity is Severity.NOTE
    assert "assumed: slide 100 mm long, play 0.020 mm" in note.message
    # By hand: 6 kN × (40 - 3 + 18.75) / 100 on 200 kN/mm, and the play.
    rises = 0.02 + 6000 * (37 + 18.75) / 100 / 200_000
    assert note.measured == pytest.approx(rises, abs=1e-5)
    entry = record(out)["setups"][0]["vise"]
    assert entry["lifts_mm"] == pytest.approx(rises, abs=1e-4)
    assert entry["lift_measured"] is False
    assert len(entry["assumed"]) == 4

    told = KNEE + "  [mill.moving_jaw]\n  length = 120\n  play = 0.05\n  screw = -10\n"
    told += '  stiffness = "300 N/um"\n'
    (warn,) = found(worked(tmp_path, job, told), "jaw-lifts")
    assert warn.severity is Severity.WARN
    assert warn.measured == pytest.approx(0.05 + 6000 * 47 / 120 / 300_000, abs=1e-5)
    assert "assumed" not in warn.message

    measured = worked(tmp_path, job, KNEE + "jaw_lift = 0.031\n")
    (warn,) = found(measured, "jaw-lifts")
    assert (warn.severity, warn.measured) == (Severity.WARN, 0.031)
    assert "indicator" in warn.message
    assert record(measured)["setups"][0]["vise"]["lift_measured"] is True
    assert not found(worked(tmp_path, job, KNEE + "jaw_lift = 0.01\n"), "jaw-lifts")
    wedge = KNEE + "  [mill.moving_jaw]\n  pull_down = 50\n"
    assert not found(worked(tmp_path, job, wedge), "jaw-lifts")


def test_a_cut_right_through_is_noted_over_parallels(tmp_path):
    bore = MILL.replace("[[-20, 0], [20, 0]]", "{ bore = [0, 0], diameter = 20 }")
    for low, words in ((0, "right through"), (-1, "1.00 mm below the part")):
        deep = bore.replace("[8, 12]", f"[{low}, 12]")
        (note,) = found(worked(tmp_path, PLATE + SETUP + VISE + deep), "parallels-below")
        assert words in note.message
        assert note.severity is Severity.NOTE
    assert not found(worked(tmp_path, PLATE + SETUP + VISE + bore), "parallels-below")
    # On the ledges of soft jaws it is looked at, and a bore in the middle passes between them.
    made = worked(tmp_path, PLATE + SETUP + SOFT + bore.replace("[8, 12]", "[-1, 12]"))
    assert not found(made, "parallels-below")
    assert not found(made, "clash-tool")
    edge = bore.replace("[8, 12]", "[-1, 12]").replace("[0, 0]", "[0, 18]")
    (clash,) = found(worked(tmp_path, PLATE + SETUP + SOFT + edge), "clash-tool")
    assert "the ledge of the fixed jaw" in clash.message


def test_a_slim_part_springs_away_from_the_cut(tmp_path):
    """F a³ / (3 E I), a from the jaws to the middle of the first pass. Source: *Roark*, 8.1."""
    points = "[[-50, -2], [50, -2], [50, 2], [-50, 2]]"
    part = PLATE.replace("[[-50, -30], [50, -30], [50, 30], [-50, 30]]", points)
    part = part.replace("height = 12", "height = 40")
    setup = NEST.replace("12]", "40]")
    cut = MILL.replace("[8, 12]", "[36, 40]")
    low = VISE.replace("grip = 6", "grip = 10")
    made = worked(tmp_path, part + setup + low + cut)
    (warn,) = found(made, "part-springs")
    machined = made.setups[0].machined
    most = abs(cut_loads(machined.paths[0], machined.material).rows[:, 4]).max()
    reach = 39.5 - 10
    inertia = 2 * reach * 4**3 / 12
    assert warn.measured == pytest.approx(most * reach**3 / (3 * 68_900 * inertia))
    assert "29.5 mm out of the jaws" in warn.message
    # As wide as the whole part, when it stands out further than half its length.
    short = part.replace("-50", "-20").replace("50", "20")
    path = cut.replace("[[-20, 0], [20, 0]]", "[[-10, 0], [10, 0]]")
    (less,) = found(worked(tmp_path, short + setup + low + path), "part-springs")
    assert less.measured == pytest.approx(warn.measured * 2 * reach / 40, rel=1e-6)
    high = VISE.replace("grip = 6", "grip = 34")
    assert not found(worked(tmp_path, part + setup + high + cut), "part-springs")


def test_too_hard_a_grip_marks_and_crushes(tmp_path):
    """Force over the face gripped, 100 × 6 mm, against 275 MPa. Source: by hand."""
    for force, code in ((60, ""), (100, "jaws-mark"), (170, "jaws-crush")):
        made = worked(tmp_path, PLATE + SETUP + VISE.replace('"6 kN"', f'"{force} kN"') + MILL)
        codes = [f for c in ("jaws-mark", "jaws-crush") for f in found(made, c)]
        assert [f.code for f in codes] == ([code] if code else [])
        assert all(f.measured == pytest.approx(force * 1000 / 600) for f in codes)


FINDER = '[[finder]]\nname = "probe"\ntip_diameter = 6\nu = 0.005\n'


def test_a_short_finder_meets_a_tall_part(tmp_path):
    tall = PLATE.replace("height = 12", "height = 60")
    job = tall + SETUP.replace("12]", "60]").replace("clearance", 'finder = "probe"\nclearance')
    for keys, short in (
        ("", False),
        ("reach = 20\nbody = 60\n", False),
        ("reach = 20\nbody = 160\n", True),
        ("reach = 65\nbody = 160\n", False),
    ):
        made = worked(tmp_path, job, FINDER + keys)
        hits = found(made, "finder-short")
        assert bool(hits) == short, keys
        assert all(f.limit == pytest.approx(60 - 2.5, abs=0.1) for f in hits)


@pytest.mark.parametrize(
    ("hold", "words"),
    [
        ('jaw_faces = "sofft"', 'must be one of "hard", "soft"'),
        ("step = 3", "a step is cut into soft jaws only"),
        ('jaw_faces = "soft"\nstep = 3\ngrip = 4', "the step already says how high"),
        ('jaw_faces = "soft"\nstep = -1', "must be at least 0 mm"),
        ("bow = 0", "above 0"),
        ('jaws = "Z"', 'must be one of "Y", "X"'),
        ("softt = true", "unknown key"),
    ],
)
def test_bad_vise_keys_are_named(tmp_path, hold, words):
    with pytest.raises(InputErrors) as caught:
        worked(tmp_path, PLATE + SETUP + 'hold = "vise"\n[setup.holding]\n' + hold + "\n")
    assert words in caught.value.describe()
    assert "setup[0].holding" in caught.value.describe()


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ("jaw_lift = -0.01", "jaw_lift"),
        ("[mill.moving_jaw]\nlength = 0", "above 0"),
        ("[mill.moving_jaw]\nplay = -0.01", "must be at least 0 mm"),
        ("[mill.moving_jaw]\npull_down = 85", "80"),
        ('[mill.moving_jaw]\nstiffness = "5 kN"', "must be a number of N/mm"),
        ("[mill.moving_jaw]\nstiffnes = 5", "unknown key"),
        ("moving_jaw = 3", "moving_jaw"),
    ],
)
def test_bad_jaws_are_named(tmp_path, keys, words):
    with pytest.raises(InputErrors) as caught:
        worked(tmp_path, PLATE + SETUP, KNEE + keys + "\n")
    assert words in caught.value.describe()
    assert "shop.toml: mill[0]" in caught.value.describe()


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ("reach = 30", '"body" is missing'),
        ("body = 30", '"reach" is missing'),
        ("reach = -3\nbody = 4", "must be at least 0 mm"),
    ],
)
def test_bad_finders_are_named(tmp_path, keys, words):
    with pytest.raises(InputErrors) as caught:
        worked(tmp_path, PLATE + SETUP, FINDER + keys + "\n")
    assert words in caught.value.describe()
    assert "finder[" in caught.value.describe()
