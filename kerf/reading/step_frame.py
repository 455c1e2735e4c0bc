"""What the modules of the STEP worker share: refusals, views, and walks over a shape.

A view is looked at from an axis: "+Z" from above, with the page's right along X and up along
Y; "-Z" from below, X and -Y; "+X" from the right, Y and Z; "-X", -Y and Z; "-Y" from the
front, X and Z; "+Y", -X and Z. These are the third-angle views; every one is right-handed, so
nothing is mirrored.

Source: ISO 5456-2 (third-angle projection).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

Triple = tuple[float, float, float]


class Refused(Exception):
    """What is wrong with the file or the request, and what to do about it."""

    def __init__(self, what: str, hint: str) -> None:
        super().__init__(what)
        self.what = what
        self.hint = hint


class Frame(NamedTuple):
    """A view: unit vectors to the right, up, and towards the eye."""

    right: Triple
    up: Triple
    eye: Triple

    def flat(self, p: Triple) -> tuple[float, float]:
        """Return a point's place on the page, mm."""
        return dot(p, self.right), dot(p, self.up)

    def space(self, x: float, y: float, depth: float) -> Triple:
        """Return the point of space at a place on the page and a depth, mm."""
        a, b, c = (
            x * r + y * u + depth * e for r, u, e in zip(self.right, self.up, self.eye, strict=True)
        )
        return a, b, c


AXES: dict[str, Frame] = {
    "+Z": Frame((1, 0, 0), (0, 1, 0), (0, 0, 1)),
    "-Z": Frame((1, 0, 0), (0, -1, 0), (0, 0, -1)),
    "+X": Frame((0, 1, 0), (0, 0, 1), (1, 0, 0)),
    "-X": Frame((0, -1, 0), (0, 0, 1), (-1, 0, 0)),
    "-Y": Frame((1, 0, 0), (0, 0, 1), (0, -1, 0)),
    "+Y": Frame((-1, 0, 0), (0, 0, 1), (0, 1, 0)),
}
PAGE = Frame((1, 0, 0), (0, 1, 0), (0, 0, 1))


def dot(a: Triple, b: Triple) -> float:
    """Return the dot product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a: Triple, b: Triple) -> Triple:
    """Return the cross product."""
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]


def triple(p: Any) -> Triple:
    """Return the coordinates of a point or direction of the kernel."""
    return p.X(), p.Y(), p.Z()


def shapes(shape: Any, kind: Any) -> Iterator[Any]:
    """Yield the sub-shapes of a kind."""
    from OCP.TopExp import TopExp_Explorer

    walk = TopExp_Explorer(shape, kind)
    while walk.More():
        yield walk.Current()
        walk.Next()


def edges(shape: Any) -> Iterator[Any]:
    """Yield the edges of a shape that have a length."""
    from OCP.BRep import BRep_Tool
    from OCP.TopAbs import TopAbs_EDGE
    from OCP.TopoDS import TopoDS

    for found in shapes(shape, TopAbs_EDGE):
        edge = TopoDS.Edge(found)
        if not BRep_Tool.Degenerated_s(edge):
            yield edge


def box(shape: Any) -> tuple[Triple, Triple]:
    """Return the least and greatest corner of a shape, mm."""
    from OCP.Bnd import Bnd_Box
    from OCP.BRepBndLib import BRepBndLib

    box = Bnd_Box()
    BRepBndLib.AddOptimal_s(shape, box, False, False)
    if box.IsVoid():
        raise Refused("the solid has no extent", "export the part again")
    return triple(box.CornerMin()), triple(box.CornerMax())


def span(solid: Any, frame: Frame) -> tuple[float, float]:
    """Return how far a solid reaches along the eye's axis, mm."""
    low, high = (dot(p, frame.eye) for p in box(solid))
    return min(low, high), max(low, high)
