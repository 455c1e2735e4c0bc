"""The set-up sheet as PDF, set by typst from a template that a shop may edit.

The fonts are those inside the typesetter and the time stamp is fixed, so the same content
and template give the same bytes on every computer.
"""

from __future__ import annotations

import json
from pathlib import Path

from jigs.sheet.content import SheetContent, plain
from jigs.templates import template_path
from kerf.errors import InputError

#: Name of the template below ``templates/``.
TEMPLATE = "setup-sheet.typ"


def pdf_bytes(*contents: SheetContent, template: Path | None = None) -> bytes:
    """Return the sheets of one or more set-ups as one PDF.

    Args:
        contents: what each set-up's sheet says, in the order they are run; at least one.
        template: a shop's own template; the program's when none is given.
    Raises:
        InputError: the template is missing, or typst refuses it (its message is passed on).
    """
    import typst

    path = template if template is not None else template_path(TEMPLATE)
    if not path.is_file():
        raise InputError("the set-up sheet's template is missing", where=str(path))
    try:
        made = typst.compile(
            str(path),
            root=str(path.parent),
            ignore_system_fonts=True,
            format="pdf",
            sys_inputs={"content": json.dumps([plain(c) for c in contents], ensure_ascii=False)},
            timestamp=0,
        )
    except typst.TypstError as fault:
        raise InputError(
            f"the set-up sheet's template cannot be set: {fault}",
            where=str(path),
            hint="mend the template, or take the program's own again",
        ) from fault
    assert isinstance(made, bytes)
    return made
