"""The one table of guide kinds. Adding a kind is a module, a row here and its tests."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from jigs.guides import corner, nest
from jigs.guides.guide import Guide
from jigs.part import Part
from jigs.setup import Setup
from jigs.shop import Shop
from jigs.table import Table


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One guide kind.

    Args:
        planes: how its sheet may stand, the usual way first.
        contacts: how the part may be located ("float", "auto"), the usual way first; points
            may always be given.
        read_options: reads the kind's own keys of a [[setup]] table.
        make: makes the guide.
    """

    planes: tuple[str, ...]
    contacts: tuple[str, ...]
    read_options: Callable[[Table], object]
    make: Callable[[Part, Setup, Shop], Guide]


KINDS: dict[str, Kind] = {
    "corner": Kind(
        planes=("XY",),
        contacts=("auto",),
        read_options=corner.read_options,
        make=corner.make,
    ),
    "nest": Kind(
        planes=("XY",),
        contacts=("float", "auto"),
        read_options=nest.read_options,
        make=nest.make,
    ),
}
