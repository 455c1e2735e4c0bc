"""Which loop lies in which: parts and their holes, by depth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from kerf.contour import Region
from kerf.reading.chain import Loop
from kerf.reading.drawing import Fault, Healed


@dataclass(frozen=True, slots=True, kw_only=True)
class Nested:
    """Regions, largest first, the layer of each outer loop, and what was found on the way."""

    regions: tuple[Region, ...]
    layer_of: tuple[str, ...]
    healed: tuple[Healed, ...]
    faults: tuple[Fault, ...]


def nested(loops: Sequence[Loop]) -> Nested:
    """Return the regions that loops enclose: even depth is material, odd depth is a hole."""
    raise NotImplementedError
