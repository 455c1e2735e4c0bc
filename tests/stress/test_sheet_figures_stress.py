"""210 random jobs of every kind: on no figure of a sheet does text meet text or a line, and
nothing is engraved within 1 mm of a cut."""

from __future__ import annotations

import pytest
from random_jobs import KINDS
from sheet_figures import faults, made

JOBS = 30
BLOCK = 10


@pytest.mark.parametrize("first", range(0, JOBS, BLOCK))
@pytest.mark.parametrize("kind", KINDS)
def test_nothing_overlaps_on_a_random_jobs_sheet(kind: str, first: int) -> None:
    seen, number = 0, first * 10
    wrong = []
    # As many jobs as asked that are made, however many are refused.
    while seen < BLOCK:
        worked = made(kind, number)
        if worked is not None:
            seen += 1
            wrong += [f"{kind}, seed {number}: {fault}" for fault in faults(worked)]
        number += 1
        assert number < first * 10 + 100
    assert wrong == []
