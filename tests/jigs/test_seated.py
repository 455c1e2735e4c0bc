"""How a part sits: on plan, record and sheet, for every guide kind and every bad push."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import cut_jobs
import ezdxf
import pytest
from cut_jobs import SETUP as CORNER
from typer.testing import CliRunner

from jigs.checks.comes_out import leaving
from jigs.cli.app import app
from jigs.drawing.scene import overlaps
from jigs.finding import Severity
from jigs.job import read_job
from jigs.locating.closure import Closure
from jigs.plan import Plan, plan
from jigs.record import record
from jigs.sheet.content import Fields, Grid, Lines, Picture, Section
from jigs.sheet.seating_content import seating_section
from kerf.contour import Contour, Region
from kerf.errors import InputError, InputErrors

TEMPLATES = Path(__file__).parents[2] / "templates"
HEAD = """
schema = 1
units = "mm"
[job]
number = "1"
name = "Plate"
revision = "A"
quantity = 1
[part]
shape = { kind = "points", points = [[0,0],[100,0],[100,40],[75,60],[0,60]] }
height = 12
material = "6061-T6"
edge_tolerance = 0.02
[[part.critical]]
name = "middle"
at = [50, 30]
tolerance = 0.5
"""
#: A cut that runs past the place of the push.
MILL = cut_jobs.MILL.replace('"pocket"', '"chamfer"').replace(
    "[[-20, 0], [20, 0]]", "[[103, 40], [75, 63]]"
)


def job(folder: Path, text: str, shop: Path = TEMPLATES / "shop.toml") -> Path:
    (folder / "shop.toml").write_text(shop.read_text(encoding="utf-8"), encoding="utf-8")
    (folder / "job.toml").write_text(text, encoding="utf-8")
    return folder / "job.toml"


def worked(folder: Path, text: str, shop: Path = TEMPLATES / "shop.toml") -> Plan:
    return plan(read_job(job(folder, text, shop)))


def starter(name: str, folder: Path, *edits: tuple[str, str]) -> Plan:
    text = (TEMPLATES / name / "job.toml").read_text(encoding="utf-8")
    for old, new in edits:
        assert old in text
        text = text.replace(old, new)
    own = TEMPLATES / name / "shop.toml"
    return worked(folder, text, own if own.exists() else TEMPLATES / "shop.toml")


def section(made: Plan, index: int = 0) -> Section:
    found = seating_section(made.setups[index], made, width_mm=180.0)
    assert found is not None
    return found


def said(part: Section) -> str:
    """All the section's text, spaces that do not break made plain."""
    lines = [line for block in part.blocks if isinstance(block, Lines) for line in block.lines]
    lines += [
        f"{f.name}: {f.value}" for b in part.blocks if isinstance(b, Fields) for f in b.fields
    ]
    lines += [
        " | ".join(row) for b in part.blocks if isinstance(b, Grid) for row in (b.columns, *b.rows)
    ]
    lines += [b.caption for b in part.blocks if isinstance(b, Picture)]
    return "\n".join(lines).replace("\u00a0", " ")


def found(made: Plan, code: str):
    return [f for f in made.findings if f.code == code]


# ---- each kind ----


def test_a_corner_guide_tells_push_reactions_edges_second_best_and_the_way_out(tmp_path):
    made = worked(tmp_path, HEAD + CORNER)
    sits = made.setups[0].seated
    assert sits.closure.closure is Closure.FREE
    clamping = sits.clamping
    assert clamping.is_sure
    assert not clamping.is_given
    # Reactions balance the push: their sum along its line is its force, without friction.
    contacts = {c.name: c for c in made.setups[0].guide.contacts}
    x = sum(f * contacts[n].normal.x for n, f in clamping.reactions_n)
    y = sum(f * contacts[n].normal.y for n, f in clamping.reactions_n)
    assert (x, y) == pytest.approx(tuple(-50 * v for v in clamping.push.along), abs=1e-6)
    turn = sum(
        f * (contacts[n].at.x * contacts[n].normal.y - contacts[n].at.y * contacts[n].normal.x)
        for n, f in clamping.reactions_n
    )
    assert turn == pytest.approx(-50 * clamping.push.wrench[2], abs=1e-6)
    text = said(section(made))
    assert "locate the part but do not hold it" in text
    assert "for sure: up to a friction of" in text
    assert "0.20 is assumed" in text
    assert "force: 50 N (11 lbf)" in text
    for name in contacts:
        assert f"{name} | " in text
    assert "Second best" in text
    choice = made.setups[0].guide.choice
    assert f"from {choice.candidates} places" in text
    assert "comes out straight up; it also slides out any way from +X round to +Y" in text
    assert all(
        overlaps(f) == () for b in section(made).blocks if isinstance(b, Picture) for f in b.figures
    )


def test_the_second_best_stands_in_the_record_with_its_loss(tmp_path):
    made = starter("corner", tmp_path)
    entry = record(made)["setups"][0]
    second = entry["second_best"]
    assert second["loss_mm"] == pytest.approx(
        second["worst_mm"] - second["chosen_worst_mm"], abs=2e-9
    )
    assert len(second["contacts"]) == 3
    assert second["other_faces"] is True
    text = said(section(made))
    assert f"+{second['loss_mm']:.3f} mm at the worst feature" in text
    for contact in second["contacts"]:
        x, y = contact["at"]
        assert f"{contact['name']} at x {x:.1f}, y {y:.1f} mm" in text
    assert len({tuple(c["at"]) for c in second["contacts"]}) == 3


def test_a_nest_that_floats_is_seated_by_nothing(tmp_path):
    made = starter("nest", tmp_path)
    sits = made.setups[0].seated
    assert (sits.closure, sits.clamping, sits.places) == (None, None, ())
    text = said(section(made))
    assert "floats" in text
    assert "straight up; walls bar every slide" in text
    assert record(made)["setups"][0]["seating"]["closure"] is None


def test_a_nest_on_pads_leaves_room_for_a_finger_or_does_not_offer_the_edge(tmp_path):
    edits = ('guide = "nest"', 'guide = "nest"\ncontacts = "auto"')
    proud = starter("nest", tmp_path, edits).setups[0].seated
    assert proud.places
    # As deep as the plate: a finger reaches the part nowhere but in the notches.
    low = starter("nest", tmp_path, edits, ("height = 10", "height = 5"), ("25, 10]", "25, 5]"))
    guide, loop = low.setups[0].guide, low.job.part.region.outer
    assert low.setups[0].seated.share < proud.share
    for place in low.setups[0].seated.places:
        s = (place.start_mm + place.end_mm) / 2
        assert guide.room.distance_mm(*loop.point_at(s)) == 0.0
        wall = min(c.nearest(*loop.point_at(s))[2] for c in guide.room.loops())
        assert wall >= 6.0 - 0.01


def test_a_pin_plate_needs_no_push(tmp_path):
    made = starter("pinplate", tmp_path)
    sits = made.setups[0].seated
    assert sits.closure.closure is Closure.FIRST_ORDER
    assert sits.clamping is None
    text = said(section(made))
    assert "no push is needed" in text
    assert "pins in its bores bar every slide" in text


def test_a_part_on_one_pin_is_turned_to_its_edge_the_way_that_touches(tmp_path):
    """Source: the part turned a hair about its pin, in the coordinates of the picture."""
    drawing = ezdxf.new(units=4)
    model = drawing.modelspace()
    model.add_lwpolyline([(0, 0), (90, 0), (90, 40), (0, 40)], close=True)
    model.add_circle((20, 20), 4)
    drawing.saveas(tmp_path / "part.dxf")
    text = (TEMPLATES / "pinplate" / "job.toml").read_text(encoding="utf-8")
    old = next(line for line in text.splitlines() if line.startswith("shape ="))
    for flip in ("x", "none"):
        made = worked(
            tmp_path,
            text.replace(old, 'profile = "part.dxf"')
            .replace('flip = "x"', f'flip = "{flip}"')
            .replace("at = [0, 0]", "at = [45, 20]"),
            TEMPLATES / "pinplate" / "shop.toml",
        )
        planned = made.setups[0]
        (wall,) = [c for c in planned.guide.contacts if not c.holds_both_ways]
        pin = next(c for c in planned.guide.contacts if c.holds_both_ways)
        pose = planned.setup.pose()
        at, centre = pose.point(*wall.at), pose.point(*pin.at)
        n = pose.vector(*wall.normal)
        # Turned a hair clockwise, the part's edge goes towards the wall, against n, or from it.
        dx, dy = at.x - centre.x, at.y - centre.y
        hair = -1e-3
        moved = (
            dx * math.cos(hair) - dy * math.sin(hair),
            dx * math.sin(hair) + dy * math.cos(hair),
        )
        towards = (moved[0] - dx) * n.x + (moved[1] - dy) * n.y < 0
        way = "clockwise" if towards else "counter-clockwise"
        assert planned.seated.turn == way
        assert f"Turn the part {way}, as seen in the picture" in said(section(made))


def test_a_standing_guide_tells_directions_in_its_own_axes_and_the_drawer(tmp_path):
    made = starter("standing", tmp_path)
    text = said(section(made))
    assert "−X and −Z" in text
    assert "from +X" in text
    assert "With the jaws open the part comes out straight across the plate, along Y" in text
    drawer = made.setups[0].seated.leaving.drawer
    assert drawer.offset_mm == pytest.approx(drawer.guidance_mm / (2 * drawer.friction))
    assert f"guide that slide over {drawer.guidance_mm:.1f} mm" in text


def test_a_bar_on_a_fence_is_seated_in_two_pushes(tmp_path):
    made = starter("fence", tmp_path)
    clamping = made.setups[0].seated.clamping
    assert not clamping.seats
    text = said(section(made))
    assert "Push it flat against Y1 and Y2 first, slide it along them to X1" in text
    assert "NOT sure" in text
    assert "may stay off" in text


def test_a_capped_stack_says_the_cap_is_off_first(tmp_path):
    assert "With the cap off the part comes out straight up" in said(
        section(starter("stack", tmp_path))
    )


def test_a_template_holds_nothing_and_says_nothing(tmp_path):
    made = starter("template", tmp_path)
    assert made.setups[0].seated is None
    assert seating_section(made.setups[0], made, width_mm=180.0) is None
    assert record(made)["setups"][0]["seating"] is None


def test_an_inch_sheet_gives_places_in_inches(tmp_path):
    text = HEAD + CORNER
    inch = text.replace('units = "mm"', 'units = "inch"')
    for old, new in (
        ("[[0,0],[100,0],[100,40],[75,60],[0,60]]", "[[0,0],[4,0],[4,1.6],[3,2.4],[0,2.4]]"),
        ("height = 12", "height = 0.5"),
        ("edge_tolerance = 0.02", "edge_tolerance = 0.001"),
        ("[50, 30]", "[2, 1.2]"),
        ("tolerance = 0.5", "tolerance = 0.02"),
        ("clearance = 0.5", "clearance = 0.02"),
        ("[0, 0, 12]", "[0, 0, 0.5]"),
    ):
        inch = inch.replace(old, new)
    words = said(section(worked(tmp_path, inch)))
    assert " in" in words
    assert " mm" not in words
    assert "50 N (11 lbf)" in words


# ---- the push of the job ----


def test_the_jobs_push_is_judged_and_recorded(tmp_path):
    made = worked(tmp_path, HEAD + CORNER + 'push = "80 N"\npush_at = [79, 56.8]\n')
    clamp = record(made)["setups"][0]["seating"]["clamp"]
    assert clamp["given"] is True
    assert clamp["force_n"] == 80
    assert clamp["sure"] is True
    # Snapped onto the edge from (100, 40) to (75, 60), and square to it.
    size = math.hypot(20, 25)
    assert clamp["along"] == pytest.approx([-20 / size, -25 / size], abs=1e-6)
    assert "The push of the job seats the part" in said(section(made))
    assert not found(made, "clamp-lifts")
    assert json.loads(json.dumps(clamp)) == clamp


def test_a_push_that_lifts_the_part_fails_the_check(tmp_path):
    made = worked(tmp_path, HEAD + CORNER + "push_at = [100, 10]\n")
    (finding,) = found(made, "clamp-lifts")
    assert finding.severity is Severity.FAIL
    assert "lifts the part off" in finding.message
    assert "between the contacts" in finding.hint
    text = said(section(made))
    assert "does NOT seat the part: it lifts it off Y1" in text
    assert "Push at an edge drawn heavy" in text
    assert "LIFTS OFF" in text


def test_a_push_that_may_stick_is_a_warning_and_more_friction_never_helps(tmp_path):
    push = "push_at = [100, 60]\npush_angle = 210\n"
    box = HEAD.replace("[100,40],[75,60]", "[100,60]")
    for friction, sure in (("0.0", True), ("0.2", True), ("0.5", False)):
        made = worked(tmp_path, box + CORNER + push + f"pad_friction = {friction}\n")
        clamping = made.setups[0].seated.clamping
        assert clamping.seats is sure
        assert bool(found(made, "clamp-unsure")) is not sure
        assert f"{float(friction):.2f} is assumed" in said(section(made))
    (warning, *_) = found(made, "clamp-unsure")
    assert warning.severity is Severity.WARN
    assert "at a friction of 0.50 the part can stick" in warning.message


def test_a_push_that_must_be_aimed_finely_or_slips_is_a_warning(tmp_path):
    made = worked(tmp_path, HEAD + CORNER + "push_at = [79, 56.8]\n")
    low, high = made.setups[0].seated.clamping.directions_rad
    edge = math.degrees(math.atan2(-25, -20)) % 360
    for angle, codes in (
        (math.degrees(low) % 360 + 1.5, {"clamp-aim", "clamp-slips"}),
        (edge, set()),
    ):
        made = worked(tmp_path, HEAD + CORNER + f"push_at = [79, 56.8]\npush_angle = {angle:.4f}\n")
        assert {f.code for f in made.findings if f.code.startswith("clamp-")} == codes
    assert high > low
    made = worked(
        tmp_path,
        HEAD + CORNER + f"push_at = [79, 56.8]\npush_angle = {math.degrees(low) + 1.5:.4f}\n",
    )
    (aim,) = found(made, "clamp-aim")
    assert "aimed to ±1.5°" in aim.message
    assert "only when it is aimed to ±1.5°" in said(section(made))
    (slips,) = found(made, "clamp-slips")
    assert "slips along it beyond 11°" in slips.message


def test_a_push_too_hard_for_the_pads_is_a_warning(tmp_path):
    made = worked(tmp_path, HEAD + CORNER + 'push_at = [79, 56.8]\npush = "5 kN"\n')
    (heavy,) = found(made, "clamp-heavy")
    assert heavy.measured > heavy.limit > 0
    assert "it bears" in heavy.message
    light = worked(tmp_path, HEAD + CORNER + 'push_at = [79, 56.8]\npush = "20 N"\n')
    assert not found(light, "clamp-heavy")


def test_where_a_cut_passes_no_clamp_is_offered_and_the_push_is_taken_away(tmp_path):
    free = worked(tmp_path, HEAD + CORNER)
    cut = worked(tmp_path, HEAD + CORNER + MILL)
    assert free.setups[0].seated.places
    assert cut.setups[0].seated.places == ()
    # By hand it is pushed there all the same, before the cut.
    clamping = cut.setups[0].seated.clamping
    assert clamping.push == free.setups[0].seated.clamping.push
    assert clamping.in_cut
    assert not free.setups[0].seated.clamping.in_cut
    text = said(section(cut))
    assert "No single clamp square to an edge that can be reached" in text
    assert "take it away once the part is held" in text
    assert "This push alone" not in text
    assert not found(cut, "push-in-cut")
    given = worked(tmp_path, HEAD + CORNER + "push_at = [79, 56.8]\n" + MILL)
    (warning,) = found(given, "push-in-cut")
    assert warning.severity is Severity.WARN
    assert record(given)["setups"][0]["seating"]["clamp"]["in_cut"] is True


def test_a_clamp_that_stays_is_told_what_keeps_every_contact_closed(tmp_path):
    """Source: the side load swings each contact; the law of the lever, worked by hand elsewhere.

    More load asks for more push, in proportion.
    """
    inner = MILL.replace("[[103, 40], [75, 63]]", "[[40, 30], [60, 30]]")
    one = worked(tmp_path, HEAD + CORNER + inner).setups[0].seated.clamping
    two = worked(tmp_path, HEAD + CORNER + inner.replace("depth = 1", "depth = 2"))
    more = two.setups[0].seated.clamping
    assert not one.in_cut
    assert more.load_n > one.load_n > 0
    assert more.forces.least_n / one.forces.least_n == pytest.approx(
        more.load_n / one.load_n, rel=0.05
    )
    text = said(section(two))
    assert "This push alone keeps every contact closed against the cutter from" in text
    assert "Will it hold" not in text  # nothing holds it in this job


def test_no_finger_is_sent_down_into_a_pocket(tmp_path):
    """A square part as deep as its nest: its corners seat it, but nothing gets at them."""
    square = (
        'shape = { kind = "rounded rectangle", width = 80, height = 50, radius = 8 }',
        'shape = { kind = "rectangle", width = 80, height = 50 }',
    )
    pads = ('guide = "nest"', 'guide = "nest"\ncontacts = "auto"')
    proud = starter("nest", tmp_path, square, pads)
    assert proud.setups[0].seated.clamping.push.at in [(0, 0), (80, 0), (0, 50), (80, 50)]
    low = starter(
        "nest", tmp_path, square, pads, ("height = 10 ", "height = 5 "), ("25, 10]", "25, 5]")
    )
    clamping, room = low.setups[0].seated.clamping, low.setups[0].guide.room
    if clamping is not None:
        assert min(c.nearest(*clamping.push.at)[2] for c in room.loops()) >= 5.99
    else:
        assert "No single push that can be reached seats it. Push it flat" in said(section(low))


@pytest.mark.parametrize(
    ("kind", "why"), [("nest", "the part floats"), ("pinplate", "the part stands on pins")]
)
def test_a_push_that_is_not_used_is_noted(tmp_path, kind, why):
    at = {"nest": "[80, 25]", "pinplate": "[45, 0]"}[kind]
    made = starter(kind, tmp_path, (f'guide = "{kind}"', f'guide = "{kind}"\npush_at = {at}'))
    (note,) = found(made, "push-not-used")
    assert note.severity is Severity.NOTE
    assert why in note.message
    none = worked(tmp_path, HEAD + CORNER + "push = 0\npush_at = [79, 56.8]\n")
    (note,) = found(none, "push-not-used")
    assert "is 0 N" in note.message


def test_a_push_on_a_template_is_noted(tmp_path):
    made = starter(
        "template", tmp_path, ('guide = "template"', 'guide = "template"\npush_at = [20, 0]')
    )
    (note,) = found(made, "push-not-used")
    assert "the guide holds no part" in note.message


@pytest.mark.parametrize(
    ("keys", "says", "hint"),
    [
        ("push_at = [50, 30]", "30.000 mm off the part's outline", "nearest point"),
        ("push_at = [79, 56.8]\npush_angle = 51", "pulls away from the part", "231.3°"),
        ("push_angle = 180", "push_angle is given without push_at", "push_at = [x, y]"),
        ("pad_friction = -0.1", "pad_friction", ""),
        ("pad_friction = 1.5", "pad_friction", ""),
        ("push_at = [nan, 0]", "push_at", ""),
        ("push_at = [1, 2, 3]", "push_at", ""),
    ],
)
def test_bad_pushes_are_refused_in_words(tmp_path, keys, says, hint):
    with pytest.raises((InputError, InputErrors)) as refused:
        worked(tmp_path, HEAD + CORNER + keys + "\n")
    text = refused.value.describe()
    assert says in text
    assert "job.toml" in text
    assert hint in text


def test_a_bad_push_ends_the_command_with_two_and_writes_nothing(tmp_path):
    file = job(tmp_path, HEAD + CORNER + "push_at = [50, 30]\n")
    done = CliRunner().invoke(app, ["make", str(file), "--out", str(tmp_path / "out")])
    assert done.exit_code == 2
    assert "push_at" in done.output
    assert not (tmp_path / "out").exists()


# ---- coming out ----


def channel(made: Plan, length_mm: float, gap_mm: float):
    """The corner job's guide, with walls on both sides of a 100 × 60 part, open along +x."""
    room = Region(outer=Contour.rectangle(-gap_mm, -gap_mm, 300, 60 + 2 * gap_mm))
    return replace(made.setups[0].guide, room=room, clearance_mm=gap_mm)


def test_a_drawer_wedges_when_its_walls_are_short_against_friction(tmp_path):
    """Source: e < L / (2 μ), equilibrium by hand; the rectangle's tilt of values.md §4."""
    made = worked(tmp_path, HEAD.replace("[100,40],[75,60]", "[100,60]") + CORNER)
    part, guide = made.job.part, channel(made, 100, 0.1)
    for friction, wedges in ((0.2, False), (0.9, False), (2.0, True)):
        out = leaving(part, guide, friction=friction, subject="nest")
        assert out.drawer.guidance_mm == pytest.approx(100, abs=0.5)
        assert out.drawer.width_mm == pytest.approx(60)
        assert out.drawer.offset_mm == pytest.approx(100 / (2 * friction), rel=0.01)
        assert bool(out.findings) is wedges
    (finding,) = out.findings
    assert finding.code == "slide-wedges"
    assert "25.0 mm off its middle" in finding.message
    tilt = math.atan2(100, 60) - math.acos(60.2 / math.hypot(100, 60))
    assert out.drawer.tilt_rad == pytest.approx(tilt, rel=0.01)


# ---- the second best ----


def test_a_second_best_that_only_takes_more_of_a_tighter_tolerance_is_told_by_its_share(tmp_path):
    """Ranked by share of tolerance, the second may be nearer in millimetres: no minus is told."""
    made = worked(tmp_path, HEAD + CORNER)
    choice = made.setups[0].guide.choice
    nearer = replace(choice, loss_mm=-0.004, worst_share=0.2, runner_up_share=0.31)
    guide = replace(made.setups[0].guide, choice=nearer)
    text = said(seating_section(replace(made.setups[0], guide=guide), made, width_mm=180.0))
    assert "31% of the tightest tolerance against 20%" in text
    assert "-0.004" not in text
    assert "−0.004" not in text
