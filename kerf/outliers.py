"""Readings that stand out from the rest, named and never dropped.

Two questions, each with Student's test and Bonferroni's correction so that a clean form of
any length raises a false alarm in 5 % of cases at most:

* does a size stand off the fitted model? (externally studentised residual, which leaves the
  size itself out of the estimate of scatter; Cook & Weisberg 1982, ch. 2)
* does one repeat stand off the other repeats of its size? (against the repeats of all other
  sizes pooled)
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from kerf.readings import Reading
from kerf.tolerance import SIGNIFICANCE


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlier:
    """A reading that stands out.

    Args:
        reading: the size it belongs to.
        value_mm: what was read: one repeat, or the mean of the size.
        expected_mm: what the others say it should be, mm.
        chance: probability that a clean form holds one as far off.
        repeat: number of the repeat, from 1; None when the whole size stands off.
    """

    reading: Reading
    value_mm: float
    expected_mm: float
    chance: float
    repeat: int | None = None

    def describe(self) -> str:
        """Return one sentence that names it, with the line of the form."""
        which = self.reading.label
        if self.repeat is not None:
            which = f"{which}, reading {self.repeat}"
        line = f" (line {self.reading.line})" if self.reading.line else ""
        return (
            f"{which}{line}: {self.value_mm:.3f} mm where the others make one expect "
            f"{self.expected_mm:.3f} mm; off by {self.value_mm - self.expected_mm:+.3f} mm, "
            f"chance {self.chance:.1g}"
        )


def repeat_scatter_mm(rows: tuple[Reading, ...]) -> tuple[float, int] | None:
    """Return the pooled standard deviation of one reading, mm, and its degrees of freedom.

    None when no size was read twice.
    """
    dof = sum(len(r.values_mm) - 1 for r in rows)
    if dof == 0:
        return None
    return math.sqrt(math.fsum(_squares(r) for r in rows) / dof), dof


def outliers(
    rows: tuple[Reading, ...],
    *,
    residuals_mm: tuple[float, ...],
    leverages: tuple[float, ...],
    resolution_mm: float,
) -> tuple[Outlier, ...]:
    """Return what stands out, in the order of the form, each size at most once.

    Args:
        rows: the sizes.
        residuals_mm: mean read − model for each, mm.
        leverages: diagonal of the hat matrix for each.
        resolution_mm: smallest step of the instrument, mm: its rounding is never an outlier.
    """
    found = []
    for i in range(len(rows)):
        odd = _odd_repeat(rows, i, resolution_mm) or _odd_size(
            rows, i, residuals_mm, leverages, resolution_mm
        )
        if odd is not None:
            found.append(odd)
    return tuple(found)


def _odd_size(
    rows: tuple[Reading, ...],
    i: int,
    residuals_mm: tuple[float, ...],
    leverages: tuple[float, ...],
    resolution_mm: float,
) -> Outlier | None:
    n = len(rows)
    # Leverages sum to the number of terms.
    dof = n - round(math.fsum(leverages)) - 1
    free = 1 - leverages[i]
    if dof < 1 or free < 1e-9:
        return None
    own = residuals_mm[i] ** 2 / free
    rest = max((math.fsum(r * r for r in residuals_mm) - own) / dof, resolution_mm**2 / 12)
    chance = _chance(math.sqrt(own / rest), dof, n)
    if chance > SIGNIFICANCE:
        return None
    mean = rows[i].mean_mm
    return Outlier(
        reading=rows[i],
        value_mm=mean,
        expected_mm=mean - residuals_mm[i] / free,
        chance=chance,
    )


def _odd_repeat(rows: tuple[Reading, ...], i: int, resolution_mm: float) -> Outlier | None:
    values = rows[i].values_mm
    n = len(values)
    if n < 3:
        return None
    pooled = repeat_scatter_mm(tuple(r for j, r in enumerate(rows) if j != i))
    if pooled is None:
        return None
    scatter = max(pooled[0], resolution_mm / math.sqrt(12))
    total = sum(len(r.values_mm) for r in rows if len(r.values_mm) >= 3)
    # The repeat furthest from the middle one: the middle holds against one bad reading.
    middle = sorted(values)[n // 2]
    k = max(range(n), key=lambda j: abs(values[j] - middle))
    others = (math.fsum(values) - values[k]) / (n - 1)
    off = abs(values[k] - others)
    chance = _chance(off / (scatter * math.sqrt(1 + 1 / (n - 1))), pooled[1], total)
    if chance > SIGNIFICANCE:
        return None
    return Outlier(
        reading=rows[i], value_mm=values[k], expected_mm=others, chance=chance, repeat=k + 1
    )


def _squares(row: Reading) -> float:
    mean = row.mean_mm
    return math.fsum((v - mean) ** 2 for v in row.values_mm)


def _chance(t: float, dof: int, tests: int) -> float:
    """Return the chance of a value as far out among so many tests (Bonferroni)."""
    from scipy.special import stdtr

    return min(1.0, 2.0 * float(stdtr(dof, -t)) * tests)
