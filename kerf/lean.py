"""How far a laser wall is out of square, which edge of it the part touches, which face is up.

The beam takes more at one face than at the other, so each wall leans by half the difference.
A part, a finder's tip and a calliper's jaw all meet the edge that stands proud: the one at the
face where less was taken and more material is left. Kerf is compensated there, so the proud
edge is at finished size and the other stands off from it.

A guide may allow the lean: it lies as it lay in the laser, entry face up. Or it may oppose it:
the drawing is cut mirrored and the plate turned over, so that the proud edge comes to the
other end of the wall; for two walls that must lean against each other, or a proud edge that a
pick-up must reach from above.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from kerf.beam import KerfCard
from kerf.contour import Transform
from kerf.errors import GeometryError
from kerf.readings import Side


class LeanUse(StrEnum):
    """What a guide does about the lean."""

    ALLOWED = "allowed"  #: entry face up, cut as drawn
    OPPOSED = "opposed"  #: exit face up, cut mirrored and turned over

    @property
    def up(self) -> Side:
        """Which face of the sheet goes up, or towards the eye when the plate stands."""
        return Side.ENTRY if self is LeanUse.ALLOWED else Side.EXIT


@dataclass(frozen=True, slots=True, kw_only=True)
class Lean:
    """The lean of a plate's walls, and how the plate is to lie.

    Args:
        standoff_mm: how far the edge that does not touch stands back, per side, mm, >= 0.
        angle_rad: turn of the wall out of square, rad, >= 0.
        proud: face of the sheet where more material is left.
        up: face of the sheet that goes up in use, or towards the eye when it stands.
    """

    standoff_mm: float
    angle_rad: float
    proud: Side
    up: Side

    @property
    def touches_low(self) -> bool:
        """Whether the part touches at the lower edge of the wall, as the plate lies in use."""
        return self.proud is not self.up

    def describe(self, standoff: str = "") -> str:
        """Return what the sheet says, in one or two sentences.

        Args:
            standoff: how far the other edge stands back, in the reader's unit; mm when empty.
        """
        up = lies_up(self.up)
        if self.standoff_mm == 0.0:
            return f"Lay the plate {up}. Its walls are square as far as was measured."
        edge, other = ("lower", "upper") if self.touches_low else ("upper", "lower")
        return (
            f"Lay the plate {up}. Walls touch at their {edge} edge, which is at finished size; "
            f"the {other} edge stands {standoff or f'{self.standoff_mm:.3f} mm'} back, per side "
            f"({math.degrees(self.angle_rad):.2f}°)."
        )


def lies_up(up: Side) -> str:
    """Return in words which face goes up."""
    if up is Side.ENTRY:
        return "entry face (the beam's side) up"
    return "exit face up, turned over from how it lay in the laser"


def wall_lean(
    card: KerfCard, *, thickness_mm: float, use: LeanUse = LeanUse.ALLOWED
) -> Lean | None:
    """Return the lean of the walls that a card cuts; None when the card does not tell.

    Args:
        card: the kerf; entry and exit face tell the lean.
        thickness_mm: of the sheet, mm, > 0.
        use: whether the guide allows or opposes it.
    Source: half of entry − exit on each side, derived from the width of one cut.

    >>> card = KerfCard(name="a", kerf_mm=0.2, u_mm=0.0, entry_mm=0.38, exit_mm=0.2)
    >>> round(wall_lean(card, thickness_mm=6.4).standoff_mm, 3)
    0.09
    """
    if not thickness_mm > 0.0:
        raise GeometryError(f"sheet thickness must be above 0 mm, not {thickness_mm:.4g} mm")
    if card.entry_mm is None or card.exit_mm is None:
        return None
    standoff = abs(card.entry_mm - card.exit_mm) / 2
    return Lean(
        standoff_mm=standoff,
        angle_rad=math.atan2(standoff, thickness_mm),
        proud=Side.EXIT if card.exit_mm <= card.entry_mm else Side.ENTRY,
        up=use.up,
    )


def cut_transform(use: LeanUse, *, width_mm: float) -> Transform:
    """Return the map from a plate as it lies in use to the plate as it lies in the laser.

    Args:
        use: allowed leaves it as it is; opposed mirrors it within its width.
        width_mm: of the frame the plate lies in, mm.

    Being its own inverse, the map also leads back.
    """
    if use is LeanUse.ALLOWED:
        return Transform()
    return Transform.mirror_y().then(Transform.translation(width_mm, 0.0))
