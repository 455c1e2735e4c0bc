"""``jigs new``: starter jobs that work as they come."""

from __future__ import annotations

from pathlib import Path

import ezdxf
import pytest
from typer.testing import CliRunner, Result

from jigs.cli.app import app
from jigs.job import read_job
from jigs.templates import starters, template_path

run = CliRunner()


@pytest.mark.parametrize("name", starters())
def test_every_starter_job_makes_as_it_comes(tmp_path, name):
    done = run.invoke(app, ["new", "mine", "--from", name, "--out", str(tmp_path)])
    assert done.exit_code == 0, done.output
    made = run.invoke(
        app, ["make", str(tmp_path / "mine" / "job.toml"), "--out", str(tmp_path / "out")]
    )
    assert made.exit_code == 0, made.output


def test_an_existing_folder_is_left_alone(tmp_path):
    (tmp_path / "mine").mkdir()
    done = run.invoke(app, ["new", "mine", "--out", str(tmp_path)])
    assert done.exit_code == 2
    assert "exists already" in done.output
    assert list((tmp_path / "mine").iterdir()) == []


def test_an_unknown_starter_is_answered_with_the_nearest(tmp_path):
    done = run.invoke(app, ["new", "mine", "--from", "nets", "--out", str(tmp_path)])
    assert done.exit_code == 2
    assert 'did you mean "nest"' in done.output


def bracket(path: Path, *, unit: int = 4) -> Path:
    """Write a plate of 80 × 50 with two bores, 8 and 12 mm; ``unit`` as in ``$INSUNITS``."""
    size = {1: 1 / 25.4, 4: 1.0}[unit]
    doc = ezdxf.new("R2000")
    doc.header["$INSUNITS"] = unit
    space = doc.modelspace()
    corners = [(10, 5), (90, 5), (90, 55), (10, 55)]
    space.add_lwpolyline([(x * size, y * size) for x, y in corners], close=True)
    for x, y, r in ((25, 20, 4), (70, 40, 6)):
        space.add_circle((x * size, y * size), r * size)
    doc.saveas(path)
    return path


def start(tmp_path: Path, *options: str) -> Result:
    return run.invoke(app, ["new", "mine", *options, "--out", str(tmp_path)])


#: Starters of one guide; the others are worked examples of their own part.
OF_ONE_GUIDE = [n for n in starters() if "shape = " in template_path(f"{n}/job.toml").read_text()]


@pytest.mark.parametrize("name", OF_ONE_GUIDE)
@pytest.mark.parametrize("unit", [1, 4])
def test_every_starter_takes_a_drawing(tmp_path, name, unit):
    drawn = bracket(tmp_path / "bracket.dxf", unit=unit)
    done = start(tmp_path, "--from", name, "--drawing", str(drawn))
    assert done.exit_code == 0, done.output
    assert (tmp_path / "mine" / "bracket.dxf").read_bytes() == drawn.read_bytes()
    job = read_job(tmp_path / "mine" / "job.toml")
    assert job.name == "mine"
    box = job.part.region.bounds()
    assert (box.width, box.height) == pytest.approx((80.0, 50.0), abs=1e-6)
    bores = [("bore 1, 12.00 mm", 70.0, 40.0), ("bore 2, 8.00 mm", 25.0, 20.0)]
    asks = "[[part.critical]]" in template_path(f"{name}/job.toml").read_text()
    told = [(c.name, *c.at) for c in job.part.critical]
    assert [n for n, _, _ in told] == [n for n, _, _ in bores if asks]
    for (_, *at), (_, *drawn_at) in zip(told, bores, strict=False):
        assert at == pytest.approx(drawn_at, abs=1e-3)
    if name != "template":  # which sets no zero
        assert job.setups[0].zero_mm[:2] == pytest.approx((70.0, 40.0), abs=1e-3)
    text = (tmp_path / "mine" / "job.toml").read_text()
    assert text.count("set this: the drawing does not tell") == 3


def test_a_drawing_of_no_bores_gives_its_middle(tmp_path):
    drawn = tmp_path / "disc.svg"
    drawn.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="2in" height="2in" viewBox="0 0 2 2">'
        '<circle cx="1" cy="1" r="0.75"/></svg>'
    )
    done = start(tmp_path, "--drawing", str(drawn))
    assert done.exit_code == 0, done.output
    (middle,) = read_job(tmp_path / "mine" / "job.toml").part.critical
    assert (middle.name, *middle.at) == ("middle", pytest.approx(25.4), pytest.approx(25.4))


def test_a_started_job_makes(tmp_path):
    drawn = bracket(tmp_path / "bracket.dxf")
    assert start(tmp_path, "--drawing", str(drawn)).exit_code == 0
    made = run.invoke(
        app, ["make", str(tmp_path / "mine" / "job.toml"), "--out", str(tmp_path / "out")]
    )
    assert made.exit_code == 0, made.output


def test_options_of_the_drawing_reach_the_job(tmp_path):
    drawn = bracket(tmp_path / "bracket.dxf")
    doc = ezdxf.readfile(drawn)
    doc.modelspace().add_lwpolyline([(200, 0), (230, 0), (230, 20)], close=True)
    doc.modelspace().add_circle((0, 0), 500, dxfattribs={"layer": "BORDER"})
    doc.saveas(drawn)
    options = ("--drawing", str(drawn), "--units", "cm", "--layer", "0", "--part", "2")
    done = start(tmp_path, *options)
    assert done.exit_code == 0, done.output
    box = read_job(tmp_path / "mine" / "job.toml").part.region.bounds()
    assert sorted((box.width, box.height)) == pytest.approx([200.0, 300.0])


@pytest.mark.parametrize(
    ("options", "why"),
    [
        (("--units", "mm"), "are for a drawing"),
        (("--part", "1"), "are for a drawing"),
        (("--drawing", "nothing.dxf"), "nothing.dxf"),
        (("--drawing", "bracket.dxf", "--part", "3"), "there is no part 3"),
        (("--drawing", "bracket.dxf", "--units", "furlong"), "furlong"),
        (("--drawing", "bracket.dxf", "--layer", "HOLES"), "HOLES"),
        (("--drawing", "bracket.dxf", "--from", "tide-lever"), "worked example"),
    ],
)
def test_what_cannot_start_leaves_nothing_behind(tmp_path, monkeypatch, options, why):
    monkeypatch.chdir(tmp_path)
    bracket(tmp_path / "bracket.dxf")
    done = start(tmp_path, *options)
    assert done.exit_code == 2, done.output
    assert why in done.output
    assert not (tmp_path / "mine").exists()
