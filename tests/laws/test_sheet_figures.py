"""A slice of the random jobs' sheets; 210 of them run in the stress lane."""

from __future__ import annotations

import itertools

import pytest
from random_jobs import KINDS
from sheet_figures import faults, made


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_overlaps_on_a_random_jobs_sheet(kind: str) -> None:
    jobs = (worked for seed in itertools.count(900) if (worked := made(kind, seed)) is not None)
    for worked in itertools.islice(jobs, 2):
        assert faults(worked) == []
