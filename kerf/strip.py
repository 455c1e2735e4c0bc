"""Pieces packed into the shortest strip, the same way every time.

First bottom-left: each piece, largest first, takes the leftmost, then lowest free place of its
no-fit regions. Then the strip is shortened and the pieces that no longer fit are let overlap;
one after another they move to the place and turn at which their overlaps, each pair with its
own weight, are least of all places on the grid, and pairs that stay in conflict gain weight
until they part. Every strip that comes free of overlap is shortened again; one that will not is
stirred by exchanging two large pieces. Each layout that is free of overlap, or all but free, is
pushed together off the grid (``kerf.compaction``), and the shortest of those is the result.

The search is counted in grid places touched, never in seconds, and its dice are seeded, so
that the same pieces give the same layout on any machine.

Source: weights on pairs, guided local search: Voudouris & Tsang, *Guided local search and its
application to the traveling salesman problem*, Eur. J. Oper. Res. 113 (1999); for nesting by
overlap: Egeblad, Nielsen & Odgaard, Eur. J. Oper. Res. 183 (2007) 1249-1266; Umetani et al.,
Int. Trans. Oper. Res. 16 (2009) 661-683; weights raised by relative overlap and left to fade:
Gardeyn et al., arXiv 2509.13329.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from kerf.compaction import Lines, compacted
from kerf.errors import GeometryError
from kerf.nofit import Floats
from kerf.packing import Grid, Ints, Rasters, Turned, bottom_left, largest_first
from kerf.tolerance import LATTICE_MM, LATTICE_OFF, NO_FIT_TOUCH_CELLS

#: A conflict gains weight by these factors each sweep, by its share of the deepest one, and a
#: settled pair loses it. Tried on the published sets named in ``tests/bench/bench_stock.py``.
GAIN_LEAST, GAIN_MOST, FADE = 1.1, 1.5, 0.95
#: Share of its length by which a strip is shortened at first, and at least.
SHORTEN_FIRST, SHORTEN_LEAST = 0.02, 0.002
#: Sweeps without fewer overlaps before pieces are exchanged, and exchanges before the search
#: goes back to the last strip that came free.
PATIENCE, EXCHANGES = 150, 5
#: Overlaps of at most this many cells are worth pushing apart off the grid …
NEARLY_CELLS = 1.5
#: … by steps of this many cells, as many at most for a new layout and for a final one.
REACH_CELLS, STEPS, LAST_STEPS = 2.0, 4, 15
#: Grid places that cost as much to touch as one step of pushing together.
STEP_PLACES: Final = 30_000_000
#: Cells across the strip, and grid places touched, of a search.
CELLS_ACROSS, EFFORT = 100, 8_000_000_000


class DoesNotFit(GeometryError):
    """A piece that no free place takes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """A layout in a strip that starts at x = 0.

    Args:
        length_mm: of the strip used.
        turns: for each piece, which of its turns.
        places_mm: for each piece, where the lower left corner of its turned box is.
    """

    length_mm: float
    turns: tuple[int, ...]
    places_mm: tuple[tuple[float, float], ...]


def packed(
    pieces: Sequence[Sequence[Turned]],
    *,
    height_mm: float,
    cell_mm: float | None = None,
    effort: int = EFFORT,
    seed: int = 1,
) -> Strip:
    """Return pieces laid into a short strip, none over another.

    Args:
        pieces: each in every turn it may take, from ``Shapes``; its size holds its gap.
        height_mm: height of the strip, mm.
        cell_mm: pitch of the grid; see ``pitch_mm`` when not given.
        effort: grid places that may be touched; 0 stops at bottom-left, pushed together.
        seed: of the dice.
    Raises:
        DoesNotFit: a piece is higher than the strip in every turn.
    """
    if not pieces:
        return Strip(length_mm=0.0, turns=(), places_mm=())
    cell = cell_mm if cell_mm is not None else pitch_mm(pieces, height_mm)
    grid = Grid.of(pieces, Rasters(cell), height_mm)
    columns = sum(
        math.ceil(max(turned.width_mm for turned in piece) / cell) + 1 for piece in pieces
    )
    left = bottom_left(grid, largest_first(pieces), columns)
    if left:
        raise DoesNotFit(
            f"piece {left[0] + 1} is higher than the strip of {height_mm:.1f} mm in every turn"
        )
    search = _Search(grid, random.Random(seed))
    search.run(effort)
    return search.best


def pitch_mm(pieces: Sequence[Sequence[Turned]], height_mm: float) -> float:
    """Return the pitch of a search's grid, mm.

    Pieces drawn on a lattice are searched on that lattice, where they fit each other without
    waste; others on a hundredth of the strip's height.
    """
    fine = height_mm / CELLS_ACROSS
    corners = [shapely.get_coordinates(t.polygon).ravel() for piece in pieces for t in piece]
    counted = np.concatenate(corners) / LATTICE_MM
    if np.abs(counted - np.round(counted)).max() > LATTICE_OFF:
        return fine
    lattice = float(np.gcd.reduce(np.round(counted).astype(np.int64))) * LATTICE_MM
    return lattice if lattice >= fine else fine


class _Search:
    """The search for a shorter strip: overlaps, weights, and the best so far."""

    def __init__(self, grid: Grid, dice: random.Random) -> None:
        self.grid = grid
        self.dice = dice
        self.count = len(grid.pieces)
        self.columns = 0
        self.depth: Floats = np.zeros((self.count, self.count))
        self.weight: Floats = np.ones((self.count, self.count))
        self.lines: dict[tuple[int, int], Lines] = {}
        self.others = [[j for j in range(self.count) if j != i] for i in range(self.count)]
        self.large = largest_first(grid.pieces)[: max(2, self.count // 2)]
        self.free_columns = self._columns()
        self.free_state = grid.state()
        self.least_columns = self._least_columns()
        self.shorten = SHORTEN_FIRST
        start = self._pushed_together(LAST_STEPS)
        self.best = start if start is not None else self._on_grid()

    def run(self, effort: int) -> None:
        """Search until the effort is spent."""
        if self.count < 2:
            return
        grid = self.grid
        end = grid.touched + effort
        failures = 0
        if self.free_columns > self.least_columns:
            self._shortened(self.free_state)
        lowest, since, state = math.inf, 0, grid.state()
        while grid.touched < end and self.free_columns > self.least_columns:
            total = float(self.depth.sum())
            free = total == 0.0
            if free or (total < 0.95 * lowest and self.depth.max() <= NEARLY_CELLS):
                self._keep_if_shorter()
            if free:
                self.free_columns, self.free_state = self._columns(), grid.state()
                failures = 0
                lowest, since = math.inf, 0
                if self.free_columns > self.least_columns:
                    self._shortened(self.free_state)
                continue
            if total < lowest:
                lowest, since, state = total, 0, grid.state()
            if since > PATIENCE:
                failures += 1
                if failures % (EXCHANGES + 1) == 0:
                    self.shorten = max(SHORTEN_LEAST, self.shorten / 2)
                    state = self.free_state
                self._shortened(state, exchange=True)
                lowest, since = math.inf, 0
            self._sweep()
            since += 1

    def _sweep(self) -> None:
        """Move every piece in conflict to where its weighted overlap is least; then weigh."""
        grid = self.grid
        conflicts = np.flatnonzero(self.depth.any(axis=1)).tolist()
        self.dice.shuffle(conflicts)
        for i in conflicts:
            if not self.depth[i].any():
                continue
            others = self.others[i]
            weights = self.weight[i, others].tolist()
            best: tuple[float, int, int, int] | None = None
            for turn in range(len(grid.pieces[i])):
                found = grid.overlaps(i, turn, self.columns, others, weights)
                if found is None:
                    continue
                flat = int(found.argmin())
                overlap = float(found.flat[flat])
                if best is None or overlap < best[0]:
                    best = (overlap, turn, *divmod(flat, found.shape[1]))
            if best is not None:
                grid.turn[i] = best[1]
                grid.at[i] = best[2:]
                self.depth[i] = self.depth[:, i] = [
                    grid.depth(i, j) if j != i else 0.0 for j in range(self.count)
                ]
        deepest = self.depth.max()
        if deepest > 0.0:
            gain = GAIN_LEAST + (GAIN_MOST - GAIN_LEAST) * self.depth / deepest
            self.weight = np.where(
                self.depth > 0.0, self.weight * gain, np.maximum(1.0, self.weight * FADE)
            )

    def _shortened(self, state: tuple[Ints, tuple[int, ...]], *, exchange: bool = False) -> None:
        """Start on a shorter strip from a state, all weights alike."""
        grid = self.grid
        grid.restore(state)
        if exchange:
            a, b = self.dice.sample(self.large, 2)
            grid.at[[a, b]] = grid.at[[b, a]]
        # Never shorter than its widest piece, or than all of them without waste.
        shorter = math.floor(self.free_columns * (1 - self.shorten))
        self.columns = max(self.least_columns, min(self.free_columns - 1, shorter))
        for i in range(self.count):
            if not all(grid.room(i, grid.turn[i], self.columns)):
                turns = range(len(grid.pieces[i]))
                grid.turn[i] = next(t for t in turns if all(grid.room(i, t, self.columns)))
            nx, ny = grid.room(i, grid.turn[i], self.columns)
            grid.at[i] = np.minimum(grid.at[i], (nx - 1, ny - 1))
        self.weight = np.ones((self.count, self.count))
        self.depth = np.array(
            [
                [grid.depth(i, j) if i != j else 0.0 for j in range(self.count)]
                for i in range(self.count)
            ]
        )

    def _least_columns(self) -> int:
        """Return the columns below which no strip can hold the pieces."""
        cell, height = self.grid.rasters.cell_mm, self.grid.height_mm
        widest = max(
            min(t.width_mm for t in piece if t.height_mm <= height + NO_FIT_TOUCH_CELLS * cell)
            for piece in self.grid.pieces
        )
        area = float(sum(piece[0].polygon.area for piece in self.grid.pieces))
        return math.ceil(max(widest, area / height) / cell - NO_FIT_TOUCH_CELLS)

    def _columns(self) -> int:
        """Return the columns the strip needs as it lies."""
        return max(self.grid.right(i) for i in range(self.count))

    def _keep_if_shorter(self) -> None:
        """Push the layout together off the grid, and keep it when it is the shortest."""
        found = self._pushed_together(1)
        if found is not None and found.length_mm < 1.02 * self.best.length_mm:
            found = self._pushed_together(STEPS) or found
            if found.length_mm < self.best.length_mm:
                self.best = found

    def _pushed_together(self, steps: int) -> Strip | None:
        """Return the layout pushed together off the grid, or None where it cannot be freed."""
        grid = self.grid
        cell = grid.rasters.cell_mm
        now = [grid.pieces[i][grid.turn[i]] for i in range(self.count)]
        sizes = np.array([[t.width_mm, t.height_mm] for t in now])
        places = compacted(
            [t.parts for t in now],
            [t.key for t in now],
            sizes,
            np.asarray(grid.at * cell, dtype=np.float64),
            known=self.lines,
            height_mm=grid.height_mm,
            reach_mm=REACH_CELLS * cell,
            steps=steps,
        )
        grid.touched += STEP_PLACES * steps
        if places is None:
            return None
        return Strip(
            length_mm=float((places[:, 0] + sizes[:, 0]).max()),
            turns=tuple(grid.turn),
            places_mm=tuple((float(x), float(y)) for x, y in places),
        )

    def _on_grid(self) -> Strip:
        """Return the layout as it lies on the grid, free of overlap."""
        cell = self.grid.rasters.cell_mm
        return Strip(
            length_mm=self.free_columns * cell,
            turns=tuple(self.grid.turn),
            places_mm=tuple((x * cell, y * cell) for x, y in self.grid.at.tolist()),
        )
