"""The program's own laser must catch a file that does not cut what the record says."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace

import pytest

from jigs.job import read_job
from jigs.outputs import output_files
from jigs.plan import plan
from jigs.proof import Asked, proof
from jigs.templates import template_path
from kerf.beam import CutPlan, KerfCard, Operation, beam_paths
from kerf.contour import Contour, Region
from kerf.writing.dxf import dxf_bytes

COLOURS = dict.fromkeys(Operation, "#203040")
CARD = KerfCard(name="test", kerf_mm=0.2, u_mm=0.01)
#: A 40 × 20 part in a pocket with 0.1 mm a side, in a 100 × 80 plate with its corner at (6, 15).
BODY = Region(
    outer=Contour.rectangle(6, 15, 100, 80), holes=(Contour.rectangle(29.9, 34.9, 40.2, 20.2),)
)
ASKED = Asked(
    outline=((0, 0, 0), (40, 0, 0), (40, 20, 0), (0, 20, 0)),
    to_part=((1, 0, -30), (0, 1, -35)),
    beam_mm=(0.2, 0.2),
    least_gap_mm=0.1,
    faces=(("X", 6, 95, 6, 15), ("Y", 6, 15, 106, 15)),
    offsets=(("X", 0, -44.0), ("Y", 1, -30.0)),
    zero=(20, 10),
)


def cut_file(region: Region = BODY, card: KerfCard = CARD) -> bytes:
    plan = CutPlan(
        width_mm=120,
        height_mm=110,
        strokes=(),
        paths=beam_paths(region, card, piece="a"),
        kerf=card,
    )
    return dxf_bytes(plan, colours=COLOURS)


def test_a_true_file_is_proven():
    found = proof("a", cut_file(), ASKED)
    assert found.is_proven
    assert found.least_gap_mm == pytest.approx(0.1, abs=1e-4)
    assert dict(found.offset_errors_mm) == pytest.approx({"X": 0.0, "Y": 0.0}, abs=1e-6)


@pytest.mark.parametrize(
    ("dxf", "asked", "says"),
    [
        (cut_file(card=replace(CARD, kerf_mm=0.21)), ASKED, "least gap"),
        (cut_file(), replace(ASKED, beam_mm=(0.19, 0.19)), "least gap"),
        (cut_file(), replace(ASKED, to_part=((1, 0, -30.01), (0, 1, -35))), "least gap"),
        (cut_file(), replace(ASKED, offsets=(("X", 0, -44.002),)), "face X"),
        (cut_file(), replace(ASKED, faces=(("X", 9, 95, 9, 20), ("Y", 6, 15, 106, 15)),
                             offsets=(("X", 0, -41.0),)), "face X"),
        (cut_file(), replace(ASKED, contacts=(("C1", 20, 0),)), "contact C1"),
        (
            cut_file(Region(outer=Contour.rectangle(6, 15, 100, 80))),
            ASKED,
            "least gap",
        ),
    ],
    ids=["kerf of the path", "kerf of the beam", "pose", "offset", "face", "contact", "no pocket"],
)  # fmt: skip
def test_a_false_file_is_caught(dxf, asked, says):
    found = proof("a", dxf, asked)
    assert not found.is_proven
    assert any(says in f.message for f in found.findings)


def test_an_elliptical_beam_is_measured_as_one():
    found = proof("a", cut_file(), replace(ASKED, beam_mm=(0.2, 0.3)))
    assert found.least_gap_mm == pytest.approx(0.1, abs=1e-4)
    assert found.greatest_gap_mm == pytest.approx(0.15, abs=2e-2)


@pytest.mark.parametrize(("asked_mm", "proven"), [(0.1, True), (0.12, False)])
def test_away_from_the_pads_walls_keep_their_clearance(asked_mm, proven):
    asked = replace(ASKED, contacts=(("C1", 20, -0.1),), pad_mm=3.0, least_gap_mm=asked_mm)
    found = proof("a", cut_file(), asked)
    assert found.wall_gap_mm == pytest.approx(0.1, abs=1e-4)
    assert found.is_proven is proven
    assert proven or any("a wall stands 0.1000 mm" in f.message for f in found.findings)


def test_the_sheet_and_the_record_say_what_was_measured_or_left_out(tmp_path):
    shutil.copy(template_path("corner") / "job.toml", tmp_path)
    shutil.copy(template_path("shop.toml"), tmp_path)
    made = plan(read_job(tmp_path / "job.toml"))
    for with_proof in (True, False):
        _, files = output_files(made, with_proof=with_proof)
        sheet = files["setup-sheet.html"].decode()
        assert ("away from the pads the walls stand 0.500 mm back" in sheet) is with_proof
        assert ("were not cut virtually" in sheet) is not with_proof
        (found,) = json.loads(files["record.json"])["setups"]
        if with_proof:
            assert found["proof"][0]["wall_gap_mm"] == pytest.approx(0.5, abs=1e-3)
            assert set(found["proof"][0]["offset_errors_mm"]) == {"X", "Y"}
        else:
            assert found["proof"] is None
