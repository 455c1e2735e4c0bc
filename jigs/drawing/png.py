"""A figure as PNG, rasterised by the library that sets the set-up sheet: one dependency less."""

from __future__ import annotations

from typing import Any

from jigs.drawing.scene import Figure
from jigs.drawing.svg import svg


def png_bytes(figure: Figure, *, dots_per_inch: float = 150.0) -> bytes:
    """Return the figure as a PNG picture on white."""
    import typst

    page = (
        f"#set page(width: {figure.width_mm:.3f}mm, height: {figure.height_mm:.3f}mm, "
        "margin: 0mm, fill: white)\n"
        '#image("figure.svg", width: 100%, height: 100%)\n'
    )
    # The binding takes a table of files, which its type stubs do not say.
    files: Any = {"main.typ": page.encode(), "figure.svg": svg(figure).encode()}
    picture: Any = typst.compile(files, format="png", ppi=dots_per_inch, ignore_system_fonts=True)
    return bytes(picture)
