"""Stack: how many layers, where dowels stand and how they fit, and what is refused or found.

Source: ISO 286 m6 at 6 mm (+0.004/+0.012 mm); web as wide as the sheet is thick (laser services'
design rules); JCGM 100:2008 4.3.7 (uniform within limits); the rest from the definitions.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from stacked_parts import check_stack, starter

from jigs.ascut import as_cut
from jigs.checks.surroundings import obstacles
from jigs.finding import Severity
from jigs.fits import Limits
from jigs.guides.dowels import (
    KEYED_MM,
    dowel_frame,
    dowel_places,
    drive_hole_mm,
    moved_mm,
    slip_float_mm,
    slip_hole_mm,
)
from jigs.guides.kinds import KINDS
from jigs.job import read_job
from jigs.plan import plan
from jigs.sheet.content import Picture
from jigs.sheet.setup_content import sheet_content
from kerf.contour import Contour, Point, Region
from kerf.errors import InputError, InputErrors

STARTER = Path(__file__).parents[2] / "templates" / "stack" / "job.toml"
SHOP = STARTER.parents[1] / "shop.toml"
M6 = Limits(least_mm=6.004, most_mm=6.012)


def job_of(folder: Path, *edits: tuple[str, str], shop: tuple[str, str] | None = None):
    text = STARTER.read_text(encoding="utf-8")
    for old, new in edits:
        assert old in text, old
        text = text.replace(old, new)
    (folder / "job.toml").write_text(text, encoding="utf-8")
    shop_text = SHOP.read_text(encoding="utf-8")
    if shop is not None:
        assert shop[0] in shop_text
        shop_text = shop_text.replace(*shop)
    (folder / "shop.toml").write_text(shop_text, encoding="utf-8")
    return read_job(folder / "job.toml")


def made(folder: Path, *edits: tuple[str, str], shop: tuple[str, str] | None = None):
    job = job_of(folder, *edits, shop=shop)
    return KINDS["stack"].make(job.part, job.setups[0], job.shop)


def found(guide, code: str):
    (finding,) = (f for f in guide.findings if f.code == code)
    return finding


def fails(guide) -> bool:
    return any(f.severity is Severity.FAIL for f in guide.findings)


def test_the_starter_job_is_good_and_its_layers_lie_on_one_another(tmp_path):
    worked = plan(job_of(tmp_path))
    assert {f.severity for f in worked.findings} <= {Severity.NOTE}
    guide = worked.setups[0].guide
    names = [layer.plate for layer in guide.stack.layers]
    assert names == [f"op10-{n}" for n in ("base", "wall-1", "wall-2", "wall-3", "nest", "cap")]
    lows = [layer.low_mm for layer in guide.stack.layers]
    # Five sheets of 4.92 mm, then the cap on the part: 4.92 + 22 mm.
    assert lows == pytest.approx([0, 4.92, 9.84, 14.76, 19.68, 26.92])
    assert guide.seat_mm == pytest.approx(4.92)
    assert {p.name: p.low_mm for p in guide.plates} == pytest.approx(
        dict(zip(names, lows, strict=True))
    )


def test_each_kind_of_layer_has_one_picture_that_names_it_and_its_likes(tmp_path):
    worked = plan(job_of(tmp_path))
    section = sheet_content(worked, 0).section("checks")
    captions = [block.caption for block in section.blocks if isinstance(block, Picture)]
    assert captions == [
        "Plate op10-nest",
        "Plate op10-base",
        "Plate op10-wall-1; op10-wall-2, op10-wall-3 likewise",
        "Plate op10-cap",
    ]


@pytest.mark.parametrize(
    ("height", "count"),
    # A sheet is 4.98 mm at its thickest (4.92 + 3 × 0.02), and the part stands 0.5 mm proud.
    [(5.4, 1), (5.48, 1), (10.45, 1), (10.47, 2), (15.5, 3), (40.0, 7)],
)
def test_layers_stay_below_the_parts_top(tmp_path, height, count):
    worked = made(
        tmp_path,
        ("height = 22", f"height = {height}"),
        ("22.5, 22]", f"22.5, {height}]"),
        ("lip = 3", "lip = 0"),
    )
    stack = worked.stack
    assert sum(layer.role in ("wall", "nest") for layer in stack.layers) == count


def test_holes_are_kerf_fitted():
    # Slip: the largest pin, three u of the kerf, and 0.02 mm; the widest hole is three u wider.
    assert slip_hole_mm(M6, u_kerf_mm=0.01) == pytest.approx(6.012 + 0.03 + 0.02)
    assert slip_float_mm(M6, u_kerf_mm=0.01) == pytest.approx((6.012 + 0.08 - 6.004) / 2)
    assert drive_hole_mm(M6, u_kerf_mm=0.01) == pytest.approx(6.004 - 0.03)


def test_a_dowel_measured_on_hand_makes_a_closer_fit(tmp_path):
    pin = '[[pin]]\nname = "dowel"\nmeasured = 6.006\nmeasured_u = 0.001\nclass = "ISO 8734"\n'
    worked = made(tmp_path, shop=("[[finder]]", pin + "diameter = 6\n[[finder]]"))
    # 6.006 ± 2 × 0.001; the card's u is 0.02 mm.
    hole = 6.008 + 0.06 + 0.02
    assert worked.stack.float_mm == pytest.approx((hole + 0.06 - 6.004) / 2)


def test_moved_bounds_every_small_motion_and_is_reached():
    ends = (Point(0.0, 0.0), Point(80.0, 50.0))
    rng = np.random.default_rng(3)
    for _ in range(50):
        at = Point(*map(float, rng.uniform(-60, 140, 2)))
        bound = moved_mm(at, ends, 0.1)
        d = 0.1 * np.exp(2j * np.pi * rng.random((500, 2)))
        share = (complex(*at) - complex(*ends[0])) / (complex(*ends[1]) - complex(*ends[0]))
        reached = np.abs(d[:, 0] * (1 - share) + d[:, 1] * share)
        assert reached.max() <= bound + 1e-12
        assert reached.max() > 0.98 * bound


def test_the_frame_moves_a_point_as_its_dowels_do():
    ends = (Point(0.0, 0.0), Point(100.0, 0.0))
    sources = dowel_frame(ends, 0.1)
    for at, across in ((Point(0, 0), 0.1), (Point(50, 0), 0.1), (Point(150, 0), 0.2)):
        moves = [s.moves(at) for s in sources]
        assert sum(
            s.limit * abs(m.x) for s, m in zip(sources, moves, strict=True)
        ) == pytest.approx(0.1)
        rise = sum(s.limit * abs(m.y) for s, m in zip(sources, moves, strict=True))
        assert rise == pytest.approx(across)
    assert all(s.u == pytest.approx(s.limit / math.sqrt(3)) for s in sources)


def test_dowels_stand_far_apart_and_tell_a_layer_turned_round():
    room = Region(
        outer=Contour.rectangle(0, 0, 120, 90), holes=(Contour.rectangle(25, 25, 70, 40),)
    )
    a, b = dowel_places(room, keep_mm=8.0)
    # All corners 8 mm in would be 104 × 74 mm apart; the keyed pair gives up a little.
    assert 0.95 * math.hypot(104, 74) < math.dist(a, b) <= math.hypot(104, 74)
    assert math.dist(((a.x + b.x) / 2, (a.y + b.y) / 2), (60, 45)) >= KEYED_MM - 1e-6
    for at in (a, b):
        assert -room.distance_mm(*at) >= 8.0
    assert dowel_places(room, keep_mm=20.0) is None


def test_a_dowel_through_a_wall_is_found_with_what_would_mend_it(tmp_path):
    # The pocket's wall stands 0.1 mm off the part's right edge at x = 70.
    through = made(tmp_path, ("pin = 6 ", "pin_points = [[-15, 20], [72, 22]]\npin = 6 "))
    finding = found(through, "stack-pin-through-wall")
    assert "breaks through a wall" in finding.message
    assert len(through.stack.dowels) == 1
    assert "pin_points" in finding.hint
    thin = made(tmp_path, ("pin = 6 ", "pin_points = [[-15, 20], [76, 22]]\npin = 6 "))
    finding = found(thin, "stack-pin-through-wall")
    hole = thin.stack.layers[0].hole_mm
    off = thin.stack.stand_off_mm
    assert finding.measured == pytest.approx(6 - 0.1 - off - hole / 2, abs=1e-6)
    assert finding.limit == pytest.approx(4.92)
    assert len(thin.stack.dowels) == 2
    assert fails(thin)


def test_a_border_without_room_for_dowels_names_one_that_has(tmp_path):
    narrow = made(tmp_path, ("lip = 3 ", "border = 12\nnotch = 0\nlip = 3 "))
    finding = found(narrow, "stack-pin-through-wall")
    assert "not pinned" in finding.message
    border = int(finding.hint.split()[3])
    mended = made(tmp_path, ("lip = 3 ", f"border = {border}\nnotch = 0\nlip = 3 "))
    assert not fails(mended)


@pytest.mark.parametrize("apart", [0, 4])
def test_dowels_on_one_another_are_found(tmp_path, apart):
    points = f"pin_points = [[-15, 20], [-15, {20 + apart}]]\npin = 6 "
    finding = found(made(tmp_path, ("pin = 6 ", points)), "stack-pins-close")
    assert finding.measured == pytest.approx(apart)
    assert finding.limit == pytest.approx(2 * (6.012 + 0.06 + 0.02))


def test_a_cap_that_cannot_reach_the_part_is_a_failed_check(tmp_path):
    worked = made(tmp_path, ("lip = 3 ", "layers = 5\nlip = 3 "))
    finding = found(worked, "stack-cap-loose")
    # Five sheets stand 24.6 mm about a part of 22 mm; 5 × 3 × 0.02 mm is what they can be off.
    assert finding.measured == pytest.approx(22 - 24.6)
    assert finding.limit == pytest.approx(0.3)
    low = made(tmp_path, ("lip = 3 ", "layers = 5\nlip = 0 "))
    assert found(low, "stack-over-part").measured == pytest.approx(24.6)
    assert not fails(low)


@pytest.mark.parametrize(
    ("edit", "words"),
    [
        (("lip = 3 ", "lip = 23 "), "no one opening"),
        (("pin = 6 ", "pin = 80 "), "80"),
        (('pin_class = "ISO 8734"', 'pin_class = "ISO 8735"'), 'did you mean "ISO 8734"'),
        (("pin = 6 ", "pin_points = [[1, 2]]\npin = 6 "), "two dowels hold a layer"),
        (('zero_on = "nest"', 'base = false\nzero_on = "base"'), "there is none"),
    ],
    ids=["lip", "size", "class", "one point", "no base"],
)
def test_bad_input_says_what_and_where(tmp_path, edit, words):
    with pytest.raises((InputError, InputErrors)) as fault:
        made(tmp_path, edit)
    assert words in fault.value.describe()
    assert "setup[0]" in fault.value.describe()


def test_each_layer_stands_at_its_own_height_about_the_part(tmp_path):
    job = job_of(tmp_path)
    guide = KINDS["stack"].make(job.part, job.setups[0], job.shop)
    about = {o.name: o for o in obstacles(guide, job.part, job.setups[0])}
    # Heights count from the part's underside, one sheet of 4.92 mm up: a cut right through
    # the part meets the base there.
    base = about['plate "op10-base"']
    assert (base.bottom_mm, base.top_mm) == pytest.approx((-4.92, 0.0))
    nest = about['plate "op10-nest"']
    assert (nest.bottom_mm, nest.top_mm) == pytest.approx((14.76, 19.68))
    low = about['plate "op10-wall-1"']
    assert (low.bottom_mm, low.top_mm) == pytest.approx((0.0, 4.92))
    cap = about['plate "op10-cap"']
    assert (cap.bottom_mm, cap.top_mm) == pytest.approx((22.0, 26.92))


@pytest.mark.parametrize("zero_on", ["nest", "base"])
def test_sizes_of_every_layer_correct_the_offset(tmp_path, zero_on):
    guide = made(tmp_path, ('zero_on = "nest"', f'zero_on = "{zero_on}"'))
    proud = 0.015  # every wall of every layer, a kerf 0.03 mm narrower than its card
    grows = {c.name: 2 * proud for c in guide.checks}
    grows |= {c.name: -2 * proud for c in guide.checks if c.name.startswith("hole")}
    # From an edge to a pocket's far wall both walls move alike.
    grows |= {c.name: 0.0 for c in guide.checks if "far wall" in c.name}
    readings = {c.name: (c.nominal_mm + grows[c.name],) * 3 for c in guide.checks}
    card = starter().shop.lasers[0].cards[0][1]
    zero = guide.plates[0].to_part.inverse().point(35, 22.5)
    cut = as_cut(guide, card=card, measured_mm=readings, zero=zero, instrument_u_mm=0.002)
    assert cut.proud_mm == pytest.approx(proud, abs=0.001)
    # The face that sets X stands out to the left; the pocket's middle stays.
    for offset in cut.offsets:
        assert offset.now_mm - offset.was_mm == pytest.approx(-proud, abs=0.001)


@pytest.mark.parametrize("seed", range(12))
def test_a_slice_of_the_random_stacks(seed):
    # All 500 are in tests/stress.
    assert check_stack(seed) in ("made", "refused", "found at fault")
