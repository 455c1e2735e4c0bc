"""500 random parts with bores: a plate that obeys its table, or a refusal with a name.

Source: the table's own law (holes where the bores are, pins that enter them, tape under
material), measured on the record.
"""

from __future__ import annotations

from collections import Counter

import pytest
from bored_parts import check_random


@pytest.mark.parametrize("hundred", range(5))
def test_random_parts_with_bores(tmp_path, hundred):
    came = Counter(check_random(tmp_path, 100 * hundred + i) for i in range(100))
    made = sum(n for said, n in came.items() if "/" in said)
    assert made >= 40, came
    assert len(came) >= 4, came
