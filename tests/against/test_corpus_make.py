"""Real drawings that hold a single part run through `jigs make`, proof and all.

Source: public drawings beside the checkout (each named with its repository in their README);
passed over when they are not there.
"""

from __future__ import annotations

import json

import pytest
from typer.testing import CliRunner

from jigs.cli.app import app

SHOP = """schema = 1
units = "mm"
[[laser]]
name = "test laser"
bed = [1200, 900]
[[laser.card]]
name = "card"
sheet = "acrylic-3"
kerf = 0.2
u = 0.01
[[sheet]]
name = "acrylic-3"
material = "cast acrylic"
thickness = 3
size = [1200, 900]
[[finder]]
name = "finder"
tip_diameter = 10
"""
JOB = """schema = 1
units = "mm"
[job]
number = "1"
name = "real drawing"
[part]
profile = "{name}"
{units}
height = 6
material = "aluminium"
edge_tolerance = 0.05
[[setup]]
name = "op10"
guide = "nest"
sheet = "acrylic-3"
clearance = 0.1
zero = [0, 0, 6]
"""

#: file → unit the job gives (none: the drawing says it).
SINGLE = {
    "CadQuery__cadquery__MC_12x31.dxf": "",
    "CadQuery__cadquery__gear.dxf": "mm",
    "OpenRacer__OpenRacer__4mm_Brace.dxf": "",
    "VoronDesign__Voron-2__250_Deck_Panel.dxf": "",
    "josefprusa__Prusa3__ybrac-t.dxf": "",
    "mikedh__trimesh__1002_tray_bottom.dxf": "",
    "nophead__Mendel90__y_carriage.dxf": "mm",
}


@pytest.mark.parametrize("name", SINGLE)
def test_single_part_drawings_make(corpus, tmp_path, name):
    (tmp_path / "shop.toml").write_text(SHOP)
    (tmp_path / name).write_bytes((corpus / "dxf" / name).read_bytes())
    units = f'units = "{SINGLE[name]}"' if SINGLE[name] else ""
    (tmp_path / "job.toml").write_text(JOB.format(name=name, units=units))
    read = CliRunner().invoke(
        app,
        ["read", str(tmp_path / name), *(["--units", SINGLE[name]] if SINGLE[name] else [])],
    )
    assert read.exit_code == 0, read.output
    done = CliRunner().invoke(
        app, ["make", str(tmp_path / "job.toml"), "--out", str(tmp_path / "out")]
    )
    assert done.exit_code in (0, 1), done.output
    record = json.loads((tmp_path / "out" / "record.json").read_text())
    (proof,) = record["setups"][0]["proof"]
    assert proof["least_gap_mm"] == pytest.approx(0.1, abs=0.002)
    failed = {f["code"] for f in record["findings"] if f["severity"] == "fail"}
    assert failed <= {"web-thin"}
