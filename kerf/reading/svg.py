"""SVG in: what the drawing shows, as strands of lines and arcs, true to size and upright.

The file is read as a viewer would draw it: groups, nested ``svg``, ``use`` and ``symbol``
with their transforms, viewBox, preserveAspectRatio, and as much of the style as decides
whether an element is drawn at all. What is hidden or not painted is left out and noted;
text, images and the like are set aside and counted. Curves stay curves until the size is
known, then become arcs within ``ARC_FIT_MM``.

Size. A width in mm, cm, in, pt or pc together with a viewBox says how large the drawing is.
Anything else does not: a pixel has been a 72nd, a 90th and a 96th of an inch, and many
programs write millimetres as bare numbers. Then the size is asked for, each way spelt out.

Refused: entity declarations (they can blow a small file up without end) and references to
other files. Nothing is ever fetched.

Source: W3C SVG 1.1 (Second Edition), chapters Document Structure, Coordinate Systems, Basic
Shapes; SVG 2 for ``href`` without prefix.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from kerf.contour import Transform
from kerf.errors import InputError
from kerf.reading.assemble import assembled
from kerf.reading.drawing import (
    Drawing,
    LayerUse,
    Origin,
    is_layer_wanted,
    is_usable_number,
)
from kerf.reading.svg_path import Subpath
from kerf.reading.svg_shape import SHAPES, Frame, shape_subpaths
from kerf.reading.svg_size import has_bare_numbers, page_view, settled_scale, viewbox_map
from kerf.reading.svg_strand import strands_of
from kerf.reading.svg_style import Paint, Sheet, painted, style_sheet
from kerf.reading.svg_value import transform

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

#: A drawing larger than this is not a part: 64 MiB of text.
LARGEST_FILE_BYTES = 64 * 2**20
#: Groups and uses within one another.
DEEPEST = 100
#: Pieces (lines, curves, arcs) in one drawing, uses written out.
MOST_PIECES = 500_000
#: Elements that uses draw again; what stands in the file itself is bounded by its size.
MOST_USED = 20_000

_SVG = "{http://www.w3.org/2000/svg}"
_XLINK = "{http://www.w3.org/1999/xlink}"
_LABEL = "{http://www.inkscape.org/namespaces/inkscape}label"
_GROUP_MODE = "{http://www.inkscape.org/namespaces/inkscape}groupmode"
#: Drawn by no viewer where they stand, or without an outline.
_SILENT = frozenset(
    (
        *("defs", "symbol", "clipPath", "mask", "marker", "pattern", "filter", "hatch", "stop"),
        *("linearGradient", "radialGradient", "meshgradient", "solidcolor", "color-profile"),
        *("metadata", "title", "desc", "style", "script", "view", "cursor", "font", "font-face"),
        *("animate", "animateTransform", "animateMotion", "set", "mpath", "namedview"),
    )
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """One drawn run, on the page, y down."""

    run: Subpath
    origin: Origin


@dataclass(slots=True, kw_only=True)
class _Page:
    """What is gathered while the tree is walked."""

    path: str
    ids: dict[str, Element]
    sheet: Sheet
    shown: list[Shown] = field(default_factory=list)
    numbers: Counter[str] = field(default_factory=Counter)
    set_aside: Counter[str] = field(default_factory=Counter)
    left_out: Counter[str] = field(default_factory=Counter)
    clipped: int = 0
    filled_open: int = 0
    used: int = 0
    pieces: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Place:
    """Where the walk stands: map to the page, paint, layer, and how it came here."""

    to_page: Transform
    paint: Paint
    frame: Frame
    layer: str = ""
    layer_is_named: bool = False
    uses: tuple[str, ...] = ()
    depth: int = 0


def survey_svg(path: Path, *, unit: str | None = None, layers: tuple[str, ...] = ()) -> Drawing:
    """Return an SVG drawing with its faults listed.

    Args:
        path: the file.
        unit: what one user unit is ("mm", "inch" …) or what a pixel of the page is ("px",
            "px90", "pt"); None when nobody said.
        layers: wildcard patterns of layers to read; those that start with "!" are left out.
    Raises:
        InputError: no SVG, broken XML or path data, entities, outside references, hidden
            size, or nothing drawn.
    """
    try:
        with path.open("rb") as file:
            content = file.read(LARGEST_FILE_BYTES + 1)
    except OSError as fault:
        raise InputError(f"cannot read the file: {fault.strerror}", where=str(path)) from fault
    return parse_svg(content, path=str(path), unit=unit, layers=layers)


def parse_svg(
    content: bytes, *, path: str, unit: str | None = None, layers: tuple[str, ...] = ()
) -> Drawing:
    """Return the drawing in the bytes of an SVG file (see ``survey_svg``)."""
    root = _root(content, path)
    page = _Page(
        path=path,
        ids={e.attrib["id"]: e for e in reversed(list(root.iter())) if "id" in e.attrib},
        sheet=style_sheet(e.text or "" for e in root.iter() if _tag(e) == "style"),
    )
    if root.attrib.get("transform", "none") != "none":
        raise InputError(
            "the page itself is transformed, which programs show differently",
            where=path,
            hint="put the transform on a group inside the drawing",
        )
    view = page_view(root.attrib, path=path)
    start = _Place(
        to_page=view.to_page, paint=Paint(), frame=Frame(width=view.width, height=view.height)
    )
    start = replace(
        start, paint=painted(start.paint, "svg", root.attrib, page.sheet, where=path, is_page=True)
    )
    if start.paint.shown:
        for child in root:
            _walk(child, start, page)
    else:
        page.left_out["hidden"] += 1
    use = _layers(page.shown, layers)
    wanted = {layer.name for layer in use if not layer.left_out}
    kept = [s for s in page.shown if s.origin.layer in wanted]
    if not kept:
        raise _nothing(page, use)
    scale = settled_scale(
        view,
        [s.run for s in kept],
        path=path,
        given=unit,
        bare=not view.has_viewbox and has_bare_numbers(_placed(root)),
    )
    to_mm = Transform(a=scale.mm, e=-scale.mm, f=scale.mm * view.bottom)
    strands, healed = strands_of(((s.run.mapped(to_mm), s.origin) for s in kept), path=path)
    return assembled(
        strands,
        path=path,
        unit=scale.unit,
        healed=healed,
        notes=(*scale.notes, *_notes(page)),
        set_aside=sorted(page.set_aside.items()),
        layers=use,
    )


def _root(content: bytes, path: str) -> Element:
    """Return the root element, entities and other files refused."""
    from defusedxml import DefusedXmlException, ElementTree

    if not content.strip(b"\0 \t\r\n"):
        raise InputError("the file is empty", where=path)
    if len(content) > LARGEST_FILE_BYTES:
        raise InputError("the drawing is larger than 64 MiB", where=path, hint=_SIMPLER)
    if content.startswith(b"\x1f\x8b"):
        raise InputError("this SVG is compressed", where=path, hint="unpack it (gunzip) first")
    try:
        root: Element = ElementTree.fromstring(content)
    except DefusedXmlException as fault:
        raise InputError(
            "the file declares XML entities, which can hide or blow up its content",
            where=path,
            hint="save it again as plain SVG, without a list of <!ENTITY …> at its head",
        ) from fault
    except ElementTree.ParseError as fault:
        line, column = fault.position
        raise InputError(
            f"not well-formed XML: {str(fault).partition(':')[0]}",
            where=f"{path}: line {line}, column {column + 1}",
            hint="the file is cut short or damaged; save it again",
        ) from fault
    except (ValueError, LookupError) as fault:
        raise InputError(
            f"cannot read the text of the file: {fault}",
            where=path,
            hint="save it again as UTF-8",
        ) from fault
    if _tag(root) != "svg":
        raise InputError(f"the file is XML but no SVG: it holds <{root.tag[:40]}>", where=path)
    return root


_SIMPLER = "leave out what is not the part, or save it as DXF"


def _tag(element: Element) -> str:
    """Return an element's name in the SVG namespace (or none); empty for anything else."""
    tag = element.tag
    if not isinstance(tag, str):
        return ""  # a comment or processing instruction
    if tag.startswith(_SVG):
        return tag[len(_SVG) :]
    return "" if tag.startswith("{") else tag


def _walk(element: Element, place: _Place, page: _Page) -> None:
    """Gather what one element draws at a place."""
    tag = _tag(element)
    if not tag or tag in _SILENT:
        return
    page.used += bool(place.uses)
    if page.used > MOST_USED:
        raise InputError(
            f"the drawing repeats more than {MOST_USED:,} elements by use",
            where=page.path,
            hint=_SIMPLER,
        )
    if place.depth > DEEPEST:
        raise InputError(
            f"groups lie more than {DEEPEST} deep in one another", where=page.path, hint=_SIMPLER
        )
    attributes = element.attrib
    page.numbers[tag] += 1
    name = attributes.get("id") or str(page.numbers[tag])
    where = f"{page.path}: <{tag}> {name}" + (f' on layer "{place.layer}"' if place.layer else "")
    paint = painted(place.paint, tag, attributes, page.sheet, where=where)
    if not paint.shown:
        page.left_out["hidden"] += 1
        return
    place = replace(place, paint=paint, depth=place.depth + 1)
    if tag in SHAPES:
        _draw(element, tag, name, place, page, where)
        return
    if tag not in ("g", "a", "svg", "use", "switch"):
        page.set_aside[tag] += 1
        return
    page.clipped += _is_clipped(attributes)
    if "transform" in attributes:
        turn = transform(attributes["transform"], where=where)
        place = replace(place, to_page=turn.then(place.to_page))
    if tag == "use":
        _walk_use(element, place, page, where)
        return
    if tag == "svg":
        place = _nested(attributes, place, where)
    if tag == "g":
        place = _in_layer(attributes, place)
    for child in _drawn_children(element, tag):
        _walk(child, place, page)


def _drawn_children(element: Element, tag: str) -> Iterator[Element]:
    """Yield the children that are drawn: of a switch, the first that needs nothing special."""
    if tag != "switch":
        yield from element
        return
    for child in element:
        if _tag(child) not in ("", "foreignObject") and "requiredExtensions" not in child.attrib:
            yield child
            return


def _in_layer(attributes: dict[str, str], place: _Place) -> _Place:
    """Return the place inside a group: its layer is the nearest labelled one, or the outermost."""
    label = attributes.get(_LABEL, "")
    if label and attributes.get(_GROUP_MODE) == "layer":
        return replace(place, layer=label, layer_is_named=True)
    if not place.layer and not place.layer_is_named:
        return replace(place, layer=label or attributes.get("id", ""))
    return place


def _nested(attributes: dict[str, str], place: _Place, where: str) -> _Place:
    """Return the place inside a nested ``svg`` or a used ``symbol``."""
    frame = place.frame
    x = frame.x(attributes.get("x", "0"), where)
    y = frame.y(attributes.get("y", "0"), where)
    width = frame.x(attributes.get("width", "100%"), where, auto="100%")
    height = frame.y(attributes.get("height", "100%"), where, auto="100%")
    inner, box = viewbox_map(attributes, width, height, where=where)
    to_page = inner.then(Transform.translation(x, y)).then(place.to_page)
    size = Frame(width=box[2], height=box[3]) if box else Frame(width=width, height=height)
    return replace(place, to_page=to_page, frame=size)


def _walk_use(element: Element, place: _Place, page: _Page, where: str) -> None:
    """Gather what a ``use`` draws: the element it names, moved to its place."""
    attributes = element.attrib
    target = attributes.get("href", attributes.get(f"{_XLINK}href", "")).strip()
    if not target.startswith("#"):
        if not target:
            return
        raise InputError(
            f'the drawing uses a shape of another file, "{target[:60]}"',
            where=where,
            hint="copy the shape into this drawing; other files are never opened",
        )
    name = target[1:]
    if name in place.uses:
        raise InputError(
            f'"{name}" uses itself: {" → ".join((*place.uses, name))}',
            where=where,
            hint="take the element out of its own definition",
        )
    used = page.ids.get(name)
    if used is None:
        raise InputError(
            f'the drawing uses "{name}", which it does not hold',
            where=where,
            hint="save it again from the program that made it",
        )
    x = place.frame.x(attributes.get("x", "0"), where)
    y = place.frame.y(attributes.get("y", "0"), where)
    place = replace(
        place,
        to_page=Transform.translation(x, y).then(place.to_page),
        uses=(*place.uses, name),
    )
    tag = _tag(used)
    if tag not in ("symbol", "svg"):
        _walk(used, place, page)
        return
    paint = painted(place.paint, tag, used.attrib, page.sheet, where=where)
    if not paint.shown:
        page.left_out["hidden"] += 1
        return
    page.clipped += _is_clipped(used.attrib)
    window = used.attrib | ({"x": "0", "y": "0"} if tag == "symbol" else {})
    window |= {str(k): v for k, v in attributes.items() if k in ("width", "height")}
    inside = _nested(window, place, where)
    inside = replace(inside, paint=paint, depth=place.depth + 1)
    for child in used:
        _walk(child, inside, page)


def _is_clipped(attributes: dict[str, str]) -> bool:
    """Return whether a clip path or mask hides a part of the element."""
    found = (attributes.get(k, "none") for k in ("clip-path", "mask"))
    return any(v != "none" for v in found) or "clip-path:url" in attributes.get("style", "")


def _draw(element: Element, tag: str, name: str, place: _Place, page: _Page, where: str) -> None:
    """Gather the runs of one shape."""
    paint = place.paint
    if not paint.visible:
        page.left_out["hidden"] += 1
        return
    if not (paint.stroked or (paint.filled and tag != "line")):
        page.left_out["not painted"] += 1
        return
    attributes = element.attrib
    page.clipped += _is_clipped(attributes)
    to_page = place.to_page
    if "transform" in attributes:
        to_page = transform(attributes["transform"], where=where).then(to_page)
    if to_page.determinant == 0.0:
        page.left_out["flattened"] += 1
        return
    for run in shape_subpaths(tag, attributes, place.frame, where=where):
        page.pieces += len(run.pieces)
        if page.pieces > MOST_PIECES:
            raise InputError(
                f"the drawing holds more than {MOST_PIECES:,} lines and curves",
                where=page.path,
                hint=_SIMPLER,
            )
        mapped = run.mapped(to_page)
        if not all(is_usable_number(*piece.numbers()) for piece in mapped.pieces):
            raise InputError(
                "a coordinate is no usable number, or beyond 1e12",
                where=where,
                hint="repair or delete this element",
            )
        if paint.filled and not paint.stroked and not run.closed:
            # Filling closes a run; a run that meets itself already needs no word about it.
            page.filled_open += mapped.pieces[0].start != mapped.pieces[-1].end
            mapped = replace(mapped, closed=True)
        page.shown.append(
            Shown(run=mapped, origin=Origin(kind=tag, handle=name, layer=place.layer))
        )


def _placed(root: Element) -> Iterator[dict[str, str]]:
    """Yield the attributes of every element below the root that can place something."""
    for element in root.iter():
        if element is not root and _tag(element) in (*SHAPES, "g", "a", "svg", "use", "symbol"):
            yield element.attrib


def _layers(shown: list[Shown], patterns: tuple[str, ...]) -> list[LayerUse]:
    """Return the layers of what is drawn, in order, and which of them are left out."""
    counts = Counter(s.origin.layer for s in shown)
    return [
        LayerUse(
            name=name,
            entities=count,
            left_out="" if is_layer_wanted(name, patterns) else "not asked for",
        )
        for name, count in counts.items()
    ]


def _nothing(page: _Page, layers: list[LayerUse]) -> InputError:
    """Return the error for a drawing that shows no outline."""
    why = [f"{n} {what}" for what, n in sorted(page.left_out.items())]
    why += [f"{n} {kind}" for kind, n in sorted(page.set_aside.items())]
    why += [f'layer "{use.name}" ({use.entities}) not asked for' for use in layers]
    return InputError(
        "the drawing shows no outline" + (f": {', '.join(why)} left out" if why else ""),
        where=page.path,
        hint="text must be turned into paths, images traced, hidden parts shown or layers chosen",
    )


def _notes(page: _Page) -> list[str]:
    """Return what a person should know about what was left out."""
    notes = []
    if n := page.left_out["hidden"]:
        notes.append(f"{_count(n, 'hidden element')} left out")
    if n := page.left_out["not painted"]:
        notes.append(f"{_count(n, 'element')} with neither fill nor stroke left out")
    if n := page.left_out["flattened"]:
        notes.append(f"{_count(n, 'element')} flattened by a transform left out")
    if n := page.clipped:
        notes.append(f"{_count(n, 'clip path or mask', 'clip paths or masks')} not applied")
    if n := page.filled_open:
        notes.append(f"{_count(n, 'filled path')} without a closing line closed as filling does")
    if page.sheet.unread:
        notes.append(f"style not read: {'; '.join(page.sheet.unread)[:120]}")
    return notes


def _count(n: int, one: str, many: str = "") -> str:
    """Return "1 element" or "3 elements"."""
    return f"{n} {one if n == 1 else many or one + 's'}"
