"""A stranger reads the set-up sheet: from its text alone, the part's pose in the machine.

Every kind of guide and plane, in millimetres and inches, from the PDF and from the page.

Source: pdftotext -layout (poppler), and pdfplumber for the drawn letters; the truth is the
plate's geometry, which the sheet's writer and this reader do not share.
"""

from __future__ import annotations

import io
import math
import re
import subprocess
from html.parser import HTMLParser
from pathlib import Path

import pdfplumber
import pytest
from random_jobs import SHOP

from jigs.guides.kinds import KINDS
from jigs.job import read_job
from jigs.plan import Plan, plan
from jigs.sheet.content import SheetContent
from jigs.sheet.html import html_text
from jigs.sheet.pdf import pdf_bytes
from jigs.sheet.setup_content import sheet_content

LENGTH = r"([+-]?\d+\.\d+) (mm|in)"


TAPE = """
[[tape]]
name = "tape and glue"
thickness = 0.3
[[tape.test]]
way = "shear"
area = [25, 25]
force = "190 N"
"""
OUTLINE = [[0, 0], [91.3, 0], [91.3, 35.7], [55.1, 60.9], [0, 60.9]]
#: What a kind asks for beyond the keys they all share; lengths with their own unit.
KEYS = {
    "corner": '''hand = "right"''',
    "fence": """stops = ["0 mm", "60 mm"]\nstop = 2""",
    "nest": "",
    "pinplate": '''plate_thickness = "15.9 mm"\nbore_class = "H8"\nhold = "tape"''',
    "stack": '''lip = "3 mm"\npin = "6 mm"''',
    "standing": '''side = "left"''',
    "template": '''tolerance = "0.2 mm"''',
}
POINTS = ((0.0, 0.0), (91.3, 0.0), (55.1, 60.9), (30.0, 25.0))


def job(
    folder: Path, *, guide: str, turn: float, flip: str, units: str, zero: str, more: str = ""
) -> Plan:
    (folder / "shop.toml").write_text(SHOP + TAPE, encoding="utf-8")
    size = 1 / 25.4 if units == "inch" else 1.0
    outline = [[round(v * size, 6) for v in p] for p in OUTLINE]
    shape = f'{{ kind = "points", points = {outline} }}'
    if guide == "pinplate":
        bored = {"diameter": 90, "bore": 30, "bolt_circle": 68, "bolt_hole": 8}
        sizes = ", ".join(f"{key} = {round(v * size, 6)}" for key, v in bored.items())
        shape = f'{{ kind = "flange", bolts = 6, {sizes} }}'
    path = folder / "job.toml"
    path.write_text(
        f"""schema = 1
units = "{units}"
shop = "shop.toml"
[job]
number = "4711"
name = "Cover"
revision = "A"
[part]
shape = {shape}
height = {(8 if guide != "stack" else 22) * size}
material = "6061-T6"
edge_tolerance = {0.02 * size}
[[part.critical]]
name = "bore"
at = [{30 * size}, {25 * size}]
tolerance = {0.4 * size}
[[setup]]
name = "op10"
guide = "{guide}"
sheet = "acrylic-5"
clearance = {0.4 * size}
turn = {turn}
flip = "{flip}"
work_offset = "G55"
zero = {zero}
{KEYS[guide]}
{more}
""",
        encoding="utf-8",
    )
    return plan(read_job(path))


def read_text(pdf: bytes, poppler: str) -> str:
    done = subprocess.run(
        [poppler, "-layout", "-", "-"], input=pdf, stdout=subprocess.PIPE, check=True
    )
    return done.stdout.decode("utf-8")


def mm(value: str, unit: str) -> float:
    return float(value) * (25.4 if unit == "in" else 1.0)


def understood(text: str) -> dict[str, object]:
    """Return what the text says, knowing nothing of the program but the sheet's words."""
    faces = {}
    for line in text.splitlines():
        row = re.match(
            rf"\s*([XYZ])\s{{2,}}(\S.*?)\s{{2,}}([+-][XYZ])\s+{LENGTH}\s+±(\S+) (?:mm|in)\s+"
            rf"(?:none|{LENGTH})\s+{LENGTH}(?:\s+([A-Z-]+|none))?\s*$",
            line,
        )
        if row:
            faces[row[1]] = {
                "face": row[2],
                "side": row[3],
                "offset": mm(row[4], row[5]),
                "tip": mm(row[7], row[8]) if row[7] else 0.0,
                "reading": mm(row[9], row[10]),
                "letter": row[11],
            }
    zero = re.search(rf"part point x {LENGTH}, y {LENGTH}, z {LENGTH}", text)
    pose = re.search(
        r"The part is (not turned over|turned over about its ([xy]) axis),\s+and turned\s+"
        r"([\d.]+)°\s+(clockwise|counter-clockwise)",
        text,
    )
    offset = re.search(r"work offset (G\d\d)", text)
    assert zero
    assert pose
    assert offset
    turn = math.radians(float(pose[3])) * (-1 if pose[4] == "clockwise" else 1)
    return {
        "faces": faces,
        "zero": tuple(mm(zero[i], zero[i + 1]) for i in (1, 3, 5)),
        "turn": turn,
        "flip": pose[2] or "",
        "offset": offset[1],
    }


def machine(said: dict[str, object], x: float, y: float) -> tuple[float, float]:
    """Return where a part point stands in the machine, by what the sheet says."""
    zx, zy, _ = said["zero"]
    x, y = x - zx, y - zy
    if said["flip"] == "x":
        y = -y
    if said["flip"] == "y":
        x = -x
    c, s = math.cos(said["turn"]), math.sin(said["turn"])
    return c * x - s * y, s * x + c * y


def check_pose(made: Plan, said: dict[str, object]) -> None:
    """Compare distances from the touched faces to part points, on the plate and by the sheet."""
    planned = made.setups[0]
    guide = planned.guide
    axes = guide.plane.axes
    assert set(said["faces"]) == {"X", "Y", "Z"}
    for face in guide.faces:
        place = next(p for p in guide.plates if p.name == face.plate).to_part.inverse()
        along_x = abs(face.normal.x) > 0.5
        axis = axes[0] if along_x else axes[1]
        row = said["faces"][axis]
        assert row["face"].endswith(face.name)
        outward = face.normal.x if along_x else face.normal.y
        assert row["side"] == ("+" if outward > 0 else "-") + axis
        for x, y in POINTS:
            truth = place.point(x, y)
            from_face = truth.x - face.start.x if along_x else truth.y - face.start.y
            told = machine(said, x, y)[0 if along_x else 1] - row["offset"]
            assert told == pytest.approx(from_face, abs=1e-3)
    for axis, row in said["faces"].items():
        # The spindle stands a tip's radius off the face, on the side it touches from.
        gap = row["tip"] if row["side"][0] == "+" else -row["tip"]
        assert row["side"][1] == axis
        assert row["reading"] - row["offset"] == pytest.approx(gap, abs=1e-3)
    third = said["faces"][axes[2]]
    assert third["offset"] == pytest.approx(across(made, said, third), abs=1e-3)


def across(made: Plan, said: dict[str, object], row: dict[str, object]) -> float:
    """Return where the face of the third axis lies, from how things lie on one another.

    The part's z, counted from its underside as drawn, runs out of the picture toward the eye
    and is turned round with the part. Seen with X and Y right and up the eye looks along -Z,
    with X and Z along +Y, with Y and Z along -X.
    """
    planned = made.setups[0]
    guide, height, zero = planned.guide, planned.part.height_mm, said["zero"][2]
    eye = {"XY": 1.0, "XZ": -1.0, "YZ": 1.0}[guide.plane.value]
    sense = eye if not said["flip"] else -eye
    low, high = sorted(sense * (z - zero) for z in (0.0, height))
    if row["face"] == "part's upper face":
        return high
    if row["face"] == "bed under the part":
        return low
    if row["face"] == "bed under the stack":
        return low - guide.seat_mm
    if row["face"] == "plate's decked face":
        return low - sum(layer.thickness_mm for layer in guide.base.layers[1:-1])
    assert row["face"] == "fixed jaw, the part's face on it"
    # A jaw that is touched from the minus side stands on the plus side of the part.
    return high if row["side"][0] == "-" else low


OPPOSED = 'lean = "opposed"'
CASES = [
    ("nest", 0.0, "none", "mm", "[30, 25, 8]", ""),
    ("nest", 37.25, "none", "mm", "[12.345, -6.789, 0]", ""),
    ("nest", -90.0, "x", "inch", "[1.1811, 0.98425, 0.31496]", ""),
    ("nest", 163.0, "y", "inch", "[0.0001, 0.31234, 0]", 'contacts = "auto"'),
    ("nest", 271.5, "y", "mm", "[0, 0, 3.2]", ""),
    ("nest", 90.0, "x", "mm", "[3, 4, 5]", 'contacts = "auto"'),
    ("corner", 0.0, "none", "mm", "[30, 25, 8]", ""),
    ("corner", 0.0, "none", "inch", "[1.2, 0.98765, 0]", ""),
    ("corner", 90.0, "x", "mm", "[1.234, 25, 0]", ""),
    ("fence", 0.0, "none", "mm", "[0, 12.5, 8]", ""),
    ("fence", 180.0, "y", "inch", "[0.5, 0.25, 0.1]", ""),
    ("pinplate", 0.0, "x", "mm", "[0, 0, 0]", ""),
    ("pinplate", 23.7, "none", "inch", "[0.123, -0.5, 0]", ""),
    ("pinplate", -61.0, "y", "mm", "[3, 4, 5]", ""),
    ("stack", 0.0, "none", "mm", "[35, 22.5, 22]", ""),
    ("stack", 33.3, "x", "inch", "[1, 0.5, 0.25]", 'zero_on = "base"'),
    ("stack", 0.0, "none", "mm", "[5, 6, 7]", 'contacts = "auto"'),
    ("standing", 0.0, "none", "mm", "[30, 33, 3]", 'plane = "XZ"\nfixed_jaw = "+Y"'),
    ("standing", 0.0, "x", "inch", "[1, 1.2, 0.125]", 'plane = "XZ"\nfixed_jaw = "-Y"'),
    ("standing", 90.0, "none", "mm", "[30, 33, 8]", 'plane = "YZ"\nfixed_jaw = "+X"'),
    ("standing", 180.0, "y", "inch", "[0.3, 0.2, 0.05]", 'plane = "YZ"\nfixed_jaw = "-X"'),
    ("nest", 37.25, "x", "inch", "[0.1, 0.2, 0.3]", OPPOSED),
    ("nest", 163.0, "none", "mm", "[3, 4, 5]", f'{OPPOSED}\ncontacts = "auto"'),
    ("corner", 90.0, "x", "mm", "[1.234, 25, 0]", OPPOSED),
    ("fence", 180.0, "y", "inch", "[0.5, 0.25, 0.1]", OPPOSED),
    ("stack", 33.3, "none", "mm", "[35, 22.5, 22]", OPPOSED),
    ("standing", 0.0, "none", "mm", "[30, 33, 3]", f'plane = "XZ"\n{OPPOSED}'),
    ("standing", 180.0, "y", "inch", "[0.3, 0.2, 0.05]", f'plane = "YZ"\n{OPPOSED}'),
]


@pytest.mark.parametrize(("guide", "turn", "flip", "units", "zero", "more"), CASES)
def test_a_stranger_recovers_the_pose(
    guide: str, turn: float, flip: str, units: str, zero: str, more: str, tmp_path: Path, program
) -> None:
    made = job(tmp_path, guide=guide, turn=turn, flip=flip, units=units, zero=zero, more=more)
    content = sheet_content(made, 0)
    across, up, _ = made.setups[0].guide.plane.axes
    for text in (read_text(pdf_bytes(content), program("pdftotext")), page_text(content)):
        said = understood(text)
        assert said["offset"] == "G55"
        assert f"seen with {across} and {up} to the right and up" in " ".join(text.split())
        check_pose(made, said)
        if OPPOSED in more and guide != "standing":
            assert "Lay the plate exit face up, turned over from how it lay" in " ".join(
                text.split()
            )


def test_every_kind_and_plane_is_read() -> None:
    read = {guide for guide, *_ in CASES} | {"template"}
    assert read == set(KINDS)
    assert {'"XZ"', '"YZ"'} == {c[5].split()[2] for c in CASES if c[0] == "standing"}


def test_a_check_template_sends_nobody_to_a_zero(tmp_path: Path, program) -> None:
    made = job(tmp_path, guide="template", turn=0, flip="none", units="mm", zero="[0, 0, 0]")
    content = sheet_content(made, 0)
    for text in (read_text(pdf_bytes(content), program("pdftotext")), page_text(content)):
        assert "Program zero" not in text
        assert "at touch" not in text


def test_the_drawings_datums_stand_beside_their_axes(tmp_path: Path, program) -> None:
    more = 'drawing_datums = { X = "B", Z = "A-C" }\nprogram = "O0010"\nslot = "B3"'
    made = job(
        tmp_path, guide="nest", turn=12, flip="x", units="inch", zero="[0.1, 0.2, 0]", more=more
    )
    content = sheet_content(made, 0)
    for text in (read_text(pdf_bytes(content), program("pdftotext")), page_text(content)):
        said = understood(text)
        check_pose(made, said)
        assert {a: row["letter"] for a, row in said["faces"].items()} == {
            "X": "B",
            "Y": "none",
            "Z": "A-C",
        }
        assert "O0010" in text
        assert re.search(r"stored at\s+B3", text)
    more = 'drawing_datums = { X = "A", Y = "B", Z = "C" }\nplane = "XZ"'
    made = job(tmp_path, guide="standing", turn=0, flip="none", units="inch", zero="[1, 1.2, 0]",
               more=more)  # fmt: skip
    check_pose(made, understood(read_text(pdf_bytes(sheet_content(made, 0)), program("pdftotext"))))


class _Cells(HTMLParser):
    """Reads a page as a browser's reader does: cells of a row on one line, blocks on their own."""

    def __init__(self) -> None:
        super().__init__()
        self.text = ""
        self._mute = 0

    def handle_starttag(self, tag: str, attrs: object) -> None:
        self._mute += tag in ("svg", "style")
        if tag in ("tr", "p", "h1", "h2", "dt", "pre"):
            self.text += "\n"
        if tag in ("td", "th", "dd"):
            self.text += "   "

    def handle_endtag(self, tag: str) -> None:
        self._mute -= tag in ("svg", "style")

    def handle_data(self, data: str) -> None:
        if not self._mute:
            self.text += data


def page_text(content: SheetContent) -> str:
    reader = _Cells()
    reader.feed(html_text(content))
    return reader.text


def test_pdfplumber_reads_the_same_table(tmp_path: Path) -> None:
    made = job(tmp_path, guide="nest", turn=0, flip="none", units="mm", zero="[30, 25, 8]")
    content = sheet_content(made, 0)
    with pdfplumber.open(io.BytesIO(pdf_bytes(content))) as pdf:
        words = " ".join(pdf.pages[0].extract_text().split())
    for datum in made.setups[0].guide.datums:
        assert f"{datum.offset_mm:+.3f} mm".replace("+0.000", "0.000") in words
    assert content.title in words
