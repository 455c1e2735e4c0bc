"""Ten thousand random filleted regions with holes, five distances each: none wrong, none unproven.

Each result is measured against exact distances; every tenth is set against the kernel as well.
Two thousand more are rounded first, as drawings write them.
Run by ``make stress``.
"""

from __future__ import annotations

import pytest
from filleted import as_written, distances, region, stands_at
from kernel_offset import Verdict, kernel_verdict

from kerf.offset import offset

SEEDS, BLOCK = 10_000, 100
#: Regions written with each count of decimals, and the counts.
WRITTEN, DECIMALS = 400, (3, 4, 6, 9, 12)


@pytest.mark.parametrize("first", range(0, SEEDS, BLOCK))
def test_block(first) -> None:
    wrong = []
    for seed in range(first, first + BLOCK):
        source = region(seed)
        for d in distances(seed):
            result = offset(source, d)
            if not stands_at(source, d, result):
                wrong.append((seed, d))
    assert not wrong


@pytest.mark.parametrize("first", range(0, SEEDS, 10 * BLOCK))
def test_block_against_the_kernel(first) -> None:
    wrong = []
    for seed in range(first, first + BLOCK):
        source = region(seed)
        for d in distances(seed):
            if kernel_verdict(source, d, offset(source, d)) is Verdict.OURS_WRONG:
                wrong.append((seed, d))
    assert not wrong


@pytest.mark.parametrize("first", range(0, WRITTEN, BLOCK))
@pytest.mark.parametrize("decimals", DECIMALS)
def test_block_as_written(decimals, first) -> None:
    wrong = []
    for seed in range(first, first + BLOCK):
        source = as_written(region(seed), seed, decimals)
        for d in distances(seed):
            if not stands_at(source, d, offset(source, d)):
                wrong.append((seed, d))
    assert not wrong
