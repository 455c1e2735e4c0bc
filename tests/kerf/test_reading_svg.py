"""SVG in: shapes, paths, transforms, style, size and refusals."""

from __future__ import annotations

import math

import pytest

from kerf.errors import InputError
from kerf.reading.drawing import Drawing, FaultKind
from kerf.reading.svg import LARGEST_FILE_BYTES, MOST_USED, parse_svg
from kerf.tolerance import ARC_FIT_MM

#: Handle of a quarter circle's Bézier curve, in radii: 4/3 (√2 − 1).
K = 4 / 3 * (math.sqrt(2) - 1)


def page(body: str, head: str = 'width="100mm" height="80mm" viewBox="0 0 100 80"') -> bytes:
    """Return an SVG file, by default true to size: a user unit is a millimetre."""
    spaces = (
        'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        'xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape"'
    )
    return f"<svg {spaces} {head}>{body}</svg>".encode()


def read(body: str, **options: object) -> Drawing:
    """Return the drawing of a body on the default page."""
    return parse_svg(page(body), path="part.svg", **options)  # type: ignore[arg-type]


SHAPES = [
    # body, area, width, height, lower left corner (y up from the page's lower edge)
    ("rect", '<rect x="10" y="20" width="30" height="5"/>', 150.0, 30, 5, (10, 55)),
    (
        "round rect",
        '<rect x="10" y="20" width="30" height="15" rx="3"/>',
        450 - (4 - math.pi) * 9,
        30,
        15,
        (10, 45),
    ),
    (
        "rx capped at half a side",
        '<rect x="10" y="20" width="10" height="10" rx="50"/>',
        25 * math.pi,
        10,
        10,
        (10, 50),
    ),
    ("circle", '<circle cx="50" cy="40" r="5"/>', 25 * math.pi, 10, 10, (45, 35)),
    ("polygon", '<polygon points="0,0 10,0 10,10"/>', 50, 10, 10, (0, 70)),
    ("polyline", '<polyline points="0 0 10 0 10 10 0 0"/>', 50, 10, 10, (0, 70)),
    ("path lines", '<path d="M10,10h10v10H10z"/>', 100, 10, 10, (10, 60)),
    ("relative after close", '<path d="m10 10h5v5h-5zm1 1h2v2h-2z"/>', 21, 5, 5, (10, 65)),
    ("implicit lines", '<path d="M0 0 10 0 10 10 0 10Z"/>', 100, 10, 10, (0, 70)),
    ("packed numbers", '<path d="M.5.5L10.5.5l0 1e1-10 0z"/>', 100, 10, 10, (0.5, 69.5)),
    ("arc", '<path d="M10 10A5 5 0 0 1 20 10Z"/>', 12.5 * math.pi, 10, 5, (10, 70)),
    ("arc, packed flags", '<path d="M10 10a5 5 0 0110 0z"/>', 12.5 * math.pi, 10, 5, (10, 70)),
    (
        "arc, radius too small",
        '<path d="M10 10A1 1 0 0 1 20 10Z"/>',
        12.5 * math.pi,
        10,
        5,
        (10, 70),
    ),
    ("arc, radius nought", '<path d="M0 0A0 5 0 0 1 10 0V10Z"/>', 50, 10, 10, (0, 70)),
    ("smooth cubic", '<path d="M0 0C0 0 10 0 10 0S10 10 10 10L0 10Z"/>', 100, 10, 10, (0, 70)),
    ("quadratic", '<path d="M0 10Q10 -10 20 10Z"/>', 400 / 3, 20, 10, (0, 70)),
    ("smooth quadratic", '<path d="M0 10Q5 0 10 10T20 10V20H0Z"/>', 200, 20, 15, (0, 60)),
    ("scaled", '<g transform="scale(2)"><rect width="5" height="5"/></g>', 100, 10, 10, (0, 70)),
    (
        "mirrored",
        '<circle r="5" transform="matrix(-1 0 0 1 50 40)"/>',
        25 * math.pi,
        10,
        10,
        (45, 35),
    ),
    (
        "turned about a point",
        '<rect x="40" y="40" width="20" height="10" transform="rotate(90 50 45)"/>',
        200,
        10,
        20,
        (45, 25),
    ),
    (
        "list of transforms, last first",
        '<rect width="5" height="5" transform="translate(10,10) scale(2)"/>',
        100,
        10,
        10,
        (10, 60),
    ),
    (
        "nested svg",
        '<svg x="10" y="10" width="50%" height="50%" viewBox="0 0 10 10" '
        'preserveAspectRatio="xMaxYMin"><rect width="10" height="10"/></svg>',
        1600,
        40,
        40,
        (20, 30),
    ),
    (
        "symbol",
        '<symbol id="s" viewBox="0 0 10 10"><rect width="10" height="10"/></symbol>'
        '<use href="#s" x="5" y="5" width="40" height="20"/>',
        400,
        20,
        20,
        (15, 55),
    ),
    (
        "use moves and turns",
        '<defs><rect id="r" width="10" height="5"/></defs>'
        '<use xlink:href="#r" transform="translate(50 40) rotate(90)" x="2" y="1"/>',
        50,
        5,
        10,
        (44, 28),
    ),
    ("switch", '<switch><text>no</text></switch><rect width="5" height="5"/>', 25, 5, 5, (0, 75)),
]


@pytest.mark.parametrize(
    ("body", "area", "width", "height", "corner"),
    [pytest.param(*row[1:], id=row[0]) for row in SHAPES],
)
def test_shape_has_its_area_and_place(
    body: str, area: float, width: float, height: float, corner: tuple[float, float]
) -> None:
    """Source: areas by plane geometry; a parabola's segment is 2/3 of its box (Archimedes)."""
    drawing = read(body)
    (region,) = drawing.regions
    box = region.bounds()
    assert region.area_mm2 == pytest.approx(area, rel=2e-4, abs=1e-9)
    assert box.width == pytest.approx(width, abs=2 * ARC_FIT_MM)
    assert box.height == pytest.approx(height, abs=2 * ARC_FIT_MM)
    assert (box.x_min, box.y_min) == pytest.approx(corner, abs=2 * ARC_FIT_MM)
    assert not drawing.faults


def test_lengths_with_a_unit_count_in_pixels_of_the_viewbox() -> None:
    """Source: CSS: 1 mm is 96/25.4 user units, whatever the viewBox makes of a user unit."""
    box = parse_svg(page('<rect width="10mm" height="1in"/>'), path="p").regions[0].bounds()
    assert (box.width, box.height) == pytest.approx((960 / 25.4, 96))


@pytest.mark.parametrize("handle", [K, 0.551915, 0.5523, 0.55228])
def test_bezier_circle_comes_back_as_a_circle(handle: float) -> None:
    """Source: handle 4/3 (√2 − 1) and the constants that editors round it to."""
    h = 10 * handle
    drawing = read(
        f'<path d="M60 40C60 {40 + h} {50 + h} 50 50 50S40 {40 + h} 40 40 {50 - h} 30 50 30 '
        f'60 {40 - h} 60 40Z"/>'
    )
    (region,) = drawing.regions
    assert all(edge.radius_mm == pytest.approx(10, abs=1e-9) for edge in region.outer.edges())
    assert region.area_mm2 == pytest.approx(100 * math.pi, rel=1e-12)
    assert drawing.healed[0].amount_mm < 0.003


def test_bezier_corner_of_a_slot_comes_back_as_an_arc() -> None:
    h = 10 * K
    (region,) = read(
        f'<path d="M20 30H60C{60 + h} 30 70 {40 - h} 70 40S{60 + h} 50 60 50H20z"/>'
    ).regions
    arcs = [edge for edge in region.outer.edges() if not edge.is_line]
    assert {round(edge.radius_mm, 9) for edge in arcs} == {10.0}
    assert region.area_mm2 == pytest.approx(800 + 50 * math.pi, rel=1e-12)


def test_bezier_that_is_no_circle_keeps_its_shape() -> None:
    """A handle 5 % long bulges by 0.15 mm on a radius of 10: it must not become the circle."""
    h = 10 * K * 1.05
    (region,) = read(
        f'<path d="M60 40C60 {40 + h} {50 + h} 50 50 50S40 {40 + h} 40 40 {50 - h} 30 50 30 '
        f'60 {40 - h} 60 40Z"/>'
    ).regions
    # Quarter of a symmetric Bézier with handle h on radius 1: area 1/2 + 3h/5 − 3h²/20.
    k = K * 1.05
    assert region.area_mm2 == pytest.approx(400 * (1 / 2 + 3 * k / 5 - 3 * k * k / 20), abs=0.13)


def test_circle_under_uniform_transforms_stays_exact() -> None:
    (region,) = read('<circle r="2" transform="translate(50 40) rotate(33) scale(-2.5)"/>').regions
    assert all(edge.radius_mm == pytest.approx(5, abs=1e-12) for edge in region.outer.edges())


def test_ellipse_is_followed_within_the_tolerance() -> None:
    (region,) = read('<ellipse rx="30" ry="15" transform="translate(50 40) rotate(30)"/>').regions
    assert region.area_mm2 == pytest.approx(450 * math.pi, abs=ARC_FIT_MM * region.length_mm)
    for edge in region.outer.edges():
        for t in (0.0, 0.31, 0.77):
            x, y = edge.point_at(t)
            # Turned back: the page's y is up, so the ellipse leans the other way.
            u = (x - 50) * math.cos(math.pi / 6) - (y - 40) * math.sin(math.pi / 6)
            v = (x - 50) * math.sin(math.pi / 6) + (y - 40) * math.cos(math.pi / 6)
            assert abs(math.hypot(u / 30, v / 15) - 1) * 15 < 2 * ARC_FIT_MM


def test_many_free_curves_are_followed_quickly_and_as_closely() -> None:
    """Below and above the count at which the quick way begins, areas agree."""
    one = '<path transform="translate({} {})" d="M0 0C3 -2 5 1 6 3S2 8 0 0Z"/>'
    few = read(one.format(5, 5)).regions[0].area_mm2
    many = read("".join(one.format(8 * i, 12 * j) for i in range(1, 9) for j in range(1, 6)))
    assert len(many.regions) == 40
    for region in many.regions:
        assert region.area_mm2 == pytest.approx(few, abs=2 * ARC_FIT_MM * region.length_mm)


def test_drawing_is_upright() -> None:
    """SVG's y runs down: what stands high on the page must stand high in the part."""
    low, high = sorted(
        (
            r.bounds()
            for r in read(
                '<rect x="1" y="70" width="9" height="9"/><rect y="1" width="5" height="5"/>'
            ).regions
        ),
        key=lambda box: box.y_min,
    )
    assert (low.width, high.width) == pytest.approx((9, 5))


HIDDEN = '<rect width="90" height="70"{}/>'


@pytest.mark.parametrize(
    "how",
    [
        ' display="none"',
        ' style="display:none"',
        ' visibility="hidden"',
        ' class="off"',
        ' id="gone"',
        ' opacity="0"',
        ' fill="none"',
        ' style="fill:none;stroke:none"',
        ' transform="scale(0)"',
    ],
)
def test_what_is_not_drawn_is_left_out_with_a_note(how: str) -> None:
    style = "<style>/* x */ @media print {.a{fill:red}} .off, #gone {display:none}</style>"
    drawing = read(style + HIDDEN.format(how) + '<rect x="2" y="2" width="5" height="5"/>')
    assert [round(r.area_mm2, 9) for r in drawing.regions] == [25]
    assert any("left out" in note for note in drawing.notes)


def test_child_of_a_hidden_group_may_show_itself() -> None:
    """Source: SVG 1.1, visibility is inherited and a child may set it again."""
    body = '<g visibility="hidden"><rect width="9" height="9"/><rect {} width="5" height="5"/></g>'
    assert len(read(body.format('visibility="visible"')).regions) == 1


def test_text_and_images_are_set_aside_and_counted() -> None:
    drawing = read('<text>A</text><image href="a.png"/><text>B</text><circle cx="9" cy="9" r="2"/>')
    assert drawing.set_aside == (("image", 1), ("text", 2))


def test_layers_are_named_and_chosen() -> None:
    body = (
        '<g id="top"><g inkscape:groupmode="layer" inkscape:label="Cut"><g id="inner">'
        '<rect width="5" height="5"/></g></g></g><g id="notes"><rect width="9" height="9"/></g>'
    )
    chosen = read(body, layers=("cut",))
    assert chosen.layer_of == ("Cut",)
    assert [(use.name, use.left_out) for use in chosen.layers] == [
        ("Cut", ""),
        ("notes", "not asked for"),
    ]
    assert read(body, layers=("!Cut",)).layer_of == ("notes",)


def test_filled_open_path_is_closed_and_said_so() -> None:
    drawing = read('<path d="M0 0H10V10"/>')
    assert drawing.regions[0].area_mm2 == pytest.approx(50)
    assert "closed as filling does" in drawing.notes[0]


def test_stroked_open_path_stays_open() -> None:
    drawing = read('<path fill="none" stroke="red" d="M0 0H10V10"/>')
    assert not drawing.regions
    assert {fault.kind for fault in drawing.faults} == {FaultKind.OPEN}


SIZES = [
    ("px page", 'width="200" height="100" viewBox="0 0 100 50"', None),
    ("no page", "", None),
    ("viewBox alone", 'viewBox="0 0 100 50"', None),
    ("percent page", 'width="100%" height="100%" viewBox="0 0 100 50"', None),
    ("mm page without viewBox", 'width="100mm" height="50mm"', None),
    ("mm", 'width="100mm" height="50mm" viewBox="0 0 200 100"', (5, "mm")),
    ("inch", 'width="1in" height="0.5in" viewBox="0 0 100 50"', (2.54, "inch")),
    ("pt", 'width="72pt" height="36pt" viewBox="0 0 72 36"', (10 * 25.4 / 72, "pt")),
    ("width alone", 'width="10cm" viewBox="0 0 100 50"', (10, "cm")),
]


@pytest.mark.parametrize(("head", "answer"), [pytest.param(*row[1:], id=row[0]) for row in SIZES])
def test_size_is_stated_or_asked_for(head: str, answer: tuple[float, str] | None) -> None:
    """Source: CSS absolute lengths (72 pt = 25.4 mm)."""
    content = page('<rect width="10" height="10"/>', head)
    if answer is None:
        with pytest.raises(InputError, match='as millimetres \\("mm"\\)') as caught:
            parse_svg(content, path="part.svg")
        assert "units" in caught.value.hint
        return
    drawing = parse_svg(content, path="part.svg")
    assert drawing.unit == answer[1]
    assert drawing.regions[0].bounds().width == pytest.approx(answer[0], rel=1e-12)


@pytest.mark.parametrize(
    ("unit", "width"),
    [
        ("mm", 10),
        ("inch", 254),
        ("px", 20 * 25.4 / 96),
        ("pt", 20 * 25.4 / 72),
        ("px90", 20 * 25.4 / 90),
    ],
)
def test_unit_given_settles_it(unit: str, width: float) -> None:
    """A user unit is two pixels on this page: lengths are said of one, pixels of the other."""
    content = page(
        '<rect width="10" height="10"/>', 'width="200" height="100" viewBox="0 0 100 50"'
    )
    drawing = parse_svg(content, path="p", unit=unit)
    assert drawing.regions[0].bounds().width == pytest.approx(width)


def test_given_unit_against_a_true_page_is_noted() -> None:
    content = page('<rect width="10" height="10"/>', 'width="1in" height="1in" viewBox="0 0 50 50"')
    drawing = parse_svg(content, path="p", unit="mm")
    assert drawing.regions[0].bounds().width == pytest.approx(10)
    assert "1in × 1in: 5.08 × 5.08 mm" in drawing.notes[0]


def test_senseless_true_size_is_asked_about() -> None:
    content = page(
        '<rect width="50" height="50"/>', 'width="370in" height="1in" viewBox="0 0 370 1"'
    )
    content = content.replace(b'height="50"', b'height="1"').replace(b'width="50"', b'width="370"')
    with pytest.raises(InputError, match=r"9398 × 25\.4 mm"):
        parse_svg(content, path="p")


BOMB = (
    '<!DOCTYPE svg [<!ENTITY a "aaaaaaaaaa">'
    + "".join(
        f'<!ENTITY {b} "{f"&{a};" * 10}">' for a, b in zip("abcdefgh", "bcdefghi", strict=True)
    )
    + ']><svg xmlns="http://www.w3.org/2000/svg"><text>&i;</text></svg>'
)
USES = (
    "".join(f'<g id="g{i}">{f"""<use href="#g{i + 1}"/>""" * 10}</g>' for i in range(9))
    + '<rect id="g9" width="1" height="1"/>'
)
BAD = [
    ("empty", b"", "the file is empty"),
    ("blanks", b" \n\0", "the file is empty"),
    ("rubbish", bytes(range(1, 256)), "not well-formed XML"),
    ("truncated", page('<rect width="5" height="5"/>')[:-20], "not well-formed XML"),
    ("html", b"<html><body/></html>", "no SVG"),
    ("gzip", b"\x1f\x8b\x08\0", "compressed"),
    ("entities", BOMB.encode(), "declares XML entities"),
    ("too large", b"<svg>" + b" " * LARGEST_FILE_BYTES, "larger than 64 MiB"),
    ("unknown encoding", b'<?xml version="1.0" encoding="no-such"?><svg/>', "XML|text"),
    ("nothing", page(""), "shows no outline"),
    ("text only", page("<text>A</text>"), "1 text left out"),
    (
        "hidden only",
        page('<g display="none"><rect width="5" height="5"/></g>'),
        "1 hidden left out",
    ),
    ("outside use", page('<use href="http://other/part.svg#a"/>'), "another file"),
    ("lost use", page('<use href="#nowhere"/>'), "does not hold"),
    ("cyclic use", page('<g id="a"><use href="#a"/></g>'), "uses itself: a → a"),
    ("use bomb", page(USES), f"more than {MOST_USED:,} elements by use"),
    ("deep", page("<g>" * 5000 + "</g>" * 5000), "100 deep"),
    ("NaN", page('<path d="M0 0H10V10L NaN 5z"/>'), "path data is broken at character 13"),
    ("1e300", page('<path d="M0 0H10V1e300z"/>'), "no usable number"),
    ("1e999", page('<path d="M0 0H10V1e999z"/>'), 'too large to be one, after "V"'),
    ("arc turned by 1e999", page('<path d="M0 0A5 4 1e999 0 1 5 5"/>'), "too large to be one"),
    ("1e999 in a list", page('<polygon points="0 0 5 1e999 3 3"/>'), "no usable number"),
    ("half a pair", page('<path d="M0 0L10"/>'), "takes 2 numbers at a time, not 1"),
    ("no move", page('<path d="L5 5"/>'), "must begin with a move"),
    ("bad flag", page('<path d="M0 0A5 5 0 2 0 5 5"/>'), "two of them flags"),
    ("odd points", page('<polygon points="0 0 5"/>'), "list of points is broken"),
    ("negative radius", page('<circle r="-4"/>'), "below zero"),
    ("em", page('<rect width="5em" height="5"/>'), 'cannot read the length "5em"'),
    (
        "transform",
        page('<rect width="5" height="5" transform="spin(4)"/>'),
        "cannot read the trans",
    ),
    (
        "matrix of 3",
        page('<g transform="matrix(1 0 0)"><rect width="5"/></g>'),
        "cannot read the tr",
    ),
    (
        "style moves",
        page('<rect width="5" height="5" style="transform:rotate(4deg)"/>'),
        "would move",
    ),
    (
        "origin of a transform",
        page('<rect width="5" height="5" transform="rotate(4)" transform-origin="2 2"/>'),
        "would move",
    ),
    ("page transformed", page("", 'transform="scale(2)"'), "the page itself is transformed"),
    ("flat viewBox", page("", 'viewBox="0 0 0 5"'), "has no area"),
    ("page without end", page("", 'width="9mm" height="-0mm" viewBox="0 0 9 1e300"'), "any sheet"),
    ("page of miles", page("", 'width="1e9mm" height="1mm" viewBox="0 0 9 9"'), "any sheet"),
    ("viewBox words", page("", 'viewBox="a b c d"'), "cannot read the viewBox"),
    ("share of nothing", page('<rect width="50%" height="5"/>', ""), "a page that has no size"),
]


def test_what_no_unit_makes_a_part_of_is_refused() -> None:
    with pytest.raises(InputError, match="km across in the unit asked for"):
        parse_svg(page('<rect width="9000" height="5"/>'), path="part.svg", unit="m")


@pytest.mark.parametrize(("content", "what"), [pytest.param(*row[1:], id=row[0]) for row in BAD])
def test_bad_input_is_one_clear_message(content: bytes, what: str) -> None:
    with pytest.raises(InputError, match=what) as caught:
        parse_svg(content, path="part.svg")
    assert caught.value.where.startswith("part.svg")


def test_page_styled_for_a_browser_is_fine() -> None:
    head = 'width="10mm" height="5mm" viewBox="0 0 10 5" style="width:100%;height:auto"'
    drawing = parse_svg(page('<rect width="4" height="4"/>', head), path="p")
    assert drawing.regions[0].bounds().width == pytest.approx(4)


def test_used_svg_takes_the_size_of_its_use() -> None:
    """Source: SVG 1.1, use: width and height of the use replace those of a used svg."""
    (region,) = read(
        '<defs><svg id="s" x="1" width="5" height="5" viewBox="0 0 10 10">'
        '<rect width="10" height="10"/></svg></defs><use href="#s" x="10" width="20" height="20"/>'
    ).regions
    assert region.bounds().width == pytest.approx(20)
    assert region.bounds().x_min == pytest.approx(11)


def test_doctype_without_entities_is_fine() -> None:
    head = b'<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://nowhere.invalid/svg11.dtd">'
    assert parse_svg(head + page('<rect width="5" height="5"/>'), path="p").regions


def test_message_names_element_and_layer() -> None:
    body = '<g id="cut"><path id="rim" d="M0 0X"/></g>'
    with pytest.raises(InputError) as caught:
        read(body)
    assert caught.value.where == 'part.svg: <path> rim on layer "cut"'
