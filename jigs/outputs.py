"""The files of a job: cut files, set-up sheet, preview and record.

All are made in memory first; the disk is touched only when every one of them exists, so a
failure half way leaves the previous files as they were.
"""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

from jigs.cut_files import finished_size_plan
from jigs.guides.guide import Datum, Face, Guide, Plate
from jigs.output_profile import LINE_WIDTH_MM, OutputProfile
from jigs.plan import Plan, PlannedSetup
from jigs.proof import Asked, CutFileUnproven, proof
from jigs.record import record_bytes
from kerf.beam import CutPlan, KerfCard, Operation
from kerf.errors import InputError
from kerf.writing.disk import write_set
from kerf.writing.dxf import dxf_bytes
from kerf.writing.svg import svg_bytes


def output_files(
    plan: Plan, *, release: str | None = None, with_proof: bool = True
) -> tuple[Plan, dict[str, bytes]]:
    """Return the plan with its proofs, and every file of the job: name → bytes.

    Args:
        plan: the plan.
        release: DXF release; the shop's when None.
        with_proof: cut every file virtually before it is offered; only haste leaves it out.
    Raises:
        InputError: two plates bear one name.
        CutFileUnproven: a file does not cut what was designed.
    """
    profile = plan.job.shop.output
    if release is not None:
        profile = replace(profile, release=release)
    files: dict[str, bytes] = {}
    setups = []
    for planned in plan.setups:
        proofs = []
        for plate, cut in zip(planned.burnt.plates, planned.cuts, strict=True):
            stem = profile.stem(plate.name)
            if f"{stem}.dxf" in files:
                raise InputError(f'two plates are called "{plate.name}"')
            dxf, svg = drawn_files(cut, profile)
            if with_proof:
                proofs.append(proof(plate.name, dxf, _asked(plan, planned, plate)))
            if not profile.has_kerf:
                # What was proven holds for these lines when the laser sets the same kerf.
                dxf, svg = drawn_files(finished_size_plan(plate), profile)
            files[f"{stem}.dxf"], files[f"{stem}.svg"] = dxf, svg
        setups.append(replace(planned, proofs=tuple(proofs)))
    proven = replace(plan, setups=tuple(setups))
    failed = [f for s in setups for p in s.proofs for f in p.findings]
    if failed:
        raise CutFileUnproven(
            "; ".join(f"{f.subject}: {f.message}" for f in failed), hint=failed[0].hint
        )
    files["record.json"] = record_bytes(proven)
    files |= _sheet_files(proven, hashlib.sha256(files["record.json"]).hexdigest())
    return proven, files


def drawn_files(cut: CutPlan, profile: OutputProfile) -> tuple[bytes, bytes]:
    """Return a cut plan as DXF and SVG, as the shop wants them."""
    dxf = dxf_bytes(
        cut,
        colours=profile.colours,
        release=profile.release,
        layers=profile.layers,
        line_width_mm=None if profile.line_width_mm == LINE_WIDTH_MM else profile.line_width_mm,
    )
    return dxf, svg_bytes(cut, colours=profile.colours, line_width_mm=profile.line_width_mm)


def _sheet_files(plan: Plan, record_sha256: str) -> dict[str, bytes]:
    """Return the set-up sheet (PDF, HTML) and the preview, all from the same content."""
    from jigs.drawing.png import png_bytes
    from jigs.sheet.html import html_text
    from jigs.sheet.pdf import pdf_bytes
    from jigs.sheet.setup_content import sheet_content

    contents = [
        sheet_content(plan, i, record_sha256=record_sha256) for i in range(len(plan.setups))
    ]
    files = {"setup-sheet.pdf": pdf_bytes(*contents, template=plan.job.shop.setup_sheet)}
    for planned, content in zip(plan.setups, contents, strict=True):
        suffix = f"-{planned.setup.name}" if len(contents) > 1 else ""
        files[f"setup-sheet{suffix}.html"] = html_text(content).encode()
    files["preview.png"] = png_bytes(*(content.first_figure for content in contents))
    return files


def _asked(plan: Plan, planned: PlannedSetup, plate: Plate) -> Asked:
    """Return what the record says of a plate, in plain numbers for the proof."""
    guide, card = planned.burnt, planned.card
    faces = [face for face in guide.faces if face.plate == plate.name]
    return Asked(
        outline=()
        if plate.is_under
        else tuple((v.x, v.y, v.bulge) for v in planned.part.region.outer.vertices),
        to_part=plate.to_part.rows(),
        beam_mm=(card.along_x_mm, card.along_y_mm),
        layers=cut_layers(plan.job.shop.output),
        scale=(card.scale_x, card.scale_y),
        inside_extra_mm=card.inside_extra_mm,
        curve_mm2=card.curve_mm2,
        least_gap_mm=guide.clearance_mm if plate.gap_mm is None else plate.gap_mm,
        contacts=tuple(
            (c.name, c.at.x, c.at.y)
            for c in guide.contacts
            if plate.touches is None or c.name in plate.touches
        ),
        pad_mm=_pad_reach_mm(guide, card) if guide.pad_mm else None,
        faces=tuple((f.name, *f.start, *f.end) for f in faces),
        offsets=tuple(
            (face.name, *_offset_in_file(face, datum, is_mirrored=plate.is_mirrored))
            for face in faces
            for datum in guide.datums
            if datum.face == f"face {face.name}"
        ),
        zero=(planned.setup.zero_mm[0], planned.setup.zero_mm[1]),
        holes=_holes(guide, plate),
        copies=guide.copies,
    )


def _offset_in_file(face: Face, datum: Datum, *, is_mirrored: bool) -> tuple[int, float]:
    """Return the axis of the cut file, 0 or 1, and how far along it a face lies from zero, mm."""
    axis = 0 if abs(face.normal.x) > 0.5 else 1
    return axis, -datum.offset_mm if is_mirrored and axis == 0 else datum.offset_mm


def cut_layers(profile: OutputProfile) -> tuple[str, str]:
    """Return the names of the layers of cut-outs and of outsides."""
    return profile.layers[Operation.INSIDE], profile.layers[Operation.OUTSIDE]


def _pad_reach_mm(guide: Guide, card: KerfCard) -> float:
    """Return how far a pad spoils the clearance beside its contact, mm.

    Half its width, the gap beside its flank, and what the beam leaves in the corner at its foot.
    """
    return guide.pad_mm / 2 + guide.clearance_mm + 2 * card.kerf_mm


def _holes(guide: Guide, plate: Plate) -> tuple[tuple[str, float, float, float], ...]:
    """Return the holes that a plate must have: name, place in part coordinates, diameter."""
    if guide.base is not None:
        return tuple(
            (h.name, *guide.base.to_part.point(*h.at), h.pilot_mm) for h in guide.base.holes
        )
    if guide.stack is not None:
        hole_mm = guide.stack.layer(plate.name).hole_mm
        return tuple((dowel.name, *dowel.at, hole_mm) for dowel in guide.stack.dowels)
    return ()


def write_outputs(
    plan: Plan, folder: Path, *, release: str | None = None, with_proof: bool = True
) -> tuple[Plan, tuple[Path, ...]]:
    """Write every file of a job; return the plan with its proofs, and the paths.

    Raises:
        InputError: a file cannot be written; the previous files stay as they were.
        CutFileUnproven: a file does not cut what was designed; nothing is written.
    """
    if folder.exists() and not folder.is_dir():
        raise InputError(
            "--out names a file; it must be a folder", where=str(folder), hint="choose another"
        )
    proven, files = output_files(plan, release=release, with_proof=with_proof)
    write_set({folder / name: content for name, content in files.items()})
    return proven, tuple(folder / name for name in files)
