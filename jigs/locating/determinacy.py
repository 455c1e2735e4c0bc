"""Do the contacts fix the part: in the plane, and in space by 3-2-1.

Each contact is a row of a matrix: [nx, ny, p × n] in the plane, [n, p × n] in space. Its
rank against 3 or 6 says whether the part is located; its null space, which motions stay
free; dependent sets of rows, which contacts fight over the same motion. Both are told in
words, with names, since a machinist mends a set-up by moving a named stop.

Slides and turns have different units, so the conditioning (largest over smallest singular
value) needs a length: moments are divided by it, so that one unit of turn moves the part's
rim by one unit. The default is half the diagonal of the box round the contacts. The null
space does not depend on it.

Source: Asada & By 1985 (rank of the locating matrix); screws of free motion as in
Lynch & Park, *Modern Robotics*, ch. 12; minimal dependent sets are circuits of the matrix.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from jigs.locating.contacts import Contact, ContactKind
from jigs.locating.pose import locating_rows
from jigs.locating.space_pose import space_rows
from kerf.contour import Floats
from kerf.errors import GeometryError
from kerf.tolerance import RANK_RELATIVE

#: Directions and places in words are rounded to this many millimetres.
_WORDS_MM = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Determinacy:
    """What a set of contacts fixes.

    Args:
        freedoms: motions there are: 3 in the plane, 6 in space.
        rank: motions the contacts hold.
        determined: every motion is held.
        free: the motions left, in words.
        fought: sets of contacts that hold the same motion twice, in words; empty when every
            contact does work of its own.
        conditioning: largest over smallest singular value, infinite when a motion is free.
        length_scale_mm: the length that turns are weighed with, mm.
        singular_values: of the weighed matrix, largest first, unitless.
    """

    freedoms: int
    rank: int
    determined: bool
    free: tuple[str, ...]
    fought: tuple[str, ...]
    conditioning: float
    length_scale_mm: float
    singular_values: tuple[float, ...]


def plane_determinacy(
    contacts: Sequence[Contact], *, length_scale_mm: float | None = None
) -> Determinacy:
    """Return what the contacts fix in the plane of the sheet; supports do not count.

    Args:
        contacts: any number.
        length_scale_mm: length that turns are weighed with, mm, > 0; see the module.
    Raises:
        GeometryError: the length scale is not above zero.
    """
    flat = [c for c in contacts if c.kind is not ContactKind.SUPPORT]
    rows = locating_rows(flat)
    six = np.zeros((len(rows), 6))
    six[:, [0, 1, 5]] = rows
    return _determinacy(flat, six, (0, 1, 5), length_scale_mm)


def space_determinacy(
    contacts: Sequence[Contact], *, length_scale_mm: float | None = None
) -> Determinacy:
    """Return what the contacts fix in space (3-2-1), supports pushing up.

    Args and Raises: as ``plane_determinacy``.
    """
    return _determinacy(list(contacts), space_rows(contacts), tuple(range(6)), length_scale_mm)


def plane_motion_words(twist: Floats, contacts: Sequence[Contact]) -> str:
    """Tell one motion of the plane in words.

    Args:
        twist: shape (3,): slide of the part origin along x and y, and turn.
        contacts: contacts whose pins lend their names to a centre of turning.
    """
    six = np.array([[twist[0], twist[1], 0.0, 0.0, 0.0, twist[2]]])
    return _free_words(six, np.zeros(3), list(contacts), plane=True)[0]


def _determinacy(
    contacts: list[Contact], rows: Floats, axes: tuple[int, ...], length_scale_mm: float | None
) -> Determinacy:
    """Judge rows [n, p × n] over the motions ``axes`` of (x, y, z, turns about x, y, z)."""
    scale = _length_scale(contacts) if length_scale_mm is None else length_scale_mm
    if not 0 < scale < math.inf:
        raise GeometryError(f"the length scale must be above 0 mm, not {scale:.4g} mm")
    centre = _centre(contacts)
    near = _about(rows, centre) / np.array([1.0, 1.0, 1.0, scale, scale, scale])
    weighed = near[:, list(axes)]
    n, freedoms = len(rows), len(axes)
    values = np.zeros(freedoms)
    basis = np.eye(freedoms)
    if n:
        _, found, vt = np.linalg.svd(weighed, full_matrices=True)
        values[: len(found)] = found
        basis = vt
    rank = int(np.count_nonzero(values > RANK_RELATIVE * max(values[0], 1e-300)))
    twists = np.zeros((freedoms - rank, 6))
    twists[:, list(axes)] = basis[rank:]
    twists[:, 3:] /= scale
    return Determinacy(
        freedoms=freedoms,
        rank=rank,
        determined=rank == freedoms,
        free=tuple(_free_words(twists, centre, contacts, plane=freedoms == 3)),
        fought=tuple(_fought_words(contacts, weighed)) if n > rank else (),
        conditioning=float(values[0] / values[-1]) if rank == freedoms else math.inf,
        length_scale_mm=scale,
        singular_values=tuple(map(float, values)),
    )


def _centre(contacts: list[Contact]) -> Floats:
    """Return the middle of the contacts, shape (3,), mm."""
    if not contacts:
        return np.zeros(3)
    out: Floats = np.mean([(c.at.x, c.at.y, c.z_mm) for c in contacts], axis=0)
    return out


def _length_scale(contacts: list[Contact]) -> float:
    """Return half the diagonal of the box round the contacts, mm; 1 when they coincide."""
    if not contacts:
        return 1.0
    points = np.array([(c.at.x, c.at.y) for c in contacts])
    return float(np.hypot(*np.ptp(points, axis=0))) / 2 or 1.0


def _about(rows: Floats, centre: Floats) -> Floats:
    """Return the rows with moments taken about ``centre`` instead of the origin."""
    out: Floats = np.hstack((rows[:, :3], rows[:, 3:] - np.cross(centre, rows[:, :3])))
    return out


def _free_words(
    twists: Floats, centre: Floats, contacts: list[Contact], *, plane: bool
) -> list[str]:
    """Tell a basis of free motions: pure slides first, then turns.

    twists: shape (k, 6): slide of the point ``centre``, then turn.
    """
    if not len(twists):
        return []
    turns = twists[:, 3:]
    left, values, vt = np.linalg.svd(turns, full_matrices=True)
    count = int(np.count_nonzero(values > RANK_RELATIVE * max(float(np.abs(twists).max()), 1e-300)))
    slides = left.T[count:] @ twists[:, :3]
    words = [f"sliding along {_direction(u)}" for u in _tidy_span(slides)]
    span = vt[:count]
    for axis in _tidy_span(span):
        share = np.linalg.lstsq(turns.T, axis, rcond=None)[0]
        slide = share @ twists[:, :3]
        if len(slides):
            slide = slide - slides.T @ np.linalg.lstsq(slides.T, slide, rcond=None)[0]
        words.append(_turn_words(axis, slide, centre, contacts, plane=plane))
    return words


def _tidy_span(vectors: Floats) -> list[Floats]:
    """Return an independent set of unit vectors of the span, machine axes wherever they lie in it.

    vectors: shape (k, 3), independent.
    """
    if not len(vectors):
        return []
    q = np.linalg.qr(vectors.T)[0]
    out: list[Floats] = []
    inside = [e for e in np.eye(3) if np.linalg.norm(q @ (q.T @ e) - e) < _WORDS_MM]
    for candidate in (*inside, *q.T):
        rest = candidate - sum((u * (u @ candidate) for u in out), np.zeros(3))
        size = float(np.linalg.norm(rest))
        if size > _WORDS_MM and len(out) < q.shape[1]:
            unit = rest / size
            lead = unit[np.flatnonzero(np.abs(unit) > _WORDS_MM)[0]]
            out.append(unit if lead > 0 else -unit)
    return out


def _direction(u: Floats) -> str:
    """Name a direction: an axis letter, or its components."""
    for letter, e in zip("xyz", np.eye(3), strict=True):
        if abs(abs(float(u @ e)) - 1) < _WORDS_MM:
            return letter
    parts = u[:2] if abs(u[2]) < _WORDS_MM else u
    return "(" + ", ".join(f"{_number(v, 4)}" for v in parts) + ")"


def _turn_words(
    axis: Floats, slide: Floats, centre: Floats, contacts: list[Contact], *, plane: bool
) -> str:
    """Tell a turn about a unit axis that moves the point ``centre`` by ``slide``."""
    at = centre + np.cross(axis, slide)
    pitch = float(axis @ slide)
    if plane:
        for c in contacts:
            if c.holds_both_ways and math.hypot(c.at.x - at[0], c.at.y - at[1]) < _WORDS_MM * 1e3:
                return f"turning about {c.on}"
        return f"turning about ({_number(at[0])}, {_number(at[1])})"
    base = at - axis * float(axis @ at)
    where = f"turning about the line along {_direction(axis)} through "
    where += f"({_number(base[0])}, {_number(base[1])}, {_number(base[2])})"
    if abs(pitch) > _WORDS_MM:
        where += f" while sliding {_number(abs(pitch) * math.tau)} mm a turn along it"
    return where


def _number(value: float, digits: int = 3) -> str:
    """Print a number without a trailing fraction of zeros, and never −0."""
    text = f"{value:.{digits}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _fought_words(contacts: list[Contact], weighed: Floats) -> list[str]:
    """Tell every smallest set of contacts in which one is too many."""
    circuits: list[frozenset[int]] = []
    words = []
    n, freedoms = weighed.shape
    for size in range(2, min(n, freedoms + 1) + 1):
        for chosen in combinations(range(n), size):
            if any(known <= set(chosen) for known in circuits):
                continue
            values = np.linalg.svd(weighed[list(chosen)], compute_uv=False)
            rank = int(np.count_nonzero(values > RANK_RELATIVE * values[0]))
            if rank == size:
                continue
            circuits.append(frozenset(chosen))
            names = ", ".join(contacts[i].name for i in chosen)
            held = _held_words([contacts[i] for i in chosen], rank, freedoms)
            words.append(f"{names} fight over {held}: one of them is too many")
    return words


def _held_words(fighters: list[Contact], rank: int, freedoms: int) -> str:
    """Tell the motions that a dependent set holds, ``rank`` of them."""
    if rank == freedoms:
        return "the whole place of the part"
    supports = [c.kind is ContactKind.SUPPORT for c in fighters]
    if all(supports):
        return ("", "sliding along z", "sliding along z and one tilt", "z and both tilts")[rank]
    if any(supports):
        return f"{rank} motions"
    normal = fighters[0].normal
    along = _direction(np.array([normal.x, normal.y, 0.0]))
    if rank == 1:
        return f"sliding along {along}"
    parallel = all(abs(normal.x * c.normal.y - normal.y * c.normal.x) < _WORDS_MM for c in fighters)
    if rank == 2:
        return f"sliding along {along} and turning" if parallel else "both slides"
    return f"{rank} motions"
