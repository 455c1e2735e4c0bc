"""The part: its outline, its critical features, and what is known of its real edge."""

from __future__ import annotations

from dataclasses import dataclass

from kerf.contour import Point, Region
from kerf.errors import GeometryError


@dataclass(frozen=True, slots=True, kw_only=True)
class Critical:
    """A feature whose place matters.

    Args:
        name: the drawing's name for it ("bore A").
        at: position in part coordinates, mm.
        tolerance_mm: ± allowed from location alone, mm, > 0.
        pair: name of a feature of another set-up it is tied to; empty when none.
    """

    name: str
    at: Point
    tolerance_mm: float
    pair: str = ""

    def __post_init__(self) -> None:
        if not self.tolerance_mm > 0:
            raise GeometryError(
                f'critical feature "{self.name}" needs a tolerance above 0 mm, '
                f"not {self.tolerance_mm:.4g} mm"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A part as drawn.

    Args:
        name: part name.
        region: outline and through holes in part coordinates, mm.
        height_mm: size across the sheet plane, mm, > 0.
        material: as written in the job ("6061-T6").
        edge_tolerance_mm: ± of the real edge about the drawn one, mm, >= 0.
        critical: the features whose place matters.
    """

    name: str
    region: Region
    height_mm: float
    material: str
    edge_tolerance_mm: float
    critical: tuple[Critical, ...] = ()

    def __post_init__(self) -> None:
        if not self.height_mm > 0:
            raise GeometryError(f"part height must be above 0 mm, not {self.height_mm:.4g} mm")
        if not self.edge_tolerance_mm >= 0:
            raise GeometryError(
                f"edge tolerance must be 0 mm or more, not {self.edge_tolerance_mm:.4g} mm"
            )
