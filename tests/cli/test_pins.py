"""``jigs pins``: text, JSON, exit codes, and what bad input is answered with."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from jigs.cli.app import app

run = CliRunner()
TEMPLATES = Path(__file__).parents[2] / "templates"
SHOP = ["--shop", str(TEMPLATES / "pinplate" / "shop.toml")]


def test_one_bore_is_answered_with_the_closest_pin_first():
    done = run.invoke(app, ["pins", "--bore", "8 mm", "--limits", "H7", *SHOP])
    assert done.exit_code == 0, done.output
    lines = done.output.splitlines()
    assert lines[0].endswith("8.000 mm to 8.015 mm")
    assert "pin set 2 0.314 in (minus ZZ): play 0.024 mm to 0.044 mm" in lines[1]
    assert "location ±0.023 mm any way" in lines[1]
    assert any("across its relief" in line for line in lines)
    assert any("to buy: gauge pin 7.99 mm" in line for line in lines)


def test_inches_are_told_in_inches():
    done = run.invoke(app, ["pins", "--bore", "0.315 in", "--units", "inch", *SHOP])
    assert done.exit_code == 0, done.output
    assert " in to " in done.output.splitlines()[0]


def test_json_tells_every_fit_in_millimetres():
    done = run.invoke(app, ["pins", "--bore", "8", "--limits", "H7", "--json", *SHOP])
    (bore,) = json.loads(done.output)
    assert bore["least_mm"] == 8.0
    assert len(bore["fits"]) > 5
    for fit in bore["fits"]:
        assert fit["location_mm"] == pytest.approx(fit["most_clearance_mm"] / 2)


def test_a_job_and_a_drawing_are_answered_bore_by_bore():
    job = run.invoke(app, ["pins", str(TEMPLATES / "pinplate" / "job.toml"), "--json"])
    assert len(json.loads(job.output)) == 7
    drawing = run.invoke(
        app, ["pins", str(TEMPLATES / "tide-lever" / "tide-lever.dxf"), "--json", *SHOP]
    )
    assert [round(b["least_mm"], 3) for b in json.loads(drawing.output)] == [9.8, 5.9]


def test_a_bore_no_pin_fits_exits_1_and_says_what_to_buy():
    done = run.invoke(app, ["pins", "--bore", "40", *SHOP])
    assert done.exit_code == 1
    assert "no pin on hand fits" in done.output
    assert "to buy" in done.output


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([], "give either"),
        (["part.dxf", "--bore", "8"], "only one"),
        (["--bore", "wide"], "no length"),
        (["--bore", "-3"], "is no bore"),
        (["--bore", "8", "--limits", "K7"], 'tolerance class "K7"'),
        (["--bore", "8", "--limits", "9"], "± 9 mm on a bore of 8 mm"),
        (["--bore", "8", "--clearance", "-1"], "press fit"),
        (["--bore", "8", "--units", "furlong"], "not known"),
        (["missing.dxf"], "does not exist"),
    ],
)
def test_bad_input_is_one_clear_error(arguments, said):
    done = run.invoke(app, ["pins", *arguments, *SHOP])
    assert done.exit_code == 2
    assert said in done.output
    assert "Traceback" not in done.output
