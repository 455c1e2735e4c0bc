"""Layouts kept and taken again: the same places, measured anew, and never for other pieces."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from jigs.layouts import FILE, Layout, layouts_bytes, stored_layout
from kerf.contour import Contour, Region
from kerf.errors import GeometryError, InputError
from kerf.stock import Piece, Stock, Turns


def asked(width: float = 60.0, gap: float = 2.0) -> Layout:
    """Return two plates on a sheet."""
    return Layout(
        pieces=(
            Piece(name="a", region=Region(outer=Contour.rectangle(0, 0, width, 40))),
            Piece(name="b", region=Region(outer=Contour.circle(0, 0, 20))),
        ),
        remnants=(),
        sheet=Stock(name="s", region=Region(outer=Contour.rectangle(0, 0, 300, 200))),
        gap_mm=gap,
        margin_mm=3.0,
        turns=Turns.QUARTER,
    )


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    """A folder with the layout of ``asked()``."""
    laid = asked().laid_out(dense_s=0)
    (tmp_path / FILE).write_bytes(layouts_bytes([("f", asked().pieces, one) for one in laid]))
    return tmp_path


def test_a_kept_layout_comes_back_as_it_was(kept: Path) -> None:
    """Place for place."""
    assert stored_layout(kept, asked()) == asked().laid_out(dense_s=0)


def test_other_pieces_are_laid_out_anew(kept: Path, tmp_path: Path) -> None:
    """A plate a millimetre wider is another plate; an empty folder holds nothing."""
    assert stored_layout(kept, asked(width=61.0)) is None
    assert stored_layout(tmp_path / "none", asked()) is None


def test_one_without_the_dense_library_does_not_stand_for_one_with_it(kept: Path) -> None:
    """Nor a shorter run for a longer one."""
    assert stored_layout(kept, asked(), dense_s=5) is None
    laid = asked().laid_out(dense_s=0)
    rows = [("f", asked().pieces, one) for one in laid]
    (kept / FILE).write_bytes(layouts_bytes(rows, dense_s=10))
    assert stored_layout(kept, asked(), dense_s=5) == laid
    assert stored_layout(kept, asked(), dense_s=60) is None


def test_a_kept_layout_must_keep_todays_gap(kept: Path) -> None:
    """Asked for 30 mm between plates, one laid out with 2 mm is refused."""
    with pytest.raises(GeometryError, match=r"they must keep 30\.000 mm"):
        stored_layout(kept, asked(gap=30.0))


def test_a_damaged_file_is_named(kept: Path) -> None:
    """With the way out."""
    (kept / FILE).write_text('{"sheets": [{}]}')
    with pytest.raises(InputError, match="cannot be read") as fault:
        stored_layout(kept, asked())
    assert "laid out anew" in fault.value.hint


def test_a_plate_turned_over_is_refused(kept: Path) -> None:
    """A mirrored plate would carry its marks on the wrong side."""
    rows = json.loads((kept / FILE).read_text())
    first = rows["sheets"][0]["places"][0]["to_stock"]
    first[0] = [-value for value in first[0]]
    (kept / FILE).write_text(json.dumps(rows))
    with pytest.raises(InputError, match="turned over"):
        stored_layout(kept, asked())
