"""A value, its standard uncertainty and its degrees of freedom, kept together.

Coverage and effective degrees of freedom follow the GUM (JCGM 100:2008, annex G).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

#: Share of cases in which a quoted interval covers the true value.
COVERAGE: Final = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A value with its standard uncertainty and degrees of freedom, which travel together.

    Args:
        name: in words.
        value: in ``unit``.
        u: standard uncertainty, same unit.
        dof: effective degrees of freedom; infinite when type B governs.
        unit: "mm", "mm²" or "" for a ratio.
    """

    name: str
    value: float
    u: float
    dof: float
    unit: str

    @property
    def expanded(self) -> float:
        """Half-width of the interval that covers the true value in 95 of 100 cases."""
        return coverage_factor(self.dof) * self.u


def coverage_factor(dof: float) -> float:
    """Return Student's factor for 95 % coverage, two-sided (GUM G.3.3)."""
    from scipy.special import stdtrit

    # stdtrit is not defined at infinity; the normal quantile is its limit.
    return float(stdtrit(min(dof, 1e9), (1 + COVERAGE) / 2))


def effective_dof(parts: tuple[tuple[float, float], ...]) -> float:
    """Return the degrees of freedom of a sum of independent parts.

    Args:
        parts: (standard uncertainty, degrees of freedom) of each part.
    Source: Welch–Satterthwaite formula, JCGM 100:2008, equation G.2b.
    """
    total = math.fsum(u * u for u, _ in parts)
    spread = math.fsum(u**4 / dof for u, dof in parts)
    return math.inf if spread == 0.0 else total * total / spread
