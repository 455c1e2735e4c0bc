"""Time and cost of a guide: figures from the shop file, and what is named when they lack."""

from __future__ import annotations

from pathlib import Path

import pytest

from jigs.burning import burning, burning_text, duration, sheet_share
from jigs.job import read_job
from jigs.plan import plan
from jigs.shop import Sheet
from kerf.contour import Contour, Region

TEMPLATES = Path(__file__).parents[2] / "templates"


def test_the_share_of_a_sheet_is_worked_by_hand() -> None:
    """100 × 50 mm, gap 5: 5000 + 300 · 2.5 = 5750 of 600 × 400 mm²."""
    sheet = Sheet(
        name="s", material="m", thickness_mm=5, thickness_u_mm=0, size_mm=(600, 400), gap_mm=5
    )
    region = Region(outer=Contour.rectangle(0, 0, 100, 50))
    assert sheet_share(region, sheet) == pytest.approx(5750 / 240000)


def worked(tmp_path: Path, shop_extra: str, card_extra: str):
    """Return the plan of the corner starter on a shop that says more."""
    (tmp_path / "job.toml").write_text((TEMPLATES / "corner" / "job.toml").read_text())
    shop = (TEMPLATES / "shop.toml").read_text()
    bed, measured = "bed = [600, 400]\n", 'measured_by = ""\n'
    assert bed in shop
    assert measured in shop
    shop = shop.replace(bed, bed + shop_extra).replace(measured, measured + card_extra)
    (tmp_path / "shop.toml").write_text(shop)
    return plan(read_job(tmp_path / "job.toml"))


def test_cost_is_laser_and_sheet(tmp_path: Path) -> None:
    """Rate 36 an hour is 0.01 a second; the sheet costs 18."""
    done = worked(
        tmp_path,
        "travel_speed = 200\nengrave_speed = 100\nacceleration = 1000\nrate = 36\n",
        "cut_speed = 10\npierce = 0.5\n",
    )
    burnt = burning(done.setups[0], done.job.shop)
    assert burnt.time_s is not None
    assert burnt.time is not None
    assert burnt.time.pierce_s == 0.5 * sum(len(c.paths) for c in done.setups[0].cuts)
    assert burnt.cost == pytest.approx(0.01 * burnt.time_s + 18.0 * burnt.sheet_share)
    assert burnt.missing == ()


def test_what_the_shop_did_not_say_is_named_and_not_guessed(tmp_path: Path) -> None:
    """No speeds, no rate: no time and no cost, and the sheet's share all the same."""
    done = worked(tmp_path, "", "")
    burnt = burning(done.setups[0], done.job.shop)
    assert burnt.time_s is None
    assert burnt.cost is None
    text = burning_text("op10", burnt)
    assert "not given: cut_speed on a card of laser" in text
    assert "rate of laser" in text
    assert "% of a sheet" in text


def test_durations_read_as_a_person_says_them() -> None:
    """Whole seconds."""
    assert [duration(s) for s in (0.4, 59.6, 125.0)] == ["0 s", "1 min 0 s", "2 min 5 s"]
