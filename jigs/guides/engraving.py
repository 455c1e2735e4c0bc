"""What a guide itself engraves, each mark left out where it would come too near a cut."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from kerf import lettering
from kerf.beam import Operation, Stroke
from kerf.contour import Point, Region
from kerf.lettering import Anchor
from kerf.tolerance import FACET_MM, MARK_CLEAR_MM

Lines = tuple[tuple[Point, ...], ...]


class Engraving:
    """Marks gathered for one plate, in its sheet coordinates.

    Args:
        shape: the plate.
        piece: its name.
        mirror_writing: whether texts are read from the other side of the sheet.
    """

    def __init__(self, shape: Region, piece: str, *, mirror_writing: bool = False) -> None:
        import shapely

        holes = [hole.facets() for hole in shape.holes]
        body = shapely.Polygon(shape.outer.facets(), holes)
        self._free: Any = body.buffer(-MARK_CLEAR_MM - FACET_MM)
        self._piece = piece
        self._mirror_writing = mirror_writing
        self._marks: list[tuple[Point, ...]] = []

    def put(self, lines: Lines) -> bool:
        """Take the lines, all or none; return whether they find room."""
        import shapely

        if not self._free.contains(shapely.MultiLineString(list(lines))):
            return False
        self._marks.extend(lines)
        return True

    def tell(
        self,
        text: str,
        at: Point,
        *,
        heights_mm: Iterable[float],
        angle_rad: float = 0.0,
        anchor: Anchor = Anchor.CENTRE,
    ) -> bool:
        """Take a text at the first height that finds room; return whether one did."""
        texts = (
            lettering.strokes(text, height_mm=h, at=at, angle_rad=angle_rad, anchor=anchor)
            for h in heights_mm
        )
        return any(
            self.put(lettering.mirror_written(t) if self._mirror_writing else t) for t in texts
        )

    def strokes(self) -> tuple[Stroke, ...]:
        """Return what was taken."""
        return tuple(
            Stroke(operation=Operation.ENGRAVE, points=points, piece=self._piece)
            for points in self._marks
        )
