"""How the part goes in and sits: what it is pushed against, how far it can move, which face of
the plate is up, and what the virtual cut of the file measured."""

from __future__ import annotations

from jigs import quantity
from jigs.checks.leaning import locating_plate, on_fixed_jaw, touch_mm
from jigs.guides.guide import Jaws
from jigs.holding.hold import HoldBy
from jigs.plan import Plan, PlannedSetup
from jigs.proof import Proof
from jigs.sheet.base_content import seat_lines
from jigs.sheet.content import Lines, Section
from kerf.lean import LeanUse, lies_up
from kerf.readings import Side
from kerf.tolerance import PROOF_OFFSET_MM

#: Decimals of a height on the part, which a burr is looked for at.
_HIGH = {"mm": 1, "inch": 2}

#: A direction counts towards a push when this share of it lies along an axis.
_ALONG = 0.3


def seat_section(planned: PlannedSetup, plan: Plan) -> Section:
    """Return how the part sits in its guide."""
    units = plan.job.units
    base = planned.guide.base
    lines = list(planned.guide.words)
    lines += seat_lines(base, units) if base is not None else _push(planned)
    lines += _float(planned, units)
    if planned.guide.jaws is not None:
        lines += _standing(planned, planned.guide.jaws, units)
    elif base is None:
        lines += _lying(planned, units)
    lines += _removal(planned)
    lines += _proof(planned, units)
    heading = "How the part sits" if planned.guide.datums else "How the part is checked"
    return Section(key="seat", heading=heading, blocks=(Lines(lines=tuple(lines)),))


def _lying(planned: PlannedSetup, units: str) -> list[str]:
    """Return which face of a plate that lies flat goes up, and where its walls touch."""
    lean, guide = planned.lean, planned.guide
    opposed = planned.setup.lean is LeanUse.OPPOSED
    engraved = ["The engraved side, which the beam cut from, lies down."] if opposed else []
    if lean is None:
        return [f"Lay the plate {lies_up(Side.EXIT)}. {engraved[0]}"] if opposed else []
    lines = [lean.describe(quantity.length_text(lean.standoff_mm, units)), *engraved]
    if lean.standoff_mm == 0.0:
        return [" ".join(lines)]
    plate = locating_plate(guide)
    if plate is not None:
        at = touch_mm(lean, plate, guide)
        if 0.0 < at < planned.part.height_mm:
            lines.append(
                f"They touch the part {quantity.length_text(at, units, places=_HIGH[units])} above "
                "its lower face: keep it free of burrs there."
            )
        else:
            side = "lower" if at <= 0.0 else "upper"
            lines.append(
                f"They touch the part at its {side} edge: a chamfer or burr there changes where "
                "it sits."
            )
    if guide.faces:
        lines.append(
            "A finder that stays above the underside reads a face too far back: let its tip reach "
            "past both edges."
            if lean.touches_low
            else "A finder meets the faces at their upper edge."
        )
    return [" ".join(lines)]


def _standing(planned: PlannedSetup, jaws: Jaws, units: str) -> list[str]:
    """Return how a plate stands in the vise, and what its leaning walls do there."""
    guide, lean = planned.guide, planned.lean
    # The engraved face is the beam's side, the entry face.
    is_on_fixed = on_fixed_jaw(guide, planned.setup.lean.up) is Side.ENTRY
    engraved, back = ("fixed", "moving") if is_on_fixed else ("moving", "fixed")
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
    slack = floats.widest.most
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


def _removal(planned: PlannedSetup) -> list[str]:
    """Return how a part that is stuck down comes off. Source: common practice."""
    hold, base = planned.setup.hold, planned.guide.base
    if hold is None or hold.by is not HoldBy.TAPE:
        return []
    way = "square off its pins" if base is not None else "straight up"
    return [
        "To take it off: stop the spindle, ease wood or plastic wedges under two opposite sides at "
        f"once and lift the part {way}; pry against no pin, stop or guide. Peel the tape from both "
        "faces before the next part."
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
