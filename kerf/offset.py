"""Offset of a region by ±d with arcs kept as arcs."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from kerf.contour import Region


class OffsetOutcome(StrEnum):
    """What became of the region."""

    WHOLE = "whole"  #: one region, with as many holes as before
    HOLES_CHANGED = "holes changed"  #: one region; holes closed, merged, opened or split
    SPLIT = "split"  #: several regions
    VANISHED = "vanished"  #: nothing is left


@dataclass(frozen=True, slots=True, kw_only=True)
class Offset:
    """Result of an offset: the regions left, largest first, and what happened."""

    regions: tuple[Region, ...]
    outcome: OffsetOutcome


def offset(region: Region, distance_mm: float) -> Offset:
    """Return the region grown (distance > 0) or shrunk (distance < 0), mm."""
    raise NotImplementedError
