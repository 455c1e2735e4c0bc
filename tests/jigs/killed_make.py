"""``jigs make`` killed at any moment: what a folder holds afterwards, judged from its files.

Source: SIGKILL cannot be caught (POSIX), so nothing tidies up.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

from jigs.templates import template_path

MAKE = "from jigs.cli.entry import main; main()"


def job(folder: Path) -> Path:
    """Write the nest's starter job with the shop's starter file and return its path."""
    shutil.copy(template_path("nest") / "job.toml", folder / "job.toml")
    shutil.copy(template_path("shop.toml"), folder / "shop.toml")
    return folder / "job.toml"


def started(path: Path, out: Path) -> subprocess.Popen[bytes]:
    """Start the command on a job."""
    return subprocess.Popen(
        [sys.executable, "-c", MAKE, "make", str(path), "--out", str(out)],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


def made_whole(path: Path, out: Path) -> tuple[dict[str, str], float]:
    """Make a job and return the hash of every file, and how long it took, s."""
    begin = time.perf_counter()
    assert started(path, out).wait() == 0
    return hashes(out), time.perf_counter() - begin


def hashes(out: Path) -> dict[str, str]:
    """Return the hash of every file that stands under its own name (no file of a writing)."""
    return {
        file.name: hashlib.sha256(file.read_bytes()).hexdigest()
        for file in sorted(out.iterdir())
        if not file.name.startswith(".")
    }


def edited(path: Path) -> None:
    """Change the job so that every one of its files comes out another."""
    text = path.read_text(encoding="utf-8")
    assert 'revision = "A"' in text
    path.write_text(
        text.replace('revision = "A"', 'revision = "B"').replace("width = 80", "width = 84"),
        encoding="utf-8",
    )


def killed(path: Path, out: Path, after_s: float) -> dict[str, str]:
    """Kill the command after a while and return what stands there."""
    worker = started(path, out)
    time.sleep(after_s)
    worker.send_signal(signal.SIGKILL)
    worker.wait()
    return hashes(out)


def check(found: dict[str, str], before: dict[str, str], after: dict[str, str]) -> str:
    """Assert that every file is whole; return "before", "after" or "between".

    Between is only what the renames leave, one after the other: each file whole, old or new.
    """
    assert set(found) == set(before)
    for name, digest in found.items():
        assert digest in (before[name], after[name]), f"{name} is neither old nor new"
    if found == before:
        return "before"
    return "after" if found == after else "between"


def record_reads(out: Path) -> bool:
    """Return whether the record is whole JSON."""
    return bool(json.loads((out / "record.json").read_text(encoding="utf-8"))["setups"])
