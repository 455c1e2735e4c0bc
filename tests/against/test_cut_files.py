"""The written cut files, read by programs that are not ours.

Source: GDAL's DXF driver (through pyogrio), ezdxf's audit, librsvg and resvg as rasterisers.
"""

from __future__ import annotations

import io
import math
import os
import subprocess

import numpy as np
import pytest
import shapely
from PIL import Image

from kerf.beam import CutPlan, KerfCard, Operation, Stroke, beam_paths
from kerf.contour import Contour, Point, Region, Transform
from kerf.shapes import flange, kidney
from kerf.writing.dxf import dxf_bytes
from kerf.writing.svg import svg_bytes

COLOURS = dict.fromkeys(Operation, "#203040")
CARD = KerfCard(name="test", kerf_mm=0.2, u_mm=0.01)


@pytest.fixture(scope="module")
def plan() -> CutPlan:
    """A flange with a kidney-shaped window, in a 100 × 90 frame."""
    window = kidney(pitch_radius_mm=28, width_mm=6, sweep_rad=1.2).outer
    disc = flange(diameter_mm=80, bore_mm=20, bolt_circle_mm=62, bolts=5, bolt_hole_mm=5)
    region = Region(outer=disc.outer, holes=(*disc.holes[:1], window)).transformed(
        Transform.translation(50, 45)
    )
    return CutPlan(
        width_mm=100,
        height_mm=90,
        strokes=(
            Stroke(operation=Operation.ENGRAVE, points=(Point(20, 20), Point(30, 20)), piece="a"),
        ),
        paths=beam_paths(region, CARD, piece="a"),
        kerf=CARD,
    )


@pytest.mark.parametrize("release", ["R2000", "R12"])
def test_gdal_reads_the_same_areas(plan, release, tmp_path, monkeypatch):
    pyogrio = pytest.importorskip("pyogrio")
    monkeypatch.setitem(os.environ, "OGR_ARC_STEPSIZE", "0.25")
    pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": "0.25"})
    path = tmp_path / "cut.dxf"
    path.write_bytes(dxf_bytes(plan, colours=COLOURS, release=release))
    _, _, geometry, fields = pyogrio.raw.read(path, columns=["Layer"])
    lines = {}
    for wkb, layer in zip(geometry, fields[0], strict=True):
        lines.setdefault(layer, []).append(shapely.from_wkb(wkb))
    assert set(lines) == {"INSIDE", "OUTSIDE", "ENGRAVE"}
    got = sorted(
        shapely.Polygon(shapely.force_2d(line).coords).area
        for layer in ("INSIDE", "OUTSIDE")
        for line in lines[layer]
    )
    want = sorted(path.contour.area_mm2 for path in plan.paths)
    # GDAL facets every 0.25°: an inscribed polygon loses at most 1 − sin(a)/a of each arc.
    step = math.radians(0.25)
    assert got == pytest.approx(want, rel=2 * (1 - math.sin(step) / step) + 1e-9)


def test_ezdxf_audit_passes(plan):
    import ezdxf

    for release in ("R2000", "R12"):
        text = dxf_bytes(plan, colours=COLOURS, release=release).decode()
        doc = ezdxf.read(io.StringIO(text))
        auditor = doc.audit()
        assert not auditor.has_errors
        assert not auditor.has_fixes


def inked(png: bytes) -> np.ndarray:
    """Return which pixels are dark."""
    image = Image.open(io.BytesIO(png)).convert("RGBA")
    white = Image.new("RGBA", image.size, "white")
    white.alpha_composite(image)
    return np.asarray(white.convert("L")) < 128


def filled(plan: CutPlan) -> bytes:
    """Return the plan's SVG with the cut paths filled, so that a raster shows areas."""
    text = svg_bytes(plan, colours=COLOURS).decode()
    return (
        text.replace('id="inside"', 'id="inside" style="fill:#fff;stroke:none"')
        .replace('id="outside"', 'id="outside" style="fill:#000;stroke:none"')
        .encode()
    )


def expected_share(plan: CutPlan) -> float:
    """Return the share of the frame inside the outer path."""
    outer = next(p for p in plan.paths if p.operation is Operation.OUTSIDE)
    return outer.contour.area_mm2 / (plan.width_mm * plan.height_mm)


def test_librsvg_draws_it_at_true_size(plan, tmp_path, program):
    source = tmp_path / "cut.svg"
    text = filled(plan).decode()
    # The outer path's ink alone: its group comes later in the file and covers the windows.
    source.write_text(text)
    png = subprocess.run(
        [program("rsvg-convert"), "--dpi-x", "254", "--dpi-y", "254", str(source)],
        capture_output=True,
        check=True,
    ).stdout
    dark = inked(png)
    assert dark.shape == (900, 1000)  # 10 pixels a millimetre
    assert dark.mean() == pytest.approx(expected_share(plan), rel=2e-3)
    rows, columns = np.flatnonzero(dark.any(axis=1)), np.flatnonzero(dark.any(axis=0))
    assert (columns[-1] - columns[0] + 1) / 10 == pytest.approx(80.2, abs=0.25)
    assert (rows[-1] - rows[0] + 1) / 10 == pytest.approx(80.2, abs=0.25)


def test_resvg_draws_the_same_region(plan):
    resvg = pytest.importorskip("resvg_py")
    text = filled(plan).decode()
    png = bytes(resvg.svg_to_bytes(svg_string=text, dpi=254))
    dark = inked(png)
    assert dark.mean() == pytest.approx(expected_share(plan), rel=2e-3)


def test_a_lone_hole_is_where_it_was_drawn(tmp_path, program):
    """A notch at the upper left must stay at the upper left: the y axis is turned over once."""
    body = Region(outer=Contour.rectangle(0, 0, 60, 40), holes=(Contour.circle(10, 30, 5),))
    plan = CutPlan(
        width_mm=60, height_mm=40, strokes=(), paths=beam_paths(body, CARD, piece="a"), kerf=CARD
    )
    text = svg_bytes(plan, colours=COLOURS).decode()
    text = text.replace('id="inside"', 'id="inside" style="fill:#000"')
    source = tmp_path / "hole.svg"
    source.write_text(text)
    png = subprocess.run(
        [program("rsvg-convert"), "--dpi-x", "254", "--dpi-y", "254", str(source)],
        capture_output=True,
        check=True,
    ).stdout
    rows, columns = np.nonzero(inked(png)[5:-5, 5:-5])
    assert columns.mean() / 10 + 0.5 == pytest.approx(10, abs=0.1)
    assert rows.mean() / 10 + 0.5 == pytest.approx(40 - 30, abs=0.1)
