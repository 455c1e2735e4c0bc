"""How large an SVG drawing is: the page, its viewBox, and what one pixel of it measures.

When the page has a size in mm, cm, in, pt or pc and a viewBox, the drawing is true to size and
the page is measured in millimetres. In every other case it is measured in pixels, and nobody
has said what a pixel is: programs have written 72, 90 and 96 to the inch, and bare
millimetres. Then the answer is asked for, with the size each way.

Source: W3C SVG 1.1, chapter Coordinate Systems (viewBox, preserveAspectRatio); CSS Values 3
(96 pixels to the inch). 72 to the inch: the PostScript point. 90 to the inch: the older
convention of drawing editors, given up for the CSS value in 2016. Source: common practice.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from kerf.contour import Transform
from kerf.errors import InputError
from kerf.reading.drawing import (
    MM_PER_UNIT,
    is_sensible_size,
    refuse_boundless,
    unit_name,
)
from kerf.reading.svg_path import Subpath
from kerf.reading.svg_value import ABSOLUTE_MM, PX_PER_MM, length, numbers
from kerf.tolerance import PAGE_LARGEST

#: What ``units`` may be for a drawing that does not say its size, likeliest first.
_WAYS = ("px", "pt", "px90", "mm", "inch")
#: Units that are said of a pixel of the page; all others are said of a user unit.
_OF_PIXEL = ("px", "pt", "px90")


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """The page of a drawing.

    Args:
        to_page: user units → the page, y down.
        is_true: whether the page is measured in millimetres; in pixels otherwise.
        width, height: what percentages refer to, user units; None when the page has no size.
        bottom: y of the page's lower edge, on the page; 0 when the page has no size.
        unit: unit of the page's size when that is physical; None when it is not.
        has_viewbox: whether user units are tied to the page by a viewBox.
        title: the page's size as written, for messages.
    """

    to_page: Transform
    is_true: bool
    width: float | None
    height: float | None
    bottom: float
    unit: str | None
    has_viewbox: bool
    title: str

    @property
    def true_mm(self) -> float:
        """Millimetres in a unit of the page, if a pixel is a 96th of an inch."""
        return 1.0 if self.is_true else ABSOLUTE_MM["px"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """Millimetres in a unit of the page, the unit it was read in, and notes about it."""

    mm: float
    unit: str
    notes: tuple[str, ...]


def page_view(attributes: Mapping[str, str], *, path: str) -> View:
    """Return the page that the root element describes.

    Raises:
        InputError: a broken viewBox or length, or a page of no usable size.
    """
    sides: list[float | None] = []
    unit: str | None = None
    box = _viewbox(attributes, path)
    for name in ("width", "height"):
        text = attributes.get(name, "auto").strip()
        value, its = (100.0, "%") if text in ("auto", "") else length(text, where=f"{path}: {name}")
        if its == "%" or value <= 0:
            sides.append(None)
            continue
        sides.append(value * ABSOLUTE_MM[its or "px"])
        if its not in ("", "px"):
            unit = unit or {"in": "inch", "cm": "cm", "pt": "pt"}.get(its, "mm")
    is_true = unit is not None and box is not None
    width, height = (s if is_true or s is None else s * PX_PER_MM for s in sides)
    if box is not None:
        shape = box[3] / box[2]
        if width is None and height is None:
            width, height = box[2], box[3]
        elif width is None and height is not None:
            width = height / shape
        elif height is None and width is not None:
            height = width * shape
    if not max(width or 0.0, height or 0.0) <= PAGE_LARGEST:
        raise InputError(
            "the page is larger than any sheet",
            where=f"{path}: width, height and viewBox",
            hint="give the page its size, and the viewBox four plain numbers",
        )
    title = " × ".join(attributes.get(k, "?") for k in ("width", "height"))
    if width is None or height is None or box is None:
        return View(
            to_page=Transform(),
            is_true=False,
            width=width,
            height=height,
            bottom=height or 0.0,
            unit=unit,
            has_viewbox=False,
            title=title,
        )
    to_page, _ = viewbox_map(attributes, width, height, where=path)
    return View(
        to_page=to_page,
        is_true=is_true,
        width=box[2],
        height=box[3],
        bottom=height,
        unit=unit,
        has_viewbox=True,
        title=title,
    )


def _viewbox(attributes: Mapping[str, str], where: str) -> tuple[float, float, float, float] | None:
    """Return the viewBox (x, y, width, height), or None when there is none."""
    text = attributes.get("viewBox", "").strip()
    if not text:
        return None
    values = numbers(text)
    if values is None or len(values) != 4 or not all(map(math.isfinite, values)):
        raise InputError(f'cannot read the viewBox "{text[:60]}"', where=where, hint=_BOX_HINT)
    if values[2] <= 0 or values[3] <= 0:
        raise InputError(f'the viewBox "{text[:60]}" has no area', where=where, hint=_BOX_HINT)
    return (values[0], values[1], values[2], values[3])


_BOX_HINT = "give it four plain numbers: x y width height"


def viewbox_map(
    attributes: Mapping[str, str], width: float, height: float, *, where: str
) -> tuple[Transform, tuple[float, float, float, float] | None]:
    """Return the map from a viewBox into a viewport of a size, and the viewBox.

    Args:
        attributes: those of the ``svg`` or ``symbol``.
        width, height: size of the viewport.
        where: file and element, for errors.
    """
    box = _viewbox(attributes, where)
    if box is None:
        return Transform(), None
    sx, sy = width / box[2], height / box[3]
    words = attributes.get("preserveAspectRatio", "xMidYMid meet").split()
    words = [w for w in words if w != "defer"] or ["xMidYMid"]
    if words[0] == "none":
        return Transform(a=sx, e=sy, c=-box[0] * sx, f=-box[1] * sy), box
    s = max(sx, sy) if words[1:] == ["slice"] else min(sx, sy)
    share = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}
    across, down = share.get(words[0][1:4]), share.get(words[0][5:8])
    if across is None or down is None:
        raise InputError(
            f'cannot read preserveAspectRatio="{" ".join(words)[:40]}"',
            where=where,
            hint='use "none" or, say, "xMidYMid meet"',
        )
    dx, dy = (width - box[2] * s) * across, (height - box[3] * s) * down
    return Transform(a=s, e=s, c=dx - box[0] * s, f=dy - box[1] * s), box


def has_bare_numbers(shapes: Iterable[Mapping[str, str]]) -> bool:
    """Return whether any attribute of shapes and groups gives a place in bare user units."""
    places = ("x", "y", "width", "height", "r", "rx", "ry", "cx", "cy", "x1", "y1", "x2", "y2")
    for attributes in shapes:
        if any(attributes.get(k, "").strip() for k in ("d", "points", "transform", "viewBox")):
            return True
        for name in places:
            value, unit = length(attributes.get(name, "0").replace("auto", "0"), where="")
            if unit == "" and value != 0:
                return True
    return False


def settled_scale(
    view: View, runs: Sequence[Subpath], *, path: str, given: str | None, bare: bool
) -> Scale:
    """Return what a unit of the page measures.

    Args:
        view: the page.
        runs: what is drawn, on the page.
        path: file, for messages.
        given: unit the job gives; it overrides the file.
        bare: whether places are given in bare user units.
    Raises:
        InputError: nobody says the size, or the one stated is none that a part has.
    """
    across = _across(runs)
    stated = view.unit is not None and (view.has_viewbox or not bare)
    if given is not None:
        k = _mm_of_page(view, given)
        if k is None:
            raise InputError(
                f"the viewBox is stretched, so that a user unit is no {unit_name(given)} both ways",
                where=path,
                hint='set preserveAspectRatio to "xMidYMid", or units to "px"',
            )
        refuse_boundless(max(across) * k, path=path)
        if stated and not math.isclose(k, view.true_mm, rel_tol=1e-9):
            note = (
                f"the page says {view.title}: {_size(across, view.true_mm)}; read in "
                f"{unit_name(given)} because the job says so: {_size(across, k)}"
            )
            return Scale(mm=k, unit=given, notes=(note,))
        return Scale(mm=k, unit=given, notes=())
    if stated:
        assert view.unit is not None
        if is_sensible_size(max(across) * view.true_mm):
            return Scale(mm=view.true_mm, unit=view.unit, notes=())
        raise InputError(
            f"the page says {view.title}, which makes the drawing {_size(across, view.true_mm)}; "
            + _ways(view, across),
            where=path,
            hint="set `units` to the right one",
        )
    why = "the drawing does not say its size"
    if view.unit is not None:
        why = f"the page says {view.title} but has no viewBox to say what its bare numbers are"
    elif view.title != "? × ?" and "%" not in view.title:
        why = f"the page says {view.title}, and a pixel is no fixed size"
    raise InputError(
        f"{why}: {_ways(view, across)}", where=path, hint="set `units` to the right one"
    )


def _mm_of_page(view: View, unit: str) -> float | None:
    """Return the size of a unit of the page if ``unit`` holds; None when it is not the same
    along x and y."""
    if unit in _OF_PIXEL:
        return MM_PER_UNIT[unit] / MM_PER_UNIT["px"] * view.true_mm
    a, e = view.to_page.a, view.to_page.e
    return MM_PER_UNIT[unit] / a if math.isclose(a, e, rel_tol=1e-9) else None


def _ways(view: View, across: tuple[float, float]) -> str:
    """Return the sizes each way a person may have meant."""
    ways = [(u, k) for u in _WAYS if (k := _mm_of_page(view, u)) is not None]
    sane = [(u, k) for u, k in ways if is_sensible_size(max(across) * k)]
    return ", ".join(f'{_size(across, k)} as {unit_name(u)} ("{u}")' for u, k in sane or ways)


def _size(across: tuple[float, float], k: float) -> str:
    """Return "32.2 × 32 mm"."""
    return f"{across[0] * k:.5g} × {across[1] * k:.5g} mm"


def _across(runs: Sequence[Subpath]) -> tuple[float, float]:
    """Return width and height of all that is drawn, on the page."""
    points = [p for run in runs for piece in run.pieces for p in piece.box()]
    xs, ys = [p.x for p in points], [p.y for p in points]
    return max(xs) - min(xs), max(ys) - min(ys)
