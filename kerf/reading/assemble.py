"""From strands to a drawing: chain them, nest the loops, list what happened."""

from __future__ import annotations

from collections.abc import Sequence

from kerf.errors import InputError, KerfError
from kerf.reading.chain import chain
from kerf.reading.drawing import Drawing, Fault, Healed, LayerUse, Strand
from kerf.reading.nest import nested


def assembled(
    strands: Sequence[Strand],
    *,
    path: str,
    unit: str,
    healed: Sequence[Healed] = (),
    faults: Sequence[Fault] = (),
    notes: Sequence[str] = (),
    set_aside: Sequence[tuple[str, int]] = (),
    layers: Sequence[LayerUse] = (),
) -> Drawing:
    """Return the drawing made of strands (mm).

    Args:
        strands: every edge that may belong to an outline, mm.
        path: file as it was named, for messages.
        unit: unit it was read in.
        healed, faults, notes, set_aside, layers: what the reader has found so far; what
            chaining and nesting find is added behind.
    Raises:
        InputError: the strands are too tangled to be outlines.
    """
    try:
        chained = chain(strands)
        nest = nested(chained.loops)
    except KerfError as fault:
        raise InputError(fault.what, where=fault.where or path, hint=fault.hint) from fault
    return Drawing(
        path=path,
        regions=nest.regions,
        layer_of=nest.layer_of,
        unit=unit,
        healed=(*healed, *chained.healed, *nest.healed),
        faults=(*faults, *chained.faults, *nest.faults),
        notes=tuple(notes),
        set_aside=tuple(sorted(set_aside)),
        layers=tuple(layers),
        strands=tuple(strands),
    )
