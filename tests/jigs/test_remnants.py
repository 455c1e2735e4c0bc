"""Remnants in the shop file: read, put back and taken out as text, refused when unclear."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from jigs.remnants import Remnant, shop_with_remnants
from jigs.shop import Shop, read_shop
from kerf.contour import Contour, Region
from kerf.errors import InputError, KerfError
from kerf.stock import Stock

SHOP = """schema = 1
units = "mm"

[[laser]]
name = "L"
bed = [600, 400]
[[laser.card]]
name = "c"
sheet = "acrylic-5"
kerf = 0.2
u = 0.01

[[sheet]]
name = "acrylic-5"    # the good stuff
material = "cast acrylic"
thickness = 4.9
size = [600, 400]

[[remnant]]
name = "R1"
sheet = "acrylic-5"
outline = [[0, 0], [200, 0], [200, 150], [0, 150]]

# edge finders
[[finder]]
name = "f"
tip_diameter = 10
"""


def shop(tmp_path: Path, text: str) -> Shop:
    """Read a shop file of this text."""
    path = tmp_path / "shop.toml"
    path.write_text(text)
    return read_shop(path)


def remnant(name: str) -> Remnant:
    """Return an L-shaped remnant."""
    outline = Contour.of([(100, 0), (600, 0), (600, 400), (0, 400), (0, 300), (100, 300)])
    return Remnant(
        name=name,
        sheet="acrylic-5",
        stock=Stock(name=name, region=Region(outer=outline), is_remnant=True),
    )


def test_a_remnant_is_read_with_its_outline(tmp_path: Path) -> None:
    """Four corners, 200 × 150 mm."""
    (found,) = shop(tmp_path, SHOP).remnants
    assert (found.name, found.sheet) == ("R1", "acrylic-5")
    assert found.stock.region.area_mm2 == pytest.approx(30000)


def test_what_is_left_is_put_back_and_what_was_used_is_gone(tmp_path: Path) -> None:
    """Comments stay; the outline reads back within the 0.1 mm it is written to."""
    after = shop_with_remnants(SHOP, used=["R1"], left=[remnant("R2")], name="shop.toml")
    assert "# the good stuff" in after
    assert "# edge finders" in after
    (found,) = shop(tmp_path, after).remnants
    assert found.name == "R2"
    assert found.stock.region.area_mm2 == pytest.approx(remnant("R2").stock.region.area_mm2)
    before = tomllib.loads(SHOP)
    now = tomllib.loads(after)
    before.pop("remnant")
    now.pop("remnant")
    assert now == before


def test_nothing_changed_is_the_same_text() -> None:
    """Byte for byte."""
    assert shop_with_remnants(SHOP, used=[], left=[], name="shop.toml") == SHOP


def test_a_remnant_is_not_put_back_twice() -> None:
    """The name tells."""
    once = shop_with_remnants(SHOP, used=[], left=[remnant("R2")], name="shop.toml")
    with pytest.raises(InputError, match='"R2" is on the shelf already'):
        shop_with_remnants(once, used=[], left=[remnant("R2")], name="shop.toml")


def test_remnants_on_one_line_are_not_touched() -> None:
    """What text cannot be cut out safely is left to a person, with what to write."""
    inline = 'remnant = [{ name = "R1" }]\n'
    with pytest.raises(InputError, match="without touching something else") as fault:
        shop_with_remnants(inline, used=["R1"], left=[], name="shop.toml")
    assert "take out R1" in fault.value.hint


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("[0, 150]]\n", "[0, 150]]\nholes = [[50, 50]]\n", 'remnant "R1" has a hole in it'),
        ("[200, 150], [0, 150]", "[0, 150], [200, 150]", "crosses itself"),
        (", [200, 150], [0, 150]", "", "at least 3 corners, this one has 2"),
        ('sheet = "acrylic-5"\noutline', 'sheet = "ply"\noutline', '"ply", which is not listed'),
        ("size = [600, 400]", "size = [600, 400]\ngap = -1", "gap is -1 mm; it must be at least 0"),
        ("size = [600, 400]", 'size = [600, 400]\nturns = "hlaf"', 'did you mean "half"'),
        ("u = 0.01", "u = 0.01\ncut_speed = 10", "not the laser's engrave_speed, travel_speed"),
    ],
    ids=[
        "hole",
        "crossing",
        "two corners",
        "unknown sheet",
        "negative gap",
        "turns",
        "half a card",
    ],
)
def test_bad_shop_files_say_what_is_wrong(tmp_path: Path, old: str, new: str, message: str) -> None:
    """One clear message each, with its key path."""
    assert old in SHOP
    with pytest.raises(KerfError) as fault:
        shop(tmp_path, SHOP.replace(old, new))
    assert message in fault.value.describe()
    assert "shop.toml" in fault.value.describe()
