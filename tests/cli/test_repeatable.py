"""The same inputs give the same bytes, whatever the clock, the place, the language or the hash."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

TEMPLATES = Path(__file__).parents[2] / "templates"
PLACES = (
    {"TZ": "UTC", "LC_ALL": "C.UTF-8", "PYTHONHASHSEED": "1"},
    {
        "TZ": "Pacific/Kiritimati",
        "LC_ALL": "de_DE.UTF-8",
        "PYTHONHASHSEED": "4242",
        "SOURCE_DATE_EPOCH": "86400",
    },
)


@pytest.mark.parametrize("kind", ["nest", "standing"])
def test_two_machines_write_the_same_bytes(tmp_path, kind):
    source = TEMPLATES / kind
    for path in (TEMPLATES / "shop.toml", *sorted(source.iterdir())):
        (tmp_path / path.name).write_bytes(path.read_bytes())
    made = []
    for number, place in enumerate(PLACES):
        out = tmp_path / f"out{number}"
        subprocess.run(
            [
                sys.executable,
                "-c",
                "from jigs.cli.entry import main; main()",
                "make",
                str(tmp_path / "job.toml"),
                "--out",
                str(out),
            ],
            env={**os.environ, **place},
            capture_output=True,
            check=True,
            cwd=tmp_path if number else None,
        )
        made.append({p.name: p.read_bytes() for p in sorted(out.iterdir())})
    assert set(made[0]) == set(made[1])
    assert {"record.json", "setup-sheet.pdf", "preview.png"} < set(made[0])
    for name, content in made[0].items():
        assert made[1][name] == content, name
