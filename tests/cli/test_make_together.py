"""``jigs make --together``: sheets, remnants, the shop's output profile, and what is refused."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import ezdxf
import pytest
import shapely
import virtual_laser as laser
from typer.testing import CliRunner

from jigs.cli.app import app

TEMPLATES = Path(__file__).parents[2] / "templates"
run = CliRunner()


@pytest.fixture(scope="module")
def shop_folder(tmp_path_factory) -> Path:
    """Two jobs (a corner guide, and one more of it) on one shop file."""
    folder = tmp_path_factory.mktemp("shop")
    corner = (TEMPLATES / "corner" / "job.toml").read_text()
    assert '"1002"' in corner
    (folder / "a.toml").write_text(corner)
    (folder / "b.toml").write_text(corner.replace('"1002"', '"1003"'))
    (folder / "shop.toml").write_text((TEMPLATES / "shop.toml").read_text())
    return folder


def make(folder: Path, *arguments: str, jobs: tuple[str, ...] = ("a.toml", "b.toml")):
    out = ["--out", str(folder / "out")]
    return run.invoke(app, ["make", *(str(folder / j) for j in jobs), *arguments, *out])


@pytest.fixture(scope="module")
def made(shop_folder: Path):
    """Both jobs, made together once."""
    return make(shop_folder, "--together")


def test_one_file_a_sheet_and_a_folder_a_job(made, shop_folder: Path) -> None:
    """The record of each job names the sheet its plates are cut in."""
    assert made.exit_code == 0, made.output
    out = shop_folder / "out"
    (sheet,) = out.glob("sheet-*.dxf")
    assert sheet.with_suffix(".svg").exists()
    assert "1002/op10, 1003/op10" in made.stderr
    assert "% becomes plates" in made.stderr
    for job in ("1002", "1003"):
        assert (out / job / "setup-sheet.pdf").exists()
        assert not (out / job / "op10.dxf").exists()
        record = json.loads((out / job / "record.json").read_text())
        assert (out / job / record["setups"][0]["plates"][0]["dxf"]).resolve() == sheet.resolve()


def test_every_layer_has_the_sheets_frame(made, shop_folder: Path) -> None:
    """The lower left corner of the sheet is (0, 0) of the file; nothing lies outside it."""
    (sheet,) = (shop_folder / "out").glob("sheet-*.dxf")
    doc = ezdxf.readfile(sheet)
    assert tuple(doc.header["$LIMMIN"])[:2] == (0, 0)
    assert tuple(doc.header["$LIMMAX"])[:2] == (600, 400)
    for entity in doc.modelspace():
        if entity.dxftype() == "LWPOLYLINE":
            for x, y in entity.get_points("xy"):
                assert 0 <= x <= 600
                assert 0 <= y <= 400


def test_the_plates_of_a_sheet_are_those_of_their_own_files(made, shop_folder: Path) -> None:
    """Cut with the tests' own laser: two equal plates, as large as the guide's own file leaves."""
    own = make(shop_folder, jobs=("a.toml",))
    assert own.exit_code == 0, own.output
    alone = laser.cut(shop_folder / "out" / "op10.dxf", 0.24).plate
    (sheet,) = (shop_folder / "out").glob("sheet-*.dxf")
    doc = ezdxf.readfile(sheet)
    outsides = [e for e in doc.modelspace() if e.dxf.layer == "OUTSIDE"]
    swath = shapely.union_all(
        [shapely.LinearRing(laser.loop_points(e)).buffer(0.12, quad_segs=64) for e in outsides]
    )
    plates = [
        p
        for p in shapely.get_parts(shapely.box(0, 0, 600, 400).difference(swath))
        if p.area < 100_000
    ]
    assert len(plates) == 2
    for plate in plates:
        assert plate.area == pytest.approx(alone.area, rel=1e-6)
    assert plates[0].distance(plates[1]) >= 5.0


def test_what_is_left_goes_back_to_the_shelf_and_is_used_next(shop_folder: Path, tmp_path) -> None:
    """Put back once, read again, and the next run is cut from it; then the shelf is as it was."""
    for file in ("a.toml", "b.toml", "shop.toml"):
        (tmp_path / file).write_text((shop_folder / file).read_text())
    first = make(tmp_path, "--together", "--put-back", "--no-proof", jobs=("a.toml",))
    assert first.exit_code == 0, first.output
    assert "put 1 remnant(s) back into shop.toml" in first.stderr
    (row,) = tomllib.loads((tmp_path / "shop.toml").read_text())["remnant"]
    assert row["sheet"] == "acrylic-5"
    second = make(tmp_path, "--together", "--put-back", "--no-proof", jobs=("b.toml",))
    assert second.exit_code == 0, second.output
    assert f'remnant "{row["name"]}"' in second.stderr
    names = [r["name"] for r in tomllib.loads((tmp_path / "shop.toml").read_text())["remnant"]]
    assert names == ["sheet-acrylic-5-1003-1"]


def test_the_shops_profile_is_followed(shop_folder: Path, tmp_path) -> None:
    """Layer names, colours, R12, one file a guide, and the kerf left to the laser's software."""
    for file in ("a.toml", "b.toml"):
        (tmp_path / file).write_text((shop_folder / file).read_text())
    (tmp_path / "shop.toml").write_text(
        (shop_folder / "shop.toml").read_text()
        + '\n[output]\nrelease = "R12"\nkerf = "left"\nfile_per = "guide"\nline_width = 0.25\n'
        '[output.layers]\noutside = "CUT LAST"\n[output.colours]\noutside = "#ff0000"\n'
    )
    done = make(tmp_path, "--together")
    assert done.exit_code == 0, done.output
    out = tmp_path / "out"
    assert not list(out.glob("sheet-*"))
    file = out / "1002" / "op10-kerf-not-applied.dxf"
    doc = ezdxf.readfile(file)
    assert doc.dxfversion == "AC1009"
    assert doc.layers.get("CUT LAST").color == 1
    (outside,) = [e for e in doc.modelspace() if e.dxf.layer == "CUT LAST"]
    record = json.loads((out / "1002" / "record.json").read_text())
    plate = record["setups"][0]["plates"][0]
    assert plate["dxf"] == file.name
    drawn = shapely.Polygon(laser.loop_points(outside))
    xs = [v[0] for v in plate["finished"][0]]
    assert drawn.bounds[2] - drawn.bounds[0] == pytest.approx(max(xs) - min(xs), abs=1e-4)
    svg = file.with_suffix(".svg").read_text()
    assert "KERF NOT APPLIED: finished size" in svg
    assert 'stroke-width="0.25"' in svg


def test_jobs_of_different_sheets_go_on_different_sheets(shop_folder: Path, tmp_path) -> None:
    """And the report says which plate lies on which."""
    (tmp_path / "a.toml").write_text((shop_folder / "a.toml").read_text())
    text = (shop_folder / "b.toml").read_text()
    (tmp_path / "b.toml").write_text(text.replace('sheet = "acrylic-5"', 'sheet = "acrylic-6"'))
    shop = (shop_folder / "shop.toml").read_text()
    start = shop.index("[[laser.card]]")
    card, sheet = shop[start : shop.index("[[sheet]]")], shop[shop.index("[[sheet]]") :]
    sheet = sheet[: sheet.index("[[finder]]")]
    more = (card + sheet).replace("acrylic-5", "acrylic-6")
    (tmp_path / "shop.toml").write_text(
        shop[:start] + more[: len(card)] + shop[start:] + more[len(card) :]
    )
    done = make(tmp_path, "--together", "--no-proof")
    assert done.exit_code == 0, done.output
    assert 'sheet-acrylic-5-1002-1003-1: sheet "acrylic-5"' in done.stderr
    assert 'sheet-acrylic-6-1002-1003-2: sheet "acrylic-6"' in done.stderr
    assert len(list((tmp_path / "out").glob("sheet-*.dxf"))) == 2


@pytest.mark.parametrize(
    ("edit", "arguments", "says"),
    [
        (None, (), "add --together"),
        (("b.toml", "shop.toml", "other.toml"), ("--together",), "name different shop files"),
        (("b.toml", '"1003"', '"1002"'), ("--together",), 'two jobs are numbered "1002"'),
        (("shop.toml", "size = [600, 400]", "size = [600, 90]"), ("--together",), "fits on none"),
        (("shop.toml", "price = 18.0", "gap = -1"), ("--together",), "must be at least 0 mm"),
    ],
    ids=["two jobs alone", "two shops", "one number", "nothing fits", "negative gap"],
)
def test_bad_input_is_one_clear_message(shop_folder, tmp_path, edit, arguments, says) -> None:
    """Exit code 2, nothing written."""
    for file in ("a.toml", "b.toml", "shop.toml"):
        (tmp_path / file).write_text((shop_folder / file).read_text())
    (tmp_path / "other.toml").write_text((shop_folder / "shop.toml").read_text())
    if edit is not None:
        file, old, new = edit
        text = (tmp_path / file).read_text()
        assert old in text
        (tmp_path / file).write_text(text.replace(old, new))
    done = make(tmp_path, *arguments)
    assert done.exit_code == 2, done.output
    assert says in done.stderr
    assert "Traceback" not in done.output
    assert not (tmp_path / "out").exists()


def test_a_remnant_on_the_shelf_already_stops_before_anything_is_written(
    shop_folder: Path, tmp_path
) -> None:
    """Putting the same layout back twice would invent plastic."""
    (tmp_path / "a.toml").write_text((shop_folder / "a.toml").read_text())
    (tmp_path / "shop.toml").write_text(
        (shop_folder / "shop.toml").read_text()
        + '\n[[remnant]]\nname = "sheet-acrylic-5-1002-1"\nsheet = "acrylic-5"\n'
        "outline = [[0, 0], [60, 0], [60, 60], [0, 60]]\n"
    )
    before = (tmp_path / "shop.toml").read_text()
    done = make(tmp_path, "--together", "--put-back", "--no-proof", jobs=("a.toml",))
    assert done.exit_code == 2, done.output
    assert "is on the shelf already" in done.stderr
    assert not (tmp_path / "out").exists()
    assert (tmp_path / "shop.toml").read_text() == before


def test_a_job_number_is_a_safe_folder_name(shop_folder: Path, tmp_path) -> None:
    """No number leads out of the output folder."""
    text = (shop_folder / "a.toml").read_text()
    (tmp_path / "a.toml").write_text(text.replace('"1002"', '"../10/02"'))
    (tmp_path / "shop.toml").write_text((shop_folder / "shop.toml").read_text())
    done = make(tmp_path, "--together", "--no-proof", "--json", jobs=("a.toml",))
    assert done.exit_code == 0, done.output
    assert json.loads(done.stdout)["job"]["number"] == "../10/02"
    assert {p.name for p in tmp_path.iterdir()} == {"a.toml", "shop.toml", "out"}
    assert (tmp_path / "out" / "--10-02" / "record.json").exists()
