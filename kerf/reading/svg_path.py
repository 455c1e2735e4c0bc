"""SVG path data, read strictly.

It becomes lines, cubic Béziers and elliptical arcs. An arc is kept as its centre and
two conjugate half-diameters, so that any affine map carries it over exactly: the map moves
the three vectors and nothing is refitted. A quadratic is raised to the cubic it equals.

A viewer draws broken path data up to the first fault and says nothing. A part must not be
cut from half an outline, so here a fault is an error that names the character it stands at.

Source: W3C SVG 1.1 (Second Edition) and SVG 2: the path data grammar (chapter Paths), the
rules for out-of-range arc radii and the conversion from end points to centre (appendix
"Implementation notes", F.6.2, F.6.5, F.6.6).
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass

from kerf.contour import Point, Transform, Vector
from kerf.errors import InputError
from kerf.reading.svg_value import GAP, NUMBER, numbers, without_numbers


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A straight piece; ``end`` may equal ``start``."""

    start: Point
    end: Point

    def mapped(self, by: Transform) -> Line:
        """Return the piece after an affine map."""
        return Line(start=by.point(*self.start), end=by.point(*self.end))

    def box(self) -> tuple[Point, ...]:
        """Return points whose box is the piece's."""
        return (self.start, self.end)

    def numbers(self) -> tuple[float, ...]:
        """Return every coordinate the piece is made of."""
        return (*self.start, *self.end)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cubic:
    """A cubic Bézier: ends and the two control points between them."""

    start: Point
    first: Point
    second: Point
    end: Point

    def mapped(self, by: Transform) -> Cubic:
        """Return the piece after an affine map."""
        return Cubic(
            start=by.point(*self.start),
            first=by.point(*self.first),
            second=by.point(*self.second),
            end=by.point(*self.end),
        )

    def box(self) -> tuple[Point, ...]:
        """Return points whose box is the curve's: ends and extremes."""
        ts = [0.0, 1.0]
        for k in (0, 1):
            a, b, c, d = self.start[k], self.first[k], self.second[k], self.end[k]
            ts += _roots(3 * (b - a), 6 * (a - 2 * b + c), 3 * (3 * b - 3 * c + d - a))
        return tuple(self.at(t) for t in ts)

    def numbers(self) -> tuple[float, ...]:
        """Return every coordinate the piece is made of."""
        return (*self.start, *self.first, *self.second, *self.end)

    def at(self, t: float) -> Point:
        """Return the point at parameter t, 0 to 1."""
        s = 1.0 - t
        w = (s * s * s, 3 * s * s * t, 3 * s * t * t, t * t * t)
        ps = (self.start, self.first, self.second, self.end)
        return Point(
            sum(k * p.x for k, p in zip(w, ps, strict=True)),
            sum(k * p.y for k, p in zip(w, ps, strict=True)),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class EllipticArc:
    """The points centre + u cos t + v sin t, t from ``t0_rad`` through ``sweep_rad``.

    Args:
        start, end: the ends as given, so that neighbours meet exactly.
        centre: middle of the ellipse.
        u, v: conjugate half-diameters.
        t0_rad, sweep_rad: where it starts and how far it runs, signed, at most a full turn.
    """

    start: Point
    end: Point
    centre: Point
    u: Vector
    v: Vector
    t0_rad: float
    sweep_rad: float

    def mapped(self, by: Transform) -> EllipticArc:
        """Return the piece after an affine map."""
        return EllipticArc(
            start=by.point(*self.start),
            end=by.point(*self.end),
            centre=by.point(*self.centre),
            u=by.vector(*self.u),
            v=by.vector(*self.v),
            t0_rad=self.t0_rad,
            sweep_rad=self.sweep_rad,
        )

    def at(self, t_rad: float) -> Point:
        """Return the point at angle t of the parameter, rad."""
        cos, sin = math.cos(t_rad), math.sin(t_rad)
        return Point(
            self.centre.x + self.u.x * cos + self.v.x * sin,
            self.centre.y + self.u.y * cos + self.v.y * sin,
        )

    def box(self) -> tuple[Point, ...]:
        """Return points whose box is the arc's: ends and extremes."""
        out = [self.start, self.end]
        for k in (0, 1):
            peak = math.atan2(self.v[k], self.u[k])
            for t in (peak, peak + math.pi):
                turn = (t - self.t0_rad) * (1.0 if self.sweep_rad > 0 else -1.0) % (2 * math.pi)
                if turn <= abs(self.sweep_rad):
                    out.append(self.at(t))
        return tuple(out)

    def numbers(self) -> tuple[float, ...]:
        """Return every coordinate the piece is made of."""
        return (*self.start, *self.end, *self.centre, *self.u, *self.v)


Piece = Line | Cubic | EllipticArc


@dataclass(frozen=True, slots=True, kw_only=True)
class Subpath:
    """One run of pieces, each starting where the one before ended.

    Args:
        pieces: at least one.
        closed: whether the path closes itself (Z, or a shape that is a ring).
    """

    pieces: tuple[Piece, ...]
    closed: bool

    def mapped(self, by: Transform) -> Subpath:
        """Return the run after an affine map."""
        return Subpath(pieces=tuple(p.mapped(by) for p in self.pieces), closed=self.closed)


_COMMAND = re.compile(r"[MmZzLlHhVvCcSsQqTtAa]")
_ARC = re.compile(
    rf"[\s,]*({NUMBER})[\s,]*({NUMBER})[\s,]*({NUMBER})[\s,]*([01])[\s,]*([01])"
    rf"[\s,]*({NUMBER})[\s,]*({NUMBER})"
)
_ARGUMENTS = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}


def subpaths(data: str, *, where: str) -> tuple[Subpath, ...]:
    """Return the runs that path data draws, in the path's own coordinates.

    Args:
        data: the ``d`` attribute; empty draws nothing.
        where: file and element, for the error.
    Raises:
        InputError: the data breaks the grammar; the message names the character.
    """
    pen = _Pen()
    for command, rows in _commands(data, where):
        for row in rows:
            if not all(map(math.isfinite, row)):
                raise InputError(
                    f'path data holds a number too large to be one, after "{command}"',
                    where=where,
                    hint="repair or delete this element",
                )
            pen.draw(command, row)
            # Further pairs after a move are lines.
            command = {"M": "L", "m": "l"}.get(command, command)
    pen.lift(closed=False)
    return tuple(pen.runs)


def _commands(data: str, where: str) -> Iterator[tuple[str, list[tuple[float, ...]]]]:
    """Yield each command letter with its rows of arguments."""
    starts = [m.start() for m in _COMMAND.finditer(data)]
    head = data[: starts[0]] if starts else data
    if head.strip(GAP) or (starts and data[starts[0]] not in "Mm"):
        raise _broken(data, 0, where, "path data must begin with a move (M)")
    for i, at in enumerate(starts):
        letter = data[at]
        body = data[at + 1 : starts[i + 1] if i + 1 < len(starts) else len(data)]
        count = _ARGUMENTS[letter.upper()]
        if letter in "Aa":
            rows, used = _arc_rows(body)
            if not rows or body[used:].strip(GAP):
                raise _broken(
                    data, at + 1 + used, where, "an arc needs 7 numbers, two of them flags"
                )
            yield letter, rows
            continue
        found = numbers(body)
        if found is None:
            stray = without_numbers(body)[0]
            raise _broken(data, at + 1 + body.find(stray), where, f'"{stray}" is no number')
        if count == 0 and not found:
            yield letter, [()]
        elif count and found and len(found) % count == 0:
            yield letter, [tuple(found[k : k + count]) for k in range(0, len(found), count)]
        else:
            raise _broken(
                data, at, where, f'"{letter}" takes {count} numbers at a time, not {len(found)}'
            )


def _arc_rows(body: str) -> tuple[list[tuple[float, ...]], int]:
    """Return the rows of an arc command and how many characters they took."""
    rows, used = [], 0
    while found := _ARC.match(body, used):
        rows.append(tuple(map(float, found.groups())))
        used = found.end()
    return rows, used


def _broken(data: str, at: int, where: str, why: str) -> InputError:
    """Return the error for path data that breaks the grammar at a character."""
    near = " ".join(data[max(0, at - 12) : at + 20].split())
    return InputError(
        f'path data is broken at character {at + 1}, near "{near}": {why}',
        where=where,
        hint="save the drawing again from the program that made it, or repair this path",
    )


class _Pen:
    """Where the path stands while it is read."""

    def __init__(self) -> None:
        self.runs: list[Subpath] = []
        self.pieces: list[Piece] = []
        self.at = self.home = Point(0.0, 0.0)
        self.handle: tuple[str, Point] | None = None  # last control point, of a "C" or a "Q"

    def lift(self, *, closed: bool) -> None:
        """End the run being drawn."""
        if self.pieces:
            self.runs.append(Subpath(pieces=tuple(self.pieces), closed=closed))
        self.pieces = []

    def draw(self, command: str, row: tuple[float, ...]) -> None:
        """Carry out one command with one row of arguments."""
        kind = command.upper()
        handle, self.handle = self.handle, None
        base = self.at if command.islower() else Point(0.0, 0.0)
        if kind == "Z":
            if self.pieces and self.at != self.home:
                self.pieces.append(Line(start=self.at, end=self.home))
            self.lift(closed=True)
            self.at = self.home
            return
        if kind == "H":
            points = [Point(base.x + row[0], self.at.y)]
        elif kind == "V":
            points = [Point(self.at.x, base.y + row[0])]
        else:
            tail = row[5:] if kind == "A" else row
            points = [
                Point(base.x + x, base.y + y) for x, y in zip(tail[::2], tail[1::2], strict=True)
            ]
        start, end = self.at, points[-1]
        self.at = end
        if kind == "M":
            self.lift(closed=False)
            self.home = end
        elif kind in "LHV":
            self.pieces.append(Line(start=start, end=end))
        elif kind in "CS":
            mirrored = self._mirrored("C", handle, start)
            first, second = (points[0], points[1]) if kind == "C" else (mirrored, points[0])
            self.pieces.append(Cubic(start=start, first=first, second=second, end=end))
            self.handle = ("C", second)
        elif kind in "QT":
            middle = points[0] if kind == "Q" else self._mirrored("Q", handle, start)
            self.pieces.append(raised(start, middle, end))
            self.handle = ("Q", middle)
        else:
            self.pieces += arc_between(
                start,
                end,
                rx=row[0],
                ry=row[1],
                turn_deg=row[2],
                large=row[3] == 1,
                ccw=row[4] == 1,
            )

    @staticmethod
    def _mirrored(kind: str, handle: tuple[str, Point] | None, at: Point) -> Point:
        """Return the last control point mirrored at ``at``, or ``at`` after another command."""
        if handle is None or handle[0] != kind:
            return at
        return Point(2 * at.x - handle[1].x, 2 * at.y - handle[1].y)


def raised(start: Point, middle: Point, end: Point) -> Cubic:
    """Return the cubic that equals a quadratic Bézier."""
    return Cubic(
        start=start,
        first=Point(start.x + 2 * (middle.x - start.x) / 3, start.y + 2 * (middle.y - start.y) / 3),
        second=Point(end.x + 2 * (middle.x - end.x) / 3, end.y + 2 * (middle.y - end.y) / 3),
        end=end,
    )


def arc_between(
    start: Point, end: Point, *, rx: float, ry: float, turn_deg: float, large: bool, ccw: bool
) -> list[Piece]:
    """Return the elliptical arc between two points: no piece, a line, or an arc.

    Args:
        start, end: ends.
        rx, ry: radii; the sign is dropped, radii too small to reach are enlarged alike.
        turn_deg: turn of the x radius, degrees.
        large, ccw: the two flags: the longer way round; angles growing.
    Source: SVG 1.1, F.6.2 (out-of-range), F.6.5 (centre), F.6.6 (radii).
    """
    if start == end:
        return []
    rx, ry = abs(rx), abs(ry)
    if rx == 0.0 or ry == 0.0:
        return [Line(start=start, end=end)]
    phi = math.radians(math.fmod(turn_deg, 360.0))
    cos, sin = math.cos(phi), math.sin(phi)
    hx, hy = (start.x - end.x) / 2, (start.y - end.y) / 2
    # In units of the radii, turned: half the chord, its length k, and how far the centre is off.
    px, py = (cos * hx + sin * hy) / rx, (-sin * hx + cos * hy) / ry
    k = math.hypot(px, py)
    if not math.isfinite(k) or k == 0.0:
        return [Line(start=start, end=end)]
    grow = max(1.0, k)
    px, py, k = px / grow, py / grow, min(k, 1.0)
    off = math.sqrt(max(0.0, (1.0 - k) * (1.0 + k))) / k * (-1.0 if large == ccw else 1.0)
    cx, cy = off * py, -off * px
    t0 = math.atan2(py - cy, px - cx)
    t1 = math.atan2(-py - cy, -px - cx)
    sweep = (t1 - t0) % (2 * math.pi)
    if not ccw:
        sweep -= 2 * math.pi
    rx, ry = rx * grow, ry * grow
    return [
        EllipticArc(
            start=start,
            end=end,
            centre=Point(
                (start.x + end.x) / 2 + cos * rx * cx - sin * ry * cy,
                (start.y + end.y) / 2 + sin * rx * cx + cos * ry * cy,
            ),
            u=Vector(rx * cos, rx * sin),
            v=Vector(-ry * sin, ry * cos),
            t0_rad=t0,
            sweep_rad=sweep,
        )
    ]


def _roots(c: float, b: float, a: float) -> list[float]:
    """Return the roots of a t² + b t + c inside (0, 1)."""
    if a == 0.0:
        found = [-c / b] if b else []
    else:
        inner = b * b - 4 * a * c
        if not inner >= 0.0:
            return []
        q = -(b + math.copysign(math.sqrt(inner), b)) / 2
        found = [q / a, *([c / q] if q else [])]
    return [t for t in found if 0.0 < t < 1.0]
