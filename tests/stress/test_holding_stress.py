"""Random jobs with cuts and holds, each through plan, record and sheet: an answer or one error."""

from __future__ import annotations

import random
import re
from pathlib import Path

import pytest

from jigs.job import read_job
from jigs.plan import plan
from jigs.record import record_bytes
from jigs.sheet.setup_content import sheet_content
from kerf.errors import KerfError

TEMPLATES = Path(__file__).parents[2] / "templates"

SHAPES = (
    '{ kind = "rectangle", width = 90, height = 55 }',
    '{ kind = "rounded rectangle", width = 80, height = 60, radius = 9 }',
    '{ kind = "L", width = 90, height = 70, leg = 30, radius = 4 }',
    '{ kind = "T", width = 90, height = 70, leg = 26 }',
    '{ kind = "D", diameter = 70, flat = 28 }',
    '{ kind = "slot", length = 90, width = 32 }',
    '{ kind = "flange", diameter = 90, bore = 30, bolt_circle = 68, bolts = 6, bolt_hole = 8 }',
)
MATERIALS = ("6061-T6", "C45", "316", "brass", "wood")


def random_cut(rng: random.Random, height: float) -> str:
    kind = rng.choice(("end mill", "end mill", "fly cutter", "drill"))
    diameter = rng.uniform(2, 60 if kind == "fly cutter" else 20)
    low = rng.choice((0.0, -1.0, rng.uniform(0, height * 0.9)))
    high = rng.uniform(low + 0.1, height)
    points = [[round(rng.uniform(-60, 100), 2) for _ in range(2)] for _ in range(rng.randint(1, 4))]
    lines = [
        "[[setup.cut]]",
        f'kind = "{kind}"',
        f"tool_diameter = {diameter:.3f}",
        f"speed = {rng.uniform(50, 20000):.0f}",
        f"z = [{low:.3f}, {high:.3f}]",
        f"depth = {rng.uniform(0.1, 8):.3f}",
    ]
    if kind == "drill":
        lines += [f"feed_per_rev = {rng.uniform(0.01, 0.4):.3f}", f"path = {points}"]
    else:
        path = rng.choice(
            (
                '"outline"',
                str([*points, [0.5, 0.25]]),
                f"{{ bore = {points[0]}, diameter = {diameter * rng.uniform(1.01, 4):.3f} }}",
            )
        )
        lines += [
            f"feed_per_tooth = {rng.uniform(0.005, 0.3):.4f}",
            f"width = {rng.uniform(0.02, 1) * diameter:.4f}",
            f'milling = "{rng.choice(("climb", "conventional"))}"',
            f'hand = "{rng.choice(("right", "left"))}"',
            f"helix = {rng.choice((0, 30, 45))}",
            f"lead = {rng.choice((90, 45))}",
            f"path = {path}",
        ]
    if rng.random() < 0.4:
        lines += [f"reach = {rng.uniform(3, 40):.2f}", f"holder = {rng.uniform(10, 40):.2f}"]
    return "\n".join(lines) + "\n"


def random_hold(rng: random.Random) -> str:
    return rng.choice(
        (
            "",
            'hold = "tape"\n[setup.holding]\nmargin = 2\ncoolant = "mist"\n',
            f'hold = "vise"\n[setup.holding]\nclamp_force = {rng.uniform(50, 9000):.0f}\n'
            f'jaws = "{rng.choice("XY")}"\ngrip = {rng.uniform(1, 20):.1f}\n',
            f'hold = "vise"\n[setup.holding]\nclamp_force = {rng.uniform(50, 9000):.0f}\n'
            f'jaws = "{rng.choice("XY")}"\njaw_faces = "soft"\nstep = {rng.uniform(0.5, 20):.1f}\n',
            'hold = "clamps"\n[setup.holding]\nclamps = [[5, 5], [20, 12]]\nclamp_force = 2000\n',
            'hold = "clamps"\n[setup.holding]\nclamps = [[5, 5]]\nclamp_force = 200\n',
        )
    )


def random_job(rng: random.Random) -> str:
    height = rng.uniform(2, 40)
    setups = []
    for number in range(rng.randint(1, 2)):
        setups.append(
            f'[[setup]]\nname = "op{number}"\nguide = "{rng.choice(("nest", "corner"))}"\n'
            f'sheet = "acrylic-5"\nclearance = {rng.choice((0.1, 0.4))}\n'
            f"turn = {rng.choice((0, 90, 17.3))}\n"
            f'flip = "{rng.choice(("none", "x", "y"))}"\nzero = [0, 0, {height:.3f}]\n'
            + random_hold(rng)
            + "".join(random_cut(rng, height) for _ in range(rng.randint(0, 3)))
        )
    return (
        'schema = 1\nunits = "mm"\n[job]\nnumber = "1"\nname = "P"\nrevision = "A"\n'
        f"[part]\nshape = {rng.choice(SHAPES)}\nheight = {height:.3f}\n"
        f'material = "{rng.choice(MATERIALS)}"\nedge_tolerance = 0.02\n' + "\n".join(setups)
    )


def heavier(text: str) -> str:
    """Return the same job at 1.3 times every feed."""
    return re.sub(r"(feed_per_\w+ = )([\d.]+)", lambda m: f"{m[1]}{float(m[2]) * 1.3:.6f}", text)


@pytest.mark.parametrize("block", range(20))
def test_a_thousand_random_jobs_give_an_answer_or_one_error(tmp_path, block):
    """... and a heavier feed never holds better. Source: Kienzle, m < 1."""
    rng = random.Random(block)
    shop = (TEMPLATES / "tide-lever" / "shop.toml").read_bytes()
    (tmp_path / "shop.toml").write_bytes(shop)
    answered = judged = 0
    for number in range(50):
        text = random_job(rng)
        (tmp_path / "job.toml").write_text(text, encoding="utf-8")
        try:
            made = plan(read_job(tmp_path / "job.toml"))
        except KerfError:
            continue  # one clear error; anything else fails the test
        answered += 1
        assert record_bytes(made)
        for index, planned in enumerate(made.setups):
            assert sheet_content(made, index).sections
            holding = planned.machined.holding
            if holding is not None:
                assert holding.worst.factor >= 0, (number, text)
        if all(planned.machined.holding is None for planned in made.setups):
            continue
        judged += 1
        (tmp_path / "job.toml").write_text(heavier(text), encoding="utf-8")
        more = plan(read_job(tmp_path / "job.toml"))
        for light, heavy in zip(made.setups, more.setups, strict=True):
            if light.machined.holding is None:
                continue
            assert heavy.machined.holding is not None
            assert heavy.machined.holding.worst.factor <= light.machined.holding.worst.factor * (
                1 + 1e-9
            ), (number, text)
    assert answered >= 10
    assert judged >= 2
