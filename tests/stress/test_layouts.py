"""A thousand random layouts: no overlap, no gap under the limit, nothing over the edge."""

from __future__ import annotations

import random
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "kerf"))
import layouts

from kerf.stock import laid_out


@pytest.mark.parametrize("block", range(20))
def test_random_layouts_keep_every_gap(block: int) -> None:
    """Measured by shapely from the pieces, not from what the layout was made with."""
    for seed in range(1000 + 50 * block, 1050 + 50 * block):
        dice = random.Random(seed)
        pieces = layouts.random_pieces(dice)
        gap, margin = dice.choice([0.3, 1.0, 2.5, 5.0]), dice.choice([0.0, 2.0, 5.0])
        effort = 3 * 10**7 if seed % 5 == 0 else 0
        for laid in laid_out(
            pieces, sheet=layouts.SHEET, gap_mm=gap, margin_mm=margin, effort=effort
        ):
            assert layouts.faults(laid, pieces, gap, margin) == [], seed
