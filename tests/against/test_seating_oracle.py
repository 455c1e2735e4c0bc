"""Balances and pushes against scipy's least squares and linear programme."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import linprog, nnls

from jigs.locating.balance import least_balance, nearest_balance
from jigs.locating.closure import tangent_rows
from jigs.locating.contacts import Contact, ContactKind
from jigs.locating.pose import locating_rows
from jigs.locating.pushes import MOST_FRICTION, friction_limit
from jigs.locating.seating import Push
from kerf.contour import Point, Vector
from kerf.errors import GeometryError


def rows_of(rng, n, columns):
    rows = rng.normal(size=(n, columns))
    if rng.random() < 0.3 and n > 1:  # two alike, or opposite
        rows[-1] = rows[0] * rng.choice((1.0, -1.0, 2.0))
    if rng.random() < 0.2:
        rows[:, -1] = 0.0
    return rows


@pytest.mark.parametrize("columns", [2, 3, 6])
def test_nearest_balance_against_nnls(columns):
    """300 random sets, some with rows alike. Source: scipy's non-negative least squares."""
    rng = np.random.default_rng(columns)
    met = 0
    for _ in range(300):
        rows, target = rows_of(rng, int(rng.integers(1, 9)), columns), rng.normal(size=columns)
        weights, left = nearest_balance(rows, target)
        _, theirs = nnls(rows.T, target)
        assert left == pytest.approx(theirs, abs=1e-9)
        assert np.all(weights >= 0)
        assert np.linalg.norm(rows.T @ weights - target) == pytest.approx(left, abs=1e-9)
        met += theirs < 1e-9
    assert 5 < met < 280


def test_nearest_balance_of_nothing_is_the_target_itself():
    weights, left = nearest_balance(np.empty((0, 3)), np.array([3.0, 4.0, 0.0]))
    assert (len(weights), left) == (0, 5.0)
    weights, left = nearest_balance(np.eye(3), np.zeros(3))
    assert (weights.tolist(), left) == ([0.0, 0.0, 0.0], 0.0)


def test_least_balance_against_linprog():
    """300 random sets; half of them balance by construction. Source: scipy's linprog."""
    rng = np.random.default_rng(5)
    balanced = 0
    for _ in range(300):
        n = int(rng.integers(2, 8))
        rows, terms = rows_of(rng, n, 3), rng.normal(size=n)
        if rng.random() < 0.5:
            rows[-1] = -rng.uniform(0.1, 2, n - 1) @ rows[:-1]
        theirs = linprog(
            terms,
            A_eq=np.vstack((rows.T, np.ones(n))),
            b_eq=[0.0, 0.0, 0.0, 1.0],
            bounds=(0, None),
        )
        mine = least_balance(rows, terms)
        assert math.isinf(mine) == (not theirs.success)
        if theirs.success:
            balanced += 1
            assert mine == pytest.approx(theirs.fun, abs=1e-7)
    assert 60 < balanced < 280


def contacts_of(rng):
    """Three contacts round an ellipse, normals into it within a cone."""
    out = []
    for i, a in enumerate(rng.uniform(0, math.tau, 3)):
        lean = a + math.pi + rng.uniform(-0.5, 0.5)
        out.append(
            Contact(
                name=f"C{i}",
                at=Point(50 * math.cos(a), 30 * math.sin(a)),
                normal=Vector(math.cos(lean), math.sin(lean)),
                kind=ContactKind.WALL,
                on="",
            )
        )
    return out


def may_stay_off(contacts, push, friction):
    """Return whether friction can balance the push with some contact empty, or the part jam."""
    n, e = locating_rows(contacts), tangent_rows(contacts)
    cone = np.vstack((n + friction * e, n - friction * e))
    for i in range(3):
        kept = [k for k in range(6) if k % 3 != i]
        answer = linprog(
            np.zeros(4), A_eq=cone[kept].T, b_eq=-np.array(push.wrench), bounds=(0, None)
        )
        if answer.success:
            return True
    # Jammed: forces within the cones that hold one another, with no push at all.
    jammed = linprog(
        np.zeros(6),
        A_eq=np.vstack((cone.T, np.ones(6))),
        b_eq=[0.0, 0.0, 0.0, 1.0],
        bounds=(0, None),
    )
    return bool(jammed.success)


def test_reserve_of_friction_against_linprog():
    """Below the limit no state of friction leaves a contact empty; just above one does, or the
    part can jam. Source: Coulomb cones as a linear programme (Lynch & Park, ch. 12), scipy."""
    rng = np.random.default_rng(8)
    judged = 0
    while judged < 60:
        contacts = contacts_of(rng)
        a = rng.uniform(0, math.tau)
        aim = a + math.pi + rng.uniform(-0.6, 0.6)
        push = Push(
            at=Point(50 * math.cos(a), 30 * math.sin(a)),
            along=Vector(math.cos(aim), math.sin(aim)),
        )
        try:
            limit = friction_limit(contacts, push)
        except GeometryError:
            continue
        if limit is None:
            bare = linprog(
                np.zeros(3),
                A_eq=locating_rows(contacts).T,
                b_eq=-np.array(push.wrench),
                bounds=(1e-6, None),
            )
            assert not bare.success
            continue
        judged += 1
        if limit > 0.004:
            assert not may_stay_off(contacts, push, limit * 0.98)
        if limit < MOST_FRICTION:
            assert may_stay_off(contacts, push, limit + 0.004)
