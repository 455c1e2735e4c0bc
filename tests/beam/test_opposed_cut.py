"""Guides whose lean is opposed: burnt by a laser whose walls lean, turned over, the part loaded.

Source: the law of the lean: a wall stands at finished size at the face where less was taken, and
back by half the difference at the other. Turning a plate over brings its exit face up and swaps
left and right. Laser, part and poses share no code with the program.
"""

from __future__ import annotations

import json
from pathlib import Path

import engraving_read
import numpy as np
import pytest
import shapely
import virtual_laser as laser
import virtual_lean
from quick_make import cut_files
from shop_floor import ROUNDED, SQUARE, drawn, fillet_rows, shop_text

from jigs.job import read_job
from jigs.plan import plan
from jigs.sheet.html import html_text
from jigs.sheet.setup_content import sheet_content
from kerf.errors import InputErrors

MACHINES = {
    "wider above": virtual_lean.Machine(entry=(0.34, 0.34), exit=(0.24, 0.24)),
    "wider below": virtual_lean.Machine(entry=(0.22, 0.22), exit=(0.3, 0.3)),
    "wider along X": virtual_lean.Machine(
        entry=(0.36, 0.32), exit=(0.26, 0.22), scale=(1.0012, 0.9986), inside_extra=0.02
    ),
}
MILL = """[[mill]]
name = "mill"
slot_pitch = 63
bolt = 8
jaw_width = 150
jaw_height = 44
jaw_opening = 120
"""
JOB = """schema = 1
units = "mm"
[job]
number = "41"
name = "part"
revision = "B"
[part]
shape = {{ kind = "points", points = {points} }}
height = {height}
material = "steel"
edge_tolerance = 0.01
[[part.critical]]
name = "bore"
at = [20, 20]
tolerance = 1
[[setup]]
name = "op10"
guide = "{kind}"
sheet = "acrylic-5"
turn = {turn}
flip = "{flip}"
{lean}
{more}
"""
#: Level underneath, upright on the left, a curved flank above: (x, y, corner radius).
STANDS = [[0, 0, 2], [70, 0, 9], [62, 30, 15], [40, 45, 6], [0, 45, 8]]
#: Of each guide: its kind, the part as it lies in use, further keys, and the least gap per side.
GUIDES = {
    "nest": ("nest", ROUNDED, "clearance = 0.1\nnotch = 0", 0.1),
    "nest on pads": ("nest", ROUNDED, 'clearance = 0.5\nnotch = 0\ncontacts = "auto"', 0.0),
    "two in a nest": ("nest", ROUNDED, "clearance = 0.1\nnotch = 0\ncopies = 2", 0.1),
    "corner": ("corner", SQUARE, "clearance = 0.5", 0.0),
    "fence": ("fence", SQUARE, "clearance = 0.8\nstops = [0, 40]\nstop = 1", 0.0),
    "stack": (
        "stack",
        ROUNDED[:3] + ROUNDED[4:],
        "clearance = 0.12\nlip = 3\nnotch = 0",
        0.12,
    ),
    "standing": ("standing", STANDS, 'plane = "XZ"\nclearance = 0.5', 0.0),
    "template": ("template", ROUNDED, "tolerance = 0.2", 0.2),
}
#: Plates that lie beside the part, by their names' endings; of a stack its nest alone is tight.
TIGHT = {"stack": "-nest"}


def job_file(folder: Path, name: str, machine=MACHINES["wider above"], *, turn=0.0, flip="none",
             lean='lean = "opposed"', clear="clear = true", card=None) -> Path:  # fmt: skip
    kind, points, more, _ = GUIDES[name]
    folder.mkdir(exist_ok=True)
    (folder / "shop.toml").write_text(
        shop_text(
            kerf=0.24 if card is not None else min(sum(machine.entry), sum(machine.exit)) / 2,
            card=card_lines(machine) if card is None else card,
            stock=clear,
        )
        + MILL
    )
    job = folder / "job.toml"
    if kind != "template":
        more += "\nzero = [5, 7, 3]"
    job.write_text(
        JOB.format(
            points=drawn(points, turn, flip, "left"),
            height=10 if kind != "stack" else 14,
            kind=kind,
            turn=turn,
            flip=flip,
            lean=lean,
            more=more,
        )
    )
    return job


def card_lines(machine: virtual_lean.Machine) -> str:
    entry, exit_ = sum(machine.entry) / 2, sum(machine.exit) / 2
    x, y = machine.exit if exit_ <= entry else machine.entry
    return (
        f"entry = {entry}\nexit = {exit_}\nkerf_x = {x}\nkerf_y = {y}\n"
        f"scale_x = {machine.scale[0]}\nscale_y = {machine.scale[1]}\n"
        f"inside_extra = {machine.inside_extra}"
    )


def proud(machine: virtual_lean.Machine) -> str:
    return "exit" if sum(machine.exit) <= sum(machine.entry) else "entry"


def standoff_mm(machine: virtual_lean.Machine) -> float:
    return abs(sum(machine.entry) - sum(machine.exit)) / 4


def over(shape: shapely.Geometry) -> shapely.Geometry:
    """Return what a turn about the upright through 0 brings up."""
    return shapely.transform(shape, lambda p: p * (-1.0, 1.0))


def gaps(name: str, folder: Path, setup: dict, plate: dict, machine, face: str) -> np.ndarray:
    """Return how far the plate is from what it must be at, in use, at one face of the sheet."""
    burnt = over(virtual_lean.plate(folder / plate["dxf"], machine, face))
    if setup["locating"] and setup["locating"]["contacts"]:
        # A contact lies on one of the plates; it is told off by the others being far away.
        points = np.array([c["at"] for c in setup["locating"]["contacts"]])
    else:
        _, outline, *_ = GUIDES[name]
        points = laser.outline_points(fillet_rows(outline), 1.0)
    there = laser.placed(points, plate["to_part"]) * (-1.0, 1.0)
    shifts = np.array(setup["copies"]) * (-1.0, 1.0)
    return np.array(
        [shapely.distance(shapely.points(there + shift), burnt.boundary) for shift in shifts]
    )


@pytest.mark.parametrize("machine", MACHINES)
@pytest.mark.parametrize("name", GUIDES)
def test_the_part_touches_where_the_sheet_says(tmp_path, name, machine):
    """At the proud edge at what was asked, within 0.002 mm; at the other, back by the lean."""
    beam = MACHINES[machine]
    worked = plan(read_job(job_file(tmp_path, name, beam)))
    (setup,) = cut_files(worked, tmp_path)
    (_, _, _, asked), other = GUIDES[name], "entry" if proud(beam) == "exit" else "exit"
    tight = [p for p in setup["plates"] if p["name"].endswith(TIGHT.get(name, ""))]
    if name == "template":
        tight = tight[:1]
    near, far = (
        np.min([gaps(name, tmp_path, setup, p, beam, face) for p in tight], axis=0)
        for face in (proud(beam), other)
    )
    assert np.abs(near - asked).max() < 0.002
    # A curved or slanted wall stands back by as much; an elliptical beam leans alike both ways.
    assert np.abs(far - asked - standoff_mm(beam)).max() < 0.002
    lean = setup["lean"]
    assert (lean["use"], lean["up"], lean["proud"]) == ("opposed", "exit", proud(beam))
    assert lean["standoff_mm"] == pytest.approx(standoff_mm(beam))
    page = html_text(sheet_content(worked, 0))
    if name == "standing":
        # It looks away from you: its entry face lies on the jaw at +Y, with the part.
        jaw = "fixed" if proud(beam) == "entry" else "moving"
        assert "the entry face) to the fixed jaw" in page
        assert f"touch them at the edge nearest the {jaw} jaw" in page
        assert "turned over: its engraved side looks away from you" in page
    else:
        edge = "upper" if proud(beam) == "exit" else "lower"
        assert f"Walls touch at their {edge} edge" in page
        assert "exit face up, turned over from how it lay in the laser" in page
        if name != "template":
            assert "turned over: its engraved side lies down" in page
    assert "Every plate of this guide is cut mirrored and turned over" in page


@pytest.mark.parametrize(("turn", "flip"), [(0, "none"), (17.3, "x"), (90, "none"), (180, "y")])
@pytest.mark.parametrize("name", ["nest", "corner", "stack", "standing", "two in a nest"])
def test_turned_over_it_stands_as_one_that_allows_the_lean(tmp_path, name, turn, flip):
    """The same plate in the same place, and the same way to the part; faces and offsets too."""
    if name == "two in a nest" and turn == 17.3:
        flip = "none"
    asked = {"turn": turn, "flip": flip}
    one, two = (
        cut_files(plan(read_job(job_file(tmp_path / use, name, lean=f'lean = "{use}"', **asked))),
                  tmp_path / use)[0]
        for use in ("allowed", "opposed")
    )  # fmt: skip
    for a, b in zip(one["plates"], two["plates"], strict=True):
        beam = MACHINES["wider above"]
        lying = virtual_lean.plate(tmp_path / "allowed" / a["dxf"], beam, "exit")
        turned = over(virtual_lean.plate(tmp_path / "opposed" / b["dxf"], beam, "exit"))
        x, y = np.array(lying.bounds[:2]) - turned.bounds[:2]
        turned = shapely.transform(turned, lambda p, by=(x, y): p + by)
        assert shapely.hausdorff_distance(lying, turned) < 0.002
        matrix, mirrored = np.array(a["to_part"]), np.array(b["to_part"])
        assert mirrored[:, :2] @ np.diag([-1.0, 1.0]) == pytest.approx(matrix[:, :2], abs=1e-12)
        # A point of the part lies at the same place of both.
        at = np.array([[12.0, 9.0]])
        here = laser.placed(at, a["to_part"])[0]
        there = laser.placed(at, b["to_part"])[0] * (-1.0, 1.0) + (x, y)
        assert there == pytest.approx(here, abs=2e-6)
    assert one["datums"] == two["datums"]
    for a, b in zip(one["faces"], two["faces"], strict=True):
        assert a["name"] == b["name"]
        assert a["normal"] == pytest.approx(np.array(b["normal"]) * (-1.0, 1.0))
    assert np.array(one["copies"]) == pytest.approx(np.array(two["copies"]) * (-1.0, 1.0))


def test_offsets_are_those_of_the_plate_turned_over(tmp_path):
    """Where the finder meets the proud edge of each face, from program zero."""
    beam = MACHINES["wider above"]
    (setup,) = cut_files(plan(read_job(job_file(tmp_path, "nest", beam, turn=17.3))), tmp_path)
    plate = setup["plates"][0]
    x0, y0, *_ = over(virtual_lean.plate(tmp_path / plate["dxf"], beam, "exit")).bounds
    zero = laser.placed(np.array([[5.0, 7.0]]), plate["to_part"])[0] * (-1.0, 1.0)
    assert setup["datums"]["X"]["offset_mm"] == pytest.approx(x0 - zero[0], abs=0.002)
    assert setup["datums"]["Y"]["offset_mm"] == pytest.approx(y0 - zero[1], abs=0.002)


@pytest.mark.parametrize("clear", ["clear = true", "clear = false", ""])
@pytest.mark.parametrize("name", GUIDES)
def test_marks_read_right_from_the_side_they_are_read_from(tmp_path, name, clear):
    """Through a clear sheet from above; else on the engraved face, and a note says so."""
    worked = plan(read_job(job_file(tmp_path, name, clear=clear)))
    (setup,) = cut_files(worked, tmp_path)
    codes = [f.code for f in worked.findings]
    is_clear = clear == "clear = true"
    assert ("lean-marks-below" in codes) is not is_clear
    for plate in setup["plates"]:
        burnt = engraving_read.strokes(tmp_path / plate["dxf"])
        seen, unseen = burnt, engraving_read.turned_over(burnt)
        if is_clear:
            seen, unseen = unseen, seen
        assert engraving_read.reads("JOB 41 REV B", seen), plate["name"]
        assert not engraving_read.reads("JOB 41 REV B", unseen)
        side = "ENGRAVED SIDE DOWN" if is_clear else "THIS SIDE DOWN"
        if name == "standing":
            side = "ENGRAVED SIDE TO FIXED JAW"
        if f'{side}"' not in " ".join(f.message for f in worked.findings):
            assert engraving_read.reads(side, seen)
        assert not engraving_read.reads("THIS SIDE UP", seen)


def test_the_word_on_the_flip_axis_reads_right(tmp_path):
    for clear in ("clear = true", "clear = false"):
        folder = tmp_path / clear[-4:]
        worked = plan(read_job(job_file(folder, "nest", flip="x", clear=clear)))
        (setup,) = cut_files(worked, folder)
        burnt = engraving_read.strokes(folder / setup["plates"][0]["dxf"])
        seen = engraving_read.turned_over(burnt) if clear == "clear = true" else burnt
        assert engraving_read.reads("FLIP", seen)


@pytest.mark.parametrize("clear", ["clear = true", "clear = false"])
def test_a_rails_scale_reads_right_and_from_the_stop(tmp_path, clear):
    """The same lengths from the stop's face as a rail that allows the lean."""
    far = {}
    for lean in ("allowed", "opposed"):
        job = job_file(tmp_path / lean, "fence", clear=clear, lean=f'lean = "{lean}"\nscale = 10')
        (setup,) = cut_files(plan(read_job(job)), tmp_path / lean)
        rail = setup["plates"][0]
        burnt = engraving_read.strokes(tmp_path / lean / rail["dxf"])
        seen = burnt
        if lean == "opposed" and clear == "clear = true":
            seen = engraving_read.turned_over(burnt)
        assert engraving_read.reads("50", seen)
        assert engraving_read.reads("STOP 2", seen)
        assert not engraving_read.reads("STOP 2", engraving_read.turned_over(seen))
        to_part = np.array(rail["to_part"])
        ticks = [to_part[:, :2] @ row.T + to_part[:, 2:] for row in burnt if len(row) == 2]
        far[lean] = sorted(
            round(float(t[0].mean()), 4) for t in ticks if abs(np.ptp(t[0])) < 1e-6 < np.ptp(t[1])
        )
    assert {10.0, 40.0, 50.0, 60.0} < set(far["allowed"])
    assert {10.0, 40.0, 50.0, 60.0} < set(far["opposed"])


def test_an_unknown_lean_is_said_and_the_plate_still_turned_over(tmp_path):
    worked = plan(read_job(job_file(tmp_path, "nest", card="")))
    (found,) = (f for f in worked.findings if f.code == "lean-unknown")
    assert found.severity.value == "warn"
    assert "measure a coupon at both faces" in found.hint
    assert "exit face up, turned over" in html_text(sheet_content(worked, 0))
    (setup,) = cut_files(worked, tmp_path)
    assert setup["plates"][0]["is_mirrored"]
    assert setup["lean"] == {
        "use": "opposed", "up": "exit", "proud": None, "standoff_mm": None, "angle_rad": None,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("name", "lean", "says"),
    [
        ("nest", 'lean = "upright"', 'must be one of "allowed", "opposed"'),
        ("corner", "lean = true", "lean"),
    ],
)
def test_a_bad_lean_gives_one_clear_error(tmp_path, name, lean, says):
    with pytest.raises(InputErrors) as caught:
        read_job(job_file(tmp_path, name, lean=lean))
    told = caught.value.describe()
    assert says in told
    assert "setup[0].lean" in told
    assert told.count("at job.toml") == 1


def test_a_part_that_does_not_reach_the_proud_edge_is_told_the_other_way(tmp_path):
    """3 mm of part in a 5 mm plate that touches at its upper edge: 2/5 of the lean off."""
    job = job_file(tmp_path, "nest")
    job.write_text(job.read_text().replace("height = 10", "height = 3"))
    (found,) = (f for f in plan(read_job(job)).findings if f.code == "lean-unreached")
    assert found.measured == pytest.approx(standoff_mm(MACHINES["wider above"]) * 2 / 5)
    assert "upper edge" in found.message
    assert 'lean = "allowed"' in found.hint
    job = job_file(tmp_path, "nest", MACHINES["wider below"], lean="")
    job.write_text(job.read_text().replace("height = 10", "height = 3"))
    (found,) = (f for f in plan(read_job(job)).findings if f.code == "lean-unreached")
    assert 'lean = "opposed"' in found.hint


@pytest.mark.parametrize(
    ("fixed", "lean", "edge"),
    [
        ("+Y", "allowed", 0.0),
        ("-Y", "allowed", 2.0),
        ("+Y", "opposed", 2.0),
        ("-Y", "opposed", 0.0),
    ],
)
def test_a_thin_part_in_the_vise_lies_on_the_fixed_jaw(tmp_path, fixed, lean, edge):
    """The exit face is proud; away from the jaw, a part of 3 mm stays 2 mm from its edge."""
    job = job_file(tmp_path, "standing", lean=f'lean = "{lean}"')
    text = job.read_text().replace("height = 10", "height = 3")
    job.write_text(text + f'\nfixed_jaw = "{fixed}"\nspacer = true\n')
    found = [f for f in plan(read_job(job)).findings if f.code == "lean-unreached"]
    assert len(found) == (1 if edge else 0)
    if edge:
        assert "nearest the moving jaw" in found[0].message
        assert found[0].measured == pytest.approx(0.05 * edge / 5)


def test_the_record_tells_that_another_lean_is_another_file(tmp_path):
    from jigs.repeat import Verdict, changes

    was, is_ = (
        {"setups": cut_files(plan(read_job(job_file(tmp_path, "nest", lean=lean))), tmp_path)}
        for lean in ("", 'lean = "opposed"')
    )
    for old, new in ((was, is_), (is_, was)):
        (change,) = changes(json.loads(json.dumps(old)), new)
        assert change.verdict is Verdict.RECUT
        assert len(change.reasons) == 1
        assert "mirror image" in change.reasons[0]
