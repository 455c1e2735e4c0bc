"""The one pipeline: a validated job in, everything that is to be written out.

Each set-up becomes a guide of its kind, marked, checked, and turned into beam paths. Checks
read the guide and never change it; what they find travels with the plan to the sheet, the
record and the exit code.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

from jigs.checks.leaning import check_lean
from jigs.checks.loading import Loading, loading
from jigs.checks.machining import Machining, machining, setup_paths
from jigs.checks.seated import Seated, check_push_used, seated
from jigs.checks.surroundings import relieved_guide
from jigs.checks.vise import on_jaws
from jigs.cut_files import RIM_MM, STRIP_MM, cut_plan, locating_stretches
from jigs.finding import Finding, Severity
from jigs.flip import Side, Turned, check_turned, is_located, turned_over
from jigs.flip_marks import flip_marked
from jigs.guides.guide import Guide, Plane, Plate
from jigs.guides.kinds import KINDS
from jigs.guides.resting import face_frame
from jigs.in_laser import in_laser, is_read_below
from jigs.job import Job
from jigs.locating.contacts import FrameSource
from jigs.locating.error import CriticalError
from jigs.locating.floating import Floating, floating
from jigs.locating.pairs import PairError, check_pairs, pair_errors
from jigs.locating.report import LocatingReport, locating_report
from jigs.marks import check_marks, plate_marks
from jigs.part import Part
from jigs.proof import Proof
from jigs.setup import Setup
from jigs.shop import Laser, Sheet
from jigs.stock import check_stock
from jigs.version import VERSION
from jigs.warmth import (
    check_used_at,
    growth_frame,
    growth_per_unit,
    pick_up_corner,
    unknown_growth,
    warmed_contacts,
    warmer_k,
)
from kerf.beam import CutPlan, KerfCard, Operation
from kerf.contour import Point
from kerf.lean import Lean, LeanUse, wall_lean
from kerf.measure import thinnest_web
from kerf.tolerance import COINCIDENT_MM


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedSetup:
    """One set-up, worked out.

    Args:
        setup: what was asked.
        guide: what was made, marked, as it lies in use.
        burnt: the same as it lies in the laser, in the coordinates of its cut files.
        cuts: one cut plan a plate, in the order of ``burnt.plates``.
        card: the kerf card of the cuts.
        laser: the laser they are for.
        floating: how the part sits in a pocket it floats in; None when it rests on contacts.
        part: the part as it is seen in this set-up.
        locating: how contacts locate it; None when it floats, or when the guide holds no part.
        machined: recipes, holding, access and strength.
        seated: closure, which push seats it and where a clamp may push, how it comes out; None
            for a guide that holds no part.
        loading: which wrong ways the part goes in, and the stop that blocks them.
        findings: what the checks say of it.
        proofs: what the virtual cut of each plate measured; empty when it was left out.
        turned: how it compares with the earlier set-up that saw the other side, if any.
    """

    setup: Setup
    guide: Guide
    part: Part
    burnt: Guide
    cuts: tuple[CutPlan, ...]
    card: KerfCard
    laser: Laser
    floating: Floating | None
    locating: LocatingReport | None
    loading: Loading
    machined: Machining
    seated: Seated | None
    findings: tuple[Finding, ...]
    proofs: tuple[Proof, ...] = ()
    turned: Turned | None = None

    @property
    def critical(self) -> tuple[CriticalError, ...]:
        """The location error of each critical feature, however the part is located."""
        if self.floating is not None:
            return self.floating.critical
        return self.locating.critical if self.locating is not None else ()

    @property
    def lean(self) -> Lean | None:
        """How the walls lean as the plates lie in use; None when the kerf card does not tell."""
        thickness_mm = self.guide.plates[0].thickness_mm
        return wall_lean(self.card, thickness_mm=thickness_mm, use=self.setup.lean)

    @property
    def zero(self) -> Point:
        """Program zero in the coordinates of the guide's first plate, mm."""
        x, y, _ = self.setup.zero_mm
        return self.guide.plates[0].to_part.inverse().point(x, y)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A whole job, worked out.

    Args:
        job: what was asked.
        setups: each set-up, in the order they are run.
        pairs: errors between features that the drawing ties across set-ups.
        cut_in: (plate, file without its ending) of plates that share a file with others.
    """

    job: Job
    setups: tuple[PlannedSetup, ...]
    pairs: tuple[PairError, ...] = ()
    cut_in: tuple[tuple[str, str], ...] = ()

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Every finding, in the order of the set-ups, then those of tied features."""
        return (
            *(f for planned in self.setups for f in planned.findings),
            *check_pairs(self.job.part.critical, self.pairs),
        )

    @property
    def is_good(self) -> bool:
        """Whether no check failed."""
        return all(f.severity is not Severity.FAIL for f in self.findings)


def plan(job: Job, *, has_checked: bool = False) -> Plan:
    """Return the plan of a job.

    Args:
        job: what was asked.
        has_checked: whether a person says to have read the sheets' safety data.

    Raises:
        InputError, GeometryError: a set-up cannot be made at all.
    """
    setups = _compared(
        job, tuple(_planned(job, setup, has_checked=has_checked) for setup in job.setups)
    )
    # Only set-ups that see the part as it is drawn speak of the drawing's x and y.
    seen = [s.critical for s in setups if s.part is job.part]
    return Plan(job=job, setups=setups, pairs=pair_errors(job.part.critical, seen))


def _compared(job: Job, setups: tuple[PlannedSetup, ...]) -> tuple[PlannedSetup, ...]:
    """Return the set-ups, each that sees the other side compared with the earlier one."""
    sides = {
        s.setup.name: Side(setup=s.setup, guide=s.guide, part=s.part, critical=s.critical)
        for s in setups
        if (s.part is job.part or s.setup.blank is not None) and is_located(s.guide)
    }
    turned = turned_over(tuple(sides.values()))
    out = []
    for planned in setups:
        found = turned.get(planned.setup.name)
        if found is not None:
            told = check_turned(
                found,
                subject=f'{planned.guide.kind} "{planned.setup.name}"',
                contacts=sides[found.before].guide.contacts,
            )
            planned = replace(planned, turned=found, findings=(*planned.findings, told))
        out.append(planned)
    return tuple(out)


def _planned(job: Job, setup: Setup, *, has_checked: bool) -> PlannedSetup:
    sheet = job.shop.sheet(setup.sheet, where=setup.key_path + ".sheet")
    laser, card = job.shop.laser_for(sheet.name, setup.laser, where=setup.key_path + ".laser")
    part = setup.seen(job.part)
    made = on_jaws(KINDS[setup.guide].make(part, setup, job.shop), part, setup, job.shop)
    paths = setup_paths(part, setup) if made.plane is Plane.XY else ()
    made, relief_findings = relieved_guide(made, setup, paths)
    below = is_read_below(setup, sheet)
    made, flip_findings = flip_marked(made, part, setup, mirror_writing=below)
    marked, mark_findings = _marked(made, job, card, setup.lean, mirror_writing=below)
    guide = marked.moved(RIM_MM, RIM_MM + STRIP_MM)
    burnt = in_laser(guide, setup.lean)
    cuts = tuple(
        cut_plan(
            plate, card, keep_clear=locating_stretches(burnt, plate, part.region), tabs=setup.tabs
        )
        for plate in burnt.plates
    )
    subject = f'{guide.kind} "{setup.name}"'
    finder = job.shop.finder(setup.finder, where=setup.key_path + ".finder")
    frame = guide.frame
    if frame is None:
        frame = tuple(
            source
            for plate in guide.plates
            for source in face_frame(
                tuple(face.normal for face in guide.faces if face.plate == plate.name),
                to_part=plate.to_part,
                finder=finder,
                card=card,
            )
        )
    stock = guide.base.material if guide.base is not None else sheet.material
    guide, frame, growth_findings = _grown(job, setup, guide, card, stock, frame, subject)
    floats, located = None, None
    push = setup.push.on(part.region)
    if guide.pocket is not None:
        floats = floating(
            part,
            guide.pocket,
            clearance_mm=guide.clearance_mm,
            u_kerf_mm=card.u_mm,
            subject=subject,
            frame=frame,
        )
    elif guide.contacts:
        located = locating_report(part, guide.contacts, frame=frame, push=push)
    loads = loading(part, guide, floats, subject=subject)
    machined = machining(
        part,
        setup,
        job.shop,
        guide,
        paths=paths,
        earlier=tuple(itertools.takewhile(lambda other: other is not setup, job.setups)),
        sheet=sheet,
        card=card,
        finder=finder,
    )
    sits = seated(part, setup, guide, located, machined, push=push, subject=subject)
    findings = [
        *guide.findings,
        *growth_findings,
        *(floats.findings if floats is not None else ()),
        *(located.findings if located is not None else ()),
        *loads.findings,
        *relief_findings,
        *machined.findings,
        *(sits.findings if sits is not None else ()),
        *check_push_used(sits, push, subject=subject),
        *check_lean(part, setup, guide, sheet, card, subject=subject),
        *flip_findings,
        *mark_findings,
        *(f for plate in burnt.plates for f in check_marks(plate)),
        *(f for plate in burnt.plates for f in _check_webs(plate, subject)),
        *_check_fits_sheet(burnt, cuts, laser, sheet),
        *check_stock(
            sheet.material,
            thickness_mm=sheet.thickness_mm,
            subject=f'sheet "{sheet.name}"',
            has_checked=has_checked,
        ),
    ]
    return PlannedSetup(
        setup=setup,
        guide=guide,
        burnt=burnt,
        part=part,
        cuts=cuts,
        card=card,
        laser=laser,
        floating=floats,
        locating=located,
        loading=loads,
        machined=machined,
        seated=sits,
        findings=tuple(findings),
    )


def _grown(
    job: Job,
    setup: Setup,
    guide: Guide,
    card: KerfCard,
    stock: str,
    frame: tuple[FrameSource, ...],
    subject: str,
) -> tuple[Guide, tuple[FrameSource, ...], tuple[Finding, ...]]:
    """Return guide and frame with what temperature and moisture do to them."""
    change_k = setup.change_k + warmer_k(setup.used_at_c, card)
    if change_k == 0.0 and setup.change_percent == 0.0:
        return guide, frame, ()
    plastic = growth_per_unit(stock, change_k=change_k, change_percent=setup.change_percent)
    material = setup.seen(job.part).material
    metal = growth_per_unit(material, change_k=change_k)
    if plastic is None or metal is None:
        unknown = stock if plastic is None else material
        return guide, frame, (unknown_growth(subject, unknown),)
    corner = pick_up_corner(guide)
    # A floating part is carried along by the pocket, one that rests on contacts by itself.
    carried = max(plastic, metal) if guide.pocket is not None else metal
    contacts = warmed_contacts(
        guide.contacts, corner=corner, guide_growth=plastic, part_growth=metal
    )
    return (
        replace(guide, contacts=contacts),
        (*frame, growth_frame(corner=corner, growth=carried)),
        check_used_at(guide, setup.used_at_c, card, stock=stock, subject=subject),
    )


def _marked(
    guide: Guide, job: Job, card: KerfCard, use: LeanUse, *, mirror_writing: bool
) -> tuple[Guide, tuple[Finding, ...]]:
    """Return the guide with its plates engraved, and the marks that found no room."""
    plates: list[Plate] = []
    findings: list[Finding] = []
    for plate in guide.plates:
        lines = (
            f"JOB {job.number} REV {job.revision}",
            f"{plate.name.upper()} {guide.kind.upper()}",
            f"{plate.stock} {plate.thickness_mm:.2f} mm",
            f"KERF {card.name}",
            f"JIGS {VERSION}",
            *plate.lines,
        )
        marks = plate_marks(
            plate=plate.name,
            region=plate.region,
            plane=guide.plane,
            faces=guide.faces,
            lines=(*lines[:2], *plate.lines) if plate.is_small else lines,
            identity_only=plate.is_small,
            use=use,
            mirror_writing=mirror_writing,
            taken=tuple(s.points for s in plate.strokes if s.operation is not Operation.REFERENCE),
        )
        plates.append(replace(plate, strokes=(*plate.strokes, *marks.strokes)))
        findings += marks.findings
    return replace(guide, plates=tuple(plates)), tuple(findings)


def _check_webs(plate: Plate, subject: str) -> list[Finding]:
    """Return a finding when plate is thinner, or a slot narrower, than plastic and beam allow.

    Source: web and hole at least as wide as the sheet is thick; cuts closer than 0.5 mm burn
    what is between them (laser services' design rules).
    """
    findings = []
    web = thinnest_web(plate.region, below_mm=plate.thickness_mm)
    if web is not None and web.width_mm < plate.thickness_mm - COINCIDENT_MM:
        findings.append(
            Finding(
                code="web-thin",
                severity=Severity.FAIL,
                subject=f"{subject}: web",
                message=(
                    f"web is {web.width_mm:.2f} mm at ({web.centre.x:.1f}, {web.centre.y:.1f}) mm "
                    f"of the cut file; it must be at least {plate.thickness_mm:.2f} mm, "
                    "the sheet's thickness"
                ),
                measured=web.width_mm,
                limit=plate.thickness_mm,
                unit="mm",
                hint="widen the plate there, turn the part, or make the notch or relief smaller",
            )
        )
    return findings


def _check_fits_sheet(
    guide: Guide, cuts: tuple[CutPlan, ...], laser: Laser, sheet: Sheet
) -> list[Finding]:
    """Return a finding for each plate that fits neither the sheet nor the laser's bed."""
    findings = []
    for plate, cut in zip(guide.plates, cuts, strict=True):
        need = sorted(
            (
                plate.region.bounds().width + 2 * cut_margin_mm(cut),
                plate.region.bounds().height + 2 * cut_margin_mm(cut),
            )
        )
        for what, size in (("sheet", sheet.size_mm), ("laser bed", laser.bed_mm)):
            room = sorted(size)
            if need[0] <= room[0] and need[1] <= room[1]:
                continue
            findings.append(
                Finding(
                    code="plate-too-large",
                    severity=Severity.FAIL,
                    subject=f'plate "{plate.name}"',
                    message=(
                        f"the plate needs {need[1]:.1f} × {need[0]:.1f} mm; "
                        f"the {what} is {room[1]:.1f} × {room[0]:.1f} mm"
                    ),
                    measured=need[1],
                    limit=room[1],
                    unit="mm",
                    hint="turn the part, narrow the border, or use a larger sheet",
                )
            )
    return findings


def cut_margin_mm(cut: CutPlan) -> float:
    """Return how far the beam reaches outside the plate: a whole kerf, mm."""
    return cut.kerf.kerf_mm if cut.kerf is not None else 0.0
