"""Damaged drawings by the ten thousand: no traceback, no run over 10 s, under 1 GiB.

Small drawings of our own are damaged at random; each must be read or refused with one message.
SVG and DXF run in this process under a timer; STEP runs through its own guarded process and
is tried a hundredth as often. Failing bytes are kept in the temporary folder so that they can
become a test. By hand, for any number of runs:

    python tests/stress/test_fuzz_reading.py --runs 5000 --seed 7 --kind svg dxf
"""

from __future__ import annotations

import argparse
import random
import resource
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "kerf"))

from damage import SVG, damaged, dxf

from kerf.errors import KerfError
from kerf.reading.any import survey_drawing

#: No run may take longer, seconds, nor the whole process more memory, bytes.
LONGEST_S = 10
MOST_BYTES = 2**30
#: Slices the lane is cut into, so that they can run side by side, and runs in each.
SLICES, RUNS = 20, 5_000


class Hung(BaseException):
    """A run took too long; not an Exception, so that no reader can swallow it."""


def ring(_signal: int, _frame: object) -> None:
    """Stop a run that hangs."""
    raise Hung


def start_of(kind: str, folder: Path) -> bytes:
    """Return the sound drawing that is to be damaged."""
    if kind == "svg":
        return SVG
    if kind == "dxf":
        return dxf()
    import step_solids

    return step_solids.write(folder / "plate.step", [step_solids.plate()]).read_bytes()


def outcome_of(path: Path) -> str:
    """Return "read", "refused", or what went wrong.

    Time is this process's own, so that a busy machine does not look like a hang; a STEP file is
    read by another process, which has its own bounds.
    """
    signal.signal(signal.SIGPROF, ring)
    signal.setitimer(signal.ITIMER_PROF, LONGEST_S)
    try:
        drawing = survey_drawing(path)
        good = all(region.area_mm2 > 0 for region in drawing.regions)
        return "read" if good else "an area is not above zero"
    except KerfError as fault:
        return "refused" if fault.describe().strip() else "said nothing"
    except Hung:
        return f"ran over {LONGEST_S} s"
    except Exception as fault:
        traceback.print_exc(limit=-3)
        return f"{type(fault).__name__}: {fault}"
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)


def lane(kinds: list[str], runs: int, seed: int, seconds: float) -> tuple[list[str], str]:
    """Return what broke and a report of the runs."""
    counts: Counter[str] = Counter()
    broken: list[str] = []
    slowest = (0.0, "")
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        starts = {kind: start_of(kind, folder) for kind in kinds}
        for run in range(runs):
            if time.monotonic() - began > seconds or len(broken) >= 20:
                break
            kind = kinds[run % len(kinds)]
            number = seed * 1_000_003 + run
            path = folder / f"damaged.{kind}"
            path.write_bytes(damaged(random.Random(number), starts[kind]))
            start = time.process_time()
            outcome = outcome_of(path)
            slowest = max(slowest, (time.process_time() - start, f"{kind} seed {number}"))
            counts[f"{kind} {outcome if outcome in ('read', 'refused') else 'broken'}"] += 1
            if outcome not in ("read", "refused"):
                kept = Path(tempfile.gettempdir()) / f"broken-{number}.{kind}"
                kept.write_bytes(path.read_bytes())
                broken.append(f"{kept.name}: {outcome}")
                print(broken[-1], flush=True)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    if peak > MOST_BYTES:
        broken.append(f"peak memory {peak / 2**20:.0f} MiB")
    report = (
        f"{sum(counts.values())} runs in {time.monotonic() - began:.0f} s: "
        f"{dict(sorted(counts.items()))}; slowest {slowest[0]:.2f} s ({slowest[1]}); "
        f"peak memory {peak / 2**20:.0f} MiB"
    )
    return broken, report


@pytest.mark.parametrize("part", range(SLICES))
def test_damaged_drawings(part: int) -> None:
    broken, report = lane(["svg", "dxf"], RUNS, part, float("inf"))
    assert not broken, report


def test_damaged_solids() -> None:
    broken, report = lane(["step"], SLICES * RUNS // 100, 0, float("inf"))
    assert not broken, report


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=SLICES * RUNS)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=float("inf"), help="stop after so long")
    parser.add_argument("--kind", nargs="+", default=["svg", "dxf"])
    options = parser.parse_args()
    found, said = lane(options.kind, options.runs, options.seed, options.seconds)
    print(said)
    sys.exit(1 if found else 0)
