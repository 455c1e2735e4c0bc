"""How a shop wants its cut files: ``[output]`` of the shop file.

Layer names and colours, line width, DXF release, one file a guide or a sheet, and whether the
kerf is in the lines or left to the laser's own software. A shop that leaves the kerf to its
software gets the finished size drawn, and the file's name says so, because the two look alike.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Final

from jigs.table import Table
from kerf.beam import Operation
from kerf.writing.dxf import LAYERS, RELEASES

#: Colours of the operations in DXF and SVG when the shop sets none.
COLOURS: Final[dict[Operation, str]] = {
    Operation.INSIDE: "#0a7f78",
    Operation.OUTSIDE: "#6a2c91",
    Operation.SCORE: "#b07a12",
    Operation.ENGRAVE: "#4a5560",
    Operation.REFERENCE: "#a8adb3",
}
#: Line width of the SVG when the shop sets none, mm.
LINE_WIDTH_MM: Final = 0.1
#: What a file's name gains when its lines are the finished size.
KERF_LEFT: Final = "-kerf-not-applied"

_COLOUR = re.compile(r"#[0-9a-f]{6}")
_LAYER = re.compile(r'[^<>/\\":;?*|=`\x00-\x1f]{1,255}')


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputProfile:
    """What a shop's cut files look like.

    Args:
        colours, layers: of each operation.
        line_width_mm: of the SVG's lines and of the DXF's layers, mm.
        release: DXF release.
        has_kerf: whether the kerf is in the lines; else they are the finished size.
        file_per: "guide" or "sheet": what one cut file holds when jobs are laid out together.
    """

    colours: dict[Operation, str] = field(default_factory=lambda: dict(COLOURS))
    layers: dict[Operation, str] = field(default_factory=lambda: dict(LAYERS))
    line_width_mm: float = LINE_WIDTH_MM
    release: str = RELEASES[0]
    has_kerf: bool = True
    file_per: str = "sheet"

    def stem(self, name: str) -> str:
        """Return a cut file's name without its ending: it says when the kerf is not in it."""
        return name if self.has_kerf else f"{name}{KERF_LEFT}"


def read_profile(table: Table | None) -> OutputProfile:
    """Return the profile an [output] table asks for; faults are noted in the table."""
    if table is None:
        return OutputProfile()
    colours, layers = dict(COLOURS), dict(LAYERS)
    chosen = table.table("colours") if table.has("colours") else None
    if chosen is not None:
        for operation in Operation:
            colour = chosen.text(operation.value, colours[operation]).lower()
            if not _COLOUR.fullmatch(colour):
                chosen.fault(operation.value, f"{colour} is no colour", 'write it as "#1a2b3c"')
                continue
            colours[operation] = colour
        chosen.finish()
    named = table.table("layers") if table.has("layers") else None
    if named is not None:
        for operation in Operation:
            name = named.text(operation.value, layers[operation])
            if not _LAYER.fullmatch(name):
                named.fault(
                    operation.value, f'"{name}" is no layer name', 'leave out <>/\\":;?*|=`'
                )
                continue
            layers[operation] = name
        if len({name.upper() for name in layers.values()}) < len(layers):
            named.fault("inside", "two operations share a layer", "give each its own name")
        named.finish()
    profile = OutputProfile(
        colours=colours,
        layers=layers,
        line_width_mm=table.length_mm("line_width", LINE_WIDTH_MM, above=0.0, most=2.0),
        release=table.choice("release", RELEASES, RELEASES[0]),
        has_kerf=table.choice("kerf", ("applied", "left"), "applied") == "applied",
        file_per=table.choice("file_per", ("guide", "sheet"), "sheet"),
    )
    table.finish()
    return profile
