"""``jigs read``: what it says, what it writes, and how it ends."""

from __future__ import annotations

import io
import itertools
import json
import math
from pathlib import Path

import ezdxf
import pytest
from PIL import Image
from typer.testing import CliRunner

from jigs.cli.app import app
from jigs.drawing_report import nearest_pin
from kerf.reading import read_drawing

run = CliRunner()


@pytest.fixture
def plate(tmp_path: Path) -> Path:
    """A 4 × 2 in plate, a 0.2505 in hole, lines loose and one doubled; a second part beside it."""
    doc = ezdxf.new("R2010", units=1)
    space = doc.modelspace()
    corners = [(0, 0), (4, 0), (4, 2), (0, 2)]
    for a, b in zip(corners, corners[1:] + corners[:1], strict=True):
        space.add_line(a, b, dxfattribs={"layer": "CUT"})
    space.add_line((0, 0), (4, 0), dxfattribs={"layer": "CUT"})
    space.add_circle((1, 1), 0.12525, dxfattribs={"layer": "CUT"})
    space.add_circle((6, 1), 0.5, dxfattribs={"layer": "DISC"})
    space.add_text("4140")
    path = tmp_path / "plate.dxf"
    doc.saveas(path)
    return path


def read(path: Path, *options: str):
    return run.invoke(app, ["read", str(path), "--out", str(path.parent / "out"), *options])


def test_table_names_loops_pins_and_mendings(plate: Path) -> None:
    """Source: gauge pins in steps of .001 in (ASME B89.1.5 sizes)."""
    done = read(plate)
    assert done.exit_code == 0, done.output
    assert "2 part(s), read in inch" in done.stdout
    assert "101.6000" in done.stdout
    assert "0.251 in -0.0127 mm" in done.stdout or "0.250 in +0.0127 mm" in done.stdout
    assert "duplicate removed: 101.6 mm at (50.8, 0)" in done.stdout
    assert "set aside, no outline: 1 × TEXT" in done.stdout
    assert (plate.parent / "out" / "plate-read.png").exists()


def test_nearest_pin() -> None:
    assert nearest_pin(6.0) == (0.236, pytest.approx(6 - 0.236 * 25.4))
    assert nearest_pin(0.2) is None
    assert nearest_pin(30.0) is None


def test_json_agrees_with_the_reader(plate: Path) -> None:
    done = read(plate, "--json")
    record = json.loads(done.stdout)
    region = read_drawing(plate).regions[0]
    first = record["parts"][0]
    assert first["area_mm2"] == region.area_mm2
    assert first["holes"][0]["diameter_mm"] == pytest.approx(0.2505 * 25.4)
    assert record["healed"][0]["kind"] == "duplicate removed"
    assert record["set_aside"] == {"TEXT": 1}
    assert {use["name"] for use in record["layers"]} == {"CUT", "DISC"}


def test_layer_and_part(plate: Path) -> None:
    assert "1 part(s)" in read(plate, "--layer", "!disc").stdout
    lines = [line.split() for line in read(plate, "--part", "2").stdout.splitlines()]
    assert [line[:2] for line in lines if line[:1] in (["1"], ["2"])] == [["2", "outline"]]
    refused = read(plate, "--part", "3")
    assert refused.exit_code == 2
    assert "there is no part 3" in refused.stderr


def test_fix_writes_the_outline_that_was_read(plate: Path, tmp_path: Path) -> None:
    target = tmp_path / "clean.dxf"
    assert read(plate, "--fix", str(target)).exit_code == 0
    first = target.read_bytes()
    assert read(plate, "--fix", str(target)).exit_code == 0
    assert target.read_bytes() == first
    before, after = read_drawing(plate), read_drawing(target)
    assert not after.healed
    assert [r.area_mm2 for r in after.regions] == pytest.approx(
        [r.area_mm2 for r in before.regions]
    )
    assert not ezdxf.readfile(target).audit().errors


@pytest.fixture
def gapped(tmp_path: Path) -> Path:
    doc = ezdxf.new("R2010", units=4)
    points = [(0, 0), (100, 0), (100, 60), (0, 60), (0, 5)]
    for a, b in itertools.pairwise(points):
        doc.modelspace().add_line(a, b)
    path = tmp_path / "gapped.dxf"
    doc.saveas(path)
    return path


def test_faults_are_listed_ringed_and_stop_the_fix(gapped: Path, tmp_path: Path) -> None:
    done = read(gapped, "--fix", str(tmp_path / "never.dxf"))
    assert done.exit_code == 1
    assert "1. the outline is open: a gap of 5 mm between (0, 0) and (0, 5); LINE #" in done.stdout
    assert "is not written" in done.stderr
    assert not (tmp_path / "never.dxf").exists()
    picture = Image.open(io.BytesIO((gapped.parent / "out" / "gapped-read.png").read_bytes()))
    colours = picture.convert("RGB").getcolors(1 << 20)
    assert colours is not None
    # The ring is drawn in the one colour that is neither grey nor white.
    ring = sum(n for n, (r, g, b) in colours if b - r > 60)
    assert ring > 2 * math.pi * 4 / 25.4 * 150


def test_bad_input_is_one_message(tmp_path: Path) -> None:
    missing = read(tmp_path / "none.dxf")
    assert missing.exit_code == 2
    assert "does not exist" in missing.stderr
    assert "Traceback" not in missing.output
    assert not (tmp_path / "out").exists()


def test_no_unit(plate: Path) -> None:
    doc = ezdxf.readfile(plate)
    doc.units = 0
    doc.saveas(plate)
    refused = read(plate)
    assert refused.exit_code == 2
    assert "set `units`" in refused.stderr
    assert read(plate, "--units", "in").exit_code == 0
    assert "furlong" in read(plate, "--units", "furlong").stderr
