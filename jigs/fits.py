"""Limits of size and the clearance between a bore and what stands in it.

Limits by ISO 286 are worked out from the standard's two tables (tolerance grade, fundamental
deviation) for the classes a set-up needs; running clearances of ANSI B4.1 are kept as the
clearance itself, which is what a machinist asks of them. Sizes the tables do not cover are
refused, never extrapolated.

Sources: ISO 286-1:2010, tables 1 to 4 (checked against published H7, H6, g6, h6, m6 and f7
limits; other grades from memory); ANSI B4.1, running and sliding fits as tabulated in
*Machinery's Handbook* 31 for 0.24 to 0.40 in, the other rows from memory.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from kerf.errors import GeometryError, InputError

#: Upper end of each range of nominal sizes, mm, inclusive; the first starts above 0.
_TO_MM: Final = (3.0, 6.0, 10.0, 18.0, 30.0, 50.0)
#: Standard tolerance by grade and range, µm.
_GRADES: Final = {
    5: (4, 5, 6, 8, 9, 11),
    6: (6, 8, 9, 11, 13, 16),
    7: (10, 12, 15, 18, 21, 25),
    8: (14, 18, 22, 27, 33, 39),
    9: (25, 30, 36, 43, 52, 62),
}
#: Fundamental deviation of shafts by letter and range, µm: the upper one up to h, the lower of m.
_SHAFTS: Final = {
    "f": (-6, -10, -13, -16, -20, -25),
    "g": (-2, -4, -5, -6, -7, -9),
    "h": (0, 0, 0, 0, 0, 0),
    "m": (2, 4, 6, 7, 8, 9),
}
_CLASS: Final = re.compile(r"([Hfghm])(\d+)")

#: Upper end of each range and ± of sizes nobody toleranced, mm. Source: ISO 2768-1, class m.
_GENERAL: Final = ((6.0, 0.1), (30.0, 0.2), (120.0, 0.3), (400.0, 0.5), (1000.0, 0.8))

#: Upper end of each range of nominal sizes, in, and the clearance of each class, 0.001 in.
_RC_TO_IN: Final = (0.12, 0.24, 0.40, 0.71, 1.19)
#: Largest size with a running fit in the table, mm.
LARGEST_RUNNING_MM: Final = _RC_TO_IN[-1] * 25.4
_RC: Final = {
    "RC2": ((0.1, 0.55), (0.15, 0.65), (0.2, 0.85), (0.25, 0.95), (0.3, 1.2)),
    "RC3": ((0.3, 0.95), (0.4, 1.12), (0.5, 1.5), (0.6, 1.7), (0.8, 2.1)),
    "RC4": ((0.3, 1.3), (0.4, 1.6), (0.5, 2.0), (0.6, 2.3), (0.8, 2.8)),
}
#: Running fits a job may ask for.
RUNNING_FITS: Final = tuple(_RC)


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """The smallest and largest size of a bore or pin.

    Args:
        least_mm, most_mm: diameters, mm, 0 < least <= most.
    """

    least_mm: float
    most_mm: float

    def __post_init__(self) -> None:
        if not 0 < self.least_mm <= self.most_mm:
            raise GeometryError(
                f"limits of size must be above 0 and in order, not {self.least_mm:.4f} and "
                f"{self.most_mm:.4f} mm"
            )

    @classmethod
    def about(cls, size_mm: float, *, lower_mm: float, upper_mm: float) -> Limits:
        """Return the limits of a nominal size with its two deviations, mm."""
        return cls(least_mm=size_mm + lower_mm, most_mm=size_mm + upper_mm)

    @property
    def middle_mm(self) -> float:
        """The middle of the limits, mm."""
        return (self.least_mm + self.most_mm) / 2

    @property
    def plus_minus_mm(self) -> float:
        """Half of the tolerance, mm."""
        return (self.most_mm - self.least_mm) / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Clearance:
    """Diametral clearance of a pin in a bore, mm; negative where the pin is larger.

    Args:
        least_mm: largest pin in the smallest bore.
        most_mm: smallest pin in the largest bore.
    """

    least_mm: float
    most_mm: float


def clearance(bore: Limits, pin: Limits) -> Clearance:
    """Return the diametral clearance of a pin in a bore.

    Source: ISO 286-1:2010, 3.3.1 (clearance of limits).
    """
    return Clearance(
        least_mm=bore.least_mm - pin.most_mm,
        most_mm=bore.most_mm - pin.least_mm,
    )


def iso_limits(tolerance_class: str, size_mm: float) -> Limits:
    """Return the limits of an ISO 286 tolerance class.

    Args:
        tolerance_class: "H6" to "H9" for bores; f, g, h or m with grades 5 to 9 for shafts.
        size_mm: nominal size, mm, above 0 and up to 50.
    Raises:
        InputError: a class or size that is not in the table.

    >>> limits = iso_limits("H7", 6.0)
    >>> round((limits.most_mm - 6.0) * 1000)
    12
    """
    match = _CLASS.fullmatch(tolerance_class)
    grades = ", ".join(map(str, _GRADES))
    if match is None or int(match[2]) not in _GRADES:
        raise InputError(
            f'tolerance class "{tolerance_class}" is not in the table',
            hint=f"H for bores; f, g, h or m for pins; with a grade of {grades}",
        )
    if not 0 < size_mm <= _TO_MM[-1]:
        raise InputError(
            f"{size_mm:.4g} mm is outside the table of limits, which ends at {_TO_MM[-1]:.0f} mm",
            hint="give the limits of the bore as lengths",
        )
    row = next(i for i, to in enumerate(_TO_MM) if size_mm <= to)
    grade = _GRADES[int(match[2])][row]
    if match[1] == "H":
        lower, upper = 0, grade
    elif match[1] == "m":
        lower = _SHAFTS["m"][row]
        upper = lower + grade
    else:
        upper = _SHAFTS[match[1]][row]
        lower = upper - grade
    return Limits.about(size_mm, lower_mm=lower / 1000, upper_mm=upper / 1000)


def general_limits(size_mm: float) -> Limits:
    """Return the limits of a size that nobody toleranced: ISO 2768-1, class m.

    Args:
        size_mm: nominal size, mm, 0.5 to 1000.
    Raises:
        InputError: a size outside the table.
    """
    if not 0.5 <= size_mm <= _GENERAL[-1][0]:
        raise InputError(f"{size_mm:.4g} mm is outside the table of general tolerances")
    limit = next(limit for to, limit in _GENERAL if size_mm <= to)
    return Limits.about(size_mm, lower_mm=-limit, upper_mm=limit)


def running_clearance(fit: str, size_mm: float) -> Clearance:
    """Return the diametral clearance of an ANSI B4.1 running fit, mm.

    Args:
        fit: "RC2", "RC3" or "RC4".
        size_mm: nominal size, mm, above 0 and up to 1.19 in.
    Raises:
        InputError: a fit or size that is not in the table.
    """
    if fit not in _RC:
        raise InputError(f'fit "{fit}" is not in the table', hint=f"there are {', '.join(_RC)}")
    inches = size_mm / 25.4
    if not 0 < inches <= _RC_TO_IN[-1]:
        raise InputError(f"{inches:.4g} in is outside the table of running fits")
    row = next(i for i, to in enumerate(_RC_TO_IN) if inches <= to)
    least, most = _RC[fit][row]
    return Clearance(least_mm=least * 0.0254, most_mm=most * 0.0254)
