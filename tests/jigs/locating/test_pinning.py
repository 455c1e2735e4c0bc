"""The chosen bores and pins against all pairs and all pins, one by one.

Source: exhaustive search: every ordered pair of bores with every pair of pins, judged by the
same worst case; what a pair must obey is written out here anew.
"""

from __future__ import annotations

import itertools
import math
import random
from dataclasses import replace

import pytest

from jigs.fits import Limits
from jigs.locating.contacts import bore_contacts
from jigs.locating.error import critical_errors
from jigs.locating.pin_places import PartBore, Role, Seating, round_holes
from jigs.locating.pinning import LOOSE_MM, chosen_pins
from jigs.locating.sources import locator_source
from jigs.part import Critical, Part
from jigs.pins import Pin, hole_limits
from kerf.contour import Contour, Point, Region, Vector
from kerf.errors import InputError

SEATING = Seating(slip="H7", hole_place_mm=0.01, pitch_mm=0.02, least_mm=0.005, web_mm=3.0)


def pin(size: float, spread: float = 0.005, land: float = 0.0, name: str = "") -> Pin:
    return Pin(
        name=name or f"{size:.3f}{'r' if land else ''}",
        nominal_mm=size,
        limits=Limits(least_mm=size - spread, most_mm=size),
        made_to="minus ZZ",
        relieved=land > 0,
        land_mm=land,
    )


def part_with(bores: list[tuple[float, float, float]], critical=()) -> Part:
    return Part(
        name="p",
        region=Region(
            outer=Contour.rectangle(0, 0, 120, 80),
            holes=tuple(Contour.circle(x, y, d / 2) for x, y, d in bores),
        ),
        height_mm=10,
        material="6061-T6",
        edge_tolerance_mm=0.02,
        critical=tuple(critical),
    )


def bores_of(part: Part, tolerance: float = 0.01) -> tuple[PartBore, ...]:
    return tuple(
        PartBore(
            name=f"bore {i}",
            at=at,
            drawn_mm=size,
            limits=Limits(least_mm=size, most_mm=size + tolerance),
        )
        for i, (at, size) in enumerate(round_holes(part.region), 1)
    )


def brute_force(part: Part, bores, pins) -> float:
    """Return the least greatest error over tolerance of all pairs and pins; inf for none."""
    best = math.inf
    for a, b in itertools.permutations(bores, 2):
        span = math.dist(a.at, b.at)
        along = Vector((b.at.x - a.at.x) / span, (b.at.y - a.at.y) / span)
        for p, q in itertools.permutations(pins, 2):
            least = [x.limits.least_mm - y.limits.most_mm for x, y in ((a, p), (b, q))]
            if p.relieved or not all(c + 1e-6 >= 0.005 and c <= 0.005 + LOOSE_MM for c in least):
                continue
            holes = [hole_limits(x) for x in (p, q)]
            if span - (holes[0].most_mm + holes[1].most_mm) / 2 < SEATING.web_mm:
                continue
            take = least[1] / 2
            if q.relieved:
                square = b.limits.least_mm**2 - q.limits.most_mm**2
                take = (math.sqrt(q.land_mm**2 + square) - q.land_mm) / 2
            if take + least[0] / 2 < 0.02 + 2 * 0.01:
                continue
            contacts = []
            for name, x, y, hole, relief in (
                ("P1", a, p, holes[0], None),
                ("P2", b, q, holes[1], along),
            ):
                # All that lets the part off the pin's place, as one clearance.
                spare = max(0.0, hole.most_mm - y.limits.least_mm)
                grown = x.limits.most_mm + spare
                extra = 2 * 0.01 + (2 * 0.02 if relief else 0.0)
                if relief:
                    grown += extra
                    extra = 0.0
                found = bore_contacts(
                    name,
                    x.at,
                    bore_diameter_mm=grown,
                    pin_diameter_mm=y.limits.least_mm,
                    relief=relief,
                )
                if extra:
                    found = tuple(
                        replace(c, sources=(*c.sources, locator_source(tolerance_mm=0.01)))
                        for c in found
                    )
                contacts += found
            errors = critical_errors(part.critical, contacts)
            best = min(best, max(e.worst_mm / e.tolerance_mm for e in errors))
    return best


@pytest.mark.parametrize("seed", range(12))
def test_the_best_of_all_pairs_and_pins_is_chosen(seed):
    rng = random.Random(seed)
    places = rng.sample([(x, y) for x in (15, 45, 75, 105) for y in (15, 40, 65)], 4)
    bores = [(x, y, rng.choice((6.0, 6.2, 8.0, 8.05))) for x, y in places]
    critical = [
        Critical(
            name=f"c{i}",
            at=Point(rng.uniform(0, 120), rng.uniform(0, 80)),
            tolerance_mm=rng.choice((0.05, 0.1, 0.3)),
        )
        for i in range(3)
    ]
    part = part_with(bores, critical)
    pins = [pin(size) for size in rng.sample([5.9 + 0.02 * i for i in range(110)], 9)]
    pins += [pin(size, land=1.2) for size in rng.sample((5.95, 5.98, 7.9, 7.97), 2)]
    wanted = brute_force(part, bores_of(part), pins)
    if math.isinf(wanted):
        assert not any(
            p.role in (Role.RELIEVED, Role.SMALL)
            for p in chosen_pins(part, bores_of(part), pins, SEATING).places
        )
        return
    found = chosen_pins(part, bores_of(part), pins, SEATING)
    assert found.worst_share == pytest.approx(wanted, rel=1e-4)
    assert found.places[1].bore is not None


CENTRE = [Critical(name="c", at=Point(60, 40), tolerance_mm=0.1)]


def test_a_relieved_pin_is_taken_where_it_is_closer():
    part = part_with([(20, 40, 8.0), (100, 40, 8.0)], CENTRE)
    pins = [pin(7.98), pin(7.97, land=1.0), pin(7.92)]
    found = chosen_pins(part, bores_of(part), pins, SEATING)
    assert [p.role for p in found.places] == [Role.ROUND, Role.RELIEVED]
    assert found.findings == ()


def test_without_a_relieved_pin_the_cost_is_told():
    part = part_with([(20, 40, 8.0), (100, 40, 8.0)], CENTRE)
    found = chosen_pins(part, bores_of(part), [pin(7.98), pin(7.97), pin(7.92)], SEATING)
    assert found.places[1].role is Role.SMALL
    (note,) = found.findings
    assert note.code == "pin-not-relieved"
    assert note.measured > note.limit
    assert f"{note.measured:.3f} mm instead of {note.limit:.3f} mm" in note.message


def test_one_bore_alone_takes_a_pin_beside_an_edge():
    part = part_with([(20, 40, 8.0)], CENTRE)
    found = chosen_pins(part, bores_of(part), [pin(7.98), pin(6.0)], SEATING)
    first, stop = found.places
    assert stop.role is Role.EDGE
    (contact,) = stop.contacts
    assert math.dist(stop.at, contact.at) == pytest.approx(stop.pin.limits.middle_mm / 2)
    assert not part.region.contains(*stop.at)
    assert len(found.contacts) == 3
    # The longest lever about the bore: an edge far from it, not the one beside it.
    assert math.dist(contact.at, first.at) > 60


@pytest.mark.parametrize(
    ("bores", "pins", "code"),
    [
        ([(50, 40, 8.0), (59, 40, 8.0)], [pin(7.98), pin(7.97, land=1), pin(6)], "bores-too-close"),
        ([(20, 40, 8.0), (90, 40, 8.0)], [pin(7.99), pin(7.985), pin(6)], "pitch-too-stiff"),
        ([(20, 40, 8.0), (90, 40, 20.0)], [pin(7.98), pin(7.97), pin(6)], "second-bore-bare"),
    ],
)
def test_a_pair_that_cannot_serve_is_named_and_an_edge_is_used(bores, pins, code):
    part = part_with(bores, CENTRE)
    found = chosen_pins(part, bores_of(part), pins, SEATING)
    assert [p.role for p in found.places] == [Role.ROUND, Role.EDGE]
    assert [f.code for f in found.findings] == [code]


@pytest.mark.parametrize(
    ("bores", "pins", "said"),
    [
        ([(20, 40, 8.0)], [], "no pins"),
        ([], [pin(8)], "no round bore"),
        ([(20, 40, 8.0)], [pin(8.0), pin(7.0)], "no bore fits a pin"),
        ([(20, 40, 8.0)], [pin(7.98)], "no second pin"),
    ],
)
def test_what_cannot_be_located_is_refused_by_name(bores, pins, said):
    part = part_with(bores, CENTRE)
    with pytest.raises(InputError) as caught:
        chosen_pins(part, bores_of(part), pins, SEATING, where="job.toml: setup[0].bores")
    assert said in caught.value.what
    assert caught.value.hint
    assert caught.value.where == "job.toml: setup[0].bores"


def test_a_slot_is_no_round_hole():
    slot = Contour.of(((40, 30), (60, 30, 1.0), (60, 40), (40, 40, 1.0)))
    region = Region(outer=Contour.rectangle(0, 0, 120, 80), holes=(slot, Contour.circle(20, 40, 4)))
    assert round_holes(region) == ((Point(20.0, 40.0), 8.0),)


def test_a_running_fit_asks_for_more_play():
    """Source: ANSI B4.1, RC3 for 0.24 to 0.40 in: 0.0005 in at least."""
    part = part_with([(20, 40, 8.0), (100, 40, 8.0)], CENTRE)
    pins = [pin(7.99), pin(7.98), pin(7.95, land=1.0), pin(7.94, land=1.0)]
    free = chosen_pins(part, bores_of(part), pins, SEATING).places[0]
    fitted = chosen_pins(part, bores_of(part), pins, replace(SEATING, fit="RC3")).places[0]
    assert free.pin.nominal_mm == 7.99
    assert fitted.pin.nominal_mm == 7.98
    assert fitted.fit.least_mm >= 0.0005 * 25.4
