"""The shop's output profile: read, defaulted, and refused where two things would look alike."""

from __future__ import annotations

from pathlib import Path

import pytest

from jigs.output_profile import KERF_LEFT, OutputProfile, read_profile
from jigs.table import Faults, Table
from kerf.beam import Operation
from kerf.errors import InputErrors


def read(values: dict) -> OutputProfile:
    """Return the profile of an [output] table, or raise its faults."""
    faults = Faults(Path("shop.toml"))
    profile = read_profile(Table(values, path="output", faults=faults))
    faults.raise_if_any()
    return profile


def test_a_shop_that_says_nothing_gets_kerf_applied_and_its_usual_names() -> None:
    """The defaults."""
    assert read_profile(None) == read({}) == OutputProfile()
    assert OutputProfile().stem("op10") == "op10"


def test_what_is_said_is_taken() -> None:
    """And the file's name tells when the kerf is left to the laser."""
    profile = read(
        {
            "layers": {"inside": "CUT 1"},
            "colours": {"inside": "#00FF00"},
            "line_width": 0.05,
            "release": "R12",
            "kerf": "left",
            "file_per": "guide",
        }
    )
    assert profile.layers[Operation.INSIDE] == "CUT 1"
    assert profile.colours[Operation.INSIDE] == "#00ff00"
    assert (profile.line_width_mm, profile.release, profile.file_per) == (0.05, "R12", "guide")
    assert profile.stem("op10") == f"op10{KERF_LEFT}"


@pytest.mark.parametrize(
    ("values", "says"),
    [
        ({"layers": {"inside": "a/b"}}, '"a/b" is no layer name'),
        ({"layers": {"inside": "outside"}}, "two operations share a layer"),
        ({"colours": {"inside": "red"}}, "red is no colour"),
        ({"release": "R14"}, 'must be one of "R2000", "R12"'),
        ({"kerf": "half"}, 'must be one of "applied", "left"'),
        ({"line_width": 0}, "must be above 0 mm"),
        ({"file_for": "sheet"}, 'did you mean "file_per"'),
    ],
)
def test_faults_carry_their_key(values, says) -> None:
    """With the value that would do."""
    with pytest.raises(InputErrors) as fault:
        read(values)
    assert says in fault.value.describe()
    assert "shop.toml: output" in fault.value.describe()
