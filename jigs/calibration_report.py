"""What a calibration found, for a person: a table in words, and a report with its plot.

The plot shows, for every size, how far each repeat and their mean lie from the fitted model,
with a band of two standard deviations; readings that stand out are ringed.
"""

from __future__ import annotations

import json
import math
from typing import Any, Final

from jigs.templates import template_path
from kerf import lettering
from kerf.beam import KerfCard
from kerf.calibrate import Calibration
from kerf.estimate import Estimate
from kerf.lean import wall_lean
from kerf.lettering import Anchor
from kerf.readings import Readings
from kerf.writing.disk import read_text

_WIDTH_MM: Final = 178.0
_HEIGHT_MM: Final = 78.0


def estimate_text(estimate: Estimate) -> str:
    """Return "0.1832 mm ± 0.0041 mm (95 %)"."""
    places = 5 if not estimate.unit else 4
    unit = f" {estimate.unit}" if estimate.unit else ""
    return f"{estimate.value:.{places}f}{unit} ± {estimate.expanded:.{places}f}{unit}"


def dof_text(dof: float) -> str:
    """Return degrees of freedom as a whole number, cut down; "many" from 1000 up."""
    return "many" if dof >= 1000 else str(math.floor(dof))


def calibration_text(calibration: Calibration, card: KerfCard, *, thickness_mm: float) -> str:
    """Return the result as lines of text, warnings and outliers last."""
    lines = [f"card {card.name}", ""]
    lines += [
        f"  {estimate.name:<28} {estimate_text(estimate):<32} dof {dof_text(estimate.dof)}"
        for estimate in calibration.estimates()
    ]
    lines += [
        "",
        "Kerf is the full width removed; ± covers 95 %.",
        f"Sizes scatter {calibration.scatter_mm:.4f} mm about the model"
        + (
            f"; one reading scatters {calibration.repeat_mm:.4f} mm about its repeats."
            if calibration.repeat_mm is not None
            else "; nothing was read twice, so repeats tell nothing."
        ),
    ]
    lean = wall_lean(card, thickness_mm=thickness_mm)
    if lean is not None:
        lines.append(lean.describe())
    lines += [f"check: {text}" for text in calibration.pins]
    lines += [f"warning: {text}" for text in calibration.warnings]
    lines += [f"stands out, but used: {outlier.describe()}" for outlier in calibration.outliers]
    if calibration.kerf_without_outliers_mm is not None:
        lines.append(
            f"without what stands out the kerf would be "
            f"{calibration.kerf_without_outliers_mm:.4f} mm; measure those again, or name the "
            "lines with --leave-out"
        )
    return "\n".join(lines) + "\n"


def report_pdf(
    calibration: Calibration,
    readings: Readings,
    card: KerfCard,
    *,
    thickness_mm: float,
    left_out: tuple[int, ...] = (),
    paper: str = "a4",
) -> bytes:
    """Return the report of a calibration (typst): results, plot, what to look into."""
    import typst

    lean = wall_lean(card, thickness_mm=thickness_mm)
    content = {
        "card": card.name,
        "laser": readings.laser,
        "sheet": readings.sheet,
        "thickness": f"{thickness_mm:.2f}",
        "instrument": readings.instrument,
        "resolution": f"{readings.resolution_mm:g}",
        "accuracy": f"{readings.accuracy_mm:g}",
        "temperature": "" if readings.temperature_c is None else f"{readings.temperature_c:g}",
        "on": readings.measured_on,
        "by": readings.measured_by,
        "paper": paper,
        "estimates": [
            {
                "name": e.name,
                "value": f"{e.value:.{4 if e.unit else 6}f}",
                "u": f"{e.u:.{4 if e.unit else 6}f}",
                "expanded": f"{e.expanded:.{4 if e.unit else 6}f}",
                "dof": dof_text(e.dof),
                "unit": e.unit,
            }
            for e in calibration.estimates()
        ],
        "scatter": f"{calibration.scatter_mm:.4f}",
        "repeat": "" if calibration.repeat_mm is None else f"{calibration.repeat_mm:.4f}",
        "lean": "" if lean is None else lean.describe(),
        "pins": list(calibration.pins),
        "warnings": list(calibration.warnings),
        "outliers": [o.describe() for o in calibration.outliers],
        "without": ""
        if calibration.kerf_without_outliers_mm is None
        else f"{calibration.kerf_without_outliers_mm:.4f}",
        "left_out": [str(line) for line in left_out],
    }
    source = read_text(template_path("coupon/calibration.typ"), what="report's template")
    # The binding takes a table of files, which its type stubs do not say.
    files: Any = {
        "main.typ": source.encode(),
        "plot.svg": residual_plot_svg(calibration, readings).encode(),
        "content.json": json.dumps(content).encode(),
    }
    return typst.compile(files, ignore_system_fonts=True)


def residual_plot_svg(calibration: Calibration, readings: Readings) -> str:
    """Return the plot of read − model by size, µm."""
    left, right, top, bottom = 16.0, 3.0, 4.0, 15.0
    rows = readings.rows
    points = [
        [v - row.mean_mm + residual for v in row.values_mm]
        for row, residual in zip(rows, calibration.residuals_mm, strict=True)
    ]
    band = 2 * calibration.scatter_mm
    reach = max(band, *(abs(p) for column in points for p in column)) * 1.08
    step = _tick(reach)
    width = (_WIDTH_MM - left - right) / len(rows)

    def x(i: int) -> float:
        return left + (i + 0.5) * width

    def y(value: float) -> float:
        middle = top + (_HEIGHT_MM - top - bottom) / 2
        return middle - value / reach * (_HEIGHT_MM - top - bottom) / 2

    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_WIDTH_MM}mm" height="{_HEIGHT_MM}mm" '
        f'viewBox="0 0 {_WIDTH_MM} {_HEIGHT_MM}">',
        f'<rect x="{left}" y="{y(band):.3f}" width="{_WIDTH_MM - left - right:.3f}" '
        f'height="{y(-band) - y(band):.3f}" fill="#e6efe9"/>',
    ]
    for k in range(-math.floor(reach / step), math.floor(reach / step) + 1):
        level = y(k * step)
        weight = 0.3 if k == 0 else 0.1
        out.append(
            f'<path d="M{left} {level:.3f}H{_WIDTH_MM - right}" stroke="#5b646b" '
            f'stroke-width="{weight}"/>'
        )
        out.append(_text(f"{k * step * 1000:+.0f}" if k else "0", left - 1.5, level, turn=0.0))
    out.append(_text("read − model, µm", 2.5, _HEIGHT_MM / 2 - 5, turn=math.pi / 2, middle=True))
    odd = {id(o.reading) for o in calibration.outliers}
    for i, (row, column, residual) in enumerate(
        zip(rows, points, calibration.residuals_mm, strict=True)
    ):
        if i and row.face is not rows[i - 1].face:
            at = left + i * width
            out.append(
                f'<path d="M{at:.3f} {top}V{_HEIGHT_MM - bottom}" stroke="#5b646b" '
                'stroke-width="0.25" stroke-dasharray="1 1"/>'
            )
        size = min(0.55, width / 4)
        out += [
            f'<circle cx="{x(i):.3f}" cy="{y(v):.3f}" r="{size:.3f}" fill="none" '
            'stroke="#1f5f8b" stroke-width="0.2"/>'
            for v in column
        ]
        out.append(
            f'<path d="M{x(i) - 0.35 * width:.3f} {y(residual):.3f}h{0.7 * width:.3f}" '
            'stroke="#1d2327" stroke-width="0.45"/>'
        )
        if id(row) in odd:
            worst = max(column, key=abs)
            out.append(
                f'<circle cx="{x(i):.3f}" cy="{y(worst):.3f}" r="1.6" fill="none" '
                'stroke="#b3261e" stroke-width="0.4"/>'
            )
        label = f"{row.feature} {row.face.value}"
        out.append(_text(label, x(i), _HEIGHT_MM - bottom + 1.2, turn=math.pi / 2))
    out.append("</svg>")
    return "\n".join(out)


def _tick(reach: float) -> float:
    """Return the spacing of the scale: 1, 2 or 5 of a decade, four lines or so each way."""
    decade = 10.0 ** math.floor(math.log10(reach / 4))
    return next(m * decade for m in (1.0, 2.0, 5.0, 10.0) if m * decade >= reach / 4)


def _text(text: str, x: float, y: float, *, turn: float, middle: bool = False) -> str:
    """Return stroked text that ends at (x, y), y down; upward when turned."""
    height = 1.7
    anchor = Anchor.MIDDLE if middle else Anchor.MIDDLE_RIGHT
    lines = lettering.strokes(text, height_mm=height, at=(x, -y), angle_rad=turn, anchor=anchor)
    data = " ".join("M" + " L".join(f"{p.x:.3f} {-p.y:.3f}" for p in line) for line in lines)
    return f'<path d="{data}" fill="none" stroke="#1d2327" stroke-width="0.18"/>'
