"""Which edge the part touches, how far the other stands off, and how it is said."""

from __future__ import annotations

import math

import pytest

from kerf.beam import KerfCard
from kerf.errors import GeometryError
from kerf.lean import LeanUse, cut_transform, wall_lean
from kerf.readings import Side


def card(entry, exit_):
    return KerfCard(name="a", kerf_mm=min(entry, exit_), u_mm=0.0, entry_mm=entry, exit_mm=exit_)


@pytest.mark.parametrize(
    ("entry", "exit_", "use", "proud", "low"),
    [
        (0.30, 0.20, LeanUse.ALLOWED, Side.EXIT, True),
        (0.30, 0.20, LeanUse.OPPOSED, Side.EXIT, False),
        (0.20, 0.30, LeanUse.ALLOWED, Side.ENTRY, False),
        (0.20, 0.30, LeanUse.OPPOSED, Side.ENTRY, True),
    ],
)
def test_the_proud_edge_and_where_it_lies(entry, exit_, use, proud, low):
    lean = wall_lean(card(entry, exit_), thickness_mm=5.0, use=use)
    assert lean.proud is proud
    assert lean.touches_low is low
    assert lean.standoff_mm == pytest.approx(0.05)
    assert lean.angle_rad == pytest.approx(math.atan(0.01))
    words = lean.describe()
    edge, other = ("lower", "upper") if low else ("upper", "lower")
    assert f"touch at their {edge} edge" in words
    assert f"the {other} edge stands 0.050 mm back" in words
    up = "entry face" if use is LeanUse.ALLOWED else "exit face"
    assert words.startswith(f"Lay the plate {up}")


def test_no_lean_is_said_and_an_unmeasured_one_is_not_invented():
    assert "square" in wall_lean(card(0.2, 0.2), thickness_mm=5.0).describe()
    assert wall_lean(KerfCard(name="a", kerf_mm=0.2, u_mm=0.0), thickness_mm=5.0) is None
    with pytest.raises(GeometryError):
        wall_lean(card(0.3, 0.2), thickness_mm=0.0)


def test_turning_over_twice_is_identity():
    by = cut_transform(LeanUse.OPPOSED, width_mm=120.0)
    assert by.then(by).rows() == ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0))
    assert by.determinant == -1.0
    assert cut_transform(LeanUse.ALLOWED, width_mm=120.0).determinant == 1.0
