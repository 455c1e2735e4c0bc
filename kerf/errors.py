"""Every error the two packages raise on purpose, under one root.

A message that reaches a person says what is wrong, where, and what to do about
it; ``describe`` joins the three the same way everywhere.
"""

from __future__ import annotations


class KerfError(Exception):
    """Root of every deliberate error.

    Args:
        what: one sentence: what is wrong, with the measured value and the limit.
        where: file, and line, entity handle or key path inside it; empty when none applies.
        hint: what to do about it; empty when nothing sensible can be said.
    """

    def __init__(self, what: str, *, where: str = "", hint: str = "") -> None:
        super().__init__(what)
        self.what = what
        self.where = where
        self.hint = hint

    def describe(self) -> str:
        """Return the message as it is printed: what, ``at`` where, ``hint:`` remedy."""
        lines = [self.what]
        if self.where:
            lines.append(f"  at {self.where}")
        if self.hint:
            lines.append(f"hint: {self.hint}")
        return "\n".join(lines)


class InputError(KerfError, ValueError):
    """A file, key or argument that cannot be used (exit code 2)."""


class InputErrors(InputError):
    """Several faults of one input, reported together in one run.

    Args:
        faults: the faults in the order they stand in the file; at least one.
    """

    def __init__(self, faults: tuple[InputError, ...]) -> None:
        if not faults:
            raise ValueError("InputErrors needs at least one fault")
        super().__init__(f"{len(faults)} faults" if len(faults) > 1 else faults[0].what)
        self.faults = faults

    def describe(self) -> str:
        """Return every fault's own message, a blank line between them."""
        return "\n\n".join(fault.describe() for fault in self.faults)


class GeometryError(KerfError, ValueError):
    """A shape that has no meaning, or a result that could not be proven."""


class ReadingError(KerfError, ValueError):
    """A measured value that contradicts the model it is fitted to."""


class NotInstalled(InputError):
    """An optional extra is needed for this input; the hint names the command that adds it."""
