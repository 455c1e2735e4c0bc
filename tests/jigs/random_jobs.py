"""Random jobs for every guide kind, and what must hold of whatever comes out of one.

A job is drawn from a seed: outline, turn, flip, clearance and the kind's own keys, sensible and
not. What comes out is a plan or one clear refusal, never anything else. Plates are looked at
with shapely alone: walls thinner than the sheet, faces that are not edges of the plate, marks
that are off it.
"""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely

from jigs.guides.guide import Guide
from jigs.job import read_job
from jigs.plan import Plan, PlannedSetup, plan
from kerf.contour import Region
from kerf.errors import KerfError

SHEET_MM = 5.0
KINDS = ("corner", "fence", "nest", "pinplate", "stack", "standing", "template")
SHOP = """schema = 1
units = "mm"
[[laser]]
name = "laser"
bed = [600, 400]
[[laser.card]]
name = "card"
sheet = "acrylic-5"
kerf = 0.24
entry = 0.3
exit = 0.24
u = 0.01
[[sheet]]
name = "acrylic-5"
material = "cast acrylic"
thickness = 5
size = [600, 400]
[[finder]]
name = "finder"
tip_diameter = 10
[[mill]]
name = "mill"
jaw_width = 150
jaw_height = 40
jaw_opening = 120
slot_pitch = 63
bolt = 10
[[pin]]
name = "pin set"
class = "minus ZZ"
from = 1
to = 12
step = 0.1
"""


@dataclass(frozen=True)
class Outcome:
    """What came of one job: a plan, or why there is none."""

    plan: Plan | None
    refusal: str = ""


def job_text(kind: str, seed: int) -> str:
    """Return the job of a seed."""
    rng = np.random.default_rng([seed, KINDS.index(kind)])
    pick = lambda *values: values[int(rng.integers(len(values)))]  # noqa: E731
    turn = pick(0, 0, 0, 0, 90, 180, 17.3, round(float(rng.uniform(-180, 180)), 2))
    shape, box = _shape(rng, pick, bored=kind == "pinplate")
    height = round(float(rng.choice([3, 8, 16, 40])), 3)
    lines = [
        'schema = 1\nunits = "mm"\n[job]\nnumber = "R"\nname = "random"\n[part]',
        f"shape = {shape}\nheight = {height}",
        'material = "6061-T6"',
        f"edge_tolerance = {pick(0, 0.01, 0.05, 0.2)}",
    ]
    for i in range(int(rng.integers(0, 3))):
        at = [round(float(rng.uniform(0, side)), 2) for side in box]
        lines.append(f'[[part.critical]]\nname = "F{i}"\nat = {at}\ntolerance = {pick(0.1, 0.5)}')
    lines += [
        f'[[setup]]\nname = "op"\nguide = "{kind}"\nsheet = "acrylic-5"',
        f'turn = {turn}\nflip = "{pick("none", "none", "x", "y")}"',
        f"clearance = {pick(0, 0.05, 0.1, 0.5, 1.0, 2.5)}",
        f"zero = [{round(box[0] / 3, 2)}, {round(box[1] / 4, 2)}, {pick(0, height)}]",
    ]
    side = pick("left", "right")
    lines += {
        "corner": [f'hand = "{side}"', f"pad = {pick(3, 6, 12)}", f"wall = {pick(8, 30)}"],
        "fence": [f'hand = "{side}"', f"stops = {pick([0], [0, 40], [0, 50, 130], [0, 700])}"],
        "nest": [f'contacts = "{pick("float", "auto")}"', f"notch = {pick(0, 16, 22)}"],
        "pinplate": ["plate_thickness = 15.9", 'bore_class = "H8"'],
        "stack": [f"lip = {pick(0, 3)}", "pin = 6"],
        "standing": [
            f'side = "{side}"',
            f'plane = "{pick("XZ", "YZ")}"',
            f"pad = {pick(3, 6)}",
            f"parallels = {pick(0, 10, 30)}",
        ],
        "template": [f"tolerance = {pick(0.05, 0.2, 0.6)}", f"radii = {pick('true', 'false')}"],
    }[kind]
    # Drawn apart, so that the rest of a seed's job is what it was before the lean could be asked.
    if kind != "pinplate" and np.random.default_rng([seed, KINDS.index(kind), 1]).random() < 0.25:
        lines.append('lean = "opposed"')
    return "\n".join(lines) + "\n"


def shop_text(seed: int) -> str:
    """Return the shop of a seed: of every second one the sheet is clear."""
    return SHOP if seed % 2 else SHOP.replace("thickness = 5\n", "thickness = 5\nclear = true\n")


def _shape(rng: np.random.Generator, pick, *, bored: bool) -> tuple[str, tuple[float, float]]:
    """Return a shape table and its size."""
    w, h = (round(float(rng.uniform(12, 160)), 2) for _ in range(2))
    r = round(float(rng.uniform(0, min(w, h) / 3)), 2)
    leg = round(min(w, h) / 3, 2)
    table = {
        "rectangle": (f'{{ kind = "rectangle", width = {w}, height = {h} }}', (w, h)),
        "rounded": (
            f'{{ kind = "rounded rectangle", width = {w}, height = {h}, radius = {r} }}',
            (w, h),
        ),
        "circle": (f'{{ kind = "circle", diameter = {w} }}', (w, w)),
        "polygon": (
            f'{{ kind = "polygon", sides = {pick(3, 5, 6)}, across_flats = {w} }}',
            (w, w),
        ),
        "slot": (f'{{ kind = "slot", length = {w + h}, width = {h} }}', (w + h, h)),
        "L": (f'{{ kind = "L", width = {w}, height = {h}, leg = {leg}, radius = 1 }}', (w, h)),
        "T": (f'{{ kind = "T", width = {w}, height = {h}, leg = {leg} }}', (w, h)),
        "D": (f'{{ kind = "D", diameter = {w}, flat = {round(w * 0.3, 2)} }}', (w, w)),
        "flange": (
            f'{{ kind = "flange", diameter = {w + 40}, bore = {round(w / 3, 2)}, '
            f"bolt_circle = {round(w * 0.6 + 24, 2)}, bolts = {pick(2, 3, 6)}, bolt_hole = 6 }}",
            (w + 40, w + 40),
        ),
        "points": (_points(rng, w, h), (w, h)),
    }
    names = (*table, "points", "points")
    return table["flange" if bored and rng.random() < 0.8 else pick(*names)]


def _points(rng: np.random.Generator, w: float, h: float) -> str:
    """Return a polygon about a middle with rounded corners, two of its edges often square."""
    count = int(rng.integers(4, 9))
    angle = np.sort(rng.uniform(0, math.tau, count))
    reach = rng.uniform(0.35, 0.5, count)
    x = w / 2 + w * reach * np.cos(angle)
    y = h / 2 + h * reach * np.sin(angle)
    rows = [[round(float(a), 2), round(float(b), 2), float(rng.choice([0, 0.3, 2, 6]))]
            for a, b in zip(x, y, strict=True)]  # fmt: skip
    if rng.random() < 0.6:
        kept = [row for row in rows if row[0] > w * 0.45 and row[1] > h * 0.45]
        rows = [[0.0, 0.0, 0.0], [w, 0.0, float(rng.choice([0, 5]))], *kept, [0.0, h, 1.0]]
    return f'{{ kind = "points", points = {json.dumps(rows)} }}'


def run(kind: str, seed: int, folder: Path) -> Outcome:
    """Return what comes of a job; only a clear refusal may be raised."""
    (folder / "shop.toml").write_text(shop_text(seed))
    (folder / "job.toml").write_text(job_text(kind, seed))
    try:
        return Outcome(plan(read_job(folder / "job.toml")))
    except KerfError as refused:
        return Outcome(None, refused.describe())


def _polygon(region: Region) -> shapely.Polygon:
    return shapely.Polygon(region.outer.facets(1e-4), [hole.facets(1e-4) for hole in region.holes])


def has_thin_wall(region: Region, least_mm: float) -> bool:
    """Return whether shaving the plate tears it or opens a hole: a wall is surely thinner."""
    shape = _polygon(region)
    left = shape.buffer(-(least_mm / 2 - 0.02), quad_segs=32)
    parts = [p for p in shapely.get_parts(left) if p.area > 1e-6]
    return len(parts) != 1 or len(parts[0].interiors) != len(shape.interiors)


def check(outcome: Outcome) -> None:
    """Assert what must hold of every plan."""
    if outcome.plan is None:
        assert "hint:" in outcome.refusal, outcome.refusal
        return
    for planned in outcome.plan.setups:
        for finding in planned.findings:
            assert finding.message
            assert all(
                v is None or math.isfinite(v) for v in (finding.measured, finding.limit)
            ) or finding.code in ("location-unbounded",)
        # As it lies in use, and as it lies in the laser when that is its mirror image.
        for guide in dict.fromkeys((planned.guide, planned.burnt)):
            _check_plates(planned, guide)


def _check_plates(planned: PlannedSetup, guide: Guide) -> None:
    """Assert what must hold of a guide's plates, marks and faces."""
    codes = {f.code for f in planned.findings}
    for plate in guide.plates:
        if has_thin_wall(plate.region, plate.thickness_mm):
            assert "web-thin" in codes, f"{plate.name}: a thin wall without its finding"
        shape = _polygon(plate.region)
        ring = shape.boundary
        burnt = [
            shapely.LineString(s.points)
            for s in plate.strokes
            if s.operation.value in ("engrave", "score")
        ]
        for line in burnt:
            assert shape.contains(line)
            assert line.distance(ring) > 0.99
        for face in (f for f in guide.faces if f.plate == plate.name):
            along = np.linspace(0.02, 0.98, 25)[:, None]
            points = np.array(face.start) * (1 - along) + np.array(face.end) * along
            assert shapely.distance(shapely.points(points), ring).max() < 1e-6
            out = shapely.points(points[12] + 0.05 * np.array(face.normal))
            assert not shape.contains(out)
            # Its name stands at it: an arrow's tip just inside, over its length.
            edge = shapely.LineString([face.start, face.end])
            tips = [shapely.Point(p) for line in burnt for p in line.coords]
            named = any(abs(t.distance(edge) - 1.25) < 0.02 for t in tips)
            told = any(
                f.code == "mark-no-room" and f"face {face.name}" in f.message
                for f in planned.findings
            )
            assert named or told, f"face {face.name} bears no name and no finding says so"
