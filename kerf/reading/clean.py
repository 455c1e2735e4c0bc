"""The outline as read, written as a clean DXF drawing: nothing cut, no kerf in it.

What goes back to the person who drew the part: each loop one closed polyline with bulges or a
circle, outlines and holes on layers of their own, millimetres, the same bytes every time.
"""

from __future__ import annotations

import io
from collections.abc import Sequence

from kerf.contour import Contour, Region
from kerf.reading.chain import circle_of


def clean_dxf_bytes(regions: Sequence[Region]) -> bytes:
    """Return a DXF (R2000, mm) of regions: layers OUTLINE and HOLE."""
    import ezdxf

    before = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        doc = ezdxf.new("R2000", setup=False, units=4)
        doc.header["$MEASUREMENT"] = 1
        space = doc.modelspace()
        for name in ("OUTLINE", "HOLE"):
            doc.layers.add(name)
        for region in regions:
            _add(space, region.outer, "OUTLINE")
            for hole in region.holes:
                _add(space, hole, "HOLE")
        text = io.StringIO()
        doc.write(text)
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = before
    return text.getvalue().encode("utf-8")


def _add(space: object, loop: Contour, layer: str) -> None:
    """Add one loop to a layout, as a circle when it is one."""
    circle = circle_of(loop)
    if circle is not None:
        (x, y), radius = circle
        space.add_circle((x, y), radius, dxfattribs={"layer": layer})  # type: ignore[attr-defined]
        return
    rows = [(v.x, v.y, v.bulge) for v in loop.vertices]
    space.add_lwpolyline(  # type: ignore[attr-defined]
        rows, format="xyb", close=True, dxfattribs={"layer": layer}
    )
