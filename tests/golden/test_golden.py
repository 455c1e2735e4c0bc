"""The starter jobs' cut files against kept references: a change of a byte is a change to look at.

Run this file as a program to write the references anew, after looking at what changed.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import pytest

from jigs.job import read_job
from jigs.outputs import output_files
from jigs.plan import plan

HERE = Path(__file__).parent
TEMPLATES = HERE.parents[1] / "templates"
KINDS = ("nest", "corner", "standing")


def cut_files(kind: str, folder: Path) -> dict[str, bytes]:
    """Return the DXF and SVG files of a starter job."""
    for path in (TEMPLATES / "shop.toml", *sorted((TEMPLATES / kind).iterdir())):
        (folder / path.name).write_bytes(path.read_bytes())
    _, files = output_files(plan(read_job(folder / "job.toml")))
    return {
        f"{kind}-{name}": content
        for name, content in files.items()
        if name.endswith((".dxf", ".svg"))
    }


@pytest.mark.parametrize("kind", KINDS)
def test_cut_files_are_those_kept(tmp_path, kind):
    files = cut_files(kind, tmp_path)
    kept = {path.name for path in HERE.glob(f"{kind}-*") if path.suffix in {".dxf", ".svg"}}
    assert kept == set(files)
    for name, content in files.items():
        assert content == (HERE / name).read_bytes(), name


if __name__ == "__main__":
    for one in KINDS:
        with tempfile.TemporaryDirectory() as folder:
            for name, content in cut_files(one, Path(folder)).items():
                (HERE / name).write_bytes(content)
                sys.stdout.write(f"{name}\n")
