"""A set-up under the cutter: what the checks say of whole jobs, and which way they point."""

from __future__ import annotations

import pytest
from cut_jobs import CLAMPS, MILL, OUTLINE, PLATE, SETUP, TEMPLATES, TESTED, UNTESTED, found, worked

from jigs.finding import Severity
from jigs.job import read_job
from jigs.outputs import output_files
from jigs.plan import plan
from jigs.record import record
from jigs.sheet.setup_content import sheet_content
from kerf.errors import InputError, InputErrors


def test_the_demo_holds_and_says_so_on_sheet_and_record():
    made = plan(read_job(TEMPLATES / "tide-lever" / "job.toml"))
    index = [bool(s.cuts) for s in made.job.setups].index(True)
    entry = record(made)["setups"][index]
    assert entry["holding"]["factor"] >= entry["holding"]["limit"] == 3.0
    assert entry["holding"]["capacity_n"] == pytest.approx(
        entry["holding"]["factor"] * entry["holding"]["force_n"], rel=2e-3
    )
    names = [r["cut"] for r in entry["recipes"]]
    for name in ("pivot bore", "slot", "follower bore"):
        assert any(n.startswith(name) for n in names)
    assert all(s.machined.holding is not None for s in made.setups if s.setup.cuts)
    assert entry["access"]
    assert all(a["ok"] for a in entry["access"])
    assert entry["strength"]
    content = sheet_content(made, index)
    for key in ("recipes", "holding", "strength", "cautions"):
        assert content.section(key) is not None, key
    text = repr(content.section("recipes"))
    assert "6.000 mm (0.2362 in)" in text
    assert "151 m/min (495 ft/min)" in text
    assert "thrown" in repr(content.section("cautions"))
    assert "local" in repr(content.section("cautions")).lower()
    # The record keeps word for word what the sheet warns of.
    for text in entry["cautions"]:
        assert text in repr(content.section("cautions"))
    for word in ("guards", "stand out of", "first cut light", "Your own test", "licensed practice"):
        assert word in " ".join(entry["cautions"]), word


def test_cuts_without_a_hold_are_a_warning(tmp_path):
    (finding,) = found(worked(tmp_path, PLATE + SETUP + MILL), "holding-not-judged")
    assert finding.severity is Severity.WARN
    assert "hold =" in finding.hint


def test_no_cuts_and_no_hold_say_nothing(tmp_path):
    assert worked(tmp_path, PLATE + SETUP).setups[0].machined.findings == ()


def test_untested_tape_is_unproven_and_fails(tmp_path):
    made = worked(tmp_path, PLATE + SETUP + 'hold = "tape"\n' + MILL, UNTESTED)
    holding = made.setups[0].machined.holding
    assert holding is not None
    assert not holding.proven
    assert "UNPROVEN" in holding.said
    assert found(made, "holding-unproven")
    assert not made.is_good
    (finding,) = found(made, "holding-peel")
    assert finding.measured == pytest.approx(holding.worst.factor)
    assert finding.measured < finding.limit == 3.0
    content = sheet_content(made, 0)
    assert "not tested" in repr(content.section("cautions"))
    assert "UNPROVEN" in record(made)["setups"][0]["cautions"][0]
    assert content.banner.startswith("DO NOT USE")


def test_a_tested_tape_is_proven_and_carries_the_lowest_test(tmp_path):
    made = worked(tmp_path, PLATE + SETUP + 'hold = "tape"\n' + MILL, TESTED)
    holding = made.setups[0].machined.holding
    assert holding is not None
    assert holding.proven
    assert "0.400 MPa" in holding.said
    assert f"{100 * 4.4482216 / 625:.3f} MPa" in holding.said
    assert not found(made, "holding-unproven")


@pytest.mark.parametrize(
    ("keys", "share"),
    [
        ('coolant = "flood"', 0.5),
        ("temperature = 48", 0.5),
        ('coolant = "mist"\ntemperature = 48', 0.4),
    ],
)
def test_heat_and_coolant_weaken_tape(tmp_path, keys, share):
    """Source: heat and coolant shares, common practice."""
    plain = worked(tmp_path, PLATE + SETUP + 'hold = "tape"\n' + MILL, TESTED)
    hold = 'hold = "tape"\n[setup.holding]\n' + keys + "\n"
    weak = worked(tmp_path, PLATE + SETUP + hold + MILL, TESTED)
    a, b = (p.setups[0].machined.holding.worst.factor for p in (plain, weak))
    assert b == pytest.approx(share * a, rel=1e-6)


def test_tape_past_its_heat_holds_nothing(tmp_path):
    hold = 'hold = "tape"\n[setup.holding]\ntemperature = 70\n'
    made = worked(tmp_path, PLATE + SETUP + hold + MILL, TESTED)
    assert found(made, "tape-hot")
    assert made.setups[0].machined.holding is None


def test_a_margin_that_eats_the_bond_is_named(tmp_path):
    hold = 'hold = "tape"\n[setup.holding]\nmargin = 31\n'
    assert found(worked(tmp_path, PLATE + SETUP + hold + MILL, TESTED), "bond-gone")


def test_the_shop_sets_the_limit_but_not_below_one_and_a_half(tmp_path):
    job = PLATE + SETUP + 'hold = "tape"\n' + MILL
    text = (TEMPLATES / "shop.toml").read_text(encoding="utf-8").split("[[tape]]")[0]
    for limit, good in (("1.5", True), ("1.4", False)):
        shop = text.split("[[mill]]")[0].replace(
            "schema = 1", f"schema = 1\nleast_factor = {limit}"
        )
        (tmp_path / "shop.toml").write_text(shop + TESTED, encoding="utf-8")
        (tmp_path / "job.toml").write_text(job, encoding="utf-8")
        if good:
            made = plan(read_job(tmp_path / "job.toml"))
            assert made.setups[0].machined.holding.limit == 1.5
        else:
            with pytest.raises(InputErrors, match="least_factor"):
                read_job(tmp_path / "job.toml")


def test_straps_hold_and_a_strap_off_the_part_is_named(tmp_path):
    assert worked(tmp_path, PLATE + SETUP + CLAMPS + MILL).is_good
    off = worked(tmp_path, PLATE + SETUP + CLAMPS.replace("[40, 20]", "[80, 20]") + MILL)
    assert found(off, "clamp-off")


def test_a_strap_in_the_cutters_way_is_a_clash_that_is_drawn(tmp_path):
    made = worked(tmp_path, PLATE + SETUP + CLAMPS.replace("[40, 20]", "[15, 4]") + MILL)
    (finding,) = found(made, "clash-tool")
    assert "clamp 2" in finding.message
    section = sheet_content(made, 0).section("clash")
    assert section is not None
    figure = section.blocks[0].figures[0]
    assert any("clamp 2" in text.text for text in figure.texts())


def test_a_nest_in_the_way_of_an_outline_is_a_clash(tmp_path):
    setup = SETUP.replace('"corner"', '"nest"')
    made = worked(tmp_path, PLATE + setup + CLAMPS + OUTLINE)
    assert found(made, "clash-tool")
    assert not made.is_good


def test_a_corner_that_engages_the_tool_is_told(tmp_path):
    turn = MILL.replace("[[-20, 0], [20, 0]]", "[[-20, 0], [10, 0], [10, 15]]")
    (note,) = found(worked(tmp_path, PLATE + SETUP + CLAMPS + turn), "corner-engages")
    assert note.severity is Severity.NOTE
    assert "(10.0, 0.0) mm" in note.message
    # 2 of 6 mm: 71° on the straight; ahead stands the next wall.
    assert note.measured > 71 + 80
    assert not found(worked(tmp_path, PLATE + SETUP + CLAMPS + MILL), "corner-engages")


def test_a_guide_is_relieved_where_it_may(tmp_path):
    cut = MILL.replace("[[-20, 0], [20, 0]]", "[[-55, 14], [-35, 14]]").replace(
        "[8, 12]", "[2, 12]"
    )
    made = worked(tmp_path, PLATE + SETUP + CLAMPS.replace("-40, 20", "-30, 0") + cut)
    assert found(made, "guide-relieved")
    assert not found(made, "clash-tool")
    kept = worked(
        tmp_path, PLATE + SETUP + CLAMPS.replace("-40, 20", "-30, 0") + cut + "relief = false\n"
    )
    assert not found(kept, "guide-relieved")
    assert found(kept, "clash-tool")
    # The relieved guide is cut virtually like any other, and still locates.
    _, files = output_files(made)
    assert "op10.dxf" in files
    areas = [p.setups[0].guide.plates[0].region.area_mm2 for p in (made, kept)]
    assert areas[0] < areas[1]


def test_a_slug_comes_free_unless_it_is_held(tmp_path):
    bore = MILL.replace("[[-20, 0], [20, 0]]", "{ bore = [0, 0], diameter = 30 }")
    bore = bore.replace("z = [8, 12]", "z = [0, 12]")
    free = found(worked(tmp_path, PLATE + SETUP + CLAMPS + bore), "piece-free")
    assert len(free) == 1
    assert free[0].measured == pytest.approx(18, abs=0.05)
    held = CLAMPS.replace("[40, 20]", "[40, 20], [0, 0]")
    made = worked(tmp_path, PLATE + SETUP + held + bore)
    assert not found(made, "piece-free")
    assert found(made, "piece-held")


UNDER = """
[[setup]]
name = "op20"
guide = "corner"
sheet = "acrylic-5"
clearance = 0.5
zero = [0, 0, 0]
flip = "x"
"""
FLY = """
[[setup.cut]]
name = "face"
kind = "fly cutter"
tool_diameter = 80
feed_per_tooth = 0.1
depth = 0.5
width = 40
speed = 2000
path = [[-80, 0], [80, 0]]
z = [0, 0.5]
"""


def test_a_fly_cutter_that_meets_an_overhang_is_told_which_order_avoids_it(tmp_path):
    deep = MILL.replace("z = [8, 12]", "z = [1.2, 12]").replace(
        "tool_diameter = 6", "tool_diameter = 25"
    )
    deep = deep.replace("[[-20, 0], [20, 0]]", "[[-60, 22], [60, 22]]")
    made = worked(tmp_path, PLATE + SETUP + deep + UNDER + FLY)
    (finding,) = found(made, "overhang")
    assert '"pocket" of set-up "op10"' in finding.message
    assert "first" in finding.hint
    assert finding.severity is Severity.FAIL
    other = worked(tmp_path, PLATE + UNDER + FLY + SETUP + deep)
    assert not found(other, "overhang")


def test_a_fly_cutter_over_the_edge_of_a_pin_plate(tmp_path):
    text = (TEMPLATES / "pinplate" / "job.toml").read_text(encoding="utf-8")
    shop = TEMPLATES / "pinplate" / "shop.toml"
    shop = shop if shop.is_file() else TEMPLATES / "shop.toml"
    (tmp_path / "shop.toml").write_bytes(shop.read_bytes())
    small = "plate_thickness = 15.9\nplate = [108, 130]\n"
    fly = FLY.replace("z = [0, 0.5]", "z = [0, 2]")
    for keys, hangs in (("plate_thickness = 15.9\n", False), (small, True)):
        (tmp_path / "job.toml").write_text(
            text.replace("plate_thickness = 15.9 ", keys + "#") + fly, encoding="utf-8"
        )
        made = plan(read_job(tmp_path / "job.toml"))
        hits = found(made, "overhang")
        assert bool(hits) == hangs
        assert all("edge of the plate" in f.message and "larger plate" in f.hint for f in hits)


def test_a_thin_wall_between_cut_and_edge(tmp_path):
    cut = MILL.replace("[[-20, 0], [20, 0]]", "[[-20, 26.2], [20, 26.2]]")
    (finding,) = found(
        worked(tmp_path, PLATE + SETUP + cut.replace("[8, 12]", "[2, 12]")), "wall-thin"
    )
    assert finding.measured == pytest.approx(0.8, abs=0.05)
    assert not found(worked(tmp_path, PLATE + SETUP + MILL), "wall-thin")


VISED = """
[[mill]]
name = "knee mill"
travel = [600, 250, 300]
jaw_opening = 100
jaw_height = 40
jaw_width = 120
"""
STANDING_CUT = """
hold = "vise"
[setup.holding]
clamp_force = "5 kN"
[[setup.cut]]
name = "cross hole"
kind = "drill"
tool_diameter = 6
feed_per_rev = 0.1
speed = "150 ft/min"
path = [[30, 33]]
depth = DEPTH
"""


def test_a_drill_into_a_part_that_stands_in_the_vise(tmp_path):
    text = (TEMPLATES / "standing" / "job.toml").read_text(encoding="utf-8")
    shop = (TEMPLATES / "shop.toml").read_text(encoding="utf-8").split("[[mill]]")[0]
    (tmp_path / "shop.toml").write_text(shop + VISED, encoding="utf-8")
    for depth, across, clash in (
        (12, None, ""),
        (95, None, "the floor of the vise"),
        (50, (0, 8), 'plate "'),  # where the plate stands, on the fixed jaw
    ):
        job = text.split("hold =")[0] + STANDING_CUT.replace("DEPTH", str(depth))
        job += f"z = [{across[0]}, {across[1]}]\n" if across else ""
        (tmp_path / "job.toml").write_text(job, encoding="utf-8")
        made = plan(read_job(tmp_path / "job.toml"))
        machined = made.setups[0].machined
        assert machined.held.grip is not None
        assert machined.holding is not None
        assert machined.holding.worst.factor > 3
        clashes = found(made, "clash-tool")
        assert bool(clashes) == bool(clash)
        assert all(clash in c.message for c in clashes), clashes
        content = sheet_content(made, 0)
        assert f"0.000 mm to -{depth}.000 mm" in repr(content.section("recipes"))
        assert content.section("holding") is not None


def test_a_grip_for_a_part_that_stands_is_refused(tmp_path):
    text = (TEMPLATES / "standing" / "job.toml").read_text(encoding="utf-8")
    shop = (TEMPLATES / "shop.toml").read_text(encoding="utf-8").split("[[mill]]")[0]
    (tmp_path / "shop.toml").write_text(shop + VISED, encoding="utf-8")
    cut = STANDING_CUT.replace("DEPTH", "12")
    for key in ("grip = 5", 'jaw_faces = "soft"\nstep = 5'):
        job = text.split("hold =")[0] + cut.replace('"5 kN"\n', f'"5 kN"\n{key}\n')
        (tmp_path / "job.toml").write_text(job, encoding="utf-8")
        with pytest.raises(InputError, match="gripped from its lowest point") as caught:
            plan(read_job(tmp_path / "job.toml"))
        assert "setup[0].holding" in caught.value.describe()
        assert "leave" in caught.value.describe()


GEARS = """
[[mill]]
name = "knee mill"
travel = [600, 250, 300]
  [[mill.gear]]
  name = "low"
  power = [[80, 0.2], [600, 1.5]]
  [[mill.gear]]
  name = "high"
  power = [[300, 0.1], [4000, 1.5]]
"""


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ("speed = 8000", "speed = 40000", "speed-unreachable"),
        ("speed = 8000", "speed = 4000\nreach = 0", ""),
        ("speed = 8000", 'speed = "2000 m/min"', "speed-high"),
        ("feed_per_tooth = 0.03", "feed_per_tooth = 0.001", "chip-thin"),
        ("feed_per_tooth = 0.03", "feed_per_tooth = 0.5", "chip-thick"),
    ],
)
def test_recipes(tmp_path, old, new, code):
    made = worked(tmp_path, PLATE + SETUP + CLAMPS + MILL.replace(old, new), GEARS)
    codes = {f.code for f in made.findings}
    assert (code in codes) if code else not codes & {"speed-high", "chip-thin", "chip-thick"}


def test_power_short_and_the_gear_that_serves(tmp_path):
    drill = """
[[setup.cut]]
name = "hole"
kind = "drill"
tool_diameter = 20
feed_per_rev = 0.2
speed = 500
path = [[0, 0]]
z = [0, 12]
"""
    made = worked(tmp_path, PLATE + SETUP + CLAMPS + drill, GEARS)
    (finding,) = found(made, "gear")
    assert 'gear "low"' in finding.message
    assert "hp" in finding.message
    short = worked(tmp_path, PLATE + SETUP + CLAMPS + drill.replace("= 0.2", "= 0.6"), GEARS)
    (finding,) = found(short, "power-short")
    assert finding.measured > finding.limit
    assert not short.is_good


def test_a_drill_in_aluminium_by_the_shops_rule(tmp_path):
    """100 to 200 ft/min and about .005 in/rev. Source: common practice."""
    drill = """
[[setup.cut]]
name = "hole"
kind = "drill"
tool_diameter = "0.25 in"
feed_per_rev = "0.003 in"
speed = "SPEED ft/min"
path = [[0, 0]]
"""
    for speed, severity in ((150, None), (300, Severity.NOTE), (600, Severity.WARN)):
        made = worked(tmp_path, PLATE + SETUP + CLAMPS + drill.replace("SPEED", str(speed)))
        high = found(made, "speed-high")
        assert ([f.severity for f in high] or [None]) == [severity]


def test_feeds_and_speeds_stand_in_both_units(tmp_path):
    """.001 in × 3 × 9176 rpm = 27.5 in/min; 3/8 in at 9176 rpm = 901 ft/min. Source: by hand."""
    cut = MILL.replace("tool_diameter = 6", 'tool_diameter = "3/8 in"')
    cut = cut.replace("feed_per_tooth = 0.03", 'feed_per_tooth = "0.001 in"')
    cut = cut.replace("speed = 8000", "speed = 9176")
    made = worked(tmp_path, PLATE + SETUP + CLAMPS + cut)
    text = repr(sheet_content(made, 0).section("recipes"))
    assert "(27.5 in/min)" in text
    assert "(901 ft/min)" in text
    assert "9.525 mm (0.3750 in)" in text


def test_an_unknown_material_is_not_guessed(tmp_path):
    part = PLATE.replace("6061-T6", "unobtainium")
    made = worked(tmp_path, part + SETUP + CLAMPS + MILL)
    assert found(made, "material-unknown")
    machined = made.setups[0].machined
    assert machined.recipes == ()
    assert machined.holding is None


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("tool_diameter = 6\n", "", '"tool_diameter" is missing'),
        ("width = 2", "width = 7", "at most 6"),
        ("z = [8, 12]", "z = [12, 8]", "the lower end comes first"),
        ("[[-20, 0], [20, 0]]", "[[0, 0], [0, 0]]", "at least 2 places"),
        ("[[-20, 0], [20, 0]]", '"outlines"', "path is not understood"),
        ("[[-20, 0], [20, 0]]", "{ bore = [0, 0], diameter = 5 }", "no larger than its tool"),
        ("speed = 8000", 'speed = "8000 knots"', "must be a number of rpm"),
        ("speed = 8000", "speed = 0", "must be above 0 rpm"),
        ("flutes = 3", "flutes = 0", "whole number from 1"),
        ("feed_per_tooth", "feed_per_tooht", "unknown key"),
    ],
)
def test_bad_cuts_are_named(tmp_path, old, new, words):
    assert old in MILL
    with pytest.raises(InputErrors) as caught:
        worked(tmp_path, PLATE + SETUP + MILL.replace(old, new))
    assert words in caught.value.describe()
    assert "setup[0].cut[0]" in caught.value.describe()


@pytest.mark.parametrize(
    ("hold", "words"),
    [
        ('hold = "magnet"\n', 'must be one of "tape", "vise", "clamps"'),
        ('hold = "clamps"\n', "none is given"),
        ('[setup.holding]\ncoolant = "dry"\n', "hold does not say by what"),
        ('hold = "vise"\n[setup.holding]\nclamp_force = "6 stone"\n', "must be a number of N"),
        ('hold = "tape"\n[setup.holding]\nfriction = 0\n', "must be above 0"),
    ],
)
def test_bad_holds_are_named(tmp_path, hold, words):
    with pytest.raises(InputErrors) as caught:
        worked(tmp_path, PLATE + SETUP + hold)
    assert words in caught.value.describe()


@pytest.mark.parametrize(
    ("shop", "words"),
    [
        ('[[tape]]\nname = "t"\n[[tape.test]]\narea = [25, 0]\nforce = 5\n', "two lengths above 0"),
        ('[[mill]]\nname = "m"\n[[mill.gear]]\npower = [[500, 1]]\n', "curve of [rpm, kW]"),
        ('[[mill]]\nname = "m"\n[[mill.gear]]\npower = [[5, 1], [5, 2]]\n', "speeds rising"),
    ],
)
def test_bad_means_are_named(tmp_path, shop, words):
    with pytest.raises(InputErrors) as caught:
        worked(tmp_path, PLATE + SETUP, shop)
    assert words in caught.value.describe()
