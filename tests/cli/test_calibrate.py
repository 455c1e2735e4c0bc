"""``jigs calibrate``: a form of known truth gives the truth back, and bad forms change nothing."""

from __future__ import annotations

import csv
import json

import numpy as np
import pytest
import synthetic_coupon as synthetic
from typer.testing import CliRunner

from jigs.cli.app import app
from jigs.shop import read_shop

run = CliRunner()
SHOP = """# our shop
schema = 1
units = "mm"
[[laser]]
name = "big"
bed = [600, 400]
[[laser.card]]
name = "start"
sheet = "sheet"
kerf = 0.3
u = 0.05
# stock
[[sheet]]
name = "sheet"
material = "cast acrylic"
thickness = 3.0
size = [600, 400]
"""
HEAD = {
    "instrument": "calliper 4",
    "resolution": "0.01",
    "measured on": "2025-03-31",
    "measured by": "bench 2",
}

FINDER = """
[[finder]]
name = "finder"
tip_diameter = 10
u = 0.008
"""
JOB = """schema = 1
units = "mm"
[job]
number = "1"
name = "Block"
revision = "A"
quantity = 1
[part]
shape = { kind = "rounded rectangle", width = 60, height = 40, radius = 8 }
height = 10
material = "6061-T6"
edge_tolerance = 0.02
[[setup]]
name = "op10"
guide = "nest"
sheet = "sheet"
clearance = 0.15
work_offset = "G54"
zero = [30, 20, 10]
"""


def filled(form: str, change=lambda drawn, value: value, head=HEAD, seed=1, curve=0.03) -> str:
    """Return the form as a person with the synthetic laser would fill it in."""
    rng, truth = np.random.default_rng(seed), synthetic.Truth(curve=curve)
    out = []
    for line in form.splitlines():
        if line.startswith("#"):
            key = line.strip("# :")
            out.append(f"# {key}: {head[key]}" if key in head else line)
            continue
        cells = next(csv.reader([line]))
        if cells[0] != "feature":
            size = truth.size(cells[1], cells[2], cells[3], float(cells[4]))
            values = size + rng.normal(0, 0.004) + rng.normal(0, 0.005, 3)
            cells[5:8] = [f"{change(float(cells[4]), v):.2f}" for v in values]
        out.append(",".join(cells[:8]))
    return "\n".join(out) + "\n"


@pytest.fixture
def bench(tmp_path):
    shop = tmp_path / "shop.toml"
    shop.write_text(SHOP)
    done = run.invoke(app, ["coupon", "sheet", "--shop", str(shop), "--out", str(tmp_path / "out")])
    assert done.exit_code == 0, done.output
    form = (tmp_path / "out" / "coupon-sheet" / "readings.csv").read_text()

    def calibrate(text, *more):
        file = tmp_path / "readings.csv"
        file.write_text(text)
        return run.invoke(
            app,
            [
                "calibrate",
                str(file),
                "--shop",
                str(shop),
                "--out",
                str(tmp_path / "cal"),
                *more,
            ],
        )

    return shop, form, calibrate


def test_from_coupon_to_card(bench):
    shop, form, calibrate = bench
    done = calibrate(filled(form), "--json")
    assert done.exit_code == 0, done.output
    result = json.loads(done.stdout)
    truth = synthetic.Truth()
    kerf = next(e for e in result["estimates"] if e["name"] == "kerf where the part touches")
    assert abs(kerf["value"] - truth.contact) < kerf["expanded_95"]
    assert result["governs"] == "exit"
    card = read_shop(shop).lasers[0].card_for("sheet")
    assert card.name == "sheet 2025-03-31"
    assert card.kerf_mm == pytest.approx(kerf["value"], abs=1e-4)
    assert card.entry_mm > card.exit_mm
    assert (card.measured_by, card.instrument) == ("bench 2", "calliper 4")
    names = [card.name for _, card in read_shop(shop).lasers[0].cards]
    assert names == ["start", "sheet 2025-03-31"]
    assert shop.read_text().startswith("# our shop\n")
    files = sorted(p.name for p in (shop.parent / "cal").iterdir())
    assert files == ["calibration-sheet-2025-03-31.pdf", "calibration-sheet-2025-03-31.svg"]


def test_text_says_which_face_goes_up_and_names_what_stands_out(bench):
    _, form, calibrate = bench
    text = filled(form).splitlines()
    at = next(i for i, line in enumerate(text) if line.startswith("AX,slot,X,exit"))
    cells = text[at].split(",")
    cells[6] = f"{float(cells[6]) + 0.3:.2f}"
    text[at] = ",".join(cells)
    done = calibrate("\n".join(text) + "\n", "--dry")
    assert done.exit_code == 0, done.output
    assert "entry face (the beam's side) up" in done.output
    assert f"AX at the exit face, reading 2 (line {at + 1})" in done.output
    assert "stands out, but used" in done.output
    assert "without what stands out the kerf would be" in done.output
    left = calibrate("\n".join(text) + "\n", "--dry", "--leave-out", str(at + 1))
    assert "stands out" not in left.output


@pytest.mark.parametrize(
    ("edit", "words"),
    [
        (lambda f: filled(f, lambda d, v: v / 25.4), "looks like inch"),
        (lambda f: filled(f, lambda d, v: v / 25.4 if d == 14 else v), "others not"),
        (lambda f: filled(f, lambda d, v: v + 0.5 if d == 60 else v), "larger than"),
        (lambda f: filled(f, lambda d, v: 2 * d - v), "changed the wrong way"),
        (lambda f: filled(f).replace(",X,entry,", ",entry,X,"), "columns look exchanged"),
        (lambda f: f, "no reading is filled in"),
        (lambda f: filled(f, head={"resolution": "0.01"}), "does not say: measured on"),
        (lambda f: filled(f).replace("# sheet: sheet", "# sheet: mdf"), "sheets"),
        (lambda f: filled(f).replace("# laser: big", "# laser: huge"), "lasers there: big"),
        (
            lambda f: "\n".join(
                line
                for line in filled(f).splitlines()
                if line.startswith(("#", "feature", "X60,outside,X,entry"))
            ).replace("reading 2,reading 3", "note,other"),
            "single reading",
        ),
    ],
    ids=[
        "inches",
        "mixed units",
        "outside grew",
        "compensated",
        "columns",
        "empty",
        "no date",
        "no sheet",
        "no laser",
        "single",
    ],
)
def test_bad_forms_are_named_and_change_nothing(bench, edit, words):
    shop, form, calibrate = bench
    done = calibrate(edit(form))
    assert done.exit_code == 2, done.output
    assert words in done.output
    assert "Traceback" not in done.output
    assert shop.read_text() == SHOP
    assert not (shop.parent / "cal").exists()


def test_a_second_card_of_one_name_is_refused_and_another_name_kept(bench):
    shop, form, calibrate = bench
    assert calibrate(filled(form)).exit_code == 0
    once = shop.read_text()
    again = calibrate(filled(form, seed=2))
    assert again.exit_code == 2
    assert "older cards are kept" in again.output
    assert shop.read_text() == once
    assert calibrate(filled(form, seed=2), "--card", "second").exit_code == 0
    assert read_shop(shop).lasers[0].card_for("sheet").name == "second"


def test_a_guide_cut_with_the_calibrated_card_is_proven(bench, tmp_path):
    """Elliptical beam, unequal scales, cut-outs and curves: the file that is written proves."""
    shop, form, calibrate = bench
    assert calibrate(filled(form, curve=0.1)).exit_code == 0
    card = read_shop(shop).lasers[0].card_for("sheet")
    assert card.along_x_mm != card.along_y_mm
    assert card.scale_x != card.scale_y
    assert card.curve_mm2 > 0
    job = shop.parent / "job.toml"
    job.write_text(JOB)
    shop.write_text(shop.read_text() + FINDER)
    done = run.invoke(app, ["make", str(job), "--out", str(tmp_path / "cut")])
    assert done.exit_code == 0, done.output
    record = json.loads((tmp_path / "cut" / "record.json").read_text())
    (proof,) = record["setups"][0]["proof"]
    assert proof["least_gap_mm"] == pytest.approx(0.15, abs=0.002)
    assert max(abs(v) for v in proof["offset_errors_mm"].values()) < 0.001


@pytest.mark.parametrize(("material", "code"), [("black vinyl", 1), ("ABS", 1), ("mystery", 0)])
def test_no_cut_file_is_written_for_stock_that_must_not_be_cut(bench, tmp_path, material, code):
    shop, _, _ = bench
    shop.write_text(shop.read_text().replace("cast acrylic", material) + FINDER)
    job = shop.parent / "job.toml"
    job.write_text(JOB)
    done = run.invoke(app, ["make", str(job), "--out", str(tmp_path / "cut")])
    assert done.exit_code == code, done.output
    assert ("must not be cut" in done.output) is (code == 1)
    assert ("WARN" in done.output) is (code == 0)
    assert (tmp_path / "cut").exists() is (code == 0)
