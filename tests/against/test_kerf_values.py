"""Published figures of kerf, growth and stock, each with its source."""

from __future__ import annotations

import pytest

from kerf.beam import KerfCard, beam_paths
from kerf.calibrate import calibration
from kerf.errors import InputError
from kerf.lean import wall_lean
from kerf.materials import (
    ACETAL,
    ACRYLIC,
    ALUMINIUM,
    MDF,
    PLYWOOD,
    STEEL,
    Cutting,
    cutting_verdict,
    material_named,
    moisture_growth_mm,
    thermal_growth_mm,
)
from kerf.readings import Axis, Kind, Reading, Readings, Side
from kerf.shapes import rectangle


@pytest.mark.parametrize(
    ("material", "stock", "thickness_mm", "kerf_mm"),
    [
        ("acrylic", "cast acrylic", 1.6, 0.18),
        ("acrylic", "cast acrylic", 3.2, 0.23),
        ("acrylic", "cast acrylic", 6.4, 0.25),
        ("plywood", "birch plywood", 1.6, 0.15),
        ("plywood", "birch plywood", 3.2, 0.20),
        ("plywood", "birch plywood", 6.4, 0.25),
        ("MDF", "MDF", 3.2, 0.15),
        ("MDF", "MDF", 6.4, 0.20),
    ],
)
def test_kerfs_of_a_service_make_cards_and_plates(material, stock, thickness_mm, kerf_mm):
    """Source: kerf table of a laser-cutting service (full width, mm)."""
    assert material_named(stock).name == material
    assert cutting_verdict(stock, thickness_mm=thickness_mm).cutting is Cutting.MAY
    card = KerfCard(name=stock, kerf_mm=kerf_mm, u_mm=0.02)
    (path,) = beam_paths(rectangle(width_mm=40, height_mm=20), card, piece="plate")
    # What the beam takes from the path's inside leaves 40 × 20 again.
    box = path.contour.bounds()
    assert (box.width - kerf_mm, box.height - kerf_mm) == pytest.approx((40.0, 20.0))


def test_ten_cuts_that_total_1_84_are_a_kerf_of_0_184():
    """Source: ten-cut method of a workshop guide: ten cuts total 1.84 mm."""
    block = [
        Reading(
            feature=f"block {i}",
            kind=Kind.OUTSIDE,
            axis=Axis.X,
            face=Side.EXIT,
            drawn_mm=10.0,
            values_mm=(10.0 - 1.84 / 10,),
        )
        for i in range(10)
    ]
    found = calibration(Readings(rows=tuple(block), resolution_mm=0.01))
    assert found.kerf.value == pytest.approx(0.184)


def test_difference_between_faces_of_6_4_acrylic():
    """Source: service table: sizes differ by 0.18 between faces of 6.4 mm acrylic at 30 W."""
    card = KerfCard(name="a", kerf_mm=0.25, u_mm=0.0, entry_mm=0.43, exit_mm=0.25)
    lean = wall_lean(card, thickness_mm=6.4)
    assert 2 * lean.standoff_mm == pytest.approx(0.18)
    assert lean.angle_rad == pytest.approx(0.0140616, abs=1e-6)  # atan(0.09 / 6.4)


@pytest.mark.parametrize(
    ("material", "low", "high", "modulus_gpa", "strength_mpa"),
    [
        (ACRYLIC, 70e-6, 80e-6, (2.8, 3.2), (67, 75)),
        (ACETAL, 104e-6, 104e-6, (2.8, 2.8), (56, 56)),
        (ALUMINIUM, 23.6e-6, 23.6e-6, (68.9, 68.9), (310, 310)),
        (STEEL, 12e-6, 12e-6, (190, 190), None),
    ],
    ids=["acrylic", "acetal", "aluminium", "steel"],
)
def test_figures_of_the_datasheets(material, low, high, modulus_gpa, strength_mpa):
    """Source: datasheets of cast PMMA, acetal copolymer, 6061-T6 and plain carbon steel."""
    assert (material.expansion_per_k.low, material.expansion_per_k.high) == (low, high)
    modulus = material.modulus_mpa
    assert (modulus.low / 1000, modulus.high / 1000) == pytest.approx(modulus_gpa)
    if strength_mpa is None:
        assert material.strength_mpa is None
    else:
        assert (material.strength_mpa.low, material.strength_mpa.high) == strength_mpa


def test_200_mm_over_10_kelvin():
    """Source: ΔL = α L ΔT with PMMA at 76e-6 and 6061-T6 at 23.6e-6: 0.152, 0.047, 0.105 mm."""
    acrylic = thermal_growth_mm(200, expansion_per_k=76e-6, measured_c=20, used_c=30)
    aluminium = thermal_growth_mm(
        200, expansion_per_k=ALUMINIUM.expansion_per_k.middle, measured_c=20, used_c=30
    )
    assert acrylic == pytest.approx(0.152, abs=5e-4)
    assert aluminium == pytest.approx(0.047, abs=5e-4)
    assert acrylic - aluminium == pytest.approx(0.105, abs=5e-4)
    cooled = thermal_growth_mm(200, expansion_per_k=76e-6, measured_c=30, used_c=20)
    assert cooled == -acrylic


def test_panels_grow_with_damp():
    """Source: panel makers: MDF 0.05 % in plane per 1 % moisture, about +5 % from 35 to 85 % RH.

    Plywood 0.02 %: from memory.
    """
    growth = moisture_growth_mm(200, growth_per_percent=MDF.moisture_per_percent, change_percent=5)
    assert growth == pytest.approx(0.5)
    assert PLYWOOD.moisture_per_percent == 0.0002


@pytest.mark.parametrize(
    ("stock", "word", "may_override"),
    [
        ("PVC foam board", "hydrogen chloride", False),
        ("black vinyl", "hydrogen chloride", False),
        ("chlorinated rubber", "hydrogen chloride", False),
        ("PTFE sheet", "hydrogen fluoride", False),
        ("PVDF", "hydrogen fluoride", False),
        ("ABS", "melts", True),
        ("polycarbonate", "fire", True),
        ("carbon fibre plate", "fume", True),
        ("Fiberglass", "fume", True),
        ("FR4", "fume", True),
        ("galvanised steel", "coating", True),
    ],
)
def test_stock_that_must_not_be_cut(stock, word, may_override):
    """Source: university and makers' workshop lists of stock never to be cut by laser."""
    verdict = cutting_verdict(stock, thickness_mm=3.0)
    assert verdict.cutting is Cutting.NEVER
    assert word in verdict.reason
    assert verdict.may_override is may_override


def test_thin_polycarbonate_is_unknown_and_not_banned():
    """Source: workshop lists ban polycarbonate over 1 mm."""
    assert cutting_verdict("polycarbonate", thickness_mm=0.8).cutting is Cutting.UNKNOWN
    assert cutting_verdict("polycarbonate", thickness_mm=1.01).cutting is Cutting.NEVER


@pytest.mark.parametrize("stock", ["absolute white acrylic", "vinylester-free cast PMMA"])
def test_a_banned_word_inside_another_word_bans_nothing(stock):
    assert cutting_verdict(stock, thickness_mm=3.0).cutting is Cutting.MAY


def test_unknown_stock_is_never_fine():
    verdict = cutting_verdict("mystery offcut", thickness_mm=3.0)
    assert verdict.cutting is Cutting.UNKNOWN
    assert "halogen" in verdict.reason
    with pytest.raises(InputError, match="no name"):
        cutting_verdict("  ", thickness_mm=3.0)
    with pytest.raises(InputError, match="thickness"):
        cutting_verdict("acrylic", thickness_mm=0.0)


def test_acrylic_and_acetal_carry_their_cautions():
    """Source: makers' cautions: solvents craze cut acrylic; acetal's flame is hardly seen."""
    acrylic = " ".join(cutting_verdict("cast acrylic", thickness_mm=5).cautions)
    assert "craze" in acrylic
    assert "80 °C" in acrylic
    assert "unattended" in acrylic
    acetal = " ".join(cutting_verdict("acetal", thickness_mm=5).cautions)
    assert "formaldehyde" in acetal
    assert "hardly seen" in acetal
