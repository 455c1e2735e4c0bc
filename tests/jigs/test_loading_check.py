"""Wrong ways into a guide, as the pipeline tells them."""

from __future__ import annotations

import math

import pytest
from test_plan import codes, planned

#: Outlines by their symmetry: (shape, wrong ways that fit unflipped, told as either face up).
SHAPES = {
    "lopsided": (
        '{ kind = "points", points = [[0,0,3],[80,0,3],[80,20,3],[30,50,3],[0,50,3]] }',
        0,
    ),
    "rectangle": ('{ kind = "rounded rectangle", width = 80, height = 50, radius = 8 }', 0),
}


@pytest.mark.parametrize("name", SHAPES)
def test_a_part_that_covers_itself_is_no_wrong_way(tmp_path, name):
    shape, fitting = SHAPES[name]
    worked = planned(
        tmp_path,
        "nest",
        ('{ kind = "rounded rectangle", width = 80, height = 50, radius = 8 }', shape),
    )
    ways = [w for w in worked.setups[0].loading.ways if w.fits and not w.flipped]
    assert len(ways) == fitting
    assert "loads-wrong" not in codes(worked)


def test_a_hole_off_centre_makes_the_half_turn_a_wrong_way(tmp_path):
    (tmp_path / "part.dxf").write_bytes(_plate_with_a_hole())
    worked = planned(
        tmp_path,
        "nest",
        (
            'shape = { kind = "rounded rectangle", width = 80, height = 50, radius = 8 }',
            'profile = "part.dxf"',
        ),
    )
    ways = [w for w in worked.setups[0].loading.ways if w.fits and not w.flipped]
    assert [abs(w.turn_rad) for w in ways] == pytest.approx([math.pi], abs=1e-3)
    assert "loads-wrong" in codes(worked)


def _plate_with_a_hole() -> bytes:
    """Return a drawing of an 80 × 50 plate with a hole off its middle."""
    import io

    import ezdxf

    doc = ezdxf.new("R2000", units=4)
    space = doc.modelspace()
    space.add_lwpolyline([(0, 0), (80, 0), (80, 50), (0, 50)], close=True)
    space.add_circle((20, 25), 4)
    out = io.StringIO()
    doc.write(out)
    return out.getvalue().encode()
