"""The set-up sheet as one HTML page: the same content as the PDF, nothing fetched from anywhere.

Figures stand inside the page as SVG and keep their size on paper; the style is plain, prints
in black and white, and sets tables so that a finger can follow a line.
"""

from __future__ import annotations

from html import escape

from jigs.drawing.svg import svg
from jigs.sheet.content import (
    PAPERS,
    Block,
    Fields,
    Grid,
    Lines,
    Notices,
    Picture,
    SheetContent,
    code_svg,
)

_PAGE = {"a4": "A4", "us-letter": "letter"}

_STYLE = """
@page { size: %(page)s; margin: 13mm 15mm }
body { font: 11pt/1.35 Georgia, "Times New Roman", serif; color: #111; background: #fff;
  max-width: %(width)smm; margin: 8mm auto; padding: 0 4mm }
header { display: flex; justify-content: space-between; border-bottom: 1.5px solid #111 }
header svg { width: 19mm; height: 19mm }
h1 { font-size: 20pt; margin: 0 } h2 { font-size: 12.5pt; color: #0b5a76; margin: 14pt 0 5pt }
p { margin: 0 0 3pt } .quiet { color: #4d555b } section { break-inside: avoid }
table { border-collapse: collapse; width: 100%%; border-top: 1.5px solid #111;
  border-bottom: 1.5px solid #111 }
th { text-align: left; font-weight: normal; font-size: 9pt; color: #4d555b }
th, td { padding: 4pt 7pt; border-bottom: 1px solid #9aa3a9 }
td { font-variant-numeric: tabular-nums; white-space: nowrap } td.write { border-left:
  1px solid #9aa3a9; min-width: 28mm } .strong td { font-weight: bold; font-size: 12pt }
dl { display: grid; gap: 3pt 12pt; margin: 0 } dt { color: #4d555b }
dd { margin: 0; min-height: 1.2em } dd.write { border-bottom: 1px solid #4d555b }
figure { margin: 4pt 0; text-align: center } figure svg { max-width: 100%%; height: auto }
.notice { border-left: 3px solid #111; padding: 1pt 0 1pt 8pt; margin: 4pt 0 }
.FAIL { border-left-width: 8px } .NOTE { border-left-width: 1px }
pre { font: 10pt "DejaVu Sans Mono", Consolas, monospace; margin: 0 }
.tick::before { content: "\\2610\\00a0" }
.banner { border: 3px solid #111; padding: 4pt 8pt; margin: 6pt 0; font-weight: bold }
footer { margin-top: 14pt; border-top: 1px solid #9aa3a9; font-size: 9pt }
"""


def html_text(content: SheetContent) -> str:
    """Return the sheet as a standalone HTML document."""
    style = _STYLE % {"page": _PAGE[content.paper], "width": f"{PAPERS[content.paper]:g}"}
    code = code_svg(content.code) if content.code else ""
    body = "\n".join(
        f'<section id="{escape(section.key)}">'
        + (f"<h2>{escape(section.heading)}</h2>" if section.heading else "")
        + "\n".join(_block(block) for block in section.blocks)
        + "</section>"
        for section in content.sections
    )
    title = escape(f"{content.title}, {content.subtitle}")
    banner = f"<p class='banner'>{escape(content.banner)}</p>\n" if content.banner else ""
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>{title}</title>\n'
        f"<style>{style}</style></head><body>\n"
        f"<header><div><h1>{escape(content.title)}</h1>\n<p class='quiet'>Set-up sheet · "
        f"{escape(content.subtitle)} · lengths in {escape(content.units)}</p></div>\n"
        f"{code}</header>\n"
        f"{banner}{body}\n<footer class='quiet'>{escape(content.footer)}</footer>\n</body></html>\n"
    )


def _block(block: Block) -> str:
    """Return one block."""
    if isinstance(block, Fields):
        pairs = "".join(
            f"<dt>{escape(f.name)}</dt><dd{_write(f.value)}>{escape(f.value)}</dd>"
            for f in block.fields
        )
        return f'<dl style="grid-template-columns:{"auto 1fr " * block.columns}">{pairs}</dl>'
    if isinstance(block, Grid):
        head = "".join(f"<th>{escape(name)}</th>" for name in block.columns)
        rows = "".join(
            "<tr>" + "".join(f"<td{_write(c)}>{escape(c)}</td>" for c in row) + "</tr>"
            for row in block.rows
        )
        strong = ' class="strong"' if block.strong else ""
        return f"<table{strong}><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"
    if isinstance(block, Lines):
        if block.mono:
            return f"<pre>{escape(chr(10).join(block.lines))}</pre>"
        tick = ' class="tick"' if block.marked else ""
        return "".join(f"<p{tick}>{escape(line)}</p>" for line in block.lines)
    if isinstance(block, Picture):
        figures = "".join(svg(figure) for figure in block.figures)
        caption = f"<figcaption>{escape(block.caption)}</figcaption>" if block.caption else ""
        return f"<figure>{figures}{caption}</figure>"
    return _notices(block)


def _notices(block: Notices) -> str:
    """Return findings or cautions."""
    return "".join(
        f'<p class="notice {escape(n.weight)}"><b>{escape(n.weight)}</b> {escape(n.text)} '
        f'<span class="quiet">{escape(n.hint)}</span></p>'
        for n in block.notices
    )


def _write(value: str) -> str:
    """Return the class of a place to write in."""
    return "" if value else ' class="write"'
