"""Numbers for people: units on every one, no minus zero, uncertainty never rounded down."""

from __future__ import annotations

import math

import pytest

from jigs import quantity


@pytest.mark.parametrize(
    ("mm", "units", "text"),
    [
        (12.7, "mm", "12.700 mm"),
        (12.7, "inch", "0.5000 in"),
        (-0.0001, "mm", "0.000 mm"),
        (-25.4, "inch", "−1.0000 in"),
    ],
)
def test_length(mm: float, units: str, text: str) -> None:
    assert quantity.length_text(mm, units) == text


def test_offset_reads_back_within_a_micrometre() -> None:
    for i in range(-200, 200):
        mm = i * 1.2345678
        for units, factor in (("mm", 1.0), ("inch", 25.4)):
            value = float(quantity.offset_text(mm, units).split()[0]) * factor
            assert abs(value - mm) <= 0.00051
    assert quantity.offset_text(3.0, "mm") == "+3.000 mm"
    assert quantity.offset_text(0.0, "mm") == "0.000 mm"


def test_uncertainty_is_rounded_up() -> None:
    assert quantity.plus_minus_text(0.0101, "mm") == "±0.011 mm"
    assert quantity.plus_minus_text(0.010, "mm") == "±0.010 mm"
    assert quantity.plus_minus_text(0.0254, "inch") == "±0.0010 in"
    assert quantity.plus_minus_text(0.0256, "inch") == "±0.0011 in"


def test_angle() -> None:
    assert quantity.angle_text(math.radians(37.25)) == "37.25°"
    assert quantity.angle_text(math.radians(-90)) == "-90°"
    assert quantity.angle_text(-0.0) == "0°"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("web is 1.00 mm, not 5 mm", "web is 1.00 mm (0.0394 in), not 5 mm (0.20 in)"),
        ("a sheet of 600.0 × 400.0 mm", "a sheet of 600.0 × 400.0 mm (23.622 × 15.748 in)"),
        ("from 2.5 to 10.5 mm", "from 2.5 to 10.5 mm (0.098 to 0.413 in)"),
        ("at (94.6, -30.9) mm it", "at (94.6, -30.9) mm (3.724, -1.217 in) it"),
        (
            "(1.0, 2.0) to (25.4, 0.0) mm",
            "(1.0, 2.0) to (25.4, 0.0) mm ((0.039, 0.079) to (1.000, 0.000) in)",
        ),
        ("off by ±0.02 mm.", "off by ±0.02 mm (±0.0008 in)."),
        ("rises by 0.045 mm (0.0018 in), worked out", "rises by 0.045 mm (0.0018 in), worked out"),
        ("2194 mm² at 720 mm/min", "2194 mm² at 720 mm/min"),
        ("plate op10 takes 3.0 mm", "plate op10 takes 3.0 mm (0.118 in)"),
    ],
)
def test_a_sentence_for_an_inch_reader(text: str, told: str) -> None:
    assert quantity.told_in(text, "inch") == told
    assert quantity.told_in(text, "mm") == text
