"""A seeded slice of the random jobs; the whole of them runs in the stress lane."""

from __future__ import annotations

import pytest
from random_jobs import KINDS, check, run

from jigs.guides import kinds


def test_every_kind_is_drawn():
    assert set(KINDS) == set(kinds.KINDS)


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("kind", KINDS)
def test_a_random_job_makes_a_guide_or_says_why_not(tmp_path, kind, seed):
    check(run(kind, seed, tmp_path))
