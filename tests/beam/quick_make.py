"""Make a job's cut files and record without its sheets: what the virtual laser needs."""

from __future__ import annotations

import json
from pathlib import Path

from jigs.plan import Plan
from jigs.record import record_bytes
from kerf.writing.dxf import dxf_bytes


def cut_files(worked: Plan, folder: Path) -> list[dict]:
    """Write every cut file of a plan into ``folder``; return the record's set-ups."""
    folder.mkdir(exist_ok=True)
    for planned in worked.setups:
        for plate, cut in zip(planned.guide.plates, planned.cuts, strict=True):
            content = dxf_bytes(cut, colours=worked.job.shop.colours, release="R2000")
            (folder / f"{plate.name}.dxf").write_bytes(content)
    return json.loads(record_bytes(worked))["setups"]
