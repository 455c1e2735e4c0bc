"""The pipeline's own checks: webs, sheet and bed, and which way a failed check points."""

from __future__ import annotations

from pathlib import Path

import pytest

from jigs.finding import Severity
from jigs.job import read_job
from jigs.plan import plan

TEMPLATES = Path(__file__).parents[2] / "templates"


def planned(folder: Path, kind: str, *edits: tuple[str, str]):
    text = (TEMPLATES / kind / "job.toml").read_text(encoding="utf-8")
    for old, new in edits:
        assert old in text, old
        text = text.replace(old, new)
    (folder / "job.toml").write_text(text, encoding="utf-8")
    (folder / "shop.toml").write_bytes((TEMPLATES / "shop.toml").read_bytes())
    return plan(read_job(folder / "job.toml"))


def codes(worked) -> set[str]:
    return {f.code for f in worked.findings}


@pytest.mark.parametrize("kind", ["nest", "corner"])
def test_starter_jobs_are_good(tmp_path, kind):
    worked = planned(tmp_path, kind)
    assert worked.is_good
    assert {f.code for f in worked.findings if f.severity is not Severity.NOTE} == set()


def test_a_border_thinner_than_the_sheet_is_a_thin_web(tmp_path):
    worked = planned(
        tmp_path, "nest", ("clearance = 0.1", "notch = 0\nborder = 4\nclearance = 0.1")
    )
    (web,) = [f for f in worked.findings if f.code == "web-thin"]
    assert web.measured == pytest.approx(4.0, abs=1e-6)
    assert web.limit == pytest.approx(4.92)
    assert "4.92 mm" in web.message
    assert not worked.is_good


@pytest.mark.parametrize(
    ("width", "fits"), [(500, True), (551.0, True), (553.0, False)], ids=["easily", "just", "not"]
)
def test_the_beam_needs_its_kerf_round_the_plate(tmp_path, width, fits):
    worked = planned(
        tmp_path, "nest", ("width = 80", f"width = {width}"), ("at = [40, 25]", "at = [40, 25]")
    )
    assert ("plate-too-large" not in codes(worked)) is fits


def test_both_ways_of_nesting_the_same_part(tmp_path):
    floats = planned(tmp_path, "nest").setups[0]
    rests = planned(
        tmp_path, "nest", ("clearance = 0.1", 'contacts = "auto"\nclearance = 0.1')
    ).setups[0]
    assert floats.floating is not None
    assert floats.locating is None
    assert rests.floating is None
    assert rests.locating is not None
    assert rests.locating.determined
    assert len(rests.guide.contacts) == 3
    assert rests.critical[0].worst_mm < floats.critical[0].worst_mm


def test_features_tied_across_setups_count_both(tmp_path):
    tie = (
        '[[part.critical]]\nname = "edge slot"\nat = [60, 25]\ntolerance = 0.9\n'
        'pair = "centre bore"\n'
    )
    text = (TEMPLATES / "nest" / "job.toml").read_text(encoding="utf-8")
    head, _, setup = text.partition("[[setup]]")
    second = setup.replace('name = "op10"', 'name = "op20"')
    (tmp_path / "job.toml").write_text(
        head + tie + "[[setup]]" + setup + "[[setup]]" + second, encoding="utf-8"
    )
    (tmp_path / "shop.toml").write_bytes((TEMPLATES / "shop.toml").read_bytes())
    worked = plan(read_job(tmp_path / "job.toml"))
    (pair,) = worked.pairs
    slot = worked.setups[0].critical[1]
    bore = worked.setups[1].critical[0]
    assert pair.worst_mm == pytest.approx(
        max(slot.worst_x_mm + bore.worst_x_mm, slot.worst_y_mm + bore.worst_y_mm)
    )
    assert pair.tolerance_mm == 0.5


def test_a_tie_to_nothing_is_found(tmp_path):
    worked = planned(tmp_path, "nest", ("tolerance = 0.5", 'pair = "centre boar"\ntolerance = 0.5'))
    assert "pair-unknown" in codes(worked)


def test_contacts_keep_off_what_is_cut(tmp_path):
    """The lower edge is milled in this set-up: no pad may stand there."""
    cut = (
        '[[setup.cut]]\nname = "step"\nkind = "end mill"\ntool_diameter = 6\nflutes = 3\n'
        "feed_per_tooth = 0.03\ndepth = 1\nwidth = 3\nspeed = 6000\nz = [0, 8]\n"
        "path = [[-10, 0], [100, 0]]\n"
    )
    text = (TEMPLATES / "nest" / "job.toml").read_text(encoding="utf-8")
    text = text.replace("clearance = 0.1", 'contacts = "auto"\nclearance = 0.4')
    (tmp_path / "shop.toml").write_bytes((TEMPLATES / "shop.toml").read_bytes())
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    free = plan(read_job(tmp_path / "job.toml")).setups[0]
    (tmp_path / "job.toml").write_text(text + cut, encoding="utf-8")
    kept = plan(read_job(tmp_path / "job.toml")).setups[0]
    assert any(c.at.y < 3 for c in free.guide.contacts)
    assert all(c.at.y > 2.9 for c in kept.guide.contacts)
    assert len(kept.guide.contacts) == 3
