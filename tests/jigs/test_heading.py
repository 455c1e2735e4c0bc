"""What the shop says of a sheet: read, refused, printed, or left as a line to fill in."""

from __future__ import annotations

import dataclasses
import json
import re
from pathlib import Path

import pytest
from test_sheet import job_file

from jigs.job import read_job
from jigs.plan import Plan, plan
from jigs.record import record_bytes
from jigs.sheet.content import Fields, Grid, SheetContent
from jigs.sheet.html import html_text
from jigs.sheet.setup_content import sheet_content
from jigs.templates import template_path
from kerf.errors import InputError, KerfError

JOB = """revision = "C"
quantity = 7
sheet_revision = "3"
supersedes = "2"
[[job.change]]
date = 2026-02-01
what = "first issue"
by = "AB"
[[job.change]]
date = "2026-03-02"
what = "wider wall"
"""
SETUP = """name = "op10"
machine = "knee mill 2"
program = "O0077"
slot = "B3"
drawing_datums = { X = "B", Y = "C-D", Z = "AA" }
"""


def written(folder: Path, *, job: str = JOB, setup: str = SETUP, shop: str = "") -> Path:
    path = job_file(folder)
    text = path.read_text()
    path.write_text(
        text.replace('revision = "C"\n', job).replace('name = "op10"\n', setup), encoding="utf-8"
    )
    own = folder / "shop.toml"
    own.write_text(own.read_text().replace('units = "mm"\n', f'units = "mm"\n{shop}', 1))
    return path


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    return plan(read_job(written(tmp_path_factory.mktemp("told"))))


def head(content: SheetContent) -> dict[str, str]:
    return {field.name: field.value for field in content.head}


def job_fields(content: SheetContent) -> dict[str, str]:
    section = content.section("job")
    assert section is not None
    block = section.blocks[0]
    assert isinstance(block, Fields)
    return {field.name: field.value for field in block.fields}


def test_what_is_given_is_printed(told: Plan) -> None:
    content = sheet_content(told, 0)
    assert head(content) == {
        "quantity": "7",
        "machine": "knee mill 2",
        "program": "O0077",
        "sheet revision": "3",
        "supersedes": "2",
    }
    assert content.subtitle == "rev C · op10, operation 1 of 1"
    assert job_fields(content)["stored at"] == "B3"
    assert job_fields(content)["guide ID"] == "77-op10"
    assert "drawing datums on" not in job_fields(content)
    section = content.section("datums")
    assert section is not None
    grid = section.blocks[0]
    assert isinstance(grid, Grid)
    assert [row[-1] for row in grid.rows] == ["B", "C-D", "AA"]
    log = content.section("sign-off")
    assert log is not None
    (table,) = (b for b in log.blocks if isinstance(b, Grid))
    assert table.rows == (
        ("2026-02-01", "first issue", "AB"),
        ("2026-03-02", "wider wall", ""),
        *((("", "", ""),) * 3),
    )


def test_what_is_not_given_is_a_line_to_fill_in(tmp_path: Path) -> None:
    content = sheet_content(plan(read_job(job_file(tmp_path))), 0)
    assert head(content) == {
        "quantity": "1",
        "machine": "",
        "program": "",
        "sheet revision": "",
        "supersedes": "",
    }
    assert job_fields(content)["stored at"] == ""
    assert job_fields(content)["drawing datums on"] == ""
    page = html_text(content)
    assert re.search(r"<dt>program</dt><dd class=\"write\"></dd>", page)


def test_a_first_sheet_supersedes_none(tmp_path: Path) -> None:
    path = written(tmp_path, job='revision = "C"\nsheet_revision = "1"\n')
    assert head(sheet_content(plan(read_job(path)), 0))["supersedes"] == "none"


def test_the_record_keeps_it(told: Plan) -> None:
    kept = json.loads(record_bytes(told))
    assert kept["job"]["sheet_revision"] == "3"
    assert kept["job"]["changes"][1] == {"date": "2026-03-02", "what": "wider wall", "by": ""}
    (setup,) = kept["setups"]
    assert setup["drawing_datums"] == {"X": "B", "Y": "C-D", "Z": "AA"}
    assert (setup["machine"], setup["program"], setup["slot"]) == ("knee mill 2", "O0077", "B3")


def test_the_mill_that_judged_the_cuts_is_the_machine() -> None:
    lever = plan(read_job(template_path("tide-lever") / "job.toml"))
    machines = [head(sheet_content(lever, i))["machine"] for i in range(len(lever.setups))]
    # op10, op20 and op30 are cut or held; nobody said where the nest is used.
    assert machines == ["knee mill", "knee mill", "knee mill", "", ""]


@pytest.mark.parametrize(
    ("job", "setup", "says"),
    [
        (JOB.replace('sheet_revision = "3"\n', ""), SETUP, "not by which"),
        (JOB.replace('"2"\n[[', '"3"\n[['), SETUP, "supersedes itself"),
        (JOB.replace('"2026-03-02"', '"2 March"'), SETUP, r"date is '2 March'.*change\[1\]\.date"),
        (JOB.replace('date = "2026-03-02"\n', ""), SETUP, "needs its date"),
        (JOB.replace('what = "wider wall"\n', ""), SETUP, "what"),
        (JOB.replace("[[job.change]]", "[[job.changes]]"), SETUP, "changes"),
        (JOB, SETUP.replace('"B"', '"b"'), 'datum "b" is no datum letter'),
        (JOB, SETUP.replace('"B"', '"I"'), 'datum "I" is no datum letter'),
        (JOB, SETUP.replace("X =", "U ="), "U"),
        (JOB, SETUP.replace('{ X = "B", Y = "C-D", Z = "AA" }', '"B"'), "must be a table"),
    ],
)
def test_refusals_name_their_key(tmp_path: Path, job: str, setup: str, says: str) -> None:
    with pytest.raises(KerfError) as caught:
        read_job(written(tmp_path, job=job, setup=setup))
    assert re.search(says, caught.value.describe(), re.S)
    assert "job.toml: " in caught.value.describe()


def test_a_template_has_no_drawing_datums(tmp_path: Path) -> None:
    (tmp_path / "shop.toml").write_text(template_path("shop.toml").read_text(encoding="utf-8"))
    text = (template_path("template") / "job.toml").read_text(encoding="utf-8")
    path = tmp_path / "job.toml"
    path.write_text(text + 'drawing_datums = { X = "A" }\n', encoding="utf-8")
    with pytest.raises(InputError, match="sets no axis"):
        read_job(path)


def test_the_shop_asks_for_offset_lines(tmp_path: Path) -> None:
    made = plan(read_job(written(tmp_path, shop="offset_lines = true\n")))
    assert sheet_content(made, 0).section("offset-lines") is not None
    assert sheet_content(made, 0, offset_lines=False).section("offset-lines") is None


def test_the_shops_own_template_is_used_and_recorded(tmp_path: Path) -> None:
    from jigs.outputs import output_files

    own = tmp_path / "ours.typ"
    own.write_text("#let c = json(bytes(sys.inputs.content))\n#c.first().title\n")
    path = written(tmp_path, shop='setup_sheet = "ours.typ"\n')
    made = plan(read_job(path))
    assert [file.name for file in made.job.inputs[:3]] == ["job.toml", "shop.toml", "ours.typ"]
    _, files = output_files(made, with_proof=False)
    shop = dataclasses.replace(made.job.shop, setup_sheet=None)
    usual = dataclasses.replace(made, job=dataclasses.replace(made.job, shop=shop))
    assert files["setup-sheet.pdf"] != output_files(usual, with_proof=False)[1]["setup-sheet.pdf"]
    own.unlink()
    with pytest.raises(InputError, match="does not exist beside the shop file"):
        read_job(path)


def test_what_is_engraved_has_a_letter_for_every_character(tmp_path: Path) -> None:
    """Each key that cannot be burnt is named in one run, with the characters."""
    (tmp_path / "shop.toml").write_text(template_path("shop.toml").read_text(encoding="utf-8"))
    text = (template_path("nest") / "job.toml").read_text(encoding="utf-8")
    for old, new in (('"1001"', '"Ü1"'), ('revision = "A"', 'revision = "é"'), ("op10", "ø10")):
        assert old in text
        text = text.replace(old, new)
    path = tmp_path / "job.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(KerfError) as caught:
        read_job(path)
    told = caught.value.describe()
    for words in ("U+00DC", "job.number", "U+00E9", "job.revision", "U+00F8", "setup[0].name"):
        assert words in told
