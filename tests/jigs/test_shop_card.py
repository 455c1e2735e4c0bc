"""A card goes into the shop file as text: comments stay, older cards stay, the newest counts."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import pytest

from jigs.shop import read_shop
from jigs.shop_card import shop_with_card
from kerf.beam import KerfCard
from kerf.errors import InputError

SHOP = """# our shop
schema = 1
units = "{units}"

[[laser]]
name = "big"
bed = [600, 400]

[[laser.card]]   # the first one
name = "start"
sheet = "acrylic-5"
kerf = "0.24 mm"
u = "0.02 mm"

# the small one
[[laser]]
name = "small"
bed = [300, 200]

# plastics
[[sheet]]
name = "acrylic-5"
material = "cast acrylic"
thickness = "4.92 mm"
size = [600, 400]"""

CARD = KerfCard(
    name='acrylic-5 "new"',
    kerf_mm=0.2013,
    u_mm=0.0092,
    measured_on="2025-03-31",
    measured_by="bench 2",
    entry_mm=0.2454,
    exit_mm=0.2013,
    kerf_x_mm=0.2187,
    kerf_y_mm=0.1838,
    scale_x=1.000494,
    scale_y=0.999287,
    u_scale=0.000129,
    inside_extra_mm=0.012,
    curve_mm2=0.0492,
    dof=42.0,
    temperature_c=21.0,
    instrument="calliper 4",
)


def add(text, **changes):
    given = {"laser": "big", "sheet": "acrylic-5", "card": CARD, "name": "shop.toml", **changes}
    return shop_with_card(text, **given)


@pytest.mark.parametrize("units", ["mm", "inch"])
@pytest.mark.parametrize("laser", ["big", "small"])
def test_the_card_read_back_is_the_card_written(tmp_path: Path, units, laser):
    text = SHOP.format(units=units)
    after = add(text, laser=laser)
    file = tmp_path / "shop.toml"
    file.write_text(after)
    shop = read_shop(file)
    (found,) = [one for one in shop.lasers if one.name == laser]
    assert found.card_for("acrylic-5") == CARD
    # Every line that was there is there still, in its order; nothing else came.
    kept = iter(after.splitlines())
    assert all(line in kept for line in text.splitlines())
    big = next(one for one in shop.lasers if one.name == "big")
    assert big.cards[0][1].name == "start"


def test_infinite_freedom_survives(tmp_path: Path):
    card = KerfCard(name="a", kerf_mm=0.2, u_mm=0.01)
    file = tmp_path / "shop.toml"
    file.write_text(add(SHOP.format(units="mm"), card=card))
    assert math.isinf(read_shop(file).lasers[0].card_for("acrylic-5").dof)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"laser": "huge"}, "lasers there: big, small"),
        ({"sheet": "mdf-3"}, "sheets there: acrylic-5"),
        ({"card": KerfCard(name="start", kerf_mm=0.2, u_mm=0.01)}, "has a card named"),
    ],
)
def test_what_cannot_be_placed_is_refused(changes, words):
    with pytest.raises(InputError) as fault:
        add(SHOP.format(units="mm"), **changes)
    assert words in fault.value.describe()


def test_broken_toml_and_inline_lasers_are_refused():
    with pytest.raises(InputError, match="not valid TOML"):
        add("units = ")
    inline = 'laser = [{name = "big", bed = [1, 1]}]\n[[sheet]]\nname = "acrylic-5"\n'
    with pytest.raises(InputError) as fault:
        add(inline)
    assert "add it by hand" in fault.value.describe()


def test_windows_line_ends_and_a_tricky_comment():
    text = SHOP.format(units="mm").replace("# the small one", "# [[laser]] small, not a header")
    after = add(text.replace("\n", "\r\n"))
    assert len(tomllib.loads(after)["laser"][0]["card"]) == 2
