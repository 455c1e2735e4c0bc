"""``jigs shelf``: guides listed, added, taken and brought back; whole after a crash."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from typer.testing import CliRunner

from jigs.cli.app import app
from jigs.shelf import guides

run = CliRunner()


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    record = {
        "schema": 1,
        "job": {"number": "TC-114", "revision": "B"},
        "setups": [{"name": n, "guide": "nest"} for n in ("op20", "op40")],
    }
    (tmp_path / "record.json").write_text(json.dumps(record))
    return tmp_path / "shop.toml"


def shelf(shop: Path, *words: str):
    return run.invoke(
        app,
        ["shelf", *words, "--shop", str(shop), "--record", str(shop.parent / "record.json")],
    )


def test_the_life_of_a_guide(shop):
    assert shelf(shop, "add", "op20", "--slot", "B3", "--on", "2026-03-02").exit_code == 0
    assert shelf(shop, "out", "TC-114-op20", "--by", "AB", "--on", "2026-03-03").exit_code == 0
    listed = shelf(shop, "list").output
    assert "B3" in listed
    assert "out" in listed
    assert shelf(shop, "back", "TC-114-op20", "--on", "2026-03-04").exit_code == 0
    (entry,) = json.loads(shelf(shop, "list", "--json").stdout)
    assert entry["uses"] == 1
    assert entry["is_out"] is False
    assert entry["last"] == "2026-03-04 back"
    assert len(entry["record_sha256"]) == 64


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("lost",), "not something the shelf does"),
        (("lsit",), 'did you mean "list"'),
        (("out", "nobody"), "not on the shelf"),
        (("out",), "needs a guide ID"),
        (("add", "op20"), "slot"),
        (("add", "op99", "--slot", "A1"), "op20, op40"),
        (("add", "op20", "--slot", "A1", "--on", "yesterday"), "no date"),
        (("add", "op40", "--slot", "Z9"), 'holds guide "TC-114-op20"'),
        (("add", "op20", "--slot", "Z8"), "already"),
        (("back", "TC-114-op20"), "not out"),
    ],
)
def test_refusals(shop, words, says):
    shelf(shop, "add", "op20", "--slot", "Z9")
    done = shelf(shop, *words)
    assert done.exit_code == 2
    assert says in done.output


def test_a_damaged_register_is_named(shop):
    (shop.parent / "shelf.sqlite").write_bytes(b"not a database, but long enough to be read" * 9)
    done = shelf(shop, "list")
    assert done.exit_code == 2
    assert "shelf.sqlite" in done.output


ADDER = """
import sys
from pathlib import Path
from jigs.shelf import Entry, add_guide, take_out
folder = Path(sys.argv[1])
for i in range(10_000):
    id = f"G{i}"
    add_guide(folder, Entry(id=id, job="1", revision="A", setup="s", kind="nest", slot=str(i),
              record_sha256=""), day="2026-01-01", who="")
    take_out(folder, id, day="2026-01-01", who="")
    print(i, flush=True)
"""


def test_a_kill_leaves_the_register_whole(tmp_path):
    """Source: SIGKILL cannot be caught (POSIX), so nothing tidies up."""
    for wait in (0.02, 0.05, 0.09):
        folder = tmp_path / str(wait)
        folder.mkdir()
        worker = subprocess.Popen(
            [sys.executable, "-c", ADDER, str(folder)], stdout=subprocess.PIPE, text=True
        )
        assert worker.stdout is not None
        worker.stdout.readline()
        time.sleep(wait)
        worker.send_signal(signal.SIGKILL)
        worker.wait()
        done = [int(line) for line in worker.stdout.read().split()]
        entries = guides(folder)
        assert len(entries) >= len(done) + 1
        # At most the last guide was caught between being added and being taken.
        assert sum(not e.is_out for e in entries) <= 1
