"""Where ``jigs pins`` takes its bores from: a size, a drawing, or a job."""

from __future__ import annotations

from pathlib import Path

from jigs.fits import Limits, general_limits, iso_limits
from jigs.locating.pin_places import PartBore, round_holes
from jigs.shop import Shop
from jigs.table import Faults, Table
from kerf.contour import Point, Region
from kerf.errors import InputError


def length_mm(text: str, *, option: str) -> float:
    """Return a length given on the command line, mm; a bare number is in mm.

    Raises:
        InputError: no length.
    """
    try:
        value: float | str = float(text)
    except ValueError:
        value = text
    faults = Faults(Path(option))
    found = Table({"length": value}, path="", faults=faults).length_mm("length")
    faults.raise_if_any()
    return found


def asked_bores(what: str, *, bore: str, limits: str) -> tuple[tuple[PartBore, ...], Shop | None]:
    """Return the bores that are asked about, and the shop when a job names one.

    Args:
        what: job file or drawing; empty when ``bore`` is given.
        bore: size of one bore.
        limits: class or ± of every bore; empty for ISO 2768-1, class m, or the job's own.
    Raises:
        InputError: a size, class or file that cannot be used.
    """
    if bore:
        size = length_mm(bore, option="--bore")
        if not size > 0:
            raise InputError(f"a bore of {size:.4g} mm is no bore", where="--bore")
        one = PartBore(name="bore", at=Point(0.0, 0.0), drawn_mm=size, limits=_limits(size, limits))
        return (one,), None
    path = Path(what)
    if path.suffix.lower() != ".toml":
        from kerf.reading import read_drawing

        return _bores(read_drawing(path).region(None), limits), None
    from jigs.guides.pinplate_options import PinPlateOptions, part_bores
    from jigs.job import read_job

    job = read_job(path)
    for setup in job.setups:
        if isinstance(setup.options, PinPlateOptions) and not limits:
            found, _ = part_bores(setup.seen(job.part), setup.options, where=setup.key_path)
            return found, job.shop
    return _bores(job.part.region, limits), job.shop


def _bores(region: Region, limits: str) -> tuple[PartBore, ...]:
    """Return every round bore of a region; one outside a table of limits is passed over."""
    found = []
    for number, (at, size) in enumerate(round_holes(region), 1):
        try:
            own = _limits(size, limits)
        except InputError:
            if limits and not limits[0].isalpha():
                raise
            iso_limits(limits or "H7", 6.0)  # a class that is in no table is the caller's fault
            continue
        found.append(PartBore(name=f"bore {number}", at=at, drawn_mm=size, limits=own))
    return tuple(found)


def _limits(size_mm: float, limits: str) -> Limits:
    """Return the limits of a bore by class or by ±."""
    if not limits:
        return general_limits(size_mm)
    if limits[0].isalpha():
        return iso_limits(limits, size_mm)
    by = length_mm(limits, option="--limits")
    if not 0 <= by < size_mm:
        raise InputError(f"± {by:.4g} mm on a bore of {size_mm:.4g} mm", where="--limits")
    return Limits.about(size_mm, lower_mm=-by, upper_mm=by)
