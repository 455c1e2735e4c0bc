"""``jigs pins``: which pins on hand fit a bore, what each costs in location, what to buy."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from jigs.cli.common import CHECK_FAILED, GOOD, say


def pins(
    what: Annotated[
        str, typer.Argument(help="Job file or drawing; left out when --bore is given.")
    ] = "",
    bore: Annotated[str, typer.Option(help='Size of one bore: "8 mm", "0.250 in".')] = "",
    limits: Annotated[
        str, typer.Option(help='Class ("H7") or ± of the bores; ISO 2768-m when left out.')
    ] = "",
    shop: Annotated[
        Path, typer.Option(help="Shop file with its [[pin]]; a job names its own.")
    ] = Path("shop.toml"),
    clearance: Annotated[str, typer.Option(help="Play that must be left at least.")] = "0.005 mm",
    units: Annotated[str, typer.Option(help="mm or inch: what the report is in.")] = "mm",
    as_json: Annotated[bool, typer.Option("--json", help="Print the report as JSON.")] = False,
) -> int:
    """Say which pins of the shop fit a bore, or each bore of a drawing or job."""
    import json

    from jigs import pin_report
    from jigs.pin_sources import asked_bores, length_mm
    from jigs.shop import read_shop
    from kerf.errors import InputError

    if bool(what) == bool(bore):
        raise InputError(
            "give either a job file or drawing, or --bore with a size, and only one",
            hint='jigs pins part.dxf, or jigs pins --bore "8 mm" --limits H7',
        )
    if units not in ("mm", "inch"):
        raise InputError(f'units "{units}" are not known', where="--units", hint="mm or inch")
    least_mm = length_mm(clearance, option="--clearance")
    if least_mm < 0:
        raise InputError(
            f"a play of {least_mm:.4g} mm is a press fit",
            where="--clearance",
            hint="give 0 or more",
        )
    bores, job_shop = asked_bores(what, bore=bore, limits=limits)
    on_hand = (job_shop or read_shop(shop)).pins
    if not bores:
        raise InputError("there is no round bore", where=what, hint="give --bore with a size")
    found = pin_report.bore_pins(bores, on_hand, least_mm=least_mm)
    if as_json:
        typer.echo(json.dumps(pin_report.report_values(found), indent=1, ensure_ascii=False))
    else:
        for line in pin_report.report_lines(found, units):
            typer.echo(line)
    if not on_hand:
        say("the shop lists no pins: add [[pin]] to its file")
    return GOOD if any(one.fits for one in found) else CHECK_FAILED
