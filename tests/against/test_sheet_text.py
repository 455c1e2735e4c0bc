"""A stranger reads the set-up sheet: from poppler's text alone, the part's pose in the machine.

Source: pdftotext -layout (poppler), and pdfplumber for the drawn letters; the truth is the
plate's geometry, which the sheet's writer and this reader do not share.
"""

from __future__ import annotations

import dataclasses
import io
import math
import re
import subprocess
from pathlib import Path

import pdfplumber
import pytest

from jigs.guides.guide import Plane
from jigs.job import read_job
from jigs.plan import Plan, plan
from jigs.sheet.pdf import pdf_bytes
from jigs.sheet.setup_content import sheet_content
from jigs.templates import template_path

LENGTH = r"([+-]?\d+\.\d+) (mm|in)"


def job(folder: Path, *, guide: str, turn: float, flip: str, units: str, zero: str) -> Plan:
    (folder / "shop.toml").write_text(template_path("shop.toml").read_text(encoding="utf-8"))
    size = 1 / 25.4 if units == "inch" else 1.0
    points = [[0, 0], [91.3, 0], [91.3, 35.7], [55.1, 60.9], [0, 60.9]]
    outline = [[round(v * size, 6) for v in p] for p in points]
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
shape = {{ kind = "points", points = {outline} }}
height = {8 * size}
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
            rf"(?:none|{LENGTH})\s+{LENGTH}\s*$",
            line,
        )
        if row:
            faces[row[1]] = {
                "face": row[2],
                "side": row[3],
                "offset": mm(row[4], row[5]),
                "reading": mm(row[9], row[10]),
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
    guide, plate = planned.guide, planned.guide.plates[0]
    place = plate.to_part.inverse()
    axes = guide.plane.axes
    assert set(said["faces"]) == {d.axis for d in guide.datums}
    for face in guide.faces:
        along_x = abs(face.normal.x) > 0.5
        axis = axes[0] if along_x else axes[1]
        row = said["faces"][axis]
        assert row["face"].endswith(face.name)
        outward = face.normal.x if along_x else face.normal.y
        assert row["side"] == ("+" if outward > 0 else "-") + axis
        for x, y in ((0.0, 0.0), (91.3, 0.0), (55.1, 60.9), (30.0, 25.0)):
            truth = place.point(x, y)
            from_face = truth.x - face.start.x if along_x else truth.y - face.start.y
            told = machine(said, x, y)[0 if along_x else 1] - row["offset"]
            assert told == pytest.approx(from_face, abs=1e-3)


CASES = [
    ("nest", 0.0, "none", "mm", "[30, 25, 8]"),
    ("nest", 37.25, "none", "mm", "[12.345, -6.789, 0]"),
    ("nest", -90.0, "x", "inch", "[1.1811, 0.98425, 0.31496]"),
    ("nest", 163.0, "y", "inch", "[0.0001, 0.31234, 0]"),
    ("nest", 271.5, "y", "mm", "[0, 0, 3.2]"),
    ("corner", 0.0, "none", "mm", "[30, 25, 8]"),
    ("corner", 0.0, "none", "inch", "[1.2, 0.98765, 0]"),
]


@pytest.mark.parametrize(("guide", "turn", "flip", "units", "zero"), CASES)
def test_a_stranger_recovers_the_pose(
    guide: str, turn: float, flip: str, units: str, zero: str, tmp_path: Path, program
) -> None:
    made = job(tmp_path, guide=guide, turn=turn, flip=flip, units=units, zero=zero)
    said = understood(read_text(pdf_bytes(sheet_content(made, 0)), program("pdftotext")))
    assert said["offset"] == "G55"
    check_pose(made, said)


@pytest.mark.parametrize("plane", [Plane.XZ, Plane.YZ])
def test_a_stranger_recovers_the_pose_of_a_standing_sheet(
    plane: Plane, tmp_path: Path, program
) -> None:
    made = job(tmp_path, guide="nest", turn=12.5, flip="x", units="mm", zero="[3, 4, 0]")
    planned = made.setups[0]
    names = dict(zip(Plane.XY.axes, plane.axes, strict=True))
    datums = tuple(
        dataclasses.replace(d, axis=names[d.axis], side=d.side[0] + names[d.side[1]])
        for d in planned.guide.datums
    )
    guide = dataclasses.replace(planned.guide, plane=plane, datums=datums)
    stood = dataclasses.replace(made, setups=(dataclasses.replace(planned, guide=guide),))
    text = read_text(pdf_bytes(sheet_content(stood, 0)), program("pdftotext"))
    assert f"seen with {plane.axes[0]} and {plane.axes[1]} to the right and up" in " ".join(
        text.split()
    )
    check_pose(stood, understood(text))


def test_pdfplumber_reads_the_same_table(tmp_path: Path) -> None:
    made = job(tmp_path, guide="nest", turn=0, flip="none", units="mm", zero="[30, 25, 8]")
    content = sheet_content(made, 0)
    with pdfplumber.open(io.BytesIO(pdf_bytes(content))) as pdf:
        words = " ".join(pdf.pages[0].extract_text().split())
    for datum in made.setups[0].guide.datums:
        assert f"{datum.offset_mm:+.3f} mm".replace("+0.000", "0.000") in words
    assert content.title in words
