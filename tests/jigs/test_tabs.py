"""Tabs hold a plate in its sheet, off every edge that locates, and the proof sees past them."""

from __future__ import annotations

import io
import itertools
import math

import ezdxf
import pytest
from test_plan import planned

from jigs.outputs import output_files
from kerf.errors import GeometryError


def outside_runs(files: dict[str, bytes]) -> list[list[tuple[float, float]]]:
    doc = ezdxf.read(io.StringIO(files["op10.dxf"].decode()))
    return [
        [tuple(p[:2]) for p in e.get_points("xyb")]
        for e in doc.modelspace()
        if e.dxf.layer == "OUTSIDE"
    ]


@pytest.mark.parametrize("count", [1, 3])
def test_tabs_part_the_outside_cut_off_the_faces(tmp_path, count):
    worked = planned(tmp_path, "nest", ("clearance = 0.1", f"tabs = {count}\nclearance = 0.1"))
    proven, files = output_files(worked)
    assert proven.setups[0].proofs[0].is_proven
    runs = outside_runs(files)
    assert len(runs) == count + 1
    for run, after in itertools.pairwise(runs):
        (x, y), (x2, y2) = run[-1], after[0]
        assert math.hypot(x - x2, y - y2) == pytest.approx(0.6, abs=1e-6)
        for face in worked.setups[0].guide.faces:
            across = (x - face.start.x) * face.normal.x + (y - face.start.y) * face.normal.y
            assert abs(across) > 1.0


def test_more_tabs_than_there_is_room_for_are_refused(tmp_path):
    with pytest.raises(GeometryError, match="no room for tab"):
        planned(tmp_path, "nest", ("clearance = 0.1", "tabs = 500\nclearance = 0.1"))
