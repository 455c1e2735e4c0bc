"""Kerf, lean and scale from readings: truth recovered, uncertainty honest, doubt said."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import synthetic_coupon as synthetic

from kerf.calibrate import calibration, kerf_card, without
from kerf.errors import ReadingError
from kerf.estimate import coverage_factor, effective_dof
from kerf.readings import Axis, Kind, PinFit, Reading, Readings, Side


def row(kind, axis, drawn, *values, face="exit", line=0):
    return Reading(
        feature=f"{axis}{drawn:g}",
        kind=Kind(kind),
        axis=Axis(axis),
        face=Side(face),
        drawn_mm=drawn,
        values_mm=values,
        line=line,
    )


def some(*rows, resolution=0.01, accuracy=0.0):
    return Readings(rows=rows, resolution_mm=resolution, accuracy_mm=accuracy)


def test_exact_readings_give_the_truth_back():
    truth = synthetic.Truth()
    exact = synthetic.readings(
        np.random.default_rng(0), truth, place_mm=0, repeat_mm=0, resolution_mm=1e-9
    )
    for name, (miss, _, _) in synthetic.misses(calibration(exact), truth).items():
        assert abs(miss) < 1e-8, name


def test_outside_and_hole_of_a_published_kerf():
    """Source: a cutting service's guide: kerf 0.20, 40.00 drawn → 39.80 outside, 40.20 hole."""
    found = calibration(
        some(row("outside", "X", 40.0, 39.80, 39.80), row("slot", "X", 40.0, 40.20, 40.20))
    )
    assert found.kerf.value == pytest.approx(0.20, abs=1e-9)
    assert any("extra kerf of cut-outs" in w or "cut-outs" in w for w in found.warnings)


def test_near_and_far_walls_part_kerf_from_scale():
    """Near shrinks by one kerf, far does not change (balance of one slot's walls)."""
    k, s = 0.18, 1.001
    found = calibration(
        some(
            row("near", "X", 5.0, 5.0 * s - k),
            row("far", "X", 11.0, 11.0 * s),
            row("near", "X", 30.0, 30.0 * s - k),
            row("far", "X", 60.0, 60.0 * s),
            resolution=1e-6,
        )
    )
    assert found.kerf.value == pytest.approx(k, abs=1e-9)
    assert found.scale_x.value == pytest.approx(s, abs=1e-9)


def test_parts_and_holes_both_undersize_is_scale_and_not_kerf():
    k, s = 0.10, 0.995
    found = calibration(
        some(
            *(row("outside", "X", d, d * s - k) for d in (20.0, 60.0, 100.0)),
            *(row("gap", "X", d, d * s + k) for d in (6.0, 14.0)),
            resolution=1e-6,
        )
    )
    assert found.kerf.value == pytest.approx(k, abs=1e-8)
    assert found.scale_x.value == pytest.approx(s, abs=1e-8)


@pytest.mark.parametrize(
    "accuracy_mm", [0.0, 0.02], ids=["scatter alone", "and a calliper's error"]
)
def test_intervals_cover_the_truth_as_often_as_they_say(accuracy_mm):
    """A seeded slice of the stress lane: 3 standard errors of 300 trials either side of 95 %.

    Source: JCGM 100:2008, annex G; binomial standard error sqrt(.95 × .05 / 300) = 1.26 %.
    """
    rng, truth, trials = np.random.default_rng(7), synthetic.Truth(), 300
    hits: dict[str, int] = {}
    for _ in range(trials):
        found = calibration(synthetic.readings(rng, truth, accuracy_mm=accuracy_mm))
        for name, (miss, _, expanded) in synthetic.misses(found, truth).items():
            hits[name] = hits.get(name, 0) + (abs(miss) <= expanded)
    # A uniform instrument error has no tails: its 95 % factor, from the normal, covers more.
    most = 0.988 if accuracy_mm == 0.0 else 1.0
    for name, count in hits.items():
        assert 0.912 <= count / trials <= most, name


def test_scatter_of_the_estimates_is_the_standard_error_of_theory():
    """Ordinary least squares: variance σ²(XᵀX)⁻¹; 400 trials tell a ratio to about 4 %."""
    rng, truth = np.random.default_rng(11), synthetic.Truth()
    misses = [
        synthetic.misses(calibration(synthetic.readings(rng, truth)), truth) for _ in range(400)
    ]
    for name in misses[0]:
        off = np.array([m[name][0] for m in misses])
        told = math.sqrt(np.mean([m[name][1] ** 2 for m in misses]))
        assert off.std() / told == pytest.approx(1.0, abs=0.12), name
        assert abs(off.mean()) < 4 * told / math.sqrt(len(off)), name


def test_student_factors_and_effective_freedom():
    """Source: JCGM 100:2008, table G.2 (95 %): 5 → 2.57, 10 → 2.23, 50 → 2.01, ∞ → 1.960."""
    for dof, factor in ((5, 2.57), (10, 2.23), (50, 2.01)):
        assert coverage_factor(dof) == pytest.approx(factor, abs=0.005)
    assert coverage_factor(math.inf) == pytest.approx(1.960, abs=0.0005)
    # JCGM 100:2008, G.4.1 example: u = 0.25, 0.57, 0.82 % with 9, 4, 14 → 19.
    parts = ((0.25, 9.0), (0.57, 4.0), (0.82, 14.0))
    assert effective_dof(parts) == pytest.approx(19.0, abs=0.5)


def test_resolution_is_a_floor_when_every_repeat_reads_alike():
    """Source: JCGM 100:2008, F.2.2.1: a display step δ alone is δ/√12."""
    rows = [row("outside", "X", d, *(d - 0.2,) * 3) for d in (20.0, 40.0, 60.0)]
    rows += [row("gap", "X", d, *(d + 0.2,) * 3) for d in (6.0, 10.0)]
    found = calibration(some(*rows, resolution=0.02))
    assert found.scatter_mm == pytest.approx(0.02 / math.sqrt(12))
    assert found.kerf.u > 0.001
    assert math.isinf(found.kerf.dof)


def test_an_outlier_is_named_with_its_line_and_kept():
    clean = synthetic.readings(np.random.default_rng(5))
    rows = list(clean.rows)
    odd = rows[7]
    rows[7] = replace(odd, values_mm=(odd.values_mm[0], odd.values_mm[1] + 0.2, odd.values_mm[2]))
    found = calibration(replace(clean, rows=tuple(rows)))
    (outlier,) = found.outliers
    assert outlier.repeat == 2
    assert f"line {odd.line}" in outlier.describe()
    assert len(found.residuals_mm) == len(rows)
    clean_kerf = calibration(clean).kerf.value
    assert abs(found.kerf_without_outliers_mm - clean_kerf) < 0.002
    left = without(replace(clean, rows=tuple(rows)), frozenset({odd.line}))
    assert len(left.rows) == len(rows) - 1


def test_a_whole_size_that_stands_off_is_named():
    clean = synthetic.readings(np.random.default_rng(6))
    rows = list(clean.rows)
    rows[3] = replace(rows[3], values_mm=tuple(v - 0.15 for v in rows[3].values_mm))
    found = calibration(replace(clean, rows=tuple(rows)))
    assert [o.reading.feature for o in found.outliers] == [rows[3].feature]
    assert found.outliers[0].repeat is None


def test_a_clean_form_seldom_raises_a_false_alarm():
    """Bonferroni bounds each of the two tests at 5 % of forms."""
    rng = np.random.default_rng(9)
    alarms = sum(bool(calibration(synthetic.readings(rng)).outliers) for _ in range(200))
    assert alarms / 200 < 0.10 + 3 * math.sqrt(0.1 * 0.9 / 200)


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (
            [row("outside", "X", 40.0, 39.8, 39.81), row("outside", "X", 40.0, 39.8, 39.79)],
            "cannot part kerf along X at the exit face and scale along X",
        ),
        (
            [
                row("slot", "X", 10.0, 10.2),
                row("slot", "X", 20.0, 20.2),
                row("slot", "X", 30.0, 30.2),
            ],
            "extra kerf of cut-outs",
        ),
    ],
    ids=["one length: kerf or scale", "windows alone: kerf or cut-out"],
)
def test_terms_that_cannot_be_parted_are_named(rows, words):
    found = calibration(some(*rows))
    assert any(words in w for w in found.warnings), found.warnings
    assert any("assumed" in w for w in found.warnings)


def test_one_face_alone_says_that_the_lean_is_unknown():
    found = calibration(some(*(row("outside", "X", d, d - 0.2) for d in (20.0, 40.0, 60.0))))
    assert found.lean is None
    assert any("lean of the wall is not known" in w for w in found.warnings)
    assert any("along Y" in w for w in found.warnings)


def test_the_part_touches_where_more_material_is_left():
    """Kerf 0.30 at entry, 0.20 at exit: the exit face governs, lean 0.05 a side."""
    rows = [row("outside", "X", d, d - 0.30, face="entry") for d in (20.0, 40.0, 60.0)]
    rows += [row("outside", "X", d, d - 0.20, face="exit") for d in (20.0, 40.0, 60.0)]
    found = calibration(some(*rows))
    assert found.governs is Side.EXIT
    assert found.kerf.value == pytest.approx(0.20, abs=1e-9)
    assert found.lean.value == pytest.approx(0.10, abs=1e-9)


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ([row("outside", "X", 40.0, 39.8)], "single reading"),
        ([row("far", "X", d, d) for d in (10.0, 20.0, 30.0)], "feels the kerf"),
        (
            [
                row("outside", "X", 40.0, 39.8),
                row("outside", "X", 20.0, 0.78),
                row("gap", "X", 6, 6.2),
            ],
            "25.4",
        ),
        (
            [row("outside", "X", d, d / 25.4 - 0.008) for d in (20.0, 40.0, 60.0)],
            "looks like inch",
        ),
        (
            [row("outside", "X", d, d + 0.2) for d in (20.0, 40.0)] + [row("gap", "X", 6.0, 5.8)],
            "changed the wrong way",
        ),
        (
            [row("outside", "X", d, d - 0.2) for d in (20.0, 40.0, 60.0)]
            + [row("outside", "Y", 40.0, 40.3, line=9)],
            "larger than the 40.000 mm drawn",
        ),
        (
            [row("outside", "X", d, d - 0.2) for d in (20.0, 40.0, 60.0)]
            + [row("gap", "X", 6.0, 5.7, line=9)],
            "smaller than the 6.000 mm drawn",
        ),
        ([row("outside", "X", d, d - 3.5) for d in (20.0, 40.0, 60.0)], "no kerf up to 2 mm"),
        ([row("outside", "X", d, d - 2.1) for d in (20.0, 40.0, 60.0)], "above the 2 mm"),
        (
            [row("outside", "X", d, d * 1.0 + 0.005) for d in (20.0, 40.0, 60.0)],
            "cannot add material",
        ),
        (
            [row("outside", "X", d, d * 0.97 - 0.1) for d in (20.0, 40.0, 60.0)],
            "must lie within 2 % of 1",
        ),
        (
            # the first repeat and the drawn size have changed places
            [row("outside", "X", d - 0.2, d, d - 0.21, d - 0.2) for d in (20.0, 40.0, 60.0)],
            "look exchanged",
        ),
    ],
    ids=[
        "single",
        "far only",
        "mixed units",
        "all inch",
        "compensated",
        "outside grew",
        "slot shrank",
        "wrong row",
        "kerf over 2",
        "kerf negative",
        "scale",
        "columns",
    ],
)
def test_readings_no_laser_could_have_made_are_refused(rows, words):
    with pytest.raises(ReadingError) as fault:
        calibration(some(*rows))
    assert words in fault.value.describe()
    assert fault.value.hint


def test_excess_scatter_from_place_to_place_is_said():
    rng = np.random.default_rng(2)
    wild = synthetic.readings(rng, place_mm=0.02, repeat_mm=0.002)
    assert any("varies over the sheet" in w for w in calibration(wild).warnings)
    calm = synthetic.readings(rng, place_mm=0.0, repeat_mm=0.01)
    assert not any("varies over the sheet" in w for w in calibration(calm).warnings)


def test_a_pin_that_agrees_and_one_that_does_not():
    base = synthetic.readings(np.random.default_rng(3))
    hole = 5.81 + 0.18 + 0.012 + 0.03 / 2.9
    fits = (PinFit(pin_mm=hole - 0.01, drawn_mm=5.81), PinFit(pin_mm=hole - 0.12, drawn_mm=5.81))
    first, second = calibration(replace(base, pins=fits)).pins
    assert "they agree" in first
    assert "disagree" in second


def test_the_card_holds_what_was_found():
    found = calibration(synthetic.readings(np.random.default_rng(4)))
    base = synthetic.readings(np.random.default_rng(4))
    card = kerf_card(found, replace(base, measured_on="2025-03-31", instrument="c4"), name="card")
    assert card.kerf_mm == pytest.approx(found.kerf.value, abs=6e-5)
    assert card.exit_mm == pytest.approx(card.kerf_mm)
    assert card.entry_mm > card.exit_mm
    assert card.kerf_x_mm > card.kerf_y_mm
    assert card.u_scale > 0
    assert card.measured_on == "2025-03-31"
