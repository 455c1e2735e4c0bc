"""Jobs that ask for the lean to be opposed, through the commands: whole sheets, finished size,
remnants, and what a kept record says of them."""

from __future__ import annotations

import json
from pathlib import Path

import engraving_read
import ezdxf
import numpy as np
import pytest
import shapely
import virtual_laser as laser
from typer.testing import CliRunner

from jigs.cli.app import app

TEMPLATES = Path(__file__).parents[2] / "templates"
run = CliRunner()
CARD = "kerf = 0.24\nentry = 0.34\nexit = 0.24"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a shop with a corner guide (a.toml allows the lean, b.toml opposes it)."""
    shop = (TEMPLATES / "shop.toml").read_text().replace("kerf = 0.24", CARD, 1)
    shop = shop.replace('material = "cast acrylic"', 'material = "cast acrylic"\nclear = true')
    (tmp_path / "shop.toml").write_text(shop)
    job = (TEMPLATES / "corner" / "job.toml").read_text()
    (tmp_path / "a.toml").write_text(job)
    opposed = job.replace('guide = "corner"', 'guide = "corner"\nlean = "opposed"')
    (tmp_path / "b.toml").write_text(opposed.replace('"1002"', '"1003"'))
    return tmp_path


def make(folder: Path, *arguments: str, jobs: tuple[str, ...]):
    done = run.invoke(
        app, ["make", *(str(folder / j) for j in jobs), *arguments, "--out", str(folder / "out")]
    )
    assert done.exit_code == 0, done.output
    return done


def outside(file: Path) -> list[shapely.Polygon]:
    return [
        shapely.Polygon(laser.loop_points(e))
        for e in ezdxf.readfile(file).modelspace()
        if e.dxf.layer == "OUTSIDE"
    ]


def is_mirror(one: shapely.Polygon, other: shapely.Polygon) -> bool:
    """Return whether a turn by quarters lays one outline's mirror image on the other."""
    one = shapely.transform(one, lambda p: p * (-1.0, 1.0))
    quarters = [shapely.affinity.rotate(one, 90.0 * k, origin=(0, 0)) for k in range(4)]
    for turned in quarters:
        shift = np.array(other.bounds[:2]) - turned.bounds[:2]
        laid = shapely.transform(turned, lambda p, by=shift: p + by)
        if shapely.hausdorff_distance(laid, other) < 1e-3:
            return True
    return False


def test_a_sheet_of_both_holds_each_as_it_must_lie_and_names_the_mirrored(folder: Path) -> None:
    make(folder, "--together", jobs=("a.toml", "b.toml"))
    (sheet,) = (folder / "out").glob("sheet-*.dxf")
    one, two = outside(sheet)
    assert is_mirror(one, two)
    assert not is_mirror(one, shapely.transform(two, lambda p: p * (-1.0, 1.0)))
    said = sheet.with_suffix(".svg").read_text()
    assert "MIRRORED ON PURPOSE: 1003/op10" in said
    assert "1002/op10" not in said.split("MIRRORED ON PURPOSE")[1].split("<")[0]
    burnt = engraving_read.strokes(sheet)
    assert engraving_read.reads("JOB 1002 REV A", burnt)
    assert engraving_read.reads("JOB 1003 REV A", engraving_read.turned_over(burnt))
    assert not engraving_read.reads("JOB 1003 REV A", burnt)
    record = json.loads((folder / "out" / "1003" / "record.json").read_text())
    assert record["setups"][0]["plates"][0]["is_mirrored"]


def test_a_remnant_takes_a_mirrored_plate(folder: Path) -> None:
    make(folder, "--together", "--put-back", jobs=("a.toml",))
    done = make(folder, "--together", jobs=("b.toml",))
    assert "remnant" in done.stderr
    (sheet,) = (folder / "out").glob("sheet-*-1003-1.dxf")
    assert "MIRRORED ON PURPOSE: 1003/op10" in sheet.with_suffix(".svg").read_text()


def test_the_finished_size_is_mirrored_too_and_says_both(folder: Path) -> None:
    with (folder / "shop.toml").open("a") as shop:
        shop.write('\n[output]\nkerf = "left"\n')
    make(folder, jobs=("a.toml",))
    (allowed,) = outside(folder / "out" / "op10-kerf-not-applied.dxf")
    make(folder, jobs=("b.toml",))
    file = folder / "out" / "op10-kerf-not-applied.dxf"
    (opposed,) = outside(file)
    assert is_mirror(allowed, opposed)
    assert not is_mirror(allowed, shapely.transform(opposed, lambda p: p * (-1.0, 1.0)))
    said = file.with_suffix(".svg").read_text()
    assert "KERF NOT APPLIED: finished size" in said
    assert "MIRRORED ON PURPOSE: op10" in said
    assert engraving_read.reads(
        "JOB 1003 REV A", engraving_read.turned_over(engraving_read.strokes(file))
    )


def test_check_against_says_recut_when_the_lean_changes(folder: Path) -> None:
    make(folder, jobs=("b.toml",))
    kept = folder / "out" / "record.json"
    same = run.invoke(app, ["check", str(folder / "b.toml"), "--against", str(kept)])
    assert same.exit_code == 0, same.output
    text = (folder / "b.toml").read_text()
    (folder / "b.toml").write_text(text.replace('lean = "opposed"\n', ""))
    done = run.invoke(app, ["check", str(folder / "b.toml"), "--against", str(kept)])
    assert done.exit_code == 1
    assert "recut" in done.output
    assert "the lean of its walls was opposed and is allowed" in done.output


def test_measured_sizes_move_the_offsets_alike_whichever_way_it_was_cut(folder: Path) -> None:
    told = []
    for job in ("a.toml", "b.toml"):
        make(folder, jobs=(job,))
        record = json.loads((folder / "out" / "record.json").read_text())
        sizes = {c["name"]: c["nominal_mm"] for c in record["setups"][0]["checks"]}
        settings = [f"{name}={mm - 0.04:.3f}" for name, mm in sizes.items() if "pad X1" in name]
        assert len(settings) == 1
        asked = ["measured", str(folder / job), "--out", str(folder / "out"), "--json"]
        done = run.invoke(app, [*asked, "--set", *settings])
        datums = json.loads(done.stdout)["datums"]
        # The pad came nearer to the face, so the face lies nearer to zero.
        assert 0.02 < datums["X"]["offset_mm"] - datums["X"]["was_mm"] < 0.045
        told.append({axis: (d["offset_mm"], d["reading_mm"]) for axis, d in datums.items()})
    assert told[0] == told[1]
