"""The dense library: what it must not be given, what it answers, and how an answer is checked."""

from __future__ import annotations

import math

import pytest
import shapely

from kerf.dense import DenseUnavailable, check_strip, dense_strip
from kerf.errors import GeometryError
from kerf.strip import DoesNotFit, Strip

BOX = shapely.box(0, 0, 20, 10)
QUARTERS = (0.0, math.pi / 2)


def test_pieces_are_packed_and_measured() -> None:
    """Six 20 × 10 boxes in a strip of 24 with 1 mm between: no overlap, gaps kept."""
    strip = dense_strip([BOX] * 6, [QUARTERS] * 6, height_mm=24, seconds=2, gap_mm=1.0)
    assert len(strip.places_mm) == 6
    assert 60 <= strip.length_mm < 90


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"seconds": 0}, "budget must be 2 to 3600 s"),
        ({"gap_mm": -1.0}, "must be 0 mm or more, not -1 mm"),
        ({"height_mm": math.nan}, "height must be above 0 mm"),
        ({"polygons": [], "turns_rad": []}, "at least one piece"),
        (
            {"polygons": [shapely.Polygon([(0, 0), (1, 1), (1, 0), (0, 1)])]},
            "no plain outline",
        ),
        ({"turns_rad": [()]}, "no turn"),
    ],
)
def test_what_would_end_the_library_is_refused_before(change, message) -> None:
    """Checked before the process is started."""
    asked = {"polygons": [BOX], "turns_rad": [(0.0,)], "height_mm": 30.0, "seconds": 2} | change
    with pytest.raises(GeometryError, match=message):
        dense_strip(asked.pop("polygons"), asked.pop("turns_rad"), **asked)


def test_a_piece_higher_than_the_strip_is_refused() -> None:
    """In every turn allowed."""
    with pytest.raises(DoesNotFit, match=r"piece 1 is 10\.0 mm high at least"):
        dense_strip([BOX], [QUARTERS[:1]], height_mm=9.0, seconds=2)


@pytest.mark.parametrize(
    ("places", "length", "message"),
    [
        (((0, 0), (19, 0)), 39, "over each other"),
        (((0, 0), (20.4, 0)), 41, "over each other"),
        (((0, 0), (21, 0)), 40, "outside the strip"),
        (((0, 0), (21, 25)), 41, "outside the strip"),
    ],
    ids=["overlap", "gap", "length", "height"],
)
def test_a_wrong_answer_is_not_believed(places, length, message) -> None:
    """Measured with shapely."""
    strip = Strip(length_mm=length, turns=(0, 0), places_mm=places)
    with pytest.raises(DenseUnavailable, match=message):
        check_strip([BOX] * 2, [(0.0,)] * 2, strip, height_mm=30, gap_mm=0.5)
    good = Strip(length_mm=41, turns=(0, 0), places_mm=((0, 0), (21, 0)))
    check_strip([BOX] * 2, [(0.0,)] * 2, good, height_mm=30, gap_mm=0.5)


def test_without_the_library_it_says_so(monkeypatch) -> None:
    """And how to get it."""
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    with pytest.raises(DenseUnavailable, match="not installed") as fault:
        dense_strip([BOX], [(0.0,)], height_mm=30.0, seconds=2)
    assert "setup-jigs[dense]" in fault.value.hint
