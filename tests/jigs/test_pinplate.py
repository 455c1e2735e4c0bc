"""Pin plates of random parts: a slice of the long lane in ``tests/stress``."""

from __future__ import annotations

import pytest
from bored_parts import check_random


@pytest.mark.parametrize("seed", range(12))
def test_a_random_part_gets_a_plate_or_a_named_refusal(tmp_path, seed):
    assert check_random(tmp_path, 1000 + seed)
