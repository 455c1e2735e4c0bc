"""A seeded slice of the random filleted regions; the long lane runs ten thousand of them."""

from __future__ import annotations

import pytest
from filleted import distances, region, stands_at

from kerf.offset import offset


@pytest.mark.parametrize("first", range(0, 60, 15))
def test_random_filleted_regions(first) -> None:
    """Every result stands at its distance, measured edge by edge by another path."""
    for seed in range(first, first + 15):
        source = region(seed)
        for d in distances(seed):
            assert stands_at(source, d, offset(source, d)), (seed, d)


@pytest.mark.parametrize(("seed", "d"), [(488, -4.0), (1256, -4.0), (1312, -6.0)])
def test_necks_of_no_width_part(seed, d) -> None:
    """Three seeds whose necks close exactly: the pieces part where they touch."""
    source = region(seed)
    result = offset(source, d)
    assert len(result.regions) > 1
    assert stands_at(source, d, result)
