"""Marks on the plastic: whole where there is room, clear of cuts, named where left off."""

from __future__ import annotations

import random

import pytest
import shapely

from jigs.guides.guide import Face, Plane, Plate
from jigs.marks import MARK_CLEAR_MM, check_marks, plate_marks
from kerf.beam import Operation, Stroke
from kerf.contour import Contour, Point, Region, Transform, Vector, Vertex
from kerf.errors import InputError

LINES = ("JOB 4711 REV B", "GUIDE N-12", "KERF CARD P3-07", "T 2.94 mm")


def faces_of(width: float, height: float) -> tuple[Face, ...]:
    return (
        Face(
            name="A", plate="p", start=Point(0, height), end=Point(0, 0), normal=Vector(-1.0, 0.0)
        ),
        Face(name="B", plate="p", start=Point(0, 0), end=Point(width, 0), normal=Vector(0.0, -1.0)),
        Face(name="Q", plate="other", start=Point(0, 0), end=Point(1, 0), normal=Vector(0.0, -1.0)),
    )


def plate_of(region: Region, strokes: tuple[Stroke, ...]) -> Plate:
    return Plate(
        name="p",
        region=region,
        strokes=strokes,
        to_part=Transform(),
        stock="s",
        thickness_mm=3.0,
    )


def disc(x: float, y: float, r: float) -> Contour:
    return Contour(vertices=(Vertex(x - r, y, 1.0), Vertex(x + r, y, 1.0)))


def distance_to_cuts(region: Region, stroke: Stroke) -> float:
    line = shapely.LineString(stroke.points)
    return min(line.distance(shapely.LinearRing(loop.facets(1e-4))) for loop in region.loops())


def test_a_roomy_plate_carries_every_mark() -> None:
    region = Region(outer=Contour.rectangle(0, 0, 160, 110), holes=(disc(80, 55, 30),))
    marks = plate_marks(
        plate="p", region=region, plane=Plane.XY, faces=faces_of(160, 110), lines=LINES
    )
    assert marks.findings == ()
    assert all(s.operation is Operation.ENGRAVE and s.piece == "p" for s in marks.strokes)
    assert min(distance_to_cuts(region, s) for s in marks.strokes) >= MARK_CLEAR_MM
    assert check_marks(plate_of(region, marks.strokes)) == ()


def test_each_face_has_an_arrow_that_points_at_it() -> None:
    region = Region(outer=Contour.rectangle(0, 0, 160, 110))
    marks = plate_marks(
        plate="p", region=region, plane=Plane.XZ, faces=faces_of(160, 110), lines=()
    )
    shaft_a, barbs_a = marks.strokes[:2]
    assert shaft_a.points[1].x == pytest.approx(MARK_CLEAR_MM + 0.25)
    assert shaft_a.points[1].x < shaft_a.points[0].x
    assert shaft_a.points[1].y == pytest.approx(55)
    assert barbs_a.points[1] == shaft_a.points[1]


def test_what_finds_no_room_is_named() -> None:
    region = Region(outer=Contour.rectangle(0, 0, 30, 12))
    marks = plate_marks(
        plate="p", region=region, plane=Plane.XZ, faces=faces_of(30, 12)[:2], lines=LINES
    )
    told = " ".join(f.message for f in marks.findings)
    assert {f.code for f in marks.findings} == {"mark-no-room"}
    assert "JOB 4711 REV B" in told
    assert "face A" not in told


def test_marks_keep_clear_of_each_other_and_of_outlines() -> None:
    region = Region(outer=Contour.rectangle(0, 0, 200, 120))
    outline = disc(120, 60, 40)
    marks = plate_marks(
        plate="p",
        region=region,
        plane=Plane.XY,
        faces=faces_of(200, 120),
        lines=LINES,
        keep_clear=(outline,),
    )
    ring = shapely.LinearRing(outline.facets())
    assert all(shapely.LineString(s.points).distance(ring) > 0.9 for s in marks.strokes)


def test_random_plates_never_carry_a_mark_near_a_cut() -> None:
    rng = random.Random(10)
    for _ in range(25):
        width, height = rng.uniform(40, 220), rng.uniform(30, 160)
        r = rng.uniform(4, 0.4 * min(width, height))
        hole = disc(rng.uniform(r + 3, width - r - 3), rng.uniform(r + 3, height - r - 3), r)
        region = Region(outer=Contour.rectangle(0, 0, width, height), holes=(hole,))
        plane = rng.choice(list(Plane))
        marks = plate_marks(
            plate="p", region=region, plane=plane, faces=faces_of(width, height), lines=LINES
        )
        body = shapely.Polygon(region.outer.facets(), [hole.facets()])
        for stroke in marks.strokes:
            assert distance_to_cuts(region, stroke) >= MARK_CLEAR_MM
            assert body.contains(shapely.LineString(stroke.points))


def test_a_mark_too_near_a_cut_or_off_the_plate_is_found() -> None:
    region = Region(outer=Contour.rectangle(0, 0, 50, 50))
    near = Stroke(operation=Operation.ENGRAVE, points=(Point(0.6, 10), Point(5, 10)), piece="p")
    off = Stroke(operation=Operation.ENGRAVE, points=(Point(60, 10), Point(65, 10)), piece="p")
    score = Stroke(operation=Operation.SCORE, points=(Point(0, 10), Point(5, 10)), piece="p")
    found = check_marks(plate_of(region, (near, off, score)))
    assert [f.code for f in found] == ["mark-near-cut", "mark-near-cut"]
    assert found[0].measured == pytest.approx(0.6)
    assert "0.60 mm from a cut; it must keep 1.00 mm" in found[0].message
    assert found[1].measured == 0.0


def test_a_strange_character_is_refused_by_name() -> None:
    with pytest.raises(InputError, match=r"U\+00DC"):
        plate_marks(
            plate="p",
            region=Region(outer=Contour.rectangle(0, 0, 100, 100)),
            plane=Plane.XY,
            faces=(),
            lines=("JOB Ü1",),
        )


def test_a_small_piece_bears_its_identity_alone_and_clear_of_what_is_engraved() -> None:
    region = Region(outer=Contour.rectangle(0, 0, 60, 40))
    own = (Point(2, 20), Point(58, 20))
    whole, small = (
        plate_marks(
            plate="p",
            region=region,
            plane=Plane.XY,
            faces=(),
            lines=LINES,
            taken=(own,),
            identity_only=identity_only,
        )
        for identity_only in (False, True)
    )
    assert len(small.strokes) < len(whole.strokes)
    assert all("arrow" not in f.message and "bar" not in f.message for f in small.findings)
    line = shapely.LineString(own)
    for stroke in (*whole.strokes, *small.strokes):
        assert shapely.LineString(stroke.points).distance(line) >= MARK_CLEAR_MM - 1e-6
