"""Sizes of the real guide correct its offsets; the truth is a guide cut with another kerf."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from jigs.ascut import Serves, as_cut
from jigs.guides.guide import CheckSize, Datum, Face, Guide, Plane, Plate, SetBy
from jigs.locating.contacts import Contact, ContactKind
from jigs.locating.sources import kerf_source
from kerf.beam import KerfCard
from kerf.contour import Contour, Point, Region, Transform, Vector
from kerf.errors import InputError, ReadingError

CARD = KerfCard(name="card", kerf_mm=0.20, u_mm=0.04)
ZERO = Point(60.0, 40.0)

#: Plate 120 × 80, pocket 80.2 × 40.2 about (60, 40), clearance 0.1.
REGION = Region(
    outer=Contour.rectangle(0, 0, 120, 80),
    holes=(Contour.rectangle(19.9, 19.9, 80.2, 40.2),),
)
ENDS = {
    "plate along x": ((0, 10), (120, 10)),
    "plate along y": ((10, 0), (10, 80)),
    "X to near wall": ((0, 40), (19.9, 40)),
    "X to far wall": ((0, 30), (100.1, 30)),
    "Y to near wall": ((60, 0), (60, 19.9)),
    "pocket along x": ((19.9, 45), (100.1, 45)),
}


def datum(axis, face, offset):
    return Datum(
        axis=axis,
        face=f"face {face}",
        set_by=SetBy.GUIDE_FACE,
        side="−" + axis,
        offset_mm=offset,
        u_mm=math.hypot(CARD.u_mm / 2, 0.008),
        pick_up="",
        finder="",
        tip_radius_mm=5.0,
        reading_mm=offset - 5.0,
    )


def guide(contacts=(), clearance_mm=0.1):
    plate = Plate(
        name="nest",
        region=REGION,
        strokes=(),
        to_part=Transform(),
        stock="acrylic-5",
        thickness_mm=5.0,
    )
    return Guide(
        kind="nest",
        plane=Plane.XY,
        plates=(plate,),
        faces=(
            Face(name="X", plate="nest", start=Point(0, 80), end=Point(0, 0), normal=Vector(-1, 0)),
            Face(
                name="Y", plate="nest", start=Point(0, 0), end=Point(120, 0), normal=Vector(0, -1)
            ),
        ),
        contacts=contacts,
        datums=(datum("X", "X", -60.0), datum("Y", "Y", -40.0)),
        checks=tuple(
            CheckSize(
                name=name,
                nominal_mm=math.dist(*ends),
                plus_minus_mm=0.04,
                start=Point(*ends[0]),
                end=Point(*ends[1]),
            )
            for name, ends in ENDS.items()
        ),
        clearance_mm=clearance_mm,
    )


def sizes(kerf_change=0.0, scale=0.0, names=tuple(ENDS)):
    """Return what a guide cut with a kerf wider by kerf_change measures: written out by hand."""
    change = {
        "plate along x": -kerf_change,
        "plate along y": -kerf_change,
        "X to near wall": -kerf_change,
        "X to far wall": 0.0,
        "Y to near wall": -kerf_change,
        "pocket along x": kerf_change,
    }
    return {n: (math.dist(*ENDS[n]) * (1 + scale) + change[n],) for n in names}


def cut(readings, *, of=None, u=0.002, card=CARD):
    return as_cut(of or guide(), card, readings, zero=ZERO, instrument_u_mm=u)


def test_nothing_off_changes_nothing():
    found = cut(sizes())
    assert found.proud_mm == pytest.approx(0.0, abs=1e-12)
    assert [o.now_mm for o in found.offsets] == pytest.approx([-60.0, -40.0])
    assert found.serves is Serves.AS_IS
    assert found.clearance_mm == pytest.approx((0.1, 0.1))


@pytest.mark.parametrize("kerf_change", [0.03, -0.02])
def test_a_wider_kerf_moves_the_faces_in_and_leaves_the_pocket_in_its_place(kerf_change):
    found = cut(sizes(kerf_change), u=1e-4)
    assert found.kerf_mm == pytest.approx(0.2 + kerf_change, abs=0.006)
    x, y = found.offsets
    # Both faces were measured; each stands half the change nearer to the part.
    assert x.now_mm == pytest.approx(-60.0 + kerf_change / 2, abs=0.003)
    assert y.now_mm == pytest.approx(-40.0 + kerf_change / 2, abs=0.004)
    assert x.reading_mm == pytest.approx(x.now_mm - 5.0)
    least, greatest = found.clearance_mm
    assert least == pytest.approx(0.1 + kerf_change / 2, abs=0.006)
    assert greatest == pytest.approx(0.1 + kerf_change / 2, abs=0.006)


def test_measured_walls_are_known_better_than_the_card_knew():
    found = cut(sizes(0.02))
    for before, after in zip(guide().datums, found.offsets, strict=True):
        assert after.u_mm < before.u_mm
    assert found.proud_u_mm < CARD.u_mm / 2


def test_a_scale_error_is_told_from_a_kerf_error():
    found = cut(sizes(0.0, scale=5e-4), u=5e-4)
    assert abs(found.proud_mm) < 0.005
    x = found.offsets[0]
    assert x.now_mm == pytest.approx(-60.0 * 1.0005, abs=0.006)


def test_one_poor_reading_is_not_over_trusted():
    """The joint estimate lies between card and reading, by their variances."""
    sure = replace(CARD, u_scale=1e-6)
    found = cut(sizes(0.04, names=("plate along x",)), u=0.05, card=sure)
    assert 0.2 < found.kerf_mm < 0.22
    sharp = cut(sizes(0.04, names=("plate along x",)), u=0.001, card=sure)
    # Two walls of their own (0.012) against twice half a kerf of u 0.04: 85 % is the kerf's.
    assert sharp.kerf_mm == pytest.approx(0.2 + 0.04 * 0.0016 / (0.0016 + 2 * 0.012**2), abs=1e-4)


def test_estimates_scatter_as_they_say():
    """600 guides drawn from the prior: errors of the new X offset are one u in scatter."""
    rng = np.random.default_rng(3)
    errors, told = [], []
    own = 0.012
    for _ in range(600):
        g = rng.normal(0, CARD.u_mm / 2)
        w = {k: rng.normal(0, own) for k in ("L", "R", "B", "T", "l", "r", "b")}
        s = rng.normal(0, 5e-4, 2)
        # Positions of the walls: outer left, right; pocket left, right; bottoms.
        left, right = -(g + w["L"]), 120 * (1 + s[0]) + g + w["R"]
        near, far = 19.9 * (1 + s[0]) + g + w["l"], 100.1 * (1 + s[0]) - g - w["r"]
        readings = {
            "plate along x": (right - left + rng.normal(0, 0.005),),
            "X to near wall": (near - left + rng.normal(0, 0.005),),
            "X to far wall": (far - left + rng.normal(0, 0.005),),
        }
        found = cut(readings, u=0.005)
        truth = left - (near + far) / 2
        x = found.offsets[0]
        errors.append(x.now_mm - truth)
        told.append(math.sqrt(x.u_mm**2 - 0.008**2))
    # Standard error of a standard deviation from 600 trials: 2.9 %.
    assert np.std(errors) / np.mean(told) == pytest.approx(1.0, abs=0.1)
    assert abs(np.mean(errors)) < 4 * np.std(errors) / math.sqrt(600)


def test_the_part_follows_the_contacts_it_rests_on():
    """Corner of three contacts: walls 0.02 further back shift the part by as much (G q = δ)."""
    source = kerf_source(u_kerf_mm=CARD.u_mm, sheet="card")
    contacts = tuple(
        Contact(
            name=name,
            at=Point(*at),
            normal=Vector(*normal),
            kind=ContactKind.WALL,
            on="wall",
            sources=(source,),
        )
        for name, at, normal in (
            ("Y1", (30, 19.9), (0, 1)),
            ("Y2", (90, 19.9), (0, 1)),
            ("X1", (19.9, 40), (1, 0)),
        )
    )
    resting = guide(contacts, clearance_mm=0.0)
    readings = {"X to near wall": (19.9 - 0.04,), "Y to near wall": (19.9 - 0.04,)}
    found = cut(readings, of=resting, u=1e-4)
    # Web between face and wall is 0.04 thinner: the part sits 0.04 nearer to the face.
    for offset, was in zip(found.offsets, (-60.0, -40.0), strict=True):
        assert offset.now_mm == pytest.approx(was + 0.04, abs=1e-3)
    for before, after in zip(contacts, found.contacts, strict=True):
        assert after.sources[0].u_mm < before.sources[0].u_mm
        assert after.sources[0].name == "kerf"


def test_verdicts():
    tight = cut(sizes(-0.3), u=1e-3)
    assert tight.serves is Serves.RECUT
    assert "does not go in" in tight.advice
    assert "recut with a kerf of" in tight.advice
    loose = cut(sizes(0.3), u=1e-3)
    assert loose.serves is Serves.RECUT
    assert "too loosely" in loose.advice
    reset = cut(sizes(0.05), u=1e-3)
    assert reset.serves is Serves.RESET
    assert "no recut is needed" in reset.advice


def test_a_measured_card_brings_its_own_scale():
    """A card with a small scale uncertainty puts a length's excess down to the walls."""
    sure = replace(CARD, u_scale=1e-6)
    found = cut({"plate along x": (119.95,)}, u=1e-3, card=sure)
    unsure = cut({"plate along x": (119.95,)}, u=1e-3, card=CARD)
    assert abs(found.proud_mm) > abs(unsure.proud_mm)


@pytest.mark.parametrize(
    ("readings", "error", "words"),
    [
        ({}, InputError, "nothing was measured"),
        ({"plate along z": (1.0,)}, InputError, "is no check size"),
        ({"plate along x": ()}, InputError, "has no reading"),
        ({"plate along x": (4.724,)}, ReadingError, "inches"),
        ({"plate along x": (102.0,)}, ReadingError, "another size"),
    ],
)
def test_readings_that_make_no_sense_are_refused(readings, error, words):
    with pytest.raises(error) as fault:
        cut(readings)
    assert words in fault.value.describe()


def test_the_instrument_must_have_an_uncertainty():
    with pytest.raises(InputError, match="above 0"):
        cut(sizes(), u=0.0)
