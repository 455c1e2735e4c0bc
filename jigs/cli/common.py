"""What all commands share: exit codes, how an error is printed, where outputs go."""

from __future__ import annotations

import functools
import sys
from collections.abc import Callable
from typing import ParamSpec

import typer

from kerf.errors import KerfError

GOOD, CHECK_FAILED, BAD_INPUT = 0, 1, 2

P = ParamSpec("P")


def guarded(command: Callable[P, int]) -> Callable[P, None]:
    """Wrap a command so that a deliberate error becomes one clear message and exit code 2.

    Args:
        command: does the work and returns its exit code.
    """

    @functools.wraps(command)
    def run(*args: P.args, **kwargs: P.kwargs) -> None:
        try:
            code = command(*args, **kwargs)
        except KerfError as fault:
            typer.echo(fault.describe(), err=True)
            code = BAD_INPUT
        except BrokenPipeError:
            # The reader of our output went away (a pager was closed): nothing to say.
            sys.stderr.close()
            code = GOOD
        raise typer.Exit(code)

    # typer reads the signature; the wrapper answers with None where the command has int.
    run.__annotations__ = {**command.__annotations__, "return": None}
    return run


def say(message: str) -> None:
    """Print progress or a remark on stderr."""
    typer.echo(message, err=True)


def day_or_today(given: str) -> str:
    """Return a date as year-month-day; today's when none is given.

    Raises:
        InputError: it is no date.
    """
    import datetime

    from kerf.errors import InputError

    if not given:
        return datetime.date.today().isoformat()
    try:
        return datetime.date.fromisoformat(given).isoformat()
    except ValueError:
        raise InputError(f'"{given}" is no date', hint="write it as year-month-day") from None
