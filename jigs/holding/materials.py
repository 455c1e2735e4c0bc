"""What is cut: specific cutting force and usual speeds of work materials.

The specific cutting force falls with chip thickness, kc = kc₁ h^(−m) (Kienzle); the two
figures of each group are published by VDI 3323 group. Tables differ by about twofold, so
holding is judged with the highest figure kept, times ``HOLDING_SCATTER``; power with the
first. A material whose name says nothing is answered None, never "about like steel".

Sources: VDI 3323 groups as tabulated by cutting-tool makers; drill constants from
*Machinery's Handbook*, "Estimating Thrust, Torque and Horsepower for Twist Drills"; speeds for
high-speed steel and carbide are common practice, on the side of a shop without much rigidity.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

#: By how much cutting forces may exceed the published figures: they scatter about twofold
#: between tables (half of that either way), and a worn edge adds its own. Source: common practice.
HOLDING_SCATTER: Final = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkMaterial:
    """A group of work materials.

    Args:
        name: as printed.
        kienzle: one or more pairs of kc₁ (N/mm² at a chip 1 mm thick) and exponent m.
        speeds_hss_m_min, speeds_carbide_m_min: usual cutting speeds, m/min.
        handbook_drill: constant of the handbook's drill formulas (inch, lb); None where none is
            kept.
        modulus_mpa: Young's modulus, MPa.
        strength_mpa: stress at which it gives way, MPa.
    """

    name: str
    kienzle: tuple[tuple[float, float], ...]
    speeds_hss_m_min: tuple[float, float]
    speeds_carbide_m_min: tuple[float, float]
    handbook_drill: float | None
    modulus_mpa: float
    strength_mpa: float

    def kc_mpa(self, chip_mm: float) -> float:
        """Return the specific cutting force of the first table at a chip thickness, N/mm².

        >>> round(ALUMINIUM_WROUGHT.kc_mpa(0.03 * 2 / 3.14159))
        1883
        """
        kc1, m = self.kienzle[0]
        return float(kc1 * chip_mm**-m)

    def highest_kc_mpa(self, chip_mm: float) -> float:
        """Return the highest published specific cutting force at a chip thickness, N/mm²."""
        return float(max(kc1 * chip_mm**-m for kc1, m in self.kienzle))


#: Young's moduli and strengths of the last six: any handbook's table of properties.
ALUMINIUM_WROUGHT: Final = WorkMaterial(
    name="wrought aluminium",
    kienzle=((700.0, 0.25),),
    speeds_hss_m_min=(45.0, 120.0),
    speeds_carbide_m_min=(120.0, 600.0),
    handbook_drill=7000.0,
    modulus_mpa=68_900.0,
    strength_mpa=100.0,
)
ALUMINIUM_HARDENED: Final = WorkMaterial(
    name="hardened aluminium",
    kienzle=((800.0, 0.25),),
    speeds_hss_m_min=(45.0, 120.0),
    speeds_carbide_m_min=(120.0, 600.0),
    handbook_drill=7000.0,
    modulus_mpa=68_900.0,
    strength_mpa=275.0,
)
CARBON_STEEL: Final = WorkMaterial(
    name="carbon steel",
    kienzle=((1500.0, 0.22), (2220.0, 0.14)),  # the second from memory
    speeds_hss_m_min=(18.0, 35.0),
    speeds_carbide_m_min=(80.0, 200.0),
    handbook_drill=24_000.0,
    modulus_mpa=205_000.0,
    strength_mpa=350.0,
)
TEMPERED_STEEL: Final = WorkMaterial(
    name="quenched and tempered steel",
    kienzle=((1675.0, 0.24),),
    speeds_hss_m_min=(10.0, 22.0),
    speeds_carbide_m_min=(50.0, 140.0),
    handbook_drill=None,
    modulus_mpa=205_000.0,
    strength_mpa=650.0,
)
STAINLESS: Final = WorkMaterial(
    name="austenitic stainless steel",
    kienzle=((2150.0, 0.20),),
    speeds_hss_m_min=(10.0, 22.0),
    speeds_carbide_m_min=(50.0, 130.0),
    handbook_drill=None,
    modulus_mpa=193_000.0,
    strength_mpa=205.0,
)
BRASS: Final = WorkMaterial(
    name="brass",
    kienzle=((700.0, 0.27),),
    speeds_hss_m_min=(40.0, 90.0),
    speeds_carbide_m_min=(100.0, 300.0),
    handbook_drill=None,
    modulus_mpa=97_000.0,
    strength_mpa=140.0,
)

#: Words that name each group, the narrower before the wider.
_NAMES: Final[tuple[tuple[str, WorkMaterial], ...]] = (
    ("6061 t4", ALUMINIUM_HARDENED),
    ("6061 t6", ALUMINIUM_HARDENED),
    ("6061", ALUMINIUM_HARDENED),
    ("6063", ALUMINIUM_HARDENED),
    ("6082", ALUMINIUM_HARDENED),
    ("2014", ALUMINIUM_HARDENED),
    ("2017", ALUMINIUM_HARDENED),
    ("2024", ALUMINIUM_HARDENED),
    ("7075", ALUMINIUM_HARDENED),
    ("mic6", ALUMINIUM_WROUGHT),
    ("1050", ALUMINIUM_WROUGHT),
    ("3003", ALUMINIUM_WROUGHT),
    ("5052", ALUMINIUM_WROUGHT),
    ("5083", ALUMINIUM_WROUGHT),
    ("5754", ALUMINIUM_WROUGHT),
    ("aluminium", ALUMINIUM_HARDENED),
    ("aluminum", ALUMINIUM_HARDENED),
    ("stainless", STAINLESS),
    ("303", STAINLESS),
    ("304", STAINLESS),
    ("316", STAINLESS),
    ("1 4301", STAINLESS),
    ("1 4404", STAINLESS),
    ("4140", TEMPERED_STEEL),
    ("4340", TEMPERED_STEEL),
    ("42crmo4", TEMPERED_STEEL),
    ("tempered", TEMPERED_STEEL),
    ("c45", CARBON_STEEL),
    ("1018", CARBON_STEEL),
    ("1020", CARBON_STEEL),
    ("1045", CARBON_STEEL),
    ("12l14", CARBON_STEEL),
    ("s235", CARBON_STEEL),
    ("s355", CARBON_STEEL),
    ("a36", CARBON_STEEL),
    ("mild steel", CARBON_STEEL),
    ("steel", TEMPERED_STEEL),
    ("brass", BRASS),
    ("c360", BRASS),
    ("cuzn39pb3", BRASS),
)

#: What the table knows, for messages.
KNOWN: Final = "6061-T6, 5083, 7075, C45, 1018, 4140, 304, 316, brass, aluminium, mild steel, steel"


def work_material_named(name: str) -> WorkMaterial | None:
    """Return the group a material's name tells of, or None when the table has none.

    Steel of no further name is taken as quenched and tempered: the higher force.
    """
    words = f" {' '.join(re.findall(r'[a-z0-9]+', name.lower()))} "
    return next((group for word, group in _NAMES if f" {word} " in words), None)
