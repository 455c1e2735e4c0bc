"""Where a guide's cuts begin, and in which order they are burnt."""

from __future__ import annotations

from pathlib import Path

import pytest

from jigs.cut_files import finished_size_plan, locating_stretches
from jigs.job import read_job
from jigs.plan import PlannedSetup, plan
from kerf.beam import Operation
from kerf.tolerance import SEAM_CLEAR_MM
from kerf.writing.statement import statement

TEMPLATES = Path(__file__).parents[2] / "templates"


@pytest.fixture(scope="module", params=["corner", "nest"])
def planned(request, tmp_path_factory) -> PlannedSetup:
    """The starter job of a kind, worked out."""
    folder = tmp_path_factory.mktemp(request.param)
    for source in (TEMPLATES / request.param / "job.toml", TEMPLATES / "shop.toml"):
        (folder / source.name).write_bytes(source.read_bytes())
    return plan(read_job(folder / "job.toml")).setups[0]


def test_every_cut_is_pierced_in_scrap(planned: PlannedSetup) -> None:
    """The pierce stands off the plate by at least the way in and half a kerf, roundly."""
    for plate, cut in zip(planned.guide.plates, planned.cuts, strict=True):
        for path in cut.paths:
            (pierce,) = path.lead_in
            assert plate.region.distance_mm(*pierce) > 0.4


def test_no_cut_begins_on_what_locates(planned: PlannedSetup) -> None:
    """Seams keep off faces and contacts, and off the wall of a pocket as far as it lets them."""
    for plate, cut in zip(planned.guide.plates, planned.cuts, strict=True):
        stretches = locating_stretches(planned.guide, plate, planned.part.region)
        assert stretches
        for path in cut.paths:
            seam = path.contour.vertices[0]
            nearest = min(s.distance_mm(seam.x, seam.y) for s in stretches)
            on_a_face = path.operation is Operation.OUTSIDE and len(planned.guide.faces) > 0
            # An outline of faces on two sides has a far corner; a pocket has its reliefs.
            assert nearest >= (SEAM_CLEAR_MM if on_a_face else 0.5), (path.operation, nearest)


def test_marks_then_cut_outs_then_the_outline(planned: PlannedSetup) -> None:
    """In the order they stand in the plan."""
    for cut in planned.cuts:
        operations = [path.operation for path in cut.paths]
        assert operations[-1] is Operation.OUTSIDE
        assert set(operations[:-1]) <= {Operation.INSIDE}


def test_the_finished_size_says_that_the_kerf_is_not_in_it(planned: PlannedSetup) -> None:
    """Lines on the plate's own edges, and the statement."""
    (plate,) = planned.guide.plates
    left = finished_size_plan(plate)
    assert {p.contour for p in left.paths} == set(plate.region.loops())
    assert "KERF NOT APPLIED" in statement(left)
    assert "set the kerf in the laser's software" in statement(left)
    assert left.kerf is None
