"""Pin plates: random parts (a slice of the long lane in ``tests/stress``), wrong ways, stops."""

from __future__ import annotations

import itertools
import math
from pathlib import Path

import pytest
import shapely
import shapely.affinity
from bored_parts import check_random

from jigs.guides.pinplate_findings import wrong_turns
from jigs.job import read_job
from jigs.locating.heights import support_plane
from jigs.plan import plan
from jigs.record import record
from jigs.sheet.base_content import base_sections

TEMPLATE = Path(__file__).parents[2] / "templates" / "pinplate"


@pytest.mark.parametrize("seed", range(12))
def test_a_random_part_gets_a_plate_or_a_named_refusal(tmp_path, seed):
    assert check_random(tmp_path, 1000 + seed)


def planned(tmp_path, *edits: tuple[str, str]):
    """Return the starter job's pin plate, edited."""
    for name in ("job.toml", "shop.toml"):
        text = (TEMPLATE / name).read_text(encoding="utf-8")
        for old, new in edits:
            text = text.replace(old, new)
        (tmp_path / name).write_text(text, encoding="utf-8")
    return plan(read_job(tmp_path / "job.toml"))


def test_wrong_turns_are_those_at_which_the_turned_drawing_clears_both_pins(tmp_path):
    """Source: the drawing itself, turned about its middle degree by degree."""
    worked = planned(tmp_path)
    base, part = worked.setups[0].guide.base, worked.job.part
    body = shapely.Polygon(
        part.region.outer.facets(0.005), [h.facets(0.005) for h in part.region.holes]
    )
    pins = [shapely.Point(p.at).buffer(p.pin.limits.least_mm / 2 - 0.01) for p in base.places]
    free = [
        degrees
        for degrees in range(1, 360)
        if not any(
            shapely.affinity.rotate(body, degrees, origin=(0, 0)).intersects(pin) for pin in pins
        )
    ]
    assert [round(math.degrees(t)) for t in wrong_turns(base, part)] == free
    (note,) = [f for f in worked.findings if f.code == "pins-wrong-way"]
    assert "60°, 120°, 180°, 240°, 300°" in note.message


def test_two_like_bores_let_the_part_on_half_round(tmp_path):
    worked = planned(tmp_path, ("bolts = 6", "bolts = 2"))
    assert [
        round(math.degrees(t)) for t in wrong_turns(worked.setups[0].guide.base, worked.job.part)
    ] == [180]


def test_a_pin_of_plastic_is_warned_of(tmp_path):
    worked = planned(tmp_path, ('name = "pin set 2"', 'name = "pin set 2"\nmaterial = "acetal"'))
    assert "pin-soft" in {f.code for f in worked.findings}


def test_the_starter_is_good_and_its_stops_come_when_asked(tmp_path):
    worked = planned(tmp_path, ('hold = "tape"', 'stops = "auto"\nhold = "tape"'))
    assert worked.is_good
    guide = worked.setups[0].guide
    assert len(guide.base.stops) == 3
    assert [layer.name for layer in guide.base.layers] == ["plate", "stops", "part"]
    assert guide.seat_mm == pytest.approx(15.9 + 0.3)
    assert [c.kind.value for c in guide.contacts].count("support") == 3


def test_heat_moves_the_plate_by_its_own_metal_not_by_the_sheets_plastic(tmp_path):
    """Source: linear expansion: plate and part of one metal do not part at all."""
    warm = planned(tmp_path, ('flip = "x"', 'flip = "x"\ntemperature_change = 10'))
    shares = dict(warm.setups[0].critical[0].shares)
    cold = planned(tmp_path)
    contacts = [
        s.limit_mm
        for c in warm.setups[0].guide.contacts
        for s in c.sources
        if s.name == "temperature"
    ]
    assert contacts
    assert max(contacts) == pytest.approx(0.0, abs=1e-12)
    assert "temperature" in shares
    assert warm.setups[0].critical[0].worst_mm < cold.setups[0].critical[0].worst_mm + 0.03


def test_stops_lean_the_part_and_the_budget_and_the_sheet_say_so(tmp_path):
    """Source: the plane through three tips; the exact pose in space for every way they are off."""
    worked = planned(tmp_path, ('hold = "tape"', 'stops = "auto"\nhold = "tape"'))
    located = worked.setups[0].locating
    stops = [c for c in located.contacts if c.kind.value == "support"]
    (bore,) = located.heights
    limit = stops[0].limit_mm
    height = worked.job.part.height_mm
    # The steepest plane through three tips that are each ±limit off.
    steepest = max(
        support_plane(stops, [limit * s for s in signs]).tilt_rad
        for signs in itertools.product((-1, 1), repeat=3)
    )
    assert bore.tilt_rad == pytest.approx(steepest, rel=1e-9)
    assert bore.aside_mm == pytest.approx(height * math.sin(steepest), rel=1e-3)
    plain = planned(tmp_path).setups[0].critical[0]
    with_stops = worked.setups[0].critical[0]
    assert "stop height" in dict(with_stops.shares)
    assert 0 < with_stops.worst_mm - plain.worst_mm <= 2 * bore.aside_mm
    section = next(
        s for s in base_sections(worked.setups[0], worked, width_mm=180) if s.key == "z-stack"
    )
    text = repr(section)
    assert "lean the part by" in text
    assert "aside at the part's upper face" in text
    assert record(worked)["setups"][0]["locating"]["on_supports"][0]["name"] == bore.name
