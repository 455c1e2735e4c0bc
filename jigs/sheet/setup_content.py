"""From a worked-out set-up to what its sheet says.

The picture comes first and largest, then how zero is set (``datum_content``), then job and
guide, what to measure, what location can cost, findings and cautions.

What is not known is either a line to fill in by hand (machine, program, readings) or is not
mentioned; nothing is made up.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

from jigs import quantity
from jigs.burning import laser_text
from jigs.cautions import setup_cautions
from jigs.drawing.budget_view import Budget, budget_figure
from jigs.drawing.check_view import check_figure
from jigs.drawing.detail_view import detail_figure, small_features
from jigs.drawing.setup_view import Detail, SetupView, Spot, Stop, setup_figure
from jigs.finding import Severity
from jigs.guides.guide import Guide, Plate
from jigs.heading import guide_id
from jigs.locating.contacts import ContactKind
from jigs.plan import Plan, PlannedSetup
from jigs.setup import Flip
from jigs.sheet.base_content import base_sections
from jigs.sheet.blank_content import blank_section
from jigs.sheet.content import (
    PAPERS,
    Block,
    Field,
    Fields,
    Grid,
    Lines,
    Notice,
    Notices,
    Picture,
    Section,
    SheetContent,
    paper_width_mm,
    told_in_units,
)
from jigs.sheet.copies_content import copies_section
from jigs.sheet.datum_content import datum_section, offset_lines_section, square_section
from jigs.sheet.flip_content import flip_section
from jigs.sheet.machining_content import hold_words, machining_sections
from jigs.sheet.seat_content import seat_section
from jigs.sheet.seating_content import seating_section
from jigs.sheet.stack_content import stack_section
from jigs.version import VERSION
from kerf.contour import Region, Transform, Vector

#: Height of the first picture on paper, mm: half a page.
PICTURE_MM: Final = 120.0
#: Height of a plate's picture with its sizes, mm, and how much more each size after the fourth
#: asks for: the three kinds of layer of a stack fill a page with their captions.
CHECK_MM: Final = (72.0, 2.0)


def sheet_content(
    plan: Plan,
    index: int,
    *,
    record_sha256: str = "",
    offset_lines: bool | None = None,
    paper: str = "",
) -> SheetContent:
    """Return what the sheet of one set-up says.

    Args:
        plan: the worked-out job.
        index: which set-up, from 0.
        record_sha256: hash of the record, for the QR code; empty leaves the code out.
        offset_lines: whether RS-274 lines for the work offset are printed; the shop's wish when
            None.
        paper: "a4" or "us-letter"; the shop's when empty.
    """
    planned, job = plan.setups[index], plan.job
    paper = paper or job.shop.paper
    prints_lines = job.shop.offset_lines if offset_lines is None else offset_lines
    width_mm = paper_width_mm(paper)
    view = setup_view(planned, plan)
    sections = (
        Section(
            key="picture",
            heading="",
            blocks=(
                Picture(figures=(setup_figure(view, width_mm=width_mm, height_mm=PICTURE_MM),)),
            ),
        ),
        datum_section(planned, plan) if planned.guide.datums else None,
        square_section(planned, plan),
        offset_lines_section(planned, job.units) if prints_lines and planned.guide.datums else None,
        seat_section(planned, plan),
        seating_section(planned, plan, width_mm=width_mm),
        blank_section(planned, plan, width_mm=width_mm),
        *base_sections(planned, plan, width_mm=width_mm),
        stack_section(planned, plan, width_mm=width_mm),
        copies_section(planned, plan),
        flip_section(planned, plan),
        _job_section(planned, plan),
        _check_section(planned, job.units, width_mm),
        _detail_section(view),
        *machining_sections(planned, plan, width_mm=width_mm),
        _first_piece_section(planned, plan) if planned.guide.datums else None,
        _budget_section(planned, job.units, width_mm),
        _finding_section(planned),
        Section(
            key="cautions",
            heading="Cautions",
            blocks=(
                Notices(
                    notices=tuple(
                        Notice(weight="CAUTION", text=text) for text in setup_cautions(planned)
                    )
                ),
            ),
        ),
        _sign_off_section(plan),
    )
    name, count = planned.setup.name, len(plan.setups)
    code = f"JOB {job.number} REV {job.revision} OP {name} RECORD {record_sha256}"
    record = f" · record {record_sha256[:12]}" if record_sha256 else ""
    return SheetContent(
        title=f"{job.number} {job.name}",
        subtitle=f"rev {job.revision} · {name}, operation {index + 1} of {count}",
        footer=f"Job {job.number} rev {job.revision} · {name}{record} · jigs {VERSION}",
        paper=paper,
        units={"mm": "mm", "inch": "inches"}[job.units],
        banner=_banner(planned),
        code=code if record_sha256 else "",
        head=_head(planned, plan),
        sections=tuple(told_in_units(s, job.units) for s in sections if s is not None),
    )


def _head(planned: PlannedSetup, plan: Plan) -> tuple[Field, ...]:
    """Return what heads the sheet; what the job does not say is a line to fill in."""
    job, heading = plan.job, planned.setup.heading
    fields = [
        Field(name="quantity", value=str(job.quantity)),
        Field(name="machine", value=planned.setup.machine(job.shop.mills)),
        Field(name="program", value=heading.program),
        Field(name="sheet revision", value=job.heading.sheet_revision),
    ]
    # A first sheet supersedes none; only one that bears no revision leaves the question open.
    if job.heading.supersedes or not job.heading.sheet_revision:
        fields.append(Field(name="supersedes", value=job.heading.supersedes))
    else:
        fields.append(Field(name="supersedes", value="none"))
    return tuple(fields if planned.guide.datums else (f for f in fields if f.name != "program"))


def _banner(planned: PlannedSetup) -> str:
    """Return the warning over everything when a check failed; empty when none did."""
    failed = sum(f.severity is Severity.FAIL for f in planned.findings)
    if not failed:
        return ""
    checks = "1 check" if failed == 1 else f"{failed} checks"
    return f"DO NOT USE: {checks} failed. See Findings."


def setup_view(planned: PlannedSetup, plan: Plan) -> SetupView:
    """Return what the picture of a set-up shows, in its first plate's coordinates."""
    guide, setup, part = planned.guide, planned.setup, planned.part
    first = guide.plates[0]
    lay = first.to_part.inverse()
    # Other plates come into the first one's sheet through the part.
    # Of a stack only the layer that locates is shown; its assembly has a figure of its own.
    shown = guide.plates if guide.stack is None else guide.plates[:1]
    plates = tuple(p.region.transformed(p.to_part.then(lay)) for p in shown)
    to_first = {p.name: p.to_part.then(lay) for p in guide.plates}
    over = {Flip.NONE: None, Flip.X: Vector(1.0, 0.0), Flip.Y: Vector(0.0, 1.0)}[setup.flip]
    return SetupView(
        title=f"{plan.job.name}, {setup.name}: "
        + ("where zero is" if guide.datums else "what is checked"),
        plane=guide.plane,
        plates=plates,
        part=part.region.transformed(lay),
        copies=guide.copies[1:],
        zero=planned.zero if guide.datums else None,
        work_offset=setup.work_offset,
        faces=tuple(
            replace(
                face,
                start=to_first[face.plate].point(*face.start),
                end=to_first[face.plate].point(*face.end),
            )
            for face in guide.faces
        ),
        datums=guide.datums,
        contacts=tuple(
            Spot(name=c.name, at=lay.point(*c.at), normal=_turned(lay, c.normal))
            for c in guide.contacts
            if c.kind is ContactKind.WALL
        ),
        features=tuple(
            Spot(name=name, at=lay.point(*at))
            for name, at in (
                *((c.name, c.at) for c in part.critical),
                *((p.name, p.at) for p in (guide.base.places if guide.base is not None else ())),
            )
        ),
        names=tuple(
            Spot(name=name, at=to_first[p.name].point(*at)) for p in shown for name, at in p.spots
        ),
        stops=tuple(
            Stop(name=rest.name, start=rest.start, end=rest.end, normal=rest.normal)
            for rest in guide.rests
        ),
        flip_axis=_turned(lay, over) if over is not None else None,
        details=_details(plates),
        units=plan.job.units,
    )


def _details(plates: tuple[Region, ...]) -> tuple[Detail, ...]:
    """Return windows on what the first picture draws too small to see."""
    boxes = [region.bounds() for region in plates]
    scale = 0.6 * min(
        min(PAPERS.values()) / max(b.width for b in boxes),
        PICTURE_MM / max(b.height for b in boxes),
    )
    return small_features(plates, paper_scale=scale)


def _turned(by: Transform, direction: Vector) -> Vector:
    """Return a unit direction after a rigid map."""
    moved = by.vector(*direction)
    size = math.hypot(*moved)
    return Vector(moved.x / size, moved.y / size)


def _job_section(planned: PlannedSetup, plan: Plan) -> Section:
    """Return job, material, guide and the lines to fill in by hand."""
    job, guide, setup, units = plan.job, planned.guide, planned.setup, plan.job.units
    box = planned.part.region.bounds()
    sheet = job.shop.sheet(setup.sheet, where=setup.key_path + ".sheet")
    size = " × ".join(
        quantity.bare_length(v, units) for v in (box.width, box.height, planned.part.height_mm)
    )
    heading = setup.heading
    fields = [
        Field(name="material", value=planned.part.material),
        Field(name="part size", value=f"{size} {'in' if units == 'inch' else 'mm'}"),
        Field(name="guide", value=f"{guide.kind} {', '.join(p.name for p in guide.plates)}"),
        Field(name="guide ID", value=guide_id(job.number, setup.name)),
        Field(
            name="plate",
            value=f"{sheet.material}, {quantity.length_text(sheet.thickness_mm, units)}",
        ),
        Field(name="stored at", value=heading.slot),
        Field(
            name="kerf card",
            value=f"{planned.card.name}, {quantity.length_text(planned.card.kerf_mm, units)}",
        ),
        Field(name="laser", value=laser_text(planned, job.shop)),
        *(
            # A machined plate locates by its pins; its sheet touches nothing.
            (
                Field(
                    name="clearance per side", value=quantity.length_text(guide.clearance_mm, units)
                ),
            )
            if guide.base is None
            else ()
        ),
    ]
    if guide.datums:
        # A guide that sets no zero holds nothing for a cutter.
        fields.append(Field(name="held by, coolant", value=hold_words(setup)))
    if guide.datums and not heading.letters:
        fields.append(Field(name="drawing datums on", value=""))
    blocks: list[Block] = [Fields(fields=tuple(fields))]
    if job.note:
        blocks.append(Lines(lines=(job.note,)))
    if job.healed:
        blocks.append(Lines(lines=tuple(f"About the drawing: {line}" for line in job.healed)))
    return Section(key="job", heading="Job, guide and holding", blocks=tuple(blocks))


def _check_section(planned: PlannedSetup, units: str, width_mm: float) -> Section | None:
    """Return the sizes to measure after cutting, the plates' pictures, the small features."""
    guide = planned.guide
    if not guide.checks:
        return None
    rows = tuple(
        (
            f"({number})",
            check.name,
            quantity.length_text(check.nominal_mm, units),
            quantity.length_text(check.nominal_mm - check.plus_minus_mm, units),
            quantity.length_text(check.nominal_mm + check.plus_minus_mm, units),
            "",
        )
        for number, check in enumerate(guide.checks, 1)
    )
    blocks: list[Block] = [
        Grid(columns=("", "measure", "nominal", "least", "most", "actual"), rows=rows)
    ]
    for plate, alike in _told_apart(guide):
        sizes = sum((check.plate or guide.plates[0].name) == plate.name for check in guide.checks)
        height_mm = CHECK_MM[0] + CHECK_MM[1] * max(0, sizes - 4)
        figure = check_figure(
            plate, guide.faces, guide.checks, units=units, width_mm=width_mm, height_mm=height_mm
        )
        caption = ""
        if len(guide.plates) > 1:
            others = ", ".join(other.name for other in alike)
            caption = f"Plate {plate.name}" + (f"; {others} likewise" if others else "")
        blocks.append(Picture(figures=(figure,), caption=caption))
    return Section(key="checks", heading="Measure the guide after cutting", blocks=tuple(blocks))


def _told_apart(guide: Guide) -> list[tuple[Plate, list[Plate]]]:
    """Return the plates with a size to measure, of several alike the first and its likes."""
    first = guide.plates[0].name
    measured = {check.plate or first for check in guide.checks}
    found: list[tuple[Plate, list[Plate]]] = []
    for plate in guide.plates:
        if plate.name not in measured:
            continue
        likes = next((likes for one, likes in found if one.region == plate.region), None)
        if likes is None:
            found.append((plate, []))
        else:
            likes.append(plate)
    return found


def _detail_section(view: SetupView) -> Section | None:
    """Return the windows on small features; None when there is none."""
    if not view.details:
        return None
    figures = tuple(
        detail_figure(detail, view.plates, view.part, units=view.units) for detail in view.details
    )
    return Section(key="details", heading="Small features", blocks=(Picture(figures=figures),))


def _first_piece_section(planned: PlannedSetup, plan: Plan) -> Section | None:
    """Return where each critical feature must lie on the first piece, from program zero."""
    units = plan.job.units
    pose, zero = planned.setup.pose(), planned.setup.zero_mm
    rows = []
    for feature in planned.part.critical:
        place = pose.vector(feature.at.x - zero[0], feature.at.y - zero[1])
        for axis, value in zip(planned.guide.plane.axes[:2], place, strict=True):
            rows.append(
                (
                    feature.name,
                    axis,
                    quantity.offset_text(value, units),
                    quantity.offset_text(value - feature.tolerance_mm, units),
                    quantity.offset_text(value + feature.tolerance_mm, units),
                    "",
                )
            )
    if not rows:
        return None
    grid = Grid(
        columns=("feature", "axis", "from program zero", "least", "most", "actual"),
        rows=tuple(rows),
    )
    return Section(key="first-piece", heading="Measure the first piece", blocks=(grid,))


def _budget_section(planned: PlannedSetup, units: str, width_mm: float) -> Section | None:
    """Return what location can cost each critical feature; None when nothing is known."""
    budgets = tuple(
        Budget(name=c.name, worst_mm=c.worst_mm, limit_mm=c.limit_mm, shares=c.shares)
        for c in planned.critical
    )
    if not budgets:
        return None
    figure = budget_figure(budgets, units=units, width_mm=width_mm)
    return Section(
        key="budget",
        heading="What location can cost",
        blocks=(Picture(figures=(figure,)),),
    )


def _finding_section(planned: PlannedSetup) -> Section | None:
    """Return the findings, gravest first; None when there is none."""
    order = list(Severity)
    notices = [
        Notice(
            weight=finding.severity.value.upper(),
            text=f"{finding.subject}: {finding.message}.",
            hint=finding.hint[:1].upper() + finding.hint[1:],
        )
        for finding in sorted(planned.findings, key=lambda f: order.index(f.severity))
    ]
    if not planned.proofs:
        notices.append(
            Notice(
                weight="WARN",
                text="The cut files were not cut virtually before they were written.",
                hint="Run again without --no-proof, or measure every size of the guide.",
            )
        )
    if not notices:
        return None
    return Section(key="findings", heading="Findings", blocks=(Notices(notices=tuple(notices)),))


def _sign_off_section(plan: Plan) -> Section:
    """Return the lines to sign and the log of changes, with room for more."""
    log = tuple((change.day, change.what, change.by) for change in plan.job.heading.changes)
    return Section(
        key="sign-off",
        heading="Signed off, and changes",
        blocks=(
            Fields(
                fields=tuple(
                    Field(name=name, value="")
                    for name in ("guide measured by", "date", "first piece good", "date")
                ),
            ),
            Grid(
                columns=("date", "what was changed and why", "by"),
                rows=(*log, *((("", "", ""),) * 3)),
            ),
        ),
    )
