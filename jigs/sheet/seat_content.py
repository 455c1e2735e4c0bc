"""How the part goes in and sits: what it is pushed against, how far it can move, which face of
the plate is up, and what the virtual cut of the file measured."""

from __future__ import annotations

from jigs import quantity
from jigs.guides.guide import Guide, Jaws
from jigs.guides.vise import FIXED
from jigs.plan import Plan, PlannedSetup
from jigs.proof import Proof
from jigs.sheet.base_content import seat_lines
from jigs.sheet.content import Lines, Section
from kerf.lean import Lean, wall_lean
from kerf.readings import Side
from kerf.tolerance import PROOF_OFFSET_MM

#: A direction counts towards a push when this share of it lies along an axis.
_ALONG = 0.3


def seat_section(planned: PlannedSetup, plan: Plan) -> Section:
    """Return how the part sits in its guide."""
    units = plan.job.units
    base = planned.guide.base
    lines = list(planned.guide.words)
    lines += seat_lines(base, units) if base is not None else _push(planned)
    lines += _float(planned, units)
    lean = wall_lean(planned.card, thickness_mm=planned.guide.plates[0].thickness_mm)
    if planned.guide.jaws is not None:
        lines += _standing(planned.guide, planned.guide.jaws, lean, units)
    elif lean is not None and base is None:
        lines.append(lean.describe())
    lines += _proof(planned, units)
    heading = "How the part sits" if planned.guide.datums else "How the part is checked"
    return Section(key="seat", heading=heading, blocks=(Lines(lines=tuple(lines)),))


def _standing(guide: Guide, jaws: Jaws, lean: Lean | None, units: str) -> list[str]:
    """Return how a plate stands in the vise, and what its leaning walls do there."""
    # The engraved face is the beam's side; it faces the eye, which looks away from XZ's +Y.
    away = jaws.fixed == FIXED[guide.plane][0]
    engraved, back = ("moving", "fixed") if away else ("fixed", "moving")
    lines = [
        f"Stand the plate flat on the fixed jaw, at {jaws.fixed}, its engraved side (the beam's "
        f"side, the entry face) to the {engraved} jaw; the part's face lies on the same jaw. "
        f"The jaws squeeze the {jaws.squeezed}, not the "
        f"{'part' if jaws.squeezed == 'plate' else 'plate'}."
    ]
    if lean is not None and lean.standoff_mm > 0.0:
        edge = engraved if lean.proud is Side.ENTRY else back
        other = back if edge == engraved else engraved
        back_mm = quantity.length_text(lean.standoff_mm, units)
        lines.append(
            f"The cut walls lean: part and finder touch them at the edge nearest the {edge} jaw, "
            f"which is at finished size; at the edge nearest the {other} jaw every "
            f"{guide.plane[0]} and Z wall stands {back_mm} back "
            f"({quantity.angle_text(lean.angle_rad)}). Let the finder's tip reach past both edges."
        )
    return lines


def _push(planned: PlannedSetup) -> list[str]:
    """Return what the part is pushed against, and which way."""
    contacts = planned.guide.contacts
    if not contacts:
        return []
    to_sheet = planned.guide.plates[0].to_part.inverse()
    normals = [to_sheet.vector(*c.normal) for c in contacts]
    x, y = (-sum(axis) / len(normals) for axis in zip(*normals, strict=True))
    first, second, _ = planned.guide.plane.axes
    ways = [
        ("+" if share > 0 else quantity.MINUS) + axis
        for share, axis in ((x, first), (y, second))
        if abs(share) > _ALONG * max(abs(x), abs(y))
    ]
    names = [c.name for c in contacts]
    listed = ", ".join(names[:-1]) + " and " + names[-1]
    return [
        f"Push the part towards {' and '.join(ways)} until it touches {listed}; hold it there "
        "while it is clamped."
    ]


def _float(planned: PlannedSetup, units: str) -> list[str]:
    """Return how far a floating part can move, in the widest pocket."""
    floats = planned.floating
    if floats is None:
        return []
    slack = floats.widest
    if slack.x_mm is None or slack.y_mm is None:
        return []
    turn = (
        "any turn"
        if slack.turn_rad is None
        else f"a turn of ±{quantity.angle_text(slack.turn_rad)}"
    )
    return [
        f"The part floats in its pocket: at most {quantity.plus_minus_text(slack.x_mm, units)} "
        f"along the drawing's x, {quantity.plus_minus_text(slack.y_mm, units)} along its y, and "
        f"{turn} (smallest part, widest pocket).",
        "Least clearance, largest part in the tightest pocket: "
        f"{quantity.length_text(floats.least_clearance_mm, units)} per side.",
    ]


def _proven_gaps(proof: Proof, units: str) -> str:
    """Return the measured gaps to the part, or to the holes of a sheet that lies under it."""
    if proof.least_gap_mm is None or proof.greatest_gap_mm is None:
        return _proven_holes(proof, units) if proof.hole_errors_mm else "it stays in one piece"
    if proof.greatest_gap_mm < 0:
        over = quantity.length_text(-proof.greatest_gap_mm, units)
        return f"it covers the part's edge by {over} at least"
    if proof.contact_gaps_mm:
        off = max(abs(gap) for _, gap in proof.contact_gaps_mm)
        names = ", ".join(name for name, _ in proof.contact_gaps_mm)
        said = f"part to {names}: {quantity.plus_minus_text(off, units)} at most"
        if proof.wall_gap_mm is None:
            return said
        wall = quantity.length_text(proof.wall_gap_mm, units)
        return f"{said}; away from the pads the walls stand {wall} back at least"
    return (
        f"part to plate {quantity.length_text(abs(proof.least_gap_mm), units)} least, "
        f"{quantity.length_text(proof.greatest_gap_mm, units)} greatest"
    )


def _proven_holes(proof: Proof, units: str) -> str:
    """Return how far holes are off at most."""
    off = max((e for _, e in proof.hole_errors_mm), default=0.0)
    return f"holes within {quantity.plus_minus_text(off, units)} of size and place"


def _proof(planned: PlannedSetup, units: str) -> list[str]:
    """Return what the virtual cut measured; a left-out one is a finding elsewhere."""
    lines = []
    for proof in planned.proofs:
        said = [_proven_gaps(proof, units)]
        if proof.hole_errors_mm and proof.least_gap_mm is not None:
            said.append(_proven_holes(proof, units))
        if proof.offset_errors_mm:
            off = max(PROOF_OFFSET_MM, *(abs(e) for _, e in proof.offset_errors_mm))
            said.append(f"faces within {quantity.plus_minus_text(off, units)} of this sheet")
        lines.append(
            f"The file of plate {proof.plate} was cut virtually before it was written: "
            f"{'; '.join(said)}."
        )
    return lines
