"""The assembly of a stack, cut through its dowels: layers, dowels and part, bottom to top.

Heights are at scale; across, the picture is a scheme, and says so by having no size there.
"""

from __future__ import annotations

import math
from typing import Final

import shapely

from jigs import quantity
from jigs.drawing.board import PITCH, TEXT_MM, Board
from jigs.drawing.dimensions import dimension
from jigs.drawing.labels import label
from jigs.drawing.scene import HATCH, PART, PLATE, THIN, Figure, Ink, Pen, polyline
from jigs.drawing.setup_view import HATCH_PITCH_MM, fitted, polygon
from jigs.drawing.symbols import wall_sign
from jigs.guides.dowels import Layer, Stack
from kerf.contour import Contour, Point, Region, Vector

#: Width of the scheme, in heights of the stack.
_WIDE: Final = 2.2

#: Shares of the width: where the pocket begins, how far a wall stands back from the nest's edge
#: and a lip reaches in, and where a dowel stands.
_POCKET: Final = 0.27
_BACK: Final = 0.012
_LIP: Final = 0.04
_DOWEL: Final = 0.13
_DOWEL_HALF: Final = 0.02

#: Length of a layer's leader beside the picture, mm on paper.
_LEADER_MM: Final = 5.0

_PIN: Final = Pen(width_mm=0.4)

#: What each kind of layer does, in words.
ROLES: Final = {
    "base": "base: carries the part",
    "wall": "wall: stands clear",
    "nest": "nest: locates the part",
    "cap": "cap: reaches over its edge",
}


def stack_figure(
    stack: Stack,
    *,
    seat_mm: float,
    part_mm: float,
    zero_on: str,
    units: str,
    width_mm: float,
    height_mm: float,
) -> Figure:
    """Return the picture of the assembly, no larger than the frame.

    Args:
        stack: layers and dowels.
        seat_mm: height of the part's underside above the stack's.
        part_mm: height of the part.
        zero_on: role of the layer that carries the datum faces.
        units: "mm" or "inch".
        width_mm, height_mm: the frame on paper.
    """
    top = max(stack.layers[-1].high_mm, seat_mm + part_mm)
    wide = _WIDE * top
    layers = [
        [_box(a * wide, b * wide, layer.low_mm, layer.high_mm) for a, b in _spans(layer, zero_on)]
        for layer in stack.layers
    ]
    part = _box(_POCKET * wide, (1 - _POCKET) * wide, seat_mm, seat_mm + part_mm)
    dowels = [
        _box((x - _DOWEL_HALF) * wide, (x + _DOWEL_HALF) * wide, 0.0, stack.length_mm)
        for x in (_DOWEL, 1 - _DOWEL)
    ][: len(stack.dowels)]

    def draw(board: Board) -> None:
        pins = shapely.union_all([polygon(board.area(d, pen=None)) for d in dowels])
        for n, blocks in enumerate(layers):
            for block in blocks:
                seen = polygon(board.area(block, pen=PLATE)).difference(pins)
                # Neighbouring sections are hatched the other way (ISO 128-3).
                way = math.pi / 4 if n % 2 else -math.pi / 4
                board.hatch(seen, pitch_mm=HATCH_PITCH_MM, angle_rad=way, pen=HATCH)
        board.area(part, pen=PART, fill=Ink.PALE)
        for dowel in dowels:
            board.area(dowel, pen=_PIN, fill=Ink.WHITE)
        wall_sign(board, board.at((0.0, 0.0)), board.at((wide, 0.0)), Vector(0.0, 1.0))
        board.close_model()
        dimension(
            board,
            (0.0, 0.0),
            (0.0, stack.layers[-1].high_mm),
            quantity.bare_length(stack.layers[-1].high_mm, units),
            away=Vector(-1.0, 0.0),
        )
        dimension(
            board,
            (_POCKET * wide, seat_mm),
            (_POCKET * wide, seat_mm + part_mm),
            f"part {quantity.bare_length(part_mm, units)}",
            away=Vector(-1.0, 0.0),
        )
        level = -math.inf
        for number, layer in enumerate(stack.layers, 1):
            middle = (layer.low_mm + layer.high_mm) / 2
            text = f"{number} {ROLES[layer.role]}"
            tip, foot = board.at((0.97 * wide, middle)), board.at((wide, middle))
            level = max(foot.y, level + PITCH * TEXT_MM)
            end = Point(foot.x + _LEADER_MM, level)
            board.draw(polyline(tip, foot, end, pen=THIN))
            board.put_text((text,), (end.x + 1.0, end.y - TEXT_MM / 2))
        if dowels:
            size = quantity.length_text(stack.length_mm, units, places=1)
            label(
                board,
                (f"dowels {stack.dowel_size}", f"no longer than {size}"),
                (_DOWEL * wide, 0.98 * stack.length_mm),
                toward=Vector(-0.2, 1.0),
            )

    return fitted(
        draw,
        model=Region(outer=Contour.rectangle(0.0, 0.0, wide, top)).bounds(),
        width_mm=width_mm,
        height_mm=height_mm,
        name="stack",
        title="The stack, cut through its dowels",
    )


def _spans(layer: Layer, zero_on: str) -> tuple[tuple[float, float], ...]:
    """Return where a layer is solid, in shares of the width."""
    rim = 0.0 if layer.role == zero_on else _BACK
    if layer.role == "base":
        return ((rim, 1.0),)
    inner = {"wall": _POCKET - _BACK, "nest": _POCKET - 0.002, "cap": _POCKET + _LIP}[layer.role]
    return ((rim, inner), (1 - inner, 1.0))


def _box(x0: float, x1: float, z0: float, z1: float) -> Region:
    """Return an upright rectangle."""
    return Region(outer=Contour.rectangle(x0, z0, x1 - x0, z1 - z0))
