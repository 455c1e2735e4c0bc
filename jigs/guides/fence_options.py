"""The fence's own keys of a set-up."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from jigs.guides.rail import HEAD_DEEP_MM, NECK_DEEP_MM, RIM_MM
from jigs.table import Table


@dataclass(frozen=True, slots=True, kw_only=True)
class FenceOptions:
    """The fence's own keys of a set-up.

    Args:
        hand: side on which the stop stands.
        stops_mm: where the stops' faces are, from the first seat, mm.
        stop: which of them this set-up uses, from 1.
        rail_mm: width of the rail, mm.
        length_mm: least length of the rail, mm; 0 for as long as part and seats ask.
        pad_mm: width of a pad, mm.
        fasten: "slots", "grid", "none", or "" for what the mill's table has.
        scale_mm: pitch of the scale's marks, mm; 0 for none.
        unit_mm: the job's unit, for the scale's numbers.
    """

    hand: str
    stops_mm: tuple[float, ...]
    stop: int
    rail_mm: float
    length_mm: float
    pad_mm: float
    fasten: str
    scale_mm: float
    unit_mm: float


def fence_options(table: Table) -> FenceOptions:
    """Read the fence's own keys."""
    stops: tuple[float, ...] = (0.0,)
    raw = table.raw("stops")
    if raw is not None:
        read = [
            table.length_of("stops", value, f"[{i}]")
            for i, value in enumerate(raw if isinstance(raw, list) else [raw])
        ]
        stops = tuple(value for value in read if value is not None)
        if not stops or stops[0] != 0.0 or any(b <= a for a, b in itertools.pairwise(stops)):
            table.fault(
                "stops",
                "stops must begin at 0 and rise",
                "they are distances from the first stop: stops = [0, 50, 100]",
            )
            stops = (0.0,)
    stop = table.whole("stop", 1, least=1)
    if stop > len(stops):
        table.fault("stop", f"stop {stop} is asked; the rail has {len(stops)}", "add it to `stops`")
        stop = 1
    inch = table.unit_mm == 25.4
    return FenceOptions(
        hand=table.choice("hand", ("left", "right"), "left"),
        stops_mm=stops,
        stop=stop,
        rail_mm=table.length_mm("rail", 48.0, least=NECK_DEEP_MM + HEAD_DEEP_MM + 2 * RIM_MM),
        length_mm=table.length_mm("length", 0.0, least=0.0),
        pad_mm=table.length_mm("pad", 6.0, least=1.0),
        fasten=table.choice("fasten", ("", "slots", "grid", "none"), ""),
        scale_mm=table.length_mm("scale", 12.7 if inch else 10.0, least=0.0),
        unit_mm=table.unit_mm,
    )
