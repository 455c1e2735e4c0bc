"""Wrong ways of 300 random parts of known symmetry, and a scan for any that were missed.

Source: the symmetry is built into each part; the scan asks shapely at every two degrees.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from turning_parts import least_overlap_mm, part_of_symmetry

from jigs.locating.loading import wrong_ways
from kerf.contour import Region
from kerf.offset import offset

GROUPS = [(order, mirrored) for order in (1, 2, 3, 4, 6) for mirrored in (False, True)]
CLEARANCE_MM, MARGIN_MM = 0.15, 0.3


@pytest.mark.parametrize(("order", "mirrored"), GROUPS)
def test_symmetry_is_classified(order: int, mirrored: bool) -> None:
    for seed in range(30):
        check(order, mirrored, seed)


def draw(order: int, mirrored: bool, seed: int) -> Region:
    rng = np.random.default_rng((seed, order, mirrored))
    while (part := part_of_symmetry(rng, order, mirrored)) is None:
        pass
    return part


def check(order: int, mirrored: bool, seed: int, *, scan: bool = False) -> None:
    """Compare the ways found with the group built in; others must really fit."""
    part = draw(order, mirrored, seed)
    (void,) = offset(part, CLEARANCE_MM).regions
    ways = wrong_ways(part, void, margin_mm=MARGIN_MM)
    sector = 2 * math.pi / order
    plain = [way for way in ways if not way.flipped and way.fits]
    for k in range(1, order):
        near = [way for way in plain if apart(way.turn_rad, k * sector) < 1e-6]
        assert len(near) == 1, (order, mirrored, seed, k)
    flipped = [way for way in ways if way.flipped and way.fits]
    if mirrored:
        assert len(flipped) >= order, (order, seed)
        # Their turns stand a sector apart.
        first = flipped[0].turn_rad
        for k in range(order):
            assert any(apart(w.turn_rad, first + k * sector) < 1e-6 for w in flipped), (order, seed)
    for way in ways:
        found = least_overlap_mm(part, void, way.turn_rad, way.flipped)
        assert found <= way.overlap_mm + 0.03, (order, mirrored, seed, way)
    if scan:
        for is_flipped in (False, True):
            for turn in np.arange(0, 2 * math.pi, math.radians(2)):
                if not is_flipped and apart(turn, 0.0) < 0.04:
                    continue
                if least_overlap_mm(part, void, turn, is_flipped) < MARGIN_MM / 2:
                    assert any(
                        way.flipped == is_flipped and apart(way.turn_rad, turn) < 0.06
                        for way in ways
                    ), (order, mirrored, seed, is_flipped, turn)


def apart(a: float, b: float) -> float:
    return abs((a - b + math.pi) % (2 * math.pi) - math.pi)


@pytest.mark.parametrize(("order", "mirrored"), GROUPS)
def test_scan_finds_no_other_way(order: int, mirrored: bool) -> None:
    check(order, mirrored, 100, scan=True)
