"""The reading form that goes with a coupon: what to measure, where and how often.

The CSV is what ``jigs calibrate`` reads; the PDF is what lies beside the calliper, with a
picture in which every size has its arrow and its name. Both list the same sizes in the same
order: the entry face first, then the plate is turned over once.
"""

from __future__ import annotations

import csv
import io
from typing import Any

from jigs.templates import template_path
from kerf import lettering
from kerf.contour import Point, Transform
from kerf.coupon import Coupon, Size
from kerf.lettering import Anchor
from kerf.materials import Verdict
from kerf.readings import COLUMNS, Axis, Kind, Side
from kerf.writing.disk import read_text
from kerf.writing.svg import path_data

#: Room round the coupon in the picture for names, mm.
_MARGIN_MM = 8.0


def rows(coupon: Coupon) -> tuple[tuple[Size, Side], ...]:
    """Return what is measured, in order: entry face, then exit face."""
    return tuple((size, face) for face in Side for size in coupon.sizes if face in size.faces)


def form_csv(coupon: Coupon, *, laser: str, sheet: str, repeats: int = 3, unit: str = "mm") -> str:
    """Return the form to fill in.

    Args:
        coupon: what is measured.
        laser, sheet: names in the shop file.
        repeats: readings of each size.
        unit: "mm" or "inch": of the readings, resolution and accuracy; drawn sizes stay mm.
    """
    out = io.StringIO()
    for note in (
        f"# unit: {unit}",
        f"# laser: {laser}",
        f"# sheet: {sheet}",
        "# instrument:",
        "# resolution:",
        "# accuracy:",
        "# temperature:",
        "# measured on:",
        "# measured by:",
        *(f"# pin {ladder.pin_mm:g} enters hole drawn mm:" for ladder in coupon.ladders),
    ):
        out.write(note + "\n")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow((*COLUMNS, *(f"reading {i + 1}" for i in range(repeats)), "where"))
    for size, face in rows(coupon):
        writer.writerow(
            (
                size.feature,
                size.kind.value,
                size.axis.value,
                face.value,
                f"{size.drawn_mm:g}",
                *[""] * repeats,
                size.where,
            )
        )
    return out.getvalue()


def form_pdf(
    coupon: Coupon,
    *,
    laser: str,
    sheet: str,
    thickness_mm: float,
    verdict: Verdict,
    repeats: int = 3,
    unit: str = "mm",
    paper: str = "a4",
) -> bytes:
    """Return the form to print (typst), with the picture of what each size is.

    Args:
        coupon, laser, sheet, repeats, unit: as for ``form_csv``.
        thickness_mm: of the sheet, mm.
        verdict: what is known about cutting it; its cautions are printed.
        paper: "a4" or "us-letter".
    """
    import json

    import typst

    content = {
        "laser": laser,
        "sheet": sheet,
        "thickness": f"{thickness_mm:.2f}",
        "span": f"{coupon.span_mm:g}",
        "repeats": repeats,
        "unit": unit,
        "paper": paper,
        "cautions": list(verdict.cautions),
        "faces": [
            {
                "name": face.value,
                "rows": [
                    {
                        "feature": size.feature,
                        "where": size.where,
                        "drawn": _drawn(size.drawn_mm, unit),
                    }
                    for size, at in rows(coupon)
                    if at is face
                ],
            }
            for face in Side
        ],
        "ladders": [
            {"pin": f"{x.pin_mm:g}", "holes": [f"{d:.2f}" for d in x.holes_mm]}
            for x in coupon.ladders
        ],
    }
    source = read_text(template_path("coupon/form.typ"), what="form's template")
    # The binding takes a table of files, which its type stubs do not say.
    files: Any = {
        "main.typ": source.encode(),
        "coupon.svg": figure_svg(coupon).encode(),
        "content.json": json.dumps(content).encode(),
    }
    return typst.compile(files, ignore_system_fonts=True)


def _drawn(size_mm: float, unit: str) -> str:
    """Return a drawn size in the unit of the form."""
    return f"{size_mm:.2f}" if unit == "mm" else f"{size_mm / 25.4:.4f}"


def figure_svg(coupon: Coupon) -> str:
    """Return the picture of the coupon with an arrow and a name for every size, mm."""
    shown = [region for name, region in coupon.regions if name != "ladder"]
    boxes = [region.bounds() for region in shown]
    x0, y0 = min(b.x_min for b in boxes), min(b.y_min for b in boxes)
    width = max(b.x_max for b in boxes) - x0 + 2 * _MARGIN_MM
    height = max(b.y_max for b in boxes) - y0 + 2 * _MARGIN_MM
    place = Transform.translation(_MARGIN_MM - x0, _MARGIN_MM - y0)
    arrows = [
        tuple(place.point(*p) for p in line) for size in coupon.sizes for line in _dimension(size)
    ]
    loops = (
        " ".join(path_data(loop, height) for loop in region.transformed(place).loops())
        for region in shown
    )
    return "\n".join(
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.3f}mm" '
            f'height="{height:.3f}mm" viewBox="0 0 {width:.3f} {height:.3f}">',
            '<g fill="#f3efe6" stroke="#1d2327" stroke-width="0.35" fill-rule="evenodd">',
            *(f'<path d="{data}"/>' for data in loops),
            "</g>",
            _lines(arrows, height, colour="#b3261e", width_mm=0.22),
            "</svg>",
        )
    )


def _dimension(size: Size) -> list[tuple[Point, ...]]:
    """Return the arrow of a size, a head at each end, and its name."""
    a, b = size.start, size.end
    head = min(1.2, 0.3 * size.drawn_mm)
    marks = [*lettering.arrow(a, b, head_mm=head), *lettering.arrow(b, a, head_mm=head)]
    is_x = size.axis is Axis.X
    beside = size.kind in (Kind.SLOT, Kind.HOLE, Kind.PLUG, Kind.GAP, Kind.FAR)
    if beside:
        # Inside the plate: over the first part of an X arrow, left of the last part of a Y arrow.
        open_slot = size.kind in (Kind.GAP, Kind.FAR)
        share = 0.25 if is_x or open_slot else 0.8
        x, y = a.x + share * (b.x - a.x), a.y + share * (b.y - a.y)
        if is_x:
            at, anchor = (x, y + 0.5), Anchor.CENTRE
        elif open_slot:
            at, anchor = (x + 0.5, y), Anchor.MIDDLE_LEFT
        else:
            at, anchor = (x - 0.5, y), Anchor.MIDDLE_RIGHT
    else:
        # Sizes that end at an outer edge carry their name outside the plate.
        outer, away = (a, -1.0) if size.kind is Kind.WEB else (b, 1.0)
        at = (outer.x + 1.2 * away, outer.y) if is_x else (outer.x, outer.y + 1.8 * away)
        level = Anchor.MIDDLE_LEFT if away > 0 else Anchor.MIDDLE_RIGHT
        anchor = level if is_x else Anchor.MIDDLE
    height = 1.4 if beside else 1.8
    return [*marks, *lettering.strokes(size.feature, height_mm=height, at=at, anchor=anchor)]


def _lines(
    lines: list[tuple[Point, ...]], height_mm: float, *, colour: str, width_mm: float
) -> str:
    """Return open lines as one SVG path, y down."""
    data = " ".join(
        "M" + " L".join(f"{p.x:.3f} {height_mm - p.y:.3f}" for p in points) for points in lines
    )
    return (
        f'<path d="{data}" fill="none" stroke="{colour}" stroke-width="{width_mm}" '
        'stroke-linecap="round" stroke-linejoin="round"/>'
    )
