"""What changed since a record, and what that means for the guide on the shelf."""

from __future__ import annotations

import copy

import pytest

from jigs.repeat import Verdict, changes, input_changes

RECORD = {
    "schema": 1,
    "program": {"name": "jigs", "version": "0.1.0"},
    "inputs": [{"file": "job.toml", "sha256": "a"}, {"file": "part.dxf", "sha256": "b"}],
    "setups": [
        {
            "name": "op10",
            "guide": "nest",
            "plates": [
                {
                    "name": "op10",
                    "stock": "acrylic-5",
                    "thickness_mm": 4.92,
                    "kerf": {"card": "c1", "used_mm": 0.24},
                    "finished": [[[0, 0, 0], [50, 0, 0], [50, 40, 0]]],
                    "to_part": [[1, 0, -5], [0, 1, -5]],
                }
            ],
            "datums": {"X": {"face": "face X", "offset_mm": -40.0}},
        }
    ],
}


def edited(path, value):
    new = copy.deepcopy(RECORD)
    spot = new
    for key in path[:-1]:
        spot = spot[key]
    spot[path[-1]] = value
    return new


PLATE = ("setups", 0, "plates", 0)


@pytest.mark.parametrize(
    ("new", "verdict", "says"),
    [
        (copy.deepcopy(RECORD), Verdict.SERVES, ""),
        (edited((*PLATE, "finished", 0, 1, 0), 50 + 1e-9), Verdict.SERVES, ""),
        (edited((*PLATE, "finished", 0, 1, 0), 50.01), Verdict.RECUT, "finished outline"),
        (edited((*PLATE, "to_part", 0, 2), -5.1), Verdict.RECUT, "another place"),
        (edited(("setups", 0, "guide"), "corner"), Verdict.RECUT, "was a nest"),
        (edited(("setups", 0, "name"), "op20"), Verdict.RECUT, "no longer has"),
        (edited((*PLATE, "kerf"), {"card": "c2", "used_mm": 0.22}), Verdict.MEASURE, "0.220"),
        (edited((*PLATE, "thickness_mm"), 5.1), Verdict.MEASURE, "5.10"),
        (edited(("setups", 0, "datums", "X", "offset_mm"), -39.5), Verdict.NEW_SHEET, "-39.500"),
    ],
)
def test_verdicts(new, verdict, says):
    (change,) = changes(RECORD, new)
    assert change.verdict is verdict
    assert says in " ".join(change.reasons)


def test_the_gravest_reason_decides_and_all_are_named():
    new = edited((*PLATE, "kerf"), {"card": "c2", "used_mm": 0.22})
    new["setups"][0]["plates"][0]["to_part"] = [[1, 0, -6], [0, 1, -5]]
    (change,) = changes(RECORD, new)
    assert change.verdict is Verdict.RECUT
    assert len(change.reasons) == 2


def test_inputs_are_told_apart_by_their_content():
    new = copy.deepcopy(RECORD)
    new["inputs"] = [{"file": "job.toml", "sha256": "z"}, {"file": "more.dxf", "sha256": "y"}]
    new["program"]["version"] = "0.2.0"
    said = " | ".join(input_changes(RECORD, new))
    for words in ("job.toml was saved", "more.dxf is new", "part.dxf is no longer", "0.2.0"):
        assert words in said
    assert input_changes(RECORD, RECORD) == ()
