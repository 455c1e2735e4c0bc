"""What a guide costs to cut: laser time and its share of the sheet.

Time comes from the laser's card (``kerf.burn_time``), the share of the sheet from the plate's
outline grown by half the gap: what nothing else can be cut from. A shop that has not said its
speeds, rate or price gets no figure made up: the time or the cost is left open, and what is
missing is named.
"""

from __future__ import annotations

from dataclasses import dataclass

from jigs.plan import PlannedSetup
from jigs.shop import Sheet, Shop
from kerf.burn_time import BurnTime, burn_time
from kerf.contour import Region


@dataclass(frozen=True, slots=True, kw_only=True)
class Burning:
    """Time and cost of one guide.

    Args:
        time: by what the laser does, added over its plates; None when the card says no speeds.
        sheet_share: of a whole sheet, all its plates together.
        cost: laser and sheet, in the shop's currency; None when a figure is missing.
        missing: what the shop file would have to say for the figures left open.
    """

    time: BurnTime | None
    sheet_share: float
    cost: float | None
    missing: tuple[str, ...]

    @property
    def time_s(self) -> float | None:
        """All of the time, s."""
        return self.time.total_s if self.time is not None else None


def burning(planned: PlannedSetup, shop: Shop) -> Burning:
    """Return what one guide takes and costs to cut, each plate in a file of its own."""
    sheets = {sheet.name: sheet for sheet in shop.sheets}
    missing: list[str] = []
    times: list[BurnTime] = []
    share = material = 0.0
    for plate, cut in zip(planned.burnt.plates, planned.cuts, strict=True):
        sheet = sheets[plate.stock]
        speeds = planned.laser.speeds_for(sheet.name)
        if speeds is None:
            missing.append(f'cut_speed on a card of laser "{planned.laser.name}" for {sheet.name}')
        else:
            times.append(burn_time(cut, speeds))
        part = sheet_share(plate.region, sheet)
        share += part
        material += part * sheet.price
        if not sheet.price:
            missing.append(f'price of sheet "{sheet.name}"')
    if not planned.laser.rate:
        missing.append(f'rate of laser "{planned.laser.name}" per hour')
    time = None
    if len(times) == len(planned.cuts):
        time = BurnTime(
            cut_s=sum(t.cut_s for t in times),
            engrave_s=sum(t.engrave_s for t in times),
            pierce_s=sum(t.pierce_s for t in times),
            travel_s=sum(t.travel_s for t in times),
        )
    missing = list(dict.fromkeys(missing))
    cost = None
    if time is not None and not missing:
        cost = material + time.total_s / 3600 * planned.laser.rate
    return Burning(time=time, sheet_share=share, cost=cost, missing=tuple(missing))


def sheet_share(region: Region, sheet: Sheet) -> float:
    """Return the share of a sheet that a plate uses up: its outline grown by half the gap.

    Outline area A and length P grown by d: A + P d + π d² for a convex one (Steiner); the last
    term and what a hollow one saves are left out.
    """
    used = region.outer.area_mm2 + region.outer.length_mm * sheet.gap_mm / 2
    return used / (sheet.size_mm[0] * sheet.size_mm[1])


def burning_text(name: str, burning: Burning) -> str:
    """Return one line on a guide's time, share of the sheet and cost."""
    parts = []
    if burning.time is not None:
        t = burning.time
        parts.append(
            f"{duration(t.total_s)} at the laser (cut {t.cut_s:.0f} s, engrave "
            f"{t.engrave_s:.0f} s, pierce {t.pierce_s:.0f} s, travel {t.travel_s:.0f} s)"
        )
    parts.append(f"{burning.sheet_share:.1%} of a sheet")
    if burning.cost is not None:
        parts.append(f"cost {burning.cost:.2f}")
    text = f"{name}: {', '.join(parts)}"
    if burning.missing:
        text += f"; not given: {', '.join(burning.missing)}"
    return text


def laser_text(planned: PlannedSetup, shop: Shop) -> str:
    """Return the laser with what the guide takes and costs on it, as far as the shop says."""
    burnt = burning(planned, shop)
    parts = [planned.laser.name]
    if burnt.time_s is not None:
        parts.append(duration(burnt.time_s))
    if burnt.cost is not None:
        parts.append(f"cost {burnt.cost:.2f}")
    return ", ".join(parts)


def duration(seconds: float) -> str:
    """Return a time as a person reads it.

    >>> duration(83.2)
    '1 min 23 s'
    """
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min {rest} s" if minutes else f"{rest} s"
