"""Random pieces and shapely's view of a layout, shared by tests and the stress lane."""

from __future__ import annotations

import itertools
import math
import random

import shapely

from kerf import shapes
from kerf.contour import Contour, Region
from kerf.stock import LaidStock, Piece, Stock

SHEET = Stock(name="sheet", region=Region(outer=Contour.rectangle(0, 0, 300, 200)))


def random_pieces(dice: random.Random) -> list[Piece]:
    """Return two to six pieces: plates with windows, slots, ells, discs and triangles."""
    out = []
    for k in range(dice.randint(2, 6)):
        kind = dice.randrange(5)
        w, h = dice.uniform(25, 90), dice.uniform(20, 80)
        if kind == 0:
            rim = dice.uniform(6, 9)
            region = Region(
                outer=Contour.rectangle(0, 0, w, h),
                holes=(Contour.rectangle(rim, rim, w - 2 * rim, h - 2 * rim),),
            )
        elif kind == 1:
            region = shapes.slot(length_mm=max(w, h) + 15, width_mm=12)
        elif kind == 2:
            region = shapes.ell(width_mm=w + 10, height_mm=h + 10, leg_mm=15, radius_mm=4)
        elif kind == 3:
            region = shapes.circle(diameter_mm=w)
        else:
            region = Region(outer=Contour.of([(0, 0), (w, 0), (dice.uniform(0, w), h)]))
        out.append(Piece(name=f"piece {k + 1}", region=region))
    return out


def polygon(region: Region) -> shapely.Polygon:
    """Return a region as a polygon of fine facets."""
    return shapely.Polygon(region.outer.facets(5e-4), [h.facets(5e-4) for h in region.holes])


def faults(laid: LaidStock, pieces: list[Piece], gap_mm: float, margin_mm: float) -> list[str]:
    """Return every overlap, gap or margin that is not kept, measured by shapely alone."""
    lying = {p.piece: polygon(pieces[p.piece].region.transformed(p.to_stock)) for p in laid.places}
    outline = polygon(laid.stock.region)
    out = []
    for (i, a), (j, b) in itertools.combinations(lying.items(), 2):
        # Facets lie within an arc by their sagitta.
        if a.intersects(b) or a.distance(b) < gap_mm:
            out.append(f"{i} and {j} are {a.distance(b):.4f} mm apart")
    for i, body in lying.items():
        edge = body.distance(outline.exterior)
        if not outline.contains(body) or edge < margin_mm - 1e-6:
            out.append(f"{i} is {edge:.4f} mm from the edge")
    if laid.left is not None:
        rest = shapely.Polygon(laid.left.facets(5e-4))
        if not outline.buffer(1e-3).contains(rest):
            out.append("what is left reaches beyond the stock")
        out += [f"{i} lies on what is left" for i, b in lying.items() if b.intersects(rest)]
    if not math.isfinite(outline.area):
        out.append("the stock has no area")
    return out
