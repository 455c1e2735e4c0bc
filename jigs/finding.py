"""What a check has to say: a coded finding with the measured value, its limit and a remedy."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Severity(StrEnum):
    """How much a finding weighs."""

    FAIL = "fail"  #: the guide must not be used as it is; the run exits 1
    WARN = "warn"  #: a person must decide
    NOTE = "note"  #: worth knowing


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One result of one check.

    Args:
        code: stable short name, lower case with hyphens ("web-thin").
        severity: how much it weighs.
        subject: what it is about, in the reader's words ('nest "op20": web').
        message: one sentence; carries its numbers with units.
        measured, limit: the compared values in ``unit``, when there are any.
        unit: "mm", "rad", "N", … ; empty for a count or a yes/no.
        hint: what would mend it.
    """

    code: str
    severity: Severity
    subject: str
    message: str
    measured: float | None = None
    limit: float | None = None
    unit: str = ""
    hint: str = ""
