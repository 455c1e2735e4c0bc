"""The one table of guide kinds. Adding a kind is a module, a row here and its tests.

A kind's module is loaded when a set-up asks for it, so that a shop with twenty kinds waits
no longer for a nest than one with two.
"""

from __future__ import annotations

import importlib
from dataclasses import dataclass
from typing import Any

from jigs.guides.guide import Guide
from jigs.part import Part
from jigs.setup import Setup
from jigs.shop import Shop
from jigs.table import Table


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One guide kind: its module in ``jigs.guides``, with ``read_options`` and ``make``.

    Args:
        module: name of the module.
        planes: how its sheet may stand, the usual way first.
        contacts: how the part may be located ("float", "auto"), the usual way first; points
            may always be given.
        sets_zero: whether the machine is zeroed from it, so that a job must say where zero is.
        has_walls: whether part or finder touch its laser-cut walls, so that their lean matters.
    """

    module: str
    planes: tuple[str, ...]
    contacts: tuple[str, ...]
    sets_zero: bool = True
    has_walls: bool = True

    def read_options(self, table: Table) -> object:
        """Read the kind's own keys of a [[setup]] table."""
        return self._loaded().read_options(table)

    def make(self, part: Part, setup: Setup, shop: Shop) -> Guide:
        """Make the guide (see the kind's module for what it refuses)."""
        guide = self._loaded().make(part, setup, shop)
        assert isinstance(guide, Guide)
        return guide

    def _loaded(self) -> Any:
        return importlib.import_module(f"jigs.guides.{self.module}")


KINDS: dict[str, Kind] = {
    "corner": Kind(module="corner", planes=("XY",), contacts=("auto",)),
    "fence": Kind(module="fence", planes=("XY",), contacts=("auto",)),
    "nest": Kind(module="nest", planes=("XY",), contacts=("float", "auto")),
    "pinplate": Kind(module="pinplate", planes=("XY",), contacts=("auto",), has_walls=False),
    "stack": Kind(module="stack", planes=("XY",), contacts=("float", "auto")),
    "standing": Kind(module="standing", planes=("XZ", "YZ"), contacts=("auto",)),
    "template": Kind(module="template", planes=("XY",), contacts=("none",), sets_zero=False),
}
