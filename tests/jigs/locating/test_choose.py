"""The chosen layout is the best of all its candidates, and says what the next one costs."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from jigs.finding import Severity
from jigs.locating.candidates import candidates
from jigs.locating.choose import choose_contacts
from jigs.locating.clamping import clamp_reactions
from jigs.locating.contacts import Contact, bore_contacts, contact_at_point
from jigs.locating.error import critical_errors
from jigs.locating.pose import locating_rows
from jigs.locating.report import locating_report
from jigs.locating.seating import Push
from jigs.locating.sources import edge_source, kerf_source, pick_up_frame, temperature_source
from jigs.part import Critical, Part
from kerf.contour import Contour, Point, Region, Vector
from kerf.errors import InputError
from kerf.shapes import filleted

SOURCES = (kerf_source(u_kerf_mm=0.01, sheet="s"), edge_source(edge_tolerance_mm=0.02))
PLATE = Region(outer=Contour.rectangle(0, 0, 100, 60))
LEVER = Region(
    outer=Contour.of(((0, -20), (60, -12), (120, -10, 0.9), (120, 10), (60, 14), (0, 20, 1.0)))
)
ELL = Region(outer=Contour.of(((0, 0), (120, 0), (120, 30), (40, 30), (40, 90), (0, 90))))
SHAPES = [
    pytest.param(PLATE, id="plate"),
    pytest.param(LEVER, id="lever"),
    pytest.param(ELL, id="ell"),
]


def part(region, *critical):
    return Part(
        name="p",
        region=region,
        height_mm=10,
        material="",
        edge_tolerance_mm=0.02,
        critical=critical
        or tuple(
            Critical(name=f"F{n}", at=Point(*at), tolerance_mm=t)
            for n, (at, t) in enumerate((((20, 5), 0.1), ((90, 20), 0.15), ((30, 8), 0.1)))
        ),
    )


def open_to_one_push(triple):
    """Judge by directions: is there one that every normal points against?"""
    angles = np.linspace(0, math.tau, 3601)
    along = np.column_stack((np.cos(angles), np.sin(angles)))
    normals = np.array([c.normal for c in triple])
    return bool(np.any(np.all(along @ normals.T < -1e-3, axis=1)))


def best_by_brute_force(the_part, contacts, spacing, one_push, frame=()):
    """Weigh every triple with the report's own numbers."""
    best = math.inf
    for triple in combinations(contacts, 3):
        if any(math.dist(a.at, b.at) < spacing for a, b in combinations(triple, 2)):
            continue
        if abs(np.linalg.det(locating_rows(triple))) < 1e-6:
            continue
        if one_push and not open_to_one_push(triple):
            continue
        errors = critical_errors(the_part.critical, triple, frame=frame)
        best = min(best, max(e.worst_mm / e.tolerance_mm for e in errors))
    return best


@pytest.mark.parametrize("one_push", [True, False])
@pytest.mark.parametrize("region", SHAPES)
def test_best_of_all_triples(region, one_push):
    """Source: brute force over every triple with ``critical_errors``."""
    places = candidates(region, pitch_mm=region.outer.length_mm / 16, corner_mm=1, nose_mm=1)
    the_part = part(region)
    found = choose_contacts(
        the_part, candidates=places, sources=SOURCES, spacing_mm=8, one_push=one_push
    )
    contacts = [replace(c.contact, sources=SOURCES) for c in places]
    assert found.proven
    assert found.worst_share == pytest.approx(
        best_by_brute_force(the_part, contacts, 8, one_push), rel=1e-9
    )
    errors = critical_errors(the_part.critical, found.contacts)
    assert found.worst_mm == max(e.worst_mm for e in errors)


def test_sources_that_differ_by_place():
    """Temperature grows from the zero; the choice reckons with it, the frame and both ties."""
    places = candidates(ELL, pitch_mm=28, corner_mm=1)

    def sources(c: Contact):
        heat = temperature_source(
            at=c.at,
            normal=c.normal,
            zero=Point(0, 0),
            part_per_k=23.6e-6,
            guide_per_k=75e-6,
            change_k=8,
        )
        rough = edge_source(edge_tolerance_mm=0.01 if c.at.x < 1 else 0.03)
        return (SOURCES[0], heat, rough)

    frame = (pick_up_frame(along=Vector(1.0, 0.0), limit_mm=0.02),)
    the_part = part(ELL)
    found = choose_contacts(the_part, candidates=places, sources=sources, spacing_mm=5, frame=frame)
    contacts = [replace(c.contact, sources=sources(c.contact)) for c in places]
    assert found.worst_share == pytest.approx(
        best_by_brute_force(the_part, contacts, 5, True, frame), rel=1e-9
    )


def test_runner_up_lies_on_other_faces():
    places = candidates(LEVER, pitch_mm=6, corner_mm=1)
    found = choose_contacts(part(LEVER), candidates=places, sources=SOURCES, spacing_mm=8)
    faces = sorted(c.on for c in found.contacts)
    assert sorted(c.on for c in found.runner_up) != faces
    assert found.loss_mm == pytest.approx(found.runner_up_worst_mm - found.worst_mm)
    assert found.runner_up_share > found.worst_share
    # Proven too: the best of the places off that set of faces, by leaving each face out.
    edges = {(c.loop, c.edge) for c in places if c.contact.on in faces}
    least = min(
        choose_contacts(
            part(LEVER),
            candidates=tuple(c for c in places if (c.loop, c.edge) != edge),
            sources=SOURCES,
            spacing_mm=8,
        ).worst_share
        for edge in edges
    )
    assert found.runner_up_share <= least + 1e-12


def test_ties_go_to_machined_then_long_faces():
    square = Region(outer=Contour.rectangle(0, 0, 60, 60))
    middle = Critical(name="M", at=Point(30, 30), tolerance_mm=0.1)
    for edge, on in ((2, "part edge 2"), (3, "part edge 3")):
        places = candidates(
            square, pitch_mm=10, corner_mm=5, finished=lambda loop, index, e=edge: index == e
        )
        found = choose_contacts(
            part(square, middle), candidates=places, sources=SOURCES, spacing_mm=5
        )
        assert found.tied > 1
        assert sum(c.on == on for c in found.contacts) == 2
        assert found.loss_mm == 0.0


def test_fixed_contacts_are_kept():
    places = candidates(PLATE, pitch_mm=8, corner_mm=1)
    mine = contact_at_point(PLATE, Point(10, 0), name="Y1", on="jaw", sources=SOURCES)
    found = choose_contacts(
        part(PLATE), candidates=places, sources=SOURCES, spacing_mm=8, fixed=(mine,)
    )
    assert found.contacts[0] == mine
    assert sorted(c.name for c in found.contacts) == ["X1", "Y1", "Y2"]
    contacts = [replace(c.contact, sources=SOURCES) for c in places]
    best = math.inf
    for pair in combinations(contacts, 2):
        triple = (mine, *pair)
        if any(math.dist(a.at, b.at) < 8 for a, b in combinations(triple, 2)):
            continue
        if abs(np.linalg.det(locating_rows(triple))) > 1e-6 and open_to_one_push(triple):
            errors = critical_errors(part(PLATE).critical, triple)
            best = min(best, max(e.worst_mm / e.tolerance_mm for e in errors))
    assert found.worst_share == pytest.approx(best, rel=1e-9)


def test_round_pin_and_one_wall():
    pins = bore_contacts("P", Point(20, 5), bore_diameter_mm=8.05, pin_diameter_mm=8.0)
    region = Region(outer=PLATE.outer, holes=(Contour.circle(20, 5, 4),))
    places = candidates(region, pitch_mm=8, corner_mm=1)
    found = choose_contacts(
        part(region), candidates=places, sources=SOURCES, spacing_mm=8, fixed=pins, one_push=False
    )
    assert found.contacts[:2] == pins
    contacts = [replace(c.contact, sources=SOURCES) for c in places]
    best = min(
        max(e.worst_mm / e.tolerance_mm for e in critical_errors(part(region).critical, triple))
        for triple in (((*pins, c)) for c in contacts)
        if abs(np.linalg.det(locating_rows(triple))) > 1e-6
        and all(math.dist(c.at, triple[2].at) >= 8 for c in pins)
    )
    assert found.worst_share == pytest.approx(best, rel=1e-9)


def test_chosen_contacts_pass_the_report():
    places = candidates(LEVER, pitch_mm=4, corner_mm=1)
    found = choose_contacts(part(LEVER), candidates=places, sources=SOURCES, spacing_mm=8)
    report = locating_report(part(LEVER), found.contacts)
    assert report.determined
    assert max(c.worst_mm for c in report.critical) == pytest.approx(found.worst_mm)


def test_candidates_keep_off_corners_notches_and_cuts():
    notch = Region(
        outer=Contour.of(
            ((0, 0), (40, 0), (40, 20), (44, 20), (44, 0), (100, 0), (100, 60), (0, 60))
        )
    )
    cut = Region(outer=Contour.rectangle(90, -5, 20, 30))
    places = candidates(notch, pitch_mm=1, corner_mm=2, nose_mm=3, cut_zones=(cut,))
    assert places
    for c in places:
        x, y = c.contact.at
        assert not (40 <= x <= 44 and 0 < y < 20.1), "a nose of 3 does not enter a notch of 4"
        assert not (x > 87.01 and y < 28), "the nose stands clear of the cutter"
        assert min(math.dist((x, y), v[:2]) for v in notch.outer.vertices) >= 2 - 1e-9
    only = candidates(notch, pitch_mm=5, on_edge=lambda loop, edge: edge == 6)
    assert {c.contact.on for c in only} == {"part edge 6"}
    holes = candidates(
        Region(outer=PLATE.outer, holes=(Contour.circle(50, 30, 8),)), pitch_mm=2, holes=True
    )
    assert {c.loop for c in holes} == {0, 1}
    with pytest.raises(InputError, match="pitch"):
        candidates(notch, pitch_mm=0)


def empty(region, **given):
    places = given.pop("places", None)
    if places is None:
        places = candidates(region, pitch_mm=5, corner_mm=1)
    return choose_contacts(
        part(region), candidates=places, sources=SOURCES, **{"spacing_mm": 5, **given}
    )


def test_no_layout_is_a_named_outcome():
    disc = empty(Region(outer=Contour.circle(40, 10, 25)))
    assert (disc.contacts, disc.findings[0].code) == ((), "turn-not-held")
    wide = empty(PLATE, spacing_mm=500)
    assert (wide.contacts, wide.findings[0].code) == ((), "layout-none")
    none = empty(PLATE, places=())
    assert "no place on the outline" in none.findings[0].message
    faced = candidates(PLATE, pitch_mm=5, corner_mm=1, on_edge=lambda loop, edge: edge in (0, 2))
    parallel = empty(PLATE, places=faced)
    assert parallel.findings[0].severity is Severity.FAIL
    assert math.isinf(parallel.worst_mm)


def test_bad_requests_are_refused():
    three = tuple(
        contact_at_point(PLATE, Point(*at), name=str(at), on="w")
        for at in ((20, 0), (80, 0), (0, 30))
    )
    with pytest.raises(InputError, match="nothing left to choose"):
        empty(PLATE, fixed=three)
    with pytest.raises(InputError, match="spacing"):
        empty(PLATE, spacing_mm=-1)
    with pytest.raises(InputError, match="no variation"):
        choose_contacts(
            part(PLATE),
            candidates=candidates(PLATE, pitch_mm=5, corner_mm=1),
            sources=(),
            spacing_mm=5,
        )


def test_one_shared_cause_does_not_tie_everything():
    """With kerf alone every layout on two faces errs alike; the least sensitive one is taken."""
    found = choose_contacts(
        part(PLATE),
        candidates=candidates(PLATE, pitch_mm=1, corner_mm=1),
        sources=SOURCES[:1],
        spacing_mm=5,
    )
    assert found.worst_mm == pytest.approx(0.015)
    assert found.tied < 100
    y1, y2, _ = found.contacts
    assert abs(y2.at.x - y1.at.x) == pytest.approx(98)


def test_without_critical_features_the_box_counts():
    bare = Part(name="p", region=PLATE, height_mm=1, material="", edge_tolerance_mm=0.0)
    found = choose_contacts(
        bare,
        candidates=candidates(PLATE, pitch_mm=10, corner_mm=1),
        sources=SOURCES,
        spacing_mm=5,
    )
    assert found.findings[0].code == "critical-missing"
    assert len(found.contacts) == 3


@pytest.mark.parametrize("degrees", [95.0, 120.0, 150.0])
def test_normals_that_wedge_are_left_out_and_the_rest_is_still_proven(degrees):
    region = Region(outer=Contour.of(((0, 0), (90, 0, 0.2), (80, 40), (30, 55, -0.1), (0, 30))))
    places = candidates(region, pitch_mm=9.0, corner_mm=2.0)
    the_part = part(region)
    chosen = choose_contacts(
        the_part,
        candidates=places,
        sources=SOURCES,
        spacing_mm=8,
        facing_rad=np.radians(degrees),
    )
    contacts = [replace(p.contact, sources=SOURCES) for p in places]
    least = np.cos(np.radians(degrees)) - 1e-9
    best = min(
        max(e.worst_mm / e.tolerance_mm for e in critical_errors(the_part.critical, triple))
        for triple in combinations(contacts, 3)
        if abs(np.linalg.det(locating_rows(triple))) > 1e-6
        and open_to_one_push(triple)
        and all(np.dot(a.normal, b.normal) >= least for a, b in combinations(triple, 2))
        and all(np.hypot(a.at.x - b.at.x, a.at.y - b.at.y) >= 8 for a, b in combinations(triple, 2))
    )
    assert chosen.proven
    assert chosen.worst_share == pytest.approx(best, rel=1e-9)
    for a, b in combinations(chosen.contacts, 2):
        assert np.dot(a.normal, b.normal) >= least


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_runs_that_turn_are_not_ruled_out_by_their_first_normal(sign):
    corners = [(0, 0, 2), (70, 0, 9), (62, 30, 15), (40, 45, 6), (0, 45, 8)]
    region = filleted([Point(sign * x, y) for x, y, _ in corners], [r for *_, r in corners])
    places = tuple(
        place
        for place in candidates(region, pitch_mm=region.outer.length_mm / 80, corner_mm=4.5)
        if place.contact.at.y < 25 and place.contact.normal.y > -0.1
    )
    chosen = choose_contacts(
        part(region, Critical(name="hole", at=Point(sign * 20, 20), tolerance_mm=0.5)),
        candidates=places,
        sources=SOURCES,
        spacing_mm=9.0,
        facing_rad=math.radians(135.0),
    )
    assert len(chosen.contacts) == 3


def test_a_load_is_carried_by_pushing_alone():
    region = Region(outer=Contour.of(((0, 0), (80, 0), (80, 30), (0, 60))))
    the_part = part(region, Critical(name="hole", at=Point(5, 5), tolerance_mm=0.1))
    places = candidates(region, pitch_mm=8.0, corner_mm=2.0)
    weight = Push(at=Point(36, 23), along=Vector(0.0, -1.0))
    free, held = (
        choose_contacts(the_part, candidates=places, sources=SOURCES, spacing_mm=8, load=load)
        for load in (None, weight)
    )
    assert min(clamp_reactions(held.contacts, weight)) >= -1e-9
    assert held.worst_share >= free.worst_share
    carrying = [
        max(e.worst_mm / e.tolerance_mm for e in critical_errors(the_part.critical, triple))
        for triple in combinations([replace(p.contact, sources=SOURCES) for p in places], 3)
        if abs(np.linalg.det(locating_rows(triple))) > 1e-6
        and all(math.dist(a.at, b.at) >= 8 for a, b in combinations(triple, 2))
        and open_to_one_push(triple)
        and min(clamp_reactions(triple, weight)) >= -1e-9
    ]
    assert held.worst_share == pytest.approx(min(carrying), rel=1e-9)
