"""Temperature in the error budget.

Source: coefficients of PMMA 70–80 and aluminium 23.6 µm/(m·K), makers' datasheets: 200 mm over
10 K differ by about 0.105 mm.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from jigs.job import read_job
from jigs.locating.contacts import Contact, ContactKind
from jigs.plan import plan
from jigs.warmth import growth_per_unit, warmed_contacts
from kerf.contour import Point, Vector
from kerf.errors import InputErrors

TEMPLATES = Path(__file__).parents[2] / "templates"


def planned(folder: Path, kind: str, change: str):
    text = (TEMPLATES / kind / "job.toml").read_text(encoding="utf-8")
    (folder / "job.toml").write_text(
        text.replace("work_offset", f"{change}\nwork_offset"), encoding="utf-8"
    )
    (folder / "shop.toml").write_bytes((TEMPLATES / "shop.toml").read_bytes())
    return plan(read_job(folder / "job.toml")).setups[0]


def test_the_difference_of_two_growths_moves_a_contact():
    plastic = growth_per_unit("cast acrylic", change_k=10)
    metal = growth_per_unit("6061-T6", change_k=10)
    wall = Contact(
        name="C1", at=Point(200, 0), normal=Vector(-1, 0), kind=ContactKind.WALL, on="pad"
    )
    (warm,) = warmed_contacts((wall,), corner=Point(0, 0), guide_growth=plastic, part_growth=metal)
    assert warm.sources[-1].limit_mm == pytest.approx(0.105, abs=0.009)
    assert warm.sources[-1].sign == -1


@pytest.mark.parametrize("kind", ["nest", "corner"])
def test_the_budget_carries_it_in_proportion(tmp_path, kind):
    cold = planned(tmp_path, kind, "").critical[0]
    warm = planned(tmp_path, kind, "temperature_change = 5").critical[0]
    warmer = planned(tmp_path, kind, "temperature_change = 10").critical[0]
    assert warm.worst_x_mm > cold.worst_x_mm
    assert warmer.worst_x_mm - cold.worst_x_mm == pytest.approx(
        2 * (warm.worst_x_mm - cold.worst_x_mm), rel=1e-6
    )
    assert "temperature" in dict(warm.shares)
    assert "temperature" not in dict(cold.shares)


def test_a_material_nobody_knows_is_said_so(tmp_path):
    (tmp_path / "shop.toml").write_bytes((TEMPLATES / "shop.toml").read_bytes())
    text = (TEMPLATES / "nest" / "job.toml").read_text(encoding="utf-8")
    (tmp_path / "job.toml").write_text(
        text.replace("6061-T6", "unobtainium").replace(
            "work_offset", "temperature_change = 5\nwork_offset"
        ),
        encoding="utf-8",
    )
    worked = plan(read_job(tmp_path / "job.toml"))
    assert "growth-unknown" in {f.code for f in worked.findings}


@pytest.mark.parametrize(
    ("measured", "used", "apart", "word"),
    [
        ("", 28, 8, "longer"),
        ("temperature = 23", 28, 5, "longer"),
        ("temperature = 30", 28, 2, "shorter"),
    ],
)
def test_another_temperature_at_the_machine_counts_as_its_difference(
    tmp_path, measured, used, apart, word
):
    """Source: ISO 1, 20 °C; PMMA 70–80 µm/(m·K) over the plate's 128.2 mm."""
    alike = planned(tmp_path, "nest", f"temperature_change = {apart}").critical[0]
    shop = (TEMPLATES / "shop.toml").read_text(encoding="utf-8")
    (tmp_path / "shop.toml").write_text(shop.replace("kerf = 0.24", f"kerf = 0.24\n{measured}"))
    text = (tmp_path / "job.toml").read_text(encoding="utf-8")
    (tmp_path / "job.toml").write_text(
        text.replace(f"temperature_change = {apart}", f"used_at = {used}"), encoding="utf-8"
    )
    setup = plan(read_job(tmp_path / "job.toml")).setups[0]
    assert setup.critical[0].worst_x_mm == pytest.approx(alike.worst_x_mm)
    (found,) = (f for f in setup.findings if f.code == "used-at")
    assert word in found.message
    assert ("assumed" in found.message) is (measured == "")
    assert 70e-6 * 128.2 * apart - 1e-4 <= found.measured <= 80e-6 * 128.2 * apart + 1e-4


def test_a_temperature_out_of_the_question_is_refused(tmp_path):
    with pytest.raises(InputErrors, match="used_at"):
        planned(tmp_path, "nest", "used_at = 350")
