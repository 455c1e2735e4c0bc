"""STEP in (extra ``[step]``): one solid, seen as an outline, a section or a face.

A solid is no drawing; somebody has to say how it is to be looked at. ``StepView`` says it, and
a file with several solids is refused until one is chosen. Arcs come over as the exact arcs
they are, in millimetres whatever unit the file is in.

The geometry kernel runs in a process of its own (``step_worker``) with bounds on time and
memory: a damaged file can crash it, and the crash is then one clear message. The finished
regions are held against probes for which the kernel says directly whether material is there;
a lost edge cannot give a wrong outline unseen.

Source: ISO 10303-21 (the exchange structure: its first and last line, and the length unit
among the data); the views are those of third-angle projection (ISO 5456-2).
"""

from __future__ import annotations

import importlib.util
import json
import os
import re
import subprocess
import sys
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path
from typing import Any

from kerf.contour import Point
from kerf.errors import InputError, NotInstalled
from kerf.reading.assemble import assembled
from kerf.reading.drawing import (
    MM_PER_UNIT,
    Drawing,
    Fault,
    FaultKind,
    Healed,
    Healing,
    Origin,
    Strand,
    settled_unit,
)
from kerf.tolerance import COINCIDENT_MM, PROBE_CLEAR_MM

#: The kernel's share of processor time: seconds, and seconds more for each MiB of file.
CPU_S, CPU_S_PER_MIB = 8, 4
#: A busy machine gives a process a part of its time; this many times longer is a hang.
WALL_FACTOR = 6
#: A file larger than this is no single part.
LARGEST_FILE_BYTES = 256 * 2**20


#: The sides a solid may be seen from.
AXES = ("+X", "-X", "+Y", "-Y", "+Z", "-Z")


class ViewKind(StrEnum):
    """How a solid becomes a drawing."""

    OUTLINE = "outline"  #: its shadow along an axis, through holes included
    SECTION = "section"  #: the cut at a height along an axis
    FACE = "face"  #: the boundary of one planar face


@dataclass(frozen=True, slots=True, kw_only=True)
class StepView:
    """How to look at which solid.

    Args:
        kind: outline, section or face.
        axis: the side it is seen from: "+Z" (from above), "-Z", "+X", "-X", "+Y", "-Y".
        at_mm: height of a section along that axis, mm, positive towards the eye.
        face: name of a planar face ("F1" is the largest).
        solid: number of the solid from 1; None when there must be one only.

    Raises:
        InputError: an unknown axis, a section without a height, a face without a name.
    """

    kind: ViewKind = ViewKind.OUTLINE
    axis: str = "+Z"
    at_mm: float | None = None
    face: str = ""
    solid: int | None = None

    def __post_init__(self) -> None:
        axis = self.axis.upper()
        axis = f"+{axis}" if axis in ("X", "Y", "Z") else axis
        if axis not in AXES:
            raise InputError(f'"{self.axis}" is no axis', hint="use X, Y or Z, or -X, -Y or -Z")
        object.__setattr__(self, "axis", axis)
        if self.kind == ViewKind.SECTION and self.at_mm is None:
            raise InputError("a section needs a height", hint="say at which height to cut")
        if self.kind == ViewKind.FACE and not self.face:
            raise InputError("a face view needs the name of a face", hint="F1 is the largest")

    def describe(self) -> str:
        """Return the view in words."""
        if self.kind == ViewKind.FACE:
            return f"face {self.face}, seen from outside"
        if self.kind == ViewKind.SECTION:
            return f"section at {self.at_mm:.6g} mm, seen from {self.axis}"
        return f"outline seen from {self.axis}"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanarFace:
    """One planar face of a solid.

    Args:
        name: F1 is the largest.
        side: axis it faces ("+Z"), or its outward direction.
        at_mm: where along that axis it lies, mm.
        area_mm2: its area.
    """

    name: str
    side: str
    at_mm: float
    area_mm2: float

    def describe(self) -> str:
        """Return "F1: 4038 mm² facing +Z at 6.35 mm"."""
        return f"{self.name}: {self.area_mm2:.6g} mm² facing {self.side} at {self.at_mm:.6g} mm"


def step_faces(path: Path, *, solid: int | None = None) -> tuple[PlanarFace, ...]:
    """Return the planar faces of a solid, largest first.

    Raises:
        InputError: see ``survey_step``.
    """
    answer = _answer(path, _head(path), StepView(solid=solid))
    return _faces(answer)


def survey_step(path: Path, *, unit: str | None = None, view: StepView | None = None) -> Drawing:
    """Return one view of a solid with its faults listed, mm.

    Args:
        path: the file.
        unit: unit that overrides the file's; None when nobody gave one.
        view: how to look at it; None for the outline from above, which is then noted.
    Raises:
        InputError: no STEP, damaged, no solid, several and none chosen, nothing at that
            height, no such face, or the kernel gave up.
        NotInstalled: the extra is not installed.
    """
    content = _head(path)
    chosen = view or StepView()
    answer = _answer(path, content, chosen)
    stated = _stated_unit(content)
    strands = _strands(answer)
    size = _extent(strands, MM_PER_UNIT[stated] if stated else 1.0)
    settled, notes = settled_unit(path=str(path), stated=stated, given=unit, size=size)
    # The kernel has scaled by the unit the file states, and takes millimetres when it has none.
    factor = MM_PER_UNIT[settled] / MM_PER_UNIT[stated or "mm"]
    if factor != 1.0:
        strands = [_scaled(s, factor) for s in strands]
    said = [*notes, *answer["notes"]]
    if view is None:
        faces = "; ".join(face.describe() for face in _faces(answer)[:6]) or "none is planar"
        said.append(f"{chosen.describe()} taken; faces: {faces}")
    drawing = assembled(
        strands,
        path=str(path),
        unit=settled,
        healed=[
            Healed(
                kind=Healing.CURVE,
                at=Point(*s.rows[0][:2]),
                origin=s.origin,
                amount_mm=row["off_mm"],
            )
            for s, row in zip(strands, answer["strands"], strict=True)
            if row["off_mm"] > COINCIDENT_MM
        ],
        notes=said,
    )
    return _held_against(drawing, answer["probes"], factor, chosen)


def _head(path: Path) -> bytes:
    """Return the file's bytes once its frame is that of a STEP file.

    Raises:
        InputError: unreadable, empty, too large, another format, cut short.
    """
    where = str(path)
    try:
        with path.open("rb") as file:
            content = file.read(LARGEST_FILE_BYTES + 1)
    except OSError as fault:
        raise InputError(f"cannot read the file: {fault.strerror}", where=where) from fault
    if not content.strip(b"\0 \t\r\n"):
        raise InputError("the file is empty", where=where)
    if len(content) > LARGEST_FILE_BYTES:
        raise InputError(
            "the file is larger than 256 MiB", where=where, hint="export the one part alone"
        )
    if not content.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"ISO-10303-21"):
        raise InputError(
            "this is no STEP file: it does not begin with ISO-10303-21",
            where=where,
            hint="export the part as STEP (AP203, AP214 or AP242)",
        )
    if b"END-ISO-10303-21" not in content[-4096:]:
        raise InputError(
            "the STEP file is cut short: its last line, END-ISO-10303-21, is missing",
            where=where,
            hint="copy or export it again",
        )
    return content


def _stated_unit(content: bytes) -> str | None:
    """Return the unit of length the file states, or None when it states none or several."""
    text = content.decode("latin-1")
    converted = set(re.findall(r"CONVERSION_BASED_UNIT\s*\(\s*'([^']*)'", text))
    names = {"INCH": "inch", "FOOT": "foot", "FEET": "foot", "MM": "mm", "CM": "cm"}
    found = {names[n.upper()] for n in converted if n.upper() in names}
    if not found:
        prefix = {"MILLI": "mm", "CENTI": "cm", "DECI": "dm", "MICRO": "micron", "": "m"}
        metres = re.findall(r"SI_UNIT\s*\(\s*(?:\$|\.(\w*)\.)\s*,\s*\.METRE\.\s*\)", text)
        found = {prefix[m] for m in metres if m in prefix}
    # Sub-assemblies in other units: the kernel has brought all of it to mm.
    return found.pop() if len(found) == 1 else ("mm" if found else None)


def _answer(path: Path, content: bytes, view: StepView) -> dict[str, Any]:
    """Return the worker's answer."""
    where = str(path)
    if importlib.util.find_spec("OCP") is None:
        raise NotInstalled(
            "reading STEP needs a geometry kernel that is not installed",
            where=where,
            hint='pip install "setup-jigs[step]"',
        )
    cpu_s = CPU_S + CPU_S_PER_MIB * (len(content) >> 20)
    request = {
        "path": str(path.resolve()),
        "kind": view.kind,
        "axis": view.axis,
        "at_mm": view.at_mm,
        "face": view.face,
        "solid": view.solid,
        "cpu_s": cpu_s,
    }
    slow = InputError(
        f"reading the solid took more than {cpu_s} s and was stopped",
        where=where,
        hint="export the part without its small details, or draw its profile as DXF",
    )
    try:
        done = subprocess.run(
            [sys.executable, "-m", "kerf.reading.step_worker"],
            input=json.dumps(request).encode(),
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
            timeout=WALL_FACTOR * cpu_s,
            check=False,
        )
    except subprocess.TimeoutExpired as fault:
        raise slow from fault
    try:
        answer: dict[str, Any] = json.loads(done.stdout)
    except ValueError as fault:
        if -done.returncode in _STOPPED_FOR_TIME:
            raise slow from fault
        raise InputError(
            "the geometry kernel broke down on this file",
            where=where,
            hint="it is damaged; export the part again, or draw its profile as DXF",
        ) from fault
    if "what" in answer:
        raise InputError(answer["what"], where=where, hint=answer["hint"])
    return answer


#: SIGXCPU and SIGKILL: how a process ends that has used up its time.
_STOPPED_FOR_TIME = (24, 9)


def _faces(answer: dict[str, Any]) -> tuple[PlanarFace, ...]:
    """Return the planar faces of an answer."""
    return tuple(PlanarFace(**row) for row in answer["faces"])


def _strands(answer: dict[str, Any]) -> list[Strand]:
    """Return the strands of an answer, mm."""
    return [
        Strand(
            rows=tuple((x, y, b) for x, y, b in row["rows"]),
            closed=row["closed"],
            origin=Origin(kind=row["kind"], handle=str(i)),
        )
        for i, row in enumerate(answer["strands"], start=1)
    ]


def _extent(strands: list[Strand], mm_per_unit: float) -> tuple[float, float]:
    """Return width and height of the view in the file's unit."""
    xs = [row[0] for s in strands for row in s.rows] or [0.0]
    ys = [row[1] for s in strands for row in s.rows] or [0.0]
    return (max(xs) - min(xs)) / mm_per_unit, (max(ys) - min(ys)) / mm_per_unit


def _scaled(strand: Strand, factor: float) -> Strand:
    """Return a strand at another size."""
    return strand._replace(rows=tuple((x * factor, y * factor, b) for x, y, b in strand.rows))


def _held_against(
    drawing: Drawing, probes: list[tuple[float, float, bool]], factor: float, view: StepView
) -> Drawing:
    """Return the drawing, with a fault where its regions disagree with the kernel's word."""
    for x, y, there in ((x * factor, y * factor, there) for x, y, there in probes):
        here = any(region.contains(x, y) for region in drawing.regions)
        near = any(abs(region.distance_mm(x, y)) < PROBE_CLEAR_MM for region in drawing.regions)
        if here != there and not near:
            fault = Fault(
                kind=FaultKind.UNREADABLE,
                at=Point(x, y),
                to=Point(x, y),
                origin=Origin(kind=view.kind, handle=""),
                message=f"the {view.describe()} is wrong at ({x:.6g}, {y:.6g}) mm: the solid "
                + ("has" if there else "has no")
                + " material there",
                hint="take a section at a height, or draw the profile as DXF",
            )
            return replace(drawing, faults=(*drawing.faults, fault))
    return drawing
