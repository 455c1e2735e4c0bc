"""Jobs of one plate with cuts and a hold, and the plan that comes of them."""

from __future__ import annotations

from pathlib import Path

from jigs.job import read_job
from jigs.plan import plan

TEMPLATES = Path(__file__).parents[2] / "templates"

PLATE = """
schema = 1
units = "mm"
[job]
number = "1"
name = "Plate"
revision = "A"
quantity = 1
[part]
shape = { kind = "points", points = [[-50, -30], [50, -30], [50, 30], [-50, 30]] }
height = 12
material = "6061-T6"
edge_tolerance = 0.02
"""

SETUP = """
[[setup]]
name = "op10"
guide = "corner"
sheet = "acrylic-5"
clearance = 0.5
zero = [0, 0, 12]
"""

MILL = """
[[setup.cut]]
name = "pocket"
tool_diameter = 6
flutes = 3
feed_per_tooth = 0.03
depth = 1
width = 2
speed = 8000
path = [[-20, 0], [20, 0]]
z = [8, 12]
"""

TESTED = """
[[tape]]
name = "tested"
thickness = 0.3
  [[tape.test]]
  way = "shear"
  area = [25, 25]
  force = "250 N"
  [[tape.test]]
  way = "pull"
  area = [25, 25]
  force = "100 lbf"
"""

UNTESTED = """
[[tape]]
name = "untested"
"""

VISE = 'hold = "vise"\n[setup.holding]\nclamp_force = "6 kN"\ngrip = 6\n'

CLAMPS = 'hold = "clamps"\n[setup.holding]\nclamps = [[-40, 20], [40, 20]]\nclamp_force = "3 kN"\n'

OUTLINE = """
[[setup.cut]]
name = "edge"
tool_diameter = 6
feed_per_tooth = 0.03
depth = 4
width = 1
speed = 8000
path = "outline"
z = [0, 12]
"""


def worked(folder: Path, job: str, shop: str = ""):
    text = (TEMPLATES / "shop.toml").read_text(encoding="utf-8")
    # The starter shop may bring tapes and mills of its own; these tests bring theirs.
    head = text.split("[[tape]]")[0].split("[[mill]]")[0]
    (folder / "shop.toml").write_text(head + shop, encoding="utf-8")
    (folder / "job.toml").write_text(job, encoding="utf-8")
    return plan(read_job(folder / "job.toml"))


def found(planned, code: str):
    return [f for f in planned.findings if f.code == code]
