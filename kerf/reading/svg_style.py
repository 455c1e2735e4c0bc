"""What SVG's styling says about an element: is it drawn at all, is it filled, is it stroked.

Only that much of CSS is read: presentation attributes, ``<style>`` rules whose selectors
name a tag, a class, an id or ``*``, and the ``style`` attribute, in rising order of weight.
A selector of another kind is passed over and noted when it could hide something. A style
that moves geometry (``transform`` as a property, ``d``, ``cx`` …) is refused: passing it over
would draw another part.

Source: W3C SVG 1.1, chapters Styling and Painting (initial fill black, stroke none; display
is not inherited but ends its subtree; visibility is inherited); CSS 2.2 cascade and
specificity.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from kerf.errors import InputError

_HIDING = frozenset({"display", "visibility", "fill", "stroke", "opacity"})
_SIZES = ("cx", "cy", "r", "rx", "ry", "x", "y", "width", "height")
_TURNS = ("transform", "transform-origin", "translate", "rotate", "scale", "offset-path")
_MOVING = frozenset({*_TURNS, "d", *_SIZES})
_COMMENT = re.compile(r"/\*.*?\*/|<!--|-->", re.DOTALL)
_RULE = re.compile(r"([^{}]*)\{([^{}]*)\}")
_SIMPLE = re.compile(r"(\*|[A-Za-z][\w-]*)?((?:[.#][\w-]+)*)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One selector of a style sheet with the declarations that matter here.

    Args:
        tag: element name; empty for any.
        marks: classes (".x") and ids ("#x") that must all be there.
        weight: specificity, then order in the file.
        says: property → value.
    """

    tag: str
    marks: frozenset[str]
    weight: tuple[int, int, int, int]
    says: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """The style rules of a file, weakest first, and what of them could not be read."""

    rules: tuple[Rule, ...]
    unread: tuple[str, ...]

    def matching(self, tag: str, attributes: Mapping[str, str]) -> Iterable[Rule]:
        """Yield the rules that apply to an element, weakest first."""
        if not self.rules:
            return
        marks = {f".{c}" for c in attributes.get("class", "").split()}
        if "id" in attributes:
            marks.add(f"#{attributes['id']}")
        for rule in self.rules:
            if rule.tag in ("", tag) and rule.marks <= marks:
                yield rule


def style_sheet(texts: Iterable[str]) -> Sheet:
    """Return the rules of the ``<style>`` elements of a file, in file order."""
    rules: list[Rule] = []
    unread: list[str] = []
    for text in texts:
        plain = _COMMENT.sub(" ", text)
        unread += re.findall(r"@import[^;]*", plain)
        for block in _without_at_rules(plain):
            says = _declarations(block[1])
            if not says:
                continue
            for selector in map(str.strip, block[0].split(",")):
                found = _SIMPLE.fullmatch(selector)
                if not selector or found is None:
                    unread.append(selector)
                    continue
                marks = re.findall(r"[.#][\w-]+", found[2])
                tag = (found[1] or "").replace("*", "")
                ids = sum(m.startswith("#") for m in marks)
                weight = (ids, len(marks) - ids, int(bool(tag)), len(rules))
                rules.append(Rule(tag=tag, marks=frozenset(marks), weight=weight, says=says))
    return Sheet(rules=tuple(sorted(rules, key=lambda r: r.weight)), unread=tuple(unread))


def _without_at_rules(text: str) -> list[tuple[str, str]]:
    """Return (selectors, declarations) of the plain rules; blocks of @media and such dropped."""
    kept, depth, skip_from = [], 0, -1
    start = 0
    for found in re.finditer(r"[{}]", text):
        if found[0] == "{":
            if skip_from < 0 and text[start : found.start()].rpartition(";")[2].lstrip().startswith(
                "@"
            ):
                skip_from = depth
            depth += 1
            continue
        depth = max(0, depth - 1)
        if skip_from < 0:
            rule = _RULE.search(text, start, found.end())
            if rule:
                kept.append((rule[1].rpartition(";")[2], rule[2]))
        elif depth <= skip_from:
            skip_from = -1
        start = found.end()
    return kept


def _declarations(text: str) -> dict[str, str]:
    """Return the declarations that hide or move something."""
    out: dict[str, str] = {}
    for part in text.split(";"):
        name, colon, value = part.partition(":")
        name = name.strip().lower()
        if colon and (name in _HIDING or name in _MOVING):
            out[name] = value.replace("!important", "").strip()
    return out


@dataclass(frozen=True, slots=True, kw_only=True)
class Paint:
    """What an element shows.

    Args:
        shown: False inside ``display: none`` or a group of opacity 0.
        visible: False under ``visibility: hidden``.
        filled, stroked: whether the inside and the line are painted.
    """

    shown: bool = True
    visible: bool = True
    filled: bool = True
    stroked: bool = False


def painted(
    above: Paint,
    tag: str,
    attributes: Mapping[str, str],
    sheet: Sheet,
    *,
    where: str,
    is_page: bool = False,
) -> Paint:
    """Return what an element shows, given what its parent shows.

    Args:
        above: what the parent shows.
        tag, attributes: the element.
        sheet: the file's style rules.
        where: file and element, for errors.
        is_page: whether it is the root, whose size in a style is only how a browser shows it.
    Raises:
        InputError: a style moves geometry.
    """
    says = {k: v for k, v in attributes.items() if k in _HIDING}
    styled: dict[str, str] = {}
    for rule in sheet.matching(tag, attributes):
        styled |= rule.says
    if "style" in attributes:
        styled |= _declarations(_COMMENT.sub(" ", attributes["style"]))
    moves = {k: v for k, v in styled.items() if k in _MOVING and not (is_page and k in _SIZES)}
    if "transform" in attributes and "transform-origin" in attributes:
        moves["transform-origin"] = attributes["transform-origin"]
    for name, value in sorted(moves.items()):
        # Harmless where it says nothing, or repeats the attribute, or stands on text.
        said = attributes.get(name) if name != "transform-origin" else None
        if value not in ("none", "auto", "", said) and tag in _SHAPED:
            raise InputError(
                f'the style "{name}: {value[:40]}" would move or reshape this element',
                where=where,
                hint=f"write {name} as an attribute, or save the drawing as plain SVG",
            )
    says |= styled
    if not says:
        return above
    out = above
    if says.get("display") == "none" or _is_zero(says.get("opacity", "1")):
        out = replace(out, shown=False)
    if "visibility" in says and says["visibility"] != "inherit":
        out = replace(out, visible=says["visibility"] not in ("hidden", "collapse"))
    if says.get("fill", "inherit") not in ("inherit", ""):
        out = replace(out, filled=says["fill"] not in _UNPAINTED)
    if says.get("stroke", "inherit") not in ("inherit", ""):
        out = replace(out, stroked=says["stroke"] not in _UNPAINTED)
    return out


_UNPAINTED = ("none", "transparent")
_SHAPES = ("path", "rect", "circle", "ellipse", "line", "polyline", "polygon")
_SHAPED = frozenset({*_SHAPES, "g", "a", "switch", "use", "symbol", "svg"})


def _is_zero(text: str) -> bool:
    """Return whether an opacity is exactly nothing."""
    try:
        return float(text.rstrip("%")) == 0.0
    except ValueError:
        return False
