"""Inside corners of a plate against finite elements and statics: concentration, arms, dowels."""

from __future__ import annotations

import math

import numpy as np
import pytest

from jigs.checks.guide_strength import shared_n
from jigs.holding.corners import cracks, fillet_factor, inside_corners
from jigs.holding.strength import Body, Rest
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


def body(region: Region, corner_mm: float = 0.1) -> Body:
    return Body(region=region, thickness_mm=5, touched_mm=5, material=ACRYLIC, corner_mm=corner_mm)


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
