"""Single-stroke letters: sizes, anchors, refusals and the marks."""

from __future__ import annotations

import math

import pytest

from kerf.contour import Point
from kerf.errors import InputError
from kerf.lettering import (
    CHARACTERS,
    Anchor,
    arrow,
    scale_bar,
    strokes,
    text_box,
    text_width_mm,
    up_mark,
)


def box(parts: tuple[tuple[Point, ...], ...]) -> tuple[float, float, float, float]:
    xs = [p.x for part in parts for p in part]
    ys = [p.y for part in parts for p in part]
    return min(xs), min(ys), max(xs), max(ys)


def test_a_capital_is_as_tall_as_asked_and_stands_on_its_foot() -> None:
    assert box(strokes("H", height_mm=4.2, at=(10, 20))) == pytest.approx((10, 20, 12.8, 24.2))


def test_letter_a_is_the_published_glyph() -> None:
    """Source: NBS SP 424, Simplex Roman A (number 501): three strokes on a 21-unit capital."""
    parts = strokes("A", height_mm=21, at=(0, 0))
    assert parts == (
        ((8, 21), (0, 0)),
        ((8, 21), (16, 0)),
        ((3, 7), (13, 7)),
    )


@pytest.mark.parametrize("character", sorted(CHARACTERS - {" "}))
def test_every_character_has_ink_within_its_box(character: str) -> None:
    parts = strokes(character, height_mm=3, at=(0, 0))
    assert parts
    assert all(len(part) >= 2 for part in parts)
    x0, y0, x1, y1 = box(parts)
    low, _, high, _ = text_box(character, height_mm=3, at=(0, 0))
    assert x0 == pytest.approx(low.x)
    assert x1 == pytest.approx(high.x)
    assert y0 >= low.y - 1e-9
    assert y1 <= high.y + 1e-9


@pytest.mark.parametrize("character", sorted(CHARACTERS - {" "}))
def test_no_two_characters_share_a_picture(character: str) -> None:
    same = {"Ø": "⌀", "µ": "μ", "−": "–-"}
    twins = {c for a, b in same.items() for c in a + b if character in a + b}
    picture = strokes(character, height_mm=3, at=(0, 0))
    for other in sorted(CHARACTERS - {" ", character} - twins):
        assert strokes(other, height_mm=3, at=(0, 0)) != picture, other


@pytest.mark.parametrize(
    ("anchor", "x", "y"),
    [
        (Anchor.LEFT, 0.0, 0.0),
        (Anchor.CENTRE, -0.5, 0.0),
        (Anchor.RIGHT, -1.0, 0.0),
        (Anchor.MIDDLE_LEFT, 0.0, -0.5),
        (Anchor.MIDDLE, -0.5, -0.5),
        (Anchor.MIDDLE_RIGHT, -1.0, -0.5),
    ],
)
def test_anchor(anchor: Anchor, x: float, y: float) -> None:
    width = text_width_mm("NEST H", 5)
    x0, y0, x1, y1 = box(strokes("NEST H", height_mm=5, at=(7, 9), anchor=anchor))
    assert (x0, x1) == pytest.approx((7 + x * width, 7 + (x + 1) * width))
    # S reaches the same lines as the other capitals.
    assert (y0, y1) == pytest.approx((9 + y * 5, 9 + (y + 1) * 5))


def test_text_turned_a_quarter_runs_up() -> None:
    x0, y0, x1, y1 = box(strokes("HI", height_mm=4, at=(0, 0), angle_rad=math.pi / 2))
    assert (x0, x1) == pytest.approx((-4, 0))
    assert (y0, y1) == pytest.approx((0, text_width_mm("HI", 4)))


def test_width_is_that_of_the_ink_and_scales() -> None:
    assert text_width_mm("H", 21) == pytest.approx(14)
    assert text_width_mm("JOB 42", 3) == pytest.approx(3 * text_width_mm("JOB 42", 1))
    assert text_width_mm("", 3) == 0
    assert strokes("", height_mm=3, at=(0, 0)) == ()


def test_strange_characters_are_named_once_each() -> None:
    with pytest.raises(InputError) as caught:
        strokes("Schräg ✂ ä\t", height_mm=3, at=(0, 0))
    message = caught.value.describe()
    assert message.count('"ä" (U+00E4)') == 1
    assert '"✂" (U+2702)' in message
    assert "U+0009" in message
    assert "hint:" in message


@pytest.mark.parametrize("height", [0.0, -1.0, math.nan, math.inf])
def test_height_must_be_a_length(height: float) -> None:
    with pytest.raises(InputError, match="height above 0 mm"):
        strokes("A", height_mm=height, at=(0, 0))


def test_arrow_ends_in_its_tip_with_equal_barbs() -> None:
    shaft, barbs = arrow((1, 2), (1, 12), head_mm=3)
    assert shaft == ((1, 2), (1, 12))
    assert barbs[1] == (1, 12)
    assert math.dist(barbs[0], barbs[1]) == pytest.approx(3)
    assert math.dist(barbs[2], barbs[1]) == pytest.approx(3)
    assert barbs[0].x - 1 == pytest.approx(1 - barbs[2].x)
    assert barbs[0].y < 12
    with pytest.raises(InputError, match="two different ends"):
        arrow((1, 1), (1, 1), head_mm=3)


def test_up_mark_points_up() -> None:
    parts = up_mark((5, 5), height_mm=3)
    assert parts[0] == ((5, 5), (5, 14))
    assert box(parts)[3] == pytest.approx(14)


def test_scale_bar_is_as_long_as_it_says() -> None:
    parts = scale_bar((2, 3), length_mm=50, height_mm=2)
    line, first, last, middle = parts[:4]
    assert line[1].x - line[0].x == pytest.approx(50)
    assert last[0].x - first[0].x == pytest.approx(50)
    assert middle[0].x == pytest.approx(27)
    assert parts[4:] == strokes("50 mm", height_mm=2, at=(54, 3))
    with pytest.raises(InputError, match="above 0 mm"):
        scale_bar((0, 0), length_mm=0, height_mm=2)
