"""Which pins of a shop enter which bore, what each leaves to location, and what to buy."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from jigs import quantity
from jigs.locating.pin_places import PartBore
from jigs.locating.pinning import LOOSE_MM
from jigs.pins import Pin, PinFit, fits_in, pins_to_buy

#: Pins told for each bore, the closest first.
TOLD = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class BorePins:
    """The pins for one bore.

    Args:
        bore: the bore.
        fits: pins on hand that enter it and do not rattle, the closest first.
        buy: gauge pins that are sure to enter it and closer than any on hand; none when the
            shop's own are as close.
    """

    bore: PartBore
    fits: tuple[PinFit, ...]
    buy: tuple[PinFit, ...]


def bore_pins(
    bores: Sequence[PartBore], pins: Sequence[Pin], *, least_mm: float
) -> tuple[BorePins, ...]:
    """Return the pins for each bore.

    Args:
        bores: the bores.
        pins: on hand.
        least_mm: diametral clearance that must be left, mm.
    """
    out = []
    for bore in bores:
        fits = tuple(
            fit
            for fit in fits_in(bore.limits, pins, least_mm=least_mm)
            if fit.least_mm <= least_mm + LOOSE_MM
        )
        sold = fits_in(bore.limits, pins_to_buy(bore.limits, least_mm=least_mm), least_mm=least_mm)
        best = min((f.most_mm for f in fits if not f.pin.relieved), default=float("inf"))
        out.append(
            BorePins(bore=bore, fits=fits, buy=tuple(f for f in sold if f.most_mm < best - 1e-6))
        )
    return tuple(out)


def report_lines(found: Sequence[BorePins], units: str) -> list[str]:
    """Return the report as text, in the reader's units."""
    lines = []
    for one in found:
        bore = one.bore
        size = " to ".join(
            quantity.length_text(v, units) for v in (bore.limits.least_mm, bore.limits.most_mm)
        )
        lines.append(f"{bore.name} at ({bore.at.x:.3f}, {bore.at.y:.3f}) mm: {size}")
        lines += [_fit_line(fit, units) for fit in one.fits[:TOLD]]
        if len(one.fits) > TOLD:
            lines.append(f"  and {len(one.fits) - TOLD} smaller ones")
        if not one.fits:
            lines.append("  no pin on hand fits")
        lines += ["  to buy:" + _fit_line(fit, units)[1:] for fit in one.buy]
    return lines


def _fit_line(fit: PinFit, units: str) -> str:
    """Return one pin in one line."""
    least, most = (quantity.length_text(v, units) for v in (fit.least_mm, fit.most_mm))
    where = "across its relief" if fit.pin.relieved else "any way"
    return (
        f"  {fit.pin.name} ({fit.pin.made_to}): play {least} to {most}, "
        f"location {quantity.plus_minus_text(fit.float_mm, units)} {where}"
    )


def report_values(found: Sequence[BorePins]) -> list[dict[str, Any]]:
    """Return the report as plain values, mm."""
    return [
        {
            "bore": one.bore.name,
            "at": list(one.bore.at),
            "least_mm": one.bore.limits.least_mm,
            "most_mm": one.bore.limits.most_mm,
            "fits": [_fit_values(fit) for fit in one.fits],
            "buy": [_fit_values(fit) for fit in one.buy],
        }
        for one in found
    ]


def _fit_values(fit: PinFit) -> dict[str, Any]:
    return {
        "pin": fit.pin.name,
        "class": fit.pin.made_to,
        "nominal_mm": fit.pin.nominal_mm,
        "relieved": fit.pin.relieved,
        "least_clearance_mm": fit.least_mm,
        "most_clearance_mm": fit.most_mm,
        "location_mm": fit.float_mm,
    }
