"""Laws of locating: what no turn, mirror, order or choice of origin may change."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from jigs.locating.closure import closure_report
from jigs.locating.contacts import Contact, ContactKind, Source, Tie
from jigs.locating.determinacy import plane_determinacy
from jigs.locating.error import critical_errors
from jigs.locating.field import Field
from jigs.locating.pose import gaps_mm, locating_rows, pose_exact, pose_linear
from jigs.locating.search import Other, best_of, best_three
from jigs.part import Critical
from kerf.contour import Point, Transform, Vector

LAW = settings(derandomize=True, deadline=None, max_examples=60)

places = st.floats(-80, 80, allow_nan=False).map(lambda v: round(v, 3))
angles = st.floats(0, math.tau, allow_nan=False)
radii = st.sampled_from([0.0, 0.0, 12.0, -30.0])
noses = st.sampled_from([0.0, 2.0])


@st.composite
def contact_sets(draw, least=3, most=3):
    """Contacts with independent and shared causes."""
    out = []
    for n in range(draw(st.integers(least, most))):
        a = draw(angles)
        out.append(
            Contact(
                name=f"C{n}",
                at=Point(draw(places), draw(places)),
                normal=Vector(math.cos(a), math.sin(a)),
                kind=ContactKind.WALL,
                on="wall",
                radius_mm=draw(radii),
                locator_radius_mm=draw(noses),
                sources=(
                    Source(name="edge", limit_mm=0.02, u_mm=0.01),
                    Source(name="kerf", limit_mm=0.01, u_mm=0.004, tie=Tie.TOGETHER, group="k"),
                ),
            )
        )
    return tuple(out)


def sound(contacts):
    """Whether three contacts are far from singular."""
    found = plane_determinacy(contacts)
    return found.determined and found.conditioning < 30


def moved(contacts, by):
    """The same contacts after a rigid motion or mirror."""
    return tuple(
        replace(c, at=by.point(*c.at), normal=Vector(*by.vector(*c.normal))) for c in contacts
    )


@LAW
@given(contact_sets(), places, places)
def test_quarter_turns_and_mirrors_only_swap_axes(contacts, x, y):
    assume(sound(contacts))
    at = Point(x, y)

    def error(by):
        feature = Critical(name="f", at=by.point(*at), tolerance_mm=1.0)
        return critical_errors([feature], moved(contacts, by))[0]

    home = error(Transform())
    shifted = error(Transform.translation(31.0, -17.0))
    assert shifted.worst_x_mm == pytest.approx(home.worst_x_mm, rel=1e-6)
    assert shifted.rss_y_mm == pytest.approx(home.rss_y_mm, rel=1e-6)
    assert shifted.second_order_mm == pytest.approx(home.second_order_mm, rel=1e-5, abs=1e-12)
    turned = error(Transform.rotation(math.pi / 2))
    assert (turned.worst_x_mm, turned.worst_y_mm) == pytest.approx(
        (home.worst_y_mm, home.worst_x_mm), rel=1e-6
    )
    flipped = error(Transform.mirror_x())
    assert (flipped.worst_x_mm, flipped.rss_y_mm) == pytest.approx(
        (home.worst_x_mm, home.rss_y_mm), rel=1e-6
    )


@LAW
@given(contact_sets(), st.lists(st.floats(-0.05, 0.05), min_size=3, max_size=3))
def test_exact_pose_touches_all_and_lies_near_the_linear_one(contacts, deltas):
    assume(sound(contacts))
    exact, linear = pose_exact(contacts, deltas), pose_linear(contacts, deltas)
    q = np.array([[exact.x_mm, exact.y_mm, exact.turn_rad]])
    assert np.abs(gaps_mm(contacts, q, np.array([deltas]))).max() < 1e-9
    limits = [
        replace(c, sources=(Source(name="d", limit_mm=abs(d), u_mm=0.0),))
        for c, d in zip(contacts, deltas, strict=True)
    ]
    feature = Critical(name="f", at=Point(40, 25), tolerance_mm=1.0)
    bound = critical_errors([feature], limits)[0].second_order_mm
    a, b = exact.shift_at(feature.at), linear.linear_shift_at(feature.at)
    assert max(abs(a.x - b.x), abs(a.y - b.y)) <= bound + 1e-11


@LAW
@given(contact_sets(3, 6), places, places)
def test_rank_and_closure_hang_on_neither_origin_nor_order(contacts, x, y):
    there = moved(contacts, Transform.rotation(0.7).then(Transform.translation(10 * x, y)))
    home = plane_determinacy(contacts)
    assume(home.conditioning < 1e6 or math.isinf(home.conditioning))
    assert plane_determinacy(there).rank == home.rank
    assert plane_determinacy(contacts[::-1]).rank == home.rank
    closure = closure_report(contacts).closure
    assert closure_report(there).closure is closure
    assert closure_report(contacts[::-1]).closure is closure


@LAW
@given(contact_sets(2, 3))
def test_free_motions_touch_nothing_to_first_order(contacts):
    """Every free turn told in words keeps all gaps: its centre lies on every normal."""
    for words in plane_determinacy(contacts).free:
        if words.startswith("turning about ("):
            cx, cy = map(float, words[len("turning about (") : -1].split(", "))
            twist = np.array([cy, -cx, 1.0])
            size = 1 + abs(cx) + abs(cy)
            assert np.abs(locating_rows(contacts) @ twist).max() < 2e-3 * size


def random_field(seed: int, n: int) -> Field:
    """Candidates without any geometry behind them: the search must not lean on smoothness."""
    rng = np.random.default_rng(seed)
    a = np.repeat(rng.uniform(0, math.tau, n // 4 + 1), 4)[:n]
    a = a + rng.normal(0, rng.choice([0.0, 0.2]), n)
    rows = int(rng.integers(1, 6))
    levers = rng.uniform(-1, 1, rows)
    along_x = rng.integers(0, 2, rows).astype(float)
    return Field(
        normals=np.column_stack((np.cos(a), np.sin(a))),
        moments=rng.uniform(-1, 1, n),
        places=rng.uniform(-50, 50, (n, 2)),
        limits=rng.uniform(0.01, 0.05, n),
        together=rng.uniform(-0.03, 0.03, (int(rng.integers(0, 3)), n)),
        rounds=np.empty((0, n)),
        rows=np.column_stack((along_x, 1 - along_x, levers)),
        constants=rng.uniform(0, 0.02, rows),
        tolerances=rng.uniform(0.05, 0.3, rows),
        spacing_mm=float(rng.choice([0.0, 20.0])),
        free=n,
        faces=np.repeat(np.arange(n), int(rng.integers(1, 9)))[:n],
        one_push=bool(rng.integers(0, 2)),
    )


@pytest.mark.parametrize("seed", range(24))
def test_bounds_never_drop_the_best(seed):
    """Branch and bound against every triple, on fields without geometry."""
    n = (3, 9, 33, 50)[seed % 4]
    field = random_field(seed, n)
    every = np.array(list(combinations(range(n), 3)), dtype=np.int64)
    for other in (None, Other(faces=(0, 1, 2)), Other(triple=(0, 1, 2))):
        plain, quick = best_of(field, every, other=other), best_three(field, other=other)
        assert quick.value == pytest.approx(plain.value, rel=1e-12)
        assert {tuple(sorted(t)) for t in quick.triples.tolist()} == {
            tuple(t) for t in plain.triples.tolist()
        }
