"""From loose strands to closed loops, and from loops to regions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from kerf.contour import Contour
from kerf.reading.drawing import Fault, Healed, Origin, Strand


@dataclass(frozen=True, slots=True, kw_only=True)
class Loop:
    """A closed loop and the entity its first edge came from."""

    contour: Contour
    origin: Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class Chained:
    """Loops found among strands, what was mended, and what could not be."""

    loops: tuple[Loop, ...]
    healed: tuple[Healed, ...]
    faults: tuple[Fault, ...]


def chain(strands: Sequence[Strand]) -> Chained:
    """Return the closed loops of strands (mm), with what was mended and what is wrong."""
    raise NotImplementedError
