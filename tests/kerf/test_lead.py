"""Cuts begin where they harm least; tabs never stand where the part is located."""

from __future__ import annotations

import itertools
import math

import ezdxf
import pytest
import shapely

from jigs.shop import COLOURS
from kerf.beam import BeamPath, CutPlan, KerfCard, Operation, beam_paths
from kerf.contour import Contour, Edge, Point, Region
from kerf.errors import GeometryError
from kerf.lead import Stretch, begun_at, burnt_runs, with_lead_in, with_tabs
from kerf.shapes import slot
from kerf.tolerance import SEAM_CLEAR_MM
from kerf.writing.dxf import dxf_bytes
from kerf.writing.svg import svg_bytes

CARD = KerfCard(name="a", kerf_mm=0.2, u_mm=0.0)
PLATE = Region(
    outer=Contour.rectangle(0, 0, 60, 40),
    holes=(Contour.circle(15, 20, 6), Contour.rectangle(30, 10, 20, 20)),
)
FACES = (
    Stretch(start=Point(0, 0), end=Point(60, 0)),
    Stretch(start=Point(0, 40), end=Point(0, 0)),
)


@pytest.mark.parametrize("path", beam_paths(PLATE, CARD, piece="plate"), ids=["o", "[]", "outer"])
def test_a_lead_in_lies_in_scrap_and_never_touches_the_plate(path):
    led = with_lead_in(path, lead_mm=2.0, keep_clear=FACES)
    (pierce,) = led.lead_in
    start = led.contour.vertices[0]
    assert math.dist(pierce, start[:2]) == pytest.approx(2.0)
    assert not PLATE.contains(*pierce)
    # The beam on its way in leaves the plate whole.
    way = shapely.LineString([pierce, start[:2]]).buffer(CARD.kerf_mm / 2 - 2e-3, quad_segs=64)
    plate = shapely.Polygon(PLATE.outer.facets(), [h.facets() for h in PLATE.holes])
    assert way.intersection(plate).area < 1e-9
    # The loop itself is the same.
    assert led.contour.length_mm == pytest.approx(path.contour.length_mm, abs=1e-9)
    assert led.contour.signed_area_mm2 == pytest.approx(path.contour.signed_area_mm2, abs=1e-9)


def test_the_start_keeps_away_from_faces_and_prefers_an_outside_corner():
    outer = beam_paths(PLATE, CARD, piece="plate")[-1]
    led = with_lead_in(outer, lead_mm=2.0, keep_clear=FACES)
    x, y = led.contour.vertices[0][:2]
    assert min(s.distance_mm(x, y) for s in FACES) >= SEAM_CLEAR_MM
    assert math.dist((x, y), (60, 40)) < CARD.kerf_mm


def test_contacts_in_a_pocket_are_kept_clear():
    contacts = tuple(Stretch(start=p, end=p) for p in (Point(40, 10), Point(30, 20), Point(50, 24)))
    pocket = beam_paths(PLATE, CARD, piece="plate")[1]
    led = with_lead_in(pocket, lead_mm=2.0, keep_clear=contacts)
    x, y = led.contour.vertices[0][:2]
    assert min(s.distance_mm(x, y) for s in contacts) >= SEAM_CLEAR_MM


def test_a_narrow_slot_gets_a_short_lead_in_or_none():
    void = slot(length_mm=20, width_mm=2).outer
    path = BeamPath(operation=Operation.INSIDE, contour=void.reversed(), piece="slot")
    led = with_lead_in(path, lead_mm=5.0)
    (pierce,) = led.lead_in
    assert math.dist(pierce, led.contour.vertices[0][:2]) <= 1.25
    hair = slot(length_mm=20, width_mm=0.5).outer
    path = BeamPath(operation=Operation.INSIDE, contour=hair.reversed(), piece="hair")
    assert with_lead_in(path, lead_mm=5.0).lead_in == ()


@pytest.mark.parametrize("share", [0.0, 0.25, 0.9])
@pytest.mark.parametrize("index", [0, 1, 2, 3])
def test_a_loop_begun_elsewhere_is_the_same_loop(index, share):
    loop = slot(length_mm=20, width_mm=6).outer
    moved = begun_at(loop, index, share)
    assert moved.vertices[0][:2] == pytest.approx(loop.edge(index).point_at(share))
    assert moved.length_mm == pytest.approx(loop.length_mm, rel=1e-12)
    assert moved.area_mm2 == pytest.approx(loop.area_mm2, rel=1e-12)


def test_tabs_keep_off_the_faces_and_leave_the_rest_cut():
    outer = with_lead_in(beam_paths(PLATE, CARD, piece="plate")[-1], lead_mm=2.0, keep_clear=FACES)
    tabbed = with_tabs(outer, count=3, width_mm=0.8, keep_clear=FACES)
    for a, b in tabbed.tabs:
        assert b - a == pytest.approx(0.8)
        p = outer.contour.point_at((a + b) / 2)
        assert min(s.distance_mm(*p) for s in FACES) >= SEAM_CLEAR_MM
    runs = burnt_runs(tabbed)
    assert len(runs) == 4
    burnt = sum(
        Edge(start=Point(*v[:2]), end=Point(*w[:2]), bulge=v[2]).length_mm
        for run in runs
        for v, w in itertools.pairwise(run)
    )
    assert burnt == pytest.approx(outer.contour.length_mm + 2.0 - 3 * 0.8)


def test_no_room_for_tabs_and_wrong_orders_are_refused():
    outer = beam_paths(PLATE, CARD, piece="plate")[-1]
    everywhere = tuple(Stretch(start=e.start, end=e.end) for e in PLATE.outer.edges())
    with pytest.raises(GeometryError, match="no room for tab 1 of 2"):
        with_tabs(outer, count=2, width_mm=1.0, keep_clear=everywhere)
    with pytest.raises(GeometryError, match="before tabs"):
        with_lead_in(with_tabs(outer, count=1, width_mm=1.0), lead_mm=1.0)
    with pytest.raises(GeometryError, match="count from 0"):
        with_tabs(outer, count=1, width_mm=0.0)
    with pytest.raises(GeometryError, match="0 mm or longer"):
        with_lead_in(outer, lead_mm=-1.0)


@pytest.mark.parametrize("release", ["R2000", "R12"])
def test_files_hold_the_way_in_and_leave_the_tabs(tmp_path, release):
    outer = with_tabs(
        with_lead_in(beam_paths(PLATE, CARD, piece="plate")[-1], lead_mm=2.0),
        count=2,
        width_mm=1.0,
    )
    plan = CutPlan(width_mm=70, height_mm=50, strokes=(), paths=(outer,), kerf=CARD)
    file = tmp_path / "plate.dxf"
    file.write_bytes(dxf_bytes(plan, colours=COLOURS, release=release))
    lines = list(ezdxf.readfile(file).modelspace())
    assert len(lines) == 3
    assert not any(line.is_closed for line in lines)
    svg = svg_bytes(plan, colours=COLOURS).decode()
    assert svg.count("<path") == 3
    assert "Z" not in svg.split("<path", 1)[1]
