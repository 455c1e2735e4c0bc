"""``jigs coupon``: files, what they say, and what is refused."""

from __future__ import annotations

import ezdxf
import pypdfium2
import pytest
from typer.testing import CliRunner

from jigs.cli.app import app
from kerf.readings import COLUMNS

run = CliRunner()
SHOP = """schema = 1
units = "mm"
[[laser]]
name = "big"
bed = [600, 400]
[[sheet]]
name = "sheet"
material = "{material}"
thickness = 4.92
size = [600, 400]
"""


@pytest.fixture
def shop(tmp_path):
    def write(material="cast acrylic"):
        file = tmp_path / "shop.toml"
        file.write_text(SHOP.format(material=material))
        return file

    return write


def coupon(shop_file, *more):
    out = shop_file.parent / "out"
    return run.invoke(
        app, ["coupon", "sheet", "--shop", str(shop_file), "--out", str(out), *more]
    ), out / "coupon-sheet"


def test_four_files_that_agree(shop):
    done, folder = coupon(shop(), "--pin", "6", "--repeats", "2")
    assert done.exit_code == 0, done.output
    assert "kerf compensation off" in done.output
    doc = ezdxf.readfile(folder / "coupon.dxf")
    assert not doc.audit().has_errors
    assert {e.dxf.layer for e in doc.modelspace()} == {"INSIDE", "OUTSIDE", "ENGRAVE"}
    form = (folder / "readings.csv").read_text().splitlines()
    header = next(line for line in form if not line.startswith("#"))
    assert header == ",".join((*COLUMNS, "reading 1", "reading 2", "where"))
    assert "# pin 6 enters hole drawn mm:" in form
    pages = pypdfium2.PdfDocument(folder / "readings.pdf")
    text = "".join(page.get_textpage().get_text_range() for page in pages)
    for row in form[form.index(header) + 1 :]:
        assert row.split(",")[0] in text
    assert "Never leave the laser unattended" in text
    assert "depth rod" in text


def test_the_first_sheet_when_none_is_named(shop, tmp_path):
    done = run.invoke(app, ["coupon", "--shop", str(shop()), "--out", str(tmp_path / "o")])
    assert done.exit_code == 0, done.output
    assert (tmp_path / "o" / "coupon-sheet" / "coupon.dxf").exists()


def test_the_same_coupon_is_the_same_bytes(shop, tmp_path):
    file = shop()
    folders = []
    for name in ("a", "b"):
        out = tmp_path / name
        done = run.invoke(app, ["coupon", "sheet", "--shop", str(file), "--out", str(out)])
        assert done.exit_code == 0
        folders.append(out / "coupon-sheet")
    for one in sorted(folders[0].iterdir()):
        assert one.read_bytes() == (folders[1] / one.name).read_bytes()


def test_a_filled_form_is_not_overwritten(shop):
    file = shop()
    _, folder = coupon(file)
    (folder / "readings.csv").write_text("filled in")
    done, _ = coupon(file)
    assert done.exit_code == 2
    assert "may be filled in" in done.output
    assert (folder / "readings.csv").read_text() == "filled in"


@pytest.mark.parametrize(
    ("material", "more", "code", "words"),
    [
        ("PVC foam", (), 1, "hydrogen chloride"),
        ("PVC foam", ("--i-have-checked",), 1, "hydrogen chloride"),
        ("ABS", (), 1, "melts"),
        ("ABS", ("--i-have-checked",), 0, "melts"),
        ("some offcut", (), 0, "WARN"),
    ],
)
def test_stock_that_must_not_be_cut_stops_the_run(shop, material, more, code, words):
    done, folder = coupon(shop(material), *more)
    assert done.exit_code == code, done.output
    assert words in done.output
    assert folder.exists() is (code == 0)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (("--laser", "huge"), "lasers there: big"),
        (("--unit", "furlong"), "use mm or inch"),
        (("--release", "R9"), "R2000 or R12"),
        (("--span", "30"), "too short"),
        (("--pin", "0.2"), "ladders are made for pins"),
    ],
)
def test_bad_input_is_named(shop, more, words):
    done, folder = coupon(shop(), *more)
    assert done.exit_code == 2
    assert words in done.output
    assert "Traceback" not in done.output
    assert not folder.exists()
