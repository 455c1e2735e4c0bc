"""Layouts kept in ``layout.json``: which plate lies where, for the next run and for the shop.

The own layout comes out the same every time; the dense library's does not. So a layout is
kept with a hash of all it was asked for, and one kept for the same pieces, stock and gaps is
taken again, after it has been measured anew.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from kerf.contour import Contour, Transform
from kerf.errors import InputError
from kerf.stock import LaidStock, Piece, Place, Stock, Turns, check_laid, laid_out

FILE = "layout.json"
SCHEMA = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """What is asked of a layout: see ``kerf.stock.laid_out``."""

    pieces: tuple[Piece, ...]
    remnants: tuple[Stock, ...]
    sheet: Stock
    gap_mm: float
    margin_mm: float
    turns: Turns

    def laid_out(self, *, dense_s: int) -> tuple[LaidStock, ...]:
        """Return the pieces laid out."""
        return laid_out(
            self.pieces,
            remnants=self.remnants,
            sheet=self.sheet,
            gap_mm=self.gap_mm,
            margin_mm=self.margin_mm,
            turns=self.turns,
            dense_s=dense_s,
        )


def layouts_bytes(
    asked: Sequence[tuple[str, tuple[Piece, ...], LaidStock]], *, dense_s: int = 0
) -> bytes:
    """Return laid sheets as UTF-8 JSON, lengths in mm, angles in rad.

    Args:
        asked: name of each sheet's file, the pieces it was laid out from, and where they lie.
        dense_s: seconds the dense library had for it; 0 when it had no part in it.
    """
    rows = [
        {
            "file": name,
            "pieces_sha256": _hash(pieces),
            "stock": laid.stock.name,
            "is_remnant": laid.stock.is_remnant,
            "outline": _ring(laid.stock.region.outer),
            "places": [
                {
                    "piece": place.piece,
                    "name": pieces[place.piece].name,
                    "angle_rad": place.angle_rad,
                    "to_stock": [list(row) for row in place.to_stock.rows()],
                }
                for place in laid.places
            ],
            "left": _ring(laid.left) if laid.left is not None else None,
        }
        for name, pieces, laid in asked
    ]
    text = json.dumps(
        {"schema": SCHEMA, "dense_s": dense_s, "sheets": rows}, indent=1, ensure_ascii=False
    )
    return (text + "\n").encode()


def stored_layout(folder: Path, asked: Layout, *, dense_s: int = 0) -> tuple[LaidStock, ...] | None:
    """Return the layout kept in a folder for what is asked, measured anew; None if there is none.

    Args:
        folder: where ``layout.json`` is.
        asked: pieces, stock and gaps of today.
        dense_s: it must have had the dense library for that long, s.

    Raises:
        InputError: the file is there, but not as this program writes it.
        GeometryError: it does not keep the gaps asked for.
    """
    file = folder / FILE
    if not file.is_file():
        return None
    stocks = {stock.name: stock for stock in (*asked.remnants, asked.sheet)}
    key = _hash(asked.pieces)
    out = []
    try:
        kept = json.loads(file.read_text(encoding="utf-8"))
        if int(kept["dense_s"]) < dense_s:
            return None
        for row in kept["sheets"]:
            if row["pieces_sha256"] != key:
                continue
            stock = stocks.get(row["stock"])
            if stock is None or _ring(stock.region.outer) != row["outline"]:
                return None
            out.append(
                LaidStock(
                    stock=stock,
                    places=tuple(_place(place) for place in row["places"]),
                    left=Contour.of(row["left"]) if row["left"] is not None else None,
                )
            )
    except (ValueError, KeyError, TypeError, IndexError) as fault:
        raise InputError(
            f"the kept layout cannot be read: {fault}",
            where=str(file),
            hint="remove it, and the plates are laid out anew",
        ) from None
    if sorted(p.piece for laid in out for p in laid.places) != list(range(len(asked.pieces))):
        return None
    for laid in out:
        check_laid(laid, asked.pieces, gap_mm=asked.gap_mm, margin_mm=asked.margin_mm)
    return tuple(out)


def _place(row: dict[str, Any]) -> Place:
    """Return one place as it was kept: a turn and a shift, nothing else."""
    (a, b, c), (d, e, f) = (map(float, part) for part in row["to_stock"])
    to_stock = Transform(a=a, b=b, c=c, d=d, e=e, f=f)
    if not to_stock.is_similarity or not math.isclose(to_stock.determinant, 1.0, rel_tol=1e-9):
        raise ValueError("a plate is not turned and shifted but stretched or turned over")
    return Place(piece=int(row["piece"]), to_stock=to_stock, angle_rad=float(row["angle_rad"]))


def _ring(contour: Contour) -> list[list[float]]:
    return [list(v) for v in contour.vertices]


def _hash(pieces: Sequence[Piece]) -> str:
    """Return a hash of pieces' names and finished sizes."""
    told = [[p.name, [_ring(loop) for loop in p.region.loops()]] for p in pieces]
    return hashlib.sha256(json.dumps(told).encode()).hexdigest()
