"""``jigs coupon``: the test piece and the form from which kerf is measured."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from jigs.cli.common import CHECK_FAILED, GOOD, say


def coupon(
    sheet: Annotated[
        str, typer.Argument(help="Sheet, as the shop file names it; the first one if left out.")
    ] = "",
    shop: Annotated[Path, typer.Option(help="Shop file (TOML).")] = Path("shop.toml"),
    laser: Annotated[str, typer.Option(help="Laser; the first one when left out.")] = "",
    out: Annotated[Path, typer.Option(help="Folder the files are written to.")] = Path("out"),
    span: Annotated[
        float | None, typer.Option(help="Longest size, mm; longer tells the scale better.")
    ] = None,
    pin: Annotated[
        list[float] | None, typer.Option(help="Pin to make a fit ladder for, mm; may be repeated.")
    ] = None,
    expect: Annotated[float, typer.Option(help="Expected full kerf, mm, for the ladders.")] = 0.2,
    repeats: Annotated[int, typer.Option(help="Readings of each size.", min=1, max=10)] = 3,
    unit: Annotated[str, typer.Option(help="Unit of the readings: mm or inch.")] = "mm",
    release: Annotated[str, typer.Option(help="DXF release: R2000 or R12.")] = "R2000",
    i_have_checked: Annotated[
        bool, typer.Option(help="The sheet's safety data was read; not for halogenated stock.")
    ] = False,
) -> int:
    """Make a test piece for one sheet and laser, and the form for its readings."""
    from jigs.coupon_form import form_csv, form_pdf
    from jigs.report import findings_text
    from jigs.shop import read_shop
    from jigs.stock import check_stock, is_banned
    from kerf.coupon import coupon as coupon_for
    from kerf.errors import InputError
    from kerf.materials import cutting_verdict
    from kerf.writing.disk import write_whole
    from kerf.writing.dxf import RELEASES, dxf_bytes
    from kerf.writing.svg import svg_bytes

    if unit not in ("mm", "inch"):
        raise InputError(f'unit "{unit}" is not offered', hint="use mm or inch")
    if release not in RELEASES:
        raise InputError(
            f'DXF release "{release}" is not offered', hint=f"use {' or '.join(RELEASES)}"
        )
    known = read_shop(shop)
    sheet = sheet or known.sheets[0].name
    stock = known.sheet(sheet, where="SHEET")
    names = [entry.name for entry in known.lasers]
    if laser and laser not in names:
        raise InputError(
            f'laser "{laser}" is not in the shop file',
            where=str(shop),
            hint=f"lasers there: {', '.join(names)}",
        )
    name = laser or names[0]
    findings = check_stock(
        stock.material,
        thickness_mm=stock.thickness_mm,
        subject=f'sheet "{sheet}"',
        has_checked=i_have_checked,
    )
    text = findings_text(findings)
    if text:
        say(text + "\n")
    if is_banned(findings):
        return CHECK_FAILED
    verdict = cutting_verdict(stock.material, thickness_mm=stock.thickness_mm)
    for caution in verdict.cautions:
        say(f"Caution: {caution}.")
    piece = coupon_for(
        thickness_mm=stock.thickness_mm,
        span_mm=span,
        pins_mm=tuple(pin or ()),
        expected_kerf_mm=expect,
        marks=(sheet, name),
    )
    files = {
        "coupon.dxf": dxf_bytes(piece.plan, colours=known.colours, release=release),
        "coupon.svg": svg_bytes(piece.plan, colours=known.colours),
        "readings.csv": form_csv(
            piece, laser=name, sheet=sheet, repeats=repeats, unit=unit
        ).encode(),
        "readings.pdf": form_pdf(
            piece,
            laser=name,
            sheet=sheet,
            thickness_mm=stock.thickness_mm,
            verdict=verdict,
            repeats=repeats,
            unit=unit,
            paper=known.paper,
        ),
    }
    target = out / f"coupon-{sheet}"
    if (target / "readings.csv").exists():
        raise InputError(
            "a readings file is there already, and may be filled in",
            where=str(target / "readings.csv"),
            hint="move it away, or choose another --out",
        )
    for file, content in files.items():
        write_whole(target / file, content)
        say(f"wrote {target / file}")
    say("Burn coupon.dxf as drawn, kerf compensation off; fill in readings.csv, then calibrate.")
    return GOOD
