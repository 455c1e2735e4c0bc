"""The house's one-way arrows, checked by walking every import."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
MODULES = sorted((ROOT / "kerf").rglob("*.py")) + sorted((ROOT / "jigs").rglob("*.py"))


def imported(path: Path, *, top_only: bool = False) -> set[str]:
    """Return the dotted names a module imports."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    names: set[str] = set()
    for node in tree.body if top_only else ast.walk(tree):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names.add(node.module)
    return names


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_arrows_point_one_way(path):
    room = path.relative_to(ROOT).parts
    names = imported(path)
    if room[0] == "kerf":
        assert not any(n.split(".")[0] == "jigs" for n in names), "kerf must not import jigs"
    if room[:2] in {("jigs", "locating"), ("jigs", "holding")}:
        assert not any(n.startswith("jigs.guides") for n in names), "checks do not import kinds"
    if room[:2] != ("jigs", "cli"):
        assert not any(n.startswith("jigs.cli") for n in names), "nobody imports the command line"
    if room[:2] == ("kerf", "writing"):
        assert not any(n.startswith("kerf.offset") for n in names), "writers make no geometry"


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_modules_stay_small_and_tell_what_they_do(path):
    text = path.read_text(encoding="utf-8")
    assert ast.get_docstring(ast.parse(text)), "every module says what it is for"
    assert len(text.splitlines()) <= 500, "think again at 500 lines"


def test_help_loads_no_heavy_library():
    code = (
        "import sys, jigs.cli.app, jigs.cli.entry; "
        "print([m for m in ('numpy', 'shapely', 'scipy', 'ezdxf', 'typst', 'svgwrite') "
        "if m in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT
    )
    assert done.stdout.strip() == "[]"
