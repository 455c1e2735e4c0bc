"""What the virtual cut of every file adds to making the demo, in one warm process.

The plan is worked out once; the outputs are made with and without the proof, in turn. Each the
least of several runs, in processor time, so that a busy machine does not count.
Limit: 0.3 s.
"""

from __future__ import annotations

import time
from pathlib import Path

from jigs.job import read_job
from jigs.outputs import output_files
from jigs.plan import Plan, plan

ROOT = Path(__file__).parents[2]
RUNS = 5
MOST_S = 0.3


def taken_s(made: Plan, *, with_proof: bool) -> float:
    """Return the processor time to make the outputs, s."""
    start = time.process_time()
    output_files(made, with_proof=with_proof)
    return time.process_time() - start


def main() -> None:
    """Print both times, their difference and its limit."""
    made = plan(read_job(ROOT / "templates" / "tide-lever" / "job.toml"))
    taken_s(made, with_proof=True)
    with_s, without_s = (
        min(times)
        for times in zip(
            *(
                (taken_s(made, with_proof=True), taken_s(made, with_proof=False))
                for _ in range(RUNS)
            ),
            strict=True,
        )
    )
    plates = sum(len(planned.guide.plates) for planned in made.setups)
    print(f"virtual cut of the demo's {plates} plates: least of {RUNS} runs")
    print(
        f"  outputs with it {with_s:.3f} s, without {without_s:.3f} s, "
        f"adds {with_s - without_s:.3f} s (most {MOST_S} s), ratio {with_s / without_s:.2f}"
    )


if __name__ == "__main__":
    main()
