"""How long a laser takes over a cut plan, from what its card says of its speeds.

The head speeds up and slows down evenly. A move from rest to rest over a distance d at a
programmed speed v with acceleration a takes d/v + v/a when it is long enough to reach v
(d >= v²/a), else 2 √(d/a): the trapezoid and the triangle. A cut runs its tangent stretches
without stopping, stops at corners, and goes round an arc of radius r at no more than √(a r);
the speed it may have at each joint comes from a pass forward (what it can have reached) and
one backward (what it can still lose).

Source: trapezoidal velocity profile: L. Biagiotti, C. Melchiorri, *Trajectory Planning for
Automatic Machines and Robots*, Springer 2008, section 3.2; centripetal acceleration v²/r.

What a shop has not said of its laser is not guessed: without speeds there is no time.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from kerf.beam import BeamPath, CutPlan, Operation
from kerf.contour import Edge, Point, Vertex
from kerf.errors import GeometryError
from kerf.lead import burnt_runs
from kerf.tolerance import COINCIDENT_MM, TANGENT_RAD


@dataclass(frozen=True, slots=True, kw_only=True)
class Speeds:
    """How fast one laser works one sheet.

    Args:
        cut_mm_s: speed of a cut through, mm/s, > 0.
        engrave_mm_s: speed of marks, mm/s, > 0.
        travel_mm_s: speed between cuts, beam off, mm/s, > 0.
        accel_mm_s2: acceleration of the head, mm/s², > 0.
        pierce_s: wait at each pierce, s, >= 0.
    """

    cut_mm_s: float
    engrave_mm_s: float
    travel_mm_s: float
    accel_mm_s2: float
    pierce_s: float = 0.0

    def __post_init__(self) -> None:
        for what, value, unit in (
            ("cutting speed", self.cut_mm_s, "mm/s"),
            ("engraving speed", self.engrave_mm_s, "mm/s"),
            ("travelling speed", self.travel_mm_s, "mm/s"),
            ("acceleration", self.accel_mm_s2, "mm/s²"),
        ):
            if not 0.0 < value < math.inf:
                raise GeometryError(
                    f"{what} must be above 0 {unit} and finite, not {value:.6g} {unit}"
                )
        if not 0.0 <= self.pierce_s < math.inf:
            raise GeometryError(f"a pierce must take 0 s or more, not {self.pierce_s:.6g} s")


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnTime:
    """Time over a plan, s, by what the laser does."""

    cut_s: float
    engrave_s: float
    pierce_s: float
    travel_s: float

    @property
    def total_s(self) -> float:
        """All of it, s."""
        return self.cut_s + self.engrave_s + self.pierce_s + self.travel_s


def burn_time(
    plan: CutPlan, speeds: Speeds, *, pieces: Iterable[str] | None = None, rest: Point | None = None
) -> BurnTime:
    """Return how long a plan takes, in the order it stands in.

    Args:
        plan: what is burnt.
        speeds: of the laser in this sheet.
        pieces: count only what belongs to these; travel counts where it leads to.
        rest: where the head starts; (0, 0) when not given.
    """
    wanted = None if pieces is None else set(pieces)
    here = rest if rest is not None else Point(0.0, 0.0)
    cut = engrave = pierce = travel = 0.0
    for piece, burns_through, runs in _burnt(plan):
        counts = wanted is None or piece in wanted
        for run in runs:
            start = Point(run[0].x, run[0].y)
            if counts:
                travel += move_time_s(math.dist(here, start), speeds.travel_mm_s, speeds)
                if burns_through:
                    pierce += speeds.pierce_s
                    cut += run_time_s(run, speeds.cut_mm_s, speeds)
                else:
                    engrave += run_time_s(run, speeds.engrave_mm_s, speeds)
            here = Point(run[-1].x, run[-1].y)
    return BurnTime(cut_s=cut, engrave_s=engrave, pierce_s=pierce, travel_s=travel)


def move_time_s(distance_mm: float, speed_mm_s: float, speeds: Speeds) -> float:
    """Return the time of a straight move from rest to rest, s.

    Source: trapezoidal velocity profile (see the module).

    >>> card = Speeds(cut_mm_s=10, engrave_mm_s=100, travel_mm_s=200, accel_mm_s2=1000)
    >>> move_time_s(240.0, 200.0, card)    # 0.2 s up, 1 s at speed, 0.2 s down
    1.4
    """
    return _trapezoid_s(distance_mm, speed_mm_s, speeds.accel_mm_s2, 0.0, 0.0)


def run_time_s(run: Sequence[Vertex], speed_mm_s: float, speeds: Speeds) -> float:
    """Return the time of an open run of lines and arcs, from rest to rest, s.

    Args:
        run: vertices; the bulge of the last one counts for nothing.
        speed_mm_s: programmed speed, mm/s.
        speeds: for the acceleration.
    """
    accel = speeds.accel_mm_s2
    edges = [
        edge
        for v, w in itertools.pairwise(run)
        if (edge := Edge(start=Point(v.x, v.y), end=Point(w.x, w.y), bulge=v.bulge)).chord_mm
        > COINCIDENT_MM
    ]
    if not edges:
        return 0.0
    tops = [min(speed_mm_s, math.sqrt(accel * edge.radius_mm)) for edge in edges]
    joints = [
        min(a, b) if _is_tangent(before, after) else 0.0
        for (before, a), (after, b) in itertools.pairwise(zip(edges, tops, strict=True))
    ]
    allowed = [0.0, *joints, 0.0]
    for i, edge in enumerate(edges):
        allowed[i + 1] = min(allowed[i + 1], _reached(allowed[i], accel, edge.length_mm))
    for i in range(len(edges) - 1, -1, -1):
        allowed[i] = min(allowed[i], _reached(allowed[i + 1], accel, edges[i].length_mm))
    return sum(
        _trapezoid_s(edge.length_mm, top, accel, allowed[i], allowed[i + 1])
        for i, (edge, top) in enumerate(zip(edges, tops, strict=True))
    )


def _reached(speed_mm_s: float, accel_mm_s2: float, distance_mm: float) -> float:
    """Return the speed after speeding up over a distance, mm/s: v² = u² + 2 a d."""
    return math.sqrt(speed_mm_s**2 + 2 * accel_mm_s2 * distance_mm)


def _trapezoid_s(
    distance_mm: float, top_mm_s: float, accel_mm_s2: float, entry_mm_s: float, exit_mm_s: float
) -> float:
    """Return the time over a distance with given speeds at its ends and a top speed, s."""
    if distance_mm <= 0.0:
        return 0.0
    peak2 = accel_mm_s2 * distance_mm + (entry_mm_s**2 + exit_mm_s**2) / 2
    peak = min(top_mm_s, math.sqrt(peak2))
    ramps_mm = (2 * peak**2 - entry_mm_s**2 - exit_mm_s**2) / (2 * accel_mm_s2)
    ramps_s = (2 * peak - entry_mm_s - exit_mm_s) / accel_mm_s2
    return ramps_s + max(0.0, distance_mm - ramps_mm) / peak


def _is_tangent(before: Edge, after: Edge) -> bool:
    """Return whether the heading is kept from one edge to the next."""
    a, b = before.tangent_at(1.0), after.tangent_at(0.0)
    return abs(math.atan2(a.x * b.y - a.y * b.x, a.x * b.x + a.y * b.y)) <= TANGENT_RAD


def _burnt(plan: CutPlan) -> Iterable[tuple[str, bool, Sequence[Sequence[Vertex]]]]:
    """Yield what is burnt in order: piece, whether through, and its runs."""
    for stroke in plan.strokes:
        if stroke.operation is not Operation.REFERENCE:
            yield stroke.piece, False, [[Vertex(p.x, p.y) for p in stroke.points]]
    for path in plan.paths:
        yield path.piece, True, burnt_runs(path)


def cut_length_mm(paths: Iterable[BeamPath]) -> float:
    """Return how much is cut through, ways in counted, tabs left out, mm."""
    return sum(
        Edge(start=Point(v.x, v.y), end=Point(w.x, w.y), bulge=v.bulge).length_mm
        for path in paths
        for run in burnt_runs(path)
        for v, w in itertools.pairwise(run)
    )
