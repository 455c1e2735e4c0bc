"""500 random jobs for every guide kind: a guide, or a finding or refusal that says why not."""

from __future__ import annotations

import pytest
from random_jobs import KINDS, check, run

JOBS = 500
BATCH = 50


@pytest.mark.parametrize("first", range(0, JOBS, BATCH))
@pytest.mark.parametrize("kind", KINDS)
def test_random_jobs(tmp_path, kind, first):
    made = 0
    for seed in range(first, first + BATCH):
        try:
            outcome = run(kind, seed, tmp_path)
            check(outcome)
        except Exception as fault:
            raise AssertionError(f"{kind}, seed {seed}: {fault!r}") from fault
        made += outcome.plan is not None
    assert made > 0
