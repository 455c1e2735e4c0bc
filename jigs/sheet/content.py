"""What a set-up sheet says, as strings already formatted, and the figures beside them.

One content, two writers: the PDF's template and the HTML page show the same sections in the
same order. Values arrive here with their unit and uncertainty; nothing below this point
computes. A section holds blocks of a few kinds; one that has nothing to say is not made, and
a block that is empty refuses to exist, so that no heading ever stands over nothing.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

from jigs import quantity
from jigs.drawing.scene import Figure
from jigs.drawing.svg import svg
from kerf.errors import InputError

#: Papers a sheet can be set on, and the width between their margins, mm.
PAPERS = {"a4": 180.0, "us-letter": 185.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """A name and its value; an empty value is a line to be filled in by hand."""

    name: str
    value: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Fields:
    """Names and values in columns.

    Args:
        fields: one or more.
        columns: how many pairs stand side by side.
    """

    fields: tuple[Field, ...]
    columns: int = 2

    def __post_init__(self) -> None:
        _needs(self.fields, "a block of fields")


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """A table.

    Args:
        columns: headings.
        rows: cells of each row, as many as headings; an empty cell is a box to write in.
        strong: whether it is set large: the table nobody may misread.
    """

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    strong: bool = False

    def __post_init__(self) -> None:
        _needs(self.rows, "a table")
        for row in self.rows:
            if len(row) != len(self.columns):
                raise InputError(
                    f"a table row has {len(row)} cells; its table has {len(self.columns)} columns"
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """Sentences, one a line.

    Args:
        lines: one or more.
        marked: whether each stands behind a box to tick.
        mono: whether they are set in a fixed pitch, as a control shows them.
    """

    lines: tuple[str, ...]
    marked: bool = False
    mono: bool = False

    def __post_init__(self) -> None:
        _needs(self.lines, "a block of lines")


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """Figures side by side, each at its own size on paper."""

    figures: tuple[Figure, ...]
    caption: str = ""

    def __post_init__(self) -> None:
        _needs(self.figures, "a picture")


@dataclass(frozen=True, slots=True, kw_only=True)
class Notice:
    """One finding or caution.

    Args:
        weight: "FAIL", "WARN", "NOTE" or "CAUTION".
        text: what it says.
        hint: what to do; may be empty.
    """

    weight: str
    text: str
    hint: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Notices:
    """Findings or cautions, gravest first."""

    notices: tuple[Notice, ...]

    def __post_init__(self) -> None:
        _needs(self.notices, "a block of notices")


Block = Fields | Grid | Lines | Picture | Notices


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A heading and what stands under it.

    Args:
        key: stable short name, by which a shop's own template may pick it.
        heading: as printed; empty for none.
        blocks: one or more.
    """

    key: str
    heading: str
    blocks: tuple[Block, ...]

    def __post_init__(self) -> None:
        _needs(self.blocks, f'the section "{self.key}"')


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetContent:
    """Everything one set-up sheet says.

    Args:
        title: job and part, one line.
        subtitle: operation, "op20 · 1 of 2".
        footer: what stands at the foot of every page: job, revision, operation.
        paper: "a4" or "us-letter".
        units: "mm" or "inch": the unit the numbers are in.
        banner: what must be seen before anything else; empty for none.
        code: what the QR code holds; empty for none.
        head: what stands in one row under the title; an empty value is a line to fill in.
        sections: in reading order.
    """

    title: str
    subtitle: str
    footer: str
    paper: str
    units: str
    banner: str
    code: str
    sections: tuple[Section, ...]
    head: tuple[Field, ...] = ()

    def __post_init__(self) -> None:
        paper_width_mm(self.paper)

    @property
    def first_figure(self) -> Figure:
        """The first picture: the guide with its zero, for a preview."""
        for section in self.sections:
            for block in section.blocks:
                if isinstance(block, Picture):
                    return block.figures[0]
        raise InputError("the sheet has no picture")

    def section(self, key: str) -> Section | None:
        """Return the section of that key, or None when it has nothing to say."""
        return next((s for s in self.sections if s.key == key), None)

    def with_section(self, section: Section, *, before: str = "") -> SheetContent:
        """Return the content with one more section, before another or at the end.

        Raises:
            InputError: there is no section to put it before.
        """
        if not before:
            return dataclasses.replace(self, sections=(*self.sections, section))
        keys = [s.key for s in self.sections]
        if before not in keys:
            raise InputError(f'the sheet has no section "{before}"')
        i = keys.index(before)
        return dataclasses.replace(self, sections=(*self.sections[:i], section, *self.sections[i:]))


def paper_width_mm(paper: str) -> float:
    """Return the width between the margins of a paper, mm.

    Raises:
        InputError: the paper is unknown.
    """
    if paper not in PAPERS:
        raise InputError(f'paper "{paper}" is unknown', hint=f"use one of {', '.join(PAPERS)}")
    return PAPERS[paper]


def told_in_units(section: Section, units: str) -> Section:
    """Return a section whose sentences, written in mm, tell an inch reader the inches too.

    How zero is set is written in the reader's unit from the start: a finder's name stays.
    """
    if units != "inch" or section.key == "datums":
        return section
    return dataclasses.replace(section, blocks=tuple(_told(block) for block in section.blocks))


def _told(block: Block) -> Block:
    """Return lines and notices with inches beside each length in mm."""
    if isinstance(block, Lines) and not block.mono:
        lines = tuple(quantity.told_in(line, "inch") for line in block.lines)
        return dataclasses.replace(block, lines=lines)
    if isinstance(block, Notices):
        notices = tuple(
            dataclasses.replace(
                n, text=quantity.told_in(n.text, "inch"), hint=quantity.told_in(n.hint, "inch")
            )
            for n in block.notices
        )
        return dataclasses.replace(block, notices=notices)
    return block


def plain(content: SheetContent) -> dict[str, object]:
    """Return the content as plain values for a template: figures as SVG, blocks with a kind."""
    return {
        "title": content.title,
        "subtitle": content.subtitle,
        "footer": content.footer,
        "paper": content.paper,
        "width_mm": paper_width_mm(content.paper),
        "units": content.units,
        "banner": content.banner,
        "code": content.code,
        "code_svg": code_svg(content.code) if content.code else "",
        "head": [dataclasses.asdict(field) for field in content.head],
        "sections": [
            {"key": s.key, "heading": s.heading, "blocks": [_plain_block(b) for b in s.blocks]}
            for s in content.sections
        ],
    }


def _plain_block(block: Block) -> dict[str, object]:
    """Return one block as plain values."""
    kind = type(block).__name__.lower()
    if isinstance(block, Picture):
        return {
            "kind": kind,
            "caption": block.caption,
            "figures": [
                {
                    "svg": svg(figure),
                    "title": figure.title,
                    "width_mm": round(figure.width_mm, 3),
                    "height_mm": round(figure.height_mm, 3),
                }
                for figure in block.figures
            ],
        }
    return {"kind": kind, **dataclasses.asdict(block)}


def code_svg(text: str) -> str:
    """Return a QR code as SVG, error correction M: a smudge of 15 % still reads.

    Source: ISO/IEC 18004, level M.
    """
    import io

    import segno

    out = io.BytesIO()
    segno.make(text, error="m", micro=False).save(
        out, kind="svg", border=2, xmldecl=False, nl=False, dark="#111111", omitsize=True
    )
    return out.getvalue().decode("ascii")


def _needs(items: tuple[object, ...], what: str) -> None:
    """Refuse a block that would stand empty."""
    if not items:
        raise InputError(f"{what} with nothing in it must be left out")
