"""A stack's own keys of a set-up."""

from __future__ import annotations

from dataclasses import dataclass

from jigs.guides.nest import NestOptions
from jigs.guides.pocket import SHARPEST_INSIDE_MM
from jigs.pins import CLASSES
from jigs.table import Table
from kerf.contour import Point


@dataclass(frozen=True, slots=True, kw_only=True)
class StackOptions:
    """The stack's own keys of a set-up.

    Args:
        nest: the keys of the nest in it.
        layers: sheets about the part, the nest among them; 0 for as many as stay below its top.
        proud_mm: by how much the part stands out of them at least, mm.
        base: whether a sheet lies under the part.
        lip_mm: how far the cap reaches over the part's edge, mm; 0 for no cap.
        step_mm: by how much the sheet with the datum faces stands out, mm.
        zero_on: "nest" or "base": which sheet has the datum faces.
        pin_mm: nominal diameter of the dowels, mm.
        pin_class: their class or standard.
        pin_fit: "slip" or "drive" in the lowest layer; all others slip.
        pin_points: where they stand, part coordinates; none for places found by the program.
    """

    nest: NestOptions
    layers: int
    proud_mm: float
    base: bool
    lip_mm: float
    step_mm: float
    zero_on: str
    pin_mm: float
    pin_class: str
    pin_fit: str
    pin_points: tuple[Point, ...]


def read_options(table: Table) -> StackOptions:
    """Read the stack's own keys.

    Defaults: border 30, part 0.5 mm proud, a base, no cap, faces 2 mm proud, dowels 6 mm
    ISO 8734 that slip. Source: common practice.
    """
    points = table.points_mm("pin_points") if table.has("pin_points") else ()
    if points and len(points) != 2:
        table.fault(
            "pin_points",
            f"{len(points)} places are given; two dowels hold a layer",
            "give two points, or leave it out",
        )
    options = StackOptions(
        nest=NestOptions(
            border_mm=table.length_mm("border", 30.0, least=3.0),
            notch_mm=table.length_mm("notch", 22.0, least=0.0),
            relief_mm=table.length_mm("relief", 1.5, least=SHARPEST_INSIDE_MM),
            pad_mm=table.length_mm("pad", 6.0, least=1.0),
        ),
        layers=table.whole("layers", 0, least=0),
        proud_mm=table.length_mm("proud", 0.5, least=0.0),
        base=table.flag("base", True),
        lip_mm=table.length_mm("lip", 0.0, least=0.0),
        step_mm=table.length_mm("step", 2.0, least=0.5),
        zero_on=table.choice("zero_on", ("nest", "base"), "nest"),
        pin_mm=table.length_mm("pin", 6.0, above=0.0),
        pin_class=table.choice("pin_class", CLASSES, "ISO 8734"),
        pin_fit=table.choice("pin_fit", ("slip", "drive"), "slip"),
        pin_points=points,
    )
    if options.zero_on == "base" and not options.base:
        table.fault("zero_on", "zero is to be on a base, and there is none", "set base = true")
    return options
