"""The stated errors against a million draws of exact poses.

Source: JCGM 101:2008 (propagation of distributions by Monte Carlo) as the method; each draw's
pose is solved exactly by ``poses_exact``, which is itself checked here against the geometry.
The worst case is a bound of the linear map; what curvature and finite turns add is bounded by
``second_order_mm``, and no draw may pass the sum of the two.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from jigs.locating.contacts import (
    Contact,
    ContactKind,
    FrameSource,
    Source,
    Tie,
    bore_contacts,
    contact_at_length,
)
from jigs.locating.error import critical_errors
from jigs.locating.pose import gaps_mm, poses_exact
from jigs.locating.sources import edge_source, kerf_source, temperature_source
from jigs.part import Critical
from kerf.contour import Contour, Point, Vector

DRAWS = 1_000_000
FEATURES = (
    Critical(name="corner", at=Point(100, 60), tolerance_mm=1.0),
    Critical(name="middle", at=Point(50, 30), tolerance_mm=1.0),
)


def wall(name, x, y, nx, ny, **more):
    return Contact(
        name=name, at=Point(x, y), normal=Vector(nx, ny), kind=ContactKind.WALL, on="", **more
    )


def with_limits(contacts, limits):
    return [
        Contact(
            name=c.name,
            at=c.at,
            normal=c.normal,
            kind=c.kind,
            on=c.on,
            radius_mm=c.radius_mm,
            locator_radius_mm=c.locator_radius_mm,
            sources=(Source(name="locator", limit_mm=limit, u_mm=limit / math.sqrt(3)),),
        )
        for c, limit in zip(contacts, limits, strict=True)
    ]


# A plate on three points, and a lever with round ends on a flat, a nose and a hollow.
STRAIGHT = (wall("Y1", 20, 0, 0, 1), wall("Y2", 80, 0, 0, 1), wall("X1", 0, 30, 1, 0))
CURVED = (
    wall("Y1", 20, 0, 0, 1, radius_mm=15.0, locator_radius_mm=math.inf),
    wall("Y2", 80, 0, 0, 1, radius_mm=-25.0, locator_radius_mm=3.0),
    wall("X1", 0, 30, 0.8, 0.6, radius_mm=40.0, locator_radius_mm=2.0),
)


@pytest.mark.parametrize(
    ("contacts", "limits"),
    [
        pytest.param(STRAIGHT, (0.05, 0.03, 0.04), id="plate"),
        pytest.param(CURVED, (0.2, 0.15, 0.25), id="round edges, large errors"),
    ],
)
def test_million_draws(contacts, limits):
    """RSS within 1 %, and no draw past worst case plus second order. Source: see module."""
    made = with_limits(contacts, limits)
    rng = np.random.default_rng(20260107)
    draws = rng.uniform(-1, 1, (DRAWS, 3)) * np.array(limits)
    # A thousand of them at the corners of the box, where the worst case lies.
    draws[:1000] = rng.choice((-1.0, 1.0), (1000, 3)) * np.array(limits)
    poses = np.concatenate([poses_exact(made, part) for part in np.split(draws, 50)])
    assert np.abs(gaps_mm(made, poses[:5000], draws[:5000])).max() < 1e-9
    sin, drop = np.sin(poses[:, 2]), 2 * np.sin(poses[:, 2] / 2) ** 2
    for feature, error in zip(FEATURES, critical_errors(FEATURES, made), strict=True):
        fx, fy = feature.at
        moves = np.column_stack(
            (poses[:, 0] - drop * fx - sin * fy, poses[:, 1] + sin * fx - drop * fy)
        )
        assert moves.std(axis=0) == pytest.approx((error.rss_x_mm, error.rss_y_mm), rel=0.01)
        greatest = np.abs(moves).max(axis=0)
        bound = np.array((error.worst_x_mm, error.worst_y_mm)) + error.second_order_mm
        assert np.all(greatest <= bound)
        # The bound is worth having: the corners of the box reach it.
        assert np.all(greatest >= 0.98 * np.array((error.worst_x_mm, error.worst_y_mm)))


def test_tied_causes():
    """Kerf moves all walls together, temperature by place, a round pin floats in a circle.

    The draws are made cause by cause, without the module's sums. Source: JCGM 100:2008, 5.2.2.
    """
    loop = Contour.rectangle(0, 0, 100, 60)
    pin = bore_contacts("P", Point(20, 30), bore_diameter_mm=8.1, pin_diameter_mm=8.0)
    bare = contact_at_length(loop, 85.0, name="Y1", on="wall")
    heat = temperature_source(
        at=bare.at,
        normal=bare.normal,
        zero=Point(0, 50),
        part_per_k=23.6e-6,
        guide_per_k=75e-6,
        change_k=10,
    )
    kerf = kerf_source(u_kerf_mm=0.02, sheet="s")
    edge = edge_source(edge_tolerance_mm=0.03)
    sources = (kerf, edge, heat)
    nose = contact_at_length(loop, 85.0, name="Y1", on="wall", sources=sources)
    frame = (FrameSource(name="pick-up", limit=0.02, u=0.01, shift=Vector(1.0, 0.0)),)
    contacts = [*pin, nose]
    rng = np.random.default_rng(7)
    n = 400_000
    radius, angle = 0.05 * np.sqrt(rng.uniform(0, 1, n)), rng.uniform(0, math.tau, n)
    wall_moves = (
        rng.normal(0, kerf.u_mm, n)
        + rng.uniform(-1, 1, n) * edge.limit_mm
        + rng.uniform(-1, 1, n) * heat.limit_mm
    )
    draws = np.column_stack((radius * np.cos(angle), radius * np.sin(angle), wall_moves))
    poses = poses_exact(contacts, draws)
    picked = rng.normal(0, 0.01, n)
    for feature, error in zip(
        FEATURES, critical_errors(FEATURES, contacts, frame=frame), strict=True
    ):
        fx, fy = feature.at
        x = poses[:, 0] - poses[:, 2] * fy + picked
        y = poses[:, 1] + poses[:, 2] * fx
        assert (x.std(), y.std()) == pytest.approx((error.rss_x_mm, error.rss_y_mm), rel=0.01)


def test_one_kerf_cancels_where_independent_ones_would_not():
    """Two walls set back by one kerf do not turn the part. Source: JCGM 100:2008, 5.2.2."""
    one = Source(name="kerf", limit_mm=0.03, u_mm=0.01, tie=Tie.TOGETHER, group="sheet", sign=-1)
    each = Source(name="kerf", limit_mm=0.03, u_mm=0.01)
    far = (Critical(name="far", at=Point(1000, 0), tolerance_mm=9.0),)

    def error(source):
        return critical_errors(
            far,
            [
                wall(c.name, c.at.x, c.at.y, c.normal.x, c.normal.y, sources=(source,))
                for c in STRAIGHT
            ],
        )[0]

    assert error(one).worst_y_mm == pytest.approx(0.03, rel=1e-9)
    assert error(one).rss_y_mm == pytest.approx(0.01, rel=1e-9)
    # (1000 − 20)/60 and (80 − 1000)/60 times 0.03 each, against one another.
    assert error(each).worst_y_mm == pytest.approx(0.03 * (980 + 920) / 60, rel=1e-9)
