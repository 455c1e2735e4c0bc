"""Chaining and nesting of strands: what is mended, what is reported, and where."""

from __future__ import annotations

import math
import random
from itertools import pairwise

import pytest

from kerf.errors import InputError
from kerf.reading.assemble import assembled
from kerf.reading.drawing import Drawing, FaultKind, Healing, Origin, Strand

SQUARE = ((0.0, 0.0), (100.0, 0.0), (100.0, 60.0), (0.0, 60.0))


def lines(*points: tuple[float, float], layer: str = "0", closed: bool = False) -> list[Strand]:
    """Return loose lines through points."""
    ring = (*points, points[0]) if closed else points
    return [
        Strand(((*a, 0.0), (*b, 0.0)), False, Origin("LINE", f"{i:X}", layer))
        for i, (a, b) in enumerate(pairwise(ring))
    ]


def arc(radius: float, start: float, end: float, x: float = 0.0, y: float = 0.0) -> Strand:
    """Return a loose arc about (x, y), rad."""
    a, b = ((x + radius * math.cos(t), y + radius * math.sin(t)) for t in (start, end))
    return Strand(((*a, math.tan((end - start) / 4)), (*b, 0.0)), False, Origin("ARC", "A", "0"))


def circle(x: float, y: float, radius: float, layer: str = "0") -> Strand:
    """Return a closed circle."""
    rows = ((x - radius, y, 1.0), (x + radius, y, 1.0))
    return Strand(rows, True, Origin("CIRCLE", "C", layer))


def read(strands: list[Strand]) -> Drawing:
    return assembled(strands, path="part.dxf", unit="mm")


PLATE = lines(*SQUARE, closed=True)


@pytest.mark.parametrize(
    ("strands", "areas", "kinds"),
    [
        pytest.param(PLATE, [6000], [], id="plain"),
        pytest.param(PLATE * 2, [6000], [Healing.DUPLICATE] * 4, id="every line twice"),
        pytest.param(
            PLATE + lines(*SQUARE[::-1], closed=True),
            [6000],
            [Healing.DUPLICATE] * 4,
            id="twice, the other way round",
        ),
        pytest.param(
            PLATE + lines((20, 0), (70, 0)), [6000], [Healing.OVERLAP], id="part of an edge twice"
        ),
        pytest.param(
            lines((0, 0), (60, 0)) + lines((40, 0), *SQUARE[1:], SQUARE[0]),
            [6000],
            [Healing.OVERLAP],
            id="two lines that overlap in the middle",
        ),
        pytest.param(
            [arc(10, 0, 3), arc(10, 2.5, 5), arc(10, 4.5, 2 * math.pi + 0.5)],
            [100 * math.pi],
            [Healing.OVERLAP],
            id="arcs that overlap round a circle",
        ),
        pytest.param(
            [
                arc(10, 0, math.pi),
                arc(10, math.pi, 2 * math.pi),
                arc(10, 0.5, math.pi + 0.5),
                arc(10, math.pi + 0.5, 2 * math.pi + 0.5),
            ],
            [100 * math.pi],
            [Healing.OVERLAP],
            id="circle drawn twice from other ends",
        ),
        pytest.param(PLATE + lines((5, 5), (5, 5)), [6000], [Healing.ZERO], id="line of no length"),
        pytest.param(lines(*SQUARE, (0, 0.02)), [6000], [Healing.GAP], id="gap of 0.02 mm"),
        pytest.param(
            PLATE + lines((100, 60), (100.4, 60)), [6000], [Healing.DEAD_END], id="overshoot"
        ),
        pytest.param(
            PLATE + lines((100, 60), (150, 60), (150, 90), (100, 90), closed=True),
            [6000, 1500],
            [Healing.BRANCH],
            id="two parts that touch at a corner",
        ),
        pytest.param(
            [circle(50, 30, 10), circle(50, 30, 10.01), *PLATE],
            [6000 - 100 * math.pi],
            [Healing.DUPLICATE],
            id="hole drawn twice, a hair apart",
        ),
        pytest.param(
            [*PLATE, circle(50, 30, 10), circle(50, 30, 4)],
            [6000 - 100 * math.pi, 16 * math.pi],
            [],
            id="an island in a hole is a part",
        ),
        pytest.param(
            [circle(50, 30, 5), *PLATE, *lines((44, 30), (56, 30)), *lines((50, 24), (50, 36))],
            [6000 - 25 * math.pi],
            [Healing.CENTRE_MARK] * 2,
            id="centre mark",
        ),
    ],
)
def test_mended(strands: list[Strand], areas: list[float], kinds: list[Healing]) -> None:
    drawing = read(strands)
    assert not drawing.faults
    assert [r.area_mm2 for r in drawing.regions] == pytest.approx(areas, rel=1e-12)
    assert [h.kind for h in drawing.healed] == kinds


@pytest.mark.parametrize(
    ("strands", "kind", "at", "words"),
    [
        pytest.param(
            lines(*SQUARE, (0, 0.7)), FaultKind.OPEN, (0, 0), "gap of 0.7 mm", id="gap too wide"
        ),
        pytest.param(
            lines((0, 0), (100, 60), (100, 0), (0, 60), closed=True),
            FaultKind.CROSSING,
            (50, 30),
            "crosses or touches itself at (50, 30)",
            id="bow-tie",
        ),
        pytest.param(
            PLATE + lines((100, 0), (0, 60)),
            FaultKind.BRANCH,
            (100, 0),
            "more than one way",
            id="line across the part",
        ),
        pytest.param(
            PLATE + lines((20, 20), (30, 40)),
            FaultKind.OPEN,
            (20, 20),
            "meets nothing",
            id="line by itself",
        ),
        pytest.param(
            [circle(50, 30, 10), *lines((50, 30), (90, 30), (90, 50), (50, 50), closed=True)],
            FaultKind.OVERLAPPING,
            (50, 40),
            "crosses that of CIRCLE",
            id="outlines that cross",
        ),
        pytest.param(
            lines((0, 0), (50, 0), (50, 0.01), (0, 0.01), closed=True),
            FaultKind.FLAT,
            (25, 0.005),
            "encloses next to nothing",
            id="sliver",
        ),
        pytest.param(
            lines((0, 0), (100, 0), (100, 60), (40, 60))
            + lines((100, 0), (0, 0), (0, 60), (20, 60))[1:],
            FaultKind.OPEN,
            (40, 60),
            "gap of 20 mm",
            id="missing piece of an edge",
        ),
    ],
)
def test_reported(strands, kind, at, words) -> None:
    (fault,) = [f for f in read(strands).faults if f.kind == kind][:1]
    assert tuple(fault.at) == pytest.approx(at, abs=1e-6) or tuple(fault.to) == pytest.approx(at)
    assert words in fault.message
    with pytest.raises(InputError) as caught:
        read(strands).usable()
    text = caught.value.describe()
    assert fault.origin.kind in text
    assert 'layer "0"' in text
    assert "hint:" in text


def test_a_chord_with_a_gap_is_never_half_a_part() -> None:
    """Cutting the dead ends back would leave a 50 × 60 part of the 100 × 60 one."""
    gapped = lines((50, 0), (100, 0), (100, 28)) + lines((100, 32), (100, 60), (50, 60))
    gapped += lines((50, 60), (0, 60), (0, 0), (50, 0)) + lines((50, 0), (50, 60))
    with pytest.raises(InputError):
        read(gapped).usable()


@pytest.mark.parametrize("scale", [0.05, 1.0, 20.0])
def test_tolerance_scales_with_the_drawing(scale: float) -> None:
    """A gap of a 5000th of the size closes at every size below the absolute limit."""
    points = [(x * scale, y * scale) for x, y in (*SQUARE, (0, 0.01))]
    drawing = read(lines(*points))
    assert not drawing.faults
    assert len(drawing.regions) == 1


def test_short_edges_survive() -> None:
    """A fine polygon with edges under the widest gap keeps every vertex."""
    n = 20_00
    points = [
        (50 * math.cos(2 * math.pi * i / n), 50 * math.sin(2 * math.pi * i / n)) for i in range(n)
    ]
    (region,) = read(lines(*points, closed=True)).regions
    assert len(region.outer.vertices) == n


def test_layers_close_on_their_own_first() -> None:
    """Different profiles on one origin share ends and edges; each layer is its own outline."""
    inner = lines((0, 0), (40, 0), (40, 30), (0, 30), layer="B", closed=True)
    drawing = read(PLATE + inner)
    assert not drawing.faults
    assert [r.area_mm2 for r in drawing.regions] == pytest.approx([6000 - 1200])


def test_an_outline_may_run_over_two_layers() -> None:
    strands = [
        s._replace(origin=s.origin._replace(layer="A" if i % 2 else "B"))
        for i, s in enumerate(PLATE)
    ]
    (region,) = read(strands).regions
    assert region.area_mm2 == pytest.approx(6000)


def test_a_tee_is_reported_not_trimmed() -> None:
    """An edge that ends in the middle of another may be the outline."""
    strands = PLATE + lines((100, 60), (50, 0.0))
    kinds = {fault.kind for fault in read(strands).faults}
    assert kinds == {FaultKind.BRANCH}


def test_order_and_direction_change_nothing() -> None:
    rng = random.Random(5)
    plate = [*PLATE, circle(50, 30, 10), arc(5, 0, math.pi, 20, 20)]
    plate += lines((15, 20), (25, 20))
    for _ in range(20):
        mixed = []
        for strand in rng.sample(plate, len(plate)):
            if not strand.closed and rng.random() < 0.5:
                (x0, y0, b), (x1, y1, _) = strand.rows
                strand = strand._replace(rows=((x1, y1, -b), (x0, y0, 0.0)))
            mixed.append(strand)
        (region,) = read(mixed).regions
        assert len(region.holes) == 2
        assert region.area_mm2 == pytest.approx(6000 - 112.5 * math.pi, rel=1e-12)


def test_parts_are_listed_and_chosen() -> None:
    drawing = read([*PLATE, circle(200, 0, 10, layer="PIN"), circle(50, 30, 10)])
    with pytest.raises(InputError) as caught:
        drawing.region()
    assert "2 parts: 1: 100 × 60 mm" in caught.value.what
    assert '2: 20 × 20 mm on layer "PIN" at (190, -10)' in caught.value.what
    assert drawing.region(2).area_mm2 == pytest.approx(100 * math.pi)
    with pytest.raises(InputError, match="no part 3"):
        drawing.region(3)


def test_scribble_is_refused_in_good_time() -> None:
    rng = random.Random(3)
    chaos = [
        Strand(
            ((rng.random(), rng.random(), 0.0), (rng.random(), rng.random(), 0.0)),
            False,
            Origin("LINE"),
        )
        for _ in range(6000)
    ]
    with pytest.raises(InputError, match="too tangled"):
        read(chaos)


def test_many_faults_are_capped() -> None:
    loose = [s for i in range(60) for s in lines((i * 10, 0), (i * 10 + 3, 1))]
    with pytest.raises(InputError) as caught:
        read(loose).usable()
    assert "more faults" in caught.value.describe()


@pytest.mark.parametrize("noise", [0.0, 1e-7, 1e-5, 1e-4, 1e-3])
def test_scattered_ends_of_doubled_and_touching_outlines(noise: float) -> None:
    """Four ends at a corner, all a little apart: too many for a gap, yet one place."""
    rng = random.Random(11)

    def shaken(strand: Strand) -> Strand:
        return strand._replace(
            rows=tuple(
                (x + rng.uniform(-noise, noise), y + rng.uniform(-noise, noise), b)
                for x, y, b in strand.rows
            )
        )

    touching = lines((100, 60), (150, 60), (150, 90), (100, 90), closed=True)
    drawing = read([shaken(s) for s in PLATE + touching])
    assert not drawing.faults
    assert [r.area_mm2 for r in drawing.regions] == pytest.approx([6000, 1500], abs=1)


def test_two_lines_side_by_side_are_no_outline() -> None:
    strands = PLATE + lines((20, 20), (60, 20)) + lines((20, 20.01), (60, 20.01))
    assert [f.kind for f in read(strands).faults] == [FaultKind.OPEN]


def test_two_diameters_of_a_thread_are_a_question() -> None:
    """M3: core 2.5, nominal 3.0. Reading one of them silently would be a guess."""
    (fault,) = read([*PLATE, circle(50, 30, 1.5), circle(50, 30, 1.25)]).faults
    assert fault.kind == FaultKind.OVERLAPPING
    assert "within 0.25 mm" in fault.message


def test_circles_by_the_thousand_in_each_other_are_refused() -> None:
    with pytest.raises(InputError, match="too tangled"):
        read([circle(0, 0, 1 + i) for i in range(1000)])
