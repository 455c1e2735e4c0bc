"""The figures of random jobs' sheets, judged by the boxes of what is drawn.

The jobs are those of ``random_jobs``; every third one is also cut and held, and some are in
inches, so that every figure of a sheet comes up.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

import random_jobs
import shapely

from jigs.drawing.scene import Figure, overlaps
from jigs.job import read_job
from jigs.plan import Plan, plan
from jigs.sheet.content import Picture, SheetContent
from jigs.sheet.setup_content import sheet_content
from kerf.beam import Operation
from kerf.errors import KerfError

#: What holds a part in a kind of guide, and a cut of its outline.
HELD = {
    "corner": "clamps",
    "fence": "clamps",
    "nest": "clamps",
    "pinplate": "tape",
    "stack": "clamps",
    "standing": "vise",
}
TAPE = """
[[tape]]
name = "tape and glue"
thickness = 0.3
[[tape.test]]
way = "shear"
area = [25, 25]
force = "190 N"
[[tape.test]]
way = "pull"
area = [25, 25]
force = "240 N"
"""


def job_text(kind: str, seed: int) -> str:
    """Return the random job of a seed, some of them with a cut and a hold."""
    text = random_jobs.job_text(kind, seed)
    if seed % 3 or kind not in HELD:
        return text
    text += f'hold = "{HELD[kind]}"\n[setup.holding]\n'
    if HELD[kind] == "clamps":
        text += "clamps = [[8, 8]]\nclamp_force = 3000\n"
    path = "[[8, 8], [20, 12]]" if seed % 2 else '"outline"'
    if kind == "standing":
        path = "[[8, 8]]"
    tool = 'kind = "drill"\nfeed_per_rev = 0.06\n' if kind == "standing" else (
        "feed_per_tooth = 0.03\ndepth = 1\nwidth = 1\n"
    )  # fmt: skip
    return (
        text + f'[[setup.cut]]\nname = "side wall"\n{tool}tool_diameter = 6\nspeed = 6000\n'
        f"path = {path}\n"
    )


def made(kind: str, seed: int) -> Plan | None:
    """Return the plan of a seed; None when the job is refused."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "shop.toml").write_text(random_jobs.shop_text(seed) + TAPE)
        (folder / "job.toml").write_text(job_text(kind, seed))
        try:
            return plan(read_job(folder / "job.toml"))
        except KerfError:
            return None


def figures(content: SheetContent) -> list[Figure]:
    """Return every figure of a sheet."""
    return [
        figure
        for section in content.sections
        for block in section.blocks
        if isinstance(block, Picture)
        for figure in block.figures
    ]


def faults(worked: Plan) -> list[str]:
    """Return what overlaps on the figures of a job's sheets, and what is burnt near a cut."""
    found = []
    for i, planned in enumerate(worked.setups):
        for figure in figures(sheet_content(worked, i)):
            found += [f"{figure.name}: {fault}" for fault in overlaps(figure)]
        for plate in planned.burnt.plates:
            rings = [shapely.LinearRing(loop.facets(1e-4)) for loop in plate.region.loops()]
            for stroke in plate.strokes:
                if stroke.operation is not Operation.ENGRAVE:
                    continue
                line = shapely.LineString(stroke.points)
                if min(line.distance(ring) for ring in rings) < 0.99:
                    found.append(f"plate {plate.name}: engraving within 1 mm of a cut")
    return found
