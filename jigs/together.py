"""Several jobs on the shop's sheets: plates of one sheet and one laser, laid out together.

Each job keeps its own folder with its record, set-up sheet and preview. The cut files are one a
sheet, or one a guide when the shop wants that; on a sheet every layer has the same frame, the
sheet's own corner. Remnants are used up first. Every sheet's file is cut virtually, and each
plate that falls out is compared with the one its own file leaves, which has been proven against
the part; a sheet whose plates differ is not written.

Jobs must share one shop file: two that say different things of one sheet cannot be cut from it.
Plates of different sheets, or for different lasers, go on different sheets, and that is said.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import numpy as np
import shapely
from shapely import affinity

from jigs.burning import duration
from jigs.cut_files import HEAT_MM, LEAD_MM, locating_stretches, statement_strokes
from jigs.guides.guide import Plate
from jigs.layouts import Layout, layouts_bytes, stored_layout
from jigs.output_profile import OutputProfile
from jigs.outputs import cut_layers, drawn_files, output_files
from jigs.plan import Plan, PlannedSetup
from jigs.proof import Asked, CutFileUnproven, plates_left
from jigs.remnants import Remnant, remnant_of, shop_with_remnants
from jigs.shop import Laser, Sheet
from kerf.beam import (
    BeamPath,
    CutPlan,
    KerfCard,
    Operation,
    Stroke,
    beam_paths,
    commanded_strokes,
    drawn_paths,
)
from kerf.burn_time import burn_time
from kerf.contour import Contour, Point, Region, Transform
from kerf.errors import InputError
from kerf.lead import Stretch, with_lead_in
from kerf.order import check_apart, ordered
from kerf.stock import LaidStock, Piece, Stock
from kerf.tolerance import PROOF_CONTACT_MM
from kerf.writing.disk import read_text, write_set

#: Statement's lettering stands this far from the sheet's corner, mm.
_STATEMENT_AT: Final = Point(2.0, 2.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class CutPiece:
    """A plate of a job, to be laid on a sheet.

    Args:
        job: folder of its job.
        planned: its set-up.
        plate: in the coordinates of its own cut file.
    """

    job: str
    planned: PlannedSetup
    plate: Plate

    @property
    def name(self) -> str:
        """What it is called among the plates of all jobs."""
        return f"{self.job}/{self.plate.name}"


@dataclass(frozen=True, slots=True, kw_only=True)
class CutSheet:
    """One sheet or remnant, laid out.

    Args:
        name: stem of its file.
        sheet, laser, card: what it is, and what cuts it.
        pieces: those it was laid out from; ``laid`` holds indices into them.
        laid: where they lie.
        plan: what the laser does.
        dense_s: seconds the dense layout library had for it; 0 for the own layout.
    """

    name: str
    sheet: Sheet
    laser: Laser
    card: KerfCard
    pieces: tuple[CutPiece, ...]
    laid: LaidStock
    plan: CutPlan
    dense_s: int = 0

    @property
    def pieces_asked(self) -> tuple[Piece, ...]:
        """The plates as they were laid out: name and finished size."""
        return tuple(Piece(name=p.name, region=p.plate.region) for p in self.pieces)

    @property
    def remnant(self) -> Remnant | None:
        """What is left of it, to be put on the shelf."""
        if self.laid.left is None:
            return None
        return remnant_of(self.name, self.sheet.name, self.laid.left)

    @property
    def density(self) -> float:
        """Share of the sheet that becomes plates."""
        area = sum(self.pieces[p.piece].plate.region.area_mm2 for p in self.laid.places)
        return area / self.laid.stock.region.area_mm2

    def describe(self) -> str:
        """Return one line on the sheet."""
        names = ", ".join(self.pieces[p.piece].name for p in self.laid.places)
        left = self.laid.left
        kept = f"; left {left.area_mm2 / 100:.0f} cm²" if left is not None else ""
        speeds = self.laser.speeds_for(self.sheet.name)
        if speeds is not None:
            kept += f"; {duration(burn_time(self.plan, speeds).total_s)} at the laser"
        kind = "remnant" if self.laid.stock.is_remnant else "sheet"
        return (
            f'{self.name}: {kind} "{self.laid.stock.name}" on {self.laser.name}: {names}; '
            f"{self.density:.0%} becomes plates{kept}"
        )


def cut_sheets(
    plans: Sequence[Plan], *, dense_s: int = 0, kept: Path | None = None
) -> tuple[CutSheet, ...]:
    """Return the sheets that the plates of several jobs are cut from.

    Args:
        plans: the jobs.
        dense_s: seconds for the dense layout library; 0 leaves it out.
        kept: folder of an earlier layout. A dense one of the same pieces is taken from there,
            measured anew, because the library does not give the same twice.

    Raises:
        InputError: the jobs name different shop files, or one job number twice.
        GeometryError: a plate that no sheet takes.
    """
    shop = plans[0].job.shop
    for plan in plans[1:]:
        if plan.job.shop.file.resolve() != shop.file.resolve():
            raise InputError(
                f'jobs "{plans[0].job.number}" and "{plan.job.number}" name different shop files: '
                f"{shop.file.name} and {plan.job.shop.file}",
                where=f"{plan.job.file.name}: shop",
                hint="jobs cut together need the same sheets and laser: name one shop file",
            )
    numbers = [folder_name(plan) for plan in plans]
    for i, number in enumerate(numbers):
        if number in numbers[:i]:
            raise InputError(
                f'two jobs are numbered "{number}"',
                where=f"{plans[i].job.file.name}: job.number",
                hint="give each its own number: it names its folder and its plates",
            )
    groups: dict[tuple[str, str], list[CutPiece]] = {}
    for plan in plans:
        for planned in plan.setups:
            for plate in planned.burnt.plates:
                piece = CutPiece(job=folder_name(plan), planned=planned, plate=plate)
                groups.setdefault((plate.stock, planned.laser.name), []).append(piece)
    out: list[CutSheet] = []
    used: set[str] = set()
    for (stock, _), pieces in groups.items():
        sheet = shop.sheet(stock, where=shop.file.name)
        shelf = [r.stock for r in shop.remnants if r.sheet == stock and r.name not in used]
        for laid in _laid(pieces, sheet, shelf, dense_s, kept):
            if laid.stock.is_remnant:
                used.add(laid.stock.name)
            name = f"sheet-{stock}-{'-'.join(numbers)}-{len(out) + 1}"
            cut = _cut_sheet(name, sheet, pieces, laid)
            out.append(replace(cut, dense_s=dense_s))
    return tuple(out)


def folder_name(plan: Plan) -> str:
    """Return a job's number as the name of its folder: letters, digits, dots and dashes."""
    return re.sub(r"[^\w.-]+|^\.+", "-", plan.job.number)


def _laid(
    pieces: Sequence[CutPiece],
    sheet: Sheet,
    shelf: Sequence[Stock],
    dense_s: int,
    kept: Path | None,
) -> tuple[LaidStock, ...]:
    """Return the plates of one sheet and laser laid out on the bed's worth of stock."""
    first = pieces[0].planned
    kerf = first.card.kerf_mm
    bed = sorted(first.laser.bed_mm)
    lying = sheet.size_mm[0] >= sheet.size_mm[1]
    width, height = (bed[1], bed[0]) if lying else (bed[0], bed[1])
    outline = Contour.rectangle(0, 0, min(sheet.size_mm[0], width), min(sheet.size_mm[1], height))
    fitting = [
        s for s in shelf if s.region.bounds().x_max <= width and s.region.bounds().y_max <= height
    ]
    asked = Layout(
        pieces=tuple(Piece(name=p.name, region=p.plate.region) for p in pieces),
        remnants=tuple(fitting),
        sheet=Stock(name=sheet.name, region=Region(outer=outline)),
        gap_mm=sheet.gap_mm + 2 * kerf,
        margin_mm=sheet.margin_mm + kerf,
        turns=sheet.turns,
    )
    if dense_s and kept is not None and (stored := stored_layout(kept, asked, dense_s=dense_s)):
        return stored
    return asked.laid_out(dense_s=dense_s)


def _cut_sheet(
    name: str,
    sheet: Sheet,
    pieces: Sequence[CutPiece],
    laid: LaidStock,
) -> CutSheet:
    """Return one laid sheet with its cut plan."""
    card = pieces[0].planned.card
    plan = _sheet_plan(name, pieces, laid, card, lead_mm=min(LEAD_MM, sheet.gap_mm / 2))
    check_apart(plan.paths, least_mm=sheet.gap_mm + card.kerf_mm)
    return CutSheet(
        name=name,
        sheet=sheet,
        laser=pieces[0].planned.laser,
        card=card,
        pieces=tuple(pieces),
        laid=laid,
        plan=plan,
    )


def _sheet_plan(
    name: str,
    pieces: Sequence[CutPiece],
    laid: LaidStock,
    card: KerfCard | None,
    *,
    lead_mm: float,
) -> CutPlan:
    """Return what the laser does on one sheet; without a card, the finished sizes."""
    box = laid.stock.region.bounds()
    strokes: list[Stroke] = [_outline(laid.stock.region, name)]
    paths: list[BeamPath] = []
    for place in laid.places:
        piece = pieces[place.piece]
        region = piece.plate.region.transformed(place.to_stock)
        clear = tuple(
            _moved(s, place.to_stock)
            for s in locating_stretches(piece.planned.burnt, piece.plate, piece.planned.part.region)
        )
        strokes += [
            replace(s, points=tuple(place.to_stock.point(*p) for p in s.points), piece=piece.name)
            for s in piece.plate.strokes
            if s.operation is not Operation.REFERENCE  # jaws and parts would lie on neighbours
        ]
        if card is None:
            paths += drawn_paths(region, piece=piece.name)
        else:
            paths += [
                with_lead_in(path, lead_mm=lead_mm, keep_clear=clear)
                for path in beam_paths(region, card, piece=piece.name)
            ]
    plan = CutPlan(
        width_mm=box.x_max,
        height_mm=box.y_max,
        strokes=tuple(strokes) if card is None else commanded_strokes(tuple(strokes), card),
        paths=tuple(paths),
        kerf=card,
        left_to_laser=card is None,
        mirrored=tuple(
            pieces[place.piece].name
            for place in laid.places
            if pieces[place.piece].plate.is_mirrored
        ),
    )
    plan = ordered(plan, heat_mm=HEAT_MM)
    stated = statement_strokes(plan, name, at=_STATEMENT_AT, room_mm=box.x_max / 2)
    return replace(plan, strokes=(*plan.strokes, *stated))


def _outline(region: Region, name: str) -> Stroke:
    """Return the stock's edge as a reference: the frame every layer shares."""
    points = [Point(v.x, v.y) for v in region.outer.vertices]
    return Stroke(operation=Operation.REFERENCE, points=(*points, points[0]), piece=name)


def _moved(stretch: Stretch, by: Transform) -> Stretch:
    return Stretch(start=by.point(*stretch.start), end=by.point(*stretch.end))


def together_files(
    plans: Sequence[Plan],
    sheets: Sequence[CutSheet],
    *,
    release: str | None = None,
    with_proof: bool = True,
) -> tuple[tuple[Plan, ...], dict[str, bytes]]:
    """Return the plans with their proofs, and every file: path from the output folder → bytes.

    Args:
        plans: the jobs.
        sheets: from ``cut_sheets``.
        release: DXF release; the shop's when None.
        with_proof: cut every file virtually before it is offered.
    Raises:
        CutFileUnproven: a sheet's file does not leave the plates that their own files leave.
    """
    profile = plans[0].job.shop.output
    if release is not None:
        profile = replace(profile, release=release)
    files: dict[str, bytes] = {}
    proven = []
    for plan in plans:
        if profile.file_per == "sheet":
            plan = replace(plan, cut_in=_cut_in(plan, sheets, profile))
        done, own = output_files(plan, release=release, with_proof=with_proof)
        proven.append(done)
        stems = {profile.stem(p.name) for s in plan.setups for p in s.guide.plates}
        for file, content in own.items():
            is_cut = file.rsplit(".", 1)[0] in stems
            if not is_cut or profile.file_per == "guide":
                files[f"{folder_name(plan)}/{file}"] = content
    files["layout.json"] = layouts_bytes(
        tuple((s.name, s.pieces_asked, s.laid) for s in sheets),
        dense_s=min((s.dense_s for s in sheets), default=0),
    )
    if profile.file_per == "guide":
        return tuple(proven), files
    for sheet in sheets:
        dxf, svg = drawn_files(sheet.plan, profile)
        if with_proof:
            _prove(sheet, dxf, profile)
        if not profile.has_kerf:
            plain = _sheet_plan(sheet.name, sheet.pieces, sheet.laid, None, lead_mm=0.0)
            dxf, svg = drawn_files(plain, profile)
        stem = profile.stem(sheet.name)
        files[f"{stem}.dxf"], files[f"{stem}.svg"] = dxf, svg
    return tuple(proven), files


def _cut_in(
    plan: Plan, sheets: Sequence[CutSheet], profile: OutputProfile
) -> tuple[tuple[str, str], ...]:
    """Return which file each plate of a job is cut in, seen from the job's own folder."""
    return tuple(
        (sheet.pieces[place.piece].plate.name, f"../{profile.stem(sheet.name)}")
        for sheet in sheets
        for place in sheet.laid.places
        if sheet.pieces[place.piece].job == folder_name(plan)
    )


def _prove(sheet: CutSheet, dxf: bytes, profile: OutputProfile) -> None:
    """Refuse a sheet's file that leaves other plates than their own files do."""
    card = sheet.card
    asked = Asked(
        outline=(),
        to_part=Transform().rows(),
        beam_mm=(card.along_x_mm, card.along_y_mm),
        least_gap_mm=0.0,
        scale=(card.scale_x, card.scale_y),
        inside_extra_mm=card.inside_extra_mm,
        curve_mm2=card.curve_mm2,
        layers=cut_layers(profile),
    )
    fell = plates_left(dxf, asked)
    if len(fell) != len(sheet.laid.places):
        raise CutFileUnproven(
            f"the file of {sheet.name} leaves {len(fell)} plates, not {len(sheet.laid.places)}",
            hint="this is a fault of the program: keep the jobs and report it",
        )
    for place in sheet.laid.places:
        piece = sheet.pieces[place.piece]
        index = piece.planned.burnt.plates.index(piece.plate)
        own_dxf, _ = drawn_files(piece.planned.cuts[index], profile)
        (own,) = plates_left(own_dxf, asked)
        back = place.to_stock.inverse()
        matrix = [back.a, back.b, back.d, back.e, back.c, back.f]
        off_mm = min(_off_mm(affinity.affine_transform(p, matrix), own) for p in fell)
        if off_mm > PROOF_CONTACT_MM:
            raise CutFileUnproven(
                f'plate "{piece.name}" from {sheet.name} lies {off_mm:.4f} mm off '
                "the one its own file leaves",
                hint="this is a fault of the program: keep the jobs and report it",
            )


def _off_mm(one: Any, other: Any) -> float:
    """Return how far the edges of two plates lie apart at worst, mm; infinite if far off."""
    a, b = np.array(one.bounds), np.array(other.bounds)
    if np.abs(a - b).max() > 1.0:
        return float("inf")
    worst = 0.0
    for p, q in ((one, other), (other, one)):
        edge = shapely.boundary(q)
        shapely.prepare(edge)
        points = shapely.points(shapely.get_coordinates(p))
        worst = max(worst, float(shapely.distance(points, edge).max()))
    return worst


def write_together(
    plans: Sequence[Plan],
    sheets: Sequence[CutSheet],
    folder: Path,
    *,
    release: str | None = None,
    with_proof: bool = True,
) -> tuple[tuple[Plan, ...], tuple[Path, ...]]:
    """Write every file of jobs laid out together; return plans with proofs, and the paths.

    Raises:
        InputError: a file cannot be written; the previous files stay as they were.
        CutFileUnproven: see ``together_files``; nothing is written.
    """
    if folder.exists() and not folder.is_dir():
        raise InputError(
            "--out names a file; it must be a folder", where=str(folder), hint="choose another"
        )
    done, files = together_files(plans, sheets, release=release, with_proof=with_proof)
    write_set({folder / name: content for name, content in files.items()})
    return done, tuple(folder / name for name in files)


def put_back(plans: Sequence[Plan], sheets: Sequence[CutSheet]) -> tuple[Path, str]:
    """Return the shop file and its text with used remnants out and new ones in."""
    file = plans[0].job.shop.file
    used = [s.laid.stock.name for s in sheets if s.laid.stock.is_remnant]
    left = [s.remnant for s in sheets if s.remnant is not None]
    text = shop_with_remnants(
        read_text(file, what="shop file"), used=used, left=left, name=file.name
    )
    return file, text
