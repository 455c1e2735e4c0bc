"""STEP reading of real solids; they stand beside the repository and are skipped when absent.

Source: sizes by the exporting program, in inches in the files; the same solid in two protocols.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from kerf.reading.step import StepView, ViewKind, survey_step

BASE = "step/mikedh__trimesh__base_interface_{}.STEP"


def test_same_solid_reads_alike_in_two_protocols(corpus: Path) -> None:
    view = StepView(kind=ViewKind.SECTION, at_mm=0.0)
    one, two = (survey_step(corpus / BASE.format(ap), view=view) for ap in ("AP203", "AP214"))
    (first,), (second,) = one.regions, two.regions
    assert (one.unit, two.unit) == ("inch", "inch")
    assert len(first.holes) == len(second.holes) == 5
    assert first.area_mm2 == pytest.approx(second.area_mm2, rel=1e-9)
    # A plate 23.599 × 25.145 in; its drilled holes are Ø0.26 in as the file's cylinders say.
    assert first.bounds().width == pytest.approx(599.4124, abs=1e-3)
    small = min(first.holes, key=lambda hole: hole.area_mm2)
    assert next(small.edges()).radius_mm == pytest.approx(0.13 * 25.4, abs=1e-6)


def test_outline_of_a_plate_is_its_section(corpus: Path) -> None:
    path = corpus / BASE.format("AP203")
    outline = survey_step(path, view=StepView())
    section = survey_step(path, view=StepView(kind=ViewKind.SECTION, at_mm=0.0))
    assert outline.regions[0].area_mm2 == pytest.approx(section.regions[0].area_mm2, rel=1e-9)


@pytest.mark.parametrize(
    ("axis", "width", "height"), [("+Z", 5.0, 2.5), ("-Y", 5.0, 1.375), ("+X", 2.5, 1.375)]
)
def test_views_of_a_machined_block(corpus: Path, axis: str, width: float, height: float) -> None:
    """Source: the block's envelope is 5 × 2.5 × 1.375 in (its points in the file)."""
    drawing = survey_step(
        corpus / "step/mikedh__trimesh__featuretype.STEP", view=StepView(axis=axis)
    )
    assert not drawing.faults
    box = drawing.regions[0].bounds()
    assert (box.width / 25.4, box.height / 25.4) == pytest.approx((width, height), abs=1e-6)
