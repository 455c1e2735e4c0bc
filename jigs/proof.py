"""The program's own laser: cut the file that is about to be written, load the part, measure.

It starts from the bytes of the cut file, read back as any laser's software would, and shares
no geometry with the code that made them: arcs are resolved here from the bulge's definition,
the beam's swath is shapely's buffer of its path, the sheet less the swath falls into pieces,
and the part's points are laid into what is left by the record's pose. A file whose walls,
contacts or faces are not where the record says is not written at all.

Everything is faceted with a sagitta of ``PROOF_FACET_MM``, far below the limits.
"""

from __future__ import annotations

import bisect
import io
import itertools
import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from jigs.finding import Finding, Severity
from kerf.errors import KerfError
from kerf.tolerance import (
    COINCIDENT_MM,
    CURVE_LEAST_RADIUS_MM,
    PROOF_CONTACT_MM,
    PROOF_FACET_MM,
    PROOF_OFFSET_MM,
    PROOF_SLIVER_MM2,
    PROOF_SPACING_MM,
)

Floats = NDArray[np.float64]
Rows = tuple[tuple[float, float, float], ...]


class CutFileUnproven(KerfError):
    """A cut file that does not leave what the record says; it is never written."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the record says the file leaves, in plain numbers.

    Args:
        outline: the part's outline, (x, y, bulge), part coordinates, mm; empty for a sheet that
            lies under the part.
        to_part: 2 × 3, sheet → part.
        beam_mm: size of the beam along x and along y, mm.
        scale: length cut over length commanded, along x and along y.
        inside_extra_mm: by how much the beam is wider in cut-outs, mm.
        curve_mm2: by how much it is wider on arcs, times their radius, mm².
        least_gap_mm: clearance that every point of the outline has at least; below 0, by how much
            the plate covers it at least.
        contacts: (name, x, y) where the part touches, part coordinates.
        pad_mm: how far from a contact its pad reaches; beyond it the gap is at least
            ``least_gap_mm``. None when nothing is asked there.
        faces: (name, x1, y1, x2, y2) of the faces, sheet coordinates.
        offsets: (face, 0 for x or 1 for y, offset from program zero in mm).
        zero: program zero, part coordinates.
        layers: names of the layers of cut-outs and of outsides.
        holes: (name, x, y, diameter in mm) of holes that must be there, part coordinates.
        copies: shift of each pocket from the first, sheet coordinates, mm.
    """

    outline: Rows
    to_part: tuple[tuple[float, float, float], tuple[float, float, float]]
    beam_mm: tuple[float, float]
    least_gap_mm: float
    scale: tuple[float, float] = (1.0, 1.0)
    inside_extra_mm: float = 0.0
    curve_mm2: float = 0.0
    contacts: tuple[tuple[str, float, float], ...] = ()
    pad_mm: float | None = None
    faces: tuple[tuple[str, float, float, float, float], ...] = ()
    offsets: tuple[tuple[str, int, float], ...] = ()
    zero: tuple[float, float] = (0.0, 0.0)
    layers: tuple[str, str] = ("INSIDE", "OUTSIDE")
    holes: tuple[tuple[str, float, float, float], ...] = ()
    copies: tuple[tuple[float, float], ...] = ((0.0, 0.0),)


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """What the virtual cut measured.

    Args:
        plate: name of the plate.
        least_gap_mm, greatest_gap_mm: part to plate, over the outline; None for a sheet that
            lies under the part.
        contact_gaps_mm: (contact, gap).
        wall_gap_mm: least gap away from the pads of a part that rests on contacts; None when it
            floats, or touches the walls as they are.
        offset_errors_mm: (face, measured offset less the stated one).
        hole_errors_mm: (hole, the greater of how far its wall and its middle are off).
        findings: what is not as the record says; empty when proven.
    """

    plate: str
    least_gap_mm: float | None
    greatest_gap_mm: float | None
    contact_gaps_mm: tuple[tuple[str, float], ...]
    offset_errors_mm: tuple[tuple[str, float], ...]
    findings: tuple[Finding, ...]
    hole_errors_mm: tuple[tuple[str, float], ...] = ()
    wall_gap_mm: float | None = None

    @property
    def is_proven(self) -> bool:
        """Whether everything is where the record says."""
        return not self.findings


def proof(plate: str, dxf: bytes, asked: Asked) -> Proof:
    """Return what the cut file leaves, measured.

    Args:
        plate: name of the plate.
        dxf: the file's bytes.
        asked: what the record says.
    """
    piece = _cut(dxf, asked)
    if piece is None:
        return Proof(
            plate=plate,
            least_gap_mm=math.nan,
            greatest_gap_mm=math.nan,
            contact_gaps_mm=(),
            offset_errors_mm=(),
            findings=(_fault(plate, "the plate does not stay in one piece"),),
        )
    walls = _Walls(piece)
    gaps: list[Floats] = []
    if asked.outline:
        outline = _in_sheet(_outline_points(asked.outline), asked.to_part)
        gaps = [walls.gaps(outline + by) for by in asked.copies]
    least = min((float(g.min()) for g in gaps), default=None)
    greatest = max((float(g.max()) for g in gaps), default=None)
    contacts = tuple(
        (
            name if number == 1 else f"{name} of copy {number}",
            float(walls.gaps(_in_sheet(np.array([[x, y]]), asked.to_part) + by)[0]),
        )
        for number, by in enumerate(asked.copies, 1)
        for name, x, y in asked.contacts
    )
    wall = None
    if gaps and asked.contacts and asked.pad_mm is not None:
        touching = _in_sheet(np.array([[x, y] for _, x, y in asked.contacts]), asked.to_part)
        apart = np.hypot(*(outline[:, None] - touching[None]).transpose(2, 0, 1)).min(axis=1)
        wall = min(float(g[apart > asked.pad_mm].min(initial=math.inf)) for g in gaps)
    offsets = tuple(
        (face, _face_at(piece, asked, face, axis) - offset) for face, axis, offset in asked.offsets
    )
    holes = tuple((hole[0], _hole_error_mm(piece, asked, *hole[1:])) for hole in asked.holes)
    return Proof(
        plate=plate,
        least_gap_mm=least,
        greatest_gap_mm=greatest,
        contact_gaps_mm=contacts,
        offset_errors_mm=offsets,
        findings=(
            *_findings(plate, asked, gaps, contacts, offsets, holes),
            *_check_wall(plate, asked, wall),
        ),
        hole_errors_mm=holes,
        wall_gap_mm=wall if wall is not None and math.isfinite(wall) else None,
    )


def _findings(
    plate: str,
    asked: Asked,
    gaps: Iterable[Floats],
    contacts: Iterable[tuple[str, float]],
    offsets: Iterable[tuple[str, float]],
    holes: Iterable[tuple[str, float]],
) -> Iterable[Finding]:
    """Yield what is not as asked."""
    for number, gap in enumerate(gaps, 1):
        copy = f" of copy {number}" if number > 1 else ""
        least, greatest = float(gap.min()), float(gap.max())
        if asked.least_gap_mm < 0.0:
            if abs(greatest - asked.least_gap_mm) > PROOF_CONTACT_MM:
                yield _fault(
                    plate,
                    f"it covers {-greatest:.4f} mm of the part, asked {-asked.least_gap_mm:.4f} mm",
                )
            continue
        # A beam rounds the foot of a pad, so a gap may fall short only where something touches.
        wanted = 0.0 if asked.contacts else asked.least_gap_mm
        if least < wanted - PROOF_CONTACT_MM or (
            not asked.contacts and least > wanted + PROOF_CONTACT_MM
        ):
            yield _fault(
                plate, f"least gap to the part{copy} is {least:.4f} mm, asked {wanted:.4f} mm"
            )
    for name, off in contacts:
        if abs(off) > PROOF_CONTACT_MM:
            yield _fault(plate, f"contact {name} stands {off:.4f} mm off the part")
    for name, error in holes:
        if not error <= PROOF_CONTACT_MM:
            yield _fault(plate, f"hole {name} is {error:.4f} mm from where the record says")
    for face, error in offsets:
        if not abs(error) <= PROOF_OFFSET_MM:
            yield _fault(plate, f"face {face} lies {error:.4f} mm from where the record says")


def _check_wall(plate: str, asked: Asked, wall_mm: float | None) -> Iterable[Finding]:
    """Yield a finding when a wall comes nearer to the part than asked, away from the pads."""
    if wall_mm is not None and wall_mm < asked.least_gap_mm - PROOF_CONTACT_MM:
        yield _fault(
            plate,
            f"a wall stands {wall_mm:.4f} mm off the part, asked {asked.least_gap_mm:.4f} mm",
        )


def _fault(plate: str, message: str) -> Finding:
    return Finding(
        code="cut-file-unproven",
        severity=Severity.FAIL,
        subject=f'cut file of plate "{plate}"',
        message=message,
        hint="this is a fault of the program: keep the job and report it; nothing was written",
    )


def _cut(dxf: bytes, asked: Asked) -> Any | None:
    """Return the plate that stays when the beam has run, or None when it falls apart."""
    stays = plates_left(dxf, asked)
    return stays[0] if len(stays) == 1 else None


def plates_left(dxf: bytes, asked: Asked) -> tuple[Any, ...]:
    """Return the plates that stay when the beam has run, as shapely Polygons, true mm.

    A piece is a plate when the nearest loop round it is the outside of one; what a cut-out
    encloses is scrap, unless another plate lies in it.

    Args:
        dxf: the file's bytes.
        asked: the beam it is burnt with, and the file's layers.
    Returns:
        none when there are not as many pieces as outside cuts.
    """
    loops = _loops(dxf, asked)
    swath = shapely.union_all(
        [
            _swath(loop.rows, asked, 0.0 if loop.is_outside else asked.inside_extra_mm)
            for loop in loops
        ]
        + [
            _burnt(
                shapely.LineString(_run_points(loop.way_in) * asked.scale),
                *(b + (0.0 if loop.is_outside else asked.inside_extra_mm) for b in asked.beam_mm),
            )
            for loop in loops
            if loop.way_in
        ]
    )
    (x0, y0, x1, y1), rim = swath.bounds, 1.0
    left = shapely.box(x0 - rim, y0 - rim, x1 + rim, y1 + rim).difference(swath)
    # The smallest loop first: the first that holds a piece is the nearest round it.
    areas = sorted(
        ((shapely.Polygon(_points(loop.rows) * asked.scale), loop.is_outside) for loop in loops),
        key=lambda pair: float(pair[0].area),
    )
    stays = []
    for piece in shapely.get_parts(left):
        if piece.area < PROOF_SLIVER_MM2:
            continue
        at = piece.representative_point()
        if next((is_outside for area, is_outside in areas if area.contains(at)), False):
            stays.append(piece)
    return tuple(stays) if len(stays) == sum(loop.is_outside for loop in loops) else ()


def _swath(rows: Rows, asked: Asked, extra_mm: float) -> Any:
    """Return what the beam takes along one closed path, true mm.

    A beam that is wider on arcs runs edge by edge, each with its own width.
    """
    x, y = asked.beam_mm[0] + extra_mm, asked.beam_mm[1] + extra_mm
    if asked.curve_mm2 == 0.0:
        return _burnt(shapely.LinearRing(_points(rows) * asked.scale), x, y)
    points, wider, short = [], [], []
    for (x1, y1, bulge), (x2, y2, _) in zip(rows, (*rows[1:], rows[0]), strict=True):
        chord = math.hypot(x2 - x1, y2 - y1)
        radius = chord * (1 + bulge * bulge) / (4 * abs(bulge) or math.inf)
        is_wide = bulge != 0.0 and radius >= CURVE_LEAST_RADIUS_MM
        points.append(np.vstack((_edge_points(x1, y1, bulge, x2, y2), [[x2, y2]])) * asked.scale)
        wider.append(asked.curve_mm2 / radius if is_wide else 0.0)
        short.append(chord < min(x, y) and not is_wide)
    # No machine changes its speed within a beam's width: short edges are as wide as the
    # narrower of the longer edges before and after them.
    long = [i for i, is_short in enumerate(short) if not is_short]
    for i, is_short in enumerate(short):
        if is_short and long:
            after = bisect.bisect(long, i) % len(long)
            wider[i] = min(wider[long[after - 1]], wider[long[after]])
    edges = list(zip(points, wider, strict=True))
    # The beam is round everywhere; what is wider has square ends, so that it stays on its arc,
    # and two arcs in a row are burnt once more as one, or their ends would leave a crack.
    runs = [_burnt(shapely.LineString(edge), x, y) for edge in points]
    for (edge, extra), (more, next_extra) in zip(edges, (*edges[1:], edges[0]), strict=True):
        both = min(extra, next_extra)
        if extra > 0.0:
            runs.append(_burnt(shapely.LineString(edge), x + extra, y + extra, cap="flat"))
        if both > 0.0:
            joined = shapely.LineString(np.vstack((edge, more[1:])))
            runs.append(_burnt(joined, x + both, y + both, cap="flat"))
    return shapely.union_all(runs)


def _burnt(line: Any, x_mm: float, y_mm: float, *, cap: Literal["round", "flat"] = "round") -> Any:
    """Return the swath of an elliptical beam: a round one in a sheet stretched along y."""
    stretch = x_mm / y_mm
    wide = shapely.transform(line, lambda p: p * (1.0, stretch))
    burnt = shapely.buffer(wide, x_mm / 2, quad_segs=32, cap_style=cap)
    return shapely.transform(burnt, lambda p: p / (1.0, stretch))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Loop:
    """A closed cut, the way in to its first vertex, and whether it frees a plate."""

    rows: Rows
    way_in: Rows
    is_outside: bool


def _loops(dxf: bytes, asked: Asked) -> list[_Loop]:
    """Return the cuts of a file.

    A cut with a way in is an open polyline that ends on a vertex it passed before: from there
    on it is the loop. One with tabs is several, the last of which ends so on the first.
    """
    import ezdxf

    doc = ezdxf.read(io.StringIO(dxf.decode("utf-8", errors="replace")))
    found = []
    began: list[Rows] = []
    for entity in doc.modelspace():
        if entity.dxf.layer not in asked.layers:
            continue
        is_outside = entity.dxf.layer == asked.layers[1]
        kind = entity.dxftype()
        if kind == "CIRCLE":
            x, y = entity.dxf.center.x, entity.dxf.center.y
            r = entity.dxf.radius
            rows: Rows = ((x - r, y, 1.0), (x + r, y, 1.0))
        elif kind == "LWPOLYLINE":
            rows = tuple(entity.get_points("xyb"))  # type: ignore[attr-defined]
        else:
            rows = tuple(
                (v.dxf.location.x, v.dxf.location.y, v.dxf.bulge)
                for v in entity.vertices  # type: ignore[attr-defined]
            )
        if kind == "CIRCLE" or entity.is_closed:  # type: ignore[attr-defined]
            found.append(_Loop(rows=rows, way_in=(), is_outside=is_outside))
            continue
        # Runs that tabs part follow each other; a tab is taken as broken off flush.
        began.append(rows)
        end = rows[-1][:2]
        first = next(
            (
                i
                for i, row in enumerate(began[0][: len(began[0]) - (len(began) == 1)])
                if math.dist(row[:2], end) <= COINCIDENT_MM
            ),
            None,
        )
        if first is None:
            continue
        whole = tuple(row for run in began for row in run)
        way_in = whole[: first + 1] if first else ()
        found.append(_Loop(rows=whole[first:-1], way_in=way_in, is_outside=is_outside))
        began = []
    if began:
        x, y, _ = began[0][0]
        raise CutFileUnproven(
            f"a cut that begins at ({x:.3f}, {y:.3f}) does not close",
            hint="this is a fault of the program: keep the job and report it",
        )
    return found


def _run_points(rows: Rows) -> Floats:
    """Return points along an open run of edges, shape (n, 2)."""
    parts = [
        _edge_points(x1, y1, bulge, x2, y2)
        for (x1, y1, bulge), (x2, y2, _) in itertools.pairwise(rows)
    ]
    return np.vstack([*parts, [rows[-1][:2]]])


def _points(rows: Rows) -> Floats:
    """Return points on a closed line/arc loop, every vertex among them, shape (n, 2)."""
    return np.vstack(
        [
            _edge_points(x1, y1, bulge, *rows[(i + 1) % len(rows)][:2])
            for i, (x1, y1, bulge) in enumerate(rows)
        ]
    )


def _edge_points(x1: float, y1: float, bulge: float, x2: float, y2: float) -> Floats:
    """Return points on one edge, its end left out, shape (n, 2)."""
    if bulge == 0.0:
        return np.array([[x1, y1]])
    # Turn the chord's start about the centre; sweep is four times the bulge's angle.
    sweep = 4.0 * math.atan(bulge)
    middle = complex(x1 + x2, y1 + y2) / 2
    half = complex(x2 - x1, y2 - y1) / 2
    centre = middle + half * 1j / math.tan(sweep / 2)
    radius = abs(half) / abs(math.sin(sweep / 2))
    count = math.ceil(abs(sweep) / (2 * math.acos(max(0.0, 1 - PROOF_FACET_MM / radius))))
    turned = centre + (complex(x1, y1) - centre) * np.exp(1j * sweep * np.arange(count) / count)
    return np.column_stack((turned.real, turned.imag))


def _outline_points(rows: Rows) -> Floats:
    """Return points on the outline no further apart than ``PROOF_SPACING_MM``."""
    ring = _points(rows)
    step = np.roll(ring, -1, axis=0) - ring
    length = np.hypot(step[:, 0], step[:, 1])
    parts = [ring]
    for i in np.flatnonzero(length > PROOF_SPACING_MM):
        n = math.ceil(length[i] / PROOF_SPACING_MM)
        parts.append(ring[i] + step[i] * (np.arange(1, n) / n)[:, None])
    return np.vstack(parts)


def _in_sheet(points: Floats, to_part: tuple[tuple[float, ...], ...]) -> Floats:
    """Return part points in sheet coordinates. points: shape (n, 2)."""
    matrix = np.array(to_part)
    out: Floats = np.linalg.solve(matrix[:, :2], (points - matrix[:, 2]).T).T
    return out


class _Walls:
    """The edges of a plate in a tree, so that many points find their nearest one quickly."""

    def __init__(self, piece: Any) -> None:
        self._piece = piece
        shapely.prepare(piece)
        rings = [shapely.get_coordinates(ring) for ring in (piece.exterior, *piece.interiors)]
        edges = np.concatenate([np.stack((ring[:-1], ring[1:]), axis=1) for ring in rings])
        lines: Any = shapely.linestrings(edges)
        self._tree = shapely.STRtree(lines)

    def gaps(self, points: Floats) -> Floats:
        """Return the gap between each point and the plate, mm; negative inside the plate."""
        at = shapely.points(points)
        _, away = self._tree.query_nearest(at, return_distance=True, all_matches=False)
        out: Floats = np.where(shapely.contains(self._piece, at), -away, away)
        return out


def _hole_error_mm(piece: Any, asked: Asked, x: float, y: float, size_mm: float) -> float:
    """Return how far a hole's wall or middle is off, mm; NaN when no hole is there."""
    at = _in_sheet(np.array([[x, y]]), asked.to_part)[0]
    inside = shapely.Point(at)
    for ring in piece.interiors:
        if not shapely.Polygon(ring).contains(inside):
            continue
        wall = shapely.get_coordinates(ring) - at
        middle = np.hypot(*shapely.get_coordinates(shapely.Polygon(ring).centroid)[0] - at)
        return float(max(np.abs(np.hypot(*wall.T) - size_mm / 2).max(), middle))
    return math.nan


def _face_at(piece: Any, asked: Asked, name: str, axis: int) -> float:
    """Return the measured offset of a face from program zero, mm; NaN when it is not there.

    The face is looked for along its length, its ends left out (a beam may round them).
    """
    _, x1, y1, x2, y2 = next(face for face in asked.faces if face[0] == name)
    t = np.linspace(0.1, 0.9, 9)[:, None]
    at = np.array([[x1, y1]]) * (1 - t) + np.array([[x2, y2]]) * t
    near = shapely.shortest_line(shapely.points(at), piece.exterior)
    ends = shapely.get_coordinates(near).reshape(-1, 2, 2)[:, 1]
    zero = _in_sheet(np.array([asked.zero]), asked.to_part)[0]
    coordinates = ends[:, axis]
    if np.ptp(coordinates) > PROOF_OFFSET_MM:
        return math.nan
    return float(coordinates.mean() - zero[axis])
