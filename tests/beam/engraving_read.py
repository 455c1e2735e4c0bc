"""Whether a text can be read on a burnt plate: found whole, by turns and shifts, never mirrored.

The strokes come from the written file through ezdxf. Only the shapes of the letters are the
program's own, as a reader of print also has them in mind.
"""

from __future__ import annotations

from pathlib import Path

import ezdxf
import numpy as np

from kerf import lettering

HEIGHTS_MM = (5.0, 4.0, 3.5, 3.0, 2.5, 2.0)
#: How far a stroke's ends may lie from where the text has them, mm.
NEAR_MM = 2e-3


def strokes(path: Path) -> list[np.ndarray]:
    """Return the strokes of a file's engraving, as the beam sees them."""
    rows = []
    for entity in ezdxf.readfile(path).modelspace():
        if entity.dxf.layer != "ENGRAVE":
            continue
        points = list(entity.get_points("xy"))
        rows.append(np.array([*points, points[0]] if entity.is_closed else points))
    return rows


def turned_over(rows: list[np.ndarray]) -> list[np.ndarray]:
    """Return the strokes as they are seen through the sheet, from its other side."""
    return [row * (-1.0, 1.0) for row in rows]


def reads(text: str, rows: list[np.ndarray]) -> bool:
    """Return whether the text stands there, whole and not mirrored."""
    return any(_stands(text, height, rows) for height in HEIGHTS_MM)


def _stands(text: str, height_mm: float, rows: list[np.ndarray]) -> bool:
    wanted = [np.array(s) for s in lettering.strokes(text, height_mm=height_mm, at=(0.0, 0.0))]
    # The longest stroke finds the place; a turn and a shift must then bring all of them there.
    first = max(wanted, key=len)
    for row in rows:
        for there in (row, row[::-1]):
            if len(there) != len(first):
                continue
            by = _motion(first, there)
            if by is not None and all(_found(by(stroke), rows) for stroke in wanted):
                return True
    return False


def _motion(a: np.ndarray, b: np.ndarray):
    """Return the turn and shift that lays one stroke on another of its size; None without."""
    p, q = complex(*(a[-1] - a[0])), complex(*(b[-1] - b[0]))
    if abs(p) < 1e-9:
        p, q = complex(*(a[1] - a[0])), complex(*(b[1] - b[0]))
    if abs(q) < 1e-9 or abs(abs(p) - abs(q)) > NEAR_MM:
        return None
    turn = q / p / abs(q / p)

    def by(points: np.ndarray) -> np.ndarray:
        z = (points[:, 0] - a[0][0]) + 1j * (points[:, 1] - a[0][1])
        z = z * turn
        return np.column_stack((z.real + b[0][0], z.imag + b[0][1]))

    return by if np.abs(by(a) - b).max() < NEAR_MM else None


def _found(stroke: np.ndarray, rows: list[np.ndarray]) -> bool:
    return any(
        len(row) == len(stroke)
        and min(np.abs(row - stroke).max(), np.abs(row[::-1] - stroke).max()) < NEAR_MM
        for row in rows
    )
