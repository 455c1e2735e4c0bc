"""How far the moving jaw of a vise tilts back under its own clamping, and lifts the part.

The screw pulls the moving jaw from below, the part pushes it back further up: the two forces
make a couple, and the jaw rocks on its slideway. It turns about its heel, the rear end of the
slide, until the keeper under its front end stops it: first through the play there, then by
what jaw and keeper give under the keeper's pull. The face stands at the front end, so it rises
by both together. A jaw whose wedge presses it down while it closes rocks only by what its
wedge leaves of the couple.

    keeper's pull       R = (F · arm − F · tan(wedge) · length / 2) / length, when above 0
    rise of the face    e = play + R / stiffness
    tilt                e / length

The part goes along by friction on the moving face and turns about the fixed one. What can keep
it down is the pressure on the faces, which can shift from edge to edge of the gripped height:
a couple of F · grip against the friction's μ · F · across. A part that is narrow for its grip
(grip ≥ μ · across) stays, and the jaw slides up along it; a thin, wide part follows. Friction
lifts here, so the highest handbook value is taken, not the low one that holding is judged with.

A rise that the shop measured with an indicator counts before all of this.

Source: statics of a rigid slide with one keeper, derived above and checked against a jaw on
springs; friction of dry aluminium on steel 0.61, any handbook. What a shop does not say of its
jaw is assumed, by common practice, and named as such.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Final

from jigs.table import Table
from kerf.errors import GeometryError

#: Highest friction that may carry a part up: dry aluminium on steel. Source: handbooks.
LIFTING_FRICTION: Final = 0.61
#: What is assumed of a jaw that the shop does not describe. Source: common practice.
LENGTH_OF_WIDTH: Final = 2 / 3
SCREW_OF_WIDTH: Final = 1 / 8
USUAL_WIDTH_MM: Final = 150.0
USUAL_PLAY_MM: Final = 0.02
USUAL_STIFFNESS_N_MM: Final = 200_000.0

STIFFNESS_UNITS: Final = {"N/mm": 1.0, "kN/mm": 1000.0, "N/um": 1000.0, "lbf/in": 0.1751268}


@dataclass(frozen=True, slots=True, kw_only=True)
class MovingJaw:
    """The moving jaw of a vise on its slideway.

    Args:
        length_mm: of its slide, from heel to face, mm, > 0.
        play_mm: how far its front can be lifted by hand, mm, >= 0.
        screw_mm: height of the screw's line over the floor between the jaws, mm; negative below.
        stiffness_n_mm: force at the keeper per rise of the face, N/mm, > 0.
        pull_down_rad: slope of the wedge that presses it down as it closes, rad; 0 for none.
        assumed: which of these nobody gave, in words.
    """

    length_mm: float
    play_mm: float
    screw_mm: float
    stiffness_n_mm: float
    pull_down_rad: float = 0.0
    assumed: tuple[str, ...] = field(default=())

    def __post_init__(self) -> None:
        if not (
            0 < self.length_mm < math.inf
            and 0 <= self.play_mm < math.inf
            and 0 < self.stiffness_n_mm < math.inf
            and 0 <= self.pull_down_rad < math.pi / 2
        ):
            raise GeometryError(
                "a moving jaw needs a length and a stiffness above 0, play of 0 or more and a "
                "wedge below 90°"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class JawLift:
    """What the moving jaw does to the part.

    Args:
        rises_mm: how far its face rises, mm.
        tilt_rad: how far it leans back, rad.
        lifts_mm: how far it lifts its side of the part, mm; the middle rises by half of that.
        uplift_n: force with which it lifts, N; 0 where the part stays down.
        keeper_n: pull on the keeper, N.
    """

    rises_mm: float
    tilt_rad: float
    lifts_mm: float
    uplift_n: float
    keeper_n: float


def jaw_lift(
    jaw: MovingJaw,
    *,
    force_n: float,
    at_mm: float,
    across_mm: float,
    grip_mm: float,
    friction: float = LIFTING_FRICTION,
) -> JawLift:
    """Return how far a moving jaw tilts and lifts the part.

    Args:
        jaw: the moving jaw.
        force_n: clamping force on the part, N, > 0.
        at_mm: height of that force over the floor between the jaws, mm.
        across_mm: of the part, from jaw to jaw, mm, > 0.
        grip_mm: gripped height, mm, > 0.
        friction: the highest that the part may have on the jaws.
    Raises:
        GeometryError: a size, force or friction that is not above 0.
    """
    if not all(0 < v < math.inf for v in (force_n, across_mm, grip_mm, friction)):
        raise GeometryError("a lift by the jaw needs force, sizes and friction above 0")
    couple = force_n * (at_mm - jaw.screw_mm)
    couple -= force_n * math.tan(jaw.pull_down_rad) * jaw.length_mm / 2
    pull = max(couple, 0.0) / jaw.length_mm
    rises = jaw.play_mm + pull / jaw.stiffness_n_mm if couple > 0 else 0.0
    follows = friction * across_mm > grip_mm
    return JawLift(
        rises_mm=rises,
        tilt_rad=rises / jaw.length_mm,
        lifts_mm=rises if follows else 0.0,
        uplift_n=force_n * grip_mm / across_mm if follows and rises > 0 else 0.0,
        keeper_n=pull,
    )


def usual_jaw(width_mm: float) -> MovingJaw:
    """Return the jaw that is assumed where the shop says nothing of it.

    Args:
        width_mm: of the jaws, mm; 0 where that is not known either.
    """
    return _jaw(width_mm, None, None, None, None, 0.0)


def read_moving_jaw(row: Table, *, width_mm: float) -> MovingJaw:
    """Read [mill.moving_jaw] of the shop file; what it leaves out is assumed and named.

    Args:
        row: of the mill.
        width_mm: of its jaws, mm; 0 when not given.
    """
    table = row.table("moving_jaw")
    if table is None:
        return usual_jaw(width_mm)
    jaw = _jaw(
        width_mm,
        table.length_mm("length", above=0.0) if table.has("length") else None,
        table.length_mm("play", least=0.0) if table.has("play") else None,
        table.length_mm("screw") if table.has("screw") else None,
        table.amount("stiffness", STIFFNESS_UNITS, above=0.0) if table.has("stiffness") else None,
        math.radians(table.number("pull_down", 0.0, least=0.0, most=80.0)),
    )
    table.finish()
    return jaw


def _jaw(
    width_mm: float,
    length_mm: float | None,
    play_mm: float | None,
    screw_mm: float | None,
    stiffness_n_mm: float | None,
    pull_down_rad: float,
) -> MovingJaw:
    """Return a jaw, with what is not given assumed and named."""
    width = width_mm or USUAL_WIDTH_MM
    given = (length_mm, play_mm, screw_mm, stiffness_n_mm)
    usual = (
        width * LENGTH_OF_WIDTH,
        USUAL_PLAY_MM,
        -width * SCREW_OF_WIDTH,
        USUAL_STIFFNESS_N_MM,
    )
    length, play, screw, stiffness = (
        u if g is None else g for g, u in zip(given, usual, strict=True)
    )
    words = (
        f"slide {length:.0f} mm long",
        f"play {play:.3f} mm",
        f"screw {-screw:.0f} mm below the floor" if screw <= 0 else f"screw {screw:.0f} mm over it",
        f"{stiffness / 1000:.0f} kN/mm stiff",
    )
    return MovingJaw(
        length_mm=length,
        play_mm=play,
        screw_mm=screw,
        stiffness_n_mm=stiffness,
        pull_down_rad=pull_down_rad,
        assumed=tuple(w for w, g in zip(words, given, strict=True) if g is None),
    )
