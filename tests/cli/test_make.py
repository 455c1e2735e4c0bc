"""``jigs make``: what it writes, what it says, and what it leaves alone when it refuses."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from jigs.cli.app import app

TEMPLATES = Path(__file__).parents[2] / "templates"
run = CliRunner()


@pytest.fixture
def job(tmp_path: Path) -> Path:
    for source in (TEMPLATES / "nest" / "job.toml", TEMPLATES / "shop.toml"):
        (tmp_path / source.name).write_bytes(source.read_bytes())
    return tmp_path / "job.toml"


def edited(job: Path, old: str, new: str) -> None:
    text = job.read_text(encoding="utf-8")
    assert old in text
    job.write_text(text.replace(old, new), encoding="utf-8")


def make(job: Path):
    return run.invoke(app, ["make", str(job), "--out", str(job.parent / "out")])


def test_writes_every_file(job):
    done = make(job)
    assert done.exit_code == 0, done.output
    names = {path.name for path in (job.parent / "out").iterdir()}
    assert names >= {"op10.dxf", "op10.svg", "record.json", "setup-sheet.pdf", "preview.png"}
    record = json.loads((job.parent / "out" / "record.json").read_text())
    assert record["schema"] == 1
    assert set(record["setups"][0]["datums"]) == {"X", "Y", "Z"}


def test_same_inputs_write_the_same_bytes(job):
    make(job)
    first = {p.name: p.read_bytes() for p in (job.parent / "out").iterdir()}
    make(job)
    assert {p.name: p.read_bytes() for p in (job.parent / "out").iterdir()} == first


def test_r12_on_request(job):
    out = job.parent / "out"
    done = run.invoke(app, ["make", str(job), "--out", str(out), "--release", "R12"])
    assert done.exit_code == 0, done.output
    assert b"AC1009" in (out / "op10.dxf").read_bytes()


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('units = "mm"', 'units = "cm"', ["units", '"mm", "inch"']),
        ('units = "mm"', 'unit = "mm"', ["units", "missing"]),
        (
            "clearance = 0.1 ",
            "clearence = 0.1 ",
            ['unknown key "clearence"', '"clearance"', "setup[0]"],
        ),
        ("clearance = 0.1 ", 'clearance = "0.1 furlong" ', ["setup[0].clearance", "no length"]),
        ("clearance = 0.1 ", "clearance = -0.1 ", ["setup[0].clearance", "at least 0 mm"]),
        ('guide = "nest"', 'guide = "nets"', ["setup[0].guide", 'did you mean "nest"']),
        ('sheet = "acrylic-5"', 'sheet = "plywood"', ['"plywood"', "acrylic-5"]),
        ("height = 10 ", "height = 0 ", ["part.height", "above 0"]),
        ("width = 80", "width = 0", ["part.shape", "above 0 mm"]),
        ("radius = 8", "radius = 50", ["part.shape", "radii"]),
        ("schema = 1", "schema = 7", ["schema is 7", "schema 1"]),
        ('number = "1001"', "number = 1001", ["job.number", "text in quotes"]),
        ("tolerance = 0.5", "tolerance = 0", ["critical[0].tolerance", "above 0 mm"]),
        ("shape = {", 'profile = "none.dxf"\nshape = {', ["part.profile", "only one"]),
        ('shop = "shop.toml"', 'shop = "gone.toml"', ["gone.toml", "does not exist"]),
    ],
)
def test_bad_input_is_one_clear_message_and_old_files_stay(job, old, new, says):
    assert make(job).exit_code == 0
    before = {p.name: p.read_bytes() for p in (job.parent / "out").iterdir()}
    edited(job, old, new)
    done = make(job)
    assert done.exit_code == 2, done.output
    assert "Traceback" not in done.output
    for words in says:
        assert words in done.output, done.output
    assert {p.name: p.read_bytes() for p in (job.parent / "out").iterdir()} == before


def test_all_faults_are_reported_in_one_run(job):
    edited(job, "clearance = 0.1 ", "clearance = -1 ")
    edited(job, 'flip = "none"', 'flip = "z"')
    edited(job, "height = 10 ", "hieght = 10 ")
    done = make(job)
    for words in ("setup[0].clearance", "setup[0].flip", 'unknown key "hieght"', "part.height"):
        assert words in done.output


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "schema"),
        (b"\xff\xfe\x00", "UTF-8"),
        (b"schema = ", "TOML"),
    ],
)
def test_unreadable_job_files(tmp_path, content, says):
    job = tmp_path / "job.toml"
    job.write_bytes(content)
    done = make(job)
    assert done.exit_code == 2
    assert says in done.output


def test_missing_file_and_folder(tmp_path):
    missing = run.invoke(app, ["make", str(tmp_path / "no.toml")])
    assert missing.exit_code == 2
    assert "does not exist" in missing.output
    folder = run.invoke(app, ["make", str(tmp_path)])
    assert folder.exit_code == 2
    assert "folder" in folder.output


def test_part_larger_than_the_sheet_fails_the_check_and_says_so(job):
    edited(job, "width = 80", "width = 700")
    done = make(job)
    assert done.exit_code == 1
    assert "600.0" in done.output
    assert "sheet" in done.output


def test_clearance_that_eats_a_feature(job):
    edited(
        job,
        'shape = { kind = "rounded rectangle", width = 80, height = 50, radius = 8 }',
        'shape = { kind = "points", points = [[0,0],[80,0],[80,24.9],[40,24.9],[40,25.1],'
        "[80,25.1],[80,50],[0,50]] }",
    )
    done = make(job)
    assert done.exit_code == 2
    assert "clearance" in done.output
    assert "gap" in done.output


def test_inch_job_reads_and_prints_inches(job):
    edited(job, 'units = "mm"', 'units = "inch"')
    edited(job, "width = 80, height = 50, radius = 8", "width = 3, height = 2, radius = 0.3")
    edited(job, "height = 10 ", "height = 0.5 ")
    edited(job, "edge_tolerance = 0.05", 'edge_tolerance = "0.05 mm"')
    edited(job, "at = [40, 25]", "at = [1.5, 1]")
    edited(job, "tolerance = 0.5", "tolerance = 0.02")
    edited(job, "clearance = 0.1 ", 'clearance = "0.1 mm" ')
    edited(job, "zero = [40, 25, 10]", "zero = [1.5, 1, 0.5]")
    done = run.invoke(app, ["check", str(job)])
    assert done.exit_code == 0, done.output
    assert " in from program zero" in done.output
    assert "in at touch" in done.output


@pytest.mark.parametrize(
    ("material", "more", "code", "words"),
    [
        ("ABS", (), 1, "--i-have-checked"),
        ("ABS", ("--i-have-checked",), 0, "WARN"),
        ("PVC foam", ("--i-have-checked",), 1, "hydrogen chloride"),
    ],
)
def test_stock_that_must_not_be_cut_writes_nothing(job, material, more, code, words):
    edited(job.parent / "shop.toml", 'material = "cast acrylic"', f'material = "{material}"')
    done = run.invoke(app, ["make", str(job), "--out", str(job.parent / "out"), *more])
    assert done.exit_code == code, done.output
    assert words in done.output
    assert (job.parent / "out").exists() is (code == 0)
    assert run.invoke(app, ["check", str(job), *more]).exit_code == code
