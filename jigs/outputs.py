"""The files of a job: cut files, set-up sheet, preview and record.

All are made in memory first; the disk is touched only when every one of them exists, so a
failure half way leaves the previous files as they were.
"""

from __future__ import annotations

from pathlib import Path

from jigs.plan import Plan
from jigs.record import record_bytes
from kerf.errors import InputError
from kerf.writing.disk import write_whole
from kerf.writing.dxf import dxf_bytes
from kerf.writing.svg import svg_bytes


def output_files(plan: Plan, *, release: str = "R2000") -> dict[str, bytes]:
    """Return every file of a job: name → bytes, in the order they are written."""
    colours = plan.job.shop.colours
    files: dict[str, bytes] = {}
    for planned in plan.setups:
        for plate, cut in zip(planned.guide.plates, planned.cuts, strict=True):
            if f"{plate.name}.dxf" in files:
                raise InputError(f'two plates are called "{plate.name}"')
            files[f"{plate.name}.dxf"] = dxf_bytes(cut, colours=colours, release=release)
            files[f"{plate.name}.svg"] = svg_bytes(cut, colours=colours)
    files["record.json"] = record_bytes(plan)
    return files


def write_outputs(plan: Plan, folder: Path, *, release: str = "R2000") -> tuple[Path, ...]:
    """Write every file of a job and return their paths.

    Raises:
        InputError: a file cannot be written; files not yet reached stay as they were.
    """
    if folder.exists() and not folder.is_dir():
        raise InputError(
            "--out names a file; it must be a folder", where=str(folder), hint="choose another"
        )
    files = output_files(plan, release=release)
    paths = []
    for name, content in files.items():
        write_whole(folder / name, content)
        paths.append(folder / name)
    return tuple(paths)
