"""A figure as PNG, for a preview: drawn by typst, which is already at hand for the sheet."""

from __future__ import annotations

from jigs.drawing.scene import Figure
from jigs.drawing.svg import svg

#: Dots an inch of a preview.
PREVIEW_PPI = 150.0


def png_bytes(figure: Figure, *, ppi: float = PREVIEW_PPI) -> bytes:
    """Return the figure as PNG on white, the same bytes for the same figure.

    Args:
        figure: what is drawn.
        ppi: dots an inch on paper, > 0.
    """
    import typst

    width, height = figure.width_mm, figure.height_mm
    source = (
        f"#set page(width: {width:.3f}mm, height: {height:.3f}mm, margin: 0mm, fill: white)\n"
        '#image(bytes(sys.inputs.svg), format: "svg", width: 100%)'
    )
    made = typst.compile(
        source.encode(),
        ignore_system_fonts=True,
        format="png",
        ppi=ppi,
        sys_inputs={"svg": svg(figure)},
        timestamp=0,
    )
    assert isinstance(made, bytes)
    return made
