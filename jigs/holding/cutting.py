"""Cutting forces on the part: milling round the engagement, fly cutters, drills.

A tooth at angle θ from the direction of feed cuts a chip h = f_z sin κ cos θ thick and
a_p / sin κ wide; its tangential force is b h kc(h) (Kienzle). On the *part* it pushes the way
the tooth travels, outward from the tool, and along the spindle: a helix of the spindle's own
hand lifts, the other hand presses down, a leading edge (κ < 90°) presses down. A fluted tool
is summed over slices along its edge, each lagging by the helix. The spindle turns clockwise
seen from above, as a right-hand cutter must.

Peak and mean are over the engagement of one tooth pitch; holding is judged with every phase
of the turn, since the worst direction need not be the greatest force.

Sources: Kienzle's equation and the power of a milling cut as in any text on machining (e.g.
Altintas, *Manufacturing Automation*); axial share of a helix F_t tan β, its bound without
friction; radial share, common practice (0.3 to 0.6 of the tangential force, the upper end
taken); drill thrust and torque of a two-lipped drill, and the handbook's own formulas,
*Machinery's Handbook*, "Estimating Thrust, Torque and Horsepower for Twist Drills".
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from jigs.holding.materials import HOLDING_SCATTER, WorkMaterial
from kerf.errors import GeometryError

Floats = NDArray[np.float64]

#: Radial (normal) force per tangential force. Source: common practice.
RADIAL_SHARE: Final = 0.6
#: Efficiency of a spindle drive when the shop gives none. Source: common practice.
EFFICIENCY: Final = 0.8
#: Point angle of a drill, rad: 118°.
POINT_RAD: Final = math.radians(118.0)
#: Helix of a drill's flutes, rad: 30°. Source: common practice.
DRILL_HELIX_RAD: Final = math.radians(30.0)
#: Wear factor of the handbook's drill formulas for drills that are not freshly ground.
DRILL_WEAR: Final = 1.3

_PHASES: Final = 72  #: phases of one tooth pitch
_SLICES: Final = 24  #: slices along a helical edge
_THIN_MM: Final = 1e-6  #: a chip below this cuts nothing

N_PER_LBF: Final = 4.4482216152605
_NM_PER_INLB: Final = 0.1129848290276167


@dataclass(frozen=True, slots=True, kw_only=True)
class Engagement:
    """A milling cutter at work.

    Args:
        diameter_mm: of the tool, mm, > 0.
        teeth: that cut, >= 1; 1 for a fly cutter.
        feed_mm: per tooth, mm, > 0.
        depth_mm: along the spindle, mm, > 0.
        width_mm: across the feed, mm, > 0; no more than the diameter.
        climb: whether the teeth leave the cut thin (down milling).
        helix_rad: signed: positive lifts the part, negative presses it down.
        lead_rad: angle of the edge from the plane of the part, κ: π/2 for an end mill.
    """

    diameter_mm: float
    teeth: int
    feed_mm: float
    depth_mm: float
    width_mm: float
    climb: bool = True
    helix_rad: float = 0.0
    lead_rad: float = math.pi / 2

    def __post_init__(self) -> None:
        sizes = (self.diameter_mm, self.feed_mm, self.depth_mm, self.width_mm)
        if not all(0 < s < math.inf for s in sizes) or self.teeth < 1:
            raise GeometryError(
                "a cut needs a diameter, feed per tooth, depth and width above 0 and a tooth"
            )
        if self.width_mm > self.diameter_mm * (1 + 1e-9):
            raise GeometryError(
                f"a cut {self.width_mm:.4g} mm wide is wider than its tool, "
                f"{self.diameter_mm:.4g} mm",
                hint="take a narrower width, or a larger tool",
            )
        if not (abs(self.helix_rad) < math.radians(75) and 0 < self.lead_rad <= math.pi / 2):
            raise GeometryError("a helix is below 75°, and a lead angle above 0° up to 90°")

    @property
    def arc_rad(self) -> float:
        """Angle through which a tooth cuts, rad: cos = 1 − 2 a_e / D."""
        return math.acos(max(-1.0, 1 - 2 * self.width_mm / self.diameter_mm))

    @property
    def angles_rad(self) -> tuple[float, float]:
        """Where a tooth enters and leaves, rad from the feed, counter-clockwise from above."""
        leave = self.arc_rad - math.pi / 2
        return (leave, -math.pi / 2) if self.climb else (math.pi / 2, -leave)

    @property
    def mean_chip_mm(self) -> float:
        """Mean chip thickness over the arc, mm."""
        share = 2 * self.width_mm / self.diameter_mm / self.arc_rad
        return self.feed_mm * math.sin(self.lead_rad) * share


@dataclass(frozen=True, slots=True, kw_only=True)
class CutForces:
    """Forces of one cut on the part.

    Args:
        peak_n: greatest tangential force of all teeth at one moment, N.
        mean_n: mean tangential force over a turn, N.
        lift_n: greatest force away from the bed, N, >= 0.
        press_n: greatest force toward the bed, N, >= 0.
        side_n: greatest resultant force in the plane of the part, N.
        torque_nm: mean torque at the spindle, N·m.
        phases: shape (phases, 4): force along the feed, to its left and away from the bed, N,
            and the turning moment about the spindle, N·mm, counter-clockwise from above.
    """

    peak_n: float
    mean_n: float
    lift_n: float
    press_n: float
    side_n: float
    torque_nm: float
    phases: tuple[tuple[float, float, float, float], ...]


def milling_forces(
    cut: Engagement, material: WorkMaterial, *, for_holding: bool = True
) -> CutForces:
    """Return the forces of a milling cut on the part, over one tooth pitch.

    Args:
        cut: the engagement.
        material: what is cut.
        for_holding: whether the highest published figure times ``HOLDING_SCATTER`` is taken
            instead of the first published one.
    """
    enter, leave = cut.angles_rad
    pitch = 2 * math.pi / cut.teeth
    lag = 2 * cut.depth_mm * math.tan(abs(cut.helix_rad)) / cut.diameter_mm
    # Slices even out the edge of a straight flute too, at one slice.
    slices = 1 if lag == 0.0 else _SLICES
    heights = (np.arange(slices) + 0.5) / slices
    phase = pitch * (np.arange(_PHASES) + 0.5) / _PHASES
    tooth = pitch * np.arange(cut.teeth)
    theta = phase[:, None, None] + tooth[:, None] + lag * heights
    theta = (theta - leave) % math.tau + leave  # counted up from where a tooth leaves
    inside = theta <= enter
    chip = cut.feed_mm * math.sin(cut.lead_rad) * np.cos(theta)
    cutting = inside & (chip > _THIN_MM)
    chip = np.where(cutting, chip, 1.0)
    edge_mm = cut.depth_mm / math.sin(cut.lead_rad) / slices
    tables = material.kienzle if for_holding else material.kienzle[:1]
    specific = np.max([kc1 * chip**-m for kc1, m in tables], axis=0)
    scatter = HOLDING_SCATTER if for_holding else 1.0
    tangential = np.where(cutting, scatter * edge_mm * chip * specific, 0.0)

    normal = RADIAL_SHARE * tangential
    radial = normal * math.sin(cut.lead_rad)
    axial = tangential * math.tan(cut.helix_rad) - normal * math.cos(cut.lead_rad)
    along = tangential * np.sin(theta) + radial * np.cos(theta)
    left = -tangential * np.cos(theta) + radial * np.sin(theta)
    turn = -tangential * cut.diameter_mm / 2
    rows = np.stack((along, left, axial, turn), axis=-1).sum(axis=(1, 2))
    total = tangential.sum(axis=(1, 2))
    return CutForces(
        peak_n=float(total.max()),
        mean_n=float(total.mean()),
        lift_n=max(0.0, float(rows[:, 2].max())),
        press_n=max(0.0, float(-rows[:, 2].min())),
        side_n=float(np.hypot(rows[:, 0], rows[:, 1]).max()),
        torque_nm=float(total.mean()) * cut.diameter_mm / 2000,
        phases=tuple((float(a), float(b), float(c), float(d)) for a, b, c, d in rows),
    )


def engaged_mm(*, width_mm: float, tool_mm: float, bore_mm: float) -> float:
    """Return how wide a straight cut would engage as much of the tool as this one in a bore, mm.

    A wall that curves round the tool lies against more of it: w (D_b - w) / (D_b - D), at most
    the tool's diameter. Source: two circles, derived; any text on circular milling.

    >>> engaged_mm(width_mm=2.0, tool_mm=25.0, bore_mm=30.0)
    11.2
    """
    return min(width_mm * (bore_mm - width_mm) / (bore_mm - tool_mm), tool_mm)


def milling_power_kw(
    *, depth_mm: float, width_mm: float, feed_mm_min: float, kc_mpa: float, efficiency: float = 1.0
) -> float:
    """Return the power of a milling cut at the motor, kW.

    Source: P = a_p a_e v_f kc / (60·10⁶ η), any text on machining.

    >>> round(milling_power_kw(depth_mm=2, width_mm=80, feed_mm_min=280, kc_mpa=1800,
    ...                        efficiency=0.8), 2)
    1.68
    """
    return depth_mm * width_mm * feed_mm_min * kc_mpa / (60e6 * efficiency)


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillForces:
    """Forces of a drill.

    Args:
        thrust_n: toward the bed, N.
        torque_nm: about the drill, N·m.
        lift_n: away from the bed when the point breaks through and the flutes screw in, N.
    """

    thrust_n: float
    torque_nm: float
    lift_n: float


def drill_forces(
    *,
    diameter_mm: float,
    feed_mm_rev: float,
    material: WorkMaterial,
    for_holding: bool = True,
    helix_rad: float = DRILL_HELIX_RAD,
) -> DrillForces:
    """Return thrust and torque of a two-lipped drill in solid material.

    Thrust 0.7 (D/2) f kc, torque D² kc f / 8000, kc at the chip f/2 · sin(point/2). For holding
    the handbook's formulas with a worn drill stand beside them where they are kept, and the
    higher counts. At breakthrough the thrust is gone and the torque remains: the force at the
    lips climbs the flutes, F = M / (D/2) · tan(helix), common practice.

    Raises:
        GeometryError: a diameter or feed that is not above 0.
    """
    if not (diameter_mm > 0 and feed_mm_rev > 0):
        raise GeometryError("a drill needs a diameter and a feed per turn above 0 mm")
    chip = feed_mm_rev / 2 * math.sin(POINT_RAD / 2)
    kc = material.highest_kc_mpa(chip) * HOLDING_SCATTER if for_holding else material.kc_mpa(chip)
    thrust = 0.7 * diameter_mm / 2 * feed_mm_rev * kc
    torque = diameter_mm**2 * kc * feed_mm_rev / 8000
    if for_holding and material.handbook_drill is not None:
        lbf, inlb = handbook_drill(
            diameter_in=diameter_mm / 25.4,
            feed_in_rev=feed_mm_rev / 25.4,
            constant=material.handbook_drill,
            wear=DRILL_WEAR,
        )
        thrust, torque = max(thrust, lbf * N_PER_LBF), max(torque, inlb * _NM_PER_INLB)
    lift = torque * 1000 / (diameter_mm / 2) * math.tan(helix_rad)
    return DrillForces(thrust_n=thrust, torque_nm=torque, lift_n=lift)


def handbook_drill(
    *, diameter_in: float, feed_in_rev: float, constant: float, wear: float = 1.0
) -> tuple[float, float]:
    """Return thrust (lbf) and torque (in·lb) of a twist drill with a usual chisel edge.

    Args:
        diameter_in, feed_in_rev: inch.
        constant: of the work material.
        wear: 1 for a sharp drill, 1.3 in ordinary use.
    Source: *Machinery's Handbook*, "Estimating Thrust, Torque and Horsepower for Twist Drills":
    T = 2 K F_f F_T B W + K d² J W, M = K F_f F_M A W, with F_f = f^0.8, F_T = d^0.8,
    F_M = d^1.8 and, for a chisel edge of 0.18 d, A = 1.085, B = 1.355, J = 0.030.
    """
    feed = feed_in_rev**0.8
    thrust = 2 * constant * feed * diameter_in**0.8 * 1.355 + constant * diameter_in**2 * 0.030
    return thrust * wear, constant * feed * diameter_in**1.8 * 1.085 * wear


def surface_speed_m_min(*, diameter_mm: float, speed_rpm: float) -> float:
    """Return the cutting speed of a tool, m/min: π D n / 1000."""
    return math.pi * diameter_mm * speed_rpm / 1000


def spindle_speed_rpm(*, diameter_mm: float, surface_m_min: float) -> float:
    """Return the spindle speed that gives a cutting speed, 1/min.

    >>> round(spindle_speed_rpm(diameter_mm=6.35, surface_m_min=150 * 0.3048))
    2292
    """
    return surface_m_min * 1000 / (math.pi * diameter_mm)
