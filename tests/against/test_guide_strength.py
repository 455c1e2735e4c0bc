"""Beams, plates and contacts against Roark's formulas and a general finite-element library."""

from __future__ import annotations

import math

import numpy as np
import pytest

from jigs.holding.clamp import squeeze
from jigs.holding.strength import (
    beam_sag_mm,
    beam_stress_mpa,
    bearing_mpa,
    hertz_line_mpa,
    notch_factor,
)

E, NU = 3000.0, 0.35


def elastic_beam(span: float, depth: float, force: float) -> tuple[float, float]:
    """Return sag and greatest bending stress of a beam in plane stress, one thick.

    Source: scikit-fem, quadratic quadrilaterals.
    """
    skfem = pytest.importorskip("skfem")
    from skfem.models.elasticity import lame_parameters, linear_elasticity

    mesh = skfem.MeshQuad.init_tensor(np.linspace(0, span, 161), np.linspace(0, depth, 9))
    basis = skfem.Basis(mesh, skfem.ElementVector(skfem.ElementQuad2()))
    lam, mu = lame_parameters(E, NU)
    lam = 2 * lam * mu / (lam + 2 * mu)  # plane stress
    k = skfem.asm(linear_elasticity(lam, mu), basis)
    x = basis.doflocs
    ends = np.flatnonzero(((x[0] == 0) | (x[0] == span)) & (np.abs(x[1] - depth / 2) < 1e-9))
    uy = set(np.concatenate([basis.nodal_dofs[1], basis.facet_dofs[1], basis.interior_dofs[1]]))
    held = [d for d in ends if d in uy]
    # Held from moving along at one end only.
    held += [d for d in ends if d not in uy and x[0, d] == 0]
    f = np.zeros(basis.N)
    middle = [d for d in np.flatnonzero(np.abs(x[0] - span / 2) < 1e-9) if d in uy]
    f[middle] = -force / len(middle)
    u = skfem.solve(*skfem.condense(k, f, D=np.array(held)))
    sag = -min(u[d] for d in np.flatnonzero(np.abs(x[0] - span / 2) < 1e-9) if d in uy)
    # Stress at a quarter of the span, free of the load's own local peak, carried out to the
    # outermost fibre; half of it stands in the middle.
    grad = basis.interpolate(u).grad
    at_x, at_y = basis.global_coordinates()
    stress = E / (1 - NU**2) * (grad[0, 0] + NU * grad[1, 1])
    arm = at_y - depth / 2
    seen = (np.abs(at_x - span / 4) < span / 20) & (np.abs(arm) > 0.4 * depth)
    outer = stress[seen] / arm[seen] * (depth / 2) * (span / 2) / at_x[seen]
    assert np.all(outer < 0)  # pressed above, drawn below
    return float(sag), float(np.median(np.abs(outer)))


@pytest.mark.parametrize(("span", "depth"), [(150.0, 6.0), (120.0, 5.0)])
def test_a_wall_as_a_beam(span, depth):
    """δ = F L³/(48 E I), σ = M c/I within 2 %. Source: *Roark*, table 8.1; scikit-fem."""
    sag, outer = elastic_beam(span, depth, 10.0)
    ours = beam_sag_mm(force_n=10, span_mm=span, depth_mm=depth, width_mm=1, modulus_mpa=E)
    assert ours == pytest.approx(sag, rel=0.02)
    stress = beam_stress_mpa(force_n=10, span_mm=span, depth_mm=depth, width_mm=1)
    assert stress == pytest.approx(outer, rel=0.02)


def clamped_plate_sag(radius: float, thickness: float, force: float) -> float:
    """Return the sag of a clamped round plate under a force in its middle, mm.

    Source: scikit-fem, Morley elements for the Kirchhoff plate.
    """
    skfem = pytest.importorskip("skfem")
    from skfem.helpers import dd, ddot, trace

    mesh = skfem.MeshTri.init_circle(5).scaled(radius)
    basis = skfem.Basis(mesh, skfem.ElementTriMorley())
    d = E * thickness**3 / (12 * (1 - NU**2))

    @skfem.BilinearForm
    def bending(u, v, _):
        return d * ((1 - NU) * ddot(dd(u), dd(v)) + NU * trace(dd(u)) * trace(dd(v)))

    k = skfem.asm(bending, basis)
    f = np.zeros(basis.N)
    middle = int(np.argmin(np.hypot(*mesh.p)))
    f[basis.nodal_dofs[0, middle]] = force
    u = skfem.solve(*skfem.condense(k, f, D=basis.get_dofs()))
    return float(u[basis.nodal_dofs[0, middle]])


def test_a_thin_floor_as_a_clamped_plate():
    """δ = F a²/(16 π D) within 2 %. Source: *Roark*, table 11.2; scikit-fem."""
    radius, thickness, force = 20.0, 1.0, 25.0
    d = E * thickness**3 / (12 * (1 - NU**2))
    ours = force * radius**2 / (16 * math.pi * d)
    assert ours == pytest.approx(clamped_plate_sag(radius, thickness, force), rel=0.02)


def test_a_cylinder_on_a_flat():
    """p = 0.591 √(F E* ...) for equal bodies, ν 0.3 in the table: 0.591 √(p E / D).

    Source: *Roark*, table 14.1, cylinder on a flat plate of the same material.
    """
    load, diameter, modulus = 12.0, 40.0, 3000.0
    ours = hertz_line_mpa(
        force_n=load * 5,
        length_mm=5,
        radius_mm=diameter / 2,
        modulus_mpa=modulus,
        other_mpa=modulus,
    )
    table = 0.591 * math.sqrt(load * modulus / diameter)
    # The table's ν is 0.3, ours 0.35.
    assert ours == pytest.approx(table * math.sqrt((1 - 0.3**2) / (1 - 0.35**2)), rel=2e-3)


def test_a_notch():
    """A semicircular notch has 3. Source: Inglis 1913, a = ρ."""
    assert notch_factor(depth_mm=2, radius_mm=2) == pytest.approx(3.0)


def test_bearing():
    """Source: definition, F / (d t)."""
    assert bearing_mpa(force_n=600, diameter_mm=6, thickness_mm=5) == pytest.approx(20)


def test_clamping_bows_shortens_and_buckles():
    """δ = M L²/(8 E I), N L/(E A), π² E I/L². Source: *Roark*, tables 8.1 and 15.1."""
    found = squeeze(
        force_n=4000,
        across_mm=80,
        length_mm=100,
        height_mm=10,
        grip_mm=4,
        modulus_mpa=68_900,
    )
    inertia = 100 * 10**3 / 12
    assert found.bows_mm == pytest.approx(4000 * 3 * 80**2 / (8 * 68_900 * inertia))
    assert found.shortens_mm == pytest.approx(4000 * 80 / (68_900 * 1000))
    assert found.buckles_n == pytest.approx(math.pi**2 * 68_900 * inertia / 80**2)
