"""The [part] table's ways of looking at somebody else's file."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
import step_solids as make

from jigs.job import Job, read_job
from kerf.errors import KerfError

TEMPLATE = Path(__file__).parents[2] / "templates" / "tide-lever"
#: A plate 40 × 30 × 6 with a boss of Ø16 on it.
TOWER = make.fused(make.box((40, 30, 6)), make.cylinder(8, 19, (20, 15, 1)))


def job_with(folder: Path, profile: str, more: str) -> Job:
    """Return the template's job with another profile."""
    text = (TEMPLATE / "job.toml").read_text(encoding="utf-8")
    text = text.replace('profile = "tide-lever.dxf"', f'profile = "{profile}"\n{more}')
    (folder / "job.toml").write_text(text, encoding="utf-8")
    (folder / "shop.toml").write_bytes((TEMPLATE / "shop.toml").read_bytes())
    return read_job(folder / "job.toml")


def test_section_of_a_step_profile(tmp_path: Path) -> None:
    make.write(tmp_path / "tower.step", [TOWER])
    job = job_with(tmp_path, "tower.step", 'section = 10\naxis = "+Z"\nsolid = 1')
    assert job.part.region.area_mm2 == pytest.approx(64 * math.pi)


def test_pixels_of_an_svg_profile(tmp_path: Path) -> None:
    """Source: CSS: 96 pixels to the inch."""
    svg = '<svg xmlns="http://www.w3.org/2000/svg"><rect width="96" height="192"/></svg>'
    (tmp_path / "part.svg").write_text(svg, encoding="utf-8")
    job = job_with(tmp_path, "part.svg", 'units = "px"')
    assert job.part.region.bounds().height == pytest.approx(50.8)


def test_senseless_axis_is_a_fault_of_the_job(tmp_path: Path) -> None:
    with pytest.raises(KerfError) as caught:
        job_with(tmp_path, "tower.step", 'axis = "up"')
    assert "part.axis" in caught.value.describe()
