"""Laws of the DXF reader under damage: it reads or says one clear thing, whatever the bytes."""

from __future__ import annotations

import random
import warnings
from pathlib import Path

import mutated_dxf
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kerf.errors import KerfError
from kerf.reading import survey_drawing


@pytest.fixture(scope="module")
def starts() -> list[bytes]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return mutated_dxf.seeds()


@given(seed=st.integers(min_value=0, max_value=2**32))
@settings(
    derandomize=True,
    deadline=None,
    max_examples=60,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
def test_damage_is_read_or_refused(seed: int, starts: list[bytes], tmp_path: Path) -> None:
    rng = random.Random(seed)
    path = tmp_path / "part.dxf"
    path.write_bytes(mutated_dxf.mutated(rng.choice(starts), rng))
    try:
        drawing = survey_drawing(path, unit="mm", hatches=seed % 2 == 0)
    except KerfError as fault:
        text = fault.describe()
        text.encode("utf-8")
        assert "part.dxf" in text
    else:
        for region in drawing.regions:
            assert region.area_mm2 > 0
