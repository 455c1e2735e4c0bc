"""``jigs check``: the report, and a kept record held against today."""

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
    for source in (TEMPLATES / "corner" / "job.toml", TEMPLATES / "shop.toml"):
        (tmp_path / source.name).write_bytes(source.read_bytes())
    made = run.invoke(app, ["make", str(tmp_path / "job.toml"), "--out", str(tmp_path / "out")])
    assert made.exit_code == 0, made.output
    return tmp_path / "job.toml"


def against(job: Path, *more: str):
    return run.invoke(
        app, ["check", str(job), "--against", str(job.parent / "out" / "record.json"), *more]
    )


def edited(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def test_report_names_faces_sides_and_what_to_enter(job):
    done = run.invoke(app, ["check", str(job)])
    assert done.exit_code == 0
    assert "face X" in done.output
    assert "mm at touch" in done.output
    assert not (job.parent / "check").exists()


def test_json_is_the_record(job):
    done = run.invoke(app, ["check", str(job), "--json"])
    assert json.loads(done.stdout)["setups"][0]["guide"] == "corner"


def test_nothing_changed(job):
    done = against(job)
    assert done.exit_code == 0, done.output
    assert "op10: serves" in done.output
    assert "as they were" in done.output


def test_a_comment_changes_the_file_and_not_the_guide(job):
    edited(job, "schema = 1", "# looked at\nschema = 1")
    done = against(job)
    assert done.exit_code == 0
    assert "job.toml was saved with other content" in done.output
    assert "op10: serves" in done.output


def test_a_new_zero_needs_a_new_sheet_only(job):
    edited(job, "zero = [25, 30, 8]", "zero = [0, 0, 8]")
    done = against(job)
    assert done.exit_code == 0
    assert "new set-up sheet" in done.output


def test_a_new_card_asks_to_measure(job):
    edited(job.parent / "shop.toml", "kerf = 0.24", "kerf = 0.21")
    done = against(job)
    assert done.exit_code == 1
    assert "measure again" in done.output


def test_another_outline_asks_to_recut(job):
    edited(job, "[90,35,12]", "[91,35,12]")
    done = against(job, "--json")
    assert done.exit_code == 1
    assert json.loads(done.stdout)["setups"][0]["verdict"] == "recut"


@pytest.mark.parametrize("content", ["", "[]", "{}", '{"schema": 2}'])
def test_a_bad_record_is_refused(job, content):
    (job.parent / "out" / "record.json").write_text(content)
    done = against(job)
    assert done.exit_code == 2
    assert "record" in done.output
