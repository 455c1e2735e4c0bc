"""The least-squares fit behind a calibration: which terms, how sure, what was given up.

Every size is linear in the terms: cut − drawn = scale error × drawn ± kerf of its axis at its
face ± extra kerf of cut-outs ± curve widening / radius, with the multiples of
``kerf.readings.FEELS``. Means of repeats are fitted by ordinary least squares, one weight
each. Terms the readings cannot part are given up in a fixed order, and said.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from kerf.contour import Floats
from kerf.errors import ReadingError
from kerf.estimate import Estimate, effective_dof
from kerf.readings import FEELS, Axis, Kind, Reading, Readings, Side
from kerf.tolerance import CORRELATED, RANK_RATIO


@dataclass(frozen=True, slots=True, kw_only=True)
class KerfFit:
    """Least squares over the means: solution, covariance, and the instrument's pull on it."""

    terms: tuple[str, ...]
    beta: Floats
    inverse: Floats  # (XᵀX)⁻¹
    pulls: Floats  # change of beta for 1 mm of instrument error, one column a group of jaws
    residuals: tuple[float, ...]
    leverages: tuple[float, ...]
    scatter_mm: float
    scatter_dof: float
    dof: int
    instrument_u_mm: float

    def estimate(
        self, name: str, weights: dict[str, float], unit: str, base: float = 0.0
    ) -> Estimate:
        """Return a weighted sum of terms with its uncertainty."""
        w = np.array([weights.get(term, 0.0) for term in self.terms])
        type_a = self.scatter_mm * math.sqrt(max(0.0, float(w @ self.inverse @ w)))
        type_b = [abs(float(w @ pull)) * self.instrument_u_mm for pull in self.pulls.T]
        parts = ((type_a, self.scatter_dof), *((u, math.inf) for u in type_b))
        return Estimate(
            name=name,
            value=base + float(w @ self.beta),
            u=math.sqrt(math.fsum(u * u for u, _ in parts)),
            dof=effective_dof(parts),
            unit=unit,
        )


def kerf_term(axis: Axis, face: Side) -> str:
    return f"kerf along {axis.value} at the {face.value} face"


SCALE: Final = {axis: f"scale along {axis.value}" for axis in Axis}
INSIDE: Final = "extra kerf of cut-outs"
CURVE: Final = "widening on curves"
#: Terms that can be set to "no effect", the first to be given up first.
CAN_GO: Final = (CURVE, INSIDE, SCALE[Axis.Y], SCALE[Axis.X])
NO_EFFECT: Final = {
    CURVE: "no widening on curves",
    INSIDE: "cut-outs cut like outlines",
    SCALE[Axis.X]: "a scale of exactly 1 along X",
    SCALE[Axis.Y]: "a scale of exactly 1 along Y",
}
_JAWS: Final = (
    frozenset({Kind.OUTSIDE, Kind.NEAR, Kind.WEB, Kind.PLUG}),
    frozenset({Kind.GAP, Kind.SLOT, Kind.HOLE}),
    frozenset({Kind.FAR}),
)


def _row(reading: Reading) -> dict[str, float]:
    """Return the multiples of the terms in one size's change."""
    kerf, inside = FEELS[reading.kind]
    row = {SCALE[reading.axis]: reading.drawn_mm}
    if kerf:
        row[kerf_term(reading.axis, reading.face)] = kerf
    if inside:
        row[INSIDE] = inside
    if reading.kind in (Kind.HOLE, Kind.PLUG):
        row[CURVE] = kerf / (reading.drawn_mm / 2)
    return row


def kerf_fit(readings: Readings) -> tuple[KerfFit, tuple[str, ...]]:
    """Return the fit over the terms that the readings can part, and what was given up."""
    rows = [_row(r) for r in readings.rows]
    order = (*(kerf_term(a, f) for a in Axis for f in Side), *reversed(CAN_GO))
    terms = [t for t in order if any(t in row for row in rows)]
    if not any(t.startswith("kerf") for t in terms):
        raise ReadingError(
            "no size in the readings feels the kerf",
            hint="measure outside sizes and slots; far walls alone tell only the scale",
        )
    change = np.array([r.mean_mm - r.drawn_mm for r in readings.rows])
    warnings: list[str] = []
    while True:
        design = np.array([[row.get(t, 0.0) for t in terms] for row in rows])
        size = np.linalg.norm(design, axis=0)
        _, values, vectors = np.linalg.svd(design / size, full_matrices=True)
        short = len(terms) - int(np.count_nonzero(values > RANK_RATIO * values[0]))
        if short == 0 and len(rows) > len(terms):
            break
        # Directions the readings say nothing about; any term may go if only readings lack.
        blind = np.abs(vectors[len(terms) - short :]).max(axis=0) if short else np.ones(len(terms))
        mixed = [t for t, share in zip(terms, blind, strict=True) if share > 0.05]
        goes = next((t for t in CAN_GO if t in mixed), None)
        if goes is None:
            raise ReadingError(
                f"{len(rows)} sizes are too few for {len(terms)} unknowns and how sure they are",
                hint="measure more sizes: outside sizes and slots of different length, each axis",
            )
        rest = [t for t in mixed if t != goes]
        if short and rest:
            why = f"the readings cannot part {_listed([*rest, goes])}"
        else:
            why = f"the readings are too few to tell the {goes} as well"
        warnings.append(f"{why}: {NO_EFFECT[goes]} is assumed, and the rest stands on that")
        terms.remove(goes)
    scaled = design / size
    inverse = np.linalg.inv(scaled.T @ scaled) / np.outer(size, size)
    solve = inverse @ design.T
    beta = solve @ change
    residuals = change - design @ beta
    dof = len(rows) - len(terms)
    scatter = math.sqrt(float(residuals @ residuals) / dof)
    floor = readings.resolution_mm / math.sqrt(12.0)
    jaws = np.array([[float(r.kind in group) for group in _JAWS] for r in readings.rows])
    return (
        KerfFit(
            terms=tuple(terms),
            beta=beta,
            inverse=inverse,
            pulls=solve @ jaws,
            residuals=tuple(map(float, residuals)),
            leverages=tuple(map(float, np.einsum("ij,ji->i", design, solve))),
            scatter_mm=max(scatter, floor),
            scatter_dof=float(dof) if scatter >= floor else math.inf,
            dof=dof,
            instrument_u_mm=readings.accuracy_mm / math.sqrt(3.0),
        ),
        tuple(warnings),
    )


def weak_pairs(fit: KerfFit) -> tuple[str, ...]:
    """Return a sentence for each pair of terms that the readings part only just."""
    spread = np.sqrt(np.diag(fit.inverse))
    correlation = np.abs(fit.inverse / np.outer(spread, spread))
    return tuple(
        f"the readings only just part {fit.terms[i]} from {fit.terms[j]} "
        f"(correlation {correlation[i, j]:.3f}): add a longer and a shorter size"
        for i in range(len(fit.terms))
        for j in range(i + 1, len(fit.terms))
        if correlation[i, j] > CORRELATED
    )


def _listed(terms: list[str]) -> str:
    """Return the terms as a list in words."""
    return " and ".join((", ".join(terms[:-1]), terms[-1])) if len(terms) > 1 else terms[0]
