"""What a cut does to a part in the vise beyond holding: it springs away above, and meets below.

What stands out of the jaws bends away from a side force; what is cut right through is cut where
the parallels stand, and nobody says where that is.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from jigs.finding import Finding, Severity
from jigs.holding.clamp import ViseGrip
from jigs.holding.hold import Hold
from jigs.holding.holding import force_text
from jigs.holding.materials import WorkMaterial
from jigs.holding.overhang import STIFF_MM
from jigs.holding.toolpath import ToolPath


def check_springs(
    cut: str,
    rows: NDArray[np.float64],
    grip: ViseGrip,
    material: WorkMaterial,
    *,
    long_mm: float,
    subject: str,
) -> list[Finding]:
    """Return a warning when a cut bends what stands out of the jaws away from it.

    A cantilever from the top of the grip to the cut, as thick as the part is across the jaws:
    F a³ / (3 E I). It is taken as wide as it is high to either side of the cut, at most all of
    the part. Source: *Roark's Formulas for Stress and Strain*, table 8.1; spread of 45°, common
    practice.

    Args:
        cut: its name.
        rows: its loads, shape (n, 7), y across the jaws, z from the part's lower face.
        grip: the vise on the part.
        material: of the part.
        long_mm: of the part along the jaws, mm.
        subject: for messages.
    """
    out = np.maximum(rows[:, 2] - grip.grip_mm, 0.0)
    thick = abs(grip.fixed_mm - grip.moving_mm)
    wide = np.minimum(np.maximum(2 * out, 1e-9), long_mm)
    stiff = 3 * material.modulus_mpa * wide * thick**3 / 12
    bends = np.abs(rows[:, 4]) * out**3 / stiff
    worst = int(bends.argmax())
    if bends[worst] <= STIFF_MM:
        return []
    return [
        Finding(
            code="part-springs",
            severity=Severity.WARN,
            subject=f'{subject}: cut "{cut}"',
            message=(
                f"the part stands {out[worst]:.1f} mm out of the jaws at the cut and is "
                f"{thick:.1f} mm thick across them: {force_text(abs(float(rows[worst, 4])))} bends "
                f"it away by {bends[worst]:.3f} mm, worked out for a plain block; "
                f"{STIFF_MM:.2f} mm is stiff"
            ),
            measured=float(bends[worst]),
            limit=STIFF_MM,
            unit="mm",
            hint="grip higher, take a lighter last pass, or let the force run along the jaws",
        )
    ]


def check_parallels(paths: Sequence[ToolPath], hold: Hold, subject: str) -> list[Finding]:
    """Return a note for each cut that goes through a part on parallels: nobody says where they are.

    Args:
        paths: cuts of a part that lies flat in the vise.
        hold: what the job says of it.
        subject: for messages.
    """
    if hold.step_mm > 0.0:
        return []  # it stands on the jaws' own ledges, which are looked at
    return [
        Finding(
            code="parallels-below",
            severity=Severity.NOTE,
            subject=f'{subject}: cut "{path.cut.name}"',
            message=f"it goes {-path.low_mm:.2f} mm below the part, where the parallels stand"
            if path.low_mm < 0.0
            else "it goes right through the part, to the parallels below",
            measured=path.low_mm,
            limit=0.0,
            unit="mm",
            hint="set the parallels clear of it, and check with the spindle still",
        )
        for path in paths
        if path.low_mm <= 0.0
    ]
