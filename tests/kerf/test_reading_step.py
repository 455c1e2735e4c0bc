"""STEP in: outlines, sections, faces, units, refusals, and a kernel that breaks down."""

from __future__ import annotations

import importlib.util
import math
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
import step_solids as make

from kerf.errors import InputError, NotInstalled
from kerf.reading import step
from kerf.reading.step import StepView, ViewKind, step_faces, survey_step

SECTION, FACE = ViewKind.SECTION, ViewKind.FACE
#: Half-moon of a ball of radius 9 above a slab 3 thick each way: segment of a circle.
SEGMENT = 81 * math.acos(1 / 3) - 3 * math.sqrt(72)

TOWER = "tower"
SOLIDS: dict[str, Any] = {
    "plate": make.plate,
    TOWER: lambda: make.fused(make.box((40, 30, 6)), make.cylinder(8, 19, (20, 15, 1))),
    "countersunk": lambda: make.cut(make.box((40, 30, 6)), make.cone(3, 8, 6, (20, 15, 0))),
    "tilted hole": lambda: make.cut(
        make.box((40, 30, 6)), make.cylinder(4, 40, (20, 15, -10), (0.5, 0, 1))
    ),
    "ball on an edge": lambda: make.fused(make.box((40, 30, 6)), make.sphere(9, (40, 15, 3))),
}
VIEWS = [
    # solid, view, area, width, height, holes
    ("plate", None, 1200 - 25 * math.pi, 40, 30, 1),
    ("plate", StepView(kind=SECTION, axis="Y", at_mm=15), 240 - 60, 12 - 5, 6, 0),
    (TOWER, StepView(axis="-X"), 180 + 16 * 14, 30, 20, 0),
    (TOWER, StepView(kind=SECTION, at_mm=10), 64 * math.pi, 16, 16, 0),
    (TOWER, StepView(kind=FACE, face="F2"), 1200 - 64 * math.pi, 40, 30, 1),
    ("countersunk", None, 1200 - 9 * math.pi, 40, 30, 1),
    ("countersunk", StepView(kind=SECTION, at_mm=3), 1200 - 5.5**2 * math.pi, 40, 30, 1),
    (
        "tilted hole",
        StepView(kind=SECTION, at_mm=3),
        1200 - 16 * math.pi * math.sqrt(1.25),
        40,
        30,
        1,
    ),
    ("ball on an edge", StepView(axis="X"), 180 + 2 * SEGMENT, 30, 18, 0),
]


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """Return the path of a solid's STEP file, written once."""
    folder = tmp_path_factory.mktemp("solids")

    def path(name: str) -> Path:
        file = folder / f"{name.replace(' ', '-')}.step"
        return file if file.exists() else make.write(file, [SOLIDS[name]()])

    return path


@pytest.mark.parametrize(
    ("name", "view", "area", "width", "height", "holes"),
    [pytest.param(*row, id=f"{row[0]}, {(row[1] or StepView()).describe()}") for row in VIEWS],
)
def test_view_has_its_area(
    written: Any,
    name: str,
    view: StepView | None,
    area: float,
    width: float,
    height: float,
    holes: int,
) -> None:
    """Source: areas by plane geometry (circle, segment, ellipse π a b)."""
    drawing = survey_step(written(name), view=view)
    assert not drawing.faults
    region = drawing.regions[0]
    box = region.bounds()
    assert sum(r.area_mm2 for r in drawing.regions) == pytest.approx(area, abs=0.05)
    assert len(region.holes) == holes
    if len(drawing.regions) == 1:
        assert (box.width, box.height) == pytest.approx((width, height), abs=1e-3)
    # A view taken for want of a choice is said, and no other is.
    assert bool(drawing.notes) == (view is None)


def test_hole_is_an_exact_circle_where_it_was_drawn(written: Any) -> None:
    (region,) = survey_step(written("plate"), view=StepView()).regions
    for edge in region.holes[0].edges():
        assert edge.radius_mm == pytest.approx(5, abs=1e-9)
        assert edge.centre == pytest.approx((12, 15), abs=1e-9)


def test_view_from_below_is_turned_over_not_mirrored(written: Any) -> None:
    """Third angle: from below, right is +X and up is -Y. Source: ISO 5456-2."""
    (region,) = survey_step(written("plate"), view=StepView(axis="-z")).regions
    assert next(region.holes[0].edges()).centre == pytest.approx((12, -15), abs=1e-9)


@pytest.mark.parametrize("schema", ["AP203", "AP242DIS"])
def test_inch_file_reads_in_mm_whatever_its_protocol(tmp_path: Path, schema: str) -> None:
    path = make.write(tmp_path / "p.stp", [make.plate()], schema=schema, unit="INCH")
    drawing = survey_step(path, view=StepView(kind=SECTION, at_mm=3))
    assert drawing.unit == "inch"
    assert drawing.regions[0].bounds().width == pytest.approx(40, abs=1e-9)


def test_given_unit_overrides_the_file_and_says_so(written: Any) -> None:
    drawing = survey_step(written("plate"), unit="inch", view=StepView(kind=FACE, face="F1"))
    assert drawing.regions[0].bounds().width == pytest.approx(40 * 25.4)
    assert "the job says so" in drawing.notes[0]


def test_faces_are_offered_by_name_and_area(written: Any) -> None:
    faces = step_faces(written(TOWER))
    assert [face.name for face in faces[:3]] == ["F1", "F2", "F3"]
    assert faces[0].describe() == "F1: 1200 mm² facing -Z at 0 mm"
    assert faces[1].describe() == f"F2: {1200 - 64 * math.pi:.6g} mm² facing +Z at 6 mm"


REQUESTS = [
    (StepView(kind=SECTION, at_mm=50), "the solid runs from 0 to 6 mm"),
    (StepView(kind=SECTION, at_mm=6 - 1e-9), "a face of the solid lies at 6 mm"),
    (StepView(kind=FACE, face="F99"), 'no planar face "F99"'),
    (StepView(solid=2), "there is no solid 2; the file holds 1: 40 × 30 × 6 mm"),
]


@pytest.mark.parametrize(("view", "what"), REQUESTS, ids=[row[1] for row in REQUESTS])
def test_impossible_request_is_refused(written: Any, view: StepView, what: str) -> None:
    with pytest.raises(InputError, match=what) as caught:
        survey_step(written("plate"), view=view)
    assert caught.value.hint


def test_one_of_several_solids_must_be_chosen(tmp_path: Path) -> None:
    two = [make.plate(), make.box((5, 4, 3), (100, 0, 0))]
    path = make.write(tmp_path / "two.step", two)
    with pytest.raises(InputError, match="1: 40 × 30 × 6 mm; 2: 5 × 4 × 3 mm"):
        survey_step(path)
    assert survey_step(path, view=StepView(solid=2)).regions[0].area_mm2 == pytest.approx(20)


@pytest.mark.parametrize(
    ("view", "what"),
    [({"axis": "W"}, "is no axis"), ({"kind": SECTION}, "a height"), ({"kind": FACE}, "the name")],
)
def test_senseless_view_is_refused(view: dict[str, Any], what: str) -> None:
    with pytest.raises(InputError, match=what):
        StepView(**view)


HEAD = (
    b"ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION((''),'2;1');\nFILE_NAME('','',(''),(''),'','','');\n"
)
EMPTY = HEAD + b"FILE_SCHEMA(('AUTOMOTIVE_DESIGN'));\nENDSEC;\nDATA;\nENDSEC;\nEND-ISO-10303-21;\n"
BAD = [
    ("empty", b"", "the file is empty"),
    ("no STEP", b"solid part\nfacet normal 0 0 1\n", "this is no STEP file"),
    ("cut short", EMPTY[:-20], "cut short"),
    ("no shape", EMPTY, "holds no"),
    (
        "rubbish inside",
        EMPTY.replace(b"DATA;\n", b"DATA;\n#1=\xff\0((;'\n"),
        "holds no|cannot be read",
    ),
]


@pytest.mark.parametrize(("content", "what"), [pytest.param(*row[1:], id=row[0]) for row in BAD])
def test_bad_file_is_one_clear_message(tmp_path: Path, content: bytes, what: str) -> None:
    path = tmp_path / "bad.step"
    path.write_bytes(content)
    with pytest.raises(InputError, match=what) as caught:
        survey_step(path)
    assert caught.value.where == str(path)


def test_missing_extra_names_the_command_that_adds_it(
    written: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = written("plate")
    monkeypatch.setattr(importlib.util, "find_spec", lambda _name: None)
    with pytest.raises(NotInstalled) as caught:
        survey_step(path)
    assert caught.value.hint == 'pip install "setup-jigs[step]"'


@pytest.mark.parametrize(
    ("code", "what"),
    [
        ("import os; os.kill(os.getpid(), 11)", "the geometry kernel broke down"),
        ("import os; os.kill(os.getpid(), 24)", "took more than 8 s and was stopped"),
        ("print('chatter')", "the geometry kernel broke down"),
        ("import time; time.sleep(60)", "took more than 8 s and was stopped"),
    ],
    ids=["crash", "processor time", "no answer", "hang"],
)
def test_worker_that_breaks_down_is_one_clear_message(
    written: Any, monkeypatch: pytest.MonkeyPatch, code: str, what: str
) -> None:
    """The worker is replaced by one that misbehaves; the reader must not."""
    path, run = written("plate"), subprocess.run

    def misbehaving(_command: list[str], **options: Any) -> Any:
        return run([sys.executable, "-c", code], **{**options, "timeout": 2})

    monkeypatch.setattr(step.subprocess, "run", misbehaving)
    with pytest.raises(InputError, match=what):
        survey_step(path)


def test_lost_edge_cannot_pass_unseen(written: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """The kernel's probes outvote the regions: here the hole's edges are dropped on the way."""
    whole = step._answer

    def lossy(*request: Any) -> dict[str, Any]:
        answer = whole(*request)
        return answer | {"strands": [row for row in answer["strands"] if row["kind"] == "line"]}

    monkeypatch.setattr(step, "_answer", lossy)
    drawing = survey_step(written("plate"), view=StepView(kind=SECTION, at_mm=3))
    assert not drawing.regions[0].holes
    assert "the solid has no material there" in drawing.faults[0].message
