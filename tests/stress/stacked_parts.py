"""Random parts in random stacks and in several pockets: a guide that holds, or a named refusal.

The looks are shapely's, on fine facets: it is asked for distances, not the program.
"""

from __future__ import annotations

import functools
import math
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import shapely
import shapely.affinity
from loose_parts import random_outline

from jigs.finding import Severity
from jigs.guides import nest, stack
from jigs.guides.several import Copies
from jigs.job import read_job
from jigs.setup import Flip
from kerf.contour import Region, Transform
from kerf.errors import InputError

TEMPLATES = Path(__file__).parents[2] / "templates"
FACET_MM = 1e-4
#: Two facets lie up to this far inside the arcs they stand for.
NEAR_MM = 4e-4

#: What a guide may be refused for, and what a stack may be found at fault for.
REFUSED = ("closes a gap", "no one opening", "no three", "pockets of two copies meet")
FAULTS = {"stack-pin-through-wall", "stack-pins-close", "stack-cap-loose"}


@functools.cache
def starter():
    """Return the stack's starter job with the shop that ships with the program."""
    text = (TEMPLATES / "stack" / "job.toml").read_text(encoding="utf-8")
    with tempfile.TemporaryDirectory() as made:
        (Path(made) / "job.toml").write_text(text, encoding="utf-8")
        (Path(made) / "shop.toml").write_bytes((TEMPLATES / "shop.toml").read_bytes())
        return read_job(Path(made) / "job.toml")


def polygon(region: Region) -> shapely.Polygon:
    """Return a region on fine facets."""
    return shapely.Polygon(
        region.outer.facets(FACET_MM), [h.facets(FACET_MM) for h in region.holes]
    )


def points_on(loop) -> np.ndarray:
    """Return points all along a loop, a millimetre apart at most, shape (n, 2)."""
    ring = shapely.LinearRing(loop.facets(FACET_MM))
    return shapely.get_coordinates(shapely.segmentize(ring, 1.0))


def random_part(rng: np.random.Generator):
    """Return the starter's part with a random outline and height."""
    outline = random_outline(rng)
    # Coarse facets miss arcs that just cross.
    while not polygon(outline).is_valid:
        outline = random_outline(rng)
    outline = outline.transformed(Transform.scaling(float(rng.uniform(0.7, 2.2))))
    return replace(starter().part, region=outline, height_mm=float(rng.uniform(3, 45)), critical=())


def random_setup(rng: np.random.Generator, options: object):
    """Return the starter's set-up in a random turn and flip."""
    return replace(
        starter().setups[0],
        turn_rad=float(rng.choice((0.0, rng.uniform(0, 2 * math.pi)))),
        flip=list(Flip)[int(rng.integers(3))],
        clearance_mm=float(rng.choice((0.05, 0.1, 0.3))),
        contacts=str(rng.choice(("float", "float", "auto"))),
        options=options,
    )


def nest_options(rng: np.random.Generator, **more: object) -> nest.NestOptions:
    """Return random keys of a nest."""
    return nest.NestOptions(
        border_mm=float(rng.uniform(12, 40)),
        notch_mm=float(rng.choice((0.0, 22.0))),
        relief_mm=1.5,
        pad_mm=6.0,
        **more,
    )


def made_unless_refused(make, seed: int):
    """Return the guide; None when it is refused for a known reason that names its key."""
    try:
        return make()
    except InputError as fault:
        refusal = fault
    assert any(words in refusal.what for words in REFUSED), (seed, refusal.what)
    assert refusal.where, seed
    return None


def check_stack(seed: int) -> str:
    """Make a random stack and look at it; return what came of it."""
    rng = np.random.default_rng((8, seed))
    shop, part = starter().shop, random_part(rng)
    options = replace(
        starter().setups[0].options,
        nest=nest_options(rng),
        lip_mm=float(rng.choice((0.0, rng.uniform(0.5, 6.0)))),
        base=bool(rng.random() < 0.9),
        layers=int(rng.choice((0, 0, 0, 2, 6))),
        zero_on="nest",
        pin_mm=float(rng.choice((3.0, 4.0, 6.0, 8.0))),
        pin_fit=str(rng.choice(("slip", "drive"))),
    )
    setup = random_setup(rng, options)
    guide = made_unless_refused(lambda: stack.make(part, setup, shop), seed)
    if guide is None:
        return "refused"
    failed = {f.code for f in guide.findings if f.severity is Severity.FAIL}
    assert failed <= FAULTS, (seed, failed)
    made = guide.stack
    lay = guide.plates[0].to_part.inverse()
    outline = points_on(part.region.outer.transformed(lay))
    at = shapely.points(outline)
    thick = guide.plates[0].thickness_mm
    pieces = {plate.name: polygon(plate.region) for plate in guide.plates}
    for plate in guide.plates:
        piece, layer = pieces[plate.name], made.layer(plate.name)
        holes = list(piece.interiors)
        assert piece.is_valid, seed
        assert plate.to_part == guide.plates[0].to_part, seed
        for dowel in made.dowels:
            middle = shapely.Point(lay.point(*dowel.at))
            rings = [r for r in holes if shapely.Polygon(r).contains(middle)]
            assert len(rings) == 1, (seed, plate.name)
            assert abs(rings[0].distance(middle) - layer.hole_mm / 2) < NEAR_MM, seed
            others = [piece.exterior, *(r for r in holes if r is not rings[0])]
            wall = min(o.distance(middle) for o in others) - layer.hole_mm / 2
            if "stack-pin-through-wall" not in failed:
                assert wall > thick - NEAR_MM - (layer.hole_mm - made.layers[-1].hole_mm), seed
        gaps = shapely.distance(at, piece)
        if layer.role == "nest":
            if not guide.contacts:
                assert abs(gaps.min() - setup.clearance_mm) < NEAR_MM, (seed, gaps.min())
            for contact in guide.contacts:
                assert piece.distance(shapely.Point(lay.point(*contact.at))) < NEAR_MM, seed
        elif layer.role == "wall":
            contacts = [shapely.Point(lay.point(*c.at)) for c in guide.contacts]
            least = min(gaps.min(), *(piece.distance(c) for c in contacts), math.inf)
            assert abs(least - plate.gap_mm) < NEAR_MM, (seed, least)
        elif layer.role == "cap":
            assert shapely.contains(piece, at).all(), seed
            depth = shapely.distance(at, piece.boundary).min()
            assert abs(depth - options.lip_mm) < NEAR_MM, (seed, depth)
        else:
            assert len(piece.interiors) == len(made.dowels), seed
    if len(made.dowels) == 2:
        check_walls_never_touch(seed, rng, guide, setup, pieces, shapely.Polygon(outline))
    return "found at fault" if failed else "made"


def check_walls_never_touch(seed, rng, guide, setup, pieces, part) -> None:
    """Shift each wall against the nest as its dowels allow; the part never meets it first."""
    made = guide.stack
    lay = guide.plates[0].to_part.inverse()
    first, second = (complex(*lay.point(*d.at)) for d in made.dowels)
    for plate in guide.plates:
        if made.layer(plate.name).role != "wall":
            continue
        for _ in range(4):
            a, b = 2 * made.float_mm * np.exp(2j * np.pi * rng.random(2))
            way = (second + b - first - a) / (second - first)
            shift = (first + a) - way * first
            moved = shapely.affinity.affine_transform(
                pieces[plate.name],
                (way.real, -way.imag, way.imag, way.real, shift.real, shift.imag),
            )
            used = 0.0 if guide.contacts else setup.clearance_mm
            assert moved.distance(part) > used - NEAR_MM, (seed, plate.name)
        return


def check_copies(seed: int) -> str:
    """Make a random nest with several pockets and look at it; return what came of it."""
    rng = np.random.default_rng((9, seed))
    shop, part = starter().shop, random_part(rng)
    box = part.region.bounds()
    pitch = float(rng.uniform(0.7, 1.4) * max(box.width, box.height))
    asked = Copies(
        count=int(rng.integers(2, 6)),
        along=str(rng.choice(("x", "y"))),
        pitch_mm=None if rng.random() < 0.5 else pitch,
    )
    setup = random_setup(rng, nest_options(rng, copies=asked))
    guide = made_unless_refused(lambda: nest.make(part, setup, shop), seed)
    if guide is None:
        return "refused"
    (plate,) = guide.plates
    piece = polygon(plate.region)
    assert piece.is_valid, seed
    pockets = [shapely.Polygon(ring) for ring in piece.interiors]
    assert len(pockets) == asked.count == len(guide.copies), seed
    apart = pockets[0].distance(pockets[1])
    if asked.pitch_mm is None:
        assert apart > max(8.0, 2 * plate.thickness_mm) - NEAR_MM, (seed, apart)
    else:
        assert apart > 0.0, seed
    lay = plate.to_part.inverse()
    outline = points_on(part.region.outer.transformed(lay))
    for by in guide.copies:
        gap = shapely.distance(shapely.points(outline + np.array(by)), piece).min()
        assert gap > -NEAR_MM if guide.contacts else abs(gap - setup.clearance_mm) < NEAR_MM, seed
        for contact in guide.contacts:
            touched = shapely.Point(np.array(lay.point(*contact.at)) + by)
            assert piece.distance(touched) < NEAR_MM, (seed, contact.name)
    return "made"
