"""Pins of the shop file: sets, classes, measured ones, and every fault of a row named."""

from __future__ import annotations

import pytest

from jigs.fits import Limits
from jigs.pins import Pin, fits_in, pins_to_buy
from jigs.shop import read_shop
from kerf.errors import GeometryError, InputError

SHOP = """schema = 1
units = "mm"
[[laser]]
name = "laser"
bed = [600, 400]
[[sheet]]
name = "s"
material = "cast acrylic"
thickness = 5
size = [600, 400]
[[finder]]
name = "finder"
tip_diameter = 10
"""


def shop_pins(tmp_path, text: str):
    (tmp_path / "shop.toml").write_text(SHOP + text, encoding="utf-8")
    return read_shop(tmp_path / "shop.toml").pins


@pytest.mark.parametrize(
    ("first", "last", "count"),
    [("0.011 in", "0.060 in", 50), ("0.061 in", "0.250 in", 190), ("0.251 in", "0.500 in", 250)],
)
def test_sets_hold_as_many_pins_as_they_are_sold_with(tmp_path, first, last, count):
    """Source: gauge pin sets by 0.001 in as sold: 50, 190 and 250 pins."""
    pins = shop_pins(
        tmp_path,
        f'[[pin]]\nname = "set"\nclass = "minus ZZ"\nfrom = "{first}"\nto = "{last}"\n'
        'step = "0.001 in"\n',
    )
    assert len(pins) == count
    assert pins[0].name == f"set {first}"
    assert pins[-1].name == f"set {last}"
    assert pins[-1].nominal_mm == pytest.approx(float(last.split()[0]) * 25.4, abs=1e-9)


def test_a_measured_pin_is_what_it_was_measured_to_be(tmp_path):
    (pin,) = shop_pins(
        tmp_path, '[[pin]]\nname = "p"\ndiameter = 8\nmeasured = 7.997\nmeasured_u = 0.001\n'
    )
    assert pin.nominal_mm == 8.0
    assert pin.limits.least_mm == pytest.approx(7.995)
    assert pin.limits.most_mm == pytest.approx(7.999)


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ('diameter = 8\nclass = "minus Q"', "minus ZZ"),
        ('diameter = 80\nclass = "minus ZZ"', "no gauge pin"),
        ("diameter = 8", '"class" is missing'),
        ('from = 8\nto = 6\nstep = 0.1\nclass = "minus ZZ"', "below its first pin"),
        ('from = 1\nto = 2\nstep = 0.3\nclass = "minus ZZ"', "do not lead"),
        ('from = 1\nto = 2\nstep = 0.0001\nclass = "minus ZZ"', "at most 1000"),
        ('diameter = 8\nclass = "minus ZZ"\nrelieved = true', '"land" is missing'),
        ('diameter = 8\nclass = "minus ZZ"\nrelieved = true\nland = 9', "land of 9 mm"),
        ('diameter = 8\nclass = "minus ZZ"\nrelief = true', "unknown key"),
    ],
)
def test_faults_of_a_pin_are_named_with_their_place(tmp_path, row, said):
    with pytest.raises(InputError) as caught:
        shop_pins(tmp_path, f'[[pin]]\nname = "p"\n{row}\n')
    message = caught.value.describe()
    assert said in message
    assert "shop.toml: pin[0]" in message


def test_pins_that_enter_a_bore_come_closest_first():
    pins = [
        Pin(name=f"{d}", nominal_mm=d, limits=Limits(least_mm=d, most_mm=d), made_to="measured")
        for d in (7.9, 7.98, 8.0, 8.001, 7.95)
    ]
    fits = fits_in(Limits(least_mm=8.0, most_mm=8.02), pins, least_mm=0.005)
    assert [f.pin.name for f in fits] == ["7.98", "7.95", "7.9"]
    assert fits[0].least_mm == pytest.approx(0.02)
    assert fits[0].most_mm == pytest.approx(0.04)
    assert fits[0].float_mm == pytest.approx(0.02)


def test_what_to_buy_is_sure_to_enter_and_one_step_more_is_not():
    bore = Limits(least_mm=8.0, most_mm=8.015)
    for pin, step in zip(pins_to_buy(bore, least_mm=0.005), (0.0254, 0.01), strict=True):
        assert pin.limits.most_mm <= 7.995 + 1e-6
        assert pin.limits.most_mm + step > 7.995


def test_a_land_as_wide_as_its_pin_is_no_relief():
    with pytest.raises(GeometryError, match="land"):
        Pin(
            name="p",
            nominal_mm=8,
            limits=Limits(least_mm=8, most_mm=8),
            made_to="measured",
            relieved=True,
            land_mm=8,
        )
