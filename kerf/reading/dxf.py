"""DXF in: every release, ASCII and binary, damaged files through recovery with a warning.

The file is judged by its bytes first, because a library that repairs and upgrades hides two
things a part depends on: whether the file was cut short, and whether it states a unit at all
(R12 files are given metres on loading). Model space is read; paper space only when the model
is empty, and that is said. Curves are collected in drawing units, the unit is settled from
their size, and only then do splines and ellipses become arcs within a tolerance in mm.

What does not lie flat is refused with its handle; a drawing that lies flat at some height is
laid into the plane with a note.
"""

from __future__ import annotations

import contextlib
import gc
import logging
import math
import re
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Final

from kerf.contour import Point
from kerf.errors import GeometryError, InputError, KerfError
from kerf.reading.assemble import assembled
from kerf.reading.curves import Curve, Flat, reach, strands_of
from kerf.reading.drawing import (
    MM_PER_UNIT,
    Drawing,
    Fault,
    FaultKind,
    Healed,
    Healing,
    LayerUse,
    Strand,
    fault_errors,
    settled_unit,
)
from kerf.reading.dxf_walk import MALFORMED, Found, found_in, printable
from kerf.tolerance import COINCIDENT_MM, FILE_LARGEST_BYTES, FLAT_SHARE

#: $INSUNITS codes of units a flat part may be drawn in. Source: DXF reference, header section.
INSERT_UNITS: Final = {
    1: "inch",
    2: "foot",
    4: "mm",
    5: "cm",
    6: "m",
    8: "microinch",
    9: "mil",
    10: "yard",
    13: "micron",
    14: "dm",
}
_BINARY: Final = b"AutoCAD Binary DXF\r\n\x1a\x00"
_STATED = re.compile(rb"\$INSUNITS[ \t]*\r?\n?[ \t]*70[ \t]*\r?\n?[ \t]*(-?\d+)")
_ENTITIES = re.compile(rb"[\r\n][ \t]*2[ \t]*\r?\n[ \t]*ENTITIES[ \t]*\r?\n")
_SECTION_END = re.compile(rb"[\r\n][ \t]*0[ \t]*\r?\n[ \t]*ENDSEC\b")
#: First bytes of files that are often renamed to .dxf, and what they are.
_IMPOSTORS: Final = (
    (b"%PDF", "a PDF", "save it as DXF"),
    (b"PK\x03\x04", "a ZIP archive", "unpack it first"),
    (b"\x1f\x8b", "a gzip archive", "unpack it first"),
    (b"\x89PNG", "a picture", "a guide needs a drawing of lines and arcs"),
    (b"\xff\xd8\xff", "a picture", "a guide needs a drawing of lines and arcs"),
    (b"ISO-10303-21", "a STEP file", "name it .step"),
    (b"<?xml", "an XML file", "name it .svg if it is an SVG drawing"),
    (b"<svg", "an SVG drawing", "name it .svg"),
)


def survey_dxf(
    path: Path,
    *,
    unit: str | None = None,
    layers: tuple[str, ...] = (),
    hatches: bool = False,
) -> Drawing:
    """Return a DXF drawing with its faults listed.

    Args:
        path: the file.
        unit: unit that overrides the file's (a key of ``MM_PER_UNIT``); None when nobody
            gave one.
        layers: wildcard patterns of layers to read; those that start with "!" are left out.
        hatches: also read the boundaries of hatched areas.
    Raises:
        InputError: no DXF, cut short, nothing drawn, no unit, blocks that hold themselves.
        InputErrors: nothing of it can be used; every fault.
    """
    name = str(path)
    content = file_bytes(path)
    _check_bytes(content, name)
    with _collector_paused():
        doc, notes = _opened(path, name)
        try:
            found, where_note = _found(doc, name, layers, hatches)
        except KerfError:
            raise
        except MALFORMED as fault:
            # A recovered document may lack what ties its entities together.
            raise _beyond_recovery(name, fault) from fault
    notes += where_note
    if not found.curves:
        raise _nothing(found, name, layers)
    stated = stated_unit(content)
    low_x, low_y, high_x, high_y = _box(found.curves)
    size = math.hypot(high_x - low_x, high_y - low_y)
    settled, unit_notes = settled_unit(
        path=name, stated=stated, given=unit, size=(high_x - low_x, high_y - low_y)
    )
    scale = MM_PER_UNIT[settled]
    flat, off_plane, height_notes = _laid_flat(found.curves, size, scale)
    strands, healed, malformed = _strands(flat, scale)
    faults = [_scaled(fault, scale) for fault in found.faults]
    return assembled(
        strands,
        path=name,
        unit=settled,
        healed=healed,
        faults=(*faults, *off_plane, *malformed),
        notes=(*notes, *unit_notes, *height_notes, *_notes(found)),
        set_aside=sorted(found.set_aside.items()),
        layers=_layer_use(found),
    )


def file_bytes(path: Path) -> bytes:
    """Return a drawing file's bytes.

    Raises:
        InputError: missing, a folder, unreadable, empty or too large.
    """
    where = str(path)
    try:
        if path.is_dir():
            raise InputError("this is a folder", where=where, hint="name the drawing inside it")
        if path.stat().st_size > FILE_LARGEST_BYTES:
            raise InputError(
                f"the file is larger than {FILE_LARGEST_BYTES // 2**20} MiB",
                where=where,
                hint="save the part's outline alone",
            )
        content = path.read_bytes()
    except FileNotFoundError:
        raise InputError(
            "the drawing does not exist", where=where, hint="check the name and the folder"
        ) from None
    except (OSError, ValueError) as fault:
        raise InputError(f"the drawing cannot be read: {fault}", where=where) from None
    if not content.strip(b"\0 \t\r\n"):
        raise InputError("the file is empty", where=where, hint="save the drawing again")
    return content


def stated_unit(content: bytes) -> str | None:
    """Return the unit the header of a DXF file states; None when it states none we know."""
    if content.startswith(_BINARY):
        at = content.find(b"$INSUNITS\0")
        if at < 0:
            return None
        # Group code 70 in one byte (R12 and before) or two, then a 16-bit number.
        rest = content[at + 10 : at + 15]
        if rest[:2] == b"\x46\x00":
            rest = rest[2:]
        elif rest[:1] == b"\x46":
            rest = rest[1:]
        return INSERT_UNITS.get(int.from_bytes(rest[:2], "little", signed=True))
    stated = _STATED.search(content)
    return INSERT_UNITS.get(int(stated[1][:6])) if stated else None


def _check_bytes(content: bytes, where: str) -> None:
    """Refuse what is no DXF, or one whose entities were cut short.

    Raises:
        InputError: with what the file is instead, or where it ends.
    """
    head = content[:400].lstrip(b"\xef\xbb\xbf \t\r\n")
    if re.match(rb"AC(10|1\.|2\.)[\w.]{1,3}\x00", head) or re.match(rb"AC10\d\d[^\r\n\s]", head):
        raise InputError(
            "this is a DWG file, not a DXF", where=where, hint="save it as DXF (any release)"
        )
    for magic, words, hint in _IMPOSTORS:
        if head.startswith(magic):
            raise InputError(f"this is {words}, not a DXF", where=where, hint=hint)
    if content.startswith(_BINARY):
        if not content.rstrip(b"\0").endswith(b"EOF"):
            raise _cut_short(where, f"it ends after {len(content)} bytes")
        return
    if b"SECTION" not in content and b"ENTITIES" not in content:
        raise InputError(
            "this is no DXF: no section begins in it", where=where, hint="save it as DXF"
        )
    tail = content[-200:].rstrip(b"\0\x1a \t\r\n")
    if tail.endswith(b"EOF"):
        return
    begin = _ENTITIES.search(content)
    if begin is None or _SECTION_END.search(content, begin.end()) is None:
        lines = content.count(b"\n") + 1
        raise _cut_short(where, f"its entities end on line {lines} without an end mark")


def _cut_short(where: str, how: str) -> InputError:
    """Return the error of a truncated file."""
    return InputError(
        f"the file is cut short: {how}; whatever stood behind is lost",
        where=where,
        hint="save or copy the drawing again",
    )


@contextlib.contextmanager
def _collector_paused() -> Iterator[None]:
    """Pause the garbage collector: it would walk a million live tags again and again."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _opened(path: Path, where: str) -> tuple[Any, tuple[str, ...]]:
    """Return the ezdxf document, and a note when it had to be recovered.

    Raises:
        InputError: neither reading nor recovery makes sense of the file.
    """
    import ezdxf
    from ezdxf import recover

    # ezdxf remarks on odd tags through logging, with whatever bytes the file holds; what
    # matters we say ourselves.
    log = logging.getLogger("ezdxf")
    log.propagate = False
    if not log.handlers:
        log.addHandler(logging.NullHandler())
    # Rubbish can bring any exception out of a parser; each means "not this way".
    try:
        return ezdxf.readfile(path), ()
    except Exception as fault:
        first = _reason(fault)
    try:
        doc, auditor = recover.readfile(path)
    except Exception as fault:
        raise _beyond_recovery(where, fault) from None
    count = len(auditor.errors) + len(auditor.fixes)
    return doc, (
        f"the file is damaged ({first}) and was recovered with {count} repair(s): "
        "check the outline before you cut",
    )


def _beyond_recovery(where: str, fault: Exception) -> InputError:
    """Return the error of a file nothing can be made of."""
    return InputError(
        f"the DXF is damaged beyond recovery: {_reason(fault)}",
        where=where,
        hint="save the drawing again, as DXF R2000 or later",
    )


def _reason(fault: BaseException) -> str:
    """Return the first sentence of an exception's message."""
    words = printable(str(fault).strip().split("\n")[0])
    return (words or type(fault).__name__)[:200]


def _found(
    doc: Any, where: str, layers: tuple[str, ...], hatches: bool
) -> tuple[Found, tuple[str, ...]]:
    """Return what model space holds, or the first sheet of paper space that holds something."""
    model = found_in(doc, doc.modelspace(), path=where, layers=layers, hatches=hatches)
    if model.curves or model.faults or model.left_out:
        return model, ()
    for layout in doc.layouts:
        if layout.name == "Model":
            continue
        paper = found_in(doc, layout, path=where, layers=layers, hatches=hatches)
        if paper.curves or paper.faults:
            return paper, (
                f'model space is empty: paper space "{printable(layout.name)}" is read instead, '
                "at its own scale",
            )
    return model, ()


def _nothing(found: Found, where: str, layers: tuple[str, ...]) -> InputError:
    """Return the error of a drawing without a usable curve."""
    if found.faults:
        return fault_errors(found.faults, where)
    if found.solids:
        first = found.solids[0]
        return InputError(
            f"the drawing holds no flat outline, only {len(found.solids)} solid(s), surface(s) "
            f"or mesh(es), first {first}",
            where=where,
            hint="export a flat view of the part, or give the STEP file",
        )
    rest = [f"{count} × {kind}" for kind, count in sorted(found.set_aside.items())]
    rest += [
        f'{count} on layer "{layer}" ({reason})'
        for (layer, reason), count in sorted(found.left_out.items())
    ]
    hint = (
        "check which layers are on and chosen"
        if found.left_out
        else "save the part's outline in model space"
    )
    if layers and found.left_out:
        hint = f"no layer that holds something matches {', '.join(layers)}"
    elif "HATCH" in found.set_aside or "MPOLYGON" in found.set_aside:
        hint = "ask for the boundaries of hatched areas, or draw the outline"
    return InputError(
        "the drawing holds no outline" + (f", only {', '.join(rest)}" if rest else ""),
        where=where,
        hint=hint,
    )


def _box(curves: Sequence[Curve]) -> tuple[float, float, float, float]:
    """Return the box round all curves, drawing units."""
    xs: list[float] = []
    ys: list[float] = []
    for curve in curves:
        for x, y, _ in reach(curve):
            xs.append(x)
            ys.append(y)
    return min(xs), min(ys), max(xs), max(ys)


def _laid_flat(
    curves: Sequence[Curve], size: float, scale: float
) -> tuple[list[Curve], list[Fault], tuple[str, ...]]:
    """Return the curves that lie flat, a fault for each that does not, and notes on heights."""
    slack = max(FLAT_SHARE * size, COINCIDENT_MM / scale)
    flat: list[Curve] = []
    faults: list[Fault] = []
    lowest, highest = math.inf, -math.inf
    for curve in curves:
        if isinstance(curve, Flat):
            low, high = curve.low, curve.high
        else:
            heights = [p[2] for p in reach(curve)]
            low, high = min(heights), max(heights)
        if high - low > slack:
            at = _first_point(curve, scale)
            faults.append(
                Fault(
                    kind=FaultKind.UNREADABLE,
                    at=at,
                    to=at,
                    origin=curve.origin,
                    message=(
                        f"{curve.origin.kind} does not lie flat: its height runs from "
                        f"{low * scale:.6g} to {high * scale:.6g} mm"
                    ),
                    hint="export a flat view of the part",
                )
            )
            continue
        lowest, highest = min(lowest, low), max(highest, high)
        flat.append(curve)
    notes: tuple[str, ...] = ()
    if highest - lowest > slack:
        notes = (
            f"entities lie at heights from {lowest * scale:.6g} to {highest * scale:.6g} mm; "
            "all are laid into one plane",
        )
    elif flat and max(abs(lowest), abs(highest)) > slack:
        notes = (f"the drawing lies at height {lowest * scale:.6g} mm and is laid into the plane",)
    return flat, faults, notes


def _first_point(curve: Curve, scale: float) -> Point:
    """Return a place on a curve, mm."""
    x, y, _ = reach(curve)[0]
    return Point(x * scale, y * scale)


def _strands(
    curves: Sequence[Curve], scale: float
) -> tuple[list[Strand], list[Healed], list[Fault]]:
    """Return the curves as lines and arcs in mm, what was fitted, and what is malformed."""
    strands: list[Strand] = []
    healed: list[Healed] = []
    faults: list[Fault] = []
    for curve, made in zip(curves, strands_of(curves, scale), strict=True):
        if isinstance(made, GeometryError):
            at = _first_point(curve, scale)
            faults.append(
                Fault(
                    kind=FaultKind.UNREADABLE,
                    at=at,
                    to=at,
                    origin=curve.origin,
                    message=f"{curve.origin.kind} cannot be used: {printable(made.what)}",
                    hint="mend or delete the entity, or leave out its layer",
                )
            )
            continue
        strand, off_mm = made
        strands.append(strand)
        if off_mm > 0:
            x, y, _ = strand.rows[0]
            healed.append(
                Healed(kind=Healing.CURVE, at=Point(x, y), origin=curve.origin, amount_mm=off_mm)
            )
    return strands, healed, faults


def _scaled(fault: Fault, scale: float) -> Fault:
    """Return a fault found in drawing units with its place in mm."""
    at = Point(fault.at.x * scale, fault.at.y * scale)
    return Fault(
        kind=fault.kind, at=at, to=at, origin=fault.origin, message=fault.message, hint=fault.hint
    )


def _notes(found: Found) -> Iterator[str]:
    """Yield what a person should know about what was left out."""
    by_reason: dict[str, list[str]] = {}
    for (layer, reason), count in sorted(found.left_out.items()):
        by_reason.setdefault(reason, []).append(f'"{layer}" ({count})')
    for reason, where in by_reason.items():
        yield f"left out, {reason}: {', '.join(where)}"
    if found.solids:
        count, first = len(found.solids), found.solids[0]
        yield f"{count} solid(s), surface(s) or mesh(es) left out, first {first}"
    if found.wide:
        yield f"{found.wide} polyline(s) drawn with a width: their centre line is read"


def _layer_use(found: Found) -> list[LayerUse]:
    """Return every layer that holds something, used ones first, by name."""
    used = [LayerUse(name=name, entities=n) for name, n in sorted(found.used.items())]
    return used + [
        LayerUse(name=layer, entities=count, left_out=reason)
        for (layer, reason), count in sorted(found.left_out.items())
    ]
