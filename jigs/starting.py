"""A starter job rewritten for a drawing: its profile, its bores as critical features, its zero.

The starters are the program's own files, so they are edited as text, line by line: their
comments, which explain every key, stay. What a drawing cannot tell (height, material,
tolerances) keeps the starter's value and is marked to be set.
"""

from __future__ import annotations

import json
import re

from jigs.locating.pin_places import round_holes
from kerf.contour import Point, Region
from kerf.errors import InputError

#: A drawing of many holes seldom has that many features whose place matters.
MOST_FEATURES = 8


def started_job(
    text: str,
    region: Region,
    *,
    name: str,
    profile: str,
    unit: str | None = None,
    layers: tuple[str, ...] = (),
    number: int | None = None,
) -> str:
    """Return a starter job's text with a drawing in place of its shape.

    Args:
        text: of the starter's ``job.toml``.
        region: the part that the drawing holds, mm.
        name: of the part.
        profile: name of the drawing's file beside the job.
        unit: unit the drawing is to be read in; None when its own serves.
        layers: that are read; none for all.
        number: of the part in a drawing that holds several.
    Raises:
        InputError: the starter is a worked example that hangs on its own part.
    """
    if not re.search(r"^shape = ", text, flags=re.M):
        raise InputError(
            "this starter is a worked example: its cuts and clamps hang on its own part",
            hint="begin with a starter of one guide, such as nest",
        )
    critical = text.find("[[part.critical]]")
    setup = text.index("[[setup]]")
    before = text[: critical if critical >= 0 else setup]
    features = _features(region)
    blocks = (
        ""
        if critical < 0
        else "".join(
            f"[[part.critical]]\nname = {_quoted(label)}\nat = {_pair(at)}\n"
            "tolerance = 0.5               # ± allowed from location alone: set this\n\n"
            for label, at in features
        )
    )
    rows = [f"profile = {_quoted(profile)}"]
    rows += [f'units = "{unit}"  # of the drawing'] if unit else []
    rows += [f"layer = [{', '.join(map(_quoted, layers))}]"] if layers else []
    rows += [f"number = {number}  # of the part in the drawing"] if number else []
    before = re.sub(r"^# profile = .*\n", "", before, flags=re.M)
    before = re.sub(r"^shape = .*$", lambda _: "\n".join(rows), before, flags=re.M)
    before = re.sub(r"^name = .*$", lambda _: f"name = {_quoted(name)}", before, flags=re.M)
    for key in ("height", "material", "edge_tolerance"):
        before = re.sub(rf"^({key} = [^#\n]*?) *(#.*)?$", _to_set, before, flags=re.M)
    x, y = features[0][1]
    after = re.sub(
        r"^zero = \[[^,]+,[^,]+,", f"zero = [{x:.4f}, {y:.4f},", text[setup:], flags=re.M
    )
    return before + blocks + after


def _to_set(line: re.Match[str]) -> str:
    """Return a key's line with the remark that the drawing does not tell its value."""
    return f"{line[1]:<29} # set this: the drawing does not tell"


def _features(region: Region) -> list[tuple[str, Point]]:
    """Return the widest round holes, or the middle of an outline that has none."""
    holes = sorted(round_holes(region), key=lambda hole: -hole[1])[:MOST_FEATURES]
    if holes:
        return [
            (f"bore {k}, {diameter:.2f} mm", at) for k, (at, diameter) in enumerate(holes, start=1)
        ]
    return [("middle", region.bounds().centre)]


def _quoted(text: str) -> str:
    """Return a text as a TOML string."""
    return json.dumps(text, ensure_ascii=False)


def _pair(at: Point) -> str:
    return f"[{at.x:.4f}, {at.y:.4f}]"
