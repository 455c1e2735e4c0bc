"""Walks the entities of a DXF layout, blocks unfolded, and collects their curves.

What is drawn but is no outline (text, dimensions, points, fills, centre lines) is counted and
set aside; what is switched off is counted with its layer; what holds a solid or surface is
counted and named. An entity that cannot be used is a fault with its handle, layer and place:
leaving it out silently might lose a hole.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, Final

from kerf.contour import Point
from kerf.errors import InputError
from kerf.reading.curves import Curve, Flat, Frame, Oval, after, mapped
from kerf.reading.drawing import (
    Fault,
    FaultKind,
    Origin,
    is_layer_wanted,
    is_usable_number,
    place_text,
)
from kerf.reading.dxf_entities import READERS, hatch_curves, insert_frames
from kerf.tolerance import ENTITIES_LARGEST, NUMBER_LARGEST

#: Solids, surfaces and meshes: nothing of them is an outline in the drawing's plane.
SOLIDS: Final = frozenset(
    (
        "3DSOLID",
        "BODY",
        "SURFACE",
        "EXTRUDEDSURFACE",
        "LOFTEDSURFACE",
        "REVOLVEDSURFACE",
        "SWEPTSURFACE",
        "PLANESURFACE",
        "NURBSURFACE",
        "MESH",
        "3DFACE",
        "HELIX",
    )
)
#: Entities that may hide an outline this program cannot unfold.
SEALED: Final = frozenset(["REGION", "ACAD_PROXY_ENTITY", "OLE2FRAME", "OLEFRAME"])

_HATCHES: Final = frozenset(("HATCH", "MPOLYGON"))
_CENTRE_LINE = re.compile(r"cent|dashdot|dash_dot|phantom|divide|acad_iso(0[4-689]|1\d)w", re.I)
_DEEPEST = 32

#: What malformed group codes make of an entity when it is used.
MALFORMED: Final = (
    ArithmeticError,
    AssertionError,
    AttributeError,
    LookupError,
    TypeError,
    ValueError,
)


@dataclass(frozen=True, slots=True)
class _Layer:
    """What the layer table says: why it is not shown (empty when it is), and its line type."""

    hidden: str
    line_type: str


@dataclass(frozen=True, slots=True)
class _Within:
    """Where the walk stands: map to the world, and what the block's entities inherit."""

    frame: Frame | None = None
    layer: str = "0"
    line_type: str = ""
    blocks: tuple[str, ...] = ()


@dataclass(slots=True, kw_only=True)
class Found:
    """What a layout holds, in drawing units.

    ``used`` and ``left_out`` count entities by layer, the latter with the reason; ``wide``
    counts polylines drawn with a width.
    """

    curves: list[Curve] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    set_aside: Counter[str] = field(default_factory=Counter)
    solids: list[Origin] = field(default_factory=list)
    used: Counter[str] = field(default_factory=Counter)
    left_out: Counter[tuple[str, str]] = field(default_factory=Counter)
    wide: int = 0
    visited: int = 0


def found_in(
    doc: Any, entities: Iterable[Any], *, path: str, layers: tuple[str, ...], hatches: bool
) -> Found:
    """Return the curves of entities with everything that was left out.

    Args:
        doc: the ezdxf document.
        entities: those of one layout.
        path: file, for messages.
        layers: wildcard patterns of layers to read; those that start with "!" are left out.
        hatches: whether the boundaries of hatched areas are outlines.
    Raises:
        InputError: blocks that hold themselves, or unfold into too many entities.
    """
    walk = _Walk(doc, path, layers, hatches)
    for entity in entities:
        walk.visit(entity, _Within())
    return walk.found


def printable(text: object) -> str:
    """Return text that any terminal can show: no control characters, no broken encoding."""
    words = str(text)
    if words.isascii() and words.isprintable():
        return words
    words = words.encode("utf-8", "replace").decode("utf-8")
    return "".join(c if c.isprintable() else "?" for c in words)


class _Walk:
    """One walk over a layout."""

    def __init__(self, doc: Any, path: str, layers: tuple[str, ...], hatches: bool) -> None:
        from ezdxf.lldxf.const import DXFError

        self.doc = doc
        self._broken = (*MALFORMED, DXFError)
        self.path = path
        self.patterns = layers
        self.hatches = hatches
        self.found = Found()
        self._layers: dict[str, _Layer] = {}
        self._chosen: dict[str, str] = {}

    def visit(self, entity: Any, within: _Within) -> None:
        """Take one entity, or everything in the block it stands for."""
        found = self.found
        found.visited += 1
        if found.visited > ENTITIES_LARGEST:
            raise InputError(
                f"the drawing holds more than {ENTITIES_LARGEST:,} entities once its blocks "
                "are unfolded",
                where=self.path,
                hint="save the part's outline alone",
            )
        # ezdxf keeps what the file gave as plain attributes; vars() sees no defaults.
        given = vars(entity.dxf)
        kind: str = entity.dxftype()
        layer = given.get("layer", "0")
        if layer == "0" and within.blocks:
            layer = within.layer
        reason = self._left_out(layer)
        if not reason and given.get("invisible", 0):
            reason = "invisible"
        if kind == "INSERT":
            if reason in ("frozen", "invisible"):
                found.left_out[(printable(layer), reason)] += 1
            else:
                self._unfold(entity, layer, within)
            return
        take = READERS.get(kind)
        if self.hatches and kind in _HATCHES:
            take = hatch_curves
        if take is None or (kind == "POLYLINE" and not _is_run(entity)):
            self._set_aside(entity, kind, layer, reason)
            return
        if reason:
            found.left_out[(printable(layer), reason)] += 1
            return
        line_type = self._line_type(given.get("linetype", "BYLAYER"), layer, within)
        if line_type and line_type != "CONTINUOUS" and _CENTRE_LINE.search(line_type):
            found.set_aside["centre line"] += 1
            return
        origin = Origin(kind, given.get("handle") or "", printable(layer))
        try:
            curves = take(entity, within.frame, origin)
        except self._broken as fault:
            at = _place(entity, within.frame)
            self.fault(origin, at, f"{kind} cannot be used: {printable(fault)}")
            return
        found.used[origin.layer] += 1
        if kind == "LWPOLYLINE" and given.get("const_width", 0.0):
            found.wide += 1
        for curve in curves:
            if not _is_usable(curve):
                at = _place(entity, within.frame)
                self.fault(origin, at, f"{kind} has a coordinate that is no usable number")
                return
        found.curves += curves

    def fault(self, origin: Origin, at: tuple[float, float], message: str) -> None:
        """Note an entity that cannot be used. at: drawing units."""
        p = Point(*at)
        self.found.faults.append(
            Fault(
                kind=FaultKind.UNREADABLE,
                at=p,
                to=p,
                origin=origin,
                message=message,
                hint="mend or delete the entity, or leave out its layer",
            )
        )

    def _line_type(self, own: str, layer: str, within: _Within) -> str:
        """Return the line type an entity is drawn with, in capitals."""
        own = own.upper()
        if own == "BYLAYER":
            return self._layer(layer).line_type
        return within.line_type if own == "BYBLOCK" else own

    def _layer(self, name: str) -> _Layer:
        """Return what the layer table says; a layer that is not in it is shown."""
        key = name.lower()
        known = self._layers.get(key)
        if known is None:
            known = _Layer("", "")
            try:
                entry = self.doc.layers.get(name)
                hidden = "frozen" if entry.is_frozen() else "off" if entry.is_off() else ""
                known = _Layer(hidden, str(entry.dxf.get("linetype", "")).upper())
            except self._broken:
                pass
            if key == "defpoints":
                known = _Layer("not printed", known.line_type)
            self._layers[key] = known
        return known

    def _left_out(self, layer: str) -> str:
        """Return why a layer is left out; empty when it is not."""
        reason = self._chosen.get(layer)
        if reason is None:
            reason = self._layer(layer).hidden
            if not reason and not is_layer_wanted(printable(layer), self.patterns):
                reason = "not chosen"
            self._chosen[layer] = reason
        return reason

    def _set_aside(self, entity: Any, kind: str, layer: str, reason: str) -> None:
        """Count an entity that is no outline."""
        origin = Origin(kind, entity.dxf.get("handle") or "", printable(layer))
        if reason:
            return
        if kind in SOLIDS or kind == "POLYLINE":
            self.found.solids.append(origin)
        elif kind in SEALED:
            self.fault(
                origin,
                _place(entity, None),
                f"{kind} may hold an outline in a form that only the program that wrote it knows",
            )
            return
        self.found.set_aside[kind] += 1

    def _unfold(self, insert: Any, layer: str, within: _Within) -> None:
        """Take what the block of an INSERT holds, once for each place of its grid."""
        name = str(insert.dxf.get("name", ""))
        shown = printable(name)
        origin = Origin("INSERT", insert.dxf.get("handle") or "", printable(layer))
        at = _place(insert, within.frame)
        where = f"{self.path}: {origin}, {place_text(at)}"
        if name.lower() in within.blocks or len(within.blocks) >= _DEEPEST:
            raise InputError(
                f'block "{shown}" holds itself'
                if name.lower() in within.blocks
                else f"blocks are nested more than {_DEEPEST} deep",
                where=where,
                hint="explode the blocks and save again",
            )
        block = self.doc.blocks.get(name)
        if block is None:
            self.fault(origin, at, f'the block "{shown}" it stands for is missing')
            return
        if block.block is not None and block.block.dxf.get("flags", 0) & 4:
            self.fault(origin, at, f'the drawing "{shown}" it refers to is another file')
            return
        if insert.attribs:
            self.found.set_aside["ATTRIB"] += len(insert.attribs)
        line_type = self._line_type(insert.dxf.get("linetype", "BYLAYER"), layer, within)
        try:
            frames = list(insert_frames(insert))
        except self._broken as fault:
            self.fault(origin, at, f"INSERT cannot be used: {printable(fault)}")
            return
        blocks = (*within.blocks, name.lower())
        for frame in frames:
            if within.frame is not None:
                frame = after(within.frame, frame)
            inner = _Within(frame, layer, line_type, blocks)
            for entity in block:
                self.visit(entity, inner)


def _place(entity: Any, frame: Frame | None) -> tuple[float, float]:
    """Return a place on an entity, drawing units, for a message; (0, 0) when it has none."""
    for name in ("start", "center", "insert", "location", "vtx0"):
        p = entity.dxf.get(name) if entity.dxf.is_supported(name) else None
        if p is not None:
            x, y, z = p[0], p[1], p[2] if len(p) > 2 else 0.0
            if is_usable_number(x, y, z):
                x, y, _ = mapped(frame, (x, y, z)) if frame else (x, y, z)
                return (float(x), float(y)) if is_usable_number(x, y) else (0.0, 0.0)
    return 0.0, 0.0


def _is_run(entity: Any) -> bool:
    """Return whether a POLYLINE is a run of vertices and no mesh."""
    return bool(entity.is_2d_polyline or entity.is_3d_polyline)


def _is_usable(curve: Curve) -> bool:
    """Return whether every number of a curve is finite and of a size a drawing can have."""
    if isinstance(curve, Flat):
        # Not below the limit when any term is too large, infinite or no number.
        total = abs(curve.low) + abs(curve.high)
        for x, y, bulge in curve.rows:
            total += abs(x) + abs(y) + abs(bulge)
        return total < NUMBER_LARGEST
    if isinstance(curve, Oval):
        return is_usable_number(*curve.c, *curve.u, *curve.v, curve.start, curve.sweep)
    flat = (value for p in curve.points for value in p)
    return is_usable_number(*flat, *curve.knots, *curve.weights)
