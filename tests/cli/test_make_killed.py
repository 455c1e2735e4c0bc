"""A killed ``jigs make`` leaves the set before or the set after; the stress lane kills it often."""

from __future__ import annotations

from pathlib import Path

import pytest
from killed_make import check, edited, hashes, job, killed, made_whole, record_reads


@pytest.mark.parametrize("share", [0.97])
def test_a_killed_make_leaves_a_whole_set(tmp_path: Path, share: float) -> None:
    path, out = job(tmp_path), tmp_path / "out"
    before, _ = made_whole(path, out)
    edited(path)
    after, took_s = made_whole(path, tmp_path / "other")
    # The engraved revision and the wider pocket change every file.
    assert all(before[name] != after[name] for name in before)
    check(killed(path, out, share * took_s), before, after)
    assert record_reads(out)
    # Whatever was left behind does not stand in the way of the next run.
    assert made_whole(path, out)[0] == after
    assert hashes(out) == after
