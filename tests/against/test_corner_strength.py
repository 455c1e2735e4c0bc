"""Inside corners of a plate against finite elements and statics: concentration, arms, dowels."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from jigs.checks.guide_strength import shared_n
from jigs.holding.corners import cracks, fillet_factor, inside_corners
from jigs.holding.strength import Body, Rest, rest_strength
from kerf.contour import Contour, Point, Region, Vector
from kerf.materials import ACRYLIC
from kerf.shapes import ell

E, NU = 3000.0, 0.35


def angle_stress(radius: float, depth: float) -> float:
    """Return the greatest stress over 6 M / (t d²) in an angle of two equal legs, bent.

    Source: scikit-fem, quadratic quadrilaterals in plane stress, mapped round the fillet.
    """
    skfem = pytest.importorskip("skfem")
    from skfem.helpers import ddot, eye, sym_grad, trace

    leg = 4 * depth
    turn = np.linspace(0.0, 1.0, 49)
    out = np.linspace(0.0, 1.0, 34) ** 2.2  # fine at the fillet
    straight = np.linspace(0.0, 1.0, 31)[1:] ** 1.6
    phi = -math.pi / 2 - turn * math.pi / 2
    inner = np.column_stack((radius + radius * np.cos(phi), radius + radius * np.sin(phi)))
    side = depth + radius
    along = 2 * side * turn
    outer = np.where(
        (along <= side)[:, None],
        np.column_stack((radius - along, np.full_like(along, -depth))),
        np.column_stack((np.full_like(along, -depth), -depth + along - side)),
    )
    one = straight[::-1] * leg + radius
    inner = np.vstack(
        (
            np.column_stack((one, np.zeros_like(one))),
            inner,
            np.column_stack((np.zeros_like(one), one[::-1])),
        )
    )
    outer = np.vstack(
        (
            np.column_stack((one, np.full_like(one, -depth))),
            outer,
            np.column_stack((np.full_like(one, -depth), one[::-1])),
        )
    )
    n, m = len(inner), len(out)
    points = (inner[:, None] * (1 - out)[None, :, None] + outer[:, None] * out[None, :, None]).T
    mesh = skfem.MeshQuad.init_tensor(np.arange(n, dtype=float), np.arange(m, dtype=float))
    i, j = np.rint(mesh.p).astype(int)
    mesh = skfem.MeshQuad(np.vstack((points[0, j, i], points[1, j, i])), mesh.t)
    basis = skfem.Basis(mesh, skfem.ElementVector(skfem.ElementQuad2()))
    mu = E / (2 * (1 + NU))
    lam = E * NU / (1 - NU**2)  # plane stress

    @skfem.BilinearForm
    def stiff(u, v, _):
        strain = sym_grad(u)
        return ddot(lam * eye(trace(strain), 2) + 2 * mu * strain, sym_grad(v))

    end = radius + leg
    pulled = skfem.FacetBasis(
        mesh,
        basis.elem,
        facets=mesh.facets_satisfying(lambda x: np.abs(x[0] - end) < 1e-6, boundaries_only=True),
    )

    @skfem.LinearForm
    def bend(v, w):  # 6 M / (t d²) is 1 at the outermost fibres; drawn on the fillet's side
        return (w.x[1] + depth / 2) / (depth / 2) * v[0]

    held = basis.get_dofs(lambda x: np.abs(x[1] - end) < 1e-6)
    u = skfem.solve(*skfem.condense(skfem.asm(stiff, basis), skfem.asm(bend, pulled), D=held))
    grad = basis.interpolate(u).grad
    a = E / (1 - NU**2)
    sx = a * (grad[0, 0] + NU * grad[1, 1])
    sy = a * (grad[1, 1] + NU * grad[0, 0])
    sxy = mu * (grad[0, 1] + grad[1, 0])
    first = (sx + sy) / 2 + np.hypot((sx - sy) / 2, sxy)
    at_x, at_y = basis.global_coordinates()
    near = (at_x < 2 * radius) & (at_y < 2 * radius)
    return float(first[near].max())


@pytest.mark.parametrize("sharp", [5.0, 10.0, 20.0, 60.0])
def test_a_fillet_in_an_angle(sharp):
    """Never below the angle's own, and at most 8 % above. Source: scikit-fem."""
    depth = 10.0
    found = angle_stress(depth / sharp, depth)
    ours = fillet_factor(radius_mm=depth / sharp, depth_mm=depth)
    assert found * 0.995 <= ours <= found * 1.08


def body(region: Region, corner_mm: float = 0.1, bolts: tuple[Point, ...] = ()) -> Body:
    return Body(
        region=region,
        thickness_mm=5,
        touched_mm=5,
        material=ACRYLIC,
        corner_mm=corner_mm,
        bolts=bolts,
    )


def rest(x: float, y: float, nx: float, ny: float) -> Rest:
    return Rest(
        name="A", at=Point(x, y), normal=Vector(nx, ny), part_radius_mm=0, pad_mm=6, step_mm=0
    )


def test_the_arm_of_an_angle_is_a_cantilever():
    """σ = 6 F a / (t d²) times the angle's concentration, and F / (t d). Source: statics."""
    shape = ell(width_mm=100, height_mm=60, leg_mm=20)
    (found,) = cracks(body(shape), (rest(20.0, 55.0, 1.0, 0.0),), push_n=50)
    assert tuple(found.corner.at) == pytest.approx((20, 20), abs=1e-6)
    assert found.depth_mm == pytest.approx(20, abs=1e-3)
    plain = 6 * 50 * 35 / (5 * 20**2)
    assert found.stress_mpa == pytest.approx(
        plain * fillet_factor(radius_mm=0.1, depth_mm=20) + 50 / (5 * 20), rel=1e-4
    )
    # A push at the corner itself bends nothing there, one on the other leg bends its own.
    (near,) = cracks(body(shape), (rest(20.0, 20.5, 1.0, 0.0),), push_n=50)
    assert near.stress_mpa < found.stress_mpa / 10


def test_a_wall_of_a_pocket_is_built_in_at_its_corners():
    """M = F L / 8 at the ends under a load in the middle. Source: *Roark*, table 8.1."""
    shape = Region(
        outer=Contour.rectangle(0, 0, 140, 100),
        holes=(Contour.rectangle(20, 20, 100, 60).reversed(),),
    )
    found = cracks(body(shape), (rest(70.0, 20.0, 0.0, 1.0),), push_n=50)
    assert len(found) == 2
    for crack in found:
        plain = 6 * 50 * 100 / 8 / (5 * 20**2)
        assert crack.stress_mpa == pytest.approx(
            plain * fillet_factor(radius_mm=0.1, depth_mm=20) + 50 / (5 * 20), rel=1e-3
        )


def notched_rail() -> Region:
    """A rail 200 × 40, the part above it; a slot from x = 90 to 110 leaves 25 mm of it."""
    return Region(
        outer=Contour.of(
            ((0, 0), (200, 0), (200, 40), (110, 40), (110, 25), (90, 25), (90, 40), (0, 40))
        )
    )


@pytest.mark.parametrize(
    ("bolts", "push_at", "arms"),
    [
        # Between two bolts 20 left and 80 right of the push: M at 30 and 50 to its right is the
        # larger of F b x / L and the built-in beam's. Source: *Roark*, table 8.1.
        ((40, 140), 60, (10.0, 6.0)),
        # Over its last bolt: a cantilever from the push to the corner on the bolt's side.
        ((40,), 100, (10.0,)),
        ((20, 40), 60, ()),
        # No bolts: the smaller piece is a cantilever; pushed is the larger at x = 110, and the
        # smaller, 90 of 200 mm less the slot, holds its share back at its own middle.
        ((), 60, (30.0, 45 * 90 * 40 / (200 * 40 - 20 * 15))),
    ],
)
def test_bolts_carry_a_rail(bolts, push_at, arms):
    places = tuple(Point(x, 12.0) for x in bolts)
    found = cracks(body(notched_rail(), 1.0, places), (rest(push_at, 40.0, 0.0, 1.0),), push_n=50)
    raised = fillet_factor(radius_mm=1.0, depth_mm=25, rise_mm=15)
    wanted = sorted((6 * 50 * a / (5 * 25**2) * raised + 50 / (5 * 25) for a in arms), reverse=True)
    assert [c.stress_mpa for c in found] == pytest.approx(wanted, rel=1e-3)


def test_bolts_carry_a_wall():
    """F L / 4 between them, F c beyond the last, nothing where it stands. Source: statics."""

    def wall(bolts: tuple[float, ...], x: float, **keys: bool) -> list[float]:
        places = tuple(Point(b, 12.0) for b in bolts)
        shape = Region(outer=Contour.rectangle(0, 0, 200, 40))
        push = replace(rest(x, 40.0, 0.0, 1.0), **keys)
        made = rest_strength(body(shape, 1.0, places), push, push_n=50, part_modulus_mpa=70_000)
        return [s.stress_mpa for s in made if s.place.endswith("wall")]

    assert wall((), 60) == pytest.approx([6 * 50 * 200 / 4 / (5 * 40**2)])
    assert wall((40, 140), 60) == pytest.approx([6 * 50 * 100 / 4 / (5 * 40**2)])
    assert wall((40, 140), 155) == pytest.approx([6 * 50 * 15 / (5 * 40**2)])
    assert wall((), 60, is_backed=True) == []


def test_the_radius_asked_brings_the_factor_asked():
    """The asked radius, drawn, leaves the finding nothing to say. Source: its own definition."""
    shape = ell(width_mm=100, height_mm=60, leg_mm=10)
    push = (rest(10.0, 55.0, 1.0, 0.0),)
    (found,) = cracks(body(shape), push, push_n=50)
    assert found.factor < 2
    assert found.asks_mm is not None
    (mended,) = cracks(body(shape, found.asks_mm), push, push_n=50)
    assert mended.factor == pytest.approx(2, rel=1e-3)
    assert len(inside_corners(shape)) == 1


def test_dowels_share_an_eccentric_push():
    """F / n + F e r / Σ r². Source: *Shigley*, 8-12: two pins 80 apart, push 30 beyond one."""
    pins = (Point(0, 0), Point(80, 0))
    ours = shared_n(Point(110, 0), Vector(0, 1), pins, 60)
    assert ours == pytest.approx(30 + 60 * 70 * 40 / (2 * 40**2))
