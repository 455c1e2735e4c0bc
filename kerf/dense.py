"""A denser strip by a library kept for that, checked before and after, run apart.

``spyrrow`` (extra ``[dense]``) packs strips by the method of arXiv 2509.13329. It takes outer
outlines only, counts its budget by the wall clock, and ends the whole interpreter on input it
cannot take; so what it is given is checked first, it runs in a process of its own with a
deadline, and what it answers is measured with shapely before anyone sees it. Its result depends
on the machine: keep the layout, do not expect it twice.
"""

from __future__ import annotations

import importlib.util
import json
import math
import subprocess
import sys
from collections.abc import Sequence
from typing import Any

import shapely
from shapely import affinity

from kerf.errors import GeometryError, KerfError
from kerf.strip import DoesNotFit, Strip
from kerf.tolerance import DENSE_OVERLAP_SHARE, DENSE_REACH_SHARE

#: Longest and shortest budget, s.
SECONDS_LEAST, SECONDS_MOST = 2, 3600
#: Time the process may take beyond its budget to start and to answer, s.
GRACE_S = 60


class DenseUnavailable(KerfError):
    """The library is not installed, or it gave no usable answer."""


def dense_strip(
    polygons: Sequence[Any],
    turns_rad: Sequence[Sequence[float]],
    *,
    height_mm: float,
    seconds: int = 60,
    gap_mm: float = 0.0,
    seed: int = 1,
) -> Strip:
    """Return pieces packed into a short strip by the library, verified.

    Args:
        polygons: shapely Polygons; their holes are left empty.
        turns_rad: the turns each may take, rad.
        height_mm: height of the strip, mm.
        seconds: budget by the wall clock, s.
        gap_mm: least distance between pieces, mm.
        seed: of its dice.
    Returns:
        ``turns`` index into ``turns_rad``; ``places_mm`` is the lower left corner of the box.
    Raises:
        GeometryError: a polygon, turn, gap or budget that the library must not be given.
        DoesNotFit: a piece is higher than the strip in every turn.
        DenseUnavailable: not installed, no answer in time, or an answer that overlaps.
    """
    _check(polygons, turns_rad, height_mm=height_mm, seconds=seconds, gap_mm=gap_mm)
    if importlib.util.find_spec("spyrrow") is None:
        raise DenseUnavailable(
            "dense layout needs the library spyrrow, which is not installed",
            hint='install the extra: pip install "setup-jigs[dense]", or leave dense out',
        )
    asked = {
        "height": height_mm,
        "seconds": seconds,
        "gap": gap_mm,
        "seed": seed,
        "items": [
            {
                "shape": shapely.get_coordinates(polygon.exterior).tolist(),
                "turns": [math.degrees(a) for a in turns],
            }
            for polygon, turns in zip(polygons, turns_rad, strict=True)
        ],
    }
    try:
        done = subprocess.run(
            [sys.executable, "-m", "kerf.dense_worker"],
            input=json.dumps(asked),
            capture_output=True,
            text=True,
            timeout=seconds + GRACE_S,
            check=False,
        )
    except subprocess.TimeoutExpired:
        raise DenseUnavailable(
            f"dense layout gave no answer within {seconds + GRACE_S} s",
            hint="allow fewer pieces or leave dense out",
        ) from None
    if done.returncode != 0:
        last = (done.stderr.strip().splitlines() or ["no message"])[-1]
        raise DenseUnavailable(f"dense layout broke off: {last}", hint="leave dense out")
    strip = _strip(polygons, turns_rad, json.loads(done.stdout))
    check_strip(polygons, turns_rad, strip, height_mm=height_mm, gap_mm=gap_mm)
    return strip


def check_strip(
    polygons: Sequence[Any],
    turns_rad: Sequence[Sequence[float]],
    strip: Strip,
    *,
    height_mm: float,
    gap_mm: float,
) -> None:
    """Refuse a strip whose pieces overlap, come too near, or leave it.

    Raises:
        DenseUnavailable: what is wrong, and by how much.
    """
    placed = [
        affinity.translate(_boxed(p, turns[t]), x, y)
        for p, turns, t, (x, y) in zip(
            polygons, turns_rad, strip.turns, strip.places_mm, strict=True
        )
    ]
    reach = DENSE_REACH_SHARE * height_mm
    x0, y0, x1, y1 = shapely.total_bounds(placed)
    if min(x0, y0, strip.length_mm - x1, height_mm - y1) < -reach:
        raise DenseUnavailable("dense layout placed a piece outside the strip", hint="leave it out")
    tree = shapely.STRtree(placed)
    first, second = tree.query(placed, predicate="dwithin", distance=gap_mm)
    for i, j in zip(first.tolist(), second.tolist(), strict=True):
        if i >= j:
            continue
        least_area = min(placed[i].area, placed[j].area)
        overlap = shapely.intersection(placed[i], placed[j]).area
        if (
            overlap > DENSE_OVERLAP_SHARE * least_area
            or shapely.distance(placed[i], placed[j]) < gap_mm - reach
        ):
            raise DenseUnavailable(
                f"dense layout placed pieces {i + 1} and {j + 1} over each other",
                hint="leave it out",
            )


def _check(
    polygons: Sequence[Any],
    turns_rad: Sequence[Sequence[float]],
    *,
    height_mm: float,
    seconds: int,
    gap_mm: float,
) -> None:
    """Refuse what the library must not be given."""
    if not SECONDS_LEAST <= seconds <= SECONDS_MOST:
        raise GeometryError(
            f"the budget must be {SECONDS_LEAST} to {SECONDS_MOST} s, not {seconds} s"
        )
    if not 0.0 <= gap_mm < math.inf:
        raise GeometryError(f"the gap between pieces must be 0 mm or more, not {gap_mm:.4g} mm")
    if not 0.0 < height_mm < math.inf:
        raise GeometryError(f"a strip's height must be above 0 mm, not {height_mm:.4g} mm")
    if not polygons or len(polygons) != len(turns_rad):
        raise GeometryError("dense layout needs at least one piece, and turns for each")
    for k, (polygon, turns) in enumerate(zip(polygons, turns_rad, strict=True)):
        if polygon.geom_type != "Polygon" or not polygon.is_valid or not polygon.area > 0.0:
            raise GeometryError(f"piece {k + 1} is no plain outline that encloses an area")
        if not turns or not all(math.isfinite(a) for a in turns):
            raise GeometryError(f"piece {k + 1} has no turn, or one that is not a number")
        heights = [shapely.bounds(_boxed(polygon, a))[3] for a in turns]
        if min(heights) > height_mm:
            raise DoesNotFit(
                f"piece {k + 1} is {min(heights):.1f} mm high at least; "
                f"the strip is {height_mm:.1f} mm"
            )


def _boxed(polygon: Any, angle_rad: float) -> Any:
    """Return a polygon turned, its box's lower left corner at (0, 0)."""
    turned = affinity.rotate(polygon, angle_rad, origin=(0, 0), use_radians=True)
    x0, y0 = shapely.bounds(turned)[:2]
    return affinity.translate(turned, -float(x0), -float(y0))


def _strip(
    polygons: Sequence[Any], turns_rad: Sequence[Sequence[float]], answer: dict[str, Any]
) -> Strip:
    """Return the library's answer as a strip that starts at x = 0."""
    turns = [0] * len(polygons)
    places = [(0.0, 0.0)] * len(polygons)
    ends = []
    for row in answer["placed"]:
        i = int(row["item"])
        angle = math.radians(row["turn"])
        turns[i] = min(
            range(len(turns_rad[i])),
            key=lambda k: abs(math.remainder(turns_rad[i][k] - angle, math.tau)),
        )
        turned = affinity.rotate(
            polygons[i], turns_rad[i][turns[i]], origin=(0, 0), use_radians=True
        )
        x0, y0, x1, _ = map(float, shapely.bounds(turned))
        places[i] = (x0 + row["x"], y0 + row["y"])
        ends.append(x1 + row["x"])
    if len(ends) != len(polygons):
        raise DenseUnavailable("dense layout left pieces out", hint="leave it out")
    left = min(x for x, _ in places)
    return Strip(
        length_mm=max(ends) - left,
        turns=tuple(turns),
        places_mm=tuple((x - left, y) for x, y in places),
    )
