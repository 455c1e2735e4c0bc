"""Thousands of damaged DXF files: no traceback, none over 10 s, memory below 1 GiB.

One more process per thousand files, so that a leak or a crash of a library shows as such. The
number of files is taken from the environment variable RUNS (default 20,000).
"""

from __future__ import annotations

import os
import random
import resource
import subprocess
import sys
import time
from pathlib import Path

import pytest

RUNS = int(os.environ.get("RUNS", "20000"))
BATCH = 1000
LONGEST_S = 10.0
MOST_BYTES = 2**30


def read_batch(first: int, folder: Path) -> None:
    """Read one batch of damaged files; raises at the first that ends badly."""
    import mutated_dxf

    from kerf.errors import KerfError
    from kerf.reading import survey_drawing

    starts = mutated_dxf.seeds()
    corpus = Path(__file__).parents[2] / ".." / "shared" / "corpus" / "dxf"
    starts += [p.read_bytes() for p in sorted(corpus.glob("*.dxf")) if p.stat().st_size < 100_000]
    path = folder / "part.dxf"
    for seed in range(first, first + BATCH):
        rng = random.Random(seed)
        path.write_bytes(mutated_dxf.mutated(rng.choice(starts), rng))
        began = time.process_time()
        try:
            survey_drawing(path, unit="mm", hatches=seed % 2 == 0)
        except KerfError as fault:
            fault.describe().encode("utf-8")
        except BaseException as fault:
            raise AssertionError(f"seed {seed}") from fault
        took = time.process_time() - began
        assert took < LONGEST_S, f"seed {seed} took {took:.1f} s"


@pytest.mark.parametrize("first", range(0, RUNS, BATCH))
def test_batch(first: int, tmp_path: Path) -> None:
    ran = subprocess.run(
        [sys.executable, "-W", "ignore", __file__, str(first), str(tmp_path)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr[-3000:]


if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1] / "kerf"))
    resource.setrlimit(resource.RLIMIT_AS, (4 * MOST_BYTES, 4 * MOST_BYTES))
    read_batch(int(sys.argv[1]), Path(sys.argv[2]))
    used = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    assert used < MOST_BYTES, f"{used / 2**20:.0f} MiB"
