"""``jigs make`` killed at 60 random moments, most of them near the end, where it writes."""

from __future__ import annotations

import random
import shutil
from collections import Counter
from pathlib import Path

from killed_make import check, edited, job, killed, made_whole, record_reads

KILLS = 60


def test_kills_at_random_moments(tmp_path: Path) -> None:
    path, first = job(tmp_path), tmp_path / "first"
    before, _ = made_whole(path, first)
    edited(path)
    after, took_s = made_whole(path, tmp_path / "other")
    rng, ends = random.Random(4), Counter()
    for number in range(KILLS):
        out = tmp_path / str(number)
        shutil.copytree(first, out)
        share = rng.uniform(0.0, 1.0) if number % 3 == 0 else rng.uniform(0.85, 1.1)
        ends[check(killed(path, out, share * took_s), before, after)] += 1
        assert record_reads(out)
        shutil.rmtree(out)
    # Both ends were seen, or the kills proved nothing.
    assert ends["before"]
    assert ends["after"] + ends["between"]
