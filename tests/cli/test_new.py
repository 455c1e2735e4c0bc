"""``jigs new``: starter jobs that work as they come."""

from __future__ import annotations

import pytest
from typer.testing import CliRunner

from jigs.cli.app import app
from jigs.templates import starters

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
