"""The error budget as bars: for each critical feature, what its worst case is made of.

A bar's full frame is what location may use; the filled part is the worst case, cut into its
causes, largest first, told apart by shade and by number. A bar that runs past its frame is
a feature that may be scrapped, and is seen at once.
"""

from __future__ import annotations

from dataclasses import dataclass

from jigs import quantity
from jigs.drawing.scene import (
    LETTER,
    LETTER_BOLD,
    Curve,
    Figure,
    Ink,
    Item,
    Pen,
    Text,
    drawable,
    polyline,
)
from kerf.contour import Point, Vertex

_SHADES = (Ink.BLACK, Ink.GREY, Ink.PALE, Ink.WHITE)
_EDGE = Pen(width_mm=0.2)
_LIMIT = Pen(width_mm=0.6)

_TEXT_MM = 2.6
_BAR_MM = 5.0
_ROW_MM = 20.0
_NAME_AT_MM = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """The worst case of one feature and what it is made of.

    Args:
        name: the feature.
        worst_mm: greatest ± it can be off from location.
        limit_mm: ± that location may use.
        shares: (cause, share of the worst case), largest first.
    """

    name: str
    worst_mm: float
    limit_mm: float
    shares: tuple[tuple[str, float], ...]


def budget_figure(
    budgets: tuple[Budget, ...], *, units: str = "mm", width_mm: float = 180.0
) -> Figure:
    """Return the bars of all features, one under the other.

    Args:
        budgets: one or more.
        units: "mm" or "inch".
        width_mm: of the figure on paper.
    """
    over = max(1.0, *(b.worst_mm / b.limit_mm for b in budgets))
    full = (width_mm - 4.0) / over
    height = _ROW_MM * len(budgets)
    items: list[Item] = []
    for i, budget in enumerate(budgets):
        items += _bar(budget, height - i * _ROW_MM, full, units)
    return Figure(
        name="budget", title="Error budget", width_mm=width_mm, height_mm=height, items=tuple(items)
    )


def _bar(budget: Budget, top: float, full: float, units: str) -> list[Item]:
    """Return one feature's words and bar; ``full`` is the length of the limit on paper."""
    x0 = 2.0
    low = top - 6.4 - _BAR_MM
    items: list[Item] = []
    x = x0
    for k, (_, share) in enumerate(budget.shares):
        end = x + full * share * budget.worst_mm / budget.limit_mm
        if end > x:
            items.append(_box(x, low + 0.6, end, low + _BAR_MM - 0.6, fill=_SHADES[k % 4]))
        x = end
    items.append(_box(x0, low, x0 + full, low + _BAR_MM, fill=None))
    items.append(polyline((x0 + full, low - 0.6), (x0 + full, low + _BAR_MM + 0.6), pen=_LIMIT))
    verdict = "within" if budget.worst_mm <= budget.limit_mm else "OVER"
    worst = quantity.plus_minus_text(budget.worst_mm, units)
    limit = quantity.plus_minus_text(budget.limit_mm, units)
    said = f"{budget.name}: worst {worst}, {verdict} the {limit} that location may use"
    items.append(_text(said, Point(_NAME_AT_MM, top - 4.2), LETTER_BOLD))
    causes = "   ".join(f"{name} {share:.0%}" for name, share in budget.shares if share >= 0.005)
    items.append(_text(causes, Point(_NAME_AT_MM, low - 4.2), LETTER))
    return items


def _box(x0: float, y0: float, x1: float, y1: float, *, fill: Ink | None) -> Curve:
    """Return an upright rectangle with an edge."""
    corners = ((x0, y0), (x1, y0), (x1, y1), (x0, y1))
    return Curve(
        vertices=tuple(Vertex(x, y) for x, y in corners), closed=True, pen=_EDGE, fill=fill
    )


def _text(said: str, at: Point, pen: Pen) -> Text:
    """Return a line of text."""
    return Text(text=drawable(said), at=at, height_mm=_TEXT_MM, pen=pen)
