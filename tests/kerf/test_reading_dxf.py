"""DXF reading, entity by entity and fault by fault, on drawings made here."""

from __future__ import annotations

import io
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import pytest

from kerf.errors import InputError
from kerf.reading import read_drawing, survey_drawing
from kerf.reading.drawing import FaultKind, Healing
from kerf.reading.dxf import stated_unit

SQUARE = ((0, 0), (100, 0), (100, 60), (0, 60))


def saved(folder: Path, draw: Callable[[Any], object], *, units: int = 4, release="R2010") -> Path:
    """Save a drawing that ``draw`` fills; it is given the model space (doc in .doc)."""
    doc = ezdxf.new(release, units=units)
    draw(doc.modelspace())
    path = folder / "part.dxf"
    doc.saveas(path)
    return path


def square(space: Any, **attributes: Any) -> None:
    """Draw the 100 × 60 plate as four loose lines."""
    for a, b in zip(SQUARE, (*SQUARE[1:], SQUARE[0]), strict=True):
        space.add_line(a, b, dxfattribs=attributes)


def with_arc(space: Any) -> None:
    """Draw a half disc of radius 10."""
    space.add_arc((0, 0), 10, 0, 180)
    space.add_line((10, 0), (-10, 0))


# -- each kind of entity: area against the formula of the shape --------------------------

HALF_DISC = math.pi * 50


@pytest.mark.parametrize(
    ("draw", "area"),
    [
        pytest.param(square, 6000, id="loose lines"),
        pytest.param(lambda s: s.add_circle((5, 5), 10), 100 * math.pi, id="circle"),
        pytest.param(lambda s: s.add_arc((5, 5), 10, 30, 30), 100 * math.pi, id="whole arc"),
        pytest.param(with_arc, HALF_DISC, id="arc and line"),
        pytest.param(
            lambda s: s.add_lwpolyline([(-10, 0, 1), (10, 0, 0)], format="xyb", close=True),
            HALF_DISC,
            id="bulge",
        ),
        pytest.param(
            lambda s: s.add_lwpolyline([*SQUARE, SQUARE[0]]), 6000, id="polyline without its flag"
        ),
        pytest.param(
            lambda s: s.add_lwpolyline([*SQUARE, SQUARE[0]], close=True),
            6000,
            id="closed twice over",
        ),
        pytest.param(lambda s: s.add_polyline2d(SQUARE, close=True), 6000, id="old polyline"),
        pytest.param(
            lambda s: s.add_polyline3d([(x, y, 5) for x, y in SQUARE], close=True),
            6000,
            id="3D polyline at one height",
        ),
        pytest.param(
            lambda s: s.add_circle((5, 5), 10, dxfattribs={"extrusion": (0, 0, -1)}),
            100 * math.pi,
            id="seen from behind",
        ),
        pytest.param(
            lambda s: s.add_mline(
                [(0, 0), (50, 0), (50, 50)], close=True, dxfattribs={"scale_factor": 2}
            ),
            None,
            id="multiline",
        ),
    ],
)
def test_entity_gives_its_area(tmp_path: Path, draw: Any, area: float | None) -> None:
    drawing = read_drawing(saved(tmp_path, draw))
    got = sum(region.area_mm2 for region in drawing.regions)
    if area is not None:
        assert got == pytest.approx(area, rel=1e-9)
    assert drawing.regions


def test_ellipse_within_tolerance(tmp_path: Path) -> None:
    """Source: area π a b."""
    drawing = read_drawing(saved(tmp_path, lambda s: s.add_ellipse((3, 4), (20, 5), 0.4)))
    a = math.hypot(20, 5)
    (region,) = drawing.regions
    assert region.area_mm2 == pytest.approx(math.pi * a * a * 0.4, abs=0.002 * region.length_mm)
    (healed,) = drawing.healed
    assert healed.kind == Healing.CURVE
    assert 0 < healed.amount_mm <= 2e-3


@pytest.mark.parametrize("release", ["R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"])
@pytest.mark.parametrize("fmt", ["asc", "bin"])
def test_every_release(tmp_path: Path, release: str, fmt: str) -> None:
    doc = ezdxf.new(release, units=4)
    square(doc.modelspace())
    path = tmp_path / "part.dxf"
    doc.saveas(path, fmt=fmt)
    # R12 cannot state a unit; the writer leaves the variable out.
    (region,) = read_drawing(path, unit="mm" if release == "R12" else None).regions
    assert region.area_mm2 == pytest.approx(6000, rel=1e-12)


# -- blocks ------------------------------------------------------------------------------


def block_of(space: Any, draw: Callable[[Any], object], **attributes: Any) -> None:
    block = space.doc.blocks.new("B", base_point=(1, 2))
    draw(block)
    space.add_blockref("B", attributes.pop("at", (0, 0)), dxfattribs=attributes)


@pytest.mark.parametrize(
    ("attributes", "factor"),
    [
        ({"rotation": 33.0, "xscale": 2.0, "yscale": 2.0}, 4.0),
        ({"xscale": -1.0}, 1.0),
        ({"extrusion": (0, 0, -1), "rotation": 10.0}, 1.0),
        ({"xscale": 3.0, "yscale": 0.5}, 1.5),
        ({"xscale": -3.0, "yscale": 0.5, "rotation": 45.0}, 1.5),
    ],
)
def test_insert_scales_area_by_its_determinant(tmp_path: Path, attributes, factor) -> None:
    """Source: an affine map multiplies area by its determinant."""
    path = saved(tmp_path, lambda s: block_of(s, with_arc, **attributes))
    (region,) = read_drawing(path).regions
    assert region.area_mm2 == pytest.approx(HALF_DISC * factor, abs=0.002 * region.length_mm)


def test_insert_lands_where_an_independent_library_puts_it(tmp_path: Path) -> None:
    """Source: ezdxf's own unfolding of nested, mirrored references."""
    path = tmp_path / "part.dxf"
    doc = ezdxf.new("R2010", units=4)
    inner = doc.blocks.new("INNER", base_point=(3, -2))
    inner.add_lwpolyline(
        [(0, 0, 0.4), (20, 0, 0), (20, 8, -0.2), (0, 8, 0)], format="xyb", close=True
    )
    outer = doc.blocks.new("OUTER", base_point=(1, 1))
    outer.add_blockref("INNER", (5, 6), dxfattribs={"rotation": 20, "yscale": -1})
    reference = doc.modelspace().add_blockref(
        "OUTER",
        (40, 50),
        dxfattribs={"xscale": 2, "yscale": 2, "rotation": -70, "extrusion": (0, 0, -1)},
    )
    doc.saveas(path)
    (region,) = read_drawing(path).regions
    (nested,) = reference.virtual_entities()
    (run,) = nested.virtual_entities()
    ours = sorted((round(v.x, 6), round(v.y, 6)) for v in region.outer.vertices)
    theirs = sorted((round(p.x, 6), round(p.y, 6)) for p in run.vertices_in_wcs())
    assert ours == theirs


def test_grid_of_a_block(tmp_path: Path) -> None:
    grid = {
        "row_count": 2,
        "column_count": 3,
        "row_spacing": 50,
        "column_spacing": 40,
        "rotation": 90,
    }
    drawing = read_drawing(
        saved(tmp_path, lambda s: block_of(s, lambda b: b.add_circle((0, 0), 5), **grid))
    )
    centres = sorted(
        (round(r.bounds().centre.x, 6), round(r.bounds().centre.y, 6)) for r in drawing.regions
    )
    # The grid turns with the block: columns run along +y, rows along −x.
    assert centres == sorted(
        (2 - 50 * r + 0.0, -1 + 40 * c + 0.0) for r in range(2) for c in range(3)
    )


def test_block_that_holds_itself(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        a, b = space.doc.blocks.new("A"), space.doc.blocks.new("B")
        a.add_blockref("B", (0, 0))
        b.add_blockref("A", (0, 0))
        space.add_blockref("A", (0, 0), dxfattribs={"layer": "CUT"})

    with pytest.raises(InputError, match="holds itself") as caught:
        read_drawing(saved(tmp_path, draw))
    assert "INSERT #" in caught.value.where


def test_blocks_that_multiply(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        space.doc.blocks.new("B0").add_line((0, 0), (1, 0))
        for i in range(1, 10):
            block = space.doc.blocks.new(f"B{i}")
            for _ in range(10):
                block.add_blockref(f"B{i - 1}", (0, 0))
        space.add_blockref("B9", (0, 0))

    with pytest.raises(InputError, match="once its blocks are unfolded"):
        read_drawing(saved(tmp_path, draw))


# -- what is no outline ------------------------------------------------------------------


def test_notes_are_counted_and_hidden_layers_named(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        square(space)
        space.add_circle((50, 30), 5)
        space.add_line((43, 30), (57, 30))
        space.add_line((50, 23), (50, 37))
        space.add_text("REV B")
        space.add_linear_dim(base=(0, -10), p1=(0, 0), p2=(100, 0)).render()
        space.doc.layers.add("FIXTURE").freeze()
        space.doc.layers.add("OLD").off()
        space.add_circle((20, 20), 3, dxfattribs={"layer": "FIXTURE"})
        space.add_circle((80, 20), 3, dxfattribs={"layer": "OLD"})
        space.doc.linetypes.add("CENTER2", [1.0, 0.6, -0.2, 0.1, -0.1])
        space.add_circle((50, 30), 20, dxfattribs={"linetype": "CENTER2"})

    drawing = read_drawing(saved(tmp_path, draw))
    (region,) = drawing.regions
    assert region.area_mm2 == pytest.approx(6000 - 25 * math.pi)
    assert dict(drawing.set_aside) == {"TEXT": 1, "DIMENSION": 1, "centre line": 1}
    assert sum(h.kind == Healing.CENTRE_MARK for h in drawing.healed) == 2
    notes = "\n".join(drawing.notes)
    assert 'left out, frozen: "FIXTURE" (1)' in notes
    assert 'left out, off: "OLD" (1)' in notes


def test_layers_are_chosen_by_wildcards(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        square(space, layer="CUT_OUTER")
        space.add_circle((50, 30), 5, dxfattribs={"layer": "cut_inner"})
        space.add_line((0, 0), (100, 60), dxfattribs={"layer": "BEND"})

    path = saved(tmp_path, draw)
    with pytest.raises(InputError) as caught:
        read_drawing(path)
    assert "LINE #" in caught.value.describe()
    assert 'layer "BEND"' in caught.value.describe()
    for patterns, holes in ((("CUT*",), 1), (("!bend",), 1), (("CUT*", "!*INNER"), 0)):
        (region,) = read_drawing(path, layers=patterns).regions
        assert len(region.holes) == holes
    with pytest.raises(InputError, match="no outline") as caught:
        read_drawing(path, layers=("NONE",))
    assert "NONE" in caught.value.hint


def test_hatch_boundary_on_request(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        hatch = space.add_hatch()
        hatch.paths.add_polyline_path(SQUARE, is_closed=True)
        edges = hatch.paths.add_edge_path()
        edges.add_arc((50, 30), 10, 0, 180)
        edges.add_line((40, 30), (60, 30))

    path = saved(tmp_path, draw)
    with pytest.raises(InputError, match="no outline") as caught:
        read_drawing(path)
    assert "hatched" in caught.value.hint
    (region,) = read_drawing(path, hatches=True).regions
    assert region.area_mm2 == pytest.approx(6000 - HALF_DISC)


def test_paper_space_when_the_model_is_empty(tmp_path: Path) -> None:
    drawing = read_drawing(saved(tmp_path, lambda s: square(s.doc.layout("Layout1"))))
    assert len(drawing.regions) == 1
    assert any("paper space" in note for note in drawing.notes)


def test_spline_frame_points_are_not_drawn(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        run = space.add_polyline2d(SQUARE, close=True)
        run.dxf.flags |= 4
        run.append_vertex((500, 500), dxfattribs={"flags": 16})
        for vertex in run.vertices[:4]:
            vertex.dxf.flags = 8

    (region,) = read_drawing(saved(tmp_path, draw)).regions
    assert region.area_mm2 == pytest.approx(6000)


# -- heights -----------------------------------------------------------------------------


def test_noise_in_z_is_laid_flat(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        for a, b in zip(SQUARE, (*SQUARE[1:], SQUARE[0]), strict=True):
            space.add_line((*a, 1e-7), (*b, -1e-7))

    drawing = read_drawing(saved(tmp_path, draw))
    assert drawing.regions[0].area_mm2 == pytest.approx(6000)
    assert not drawing.notes


def test_one_height_is_noted(tmp_path: Path) -> None:
    drawing = read_drawing(saved(tmp_path, lambda s: s.add_circle((0, 0, 12.5), 5)))
    assert any("height 12.5 mm" in note for note in drawing.notes)


@pytest.mark.parametrize(
    "draw",
    [
        pytest.param(lambda s: s.add_line((0, 0, 0), (100, 0, 40)), id="sloping line"),
        pytest.param(
            lambda s: s.add_circle((0, 0), 10, dxfattribs={"extrusion": (1, 0, 0)}), id="on edge"
        ),
        pytest.param(
            lambda s: s.add_lwpolyline(SQUARE, close=True, dxfattribs={"extrusion": (0, 1, 1)}),
            id="tilted",
        ),
    ],
)
def test_off_plane_is_refused_by_name(tmp_path: Path, draw: Any) -> None:
    path = saved(tmp_path, lambda s: (square(s), draw(s)))
    with pytest.raises(InputError) as caught:
        read_drawing(path)
    text = caught.value.describe()
    assert "does not lie flat" in text
    assert "#" in text
    assert 'layer "0"' in text


def test_only_solids(tmp_path: Path) -> None:
    path = saved(tmp_path, lambda s: s.add_3dface([(0, 0), (1, 0), (1, 1), (0, 1)]))
    with pytest.raises(InputError, match="no flat outline") as caught:
        read_drawing(path)
    assert "3DFACE #" in caught.value.what


def test_region_is_not_lost_silently(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        square(space)
        space.add_region().sat = ("400 0 1 0",)

    path = saved(tmp_path, draw, release="R2000")
    with pytest.raises(InputError) as caught:
        read_drawing(path)
    assert "REGION" in caught.value.describe()


# -- numbers that cannot be --------------------------------------------------------------


def edited(path: Path, old: str, new: str, count: int = 1) -> Path:
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, count))
    return path


@pytest.mark.parametrize("value", ["nan", "inf", "1e300", "-1e300"])
def test_numbers_out_of_range(tmp_path: Path, value: str) -> None:
    path = saved(
        tmp_path, lambda s: (square(s), s.add_circle((12.34375, 20), 5, dxfattribs={"layer": "H"}))
    )
    with pytest.raises(InputError) as caught:
        read_drawing(edited(path, "12.34375", value))
    text = caught.value.describe()
    assert "no usable number" in text
    assert "CIRCLE #" in text
    assert 'layer "H"' in text


def test_missing_group_is_no_default(tmp_path: Path) -> None:
    path = saved(tmp_path, lambda s: (square(s), s.add_circle((20, 20), 7.59375)))
    with pytest.raises(InputError, match="radius is missing"):
        read_drawing(edited(path, " 40\n7.59375\n", ""))


def test_malformed_spline_is_named(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        spline = space.add_open_spline([(0, 0), (10, 20), (20, 0), (30, 20)])
        spline.knots = [0, 0, 1, 1]

    doc = ezdxf.new("R2010", units=4)
    draw(doc.modelspace())
    path = tmp_path / "part.dxf"
    doc.saveas(path)
    with pytest.raises(InputError) as caught:
        read_drawing(path)
    assert "SPLINE #" in caught.value.describe()


def test_zero_size_is_dropped_and_said(tmp_path: Path) -> None:
    path = saved(
        tmp_path, lambda s: (square(s), s.add_line((5, 5), (5, 5)), s.add_circle((9, 9), 0))
    )
    drawing = read_drawing(path)
    assert [h.kind for h in drawing.healed] == [Healing.ZERO, Healing.ZERO]
    assert len(drawing.regions[0].holes) == 0


# -- units -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("code", "unit", "factor"),
    [(1, "inch", 25.4), (4, "mm", 1.0), (5, "cm", 10.0), (9, "mil", 0.0254)],
)
def test_header_unit(tmp_path: Path, code: int, unit: str, factor: float) -> None:
    """Source: DXF reference, $INSUNITS codes; exact inch, 1959 agreement."""
    size = 100 / factor
    path = saved(tmp_path, lambda s: s.add_circle((0, 0), size), units=code)
    drawing = read_drawing(path)
    assert drawing.unit == unit
    assert drawing.regions[0].bounds().width == pytest.approx(200)


def test_no_unit_asks_with_both_sizes(tmp_path: Path) -> None:
    path = saved(tmp_path, square, units=0)
    with pytest.raises(InputError) as caught:
        read_drawing(path)
    assert "100 × 60 mm as millimetres, or 2540 × 1524 mm as inches" in caught.value.what
    assert "units" in caught.value.hint
    assert read_drawing(path, unit="inch").regions[0].bounds().width == pytest.approx(2540)


def test_a_circle_of_two_arcs_is_as_high_as_it_is_wide(tmp_path: Path) -> None:
    """Its vertices alone have no height."""
    ends = [(0, 0, 1), (100, 0, 1)]
    path = saved(tmp_path, lambda s: s.add_lwpolyline(ends, format="xyb", close=True), units=0)
    with pytest.raises(InputError, match="100 × 100 mm as millimetres"):
        read_drawing(path)


@pytest.mark.parametrize(
    "rows",
    [
        [(0, 0, 0), (2e6, 0, 0), (2e6, 9, 0)],
        [(0, 0, 0), (9, 0, 99999999999.0), (9, 9, 0)],
    ],
    ids=["far", "bulge"],
)
def test_what_no_unit_makes_a_part_of_is_refused(tmp_path: Path, rows) -> None:
    """A damaged bulge was followed in millions of facets, 2.4 GiB of them."""
    path = saved(tmp_path, lambda s: s.add_lwpolyline(rows, format="xyb", close=True))
    with pytest.raises(InputError, match="km across in the unit asked for"):
        read_drawing(path, unit="mm")


def test_absurd_size_stops(tmp_path: Path) -> None:
    wide = lambda s: s.add_lwpolyline([(0, 0), (370, 0), (370, 200), (0, 200)], close=True)  # noqa: E731
    path = saved(tmp_path, wide, units=1)
    with pytest.raises(InputError) as caught:
        read_drawing(path)
    assert "the drawing reads 9398 mm wide as inches, 370 mm as millimetres: set `units`" in (
        caught.value.what
    )
    drawing = read_drawing(path, unit="mm")
    assert any("the file says inches" in note for note in drawing.notes)
    tiny = saved(tmp_path, lambda s: s.add_circle((0, 0), 0.025), units=4)
    with pytest.raises(InputError, match=r"0\.05 mm wide as millimetres, 1\.27 mm as inches"):
        read_drawing(tiny)


def test_r12_without_a_header_states_no_unit(tmp_path: Path) -> None:
    """The library fills in metres on loading; the file itself says nothing."""
    text = (
        "0\nSECTION\n2\nENTITIES\n0\nCIRCLE\n8\n0\n10\n0.0\n20\n0.0\n40\n5.0\n0\nENDSEC\n0\nEOF\n"
    )
    path = tmp_path / "old.dxf"
    path.write_text(text)
    assert stated_unit(path.read_bytes()) is None
    with pytest.raises(InputError, match="does not say its unit"):
        read_drawing(path)
    assert read_drawing(path, unit="mm").regions[0].area_mm2 == pytest.approx(25 * math.pi)


def test_unit_of_a_binary_file(tmp_path: Path) -> None:
    doc = ezdxf.new("R2010", units=1)
    doc.modelspace().add_circle((0, 0), 2)
    stream = io.BytesIO()
    doc.write(stream, fmt="bin")
    assert stated_unit(stream.getvalue()) == "inch"


# -- files that are none -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("content", "words"),
    [
        pytest.param(b"", "empty", id="0 byte"),
        pytest.param(b"\r\n \n", "empty", id="blank"),
        pytest.param(b"AC1032\x00\x00\x00\x00\x00" + bytes(range(256)), "DWG", id="DWG renamed"),
        pytest.param(bytes(range(256)) * 40, "no DXF", id="binary rubbish"),
        pytest.param(b"%PDF-1.7\n", "a PDF", id="PDF"),
        pytest.param(b"<svg/>", "an SVG", id="SVG"),
        pytest.param(b"PK\x03\x04....", "ZIP", id="ZIP"),
        pytest.param(b"hello, world\n", "no DXF", id="text"),
        pytest.param("größe\n".encode("latin-1"), "no DXF", id="not UTF-8"),
    ],
)
def test_impostors(tmp_path: Path, content: bytes, words: str) -> None:
    path = tmp_path / "part.dxf"
    path.write_bytes(content)
    with pytest.raises(InputError, match=words) as caught:
        read_drawing(path)
    assert "part.dxf" in caught.value.describe()


def test_missing_and_folder(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="does not exist"):
        read_drawing(tmp_path / "none.dxf")
    with pytest.raises(InputError, match="folder"):
        read_drawing(tmp_path)


@pytest.mark.parametrize("fmt", ["asc", "bin"])
@pytest.mark.parametrize("share", [0.3, 0.6, 0.8])
def test_cut_short(tmp_path: Path, fmt: str, share: float) -> None:
    doc = ezdxf.new("R2010", units=4)
    for i in range(400):
        doc.modelspace().add_circle((i * 20, 0), 5)
    path = tmp_path / "part.dxf"
    doc.saveas(path, fmt=fmt)
    content = path.read_bytes()
    end = content.find(b"OBJECTS") if fmt == "asc" else len(content)
    path.write_bytes(content[: int(end * share)])
    with pytest.raises(InputError, match="cut short"):
        read_drawing(path)


def test_layer_name_in_an_old_code_page(tmp_path: Path) -> None:
    path = saved(
        tmp_path, lambda s: (square(s), s.add_line((5, 5), (9, 9), dxfattribs={"layer": "LXXR"}))
    )
    path.write_bytes(path.read_bytes().replace(b"LXXR", b"L\xe4\xf6R"))
    with pytest.raises(InputError) as caught:
        read_drawing(path)
    caught.value.describe().encode("utf-8")


def test_damaged_file_is_recovered_with_a_warning(tmp_path: Path) -> None:
    path = saved(tmp_path, square)
    edited(path, "AcDbDictionary\n", "AcDbDictionary\n  0.5\n1.0\n")
    drawing = survey_drawing(path)
    assert any("recovered" in note for note in drawing.notes)
    assert drawing.regions[0].area_mm2 == pytest.approx(6000)


def test_same_file_same_answer(tmp_path: Path) -> None:
    path = saved(tmp_path, lambda s: (square(s), with_arc(s)))
    assert survey_drawing(path) == survey_drawing(path)
    assert {f.kind for f in survey_drawing(path).faults} <= set(FaultKind)
