"""A figure as PNG, for a preview: drawn by typst, which is already at hand for the sheet."""

from __future__ import annotations

from jigs.drawing.scene import Figure
from jigs.drawing.svg import svg

#: Dots an inch of a preview.
PREVIEW_PPI = 150.0


#: White between figures that stand below each other, mm.
GAP_MM = 8.0


def png_bytes(*figures: Figure, ppi: float = PREVIEW_PPI) -> bytes:
    """Return figures below each other as PNG on white, the same bytes for the same figures.

    Args:
        figures: what is drawn, at least one.
        ppi: dots an inch on paper, > 0.
    """
    import typst

    width = max(figure.width_mm for figure in figures)
    images = ",".join(
        f'image(bytes(sys.inputs.at("f{i}")), format: "svg", width: {figure.width_mm:.3f}mm)'
        for i, figure in enumerate(figures)
    )
    source = (
        f"#set page(width: {width:.3f}mm, height: auto, margin: 0mm, fill: white)\n"
        f"#stack(dir: ttb, spacing: {GAP_MM}mm, {images})"
    )
    made = typst.compile(
        source.encode(),
        ignore_system_fonts=True,
        format="png",
        ppi=ppi,
        sys_inputs={f"f{i}": svg(figure) for i, figure in enumerate(figures)},
        timestamp=0,
    )
    assert isinstance(made, bytes)
    return made
