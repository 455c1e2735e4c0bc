"""``jigs calibrate``: kerf, lean and scale from the readings of a coupon."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from jigs.cli.common import GOOD, say


def calibrate(
    readings: Annotated[Path, typer.Argument(help="Filled-in form (CSV).")],
    shop: Annotated[Path, typer.Option(help="Shop file (TOML); the card is added to it.")] = Path(
        "shop.toml"
    ),
    laser: Annotated[str, typer.Option(help="Laser; as the form says when left out.")] = "",
    sheet: Annotated[str, typer.Option(help="Sheet; as the form says when left out.")] = "",
    card: Annotated[str, typer.Option(help="Name of the card; sheet and date when left out.")] = "",
    out: Annotated[Path, typer.Option(help="Folder the report is written to.")] = Path("out"),
    leave_out: Annotated[
        list[int] | None, typer.Option(help="Line of the form to leave out; may be repeated.")
    ] = None,
    dry: Annotated[bool, typer.Option("--dry", help="Work it out, write nothing.")] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the result on standard output.")
    ] = False,
) -> int:
    """Work out a kerf card from readings and add it to the shop file."""
    import json
    import math
    from dataclasses import replace

    from jigs.calibration_report import calibration_text, report_pdf, residual_plot_svg
    from jigs.shop import read_shop
    from jigs.shop_card import shop_with_card
    from kerf.calibrate import calibration, kerf_card, without
    from kerf.errors import InputError
    from kerf.readings import read_readings
    from kerf.writing.disk import read_text, write_whole

    read = read_readings(readings)
    read = replace(read, laser=laser or read.laser, sheet=sheet or read.sheet)
    missing = [
        label
        for label, value in (
            ("laser", read.laser),
            ("sheet", read.sheet),
            ("measured on", read.measured_on),
            ("measured by", read.measured_by),
            ("instrument", read.instrument),
        )
        if not value
    ]
    if missing:
        raise InputError(
            f"the form does not say: {', '.join(missing)}",
            where=f"{readings.name}: head",
            hint='write them at the top, such as "# measured on: 2025-03-31"',
        )
    lines = frozenset(leave_out or ())
    unknown = sorted(lines - {row.line for row in read.rows})
    if unknown:
        raise InputError(
            f"line {unknown[0]} holds no reading to leave out",
            where=readings.name,
            hint="give the line number as the message named it",
        )
    used = without(read, lines)
    known = read_shop(shop)
    stock = known.sheet(read.sheet, where="sheet")
    found = calibration(used)
    made = kerf_card(found, used, name=card or f"{read.sheet} {read.measured_on}")
    before = read_text(shop, what="shop file")
    after = shop_with_card(before, laser=read.laser, sheet=read.sheet, card=made, name=shop.name)
    report = report_pdf(
        found,
        used,
        made,
        thickness_mm=stock.thickness_mm,
        left_out=tuple(sorted(lines)),
        paper=known.paper,
    )
    if as_json:
        result = {
            "card": made.name,
            "estimates": [
                {
                    "name": e.name,
                    "value": e.value,
                    "u": e.u,
                    "expanded_95": e.expanded,
                    "dof": e.dof if math.isfinite(e.dof) else None,
                    "unit": e.unit,
                }
                for e in found.estimates()
            ],
            "governs": found.governs.value,
            "scatter_mm": found.scatter_mm,
            "repeat_mm": found.repeat_mm,
            "warnings": list(found.warnings),
            "outliers": [o.describe() for o in found.outliers],
            "kerf_without_outliers_mm": found.kerf_without_outliers_mm,
            "left_out": sorted(lines),
            "pins": list(found.pins),
        }
        typer.echo(json.dumps(result, indent=1, ensure_ascii=False))
    else:
        typer.echo(calibration_text(found, made, thickness_mm=stock.thickness_mm), nl=False)
    if dry:
        return GOOD
    stem = f"calibration-{read.sheet}-{read.measured_on}"
    write_whole(out / f"{stem}.pdf", report)
    write_whole(out / f"{stem}.svg", residual_plot_svg(found, used).encode())
    write_whole(shop, after.encode())
    for path in (out / f"{stem}.pdf", out / f"{stem}.svg", shop):
        say(f"wrote {path}")
    return GOOD
