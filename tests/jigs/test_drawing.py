"""Figures: nothing overlaps, what is drawn is true, and every reader draws the same picture."""

from __future__ import annotations

import io
import math
import random
import re
import xml.etree.ElementTree as ET

import pytest
from PIL import Image

from jigs.drawing.board import Board
from jigs.drawing.budget_view import Budget, budget_figure
from jigs.drawing.check_view import check_figure
from jigs.drawing.detail_view import detail_figure, small_features
from jigs.drawing.dimensions import dimension
from jigs.drawing.height_view import HeightView, height_figure
from jigs.drawing.labels import label
from jigs.drawing.png import png_bytes
from jigs.drawing.scene import (
    PART,
    PLATE,
    Curve,
    Figure,
    Text,
    circle,
    drawable,
    overlaps,
    polyline,
)
from jigs.drawing.setup_view import Detail, SetupView, Spot, Stop, setup_figure
from jigs.drawing.svg import svg
from jigs.guides.guide import CheckSize, Datum, Face, Plane, Plate, SetBy
from kerf.contour import Contour, Point, Region, Transform, Vector, Vertex
from kerf.lettering import text_box


def blob(rng: random.Random, radius: float) -> Contour:
    """Return a star-shaped outline with some arcs."""
    n = rng.randint(4, 9)
    vertices = []
    for i in range(n):
        r = radius * rng.uniform(0.55, 1.0)
        a = 2 * math.pi * (i + rng.uniform(-0.3, 0.3)) / n
        vertices.append(Vertex(r * math.cos(a), r * math.sin(a), rng.choice((0.0, 0.0, 0.25))))
    return Contour(vertices=tuple(vertices))


def random_view(seed: int) -> SetupView:
    rng = random.Random(seed)
    plane = rng.choice(list(Plane))
    across, up, _ = plane.axes
    radius = rng.uniform(8, 90)
    border = rng.uniform(6, 40)
    outline = blob(rng, radius)
    box = outline.bounds()
    place = Transform.translation(border - box.x_min, border - box.y_min)
    part = Region(outer=outline.transformed(place))
    width, height = box.width + 2 * border, box.height + 2 * border
    plate = Region(outer=Contour.rectangle(0, 0, width, height), holes=(part.outer,))
    zero = Point(rng.uniform(0, width), rng.uniform(0, height))
    left, low = rng.random() < 0.5, rng.random() < 0.5
    names = rng.sample(["A", "B", "X", "Y", "FACE-7"], 2)
    faces = (
        Face(
            name=names[0],
            plate="p",
            start=Point(0.0 if left else width, 0.0 if not left else height),
            end=Point(0.0 if left else width, height if not left else 0.0),
            normal=Vector(-1.0 if left else 1.0, 0.0),
        ),
        Face(
            name=names[1],
            plate="p",
            start=Point(0.0 if low else width, 0.0 if low else height),
            end=Point(width if low else 0.0, 0.0 if low else height),
            normal=Vector(0.0, -1.0 if low else 1.0),
        ),
    )

    def datum(axis: str, face: Face, offset: float) -> Datum:
        sign = 1.0 if face.normal.x + face.normal.y > 0 else -1.0
        tip = rng.choice((0.0, 2.5, 5.0))
        return Datum(
            axis=axis,
            face=f"face {face.name}",
            set_by=SetBy.GUIDE_FACE,
            side=("+" if sign > 0 else "−") + axis,
            offset_mm=offset,
            u_mm=0.01,
            pick_up="touch",
            finder="finder" if tip else "",
            tip_radius_mm=tip,
            reading_mm=offset + sign * tip,
        )

    loop = part.outer
    contacts = []
    for i in range(rng.randint(0, 6)):
        s = rng.uniform(0, loop.length_mm)
        contacts.append(Spot(name=f"P{i + 1}", at=loop.point_at(s), normal=loop.normal_at(s)))
    middle = part.bounds().centre
    features = tuple(
        Spot(
            name=rng.choice(("bore", "slot end", "Bohrung Ä", "hole 12")) + f" {i}",
            at=Point(middle.x + rng.uniform(-5, 5), middle.y + rng.uniform(-5, 5)),
        )
        for i in range(rng.randint(0, 4))
    )
    stops = (
        (
            Stop(
                name="FIXED JAW",
                start=Point(0, height + 3),
                end=Point(width, height + 3),
                normal=Vector(0.0, -1.0),
            ),
        )
        if rng.random() < 0.4
        else ()
    )
    turn = rng.uniform(0, math.pi)
    return SetupView(
        title=f"random set-up {seed}",
        plane=plane,
        plates=(plate,),
        part=part,
        zero=zero,
        work_offset=rng.choice(("G54", "G59")),
        faces=faces,
        datums=(
            datum(across, faces[0], faces[0].start.x - zero.x),
            datum(up, faces[1], faces[1].start.y - zero.y),
        ),
        contacts=tuple(contacts),
        features=features,
        stops=stops,
        flip_axis=Vector(math.cos(turn), math.sin(turn)) if rng.random() < 0.4 else None,
        details=(Detail(letter="P", at=loop.point_at(0), radius_mm=radius / 12),)
        if rng.random() < 0.4
        else (),
        units=rng.choice(("mm", "inch")),
    )


@pytest.mark.parametrize("block", range(4))
def test_no_text_overlaps_anything_on_two_hundred_random_figures(block: int) -> None:
    for seed in range(50 * block, 50 * block + 50):
        figure = setup_figure(random_view(seed), width_mm=182, height_mm=150)
        assert overlaps(figure) == (), seed


def test_overlaps_sees_each_kind_of_fault() -> None:
    def figure(*items: Curve | Text) -> Figure:
        return Figure(name="f", title="t", width_mm=50, height_mm=50, items=items)

    word = Text(text="WORD", at=Point(10, 10), height_mm=3)
    assert overlaps(figure(word)) == ()
    assert "overlaps a line" in overlaps(figure(word, polyline((0, 11), (50, 11), pen=PART)))[0]
    other = Text(text="X", at=Point(12, 11), height_mm=3)
    assert 'overlaps "X"' in overlaps(figure(word, other))[0]
    outside = Text(text="WORD", at=Point(45, 10), height_mm=3)
    assert "leaves the figure" in overlaps(figure(outside))[0]
    around = circle((15, 11.5), 20, pen=PART)
    assert overlaps(figure(word, around)) == ()


def test_the_picture_is_at_scale_and_fits_its_frame() -> None:
    view = random_view(3)
    figure = setup_figure(view, width_mm=182, height_mm=150)
    assert figure.width_mm <= 182
    assert figure.height_mm <= 150
    assert figure.width_mm > 120 or figure.height_mm > 100
    areas = [item for item in figure.items if hasattr(item, "region")]
    plate, part = areas[0].region, areas[1].region
    scale = plate.bounds().width / view.plates[0].bounds().width
    assert part.bounds().width == pytest.approx(view.part.bounds().width * scale)


def test_the_picture_says_where_zero_is_and_what_to_set() -> None:
    view = random_view(5)
    words = [text.text for text in setup_figure(view).texts()]
    assert any(word.startswith(f"PROGRAM ZERO {view.work_offset}") for word in words)
    for datum in view.datums:
        value = datum.offset_mm / (25.4 if view.units == "inch" else 1)
        places = 4 if view.units == "inch" else 3
        assert any(
            word.startswith(f"{datum.axis} ")
            and abs(float(word.split()[1].replace("−", "-")) - value) <= 0.51 * 10**-places
            for word in words
        )
        assert any(word.startswith(f"set {datum.axis} to ") for word in words)
        assert any(word.endswith(f"from {datum.side}") for word in words)


def test_the_same_view_gives_the_same_bytes() -> None:
    assert svg(setup_figure(random_view(8))) == svg(setup_figure(random_view(8)))


def test_arcs_stay_arcs_with_the_right_sweep() -> None:
    """A quarter circle from (10, 0) counter-clockwise to (0, 10) bulges away from the origin.

    Source: SVG 2, 9.5.1: sweep flag 1 draws with increasing angle, y down, so a
    counter-clockwise arc on paper with y up has flag 0.
    """
    quarter = Curve(
        vertices=(Vertex(10, 0, math.tan(math.pi / 8)), Vertex(0, 10)), closed=False, pen=PART
    )
    text = svg(Figure(name="f", title="t", width_mm=20, height_mm=20, items=(quarter,)))
    assert 'd="M10 20A10 10 0 0 0 0 10"' in text


def test_svg_is_plain() -> None:
    text = svg(setup_figure(random_view(11)))
    root = ET.fromstring(text)
    tags = {element.tag.split("}")[1] for element in root.iter()}
    assert tags == {"svg", "title", "path"}
    assert not re.search(r"<(style|text|pattern|marker|clipPath)", text)


def test_a_tight_dimension_turns_its_heads_outside() -> None:
    board = Board(Transform())
    board.area(Region(outer=Contour.rectangle(0, 0, 4, 60)), pen=PLATE)
    board.close_model()
    dimension(board, (0, 0), (4, 0), "4.000", away=Vector(0.0, -1.0))
    dimension(board, (0, 0), (0, 60), "60.000", away=Vector(-1.0, 0.0))
    figure = board.finished(name="f", title="t")
    assert overlaps(figure) == ()
    heads = [c for c in figure.lines() if c.fill is not None]
    assert len(heads) == 4
    tips = sorted(c.vertices[0].x for c in heads[:2])
    assert tips[1] - tips[0] == pytest.approx(4.0)
    # Outside heads have their bases beyond the extension lines.
    bases = [c.vertices[1].x for c in heads[:2]]
    assert min(bases) < tips[0]
    assert max(bases) > tips[1]


def test_a_crowd_of_labels_keeps_every_one_legible() -> None:
    board = Board(Transform())
    board.area(Region(outer=Contour.rectangle(0, 0, 40, 40)), pen=PLATE)
    board.close_model()
    points = [Point(18 + i % 6, 18 + i // 6) for i in range(36)]
    for point in points:
        board.reserve(point)
    for i, point in enumerate(points):
        label(board, (f"POINT {i}",), point, toward=Vector(1.0, 1.0))
    figure = board.finished(name="f", title="t")
    assert len(figure.texts()) == 36
    assert overlaps(figure) == ()


def test_text_boxes_hold_their_strokes() -> None:
    text = Text(text="Ø12 (q) ±0.05", at=Point(5, 7), height_mm=3)
    box = text.box()
    for stroke in text.strokes():
        for p in stroke:
            assert box.x_min <= p.x <= box.x_max
            assert box.y_min <= p.y <= box.y_max
    assert text_box("A", height_mm=3, at=(0, 0))[0].y < 0


def test_names_without_stroke_letters_are_drawn_plain() -> None:
    assert drawable("Bohrung Ä Ø½ 中") == "Bohrung A Ø? ?"


def test_check_figure_numbers_and_measures() -> None:
    plate = Plate(
        name="op20",
        region=Region(outer=Contour.rectangle(0, 0, 120, 80), holes=(Contour.circle(60, 40, 20),)),
        strokes=(),
        to_part=Transform(),
        stock="s",
        thickness_mm=3.0,
    )
    checks = (
        CheckSize(
            name="width",
            nominal_mm=120.0,
            plus_minus_mm=0.05,
            start=Point(0, 40),
            end=Point(120, 40),
        ),
        CheckSize(
            name="to wall",
            nominal_mm=40.0,
            plus_minus_mm=0.05,
            start=Point(0, 40),
            end=Point(40, 40),
        ),
        CheckSize(
            name="slanted",
            nominal_mm=50.0,
            plus_minus_mm=0.05,
            start=Point(10, 10),
            end=Point(40, 50),
        ),
    )
    figure = check_figure(plate, (), checks)
    assert overlaps(figure) == ()
    words = [t.text for t in figure.texts()]
    assert words == ["(1) 120.000", "(2) 40.000", "(3) 50.000"]
    inch = check_figure(plate, (), checks, units="inch")
    assert "(1) 4.7244" in [t.text for t in inch.texts()]


def test_small_features_get_a_window_with_their_radius() -> None:
    notch = Contour.circle(30, 30, 1.5)
    plate = Region(outer=Contour.rectangle(0, 0, 100, 60), holes=(notch,))
    (detail,) = small_features((plate,), paper_scale=1.0)
    assert detail.radius_mm == pytest.approx(6.0)
    assert small_features((plate,), paper_scale=4.0) == ()
    figure = detail_figure(detail, (plate,), Region(outer=Contour.circle(30, 30, 1.2)))
    assert overlaps(figure) == ()
    words = [t.text for t in figure.texts()]
    assert "R 1.500 mm" in words
    assert any(word.startswith("DETAIL P") for word in words)


def test_png_is_as_large_as_the_figure_and_repeats() -> None:
    figure = setup_figure(random_view(2))
    made = png_bytes(figure, ppi=100)
    assert made == png_bytes(figure, ppi=100)
    image = Image.open(io.BytesIO(made))
    assert image.width == pytest.approx(figure.width_mm / 25.4 * 100, abs=1.5)
    assert image.height == pytest.approx(figure.height_mm / 25.4 * 100, abs=1.5)
    assert sum(image.convert("L").histogram()[:200]) > 1000


def test_budget_bars_tell_worst_limit_and_causes() -> None:
    budgets = (
        Budget(
            name="bore A",
            worst_mm=0.05,
            limit_mm=0.1,
            shares=(("kerf", 0.6), ("pick-up", 0.3), ("part edge", 0.1)),
        ),
        Budget(name="bore B", worst_mm=0.2, limit_mm=0.1, shares=(("kerf", 1.0),)),
    )
    figure = budget_figure(budgets)
    assert overlaps(figure) == ()
    words = [t.text for t in figure.texts()]
    assert words[0] == "bore A: worst ±0.050 mm, within the ±0.100 mm that location may use"
    assert words[1] == "kerf 60%   pick-up 30%   part edge 10%"
    assert "OVER" in words[2]
    filled = [c for c in figure.lines() if c.fill is not None]
    widths = [c.bounds().width for c in filled]
    # 2 : 1 over its limit, bore B's bar is four times as long as bore A's.
    assert widths[3] == pytest.approx(4 * sum(widths[:3]))
    assert widths[0] == pytest.approx(2 * widths[1])
    assert filled[3].bounds().x_max <= figure.width_mm


@pytest.mark.parametrize(
    ("part", "plate", "touched"),
    [((-12, 0), (-12, -7), 0.0), ((-3, 9), (-3, 2), -3.0), ((0, 20), (-5, -0.1), -0.1)],
)
def test_heights_are_at_scale(
    part: tuple[float, float], plate: tuple[float, float], touched: float
) -> None:
    view = HeightView(
        part_low_mm=part[0],
        part_high_mm=part[1],
        plate_low_mm=plate[0],
        plate_high_mm=plate[1],
        touched="bed under the part",
        touched_mm=touched,
    )
    figure = height_figure(view)
    assert overlaps(figure) == ()
    assert figure.width_mm <= 180
    heights = [item.region.bounds().height for item in figure.items if hasattr(item, "region")]
    assert heights[-1] / heights[0] == pytest.approx((part[1] - part[0]) / (plate[1] - plate[0]))
    words = " ".join(t.text for t in figure.texts())
    assert f"part {part[1] - part[0]:.3f}" in words
    assert "Z0" in words
