"""The set-up sheet as one HTML page: the same content as the PDF, nothing fetched from anywhere.

Figures stand inside the page as SVG and keep their size on paper; the style is plain, prints
in black and white, and sets tables so that a finger can follow a line.
"""

from __future__ import annotations

import re
from html import escape

from jigs.drawing.svg import svg
from jigs.sheet.content import (
    PAPERS,
    Block,
    Field,
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
:root { color-scheme: light dark; --ink: #111; --page: #fff; --quiet: #4d555b; --rule: #9aa3a9;
  --accent: #0b5a76 }
@media screen and (prefers-color-scheme: dark) { :root { --ink: #e6e8ea; --page: #15191c;
  --quiet: #a9b2b8; --rule: #525b61; --accent: #7cc0da } }
* { box-sizing: border-box }
body { font: 11pt/1.35 Georgia, "Times New Roman", serif; color: var(--ink);
  background: var(--page); max-width: calc(%(width)smm + 8mm); margin: 8mm auto; padding: 0 4mm }
header { display: flex; justify-content: space-between; gap: 6mm; padding-bottom: 4pt;
  border-bottom: 1.5px solid var(--ink) }
header > div { flex: 1; min-width: 0 }
header svg { width: 19mm; height: 19mm; flex: none; background: #fff }
h1 { font-size: 20pt; line-height: 1.15; margin: 0 }
h2 { font-size: 12.5pt; color: var(--accent); margin: 14pt 0 5pt; break-after: avoid }
p { margin: 0 0 3pt; break-inside: avoid }
h2 + p, h2 + dl, p:has(+ dl), p:has(+ .scroll), dl:has(+ .scroll) { break-after: avoid }
.quiet { color: var(--quiet) }
table, figure, .notice, .banner, .tick, .fields, tr { break-inside: avoid }
.scroll { overflow-x: auto; margin-bottom: 6pt }
table { border-collapse: collapse; width: 100%%; border-top: 1.5px solid var(--ink);
  border-bottom: 1.5px solid var(--ink) }
th { text-align: left; font-weight: normal; font-size: 9pt; color: var(--quiet);
  vertical-align: bottom; white-space: pre-line }
th, td { padding: 4pt 7pt; border-bottom: 1px solid var(--rule) }
th:first-child, td:first-child { padding-left: 2pt }
td { font-variant-numeric: tabular-nums } td.number { white-space: pre }
td.write { border-left: 1px solid var(--rule); min-width: 28mm; height: 2em }
.strong td { font-weight: bold; font-size: 12pt }
dl { display: grid; gap: 3pt 12pt; margin: 0 0 4pt } dt { color: var(--quiet) }
dd { margin: 0; min-height: 1.3em } dd.write { border-bottom: 1px solid var(--quiet) }
.head { grid-auto-flow: column; grid-template-rows: auto auto; grid-auto-columns: 1fr;
  gap: 0 9pt; margin-top: 4pt } .head dt { font-size: 9pt } .head dd { font-weight: bold }
figure { margin: 6pt 0; text-align: center; background: #fff; color: #111 }
figure svg { max-width: 100%%; height: auto }
figcaption { font-size: 9pt; color: #4d555b }
.notice { border-left: 3px solid var(--ink); padding: 1pt 0 1pt 8pt; margin: 4pt 0 }
.FAIL { border-left-width: 8px } .NOTE { border-left-width: 1px }
pre { font: 10pt "DejaVu Sans Mono", Consolas, monospace; margin: 0; white-space: pre-wrap }
.tick::before { content: "\\2610\\00a0" }
.banner { border: 3px solid var(--ink); padding: 4pt 8pt; margin: 6pt 0; font-weight: bold }
footer { margin-top: 14pt; border-top: 1px solid var(--rule); font-size: 9pt }
@media print { body { margin: 0; padding: 0; max-width: none } .scroll { overflow: visible } }
@media screen and (max-width: 640px) { body { margin: 4mm auto; font-size: 12pt }
  header svg { width: 24mm; height: 24mm } h1 { font-size: 17pt }
  .head { grid-auto-flow: row; grid-template: none; grid-template-columns: auto 1fr }
  .fields { grid-template-columns: auto 1fr !important }
  th, td { padding: 4pt 5pt } .strong td { font-size: 11pt } td.write { min-width: 16mm } }
"""

#: A cell that begins with a number is kept on its line.
_NUMBER = re.compile(r"[±+−-]?\d")


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
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8">\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{title}</title>\n"
        f"<style>{style}</style></head><body>\n"
        f"<header><div><h1>{escape(content.title)}</h1>\n<p class='quiet'>Set-up sheet · "
        f"{escape(content.subtitle)} · lengths in {escape(content.units)}</p>\n"
        f"{_pairs(content.head, 'head')}</div>\n"
        f"{code}</header>\n"
        f"{banner}{body}\n<footer class='quiet'>{escape(content.footer)}</footer>\n</body></html>\n"
    )


def _block(block: Block) -> str:
    """Return one block."""
    if isinstance(block, Fields):
        return _pairs(
            block.fields, "fields", f"grid-template-columns:{'auto 1fr ' * block.columns}"
        )
    if isinstance(block, Grid):
        head = "".join(f"<th>{escape(name)}</th>" for name in block.columns)
        # A column in which nothing stands is there to be written in.
        empty = [not any(column) for column in zip(*block.rows, strict=True)]
        rows = "".join("<tr>" + "".join(map(_cell, row, empty)) + "</tr>" for row in block.rows)
        strong = ' class="strong"' if block.strong else ""
        return (
            f"<div class='scroll'><table{strong}><thead><tr>{head}</tr></thead>"
            f"<tbody>{rows}</tbody></table></div>"
        )
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


def _pairs(fields: tuple[Field, ...], kind: str, style: str = "") -> str:
    """Return names over or beside their values."""
    if not fields:
        return ""
    pairs = "".join(
        f"<dt>{escape(f.name)}</dt><dd{_write(f.value)}>{escape(f.value)}</dd>" for f in fields
    )
    return f'<dl class="{kind}"' + (f' style="{style.strip()}"' if style else "") + f">{pairs}</dl>"


def _cell(text: str, is_empty: bool) -> str:
    """Return one cell of a table, which may be in a column to write in."""
    kind = _write(text) if is_empty else ""
    if _NUMBER.match(text):
        kind = ' class="number"'
    return f"<td{kind}>{escape(text)}</td>"


def _write(value: str) -> str:
    """Return the class of a place to write in."""
    return "" if value else ' class="write"'
