"""The ``jigs`` command: one table of commands, each in its own file."""

from __future__ import annotations

from collections.abc import Callable

import typer

from jigs.cli import calibrate, check, coupon, make, measured, new, pins, read, shelf
from jigs.cli.common import guarded

app = typer.Typer(
    name="jigs",
    help="Laser-cut guides that locate odd-shaped parts, with the proof that they do.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

#: name → function; adding a command is one row here and one file beside this one.
COMMANDS: dict[str, Callable[..., int]] = {
    "new": new.new,
    "make": make.make,
    "check": check.check,
    "read": read.read,
    "coupon": coupon.coupon,
    "calibrate": calibrate.calibrate,
    "measured": measured.measured,
    "pins": pins.pins,
    "shelf": shelf.shelf,
}
for name, function in COMMANDS.items():
    app.command(name)(guarded(function))
