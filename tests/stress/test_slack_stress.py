"""Slack of 200 random parts in random pockets, and its bound, against a search that asks shapely.

Source: none outside the project; the search is independent of the exact gaps (see
``loose_parts``) and uses differential evolution on a point-in-polygon test.
"""

from __future__ import annotations

import numpy as np
import pytest
from loose_parts import FACETS_MM, Search, random_outline, random_pocket

from jigs.locating.poseset import travels
from jigs.locating.slack import BoundOutcome, SlackOutcome, slack
from jigs.part import Critical
from kerf.contour import Point


@pytest.mark.parametrize("block", range(20))
def test_exact_slack_agrees_with_a_search(block: int) -> None:
    for seed in range(10 * block, 10 * block + 10):
        check(seed)


def check(seed: int) -> None:
    """Compare one random part's slack with what the search finds."""
    rng = np.random.default_rng(seed)
    part = random_outline(rng)
    clearance_mm = float(rng.choice((0.1, 0.3, 1.0)))
    void = random_pocket(part, clearance_mm, rng)
    box = part.bounds()
    feature = Critical(name="corner", at=Point(box.x_max, box.y_max), tolerance_mm=1.0)
    found = slack(part, void, (feature,), certify=True)
    assert found.outcome is SlackOutcome.HELD, seed
    assert found.attained, seed
    assert found.bound_outcome is BoundOutcome.PROVEN, seed
    assert None not in (found.turn_rad, found.x_mm, found.y_mm)
    search = Search(part, void, 1e-6)
    crowd = search.crowd(np.array((found.x_mm, found.y_mm, found.turn_rad)) / 2, rng)
    points = np.array(((0.0, 0.0), (box.width / 2, box.height / 2)))

    def moved(pose: np.ndarray, point: int, kind: int) -> np.ndarray:
        return travels(pose, points)[:, point, kind]

    (corner,) = found.features
    bound = found.bound
    most = {
        "ccw": bound.turn_ccw_rad,
        "cw": bound.turn_cw_rad,
        "x": bound.x_mm,
        "y": bound.y_mm,
        "corner x": bound.features[0].x_mm,
        "corner y": bound.features[0].y_mm,
        "corner any": bound.features[0].magnitude_mm,
    }
    goals = {"ccw": [lambda p: p[:, 2]], "cw": [lambda p: -p[:, 2]]}
    exact = {"ccw": found.exact.turn_ccw_rad, "cw": found.exact.turn_cw_rad}
    for name, point, kinds, value in (
        ("x", 0, (0, 1), found.x_mm),
        ("y", 0, (2, 3), found.y_mm),
        ("corner x", 1, (0, 1), corner.x_mm),
        ("corner y", 1, (2, 3), corner.y_mm),
    ):
        goals[name] = [lambda p, i=point, k=kind: moved(p, i, k) for kind in kinds]
        exact[name] = value

    def quadrant(pose: np.ndarray, x: int, y: int) -> np.ndarray:
        inside = (moved(pose, 1, x) >= 0) & (moved(pose, 1, y) >= 0)
        return np.where(inside, moved(pose, 1, 4), -1.0)

    goals["corner any"] = [lambda p, x=x, y=y: quadrant(p, x, y) for x in (0, 1) for y in (2, 3)]
    exact["corner any"] = corner.magnitude_mm
    # Facets and the search's tolerance let it go a shade further than the exact walls do.
    shade = 2e-3 + 1e-4 / clearance_mm
    for name, several in goals.items():
        best = max(search.highest(goal, crowd, rng)[0] for goal in several)
        # The search sees facets and allows 1e-6 mm of overlap: no more may lie over the bound.
        assert best <= most[name] + 20 * (FACETS_MM + 1e-6) * exact[name] / clearance_mm, (
            seed,
            name,
        )
        assert exact[name] <= most[name], (seed, name)
        assert most[name] <= exact[name] * 1.006 + 1e-4, (seed, name, most[name], exact[name])
        assert best <= exact[name] * (1 + shade), (seed, name, best, exact[name])
        assert best >= exact[name] * (1 - 5e-3), (seed, name, best, exact[name])
