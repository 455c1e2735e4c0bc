"""A seeded slice of the random filleted regions; the long lane runs ten thousand of them."""

from __future__ import annotations

import pytest
from filleted import as_written, distances, region, stands_at

from kerf.contour import Contour, Region
from kerf.offset import offset


@pytest.mark.parametrize("first", range(0, 60, 15))
def test_random_filleted_regions(first) -> None:
    """Every result stands at its distance, measured edge by edge by another path."""
    for seed in range(first, first + 15):
        source = region(seed)
        for d in distances(seed):
            assert stands_at(source, d, offset(source, d)), (seed, d)


@pytest.mark.parametrize(("seed", "d"), [(488, -4.0), (1256, -4.0), (1312, -6.0)])
def test_necks_of_no_width_part(seed, d) -> None:
    """Three seeds whose necks close exactly: the pieces part where they touch."""
    source = region(seed)
    result = offset(source, d)
    assert len(result.regions) > 1
    assert stands_at(source, d, result)


@pytest.mark.parametrize("decimals", [3, 4, 6, 9, 12])
def test_regions_as_drawings_write_them(decimals) -> None:
    """Edges drawn tangent meet in turns of a millionth once they are written with few digits."""
    for seed in range(8):
        source = as_written(region(seed), seed, decimals)
        for d in distances(seed):
            assert stands_at(source, d, offset(source, d)), (seed, d)


#: A brace of a published robot, tangent to about 1e-8, as its file gives it: x, y, bulge.
#: Source: OpenRacer, cad/Carbon/Braces/4mm_Brace.dxf.
BRACE = (
    (-72.58575349207446, 76.085753352511, -1.252858949940999),
    (-70.640226537727, 84.64345287477171, 0.18520488251476008),
    (-56.36196241453425, 83.48688215141011, -0.14369391792171318),
    (56.36196241453388, 83.48688215141013, 0.1852048825147631),
    (70.64022653772695, 84.64345287477165, -1.2528589916866162),
    (72.58575319965358, 76.08575335251102, 0.39018909782096034),
    (69.09771977102308, 72.87492758097876, 3.0047441750041348e-05),
    (69.07591002953686, 72.88323110926588, -0.8950596545617923),
    (60.27036491352062, 71.31004859802248, 0.25656197844620077),
    (53.432488005860776, 78.0890548535258, 0.14030225390520443),
    (-53.43248800586073, 78.0890548535259, 0.2565619784462027),
    (-60.270364913520574, 71.31004859802252, -0.8950596545618068),
    (-69.07591002953686, 72.88323110926598, 3.0047440133522407e-05),
    (-69.09771977102311, 72.87492758097885, 0.3901891218881827),
)


@pytest.mark.parametrize("d", [-5.0, -3.5, -2.0, -0.1, 0.1, 2.0, 3.5, 5.0])
def test_brace_of_nearly_tangent_arcs(d) -> None:
    source = Region(outer=Contour.of(BRACE))
    assert stands_at(source, d, offset(source, d))


def test_drawing_of_six_decimals_needs_no_more_entities() -> None:
    """What was drawn tangent offsets to as many entities as were drawn, whatever the digits."""
    drawn, d = region(8), -3.19016
    written = as_written(drawn, 8, 6)
    exact, rounded = (
        sorted(len(loop.vertices) for r in offset(source, d).regions for loop in r.loops())
        for source in (drawn, written)
    )
    assert rounded == exact
