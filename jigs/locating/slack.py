"""How far a part can sit from nominal in a pocket, or on pins, with clearance.

The set of poses (x, y, turn) the part can take is bounded by every pair of features that can
meet (``meetings``). Two answers are given (``poseset``). *Linear*: gaps replaced by their
first-order change at nominal, arcs by facets: the usual estimate. *Exact*: the extremes of the
curved set itself, whether the outline is convex or not; a pose attains each, but nothing shows
that none goes further. A third, the *bound*, is asked for where a worst case is told: no pose
that can be reached from nominal goes beyond it (``certify``).

Named outcomes, never a number: the turn of a round part is free, a part that can wander
further than half its size is loose, and a part that fouls at its nominal pose does not fit.
``x_mm`` and ``y_mm`` are the travel of the middle of the part's bounding box.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from jigs.locating.free_turn import free_turn_centre, round_within
from jigs.locating.meetings import Bodies
from jigs.locating.poseset import (
    Extremes,
    exact_extremes,
    first_order_extremes,
    sliced,
    travels,
)
from jigs.locating.within import lies_within, polygon
from jigs.part import Critical
from kerf.contour import Contour, Point, Region, Vector
from kerf.errors import GeometryError
from kerf.tolerance import COINCIDENT_MM, TOUCH_FOUL_MM

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


class SlackOutcome(StrEnum):
    """What holds the part."""

    HELD = "held"  #: x, y and turn are all bounded
    TURN_FREE = "turn free"  #: round: it turns without end; x and y are bounded
    LOOSE = "loose"  #: it can leave its place by more than half its size
    FOULS = "fouls"  #: at its nominal pose it overlaps the guide


class BoundOutcome(StrEnum):
    """Whether a bound of the slack was proven."""

    PROVEN = "proven"  #: no pose goes beyond it
    NOT_ASKED = "not asked for"
    NOT_FOUND = "not found"  #: the proof did not close; what is attained stands alone
    NOTHING = "nothing to bound"  #: the part is loose, fouls, or no number is given


@dataclass(frozen=True, slots=True, kw_only=True)
class FeatureSlack:
    """Greatest displacement of one critical feature; None where nothing bounds it.

    Args:
        name: the feature's name.
        x_mm, y_mm: greatest displacement along x and along y, either way, mm.
        magnitude_mm: greatest displacement in any direction, mm.
    """

    name: str
    x_mm: float | None
    y_mm: float | None
    magnitude_mm: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Travel:
    """Greatest travel of the part; None where nothing bounds it.

    Args:
        x_mm, y_mm: of the middle of the part's bounding box, either way, mm.
        turn_ccw_rad, turn_cw_rad: greatest turn each way, rad, both >= 0.
        features: one for each critical feature, in the order given.
    """

    x_mm: float | None
    y_mm: float | None
    turn_ccw_rad: float | None
    turn_cw_rad: float | None
    features: tuple[FeatureSlack, ...]

    @property
    def turn_rad(self) -> float | None:
        """Greatest turn either way, rad; None when nothing bounds it."""
        ccw, cw = self.turn_ccw_rad, self.turn_cw_rad
        return None if ccw is None or cw is None else max(ccw, cw)


@dataclass(frozen=True, slots=True, kw_only=True)
class Slack:
    """The slack of a part in its guide.

    Args:
        outcome: what holds the part; numbers are None where the outcome says so.
        exact: from the exact gaps.
        linear: first-order estimate, None where the part is round, loose or fouls.
        attained: whether a test of the whole outline, apart from the gaps, confirms every
            extreme pose; where not, the exact travel is an upper bound.
        bound: no less than any travel of the part that starts at nominal; None where the
            outcome of the bound says so.
        bound_outcome: whether it was proven.
    """

    outcome: SlackOutcome
    exact: Travel
    linear: Travel | None
    attained: bool = True
    bound: Travel | None = None
    bound_outcome: BoundOutcome = BoundOutcome.NOT_ASKED

    @property
    def most(self) -> Travel:
        """The greatest travel to reckon with: the bound where proven, else the exact one."""
        return self.exact if self.bound is None else self.bound

    @property
    def x_mm(self) -> float | None:
        """Greatest travel along x, mm."""
        return self.exact.x_mm

    @property
    def y_mm(self) -> float | None:
        """Greatest travel along y, mm."""
        return self.exact.y_mm

    @property
    def turn_rad(self) -> float | None:
        """Greatest turn either way, rad; None when the turn is free."""
        return self.exact.turn_rad

    @property
    def features(self) -> tuple[FeatureSlack, ...]:
        """Greatest displacement of each critical feature."""
        return self.exact.features

    @property
    def linear_error_mm(self) -> float | None:
        """Greatest amount by which the linear estimate misses an exact travel, mm, signed.

        Positive where the linear estimate is too large (safe), negative where too small.
        """
        if self.linear is None:
            return None
        misses = [
            a - b
            for a, b in zip(_lengths(self.linear), _lengths(self.exact), strict=True)
            if a is not None and b is not None
        ]
        return max(misses, key=abs, default=None)


def _lengths(travel: Travel) -> list[float | None]:
    """Return every length of a travel, in order."""
    out = [travel.x_mm, travel.y_mm]
    for f in travel.features:
        out += [f.x_mm, f.y_mm, f.magnitude_mm]
    return out


@dataclass(frozen=True, slots=True, kw_only=True)
class Pin:
    """A gauge pin or dowel that stands in a bore of the part.

    Args:
        at: its axis at the nominal pose, part coordinates, mm.
        diameter_mm: > 0.
        relieved_along: direction in which a relieved pin does not locate; None when round.
        land_mm: width of each cylindrical land of a relieved pin, measured along the relief,
            mm, > 0 and below the diameter.
    """

    at: Point
    diameter_mm: float
    relieved_along: Vector | None = None
    land_mm: float = 0.0

    def outline(self) -> Contour:
        """Return the pin's section.

        Raises:
            GeometryError: a diameter, direction or land that makes no pin.
        """
        r = self.diameter_mm / 2
        if self.relieved_along is None:
            return Contour.circle(self.at.x, self.at.y, r)
        size = math.hypot(*self.relieved_along)
        if not (0.0 < self.land_mm < self.diameter_mm and size > 0.0):
            raise GeometryError(
                f"relieved pin at ({self.at.x:.6g}, {self.at.y:.6g}): land is "
                f"{self.land_mm:.4g} mm; it must lie above 0 and below the diameter, "
                f"{self.diameter_mm:.4g} mm, and the relief needs a direction"
            )
        ux, uy = self.relieved_along.x / size, self.relieved_along.y / size
        half = self.land_mm / 2
        rise = math.sqrt(r * r - half * half)
        bulge = math.tan(math.asin(half / r) / 2)
        corners = ((half, rise, bulge), (-half, rise, 0.0), (-half, -rise, bulge), (half, -rise, 0))
        return Contour.of(
            (self.at.x + a * ux - b * uy, self.at.y + a * uy + b * ux, c) for a, b, c in corners
        )


def slack(
    part: Region,
    pocket_void: Region,
    features: tuple[Critical, ...] = (),
    *,
    certify: bool = False,
) -> Slack:
    """Return how far the part can sit from nominal in the free space round it.

    Args:
        part: outline and bores, at the nominal pose.
        pocket_void: free space in part coordinates: outer loop the finished wall, holes
            whatever stands in it (pins, stops).
        features: critical features of the part.
        certify: prove a bound as well.
    Returns:
        exact and linear slack, with a named outcome.
    """
    box = part.bounds()
    centre = box.centre
    if _fouls(part, pocket_void):
        return _nothing(SlackOutcome.FOULS, features)
    turning = free_turn_centre(part, pocket_void)
    if turning is not None:
        return _round_slack(part, pocket_void, features, turning, certify=certify)
    points = np.array([(0.0, 0.0), *((f.at.x - centre.x, f.at.y - centre.y) for f in features)])
    most = max(box.width, box.height) / 2
    bodies = Bodies.of(part, pocket_void, origin=centre)
    room = max(most / 1000, 2 * TOUCH_FOUL_MM)
    while (linear := first_order_extremes(bodies.within(room), points)) is None:
        if room >= most:
            return _nothing(SlackOutcome.LOOSE, features)
        room = min(most, 2 * room)
    holds = _holding(part, pocket_void, centre)
    # Room close round the estimate: further off there may be places not reached from here.
    room = 1.25 * linear.widest_mm + TOUCH_FOUL_MM
    while True:
        meetings = bodies.within(room)
        linear = first_order_extremes(meetings, points)
        exact = None
        if linear is not None:
            exact = exact_extremes(meetings, points, linear, holds)
            if exact is not None:
                break
        if room >= most:
            return _nothing(SlackOutcome.LOOSE, features)
        room = min(most, 1.6 * room)
    found = Slack(
        outcome=SlackOutcome.HELD,
        exact=_travel(exact, features),
        linear=_travel(linear, features),
        attained=exact.attained,
    )
    if not certify:
        return found
    from jigs.locating.certify import certified

    bound = certified(
        part,
        pocket_void,
        origin=centre,
        points=points,
        along=exact.along,
        turns=(exact.ccw_rad, exact.cw_rad),
    )
    if bound is None:
        return replace(found, bound_outcome=BoundOutcome.NOT_FOUND)
    x, y, _ = bound.along[0].tolist()
    travel = Travel(
        x_mm=x,
        y_mm=y,
        turn_ccw_rad=bound.ccw_rad,
        turn_cw_rad=bound.cw_rad,
        features=tuple(
            FeatureSlack(name=f.name, x_mm=x, y_mm=y, magnitude_mm=size)
            for f, (x, y, size) in zip(features, bound.along[1:].tolist(), strict=True)
        ),
    )
    return replace(found, bound=travel, bound_outcome=BoundOutcome.PROVEN)


def pin_slack(
    part: Region,
    pins: tuple[Pin, ...],
    features: tuple[Critical, ...] = (),
    *,
    certify: bool = False,
) -> Slack:
    """Return how far the part can sit from nominal on pins in its bores.

    Args:
        part: outline and bores.
        pins: one or more, each within a bore at the nominal pose.
        features: critical features of the part.
        certify: prove a bound as well.
    Raises:
        GeometryError: no pin.
    """
    if not pins:
        raise GeometryError("a part on pins needs at least one pin")
    box = part.bounds()
    far = 3 * math.hypot(box.width, box.height)
    room = Contour.rectangle(box.centre.x - far, box.centre.y - far, 2 * far, 2 * far)
    void = Region(outer=room, holes=tuple(pin.outline() for pin in pins))
    return slack(part, void, features, certify=certify)


def _holding(part: Region, void: Region, origin: Point) -> Callable[[Floats], Bools]:
    """Return the test whether poses about a point leave the part in the free space."""
    import shapely

    body, room = polygon(part), shapely.buffer(polygon(void), TOUCH_FOUL_MM)
    shapely.prepare(room)
    at = shapely.get_coordinates(body) - origin

    def holds(pose: Floats) -> Bools:
        cos, sin = np.cos(pose[:, 2:]), np.sin(pose[:, 2:])
        x = pose[:, :1] + cos * at[:, 0] - sin * at[:, 1] + origin.x
        y = pose[:, 1:2] + sin * at[:, 0] + cos * at[:, 1] + origin.y
        placed = [shapely.set_coordinates(shapely.Polygon(body), xy) for xy in np.stack((x, y), 2)]
        out: Bools = np.asarray(shapely.covers(room, placed), dtype=np.bool_)
        return out

    return holds


def _nothing(outcome: SlackOutcome, features: tuple[Critical, ...]) -> Slack:
    """Return an outcome without numbers."""
    none = tuple(
        FeatureSlack(name=f.name, x_mm=None, y_mm=None, magnitude_mm=None) for f in features
    )
    travel = Travel(x_mm=None, y_mm=None, turn_ccw_rad=None, turn_cw_rad=None, features=none)
    nothing = BoundOutcome.NOTHING
    return Slack(outcome=outcome, exact=travel, linear=None, bound_outcome=nothing)


def _fouls(part: Region, void: Region) -> bool:
    """Return whether the part overlaps the guide at its nominal pose."""
    return not lies_within(polygon(part), polygon(void), TOUCH_FOUL_MM)


def _travel(found: Extremes, features: tuple[Critical, ...]) -> Travel:
    """Return extremes as they are reported."""
    x = np.maximum(found.along[:, 0], found.along[:, 1])
    y = np.maximum(found.along[:, 2], found.along[:, 3])
    return Travel(
        x_mm=float(x[0]),
        y_mm=float(y[0]),
        turn_ccw_rad=found.ccw_rad,
        turn_cw_rad=found.cw_rad,
        features=tuple(
            FeatureSlack(
                name=f.name,
                x_mm=float(x[i]),
                y_mm=float(y[i]),
                magnitude_mm=float(found.along[i, 4]),
            )
            for i, f in enumerate(features, start=1)
        ),
    )


def _round_slack(
    part: Region, void: Region, features: tuple[Critical, ...], centre: Point, *, certify: bool
) -> Slack:
    """Return the slack of a part that turns freely about ``centre``.

    Its centre's travel is bounded when the part is round (each of its loops that can meet a
    wall is a circle about the centre) or the place is (each wall in reach is one): then the
    travel at one turn is that at any, to some direction. Else no number is given. A feature
    off the centre goes wherever the turn takes it.
    """
    box = part.bounds()
    most = max(box.width, box.height) / 2
    room = 2 * TOUCH_FOUL_MM
    point = np.zeros((1, 2))
    bodies = Bodies.of(part, void, origin=centre)
    while room < most:
        meetings = bodies.within(room)
        pose = sliced(meetings, np.zeros(1), point).pose
        if meetings.count and len(pose) and np.abs(pose[:, :2]).max() < 0.9 * room:
            break
        room *= 2
    else:
        return _nothing(SlackOutcome.TURN_FREE, features)
    moved = travels(pose, point)[:, 0].max(axis=0)
    round_part = round_within(part, void, centre, float(moved[4]))
    if not (round_part or round_within(void, part, centre, float(moved[4]))):
        return _nothing(SlackOutcome.TURN_FREE, features)

    def travel(x: float, y: float, size: float) -> Travel:
        if not round_part:
            x = y = size
        return Travel(
            x_mm=x,
            y_mm=y,
            turn_ccw_rad=None,
            turn_cw_rad=None,
            features=tuple(
                FeatureSlack(name=f.name, x_mm=x, y_mm=y, magnitude_mm=size)
                if math.hypot(f.at.x - centre.x, f.at.y - centre.y) <= COINCIDENT_MM
                else FeatureSlack(name=f.name, x_mm=None, y_mm=None, magnitude_mm=None)
                for f in features
            ),
        )

    sizes = float(max(moved[:2])), float(max(moved[2:4])), float(moved[4])
    found = Slack(outcome=SlackOutcome.TURN_FREE, exact=travel(*sizes), linear=None)
    if not certify:
        return found
    from jigs.locating.certify import certified

    bound = certified(
        part,
        void,
        origin=centre,
        points=np.zeros((2, 2)),
        along=np.vstack((moved, moved)),
        turns=(0.0, 0.0),
    )
    if bound is None:
        return replace(found, bound_outcome=BoundOutcome.NOT_FOUND)
    return replace(found, bound=travel(*bound.along[1].tolist()), bound_outcome=BoundOutcome.PROVEN)
