"""Shared by all tests: where outside programs are, and where the public drawings are."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def corpus() -> Path:
    """Folder of public drawings beside the checkout; the test is passed over when absent."""
    folder = Path(__file__).parents[1] / ".." / "shared" / "corpus"
    if not folder.is_dir():
        pytest.skip("the public drawings are not beside this checkout")
    return folder.resolve()


@pytest.fixture(scope="session")
def program():
    """Return the path of an outside program, or pass the test over when it is not installed."""

    def find(name: str) -> str:
        path = shutil.which(name)
        if path is None:
            pytest.skip(f"{name} is not installed")
        return path

    return find
