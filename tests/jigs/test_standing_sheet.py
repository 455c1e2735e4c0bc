"""What the sheet says of a plate that stands in the vise: side, lean, jaw, squareness.

Source: the lean from the widths of one cut, half the difference on each side; the plate's drawn
side is the beam's, and a reader of XZ looks along +Y.
"""

from __future__ import annotations

import shutil

import pytest

from jigs.job import read_job
from jigs.plan import plan
from jigs.sheet.html import html_text
from jigs.sheet.setup_content import sheet_content
from jigs.templates import template_path


def told(folder, *, kerf="entry = 0.36\nexit = 0.24", job=()):
    shutil.copytree(template_path("standing"), folder, dirs_exist_ok=True)
    shop = (folder / "shop.toml").read_text()
    (folder / "shop.toml").write_text(shop.replace("kerf = 0.24", f"kerf = 0.24\n{kerf}"))
    text = (folder / "job.toml").read_text()
    for old, new in job:
        assert old in text
        text = text.replace(old, new)
    (folder / "job.toml").write_text(text)
    made = plan(read_job(folder / "job.toml"))
    return made, html_text(sheet_content(made, 0))


@pytest.mark.parametrize(
    ("kerf", "job", "engraved", "proud"),
    [
        ("entry = 0.36\nexit = 0.24", (), "moving", "fixed"),
        ("entry = 0.24\nexit = 0.36", (), "moving", "moving"),
        ("entry = 0.36\nexit = 0.24", (('"+Y"', '"-Y"'),), "fixed", "moving"),
    ],
)
def test_side_and_lean(tmp_path, kerf, job, engraved, proud):
    made, sheet = told(tmp_path, kerf=kerf, job=job)
    assert f"the entry face) to the {engraved} jaw" in sheet
    assert f"at the edge nearest the {proud} jaw, which is at finished size" in sheet
    assert "every X and Z wall stands 0.060 mm back" in sheet
    assert made.setups[0].guide.plates[0].lines == (f"THIS SIDE TO {engraved.upper()} JAW",)


def test_the_jaw_is_swept_and_shown(tmp_path):
    made, sheet = told(tmp_path)
    assert "Sweep the fixed jaw with an indicator along X" in sheet
    assert "Across the jaws: where Y reads 0" in sheet
    datum = next(d for d in made.setups[0].guide.datums if d.axis == "Y")
    assert datum.offset_mm == pytest.approx(8.0)  # zero lies 8 mm before the face on the jaw
    assert "fixed jaw, the part" in sheet
    assert "The jaws squeeze the part, not the plate." in sheet


def test_a_plate_in_yz_reads_y_and_z(tmp_path):
    _, sheet = told(tmp_path, job=(('"XZ"', '"YZ"'), ('fixed_jaw = "+Y"', 'fixed_jaw = "-X"')))
    assert "every Y and Z wall" in sheet
    assert "Sweep the fixed jaw with an indicator along Y" in sheet
    assert "Across the jaws: where X reads 0" in sheet
