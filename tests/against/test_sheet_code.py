"""The code on a sheet, read off the printed page by a reader of another house.

Source: zxing-cpp reads the code; pdfium draws the page it is read from.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

import pypdfium2
import pytest
import zxingcpp

from jigs.job import read_job
from jigs.outputs import write_outputs
from jigs.plan import plan

TEMPLATES = Path(__file__).parents[2] / "templates"


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("code")
    (folder / "shop.toml").write_text((TEMPLATES / "shop.toml").read_text())
    job = (TEMPLATES / "nest" / "job.toml").read_text()
    (folder / "job.toml").write_text(job + job[job.index("[[setup]]") :].replace("op10", "op20"))
    write_outputs(plan(read_job(folder / "job.toml")), folder / "out", with_proof=False)
    return folder / "out"


@pytest.mark.parametrize("dots_per_inch", [100, 300])
def test_each_set_ups_code_names_job_set_up_and_record(folder: Path, dots_per_inch: int) -> None:
    """As a poor phone and as a scanner sees it, in black and white."""
    record = hashlib.sha256((folder / "record.json").read_bytes()).hexdigest()
    read = []
    with pypdfium2.PdfDocument(folder / "setup-sheet.pdf") as pdf:
        for page in pdf:
            image = page.render(scale=dots_per_inch / 72, grayscale=True).to_pil()
            read += [code.text for code in zxingcpp.read_barcodes(image)]
    assert read == [f"JOB 1001 REV A OP {name} RECORD {record}" for name in ("op10", "op20")]
