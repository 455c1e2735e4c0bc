"""Laws of the SVG reader under damage: it reads or says one clear thing, whatever the bytes."""

from __future__ import annotations

import random

from damage import SVG, damaged
from hypothesis import given, settings
from hypothesis import strategies as st

from kerf.errors import KerfError
from kerf.reading.svg import parse_svg


@settings(max_examples=250, deadline=None, derandomize=True)
@given(seed=st.integers(0, 2**32))
def test_damaged_svg_is_read_or_refused_in_words(seed: int) -> None:
    content = damaged(random.Random(seed), SVG)
    try:
        drawing = parse_svg(content, path="damaged.svg")
    except KerfError as fault:
        fault.describe()
        return
    for region in drawing.regions:
        assert region.area_mm2 > 0


def test_whole_svg_reads() -> None:
    """The start of the damage is itself sound: six parts, none at fault."""
    drawing = parse_svg(SVG, path="whole.svg")
    assert not drawing.faults
    assert len(drawing.regions) == 6
