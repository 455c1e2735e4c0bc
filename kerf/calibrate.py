"""Kerf, scale and their uncertainties from the readings of a coupon.

Every size is linear in what is sought: cut − drawn = scale error × drawn ± kerf (of its axis,
at its face) ± the extra kerf of cut-outs ± curve widening / radius, with the multiples of
``kerf.readings.FEELS``. An outside edge to the near wall of a slot shrinks by one kerf and to
its far wall not at all; that pair, and sizes of different length, part kerf from scale, the
trap in which parts *and* holes come out undersize.

The means of the repeats are fitted by ordinary least squares, one weight each: place to place
the cut scatters more than the calliper, so that a size repeated oftener does not deserve more
say. Uncertainties follow the GUM (JCGM 100:2008): type A from the residuals of the fit with
its degrees of freedom; type B from the instrument, whose permissible error shifts all outside,
all inside or all depth readings together (rectangular, F.2.3.3) and is carried through the
fit; joined by Welch and Satterthwaite (G.4), quoted for 95 %. The residuals already hold the
rounding of the display, so resolution (δ/√12, F.2.2.1) enters only as a floor under them.

Terms the readings cannot part are not guessed: they are named, one is set to "no effect" in
the order curve, cut-out, scale, and the result says what stands on that. Readings that stand
out are named and kept; what the kerf would be without them is said.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from kerf.beam import KerfCard
from kerf.errors import ReadingError
from kerf.estimate import Estimate
from kerf.kerf_fit import CURVE, INSIDE, SCALE, KerfFit, kerf_fit, kerf_term, weak_pairs
from kerf.outliers import Outlier, outliers, repeat_scatter_mm
from kerf.readings import LADDER_STEP_MM, Axis, PinFit, Readings, Side
from kerf.readings_check import check_readings
from kerf.tolerance import GREATEST_KERF_MM, GREATEST_SCALE_ERROR, SIGNIFICANCE


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """What the readings say of the laser and the sheet.

    Args:
        kerf: kerf at the face that governs, mean of the axes measured.
        kerf_x, kerf_y: kerf along each axis there; None when not measured.
        entry, exit: kerf at each face, mean of the axes measured; None when not measured.
        lean: entry − exit, whole; None unless both faces were measured.
        scale_x, scale_y: length cut over length drawn; None when not told.
        inside_extra, curve: extra kerf of cut-outs, mm, and on curves, mm²; None when not told.
        governs: the face where more material is left, where the part will touch.
        residuals_mm: mean read − model, in the order of the readings.
        scatter_mm: standard deviation of one size about the model.
        repeat_mm: standard deviation of one reading about the mean of its repeats; None
            without repeats.
        dof: degrees of freedom of ``scatter_mm``.
        outliers: readings that stand out; they were used all the same.
        kerf_without_outliers_mm: what the kerf would be without them; None if there are none.
        warnings: what the readings cannot tell, in words.
        pins: how each pin's ladder agrees with the fit, in words.
    """

    kerf: Estimate
    kerf_x: Estimate | None
    kerf_y: Estimate | None
    entry: Estimate | None
    exit: Estimate | None
    lean: Estimate | None
    scale_x: Estimate | None
    scale_y: Estimate | None
    inside_extra: Estimate | None
    curve: Estimate | None
    governs: Side
    residuals_mm: tuple[float, ...]
    scatter_mm: float
    repeat_mm: float | None
    dof: int
    outliers: tuple[Outlier, ...]
    kerf_without_outliers_mm: float | None
    warnings: tuple[str, ...]
    pins: tuple[str, ...] = ()

    def estimates(self) -> tuple[Estimate, ...]:
        """Return all that was told, kerf first."""
        return tuple(
            e
            for e in (
                self.kerf,
                self.kerf_x,
                self.kerf_y,
                self.entry,
                self.exit,
                self.lean,
                self.scale_x,
                self.scale_y,
                self.inside_extra,
                self.curve,
            )
            if e is not None
        )


def calibration(readings: Readings) -> Calibration:
    """Return kerf, scale and the rest with their uncertainties.

    Args:
        readings: of one coupon.
    Raises:
        ReadingError: too few readings, readings no laser could have made (see
            ``check_readings``), or a result outside what a laser can be.
    """
    rows = readings.rows
    if sum(len(r.values_mm) for r in rows) < 2:
        raise ReadingError(
            "a single reading gives no uncertainty, and cannot tell kerf from scale",
            hint="measure at least an outside size and a slot, three times each",
        )
    check_readings(readings)
    fit, warnings = kerf_fit(readings)
    governs, warnings = _governing_face(fit, warnings)
    warnings = (*warnings, *weak_pairs(fit), *_uneven(readings, fit))
    found = outliers(
        readings.rows,
        residuals_mm=fit.residuals,
        leverages=fit.leverages,
        resolution_mm=readings.resolution_mm,
    )
    repeat = repeat_scatter_mm(readings.rows)
    result = _told(fit, governs, found, None if repeat is None else repeat[0], warnings)
    _check_possible(result)
    result = replace(result, pins=tuple(_pin_check(p, result) for p in readings.pins))
    if not found:
        return result
    named = frozenset(id(o.reading) for o in found)
    rest = replace(readings, rows=tuple(r for r in readings.rows if id(r) not in named))
    try:
        other, _ = kerf_fit(rest)
        kerf_mm = _told(other, governs, (), None, ()).kerf.value
    except ReadingError:
        kerf_mm = None
    return replace(result, kerf_without_outliers_mm=kerf_mm)


def _governing_face(fit: KerfFit, warnings: tuple[str, ...]) -> tuple[Side, tuple[str, ...]]:
    """Return the face where more material is left, and what could not be told of it."""
    kerfs = {
        face: [
            float(fit.beta[fit.terms.index(kerf_term(axis, face))])
            for axis in Axis
            if kerf_term(axis, face) in fit.terms
        ]
        for face in Side
    }
    told = [face for face in Side if kerfs[face]]
    if len(told) == 1:
        (only,) = told
        return only, (
            *warnings,
            f"only the {only.value} face was measured: the lean of the wall is not known, and the "
            "part may touch at the other face",
        )
    if len({len(kerfs[face]) for face in told}) > 1:
        warnings = (
            *warnings,
            "one face was measured along both axes and the other along one: lean mixes with the "
            "difference of the axes; measure both faces along both",
        )
    means = {face: sum(kerfs[face]) / len(kerfs[face]) for face in told}
    governs = Side.EXIT if means[Side.EXIT] <= means[Side.ENTRY] else Side.ENTRY
    other = Side.ENTRY if governs is Side.EXIT else Side.EXIT
    if any(g > o for g, o in zip(kerfs[governs], kerfs[other], strict=False)):
        warnings = (
            *warnings,
            "the wall leans one way along X and the other way along Y: the part touches at "
            "different faces; look at the beam's alignment",
        )
    return governs, warnings


def _told(
    fit: KerfFit,
    governs: Side,
    found: tuple[Outlier, ...],
    repeat_mm: float | None,
    warnings: tuple[str, ...],
) -> Calibration:
    """Return the estimates the fit allows."""

    def has(term: str) -> bool:
        return term in fit.terms

    def at(face: Side) -> Estimate | None:
        terms = [kerf_term(axis, face) for axis in Axis if has(kerf_term(axis, face))]
        if not terms:
            return None
        weights = {term: 1 / len(terms) for term in terms}
        return fit.estimate(f"kerf at the {face.value} face", weights, "mm")

    def along(axis: Axis) -> Estimate | None:
        term = kerf_term(axis, governs)
        return fit.estimate(f"kerf along {axis.value}", {term: 1.0}, "mm") if has(term) else None

    def single(term: str, unit: str, base: float = 0.0) -> Estimate | None:
        return fit.estimate(term, {term: 1.0}, unit, base) if has(term) else None

    entry, exit_ = at(Side.ENTRY), at(Side.EXIT)
    lean = None
    if entry is not None and exit_ is not None:
        weights: dict[str, float] = {}
        for face, sign in ((Side.ENTRY, 1.0), (Side.EXIT, -1.0)):
            terms = [kerf_term(axis, face) for axis in Axis if has(kerf_term(axis, face))]
            weights |= {term: sign / len(terms) for term in terms}
        lean = fit.estimate("entry − exit", weights, "mm")
    governing = entry if governs is Side.ENTRY else exit_
    assert governing is not None
    kerf_x, kerf_y = along(Axis.X), along(Axis.Y)
    missing = [axis.value for axis, e in ((Axis.X, kerf_x), (Axis.Y, kerf_y)) if e is None]
    if missing:
        warnings = (
            *warnings,
            f"nothing was measured along {missing[0]} at the face that governs: its kerf is taken "
            "to be the other axis's, though the two can differ twofold",
        )
    return Calibration(
        kerf=Estimate(
            name="kerf where the part touches",
            value=governing.value,
            u=governing.u,
            dof=governing.dof,
            unit="mm",
        ),
        kerf_x=kerf_x,
        kerf_y=kerf_y,
        entry=entry,
        exit=exit_,
        lean=lean,
        scale_x=single(SCALE[Axis.X], "", 1.0),
        scale_y=single(SCALE[Axis.Y], "", 1.0),
        inside_extra=single(INSIDE, "mm"),
        curve=single(CURVE, "mm²"),
        governs=governs,
        residuals_mm=fit.residuals,
        scatter_mm=fit.scatter_mm,
        repeat_mm=repeat_mm,
        dof=fit.dof,
        outliers=found,
        kerf_without_outliers_mm=None,
        warnings=warnings,
    )


def _uneven(readings: Readings, fit: KerfFit) -> tuple[str, ...]:
    """Return a sentence if sizes scatter beyond what reading them explains (F test, GUM H.5)."""
    repeat = repeat_scatter_mm(readings.rows)
    if repeat is None or repeat[0] == 0.0:
        return ()
    from scipy.special import fdtrc

    repeat_mm, repeat_dof = repeat
    share = len(readings.rows) / math.fsum(1 / len(r.values_mm) for r in readings.rows)
    ratio = fit.scatter_mm**2 * share / repeat_mm**2
    if fdtrc(fit.dof, repeat_dof, ratio) > SIGNIFICANCE:
        return ()
    return (
        f"sizes scatter by {fit.scatter_mm:.4f} mm about the model, more than reading them "
        f"explains ({repeat_mm / math.sqrt(share):.4f} mm): the cut varies over the sheet; the "
        "uncertainty counts that in",
    )


def _check_possible(calibration: Calibration) -> None:
    """Refuse a result that no laser has.

    Raises:
        ReadingError: a kerf at or below 0 or above 2 mm, or a scale more than 2 % off.
    """
    kerfs = (
        calibration.kerf,
        calibration.kerf_x,
        calibration.kerf_y,
        calibration.entry,
        calibration.exit,
    )
    for kerf in kerfs:
        if kerf is not None and not 0.0 < kerf.value <= GREATEST_KERF_MM:
            sign = kerf.value <= 0.0
            raise ReadingError(
                f"the {kerf.name} comes out at {kerf.value:.4f} mm"
                + ("; a beam cannot add material" if sign else ", above the 2 mm of any laser"),
                hint="was kerf compensation on at the laser, or are columns exchanged?"
                if sign
                else "look for a wrong unit, a wrong row, or half kerf against full",
            )
    for scale in (calibration.scale_x, calibration.scale_y):
        if scale is not None and abs(scale.value - 1.0) > GREATEST_SCALE_ERROR:
            raise ReadingError(
                f"the {scale.name} comes out at {scale.value:.5f}; it must lie within 2 % of 1",
                hint="set the steps per millimetre at the laser, cut again and measure again",
            )


def _pin_check(fit: PinFit, told: Calibration) -> str:
    """Return whether the hole a pin enters is as large as the readings make it.

    The hole is one step of the ladder larger than the pin at most, unless the fit is off.
    """
    extra = 0.0 if told.inside_extra is None else told.inside_extra.value
    curve = 0.0 if told.curve is None else told.curve.value / (fit.drawn_mm / 2)
    scales = [e.value for e in (told.scale_x, told.scale_y) if e is not None] or [1.0]
    hole_mm = fit.drawn_mm * sum(scales) / len(scales) + told.kerf.value + extra + curve
    clear_mm = hole_mm - fit.pin_mm
    slack_mm = told.kerf.expanded + told.scatter_mm
    agrees = -slack_mm <= clear_mm <= LADDER_STEP_MM + slack_mm
    return (
        f"pin {fit.pin_mm:.3f} mm enters the hole drawn {fit.drawn_mm:.3f} mm, which the readings "
        f"put at {hole_mm:.3f} mm: "
        + ("they agree" if agrees else f"they disagree by {abs(clear_mm):.3f} mm, look into it")
    )


def without(readings: Readings, lines: frozenset[int]) -> Readings:
    """Return the readings without the rows of those lines: a person's choice, to be recorded."""
    return replace(readings, rows=tuple(r for r in readings.rows if r.line not in lines))


def kerf_card(calibration: Calibration, readings: Readings, *, name: str) -> KerfCard:
    """Return the calibration as a card, rounded to 0.1 µm and 1e-6 of scale.

    Curve widening and cut-out difference go on the card only where they exceed their own
    expanded uncertainty; below that they are noise, and curves are never cut narrower.
    """

    def rounded(estimate: Estimate | None) -> float | None:
        return None if estimate is None else round(estimate.value, 4)

    def scale(estimate: Estimate | None) -> float:
        return 1.0 if estimate is None else round(estimate.value, 6)

    def beyond_noise(estimate: Estimate | None) -> float:
        if estimate is None or abs(estimate.value) <= estimate.expanded:
            return 0.0
        return round(estimate.value, 4)

    both_axes = calibration.kerf_x is not None and calibration.kerf_y is not None
    both_faces = calibration.lean is not None
    scales = [e.u for e in (calibration.scale_x, calibration.scale_y) if e is not None]
    return KerfCard(
        name=name,
        kerf_mm=round(calibration.kerf.value, 4),
        u_mm=round(calibration.kerf.u, 4),
        measured_on=readings.measured_on,
        measured_by=readings.measured_by,
        entry_mm=rounded(calibration.entry) if both_faces else None,
        exit_mm=rounded(calibration.exit) if both_faces else None,
        kerf_x_mm=rounded(calibration.kerf_x) if both_axes else None,
        kerf_y_mm=rounded(calibration.kerf_y) if both_axes else None,
        scale_x=scale(calibration.scale_x),
        scale_y=scale(calibration.scale_y),
        u_scale=round(max(scales, default=0.0), 6),
        inside_extra_mm=beyond_noise(calibration.inside_extra),
        curve_mm2=max(0.0, beyond_noise(calibration.curve)),
        dof=round(calibration.kerf.dof, 1),
        temperature_c=readings.temperature_c,
        instrument=readings.instrument,
    )
