"""DXF reading against public drawings by others, and against a second reader of the same files.

The drawings stand beside the repository and are passed over when absent. Each either reads
as its row in their README says, or is refused with entity, layer and place.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest

from kerf.errors import InputError
from kerf.reading import read_drawing, survey_drawing
from kerf.reading.drawing import MM_PER_UNIT, FaultKind, Healing

#: name, unit to give (None: the file's), parts, area of the largest outline in drawing units
#: (from the README, chordal), holes over all parts.
#: Source: README of the collection, "areas by a simple walk, chordal"; parts and holes counted
#: in a picture of each drawing.
READS = [
    ("CadQuery__cadquery__MC_12x31.dxf", None, 1, 9.137, 0),
    ("CadQuery__cadquery__gear.dxf", "mm", 1, 557.93, 1),
    ("CadQuery__cadquery__three_layers.dxf", "mm", 3, 2619.474, 0),
    ("MaslowCNC__Mechanics__ExtraBrackets.dxf", None, 3, 3686.426, 0),
    ("OpenRacer__OpenRacer__4mm_Brace.dxf", None, 1, 1129.166, 4),
    ("VoronDesign__Voron-2__250_Deck_Panel.dxf", None, 1, 133072.211, 5),
    ("josefprusa__Prusa3__mini-plate.dxf", "mm", 3, 69423.728, 51),
    ("josefprusa__Prusa3__ybrac-t.dxf", None, 1, 2106.906, 0),
    ("mikedh__trimesh__1002_tray_bottom.dxf", None, 1, 171.496, 23),
    ("mikedh__trimesh__125_aluminum_srcMH.dxf", None, 9, 262.639, 117),
    ("mikedh__trimesh__ChuteHolderPrint.dxf", None, 8, 8125.675, 35),
    ("mikedh__trimesh__insert.dxf", None, 2, 27037.5, 0),
    ("mikedh__trimesh__sliding-base.dxf", None, 4, 77.64, 5),
    ("mikedh__trimesh__spline.dxf", None, 4, 6823.842, 0),
    ("mozman__ezdxf__forms.dxf", None, 23, 45877.263, 17),
    ("nophead__Mendel90__y_carriage.dxf", "mm", 1, 46860.545, 16),
]


@pytest.mark.parametrize(("name", "unit", "parts", "area", "holes"), READS)
def test_reads_as_its_row_says(corpus: Path, name, unit, parts, area, holes) -> None:
    drawing = read_drawing(corpus / "dxf" / name, unit=unit)
    assert len(drawing.regions) == parts
    assert sum(len(region.holes) for region in drawing.regions) == holes
    square_mm = MM_PER_UNIT[drawing.unit] ** 2
    # The README's walk takes arcs as a few chords: half a part in a thousand.
    assert drawing.regions[0].outer.area_mm2 / square_mm == pytest.approx(area, rel=5e-4)


@pytest.mark.parametrize("name", [row[0] for row in READS])
def test_area_agrees_with_a_second_reader(corpus: Path, name: str) -> None:
    """Source: ezdxf flattens each entity on its own; loops by a walk of coincident ends.

    Compared over all loops, sorted by area, so that nesting plays no part.
    """
    row = next(row for row in READS if row[0] == name)
    drawing = read_drawing(corpus / "dxf" / name, unit=row[1])
    k = MM_PER_UNIT[drawing.unit]
    ours = sorted(loop.area_mm2 / k**2 for region in drawing.regions for loop in region.loops())
    theirs = sorted(walked_areas(corpus / "dxf" / name))
    assert len(ours) == len(theirs)
    length = max(r.outer.length_mm for r in drawing.regions) / k
    assert ours == pytest.approx(theirs, rel=1e-6, abs=length * 5e-3 / k)


def walked_areas(path: Path) -> list[float]:
    """Return the areas, above 1e-6, of closed walks over ends that coincide within 0.03 units."""
    runs = flattened(list(ezdxf.readfile(path).modelspace()))
    areas = []
    while runs:
        run = runs.pop(0)
        while math.dist(run[0], run[-1]) > 0.03 or len(run) < 3:
            for i, other in enumerate(runs):
                if math.dist(run[-1], other[0]) < 0.03:
                    run += runs.pop(i)[1:]
                    break
                if math.dist(run[-1], other[-1]) < 0.03:
                    run += runs.pop(i)[-2::-1]
                    break
            else:
                raise AssertionError(f"the second reader found an open run at {run[-1]}")
        x, y = (np.array(run) - run[0]).T
        areas.append(abs(float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]))) / 2)
    return [area for area in areas if area > 1e-6]


def flattened(entities: list[Any]) -> list[list[tuple[float, float]]]:
    """Return the points of each entity, to 1e-5 units, as the other library sees them."""
    runs = []
    for entity in entities:
        kind = entity.dxftype()
        if kind == "INSERT":
            runs += flattened(list(entity.virtual_entities()))
        elif kind == "LWPOLYLINE":
            run = [tuple(next(iter(entity.vertices_in_wcs())))[:2]]
            for piece in flattened(list(entity.virtual_entities())):
                ahead = math.dist(run[-1], piece[0]) <= math.dist(run[-1], piece[-1])
                run += piece[1:] if ahead else piece[-2::-1]
            runs.append(run)
        elif kind == "LINE":
            runs.append([(p.x, p.y) for p in (entity.dxf.start, entity.dxf.end)])
        elif kind in ("ARC", "CIRCLE", "ELLIPSE", "SPLINE"):
            runs.append([(p.x, p.y) for p in entity.flattening(1e-5)])
    return runs


def refusal(path: Path, **options: Any) -> str:
    with pytest.raises(InputError) as caught:
        read_drawing(path, **options)
    return caught.value.describe()


def test_no_unit_is_asked_for(corpus: Path) -> None:
    for name in ("CadQuery__cadquery__gear", "josefprusa__Prusa3__mini-plate"):
        assert "does not say its unit" in refusal(corpus / "dxf" / f"{name}.dxf")
    # R12 without a header: the library would say metres.
    assert "does not say its unit" in refusal(corpus / "dxf" / "nophead__Mendel90__y_carriage.dxf")


def test_inches_that_must_be_millimetres(corpus: Path) -> None:
    text = refusal(corpus / "dxf" / "CadQuery__cadquery__three_layers.dxf")
    assert "6511 mm wide as inches, 256.3 mm as millimetres: set `units`" in text


def test_malformed_spline(corpus: Path) -> None:
    text = refusal(corpus / "dxf" / "CadQuery__cadquery__rational_spline.dxf", unit="mm")
    assert 'SPLINE #2D on layer "0"' in text
    assert "8 knot values required, got 5" in text


def test_bow_tie(corpus: Path) -> None:
    text = refusal(corpus / "dxf" / "openscad__openscad__polygon-self-intersect.dxf")
    assert "crosses or touches itself at (50, 50)" in text
    assert "LINE #" in text


def test_profiles_on_one_origin_are_chosen_by_layer(corpus: Path) -> None:
    path = corpus / "dxf" / "openscad__openscad__example007.dxf"
    assert 'on layer "dorn"' in refusal(path)
    (region,) = read_drawing(path, layers=("!dorn",)).regions
    assert region.outer.area_mm2 == pytest.approx(511)
    (cutout,) = read_drawing(path, layers=("cutout1",)).regions
    assert cutout.area_mm2 < region.outer.area_mm2


def test_overlapping_lines_close_a_loop(corpus: Path) -> None:
    """Two collinear lines overlap by 0.1 on the lower edge of a 2 × 4 outline."""
    drawing = read_drawing(corpus / "dxf" / "mikedh__trimesh__broken_loop.dxf", unit="inch")
    (region,) = drawing.regions
    assert region.area_mm2 == pytest.approx(8 * 25.4**2)
    (healed,) = drawing.healed
    assert healed.kind == Healing.OVERLAP
    assert healed.amount_mm == pytest.approx(2.54)


def test_loose_curves_are_named(corpus: Path) -> None:
    drawing = survey_drawing(corpus / "dxf" / "mikedh__trimesh__ae.r14a.dxf", unit="inch")
    assert {fault.kind for fault in drawing.faults} == {FaultKind.OPEN}
    assert all(fault.origin.handle for fault in drawing.faults)
    assert drawing.regions[0].outer.area_mm2 / 25.4**2 == pytest.approx(4.552, rel=5e-4)


def test_paper_space(corpus: Path) -> None:
    drawing = survey_drawing(corpus / "dxf" / "mikedh__trimesh__tray-easy1.dxf")
    assert any("paper space" in note for note in drawing.notes)
