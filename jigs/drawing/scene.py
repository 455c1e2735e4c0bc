"""What a figure is made of, on paper: curves, areas, texts, all in millimetres, y up.

A figure holds only what is drawn: dimensions, flags and leaders have become lines, heads
and texts by the time they stand here, and lines that give way to text (hatching, extension
and centre lines) have already been interrupted. So ``overlaps`` can judge the very lines and
boxes that reach the paper.

Text is level, always, and drawn as single strokes: every rasteriser shows the same letters,
and a text's box is known exactly without a font. Weights and patterns carry the meaning;
the one colour besides black and grey only repeats it, so that a photocopy loses nothing.
"""

from __future__ import annotations

import itertools
import math
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from kerf import lettering
from kerf.contour import Bounds, Contour, Edge, Point, Region, Vertex
from kerf.lettering import CHARACTERS, Anchor

Floats = NDArray[np.float64]

#: Chord error of arcs when boxes are judged, mm on paper: a tenth of the thinnest line.
_CHORD_MM: Final = 0.02


class Ink(StrEnum):
    """The colours of a figure; each prints as a distinct grey."""

    BLACK = "#111111"
    GREY = "#7d7d7d"
    PALE = "#e4e8ea"  #: tint of the part
    WHITE = "#ffffff"
    ACCENT = "#0b5a76"  #: zero and the faces that set it
    FAIL = "#8c1d18"  #: below what is asked; dark in grey
    NEAR = "#b8791a"  #: near to it; middling in grey
    GOOD = "#6fa98a"  #: well beyond it; light in grey


def around(boxes: Sequence[Bounds]) -> Bounds:
    """Return the box round one or more boxes."""
    return Bounds(
        min(b.x_min for b in boxes),
        min(b.y_min for b in boxes),
        max(b.x_max for b in boxes),
        max(b.y_max for b in boxes),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Pen:
    """How a line is drawn.

    Args:
        width_mm: line weight on paper, mm.
        ink: its colour.
        dash: lengths of dashes and gaps in turn, mm; empty for a full line.
    """

    width_mm: float
    ink: Ink = Ink.BLACK
    dash: tuple[float, ...] = ()


#: Line weights after ISO 128-2 (0.18, 0.25, 0.35, 0.5, 0.7 mm).
PART: Final = Pen(width_mm=0.7)
PLATE: Final = Pen(width_mm=0.35)
THIN: Final = Pen(width_mm=0.18)
HATCH: Final = Pen(width_mm=0.13, ink=Ink.GREY)
DIMENSION: Final = Pen(width_mm=0.2)
CHAIN: Final = Pen(width_mm=0.22, ink=Ink.ACCENT, dash=(6.0, 1.2, 0.9, 1.2))
FACE: Final = Pen(width_mm=1.1, ink=Ink.ACCENT)
LETTER: Final = Pen(width_mm=0.28)
LETTER_BOLD: Final = Pen(width_mm=0.42)


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """Lines and arcs, open or closed, stroked, filled or both.

    Args:
        vertices: two or more; a bulge belongs to the edge that leaves its vertex.
        closed: whether the last vertex runs back to the first.
        pen: how the line is drawn; None for a fill alone.
        fill: colour inside a closed curve; None for none.
    """

    vertices: tuple[Vertex, ...]
    closed: bool = False
    pen: Pen | None = None
    fill: Ink | None = None

    def edges(self) -> Iterator[Edge]:
        """Yield the edges in order; edges of no length are passed over."""
        ring = self.vertices + self.vertices[:1] if self.closed else self.vertices
        for v, w in itertools.pairwise(ring):
            if (v.x, v.y) != (w.x, w.y):
                yield Edge(start=Point(v.x, v.y), end=Point(w.x, w.y), bulge=v.bulge)

    def segments(self) -> Floats:
        """Return the curve as straight pieces, shape (n, 4): x1, y1, x2, y2, mm."""
        rows: list[tuple[float, float, float, float]] = []
        for edge in self.edges():
            count = 1
            if not edge.is_line:
                share = min(1.0, max(0.0, 1 - _CHORD_MM / edge.radius_mm))
                step = max(2 * math.acos(share), 1e-3)
                count = max(1, math.ceil(abs(edge.sweep_rad) / step))
            points = [edge.point_at(i / count) for i in range(count + 1)]
            rows += [(*p, *q) for p, q in itertools.pairwise(points)]
        return np.asarray(rows, dtype=np.float64).reshape(-1, 4)

    def bounds(self) -> Bounds:
        """Return the box of the curve, mm."""
        return around(tuple(edge.bounds() for edge in self.edges()))


@dataclass(frozen=True, slots=True, kw_only=True)
class Area:
    """A filled region with holes, stroked when a pen is given."""

    region: Region
    fill: Ink | None = None
    pen: Pen | None = None

    def curves(self) -> tuple[Curve, ...]:
        """Return its loops as closed curves."""
        return tuple(closed(loop, pen=self.pen) for loop in self.region.loops())


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """One level line of text.

    Args:
        text: what it says; only characters that can be drawn.
        at: where the anchor stands.
        height_mm: height of a capital.
        anchor: which place of the text stands at ``at``.
        pen: stroke of the letters.
    """

    text: str
    at: Point
    height_mm: float
    anchor: Anchor = Anchor.LEFT
    pen: Pen = LETTER

    def box(self) -> Bounds:
        """Return the box of its ink and of every descender and bracket it might have."""
        low, _, high, _ = lettering.text_box(
            self.text, height_mm=self.height_mm, at=self.at, anchor=self.anchor
        )
        half = self.pen.width_mm / 2
        return Bounds(low.x - half, low.y, high.x + half, high.y)

    def strokes(self) -> tuple[lettering.Stroke, ...]:
        """Return the letters as open polylines."""
        return lettering.strokes(
            self.text, height_mm=self.height_mm, at=self.at, anchor=self.anchor
        )


Item = Area | Curve | Text


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A finished drawing.

    Args:
        name: stem of a file name, lower case with hyphens.
        title: what it shows, one line.
        width_mm, height_mm: size on paper; every item lies within.
        items: drawn in order, later over earlier.
    """

    name: str
    title: str
    width_mm: float
    height_mm: float
    items: tuple[Item, ...]

    def texts(self) -> tuple[Text, ...]:
        """Return the texts in the order they are drawn."""
        return tuple(item for item in self.items if isinstance(item, Text))

    def lines(self) -> tuple[Curve, ...]:
        """Return every drawn line and filled head, the outlines of areas included."""
        curves: list[Curve] = []
        for item in self.items:
            if isinstance(item, Area):
                curves += [c for c in item.curves() if c.pen is not None]
            elif isinstance(item, Curve):
                curves.append(item)
        return tuple(curves)


def polyline(*points: tuple[float, float], pen: Pen) -> Curve:
    """Return an open run of straight lines."""
    return Curve(vertices=tuple(Vertex(x, y) for x, y in points), pen=pen)


def closed(loop: Contour, *, pen: Pen | None = None, fill: Ink | None = None) -> Curve:
    """Return a loop as a curve."""
    return Curve(vertices=loop.vertices, closed=True, pen=pen, fill=fill)


def circle(
    at: tuple[float, float], radius_mm: float, *, pen: Pen | None = None, fill: Ink | None = None
) -> Curve:
    """Return a full circle."""
    x, y = at
    return Curve(
        vertices=(Vertex(x - radius_mm, y, 1.0), Vertex(x + radius_mm, y, 1.0)),
        closed=True,
        pen=pen,
        fill=fill,
    )


def drawable(text: str) -> str:
    """Return the text with each character that has no stroke letter replaced.

    An accent is dropped ("ü" becomes "u"), anything else becomes "?", so that no name turns
    into another number. A figure must not fail over a name; the sheet's own text beside it
    keeps the name as written.
    """
    out = []
    for character in text:
        plain = "".join(
            c for c in unicodedata.normalize("NFD", character) if not unicodedata.combining(c)
        )
        out.append(character if character in CHARACTERS else plain if plain in CHARACTERS else "?")
    return "".join(out)


def entering(segments: Floats, boxes: Floats) -> NDArray[np.bool_]:
    """Return which segments enter which open boxes. Exact (separating axes).

    Args:
        segments: shape (n, 4): x1, y1, x2, y2, mm.
        boxes: shape (m, 4): x_min, y_min, x_max, y_max, mm.
    Returns:
        shape (n, m).
    """
    cx, cy = (boxes[:, 0] + boxes[:, 2]) / 2, (boxes[:, 1] + boxes[:, 3]) / 2
    hx, hy = (boxes[:, 2] - boxes[:, 0]) / 2, (boxes[:, 3] - boxes[:, 1]) / 2
    s = segments[:, :, None]
    mx, my = (s[:, 0] + s[:, 2]) / 2 - cx, (s[:, 1] + s[:, 3]) / 2 - cy
    dx, dy = (s[:, 2] - s[:, 0]) / 2, (s[:, 3] - s[:, 1]) / 2
    apart: NDArray[np.bool_] = (
        (np.abs(mx) >= hx + np.abs(dx))
        | (np.abs(my) >= hy + np.abs(dy))
        | (np.abs(mx * dy - my * dx) >= hx * np.abs(dy) + hy * np.abs(dx))
    )
    return ~apart


def hits_box(segments: Floats, box: Bounds) -> bool:
    """Return whether any segment enters the open box. segments: shape (n, 4), mm."""
    return bool(entering(segments, np.array([box])).any())


def boxes_meet(a: Bounds, b: Bounds) -> bool:
    """Return whether two open boxes share a point."""
    return a.x_min < b.x_max and b.x_min < a.x_max and a.y_min < b.y_max and b.y_min < a.y_max


def overlaps(figure: Figure) -> tuple[str, ...]:
    """Return one sentence for each text that meets a text or a line, or leaves the figure.

    Every line that is drawn counts: outlines, hatching, dimension lines, leaders, heads.
    """
    texts = figure.texts()
    boxes = [text.box() for text in texts]
    lines = figure.lines()
    pieces = [line.segments() for line in lines]
    segments = np.concatenate(pieces) if pieces else np.empty((0, 4))
    faults = []
    for i, (text, box) in enumerate(zip(texts, boxes, strict=True)):
        faults += [
            f'"{text.text}" overlaps "{other.text}"'
            for other, other_box in zip(texts[i + 1 :], boxes[i + 1 :], strict=True)
            if boxes_meet(box, other_box)
        ]
        if hits_box(segments, box):
            faults.append(f'"{text.text}" overlaps a line')
        if (
            min(box.x_min, box.y_min) < 0
            or box.x_max > figure.width_mm
            or box.y_max > figure.height_mm
        ):
            faults.append(f'"{text.text}" leaves the figure')
    return tuple(faults)
