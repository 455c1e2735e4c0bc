"""Point runs: sampled circles, fillets and curves come back; polygons meant as such do not."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from kerf.errors import GeometryError
from kerf.runs import run_arcs
from kerf.tolerance import ARC_FIT_MM, TANGENT_RAD


def polygon(n: int, radius: float, decimals: int | None = None, phase: float = 0.3):
    angle = phase + np.arange(n) * 2 * math.pi / n
    points = radius * np.column_stack((np.cos(angle), np.sin(angle))) + (70, -30)
    return (points if decimals is None else points.round(decimals)).tolist()


@pytest.mark.parametrize("decimals", [None, 4, 3])
@pytest.mark.parametrize("n", [48, 64, 115, 360])
@pytest.mark.parametrize("radius", [3.0, 20.0])
def test_a_circle_exported_as_short_lines_comes_back(n, radius, decimals):
    chain = run_arcs(polygon(n, radius, decimals), True)
    assert len(chain.vertices) == 2
    assert chain.deviation_mm <= (1e-12 if decimals is None else 10**-decimals)
    ring = chain.contour()
    assert ring.area_mm2 == pytest.approx(math.pi * radius**2, rel=1e-4)
    assert ring.edge(0).radius_mm == pytest.approx(radius, abs=2e-4 if decimals else 1e-12)
    assert ring.is_ccw
    assert not run_arcs(polygon(n, radius, decimals)[::-1], True).contour().is_ccw


@pytest.mark.parametrize("n", [3, 4, 6, 8, 12, 16, 24, 30])
@pytest.mark.parametrize("radius", [0.5, 5.0, 80.0])
def test_a_polygon_stays_a_polygon(n, radius):
    points = polygon(n, radius)
    chain = run_arcs(points, True)
    assert [v[:2] for v in chain.vertices] == [tuple(p) for p in points]
    assert all(v.bulge == 0.0 for v in chain.vertices)
    assert chain.deviation_mm == 0.0


def test_a_large_coarse_circle_is_left_alone():
    """60 segments on r = 100 bulge 0.137 mm: more than a wrong guess may cost."""
    assert len(run_arcs(polygon(60, 100.0), True).vertices) == 60
    assert len(run_arcs(polygon(115, 100.0), True).vertices) == 2


def rounded_rectangle(w: float, h: float, r: float, each: int, decimals: int = 5):
    rows = []
    for x, y, start in ((w - r, h - r, 0), (r, h - r, 1), (r, r, 2), (w - r, r, 3)):
        for k in range(each + 1):
            a = (start + k / each) * math.pi / 2
            rows.append((x + r * math.cos(a), y + r * math.sin(a)))
    return np.round(rows, decimals).tolist()


@pytest.mark.parametrize("each", [9, 12, 30])
def test_fillets_between_lines_come_back_and_the_lines_stay(each):
    chain = run_arcs(rounded_rectangle(100, 60, 5, each), True)
    ring = chain.contour()
    assert len(ring.vertices) == 8
    assert ring.area_mm2 == pytest.approx(6000 - (4 - math.pi) * 25, abs=2e-3)
    radii = sorted(e.radius_mm for e in ring.edges())
    assert radii[:4] == pytest.approx([5.0] * 4, abs=1e-3)
    assert all(math.isinf(r) for r in radii[4:])


def test_coarse_fillets_stay_chamfers():
    """Five facets to a quarter turn 18° each: it could be a shape that is meant."""
    assert len(run_arcs(rounded_rectangle(100, 60, 5, 5), True).vertices) == 24


def test_true_corners_between_runs_stay():
    """A half disc drawn with 60 short lines and one long one."""
    angle = np.linspace(0, math.pi, 61)
    chain = run_arcs(np.column_stack((8 * np.cos(angle), 8 * np.sin(angle))).tolist(), True)
    ring = chain.contour()
    assert ring.area_mm2 == pytest.approx(32 * math.pi, rel=1e-9)
    assert {(round(v.x, 9), round(v.y, 9)) for v in ring.vertices} >= {(8.0, 0.0), (-8.0, 0.0)}
    assert len(ring.vertices) <= 3


def test_more_than_half_a_turn_is_two_arcs():
    angle = np.radians(np.linspace(30, 330, 80))
    chain = run_arcs(np.column_stack((8 * np.cos(angle), 8 * np.sin(angle))).tolist(), True)
    assert len(chain.vertices) == 3
    arcs = [e for e in chain.edges() if not e.is_line]
    assert [e.radius_mm for e in arcs] == pytest.approx([8.0, 8.0], rel=1e-12)
    assert sum(e.sweep_rad for e in arcs) == pytest.approx(math.radians(300))


@pytest.mark.parametrize("decimals", [3, 6])
def test_a_sampled_ellipse_becomes_few_tangent_arcs(decimals):
    t = np.linspace(0, 2 * math.pi, 200, endpoint=False)
    points = np.column_stack((25 * np.cos(t), 10 * np.sin(t))).round(decimals)
    chain = run_arcs(points.tolist(), True)
    assert len(chain.vertices) < 45
    assert chain.deviation_mm <= ARC_FIT_MM
    far = [min(e.nearest(x, y)[1] for e in chain.edges()) for x, y in points.tolist()]
    assert max(far) == pytest.approx(chain.deviation_mm, abs=1e-9)
    for a, b in itertools.pairwise(chain.edges()):
        s, u = a.tangent_at(1.0), b.tangent_at(0.0)
        assert abs(s.x * u.y - s.y * u.x) < TANGENT_RAD


def test_an_open_run_keeps_its_ends():
    t = np.linspace(0.1, 2.0, 90)
    points = np.column_stack((25 * np.cos(t), 10 * np.sin(t))).tolist()
    chain = run_arcs(points, False)
    assert not chain.closed
    assert chain.vertices[0][:2] == tuple(points[0])
    assert chain.vertices[-1] == (*points[-1], 0.0)
    assert len(chain.edges()) < 12


def test_points_on_a_line_become_one_line():
    chain = run_arcs([(0.5 * k, 0.25 * k) for k in range(20)], False)
    assert len(chain.edges()) == 1
    assert chain.edges()[0].is_line


def test_repeated_points_count_once():
    points = polygon(64, 5.0)
    doubled = [p for p in points for _ in (0, 1)]
    assert run_arcs([*doubled, doubled[0]], True) == run_arcs(points, True)


def test_noise_beyond_the_tolerance_is_not_smoothed_away():
    rng = np.random.default_rng(4)
    points = np.array(polygon(115, 20.0)) + rng.uniform(-0.02, 0.02, (115, 2))
    chain = run_arcs(points.tolist(), True)
    far = [min(e.nearest(x, y)[1] for e in chain.edges()) for x, y in points.tolist()]
    assert max(far) <= ARC_FIT_MM


def test_impossible_runs_are_refused():
    with pytest.raises(GeometryError, match="more distinct points"):
        run_arcs([(0, 0), (0, 0)], False)
    with pytest.raises(GeometryError, match="more distinct points"):
        run_arcs([(0, 0), (1, 0), (0, 0)], True)
    with pytest.raises(GeometryError, match="not a finite number"):
        run_arcs([(0, 0), (1, math.nan)], False)
    with pytest.raises(GeometryError, match="above 0 mm"):
        run_arcs([(0, 0), (1, 0)], False, 0.0)
