"""Where the starter files and the set-up sheet's template are: beside the code, or in the wheel."""

from __future__ import annotations

from pathlib import Path

from kerf.errors import InputError


def template_path(name: str) -> Path:
    """Return the path of a template file or folder.

    Args:
        name: path below ``templates/``.
    Raises:
        InputError: there is none of that name.
    """
    here = Path(__file__).resolve().parent
    for root in (here / "templates", here.parent / "templates"):
        if (root / name).exists():
            return root / name
    raise InputError(f'the program has no template "{name}"', hint="reinstall the program")


def starters() -> tuple[str, ...]:
    """Return the names of the starter jobs on offer, sorted."""
    root = template_path("shop.toml").parent
    return tuple(sorted(folder.parent.name for folder in root.glob("*/job.toml")))
