"""How long the command line takes, as ratios to what it cannot avoid, in one run.

`jigs --help` against importing typer; `jigs make` on the demo, cold, against importing
numpy, shapely, ezdxf and typst together. Each the least of several runs of a fresh process.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
RUNS = 7


def least_s(*arguments: str) -> float:
    """Return the least wall time of a fresh python process, s."""
    best = float("inf")
    for _ in range(RUNS):
        start = time.perf_counter()
        subprocess.run([sys.executable, *arguments], capture_output=True, check=True, cwd=ROOT)
        best = min(best, time.perf_counter() - start)
    return best


def main() -> None:
    """Print the two ratios and their limits."""
    call = "import sys; from jigs.cli.entry import main; main()"
    with tempfile.TemporaryDirectory() as folder:
        typer = least_s("-c", "import typer")
        usage = least_s("-c", call, "--help")
        libraries = least_s("-c", "import numpy, shapely, ezdxf, typst")
        demo = least_s("-c", call, "make", "templates/tide-lever/job.toml", "--out", folder)
    print(f"command line: least of {RUNS} runs")
    for name, taken, base, most in (
        ("jigs --help against typer", usage, typer, 1.5),
        ("jigs make, demo, against libraries", demo, libraries, 3.0),
    ):
        print(f"  {name:<36} {taken:.3f} s / {base:.3f} s = {taken / base:.2f} (most {most})")


if __name__ == "__main__":
    main()
