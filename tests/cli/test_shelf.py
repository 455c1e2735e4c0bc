"""``jigs shelf``: guides listed, added, taken and brought back; whole after a crash."""

from __future__ import annotations

import json
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import pytest
from typer.testing import CliRunner

from jigs.cli.app import app
from jigs.shelf import Reading, guides, history, note_readings

run = CliRunner()


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    record = {
        "schema": 1,
        "job": {"number": "TC-114", "revision": "B"},
        "setups": [
            {"name": n, "guide": "nest", "slot": s} for n, s in (("op20", ""), ("op40", "D4"))
        ],
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


def test_the_jobs_own_slot_serves(shop):
    assert shelf(shop, "add", "op40").exit_code == 0
    (entry,) = json.loads(shelf(shop, "list", "--json").stdout)
    assert entry["slot"] == "D4"


READINGS = (
    Reading(size="plate along x", nominal_mm=50.0, measured_mm=50.013, u_mm=0.004, within=True),
    Reading(size="face X to pad", nominal_mm=20.0, measured_mm=19.9, u_mm=0.004, within=False),
)


def test_readings_are_kept_and_shown(shop):
    shelf(shop, "add", "op20", "--slot", "B3", "--on", "2026-03-02")
    folder = shop.parent
    assert note_readings(folder, "TC-114-op20", READINGS, day="2026-03-05", who="AB", note="recut")
    assert not note_readings(folder, "TC-114-op40", READINGS, day="2026-03-05", who="AB")
    entry, events = history(folder, "TC-114-op20")
    assert entry.measured == "2026-03-05"
    assert [event.what for event in events] == ["added", "measured"]
    assert events[-1].readings == READINGS
    assert "(measured 2026-03-05)" in shelf(shop, "list").output
    shown = shelf(shop, "show", "TC-114-op20").stdout
    assert "50.013 mm, standard unc. 0.004 mm, nominal 50.000 mm, within" in shown
    assert "OUT OF LIMITS" in shown
    told = json.loads(shelf(shop, "show", "TC-114-op20", "--json").stdout)
    assert told["events"][1]["readings"][0]["measured_mm"] == 50.013


#: A register as the first version wrote it: no version number, no readings.
FIRST = """
CREATE TABLE guide (
    id TEXT PRIMARY KEY, job TEXT NOT NULL, revision TEXT NOT NULL, setup TEXT NOT NULL,
    kind TEXT NOT NULL, slot TEXT NOT NULL, record_sha256 TEXT NOT NULL);
CREATE TABLE event (
    number INTEGER PRIMARY KEY, guide TEXT NOT NULL REFERENCES guide (id),
    what TEXT NOT NULL CHECK (what IN ('added', 'out', 'back', 'measured')),
    day TEXT NOT NULL, who TEXT NOT NULL, note TEXT NOT NULL);
INSERT INTO guide VALUES ('9-op10', '9', 'A', 'op10', 'nest', 'A1', 'ab');
INSERT INTO event VALUES (1, '9-op10', 'added', '2025-01-01', 'AB', '');
INSERT INTO event VALUES (2, '9-op10', 'out', '2025-01-02', 'AB', '');
"""


def first_register(folder: Path) -> None:
    with closing(sqlite3.connect(folder / "shelf.sqlite")) as connection:
        connection.executescript(FIRST)


def test_an_older_register_is_brought_up_with_its_rows(tmp_path):
    first_register(tmp_path)
    (entry,) = guides(tmp_path)
    assert (entry.id, entry.is_out, entry.uses, entry.last) == (
        "9-op10",
        True,
        1,
        "2025-01-02 out AB",
    )
    assert note_readings(tmp_path, "9-op10", READINGS, day="2026-01-01", who="")
    assert history(tmp_path, "9-op10")[1][-1].readings == READINGS


def test_a_newer_register_is_left_alone(shop):
    path = shop.parent / "shelf.sqlite"
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA user_version = 99")
    before = path.read_bytes()
    done = shelf(shop, "list")
    assert done.exit_code == 2
    assert "version 99" in done.output
    assert path.read_bytes() == before


MEASURER = """
import sys
from pathlib import Path
from jigs.shelf import Reading, note_readings
folder = Path(sys.argv[1])
for i in range(100_000):
    readings = tuple(Reading(size=str(k), nominal_mm=i, measured_mm=i, u_mm=0, within=True)
                     for k in range(40))
    assert note_readings(folder, "9-op10", readings, day="2026-01-01", who="")
    print(i, flush=True)
"""


def test_a_kill_leaves_no_measuring_in_part(tmp_path):
    """The first writing brings an older register up, so that the kill may fall into that too."""
    for wait in (0.0, 0.01, 0.03, 0.07):
        folder = tmp_path / str(wait)
        folder.mkdir()
        first_register(folder)
        worker = subprocess.Popen(
            [sys.executable, "-c", MEASURER, str(folder)], stdout=subprocess.PIPE, text=True
        )
        assert worker.stdout is not None
        if wait:
            worker.stdout.readline()
        time.sleep(wait or 0.15)
        worker.send_signal(signal.SIGKILL)
        worker.wait()
        entry, events = history(folder, "9-op10")
        assert entry.uses == 1
        measured = [event for event in events if event.what == "measured"]
        assert bool(measured) or not wait
        assert all(len(event.readings) == 40 for event in measured)


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
