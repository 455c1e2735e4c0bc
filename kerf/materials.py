"""Sheet materials: growth with heat and damp, stiffness, and which must not be cut.

Figures are typical of the class, not of the sheet in hand; each states its range, and the
budget carries half the range as its limit. Whether a stock may go under a laser is decided
here by its name, word by word, so that "PVC foam" is caught and "absolute white acrylic" is
not. A name this table does not know is answered "unknown", never "fine".

The supplier's safety sheet, the laser maker's manual and local rules come before this table.

Sources: coefficients and strengths from manufacturers' datasheets of cast PMMA, acetal
copolymer, 6061-T6 and plain carbon steel; MDF moisture movement from panel makers' technical
notes; stocks that must not be cut from published laser-shop and university workshop rules.
Plywood movement is from memory and says so.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from kerf.errors import InputError


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A typical figure as a range.

    Args:
        low, high: ends of the range, low <= high.
    """

    low: float
    high: float

    @property
    def middle(self) -> float:
        """Middle of the range."""
        return (self.low + self.high) / 2

    @property
    def half(self) -> float:
        """Half the width of the range."""
        return (self.high - self.low) / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """Typical figures of a class of material.

    Args:
        name: what it is called here.
        expansion_per_k: linear thermal expansion, 1/K.
        modulus_mpa: Young's modulus, MPa; None where no figure is kept.
        strength_mpa: tensile strength, MPa; None where no figure is kept.
        moisture_per_percent: linear growth per percent of moisture content, unitless; 0
            where it is not known to matter.
        is_opaque: whether no sheet of it can be seen through; what is not is for the shop to say.
        source: where the figures come from.
    """

    name: str
    expansion_per_k: Span
    modulus_mpa: Span | None
    strength_mpa: Span | None
    moisture_per_percent: float = 0.0
    is_opaque: bool = False
    source: str = "manufacturers' datasheets"


class Cutting(StrEnum):
    """Whether a stock may be cut by laser."""

    MAY = "may be cut"
    NEVER = "must not be cut"
    UNKNOWN = "unknown stock"


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What is known about cutting a stock.

    Args:
        stock: the name that was asked about.
        cutting: may, must not, or unknown.
        reason: one sentence.
        cautions: what to watch while cutting and handling it.
        may_override: whether a person who has checked may go on; never for stock that
            gives off halogen acids.
    """

    stock: str
    cutting: Cutting
    reason: str
    cautions: tuple[str, ...] = ()
    may_override: bool = False


ACRYLIC: Final = Material(
    name="acrylic",
    expansion_per_k=Span(low=70e-6, high=80e-6),
    modulus_mpa=Span(low=2800.0, high=3200.0),
    strength_mpa=Span(low=67.0, high=75.0),
)
ACETAL: Final = Material(
    name="acetal",
    is_opaque=True,
    expansion_per_k=Span(low=104e-6, high=104e-6),
    modulus_mpa=Span(low=2800.0, high=2800.0),
    strength_mpa=Span(low=56.0, high=56.0),
)
ALUMINIUM: Final = Material(
    name="aluminium",
    is_opaque=True,
    expansion_per_k=Span(low=23.6e-6, high=23.6e-6),
    modulus_mpa=Span(low=68900.0, high=68900.0),
    strength_mpa=Span(low=310.0, high=310.0),
)
STEEL: Final = Material(
    name="steel",
    is_opaque=True,
    expansion_per_k=Span(low=12e-6, high=12e-6),
    modulus_mpa=Span(low=190000.0, high=190000.0),
    strength_mpa=None,
)
#: Thermal movement of wood panels in their plane is small beside that of moisture; the range
#: is from memory.
MDF: Final = Material(
    name="MDF",
    is_opaque=True,
    expansion_per_k=Span(low=4e-6, high=12e-6),
    modulus_mpa=None,
    strength_mpa=None,
    moisture_per_percent=0.0005,
    source="panel makers' technical notes; expansion from memory",
)
PLYWOOD: Final = Material(
    name="plywood",
    is_opaque=True,
    expansion_per_k=Span(low=4e-6, high=12e-6),
    modulus_mpa=None,
    strength_mpa=None,
    moisture_per_percent=0.0002,
    source="from memory",
)

#: Words that name each material; every word of one entry must occur in the stock's name.
_NAMES: Final[tuple[tuple[str, Material], ...]] = (
    ("acrylic", ACRYLIC),
    ("pmma", ACRYLIC),
    ("acetal", ACETAL),
    ("pom", ACETAL),
    ("polyoxymethylene", ACETAL),
    ("mdf", MDF),
    ("plywood", PLYWOOD),
    ("ply", PLYWOOD),
    ("aluminium", ALUMINIUM),
    ("aluminum", ALUMINIUM),
    ("6061", ALUMINIUM),
    ("steel", STEEL),
)

_ALWAYS: Final = (
    "never leave the laser unattended; keep an extinguisher in reach, extraction running and "
    "the bed clean"
)

_MAY: Final[dict[str, tuple[str, ...]]] = {
    "acrylic": (
        _ALWAYS,
        "alcohol, acetone and some glass cleaners craze cut edges of acrylic: wipe with mild "
        "soap and water, or anneal first (80 °C, 1 h per mm, slow cooling) and measure again",
    ),
    "acetal": (
        _ALWAYS,
        "acetal burns with a flame that is hardly seen and gives off formaldehyde: extract "
        "well, and check that it is out",
    ),
    "MDF": (
        _ALWAYS,
        "MDF gives off formaldehyde from its glue and swells with damp: measure it again in "
        "the shop's air before use",
    ),
    "plywood": (_ALWAYS, "glue pockets and knots in plywood stop the beam: test on scrap first"),
}

_HCL: Final = (
    "it gives off hydrogen chloride, which burns lungs and eyes and eats the laser; "
    "nothing makes it safe"
)
_HF: Final = "it gives off hydrogen fluoride, which is a deadly poison; nothing makes it safe"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ban:
    """Words that give a banned stock away, why, and whether a person may go on all the same."""

    words: tuple[str, ...]
    what: str
    reason: str
    may_override: bool = False
    over_mm: float = 0.0


#: Order matters: the gravest reason is given first.
_NEVER: Final[tuple[_Ban, ...]] = (
    _Ban(
        words=("pvc", "upvc", "cpvc", "vinyl", "polyvinyl", "polyvinylchloride"),
        what="PVC (vinyl)",
        reason=_HCL,
    ),
    _Ban(
        words=("chlorinated", "chloride", "pvdc", "neoprene"), what="chlorinated stock", reason=_HCL
    ),
    _Ban(
        words=("ptfe", "pvdf", "fep", "pfa", "etfe", "fluoropolymer", "fluorinated", "fkm"),
        what="PTFE and other fluorinated stock",
        reason=_HF,
    ),
    _Ban(
        words=("halogenated", "brominated"),
        what="halogenated stock",
        reason="it gives off halogen acids, which poison people and eat the laser; "
        "nothing makes it safe",
    ),
    _Ban(
        words=("abs",),
        what="ABS",
        reason="it melts rather than cuts, burns, and its fume holds cyanide",
        may_override=True,
    ),
    _Ban(
        words=("polycarbonate", "pc"),
        what="polycarbonate over 1 mm",
        reason="it takes up the beam badly, chars and catches fire",
        may_override=True,
        over_mm=1.0,
    ),
    _Ban(
        words=("carbon fibre", "carbon fiber", "cfrp"),
        what="carbon fibre",
        reason="its resin burns with poisonous fume and its dust is harmful and conducts",
        may_override=True,
    ),
    _Ban(
        words=(
            "fibreglass",
            "fiberglass",
            "glass fibre",
            "glass fiber",
            "gfrp",
            "grp",
            "fr4",
            "g10",
        ),
        what="fibreglass",
        reason="its resin burns with poisonous fume, often brominated, and the glass does not cut",
        may_override=True,
    ),
    _Ban(
        words=("coated", "galvanised", "galvanized", "painted", "leatherette"),
        what="coated stock",
        reason="nobody can say what the coating gives off",
        may_override=True,
    ),
)


def material_named(stock: str) -> Material | None:
    """Return the material a stock's name tells of, or None when the table has none."""
    words = _words(stock)
    return next((material for word, material in _NAMES if _holds(words, word)), None)


def cutting_verdict(stock: str, *, thickness_mm: float) -> Verdict:
    """Return whether a stock may be cut by laser, and why.

    Args:
        stock: the name as the shop writes it.
        thickness_mm: thickness of the sheet, mm, > 0.
    Raises:
        InputError: the name is empty or the thickness is not above 0.
    """
    if not stock.strip():
        raise InputError(
            "the stock has no name, so nobody can say whether it may be cut",
            hint="name the material in the shop file",
        )
    if not thickness_mm > 0.0:
        raise InputError(f"sheet thickness must be above 0 mm, not {thickness_mm:.4g} mm")
    words = _words(stock)
    for ban in _NEVER:
        if thickness_mm > ban.over_mm and any(_holds(words, word) for word in ban.words):
            return Verdict(
                stock=stock,
                cutting=Cutting.NEVER,
                reason=f"{ban.what} must not be cut by laser: {ban.reason}",
                may_override=ban.may_override,
            )
    material = material_named(stock)
    if material is not None and material.name in _MAY:
        return Verdict(
            stock=stock,
            cutting=Cutting.MAY,
            reason=f"{material.name} is commonly cut by laser",
            cautions=_MAY[material.name],
        )
    return Verdict(
        stock=stock,
        cutting=Cutting.UNKNOWN,
        reason=f'"{stock}" is not in the table of stocks known to be cut by laser: do not cut it '
        "before its maker's safety sheet says that it holds no chlorine, fluorine or other halogen",
        cautions=(_ALWAYS,),
        may_override=True,
    )


def thermal_growth_mm(
    length_mm: float, *, expansion_per_k: float, measured_c: float, used_c: float
) -> float:
    """Return by how much a length grows from the temperature measured at to the one used at, mm.

    Source: definition of the linear coefficient of thermal expansion, ΔL = α L ΔT.

    >>> round(thermal_growth_mm(200.0, expansion_per_k=76e-6, measured_c=20.0, used_c=30.0), 3)
    0.152
    """
    return length_mm * expansion_per_k * (used_c - measured_c)


def moisture_growth_mm(
    length_mm: float, *, growth_per_percent: float, change_percent: float
) -> float:
    """Return by how much a length grows for a change of moisture content in percent, mm."""
    return length_mm * growth_per_percent * change_percent


def _words(stock: str) -> str:
    """Return the name in lower case, words between single blanks, with a blank at both ends."""
    return f" {' '.join(re.findall(r'[a-z0-9]+', stock.lower()))} "


def _holds(words: str, phrase: str) -> bool:
    """Return whether the phrase occurs as whole words."""
    return f" {phrase} " in words
