"""Laws that every offset and boolean obeys, on regions drawn by seed.

Source: Minkowski addition and the lattice of sets, any text on mathematical morphology; areas
of parallel bodies by Steiner's formula.
"""

from __future__ import annotations

import math

import pytest
from filleted import RADII, region
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from kerf.boolean import difference, intersection, union
from kerf.contour import Contour, Region, Transform
from kerf.offset import Joint, offset

bounded = settings(derandomize=True, max_examples=25, deadline=None)
seeds = st.integers(0, 400)
steps = st.one_of(st.sampled_from(RADII), st.floats(0.02, 6.0))


def area(regions: tuple[Region, ...]) -> float:
    return sum(r.area_mm2 for r in regions)


def grown(regions: tuple[Region, ...], d: float) -> tuple[Region, ...]:
    """Each region offset, and what overlaps fused."""
    return union(part for r in regions for part in offset(r, d).regions)


@bounded
@given(seeds, steps)
def test_steiner_for_convex_outlines(seed, d) -> None:
    points = region(seed).outer.facets(0.5)
    hull = Region(outer=Contour.of(_hull([tuple(p) for p in points])))
    expected = hull.area_mm2 + hull.length_mm * d + math.pi * d * d
    assert area(offset(hull, d).regions) == pytest.approx(expected, rel=1e-11)


@bounded
@given(seeds, steps, steps)
def test_two_steps_out_are_one(seed, a, b) -> None:
    """(A ⊕ a) ⊕ b = A ⊕ (a + b): no disc is lost between the steps."""
    source = region(seed)
    twice = grown(offset(source, a).regions, b)
    assert area(twice) == pytest.approx(area(offset(source, a + b).regions), rel=1e-9, abs=1e-5)


@bounded
@given(seeds, steps, steps)
def test_two_steps_in_are_one(seed, a, b) -> None:
    source = region(seed)
    twice = grown(offset(source, -a).regions, -b)
    assert area(twice) == pytest.approx(area(offset(source, -a - b).regions), rel=1e-9, abs=1e-5)


@bounded
@given(seeds, steps)
def test_out_and_in_again_loses_nothing(seed, d) -> None:
    """Closing holds the region; opening lies in it."""
    source = region(seed)
    closed = grown(offset(source, d).regions, -d)
    opened = grown(offset(source, -d).regions, d)
    assert area(difference(source, closed)) == pytest.approx(0.0, abs=1e-5)
    assert area(opened) <= source.area_mm2 + 1e-6


@bounded
@given(seeds, steps, st.booleans())
def test_scale(seed, d, inward) -> None:
    d = -d if inward else d
    source = region(seed)
    plain = area(offset(source, d).regions)
    tripled = area(offset(source.transformed(Transform.scaling(3.0)), 3 * d).regions)
    assert tripled == pytest.approx(9 * plain, rel=1e-9, abs=1e-5)


@bounded
@given(seeds, steps, st.booleans())
def test_mitre_holds_round_and_round_holds_bevel(seed, d, inward) -> None:
    source = region(seed)
    signed = -d if inward else d
    mitre, arc, bevel = (
        area(offset(source, signed, joint=j).regions)
        for j in (Joint.MITRE, Joint.ROUND, Joint.BEVEL)
    )
    order = (bevel, arc, mitre) if signed > 0 else (mitre, arc, bevel)
    assert order[0] <= order[1] + 1e-6
    assert order[1] <= order[2] + 1e-6


@bounded
@given(seeds, seeds, st.floats(0.05, 4.0))
def test_growth_spreads_over_a_union(seed, other, d) -> None:
    """(A ∪ B) ⊕ d = (A ⊕ d) ∪ (B ⊕ d)."""
    a, b = region(seed), region(other).transformed(Transform.translation(11.0, 7.0))
    whole = grown(union([a, b]), d)
    parts = grown((a, b), d)
    assert area(whole) == pytest.approx(area(parts), rel=1e-9, abs=1e-5)


@bounded
@given(seeds, seeds, st.floats(-30, 30))
def test_a_region_is_what_it_shares_and_what_it_keeps(seed, other, shift) -> None:
    """A = (A ∩ B) ∪ (A − B), and the two do not overlap."""
    a, b = region(seed), region(other).transformed(Transform.translation(shift, 1.0))
    shared, kept = intersection(a, b), difference(a, [b])
    assert area(shared) + area(kept) == pytest.approx(a.area_mm2, rel=1e-10)
    assume(shared and kept)
    assert area(union([*shared, *kept])) == pytest.approx(a.area_mm2, rel=1e-10)


def _hull(points: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Convex hull by Andrew's monotone chain, counter-clockwise."""

    def chain(rows: list[tuple[float, float]]) -> list[tuple[float, float]]:
        out: list[tuple[float, float]] = []
        for p in rows:
            while len(out) > 1 and (
                (out[-1][0] - out[-2][0]) * (p[1] - out[-2][1])
                - (out[-1][1] - out[-2][1]) * (p[0] - out[-2][0])
                <= 1e-9
            ):
                out.pop()
            out.append(p)
        return out[:-1]

    rows = sorted(set(points))
    return chain(rows) + chain(rows[::-1])
