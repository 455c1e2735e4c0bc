"""How far each critical feature can be off, and why.

The pose follows the locators linearly, q = G⁻¹ δ, and a feature at f moves by
(qx − θ fy, qy + θ fx) along the drawing's x and y. With w the feature's response to each
contact, the worst case is Σ |w| limit and the standard uncertainty √Σ (w u)²; causes tied
together are summed with their signs before taking size or square, and the float of a round
pin counts as √(wx² + wy²) times its radius. What curvature and finite turns add is bounded
beside it (``second_order_mm``): every second derivative of the exact pose at its worst over
the box of locator movements, ½ Σ |Hij| Li Lj, and a majorant of all higher orders.

Source: Cai, Hu & Yuan 1997 (linear deviation of a located part); Wang & Pelinescu 2001 and
Carlson 2001 (locating error to second order): methods; no number was taken from them.
JCGM 100:2008, 5.1.2 and 5.2.2 (combining uncertainties, correlated or not).

Refused: contacts that leave the part a motion (see ``determinacy``).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from jigs.locating.contacts import Contact, FrameSource, Tie
from jigs.locating.pose import feature_rows, inverse_rows, second_order
from jigs.part import Critical
from kerf.contour import Floats, Point
from kerf.errors import InputError

#: Location may use this share of the drawing's tolerance. Source: fixtures are given 20–50 %
#: of the part's tolerance (common practice).
SHARE = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class CriticalError:
    """How far one critical feature can be off from location alone.

    Args:
        name: the feature.
        worst_mm: the greater of ``worst_x_mm`` and ``worst_y_mm``: ± along the drawing's axes.
        worst_x_mm, worst_y_mm: every cause at its limit, signs against us, mm.
        rss_mm: standard uncertainty (one sigma) along the axis of ``worst_mm``, mm.
        rss_x_mm, rss_y_mm: the same along each axis.
        expanded_mm: 2 × the greater of the two, about 95 % (JCGM 100:2008, 6.3), mm.
        second_order_mm: bound of what curvature and finite turns add along either axis, mm.
        tolerance_mm: ± of the drawing.
        limit_mm: the share of it that location may use.
        ok: the worst case, second order included, is within ``limit_mm``.
        shares: (cause, share of ``worst_mm``), largest first; the shares add up to 1.
        rss_shares: (cause, share of the variance ``rss_mm``²), same order of causes.
    """

    name: str
    worst_mm: float
    worst_x_mm: float
    worst_y_mm: float
    rss_mm: float
    rss_x_mm: float
    rss_y_mm: float
    expanded_mm: float
    second_order_mm: float
    tolerance_mm: float
    limit_mm: float
    ok: bool
    shares: tuple[tuple[str, float], ...]
    rss_shares: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cause:
    """One cause's movement of every feature: worst case and variance, shape (features, 2)."""

    name: str
    worst_mm: Floats
    variance_mm2: Floats


def check_share(share: float) -> None:
    """Refuse a share of the tolerance outside (0, 1].

    Raises:
        InputError: the share lies outside.
    """
    if not 0 < share <= 1:
        raise InputError(
            f"location may use a share above 0 and up to 1 of a tolerance, not {share:.4g}",
            hint="0.5 leaves half of the tolerance to the cut itself",
        )


def critical_errors(
    critical: Sequence[Critical],
    contacts: Sequence[Contact],
    *,
    share: float = SHARE,
    frame: Sequence[FrameSource] = (),
) -> tuple[CriticalError, ...]:
    """Return the location error of each feature.

    Args:
        critical: the features, part coordinates.
        contacts: exactly three contacts that fix the part in the plane.
        share: share of each tolerance that location may use, above 0 and up to 1.
        frame: causes that move the whole guide.
    Raises:
        InputError: the share lies outside (0, 1].
        GeometryError: the contacts do not fix the part.
    """
    check_share(share)
    if not critical:
        return ()
    features = feature_rows([c.at for c in critical])
    response = features @ inverse_rows(contacts)
    causes = _causes(critical, contacts, frame, response)
    curved = _second_order(critical, contacts, response)
    return tuple(
        _critical_error(one, causes, index, curved[index], share)
        for index, one in enumerate(critical)
    )


def _causes(
    critical: Sequence[Critical],
    contacts: Sequence[Contact],
    frame: Sequence[FrameSource],
    response: Floats,
) -> list[_Cause]:
    """Gather what each independent cause does to each feature.

    response: movement of each feature along x and y per unit of each contact, (f, 2, 3).
    """
    alone: list[_Cause] = []
    tied: dict[tuple[str, Tie], tuple[str, list[Floats], list[Floats]]] = {}
    parts: list[tuple[str, Tie, str, Floats, float, float]] = []
    for i, contact in enumerate(contacts):
        for s in contact.sources:
            moves = response[:, :, i] * s.sign
            parts.append((s.name, s.tie, s.group, moves, s.limit_mm, s.u_mm))
    for f in frame:
        moves = np.array([f.moves(c.at) for c in critical]).reshape(-1, 2)
        tie = Tie.TOGETHER if f.group else Tie.ALONE
        parts.append((f.name, tie, f.group, moves, f.limit, f.u))
    for name, tie, group, moves, limit, u in parts:
        if tie is Tie.ALONE:
            alone.append(
                _Cause(name=name, worst_mm=np.abs(moves) * limit, variance_mm2=(moves * u) ** 2)
            )
            continue
        _, limits, us = tied.setdefault((group, tie), (name, [], []))
        limits.append(moves * limit)
        us.append(moves * u)
    for (_, tie), (name, limits, us) in tied.items():
        if tie is Tie.TOGETHER:
            worst, variance = np.abs(np.sum(limits, axis=0)), np.sum(us, axis=0) ** 2
        else:
            worst = np.sqrt(np.sum(np.square(limits), axis=0))
            variance = np.sum(np.square(us), axis=0)
        alone.append(_Cause(name=name, worst_mm=worst, variance_mm2=variance))
    return alone


def _second_order(
    critical: Sequence[Critical], contacts: Sequence[Contact], response: Floats
) -> Floats:
    """Return a bound of what the linear map leaves out, shape (features, 2), mm.

    The exact gap is g(q) = G q + ½ qᵀKq + …, so q = G⁻¹ δ − ½ G⁻¹ [qᵀKq] + …; a point also
    moves by −½ θ² f as it turns. The second order is ½ Σ |Hij| Li Lj over the box of locator
    movements; ``_growth`` adds the orders above it. Taken about the contacts' middle, so that
    the answer does not hang on the origin.
    """
    x, y = np.mean([c.at for c in contacts], axis=0)
    near = [replace(c, at=Point(c.at.x - x, c.at.y - y)) for c in contacts]
    inverse, curved = inverse_rows(near), second_order(near)
    limits = np.array([c.limit_mm for c in contacts])
    bent = np.einsum("ai,kab,bj->kij", inverse, curved, inverse)
    turned = np.outer(inverse[2], inverse[2])
    at = np.array([(c.at.x - x, c.at.y - y) for c in critical])
    hessian = -np.einsum("fdk,kij->fdij", response, bent) - at[:, :, None, None] * turned
    bound: Floats = np.einsum("fdij,i,j->fd", np.abs(hessian), limits, limits) / 2
    growth = _growth(near, inverse, curved, limits)
    return bound * growth if math.isfinite(growth) else np.full_like(bound, math.inf)


def _growth(near: Sequence[Contact], inverse: Floats, curved: Floats, limits: Floats) -> float:
    """Return how much all higher orders together exceed the second, >= 1; infinite if unbounded.

    With s a size of the pose and r the second order's size against it, |q| <= t s for the least
    t with t = 1 + r t² (majorant of a quadratic equation, as in Kantorovich's theorem); cubic
    and higher terms of the gaps are to the quadratic ones as turn and slip over radius.
    """
    first = np.abs(inverse) @ limits
    if not first.any():
        return 1.0
    reach = max(math.hypot(*c.at) for c in near) or 1.0
    unit = np.array([1.0, 1.0, 1.0 / reach])
    size = np.maximum(first, 0.2 * float((first / unit).max()) * unit)
    second = np.abs(inverse) @ np.einsum("a,iab,b->i", size, np.abs(curved), size) / 2
    cubic = 2 * _turn_and_slip(near, inverse, limits)
    if cubic >= 1:
        return math.inf
    r = float((second / size).max()) / (1 - cubic)
    if 4 * r >= 1:
        return math.inf
    t = 2 / (1 + math.sqrt(1 - 4 * r))
    return t * t / (1 - cubic)


def _turn_and_slip(contacts: Sequence[Contact], inverse: Floats, limits: Floats) -> float:
    """Return the greatest turn plus the greatest slip under a locator per radius of its path."""
    worst = 0.0
    for c in contacts:
        reach = c.radius_mm + c.locator_radius_mm
        if c.holds_both_ways or c.radius_mm == 0.0 or not math.isfinite(reach):
            continue
        nx, ny = c.normal
        slip = np.array([-ny, nx, nx * c.at.x + ny * c.at.y - c.locator_radius_mm])
        worst = max(worst, float(np.abs(slip @ inverse) @ limits) / abs(reach))
    return worst + float(np.abs(inverse[2]) @ limits)


def _critical_error(
    one: Critical, causes: list[_Cause], index: int, curved: Floats, share: float
) -> CriticalError:
    """Sum the causes for one feature. curved: shape (2,), mm."""
    worst = sum((c.worst_mm[index] for c in causes), np.zeros(2))
    sigma = np.sqrt(sum((c.variance_mm2[index] for c in causes), np.zeros(2)))
    axis = int(np.argmax(worst))
    limit = share * one.tolerance_mm
    by_name: dict[str, tuple[float, float]] = {}
    for c in causes:
        old = by_name.get(c.name, (0.0, 0.0))
        by_name[c.name] = (
            old[0] + float(c.worst_mm[index, axis]),
            old[1] + float(c.variance_mm2[index, axis]),
        )
    order = sorted(by_name, key=lambda name: (-by_name[name][0], name))
    total, variance = float(worst[axis]), float(sigma[axis]) ** 2
    return CriticalError(
        name=one.name,
        worst_mm=total,
        worst_x_mm=float(worst[0]),
        worst_y_mm=float(worst[1]),
        rss_mm=float(sigma[axis]),
        rss_x_mm=float(sigma[0]),
        rss_y_mm=float(sigma[1]),
        expanded_mm=2 * float(sigma.max()),
        second_order_mm=float(curved.max()),
        tolerance_mm=one.tolerance_mm,
        limit_mm=limit,
        ok=bool(np.all(worst + curved <= limit)),
        shares=tuple((n, by_name[n][0] / total if total else 0.0) for n in order),
        rss_shares=tuple((n, by_name[n][1] / variance if variance else 0.0) for n in order),
    )
