"""The part on its supports: the plane through them, its tilt, and what it does to a feature.

Three supports at heights h carry the plane z = a x + b y + c; its height at a point is
Σ w h with weights w that add up to 1, the point's barycentric coordinates in the triangle
of supports. Inside the triangle no weight is negative and a point is never further off than
the worst support (Σ|w| = 1); outside, the error grows. As the plane tilts, whatever stands
above the underside goes aside as well: by (−a, −b) a height of 1.

Source: barycentric coordinates; 3-2-1 location as in any text on fixture design.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from jigs.locating.contacts import Contact, FrameSource
from jigs.locating.space_pose import space_pose_exact
from jigs.part import Critical
from kerf.contour import Floats, Point, Vector
from kerf.errors import GeometryError
from kerf.tolerance import RANK_RELATIVE


@dataclass(frozen=True, slots=True, kw_only=True)
class SupportPlane:
    """The plane z = slope_x x + slope_y y + at_origin_mm on which the part's underside lies."""

    slope_x: float
    slope_y: float
    at_origin_mm: float

    @property
    def tilt_rad(self) -> float:
        """Angle between the plane and the table, rad."""
        return math.atan(math.hypot(self.slope_x, self.slope_y))

    def height_mm(self, at: Point) -> float:
        """Return the plane's height at a point, mm."""
        return self.slope_x * at.x + self.slope_y * at.y + self.at_origin_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class HeightError:
    """How far a feature can be off, from its supports alone.

    Args:
        name: the feature.
        worst_mm: across the sheet, every support at its limit, mm.
        rss_mm: standard uncertainty across the sheet, mm.
        amplification: error at the feature per error of the supports, Σ|w|; 1 between them.
        aside_mm: how far it goes sideways at the part's upper face, every support at its
            limit, from exact poses in space, mm.
        tilt_rad: how far the part leans then, rad.
    """

    name: str
    worst_mm: float
    rss_mm: float
    amplification: float
    aside_mm: float
    tilt_rad: float


def support_plane(supports: Sequence[Contact], heights_mm: Sequence[float]) -> SupportPlane:
    """Return the plane of a part that lies on three supports at the given heights, mm.

    Raises:
        GeometryError: not three supports, or three on one line.
    """
    if len(heights_mm) != len(supports):
        raise GeometryError("every support needs one height")
    a, b, c = _inverse(supports) @ np.asarray(heights_mm, dtype=np.float64)
    return SupportPlane(slope_x=float(a), slope_y=float(b), at_origin_mm=float(c))


def support_weights(supports: Sequence[Contact], at: Point) -> tuple[float, float, float]:
    """Return how much of each support's height appears at a point; they add up to 1.

    Raises:
        GeometryError: not three supports, or three on one line.
    """
    u, v, w = np.array([at.x, at.y, 1.0]) @ _inverse(supports)
    return float(u), float(v), float(w)


def height_errors(
    critical: Sequence[Critical],
    supports: Sequence[Contact],
    flat: Sequence[Contact],
    *,
    height_mm: float,
) -> tuple[HeightError, ...]:
    """Return each feature's error from three supports, whose causes are independent.

    Args:
        critical: the features.
        supports: three.
        flat: the three contacts that hold the part in the plane.
        height_mm: of the part's upper face above its underside, mm.
    Raises:
        GeometryError: not three supports, or three on one line; contacts that do not fix it.
    """
    limits = [c.limit_mm for c in supports]
    poses = [
        space_pose_exact(
            (*supports, *flat), (*(s * v for s, v in zip(signs, limits, strict=True)), 0, 0, 0)
        )
        for signs in product((-1.0, 1.0), repeat=3)
    ]
    out = []
    for one in critical:
        weights = support_weights(supports, one.at)
        pairs = list(zip(weights, supports, strict=True))
        variance = sum((w * s.u_mm) ** 2 for w, c in pairs for s in c.sources)
        top = [pose.shift_at((*one.at, height_mm)) for pose in poses]
        out.append(
            HeightError(
                name=one.name,
                worst_mm=sum(abs(w) * c.limit_mm for w, c in pairs),
                rss_mm=math.sqrt(variance),
                amplification=sum(map(abs, weights)),
                aside_mm=max(math.hypot(x, y) for x, y, _ in top),
                tilt_rad=max(pose.tilt_rad for pose in poses),
            )
        )
    return tuple(out)


def lean_frame(supports: Sequence[Contact], *, height_mm: float) -> tuple[FrameSource, ...]:
    """Return what each support's own error moves sideways at the part's upper face.

    First order: the slope of the plane per millimetre of that support, times the height.

    Raises:
        GeometryError: not three supports, or three on one line.
    """
    slope_x, slope_y, _ = _inverse(supports)
    return tuple(
        FrameSource(
            name=source.name,
            limit=source.limit_mm,
            u=source.u_mm,
            shift=Vector(-float(slope_x[i]) * height_mm, -float(slope_y[i]) * height_mm),
        )
        for i, c in enumerate(supports)
        for source in c.sources
    )


def _inverse(supports: Sequence[Contact]) -> Floats:
    """Return the map from three heights to the plane's (slope_x, slope_y, at origin)."""
    rows = np.array([(c.at.x, c.at.y, 1.0) for c in supports], dtype=np.float64).reshape(-1, 3)
    if len(rows) != 3:
        raise GeometryError(f"a plane needs exactly three supports, not {len(rows)}")
    size = float(np.abs(rows[:, :2]).max()) or 1.0
    values = np.linalg.svd(rows / np.array([size, size, 1.0]), compute_uv=False)
    if values[-1] <= RANK_RELATIVE * values[0]:
        raise GeometryError(
            "the three supports lie on one line: the part can tilt",
            hint="spread the supports under the part",
        )
    out: Floats = np.array(np.linalg.inv(rows), dtype=np.float64)
    return out
