"""500 random parts in stacks and 500 in several pockets: a guide that holds, or a named refusal.

Source: the clearance law, rigid motion about two dowels, web as wide as the sheet is thick (laser
services' design rules); distances by shapely.
"""

from __future__ import annotations

from collections import Counter

import pytest
from stacked_parts import check_copies, check_stack

BLOCKS = 10


@pytest.mark.parametrize("block", range(BLOCKS))
def test_five_hundred_stacks(block: int) -> None:
    came = Counter(check_stack(seed) for seed in range(block, 500, BLOCKS))
    assert came["made"] > 10


@pytest.mark.parametrize("block", range(BLOCKS))
def test_five_hundred_rows_of_pockets(block: int) -> None:
    came = Counter(check_copies(seed) for seed in range(block, 500, BLOCKS))
    assert came["made"] > 10
