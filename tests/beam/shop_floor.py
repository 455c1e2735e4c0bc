"""The shop and the parts that the virtual-laser tests share.

A part's outline is worked out here from first principles, so that it shares no code with the
program.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

#: A rounded outline with a hollow, (x, y, corner radius); no corner sharper than 2 mm.
ROUNDED = [[0, 0, 4], [60, 0, 6], [60, 25, 3], [38, 25, 5], [30, 45, 2], [0, 40, 8]]
#: Square at one corner, curved elsewhere: (x, y, corner radius).
SQUARE = [[0, 0, 0], [70, 0, 6], [70, 30, 15], [40, 55, 4], [0, 55, 8]]


def shop_text(
    *,
    kerf: float = 0.24,
    u: float = 0.02,
    card: str = "",
    thickness: float = 5,
    stock: str = "",
    finder: str = "",
    size: tuple[int, int] = (600, 400),
) -> str:
    """Return a shop file with one laser, one sheet and one finder.

    Args:
        kerf, u: full kerf and its standard uncertainty, mm.
        card, stock, finder: further lines of the kerf card, the sheet and the finder.
        thickness: of the sheet, mm, which also names it.
        size: of sheet and bed, mm.
    """
    name = f"acrylic-{thickness:g}"
    return f"""schema = 1
units = "mm"
[[laser]]
name = "test laser"
bed = {list(size)}
[[laser.card]]
name = "card"
sheet = "{name}"
kerf = {kerf}
u = {u}
{card}
[[sheet]]
name = "{name}"
material = "cast acrylic"
thickness = {thickness}
size = {list(size)}
{stock}
[[finder]]
name = "finder"
tip_diameter = 10
{finder}
"""


def fillet_rows(points: Sequence[Sequence[float]]) -> list[tuple[float, float, float]]:
    """Return (x, y, bulge) of a polygon given as (x, y, corner radius)."""
    rows = []
    n = len(points)
    for i in range(n):
        (x0, y0), (x, y, r), (x1, y1) = points[i - 1][:2], points[i], points[(i + 1) % n][:2]
        if r == 0:
            rows.append((x, y, 0.0))
            continue
        u = np.array([x0 - x, y0 - y]) / np.hypot(x0 - x, y0 - y)
        v = np.array([x1 - x, y1 - y]) / np.hypot(x1 - x, y1 - y)
        inside = np.arccos(np.clip(u @ v, -1, 1))
        back = r / np.tan(inside / 2)
        left = (-u[0]) * v[1] - (-u[1]) * v[0] > 0
        bulge = np.tan((np.pi - inside) / 4) * (1 if left else -1)
        rows.append((x + u[0] * back, y + u[1] * back, bulge))
        rows.append((x + v[0] * back, y + v[1] * back, 0.0))
    return rows


def drawn(
    points: Sequence[Sequence[float]], turn: float, flip: str, hand: str
) -> list[list[float]]:
    """Return the outline as drawn, so that flip and turn lay it as ``points`` say.

    Args:
        points: as it is to lie, (x, y, corner radius).
        turn: degrees.
        flip: "none", "x" or "y".
        hand: "left", or "right" for the mirror image, as it lies against a right-hand guide.
    """
    turned = []
    for x, y, r in points:
        x = -x if hand == "right" else x
        a = -math.radians(turn)
        x, y = x * math.cos(a) - y * math.sin(a), x * math.sin(a) + y * math.cos(a)
        turned.append([x * (-1 if flip == "y" else 1), y * (-1 if flip == "x" else 1), r])
    return turned
