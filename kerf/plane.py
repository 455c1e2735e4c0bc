"""Points, directions, boxes and maps of the plane.

A point and a direction are different types even with the same layout: a shift moves one and
not the other. Lengths are millimetres.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple, Self

from kerf.errors import GeometryError


class Point(NamedTuple):
    """A position, mm."""

    x: float
    y: float


class Vector(NamedTuple):
    """A direction or displacement; mm when a displacement, unitless when a normal."""

    x: float
    y: float


class Vertex(NamedTuple):
    """Start of an edge: position in mm and the bulge of the edge that leaves it."""

    x: float
    y: float
    bulge: float = 0.0


class Bounds(NamedTuple):
    """Axis-aligned box, mm."""

    x_min: float
    y_min: float
    x_max: float
    y_max: float

    @property
    def width(self) -> float:
        """Extent along x, mm."""
        return self.x_max - self.x_min

    @property
    def height(self) -> float:
        """Extent along y, mm."""
        return self.y_max - self.y_min

    @property
    def centre(self) -> Point:
        """Middle of the box, mm."""
        return Point((self.x_min + self.x_max) / 2, (self.y_min + self.y_max) / 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Transform:
    """A plane map x' = a x + b y + c, y' = d x + e y + f (lengths in mm).

    Rigid motions, mirrors and uniform scales keep arcs; anything else is refused
    by loops that hold an arc.
    """

    a: float = 1.0
    b: float = 0.0
    c: float = 0.0
    d: float = 0.0
    e: float = 1.0
    f: float = 0.0

    @classmethod
    def translation(cls, dx_mm: float, dy_mm: float) -> Self:
        """Return the shift by (dx, dy), mm."""
        return cls(c=dx_mm, f=dy_mm)

    @classmethod
    def rotation(cls, angle_rad: float, *, about: tuple[float, float] = (0.0, 0.0)) -> Self:
        """Return the turn by angle_rad, counter-clockwise, about a point.

        Quarter turns are exact, so that a part turned by 90° four times is unchanged.
        """
        quarter = angle_rad / (math.pi / 2)
        if quarter == round(quarter):
            cos, sin = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[round(quarter) % 4]
        else:
            cos, sin = math.cos(angle_rad), math.sin(angle_rad)
        x, y = about
        return cls(a=cos, b=-sin, c=x - cos * x + sin * y, d=sin, e=cos, f=y - sin * x - cos * y)

    @classmethod
    def mirror_x(cls) -> Self:
        """Return the flip that turns the part over about the x axis (y changes sign)."""
        return cls(e=-1.0)

    @classmethod
    def mirror_y(cls) -> Self:
        """Return the flip that turns the part over about the y axis (x changes sign)."""
        return cls(a=-1.0)

    @classmethod
    def scaling(cls, factor: float) -> Self:
        """Return the uniform scale about the origin."""
        return cls(a=factor, e=factor)

    def then(self, after: Transform) -> Transform:
        """Return the map that applies ``self`` first and ``after`` second."""
        return Transform(
            a=after.a * self.a + after.b * self.d,
            b=after.a * self.b + after.b * self.e,
            c=after.a * self.c + after.b * self.f + after.c,
            d=after.d * self.a + after.e * self.d,
            e=after.d * self.b + after.e * self.e,
            f=after.d * self.c + after.e * self.f + after.f,
        )

    @property
    def determinant(self) -> float:
        """Area factor; negative when the map mirrors."""
        return self.a * self.e - self.b * self.d

    @property
    def is_similarity(self) -> bool:
        """Whether circles stay circles."""
        size = math.hypot(self.a, self.d)
        return (
            size > 0
            and abs(self.a * self.b + self.d * self.e) <= 1e-9 * size * size
            and abs(math.hypot(self.b, self.e) - size) <= 1e-9 * size
        )

    def inverse(self) -> Transform:
        """Return the map that undoes this one.

        Raises:
            GeometryError: the map flattens the plane.
        """
        det = self.determinant
        if det == 0.0:
            raise GeometryError("a map that flattens the plane cannot be undone")
        a, b, d, e = self.e / det, -self.b / det, -self.d / det, self.a / det
        return Transform(
            a=a,
            b=b,
            c=-(a * self.c + b * self.f),
            d=d,
            e=e,
            f=-(d * self.c + e * self.f),
        )

    def point(self, x: float, y: float) -> Point:
        """Return where the point (x, y) goes, mm."""
        return Point(self.a * x + self.b * y + self.c, self.d * x + self.e * y + self.f)

    def vector(self, x: float, y: float) -> Vector:
        """Return where the direction (x, y) goes (no shift)."""
        return Vector(self.a * x + self.b * y, self.d * x + self.e * y)

    def rows(self) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
        """Return the 2 × 3 matrix as it stands in the record."""
        return ((self.a, self.b, self.c), (self.d, self.e, self.f))
