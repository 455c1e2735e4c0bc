"""Which bores of a part to locate from, and with which of the shop's pins.

One pin is round and holds the part's place; the other holds its turn. Where the second is
relieved along the line of centres, or is round and small enough, the distance between the bores
may be off without harm. Every ordered pair of bores is weighed with every pair of pins that can
be best for it: of two pins that enter the same bore, the one that lets the part move less is
never worse, so only the pairs where one gives up closeness for the other's sake are worked out,
each by the same worst case that the sheet prints. The result is therefore the best over all pairs
and all pins.

With one bore alone the turn is held by a pin beside an edge, at the place the general choice of
contacts finds best.

Refused, by name: no bore that any pin enters; bores too close to each other for two holes in the
plate; pins that leave too little for the distance between the bores to be off.

Sources: two round pins accept an error of pitch of half the sum of their clearances; a relieved
pin accepts what its lands leave (geometry of circles, ``Pin.float_along_mm``).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import permutations

from jigs.finding import Finding, Severity
from jigs.locating.contacts import Contact, FrameSource
from jigs.locating.error import critical_errors
from jigs.locating.pin_places import (
    EDGE_PIN_MM,
    PartBore,
    PinPlace,
    Role,
    Seating,
    bore_place,
    edge_place,
    seat_float_mm,
)
from jigs.part import Critical, Part
from jigs.pins import Pin, PinFit, fits_in, hole_limits, pins_to_buy
from kerf.contour import Point, Vector
from kerf.errors import InputError

#: A pin that leaves more than this above what is asked does not locate, mm. Source: common
#: practice; the next size of any set is far closer.
LOOSE_MM = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Pinning:
    """The pins taken.

    Args:
        places: one or two in bores, or one in a bore and one beside an edge.
        worst_mm: greatest worst-case error at a feature to keep in place, mm.
        worst_share: the same over tolerance: what was made least.
        weighed: pairs of bores and pins whose error was worked out.
        findings: what the choice gave up, and why.
    """

    places: tuple[PinPlace, ...]
    worst_mm: float
    worst_share: float
    weighed: int
    findings: tuple[Finding, ...]

    @property
    def contacts(self) -> tuple[Contact, ...]:
        """All contacts of the pins."""
        return tuple(c for place in self.places for c in place.contacts)


def chosen_pins(
    part: Part,
    bores: Sequence[PartBore],
    pins: Sequence[Pin],
    seating: Seating,
    *,
    frame: tuple[FrameSource, ...] = (),
    is_fixed: bool = False,
    where: str = "",
) -> Pinning:
    """Return the bores and pins that keep the part's critical features best in place.

    Args:
        part: the part; without critical features the corners of its box are kept in place.
        bores: the bores that may be used.
        pins: the shop's pins.
        seating: how the plate holds them.
        frame: causes that move the whole plate.
        is_fixed: the bores were given: the first takes the round pin, no other is tried.
        where: key path, for messages.
    Raises:
        InputError: no pin enters a bore, or nothing holds the part's turn.
    """
    features = kept_features(part)
    fits = {bore.name: _usable(bore, pins, seating) for bore in bores}
    if not any(_rounds(fits[bore.name]) for bore in bores):
        raise InputError(_no_fit(bores, pins, seating), where=where, hint=_buy_hint(bores, seating))
    orders = [(bores[0], bores[1])] if is_fixed and len(bores) == 2 else permutations(bores, 2)
    best: tuple[tuple[float, float, str], tuple[PinPlace, ...]] | None = None
    weighed, close, stiff = 0, 0, 0
    for first, second in orders:
        a_fits, b_fits = _rounds(fits[first.name]), fits[second.name]
        if not (a_fits and b_fits):
            continue
        # With its smallest pins a pair stands furthest apart and accepts most.
        far_a, far_b = a_fits[-1], b_fits[-1]
        if _web_mm(first, second, far_a, far_b, seating) < seating.web_mm:
            close += 1
            continue
        served = False
        for a, b in _pin_pairs(first, second, a_fits, b_fits, seating):
            served = True
            places = _pair(first, second, a, b, seating)
            share, _ = _worst(features, places, frame)
            weighed += 1
            # A thousandth of a per cent is no difference: the wider pair is taken then.
            rank = (float(f"{share:.5e}"), -math.dist(first.at, second.at), first.name)
            if best is None or rank < best[0]:
                best = (rank, places)
        stiff += not served
    if best is None:
        why = _no_pair(len(bores), close, stiff, seating)
        return _bore_and_edge(part, features, bores, fits, pins, seating, frame, why, where)
    places = best[1]
    share, worst_mm = _worst(features, places, frame)
    return Pinning(
        places=places,
        worst_mm=worst_mm,
        worst_share=share,
        weighed=weighed,
        findings=_second_cost(features, places, fits, seating, frame),
    )


def kept_features(part: Part) -> tuple[Critical, ...]:
    """Return the features to keep in place: the critical ones, or the corners of the box."""
    if part.critical:
        return part.critical
    box = part.region.bounds()
    return tuple(
        Critical(name=f"box corner {n}", at=Point(x, y), tolerance_mm=1.0)
        for n, (x, y) in enumerate(
            ((x, y) for x in (box.x_min, box.x_max) for y in (box.y_min, box.y_max)), 1
        )
    )


def _usable(bore: PartBore, pins: Sequence[Pin], seating: Seating) -> tuple[PinFit, ...]:
    """Return the pins that enter a bore, the one that lets the part move least first."""
    least = seating.least_for_mm(bore)
    fits = fits_in(bore.limits, pins, least_mm=least)
    close = (f for f in fits if f.least_mm <= least + LOOSE_MM)
    return tuple(sorted(close, key=lambda f: _play_mm(f, seating)))


def _rounds(fits: Sequence[PinFit]) -> list[PinFit]:
    return [f for f in fits if not f.pin.relieved]


def _play_mm(fit: PinFit, seating: Seating) -> float:
    """Return how far the part can stand off a pin's place in the plate, mm."""
    return fit.float_mm + seat_float_mm(fit.pin, hole_limits(fit.pin, slip=seating.slip))


def _serves(first: PartBore, second: PartBore, a: PinFit, b: PinFit, seating: Seating) -> bool:
    """Return whether two pins serve two bores: both there, apart, and not too stiff together."""
    if b.pin is a.pin or _web_mm(first, second, a, b, seating) < seating.web_mm:
        return False
    along = b.pin.float_along_mm(b.bore.least_mm, b.pin.limits.most_mm)
    return along + a.least_mm / 2 >= seating.off_mm


def _pin_pairs(
    first: PartBore,
    second: PartBore,
    a_fits: Sequence[PinFit],
    b_fits: Sequence[PinFit],
    seating: Seating,
) -> Iterator[tuple[PinFit, PinFit]]:
    """Yield the pairs of pins of which none is better in one bore and no worse in the other."""
    least = math.inf
    for a in a_fits:
        b = next((b for b in b_fits if _serves(first, second, a, b, seating)), None)
        if b is None or _play_mm(b, seating) >= least:
            continue
        least = _play_mm(b, seating)
        yield a, b
        if b is b_fits[0]:
            return


def _web_mm(first: PartBore, second: PartBore, a: PinFit, b: PinFit, seating: Seating) -> float:
    """Return what stands between the two holes of the plate, mm."""
    sizes = [hole_limits(f.pin, slip=seating.slip).most_mm for f in (a, b)]
    return math.dist(first.at, second.at) - sum(sizes) / 2


def _pair(
    first: PartBore, second: PartBore, a: PinFit, b: PinFit, seating: Seating
) -> tuple[PinPlace, ...]:
    span = math.dist(first.at, second.at)
    along = Vector((second.at.x - first.at.x) / span, (second.at.y - first.at.y) / span)
    role = Role.RELIEVED if b.pin.relieved else Role.SMALL
    return (
        bore_place("P1", Role.ROUND, first, a, seating, None),
        bore_place("P2", role, second, b, seating, along),
    )


def _worst(
    features: Sequence[Critical], places: Sequence[PinPlace], frame: tuple[FrameSource, ...]
) -> tuple[float, float]:
    """Return the greatest error over tolerance, and the greatest error, mm."""
    contacts = tuple(c for place in places for c in place.contacts)
    errors = critical_errors(features, contacts, frame=frame)
    return max(e.worst_mm / e.tolerance_mm for e in errors), max(e.worst_mm for e in errors)


def _second_cost(
    features: Sequence[Critical],
    places: tuple[PinPlace, ...],
    fits: dict[str, tuple[PinFit, ...]],
    seating: Seating,
    frame: tuple[FrameSource, ...],
) -> tuple[Finding, ...]:
    """Return what a round second pin costs against a relieved one as close as the shop's."""
    first, second = places
    if second.role is not Role.SMALL or second.bore is None or second.fit is None:
        return ()
    closest = next(f for f in fits[second.bore.name] if f.pin is not first.pin)
    ideal = (first, bore_place("P2", Role.RELIEVED, second.bore, closest, seating, second.relief))
    _, with_relief = _worst(features, ideal, frame)
    _, worst_mm = _worst(features, places, frame)
    return (
        Finding(
            code="pin-not-relieved",
            severity=Severity.NOTE,
            subject=f'pin {second.name} in "{second.bore.name}"',
            message=(
                f"the shop has no relieved pin that serves; a round one of "
                f"{second.pin.nominal_mm:.3f} mm leaves {second.fit.most_mm:.3f} mm of clearance "
                f"so that the bores may be {seating.off_mm:.3f} mm off their distance, and the "
                f"worst feature may be off {worst_mm:.3f} mm instead of {with_relief:.3f} mm"
            ),
            measured=worst_mm,
            limit=with_relief,
            unit="mm",
            hint=f"a pin of {closest.pin.nominal_mm:.3f} mm relieved along the line of centres, "
            f"lands of about {closest.pin.nominal_mm / 8:.1f} mm",
        ),
    )


def _bore_and_edge(
    part: Part,
    features: Sequence[Critical],
    bores: Sequence[PartBore],
    fits: dict[str, tuple[PinFit, ...]],
    pins: Sequence[Pin],
    seating: Seating,
    frame: tuple[FrameSource, ...],
    why: Finding | None,
    where: str,
) -> Pinning:
    """Return one round pin in a bore and one beside an edge.

    Raises:
        InputError: the shop has no second pin, or no edge resists turning about the bore.
    """
    best: Pinning | None = None
    weighed, refusal = 0, ""
    for bore in bores:
        rounds = _rounds(fits[bore.name])
        if not rounds:
            continue
        first = bore_place("P1", Role.ROUND, bore, rounds[0], seating, None)
        stop = min(
            (p for p in pins if not p.relieved and p is not first.pin),
            key=lambda p: (abs(p.nominal_mm - EDGE_PIN_MM), p.name),
            default=None,
        )
        if stop is None:
            refusal = "the shop has no second pin to hold its turn"
            continue
        place = edge_place(part, first, stop, seating, frame)
        if place is None:
            refusal = "no edge resists turning about the bore"
            continue
        share, worst_mm = _worst(features, (first, place), frame)
        weighed += 1
        if best is None or share < best.worst_share:
            best = Pinning(
                places=(first, place),
                worst_mm=worst_mm,
                worst_share=share,
                weighed=weighed,
                findings=() if why is None else (why,),
            )
    if best is None:
        raise InputError(
            f"the pins hold the part's place but not its turn: {refusal}"
            + (f"; {why.message}" if why is not None else ""),
            where=where,
            hint=(why.hint if why is not None else "") or "add a second bore or a flat to the part",
        )
    return replace(best, weighed=weighed)


def _no_fit(bores: Sequence[PartBore], pins: Sequence[Pin], seating: Seating) -> str:
    """Return why no bore takes a pin, in words."""
    if not pins:
        return "the shop has no pins"
    if not bores:
        return "the part has no round bore that a pin may stand in"
    rounds = [pin.limits.most_mm for pin in pins if not pin.relieved]
    if not rounds:
        return "the shop has no round pin"
    bore, size = min(
        ((bore, size) for bore in bores for size in rounds),
        key=lambda pair: abs(pair[0].limits.least_mm - seating.least_for_mm(pair[0]) - pair[1]),
    )
    least = seating.least_for_mm(bore)
    return (
        f"no bore fits a pin: the nearest, {bore.name}, is {bore.limits.least_mm:.3f} mm at least "
        f"and its pin {size:.3f} mm at most; it must clear the pin by {least:.3f} mm "
        f"and by no more than {least + LOOSE_MM:.3f} mm"
    )


def _buy_hint(bores: Sequence[PartBore], seating: Seating) -> str:
    """Return which pin would serve, or another way to locate."""
    if not bores:
        return "locate the part by its outline (a nest or corner guide), or drill two bores first"
    wanted = [
        pin.name
        for bore in bores[:2]
        for pin in pins_to_buy(bore.limits, least_mm=seating.least_for_mm(bore))
    ]
    return f"add [[pin]] to the shop file: {', '.join(dict.fromkeys(wanted)) or 'a pin to measure'}"


def _no_pair(count: int, close: int, stiff: int, seating: Seating) -> Finding | None:
    """Return why two bores were not used; None when there was only one."""
    if count < 2:
        return None
    if close:
        code, message, hint = (
            "bores-too-close",
            "no two bores stand far enough apart for pins: the plate needs "
            f"{seating.web_mm:.2f} mm between their holes",
            "a thinner sheet for the template, or smaller pins; one bore and an edge are used",
        )
    elif stiff:
        code, message, hint = (
            "pitch-too-stiff",
            f"no two pins accept bores that are {seating.off_mm:.3f} mm off their distance",
            "add a relieved pin with narrow lands, or a smaller round one; one bore and an edge "
            "are used",
        )
    else:
        code, message, hint = (
            "second-bore-bare",
            "only one bore takes a pin of this shop",
            "add a pin for a second bore; one bore and an edge are used",
        )
    return Finding(code=code, severity=Severity.WARN, subject="pins", message=message, hint=hint)
