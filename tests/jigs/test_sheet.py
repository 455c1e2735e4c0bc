"""The set-up sheet: complete, never empty, the same bytes twice, right in both units."""

from __future__ import annotations

import dataclasses
import math
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from jigs.drawing.height_view import height_figure
from jigs.drawing.scene import overlaps
from jigs.finding import Finding, Severity
from jigs.job import read_job
from jigs.plan import Plan, plan
from jigs.proof import Proof
from jigs.setup import Flip
from jigs.sheet.content import (
    Field,
    Fields,
    Grid,
    Lines,
    Notices,
    Picture,
    Section,
    SheetContent,
    plain,
)
from jigs.sheet.datum_content import SQUARE_MOST_RAD, allowed_turn_rad
from jigs.sheet.html import html_text
from jigs.sheet.pdf import pdf_bytes
from jigs.sheet.setup_content import sheet_content
from jigs.templates import template_path
from kerf.errors import InputError

PROVEN = Proof(
    plate="op20",
    least_gap_mm=0.29,
    greatest_gap_mm=0.31,
    contact_gaps_mm=(),
    offset_errors_mm=(),
    findings=(),
)
HASH = "0123456789abcdef" * 4


@pytest.fixture(scope="module")
def lever() -> Plan:
    return plan(read_job(template_path("tide-lever") / "job.toml"))


@pytest.fixture(scope="module")
def content(lever: Plan) -> SheetContent:
    return sheet_content(lever, 0, record_sha256=HASH)


def grid(content: SheetContent, key: str) -> Grid:
    section = content.section(key)
    assert section is not None
    return next(b for b in section.blocks if isinstance(b, Grid))


def test_the_picture_comes_first_and_is_the_largest(content: SheetContent) -> None:
    first = content.sections[0]
    assert first.key == "picture"
    (picture,) = (b for b in first.blocks if isinstance(b, Picture))
    figure = picture.figures[0]
    others = [
        f
        for section in content.sections[1:]
        for block in section.blocks
        if isinstance(block, Picture)
        for f in block.figures
    ]
    assert figure.width_mm > 150
    assert all(overlaps(f) == () for f in (figure, *others))


def test_the_datum_table_repeats_the_guide(lever: Plan, content: SheetContent) -> None:
    datums = lever.setups[0].guide.datums
    rows = grid(content, "datums").rows
    assert [row[0] for row in rows] == [d.axis for d in datums] == ["X", "Y", "Z"]
    for row, datum in zip(rows, datums, strict=True):
        assert row[1] == datum.face
        assert row[2].replace("-", "−") == datum.side.replace("-", "−")
        assert float(row[3].split()[0]) == pytest.approx(datum.offset_mm, abs=5.1e-4)
        assert float(row[6].split()[0]) == pytest.approx(datum.reading_mm, abs=5.1e-4)
        assert float(row[4].split()[0].lstrip("±")) >= datum.u_mm
        # What stands at touch differs from the face by the tip's radius, on the side it names.
        sign = -1 if row[2].startswith("-") else 1
        tip = 0.0 if row[5] == "none" else float(row[5].split()[0])
        gap = float(row[6].split()[0]) - float(row[3].split()[0])
        assert gap == pytest.approx(sign * tip, abs=1.1e-3)


def test_every_number_in_a_table_carries_its_unit(content: SheetContent) -> None:
    for key in ("datums", "checks", "first-piece"):
        for row in grid(content, key).rows:
            for cell in row:
                if re.fullmatch(r"[±+-]?\d+\.\d+.*", cell):
                    assert cell.endswith(" mm"), cell


def test_sections_with_nothing_to_say_are_left_out(tmp_path: Path) -> None:
    bare = sheet_content(plan(read_job(job_file(tmp_path))), 0)
    assert bare.section("first-piece") is None
    assert bare.section("budget") is None
    assert bare.section("offset-lines") is None
    assert bare.code == ""
    for section in bare.sections:
        assert section.blocks


@pytest.mark.parametrize(
    "make",
    [
        lambda: Fields(fields=()),
        lambda: Grid(columns=("a",), rows=()),
        lambda: Lines(lines=()),
        lambda: Notices(notices=()),
        lambda: Picture(figures=()),
        lambda: Section(key="k", heading="h", blocks=()),
    ],
)
def test_an_empty_block_is_refused(make) -> None:
    with pytest.raises(InputError, match="must be left out"):
        make()


def test_a_row_of_the_wrong_length_is_refused() -> None:
    with pytest.raises(InputError, match="2 cells; its table has 1 columns"):
        Grid(columns=("a",), rows=(("1", "2"),))


def test_offset_lines_only_when_asked_and_with_their_caution(lever: Plan) -> None:
    asked = sheet_content(lever, 0, offset_lines=True).section("offset-lines")
    assert asked is not None
    lines, caution = asked.blocks
    assert isinstance(lines, Lines)
    assert isinstance(caution, Notices)
    assert "Verify" in caution.notices[0].text
    datums = lever.setups[0].guide.datums
    assert lines.lines[0] == "G21 (millimetres)"
    for line, datum in zip(lines.lines[1:], datums, strict=True):
        found = re.fullmatch(r"G10 L2 P1 ([XYZ])\[([xyz]) ([+-]) (\d+\.\d+)\]", line)
        assert found is not None
        # Offset = machine coordinate at touch − what the axis must read there.
        value = float(found[3] + found[4])
        assert value == pytest.approx(-datum.reading_mm, abs=5.1e-4)


def test_allowed_turn_keeps_every_feature_within_its_share(lever: Plan) -> None:
    """Source: sweep rule atan(TIR / length), .02/100 gives .0115° (common practice)."""
    assert math.degrees(SQUARE_MOST_RAD) == pytest.approx(0.0115, abs=5e-5)
    for planned in lever.setups:
        allowed = allowed_turn_rad(planned, lever)
        assert 0 < allowed <= SQUARE_MOST_RAD
        x, y, _ = planned.setup.zero_mm
        for feature in planned.part.critical:
            arm = math.hypot(feature.at.x - x, feature.at.y - y)
            assert arm * allowed <= 0.1 * feature.tolerance_mm + 1e-12


def test_the_sweep_reading_is_length_times_turn_rounded_down(
    lever: Plan, content: SheetContent
) -> None:
    section = content.section("square")
    assert section is not None
    (line,) = section.blocks[0].lines
    length = float(re.search(r"over ([\d.]+) mm", line)[1])
    reading = float(re.search(r"change by ([\d.]+) mm", line)[1])
    exact = length * allowed_turn_rad(lever.setups[0], lever)
    assert exact - 0.0011 <= reading <= exact


def test_same_content_same_bytes_whatever_the_clock(
    content: SheetContent, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = pdf_bytes(content)
    monkeypatch.setenv("TZ", "Pacific/Kiritimati")
    monkeypatch.setenv("LC_ALL", "tr_TR.UTF-8")
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "86400")
    assert pdf_bytes(content) == first
    assert html_text(content) == html_text(content)
    assert b"CreationDate" not in first or b"1970" in first or b"D:1970" in first


@pytest.mark.parametrize(("paper", "size"), [("a4", (595.3, 841.9)), ("us-letter", (612, 792))])
def test_paper(lever: Plan, paper: str, size: tuple[float, float]) -> None:
    import io

    import pdfplumber

    made = pdf_bytes(sheet_content(lever, 0, paper=paper))
    with pdfplumber.open(io.BytesIO(made)) as pdf:
        for page in pdf.pages:
            assert (float(page.width), float(page.height)) == pytest.approx(size, abs=0.1)
            # Nothing is set off the paper.
            for char in page.chars:
                assert char["x0"] > 20
                assert char["x1"] < size[0] - 20


def test_unknown_paper_is_refused(lever: Plan) -> None:
    with pytest.raises(InputError, match='paper "a7" is unknown'):
        sheet_content(lever, 0, paper="a7")


def test_fonts_are_inside_the_pdf(content: SheetContent) -> None:
    import io

    import pdfplumber

    with pdfplumber.open(io.BytesIO(pdf_bytes(content))) as pdf:
        names = {char["fontname"].split("+")[-1] for page in pdf.pages for char in page.chars}
    assert names
    assert all(name.startswith(("LibertinusSerif", "DejaVuSansMono")) for name in names)


def test_a_shops_own_template_is_used_and_a_broken_one_named(
    content: SheetContent, tmp_path: Path
) -> None:
    own = tmp_path / "own.typ"
    own.write_text("#let c = json(bytes(sys.inputs.content))\n#c.first().title\n")
    assert pdf_bytes(content, template=own) != pdf_bytes(content)
    own.write_text("#nonsense")
    with pytest.raises(InputError, match="cannot be set") as caught:
        pdf_bytes(content, template=own)
    assert "own.typ" in caught.value.describe()
    with pytest.raises(InputError, match="missing"):
        pdf_bytes(content, template=tmp_path / "none.typ")


class _Words(HTMLParser):
    """Collects text and checks that tags close in order."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: object) -> None:
        if tag not in ("meta", "path"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag != "path":
            assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def test_html_says_what_the_pdf_says(content: SheetContent) -> None:
    page = html_text(content)
    parser = _Words()
    parser.feed(page)
    assert parser.open == []
    text = " ".join(parser.words)
    for section in content.sections:
        assert section.heading in text
        for block in section.blocks:
            if isinstance(block, Grid):
                assert all(cell in text for row in block.rows for cell in row)
            if isinstance(block, Lines):
                assert all(line in text for line in block.lines)
    assert "http" not in page.replace("http://www.w3.org/2000/svg", "")


def test_html_escapes_what_a_job_says(content: SheetContent) -> None:
    odd = content.with_section(
        Section(
            key="odd",
            heading="<b>",
            blocks=(Fields(fields=(Field(name="a & b", value='<script>"'),)),),
        )
    )
    page = html_text(odd)
    assert "<script>" not in page
    assert "&lt;b&gt;" in page


def test_a_failed_check_is_said_before_anything_else(lever: Plan) -> None:
    fault = Finding(
        code="web-thin",
        severity=Severity.FAIL,
        subject="nest",
        message="web is 1.00 mm; it must be at least 4.92 mm",
        hint="widen the plate",
    )
    note = dataclasses.replace(fault, severity=Severity.NOTE, message="worth knowing")
    planned = dataclasses.replace(lever.setups[0], findings=(note, fault))
    failed = sheet_content(dataclasses.replace(lever, setups=(planned,)), 0)
    assert failed.banner == "DO NOT USE: 1 check failed. See Findings."
    section = failed.section("findings")
    assert section is not None
    (block,) = section.blocks
    assert isinstance(block, Notices)
    assert [n.weight for n in block.notices][:2] == ["FAIL", "NOTE"]
    page = html_text(failed)
    assert page.index("DO NOT USE") < page.index("<section")
    assert sheet_content(lever, 0).banner == ""


def test_a_sheet_without_proof_says_so(lever: Plan) -> None:
    planned = dataclasses.replace(lever.setups[0], proofs=(PROVEN,))
    proven = sheet_content(dataclasses.replace(lever, setups=(planned,)), 0)
    said = "not cut virtually"
    assert said not in html_text(proven)
    assert said in html_text(sheet_content(lever, 0))


@pytest.mark.parametrize(
    ("flip", "zero", "low"), [("none", 12.0, -12.0), ("none", 0.0, 0.0), ("x", 3.0, -9.0)]
)
def test_the_heights_are_drawn_from_zero(
    lever: Plan, flip: str, zero: float, low: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The part is 12 mm tall: turned over, a point 3 mm above its underside has 9 mm under it."""
    seen = []
    monkeypatch.setattr(
        "jigs.sheet.datum_content.height_figure", lambda v: seen.append(v) or height_figure(v)
    )
    planned = lever.setups[0]
    setup = dataclasses.replace(planned.setup, flip=Flip(flip), zero_mm=(0.0, 0.0, zero))
    planned = dataclasses.replace(planned, setup=setup)
    sheet_content(dataclasses.replace(lever, setups=(planned,)), 0)
    (view,) = seen
    assert view.part_low_mm == pytest.approx(low)
    assert view.part_high_mm - view.part_low_mm == pytest.approx(12.0)
    assert view.plate_low_mm == pytest.approx(low)


def test_a_section_can_be_put_before_another(content: SheetContent) -> None:
    tools = Section(key="tools", heading="Tools", blocks=(Lines(lines=("T1 6 mm end mill",)),))
    keys = [s.key for s in content.with_section(tools, before="checks").sections]
    assert keys.index("tools") == keys.index("checks") - 1
    with pytest.raises(InputError, match='no section "nowhere"'):
        content.with_section(tools, before="nowhere")
    assert plain(content)["title"] == content.title


def job_file(folder: Path, *, units: str = "mm", critical: str = "") -> Path:
    """Write a job with the shop's starter file beside it and return its path."""
    (folder / "shop.toml").write_text(template_path("shop.toml").read_text(encoding="utf-8"))
    inch = units == "inch"
    size, zero = (
        ("3.0, height = 2.0, radius = 0.25", "[0.5, 0.5, 0]")
        if inch
        else (
            "80, height = 50, radius = 8",
            "[10, 10, 0]",
        )
    )
    path = folder / "job.toml"
    path.write_text(
        f"""schema = 1
units = "{units}"
shop = "shop.toml"
[job]
number = "77"
name = "Plate"
revision = "C"
[part]
shape = {{ kind = "rounded rectangle", width = {size} }}
height = {0.4 if inch else 10}
material = "6061-T6"
edge_tolerance = {0.001 if inch else 0.03}
{critical}
[[setup]]
name = "op10"
guide = "nest"
sheet = "acrylic-5"
clearance = {0.004 if inch else 0.1}
zero = {zero}
"""
    )
    return path


def test_inch_sheet_is_in_inches_throughout(tmp_path: Path) -> None:
    critical = '[[part.critical]]\nname = "bore"\nat = [1, 0.5]\ntolerance = 0.02\n'
    made = plan(read_job(job_file(tmp_path, units="inch", critical=critical)))
    content = sheet_content(made, 0)
    assert content.units == "inches"
    for row, datum in zip(grid(content, "datums").rows, made.setups[0].guide.datums, strict=True):
        assert row[3].endswith(" in")
        assert float(row[3].split()[0]) * 25.4 == pytest.approx(datum.offset_mm, abs=1.3e-4)
    text = re.sub(r"<svg.*?</svg>|<style>.*?</style>", "", html_text(content), flags=re.S)
    # Left in millimetres is the finder's own name; a sentence tells the inches beside them.
    text = text.replace("10 mm edge finder", "")
    assert text.count(" mm") == len(re.findall(r" mm \([^)]* in\)", text)) == 2
    figures = [
        f for s in content.sections for b in s.blocks if isinstance(b, Picture) for f in b.figures
    ]
    assert not [t.text for f in figures for t in f.texts() if " mm" in t.text]


def test_a_part_that_is_stuck_down_comes_off_again(lever: Plan) -> None:
    said = {
        planned.setup.name: " ".join(seat.blocks[0].lines)
        for i, planned in enumerate(lever.setups)
        if (seat := sheet_content(lever, i).section("seat")) is not None
    }
    assert "lift the part square off its pins" in said["op20"]
    assert [name for name, text in said.items() if "To take it off" in text] == ["op20"]


def test_a_gauge_names_its_radii_and_offers_no_zero_and_no_hold(lever: Plan) -> None:
    content = sheet_content(lever, len(lever.setups) - 1, offset_lines=True)
    assert content.section("offset-lines") is None
    names = {text.text for text in content.first_figure.texts()}
    radii = {edge.radius_mm for edge in lever.job.part.region.outer.edges() if not edge.is_line}
    told = {float(name.split()[1]) for name in names if re.fullmatch(r"R [\d.]+ mm", name)}
    assert told
    assert all(min(abs(r - wanted) for r in radii) < 1e-3 for wanted in told)
    job = content.section("job")
    assert job is not None
    assert "held by, coolant" not in [field.name for field in job.blocks[0].fields]
