"""Readings that no laser could have made: the mistakes people make with a form, by name.

Before anything is fitted these are looked for: another unit in some rows, the drawn size and
a repeat exchanged, an outside size that grew, a slot that shrank, a size that belongs to
another row. A reading that is merely odd is not refused here; the fit names it as an outlier.
"""

from __future__ import annotations

from kerf.errors import ReadingError
from kerf.readings import FEELS, INCH_MM, Reading, Readings
from kerf.tolerance import GREATEST_KERF_MM, GREATEST_SCALE_ERROR, UNIT_MISTAKE_SHARE


def check_readings(readings: Readings) -> None:
    """Refuse readings that no laser could have made of the drawn sizes.

    Raises:
        ReadingError: mixed units, exchanged columns, an outside size that grew, a slot that
            shrank, a size beyond what kerf and scale can explain; every row is named.
    """
    _check_units(readings.rows)
    _check_columns(readings)
    wrong = [r for r in readings.rows if _contradicts(r, readings.resolution_mm)]
    if wrong:
        sensed = [r for r in readings.rows if FEELS[r.kind][0]]
        if len(readings.rows) > 1 and len(wrong) >= 0.75 * len(sensed):
            raise ReadingError(
                f"{len(wrong)} of {len(sensed)} sizes changed the wrong way: outside sizes read "
                "larger than drawn or slots smaller",
                where=_lines(wrong),
                hint='the columns "drawn" and "reading" look exchanged, or the coupon was cut '
                "with kerf compensation switched on at the laser",
            )
        first = wrong[0]
        larger = FEELS[first.kind][0] < 0
        raise ReadingError(
            "; ".join(
                f"{r.label} ({r.kind.value}) reads {r.mean_mm:.3f} mm, "
                f"{'larger' if FEELS[r.kind][0] < 0 else 'smaller'} than the "
                f"{r.drawn_mm:.3f} mm drawn"
                for r in wrong
            )
            + (
                ": a cut can only make an outside size smaller"
                if larger
                else ": a cut can only make a slot larger"
            ),
            where=_lines(wrong),
            hint="measure it again; if it stands, the axis is longer than it says by more than "
            "the kerf: set the laser's own scale first",
        )
    far_off = [r for r in readings.rows if abs(r.mean_mm - r.drawn_mm) > _reach_mm(r.drawn_mm)]
    if far_off:
        r = far_off[0]
        raise ReadingError(
            f"{r.label} reads {r.mean_mm:.3f} mm where {r.drawn_mm:.3f} mm was drawn: no kerf up "
            f"to {GREATEST_KERF_MM:g} mm explains that",
            where=_lines(far_off),
            hint="a digit may be wrong, or the reading belongs to another row",
        )


def _check_units(rows: tuple[Reading, ...]) -> None:
    """Refuse rows whose readings stand a factor 25.4 from the drawn size."""
    inches = [(r, v) for r in rows for v in r.values_mm if _is_off_by(v, r.drawn_mm / INCH_MM)]
    metric = [(r, v) for r in rows for v in r.values_mm if _is_off_by(v, r.drawn_mm * INCH_MM)]
    for found, is_, other in ((inches, "inch", INCH_MM), (metric, "mm", 1 / INCH_MM)):
        if not found:
            continue
        row, value = found[0]
        whole = len(found) == sum(len(r.values_mm) for r in rows)
        raise ReadingError(
            f"{row.label} reads {value:.4g} where {row.drawn_mm:.4g} was drawn: a factor of 25.4, "
            f"so it looks like {is_} (it would then be {value * other:.3f})"
            + ("" if whole else f"; {len(found)} readings of the file are like that, others not"),
            where=_lines([r for r, _ in found]),
            hint=f'write "# unit: {is_}" at the top if all readings are in {is_}; '
            "otherwise bring them to one unit",
        )


def _check_columns(readings: Readings) -> None:
    """Refuse a file in which the drawn size and one repeat have changed places.

    Repeats of one size agree with each other; the drawn size differs from them by a kerf.
    If putting the drawn size among the repeats, and one repeat in its place, makes the
    repeats agree far better, the columns are exchanged.
    """
    rows = [r for r in readings.rows if len(r.values_mm) >= 2]
    if len(rows) < 2:
        return
    as_given = sum(_spread(r.values_mm) for r in rows)
    for j in range(min(len(r.values_mm) for r in rows)):
        swapped = sum(_spread((*r.values_mm[:j], r.drawn_mm, *r.values_mm[j + 1 :])) for r in rows)
        if as_given > 2 * len(rows) * readings.resolution_mm and swapped < as_given / 3:
            raise ReadingError(
                f'"drawn" and "reading {j + 1}" look exchanged: the drawn sizes agree with the '
                f"other repeats, reading {j + 1} does not",
                where=_lines(rows),
                hint="put the sizes as drawn back into the column named so",
            )


def _spread(values: tuple[float, ...]) -> float:
    return max(values) - min(values)


def _contradicts(row: Reading, resolution_mm: float) -> bool:
    """Return whether the size changed against what any kerf does to its kind."""
    return FEELS[row.kind][0] * (row.mean_mm - row.drawn_mm) < -resolution_mm


def _reach_mm(drawn_mm: float) -> float:
    """Return the greatest change kerf and scale can make to a size, mm."""
    return GREATEST_KERF_MM + GREATEST_SCALE_ERROR * drawn_mm


def _is_off_by(value: float, expected: float) -> bool:
    return abs(value - expected) <= UNIT_MISTAKE_SHARE * expected


def _lines(rows: list[Reading]) -> str:
    """Return the lines of the rows for a message."""
    numbers = sorted({r.line for r in rows if r.line})
    if not numbers:
        return ""
    shown = ", ".join(map(str, numbers[:8])) + (" …" if len(numbers) > 8 else "")
    return f"line{'s' if len(numbers) > 1 else ''} {shown}"
