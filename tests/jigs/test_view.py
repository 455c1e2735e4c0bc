"""A set-up may see the part its own way: a side view, a blank."""

from __future__ import annotations

import pytest
from shop_floor import shop_text

from jigs.job import read_job
from jigs.plan import plan
from jigs.sheet.setup_content import setup_view
from kerf.errors import InputErrors

JOB = """schema = 1
units = "mm"
[job]
number = "1"
name = "part"
[part]
shape = {{ kind = "rectangle", width = 60, height = 12 }}
height = 40
material = "brass"
edge_tolerance = 0.03
[[part.critical]]
name = "bore"
at = [5, 5]
tolerance = 0.5
[[setup]]
name = "op10"
guide = "nest"
sheet = "acrylic-5"
zero = [1, 2, 0]
[[setup]]
name = "op20"
guide = "nest"
sheet = "acrylic-5"
contacts = "auto"
zero = [30, 20, 12]
[setup.view]
{view}
"""
SIDE = 'shape = { kind = "rectangle", width = 60, height = 40 }\nheight = 12\n'


def read(folder, view):
    (folder / "shop.toml").write_text(shop_text())
    (folder / "job.toml").write_text(JOB.format(view=view))
    return read_job(folder / "job.toml")


def test_the_view_is_the_part_in_that_set_up_alone(tmp_path):
    more = '[[setup.view.critical]]\nname = "cross hole"\nat = [30, 35]\ntolerance = 0.5\n'
    made = plan(read(tmp_path, SIDE + more))
    first, second = made.setups
    assert first.part is made.job.part
    box = second.part.region.bounds()
    assert (box.width, box.height, second.part.height_mm) == (60, 40, 12)
    assert [c.name for c in second.part.critical] == ["cross hole"]
    assert [c.name for c in second.critical] == ["cross hole"]
    assert [c.name for c in first.critical] == ["bore"]
    assert [spot.name for spot in setup_view(second, made).features] == ["cross hole"]
    corner = second.guide.plates[0].to_part.inverse().point(0, 0)
    assert second.zero == pytest.approx((corner.x + 30, corner.y + 20))


def test_material_and_edge_are_the_parts_unless_the_view_says_its_own(tmp_path):
    _, setup = read(tmp_path, SIDE).setups
    assert (setup.view.material, setup.view.edge_tolerance_mm) == ("brass", 0.03)
    _, setup = read(tmp_path, SIDE + 'material = "steel"\nedge_tolerance = 0.2\n').setups
    assert (setup.view.material, setup.view.edge_tolerance_mm) == ("steel", 0.2)


@pytest.mark.parametrize(
    ("view", "where", "says"),
    [
        ("height = 12", "setup[1].view.profile", "either a profile"),
        (SIDE.replace("height = 12", ""), "setup[1].view.height", "missing"),
        (SIDE + "widht = 3", "setup[1].view.widht", "unknown key"),
    ],
)
def test_a_fault_of_the_view_names_its_key(tmp_path, view, where, says):
    with pytest.raises(InputErrors) as caught:
        read(tmp_path, view)
    assert where in caught.value.describe()
    assert says in caught.value.describe()
