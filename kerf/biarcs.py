"""Many curves at once as tangent arcs, quickly: two arcs for every stretch of curve.

``kerf.arcs`` searches for the fewest arcs along one curve and takes a twentieth of a second
for each; a drawing of ten thousand Bézier curves cannot wait for that. Here every span is
covered by biarcs (two arcs, tangent to the curve at both ends and to each other), all spans
in one array pass; those whose bound exceeds the tolerance are halved and tried again. The
result needs about half as many arcs again and is proven by the same bound.

Source: Bolton, Biarc curves, Computer-Aided Design 7 (1975): joint of equal tangent lengths.
Bounds: ``kerf.bezier.circle_deviations``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from kerf.arcs import ArcChain
from kerf.bezier import circle_deviations, end_headings, span_points, sub_spans
from kerf.contour import Floats, Vertex
from kerf.errors import GeometryError
from kerf.tolerance import ARC_FIT_MM, STRAIGHT_BULGE

#: A stretch may turn this much at most: its two arcs then stay shorter than a quarter turn.
_LARGEST_TURN_COS = 0.0
#: Halvings of one span before what is left counts as a point: 2⁻⁴⁰ of any curve is nothing.
_MOST_HALVINGS = 40


def biarc_runs(
    spans: Floats, tolerance_mm: float = ARC_FIT_MM
) -> tuple[tuple[tuple[Vertex, ...], ...], Floats]:
    """Return each span as a run of tangent arcs, its last point left out.

    Args:
        spans: unconnected Bézier spans (see ``kerf.bezier``), shape (m, n + 1, 3), mm.
        tolerance_mm: greatest distance allowed between arcs and curve, mm, > 0.
    Returns:
        for each span its vertices; and the bound on its deviation, mm, shape (m,).
    Raises:
        GeometryError: the tolerance is not above zero, or a span is not finite.
    """
    if not tolerance_mm > 0:
        raise GeometryError(f"the fitting tolerance must be above 0 mm, not {tolerance_mm:.6g} mm")
    if not np.all(np.isfinite(spans)):
        raise GeometryError("a Bézier control point is not a finite number")
    found: list[list[tuple[float, Vertex]]] = [[] for _ in range(len(spans))]
    worst = np.zeros(len(spans))
    owner = np.arange(len(spans))
    begin, size = np.zeros(len(spans)), 1.0
    parts = spans
    for _ in range(_MOST_HALVINGS):
        if not len(parts):
            break
        points = parts[..., :2] / parts[..., 2:]
        reach = np.hypot(*(points - points[:, :1]).transpose(2, 0, 1)).max(axis=1)
        small = reach <= tolerance_mm / 2
        joint, bulge, bound = _biarcs(parts)
        good = small | (bound <= tolerance_mm)
        bound = np.where(small, 2 * reach, bound)
        np.maximum.at(worst, owner[good], bound[good])
        for i in np.flatnonzero(good):
            x, y = map(float, points[i, 0])
            run = found[owner[i]]
            if small[i]:
                if reach[i] > 0:
                    run.append((float(begin[i]), Vertex(x, y)))
                continue
            run.append((float(begin[i]), Vertex(x, y, float(bulge[i, 0]))))
            if bulge[i].any():
                middle = Vertex(float(joint[i, 0]), float(joint[i, 1]), float(bulge[i, 1]))
                run.append((float(begin[i]) + size / 2, middle))
        left = np.flatnonzero(~good)
        size /= 2
        low, high = np.zeros(len(left)), np.ones(len(left))
        mid = low + 0.5
        where = left.astype(np.float64)
        first, second = (
            sub_spans(parts, where, where + mid),
            sub_spans(parts, where + mid, where + high),
        )
        owner = np.concatenate((owner[left], owner[left]))
        begin = np.concatenate((begin[left], begin[left] + size))
        parts = np.concatenate((first, second))
    runs = tuple(tuple(v for _, v in sorted(run, key=lambda pair: pair[0])) for run in found)
    return runs, worst


def biarc_chains(curves: Sequence[Floats], tolerance_mm: float = ARC_FIT_MM) -> list[ArcChain]:
    """Return each curve as an open chain of tangent arcs, all fitted together.

    Args:
        curves: joined Bézier spans of each curve, mm, homogeneous (see ``kerf.bezier``).
        tolerance_mm: greatest distance between chain and curve, mm, > 0.
    Raises:
        GeometryError: the tolerance is not above zero, or a span is not finite.
    """
    out: dict[int, ArcChain] = {}
    degrees = sorted({spans.shape[1] for spans in curves})
    for degree in degrees:
        members = [i for i, spans in enumerate(curves) if spans.shape[1] == degree]
        runs, bounds = biarc_runs(np.concatenate([curves[i] for i in members]), tolerance_mm)
        first = 0
        for i in members:
            beyond = first + len(curves[i])
            x, y, w = map(float, curves[i][-1, -1])
            vertices = [v for run in runs[first:beyond] for v in run]
            out[i] = ArcChain(
                vertices=(*vertices, Vertex(x / w, y / w)),
                closed=False,
                deviation_mm=float(bounds[first:beyond].max()),
            )
            first = beyond
    return [out[i] for i in range(len(curves))]


def _biarcs(parts: Floats) -> tuple[Floats, Floats, Floats]:
    """Return the joint, the two bulges and the bound on the deviation of each span's biarc.

    A span that is straight has bulges (0, 0); one that no biarc may cover has bound infinity.
    """
    m = len(parts)
    ends = parts[:, [0, -1], :2] / parts[:, [0, -1], 2:]
    a, b = ends[:, 0], ends[:, 1]
    t0, t1 = end_headings(parts)
    chord = b - a
    length2 = (chord * chord).sum(axis=1)
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        # Tangent length d of both arcs: |chord − d (t0 + t1)| = 2 d.
        along = (chord * (t0 + t1)).sum(axis=1)
        bend = 2 * (1 - (t0 * t1).sum(axis=1))
        d = length2 / (along + np.sqrt(along * along + bend * length2))
        joint = (a + b + d[:, None] * (t0 - t1)) / 2
        heading = (chord - d[:, None] * (t0 + t1)) / (2 * d[:, None])
        first, second = joint - a, b - joint
        half0 = _half_turn(t0, first)
        half1 = _half_turn(heading, second)
        k0 = 2 * np.sin(half0) / np.hypot(*first.T)
        k1 = 2 * np.sin(half1) / np.hypot(*second.T)
        unit = chord / np.sqrt(length2)[:, None]
        tame = (
            ((t0 * unit).sum(axis=1) > _LARGEST_TURN_COS)
            & ((t1 * unit).sum(axis=1) > _LARGEST_TURN_COS)
            & np.isfinite(k0)
            & np.isfinite(k1)
        )
    # Where the curve crosses the joint's normal: each half is held against its own arc.
    low, high = np.zeros(m), np.ones(m)
    index = np.arange(m, dtype=np.float64)
    for _ in range(30):
        middle = (low + high) / 2
        at = span_points(parts, index + middle)[0]
        before = ((at - joint) * heading).sum(axis=1) < 0
        low, high = np.where(before, middle, low), np.where(before, high, middle)
    cut = np.clip((low + high) / 2, 1e-3, 1 - 1e-3)
    bound = np.full(m, math.inf)
    ok = np.flatnonzero(tame)
    if len(ok):
        left = sub_spans(parts, index[ok], index[ok] + cut[ok])
        right = sub_spans(parts, index[ok] + cut[ok], index[ok] + 1.0)
        bound[ok] = np.maximum(
            circle_deviations(left, a[ok], t0[ok], k0[ok]),
            circle_deviations(right, joint[ok], heading[ok], k1[ok]),
        )
    bulge = np.tan(np.column_stack((half0, half1)) / 2)
    bulge = np.where(np.abs(bulge) > STRAIGHT_BULGE, bulge, 0.0)
    return joint, bulge, np.where(np.isfinite(bound), bound, math.inf)


def _half_turn(heading: Floats, chord: Floats) -> Floats:
    """Return the angle from a heading to a chord, rad."""
    across = heading[:, 0] * chord[:, 1] - heading[:, 1] * chord[:, 0]
    out: Floats = np.arctan2(across, (heading * chord).sum(axis=1))
    return out
