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
    call = "import sys; from jigs.cli.app import main; main()"
    with tempfile.TemporaryDirectory() as folder:
        typer = least_s("-c", "import typer")
        usage = least_s("-c", call, "--help")
        libraries = least_s("-c", "import numpy, shapely, ezdxf, typst")
        demo = least_s("-c", call, "make", "templates/tide-lever/job.toml", "--out", folder)
    print("command line: least of", RUNS, "runs")
    print(f"  import typer                         {typer:.3f} s")
    print(
        f"  jigs --help                          {usage:.3f} s   ratio {usage / typer:.2f}, limit 1.5"
    )
    print(f"  import numpy, shapely, ezdxf, typst  {libraries:.3f} s")
    print(
        f"  jigs make, demo                      {demo:.3f} s   ratio {demo / libraries:.2f}, limit 3"
    )


if __name__ == "__main__":
    main()
