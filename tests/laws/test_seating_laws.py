"""Laws of seating on random jobs: what the sheet says of a push holds when the job gives it."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from random_jobs import job_text, shop_text

from jigs.drawing.scene import overlaps
from jigs.job import read_job
from jigs.plan import PlannedSetup, plan
from jigs.record import record
from jigs.sheet.content import Picture
from jigs.sheet.seating_content import seating_section
from kerf.errors import KerfError

KINDS = ("corner", "fence", "nest", "standing")


def made(folder: Path, kind: str, seed: int, *keys: str) -> PlannedSetup | None:
    """Return the random job's set-up with further keys; None where no guide is made."""
    (folder / "shop.toml").write_text(shop_text(seed), encoding="utf-8")
    text = job_text(kind, seed) + "\n".join(keys) + "\n"
    (folder / "job.toml").write_text(text, encoding="utf-8")
    try:
        worked = plan(read_job(folder / "job.toml"))
    except KerfError:
        return None
    assert record(worked)["setups"][0]["seating"] is not None
    section = seating_section(worked.setups[0], worked, width_mm=180.0)
    assert section is not None
    for block in section.blocks:
        if isinstance(block, Picture):
            assert all(overlaps(figure) == () for figure in block.figures)
    return worked.setups[0]


@pytest.mark.parametrize("kind", KINDS)
def test_what_is_said_of_a_push_holds_when_it_is_given(tmp_path, kind):
    judged = 0
    for seed in range(14):
        planned = made(tmp_path, kind, seed)
        if planned is None or planned.seated.clamping is None:
            continue
        judged += 1
        seated, clamping = planned.seated, planned.seated.clamping
        contacts = {c.name: c for c in planned.guide.contacts}
        # The contacts' forces, without friction, balance the push.
        total = np.zeros(3)
        for name, force in clamping.reactions_n:
            c = contacts[name]
            row = (c.normal.x, c.normal.y, c.at.x * c.normal.y - c.at.y * c.normal.x)
            total += force * np.array(row)
        off = total + clamping.force_n * np.array(clamping.push.wrench)
        assert np.abs(off / (1, 1, 100)).max() < 1e-6 * clamping.force_n
        # Friction never makes a contact sure that is not without it.
        for (name, plain), (_, least) in zip(clamping.reactions_n, clamping.least_n, strict=False):
            assert least <= plain + 1e-9, name
        # The same push, given by the job, is judged alike.
        at, along = clamping.push.at, clamping.push.along
        angle = math.degrees(math.atan2(along.y, along.x))
        given = made(
            tmp_path,
            kind,
            seed,
            f"push_at = [{at.x:.9f}, {at.y:.9f}]\npush_angle = {angle:.9f}",
        )
        again = given.seated.clamping
        assert again.is_given
        assert again.reserve == pytest.approx(clamping.reserve, abs=2e-3)
        # A clamp square to an edge said to serve does serve, and its part stays in the drawing.
        if seated.places and seated.places_friction > 0:
            place = seated.places[0]
            s = (place.start_mm + place.end_mm) / 2
            x, y = planned.part.region.outer.point_at(s)
            there = made(tmp_path, kind, seed, f"push_at = [{x:.9f}, {y:.9f}]")
            assert there.seated.clamping.seats
        assert 0.0 <= seated.share <= 1.0
    assert judged > 0


def test_more_friction_leaves_no_more_edge_to_clamp_at(tmp_path):
    told = 0
    for seed in range(12):
        share = []
        for friction in (0.05, 0.15, 0.3, 0.5):
            planned = made(tmp_path, "corner", seed, f"pad_friction = {friction}")
            if planned is None or planned.seated.clamping is None:
                continue
            seated = planned.seated
            share.append(seated.share if seated.places_friction == friction else 0.0)
        assert share == sorted(share, reverse=True)
        told += len(share) > 1 and share[0] > share[-1]
    assert told > 0
