"""A coupon that exists only in the tests: readings of a laser whose truth is known.

Shares no code with the fit: what a size becomes is written out here case by case, from what a
beam does to it.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from kerf.coupon import coupon
from kerf.readings import Axis, Reading, Readings, Side

#: (size, axis, face) of a normal form: both faces of the lengths and windows, exit for the rest.
SIZES = coupon(thickness_mm=3.0).sizes


@dataclass(frozen=True)
class Truth:
    """What the laser really does. Kerf by axis and face, mm."""

    kerf: dict = field(
        default_factory=lambda: {
            ("X", "entry"): 0.25,
            ("X", "exit"): 0.20,
            ("Y", "entry"): 0.21,
            ("Y", "exit"): 0.16,
        }
    )
    scale: dict = field(default_factory=lambda: {"X": 1.0006, "Y": 0.9993})
    inside: float = 0.012
    curve: float = 0.03

    def size(self, kind: str, axis: str, face: str, drawn: float) -> float:
        """Return what the size is once cut."""
        length, k = drawn * self.scale[axis], self.kerf[axis, face]
        hole = k + self.inside
        return {
            "outside": length - k,
            "near": length - k,
            "gap": length + k,
            "far": length,
            "slot": length + hole,
            "web": length - k / 2 - hole / 2,
            "hole": length + hole + self.curve / (drawn / 2),
            "plug": length - k - self.curve / (drawn / 2),
        }[kind]

    @property
    def contact(self) -> float:
        """Kerf where the part touches: the exit face of this laser, mean of the axes."""
        return (self.kerf["X", "exit"] + self.kerf["Y", "exit"]) / 2


def readings(
    rng: np.random.Generator,
    truth: Truth | None = None,
    *,
    place_mm: float = 0.006,
    repeat_mm: float = 0.006,
    resolution_mm: float = 0.001,
    accuracy_mm: float = 0.0,
    repeats: int = 3,
) -> Readings:
    """Return one filled-in form: place-to-place and repeat scatter normal, display rounded.

    The instrument's error, one for each kind of jaw, is uniform within ± accuracy_mm.
    """
    truth = truth or Truth()
    jaws = {
        jaw: rng.uniform(-accuracy_mm, accuracy_mm) if accuracy_mm else 0.0
        for jaw in ("out", "in", "depth")
    }
    jaw_of = {"slot": "in", "gap": "in", "hole": "in", "far": "depth"}
    rows = []
    for size in SIZES:
        for face in size.faces:
            kind, axis = size.kind.value, size.axis.value
            true = truth.size(kind, axis, face.value, size.drawn_mm) + jaws[jaw_of.get(kind, "out")]
            values = true + rng.normal(0, place_mm) + rng.normal(0, repeat_mm, repeats)
            values = np.round(values / resolution_mm) * resolution_mm
            rows.append(
                Reading(
                    feature=size.feature,
                    kind=size.kind,
                    axis=Axis(axis),
                    face=Side(face.value),
                    drawn_mm=size.drawn_mm,
                    values_mm=tuple(map(float, values)),
                    line=len(rows) + 2,
                )
            )
    return Readings(rows=tuple(rows), resolution_mm=resolution_mm, accuracy_mm=accuracy_mm)


def misses(found, truth: Truth) -> dict[str, tuple[float, float, float]]:
    """Return (estimate − truth, standard uncertainty, expanded) by term."""
    true = {
        "kerf": truth.contact,
        "kerf_x": truth.kerf["X", "exit"],
        "kerf_y": truth.kerf["Y", "exit"],
        "entry": (truth.kerf["X", "entry"] + truth.kerf["Y", "entry"]) / 2,
        "lean": (
            truth.kerf["X", "entry"]
            + truth.kerf["Y", "entry"]
            - truth.kerf["X", "exit"]
            - truth.kerf["Y", "exit"]
        )
        / 2,
        "scale_x": truth.scale["X"],
        "scale_y": truth.scale["Y"],
        "inside_extra": truth.inside,
        "curve": truth.curve,
    }
    out = {}
    for name, value in true.items():
        estimate = getattr(found, name)
        out[name] = (estimate.value - value, estimate.u, estimate.expanded)
    return out
