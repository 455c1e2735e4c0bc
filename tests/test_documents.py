"""The documents say what the program does: every command and guide kind is described."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from jigs.cli.app import COMMANDS
from jigs.cli.entry import SUMMARIES, usage
from jigs.guides.kinds import KINDS

ROOT = Path(__file__).parents[1]


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_is_in_the_readme(name):
    assert f"jigs {name}" in (ROOT / "README.md").read_text(encoding="utf-8")


def test_usage_tells_every_command_in_its_own_words():
    told = {
        name: (command.__doc__ or "").strip().split("\n\n")[0].replace("\n    ", " ")
        for name, command in COMMANDS.items()
    }
    assert told == SUMMARIES
    assert all(f"  {name}" in usage() for name in COMMANDS)


@pytest.mark.parametrize("kind", KINDS)
def test_every_guide_kind_has_a_page_with_its_picture_and_a_starter_job(kind):
    page = (ROOT / "docs" / f"{kind}.md").read_text(encoding="utf-8")
    pictures = re.findall(r"!\[[^]]+\]\(([^)]+)\)", page)
    assert pictures
    assert all((ROOT / "docs" / picture).is_file() for picture in pictures)
    assert (ROOT / "templates" / kind / "job.toml").is_file()


def test_every_outside_source_test_is_listed():
    listed = (ROOT / "tests" / "SOURCES.md").read_text(encoding="utf-8")
    for path in sorted((ROOT / "tests" / "against").glob("test_*.py")):
        assert path.name in listed, path.name


def test_files_named_in_the_readme_exist():
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    for name in re.findall(r"\]\(([^)#]+)\)", text):
        assert (ROOT / name).exists(), name
