"""Writing to disk so that nothing already there is lost.

The new content goes to a temporary file beside its target, is flushed to the disk,
and takes the target's place in one rename. A crash leaves the old file or the new
one, never half of either.
"""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Mapping
from pathlib import Path

from kerf.errors import InputError


def write_whole(path: Path, content: bytes) -> None:
    """Write ``content`` to ``path``, whole or not at all.

    Args:
        path: target; its folder is made when missing.
        content: the bytes of the file.
    Raises:
        InputError: the target is a folder, or the disk refuses.
    """
    write_set({path: content})


def write_set(files: Mapping[Path, bytes]) -> None:
    """Write files that belong together: all are on the disk before the first takes its place.

    A crash while they are written leaves every old file as it was; the renames that follow
    take no room and hardly any time, and each leaves its file whole.

    Args:
        files: target → content; folders are made when missing.
    Raises:
        InputError: a target is a folder, or the disk refuses; nothing is replaced then.
    """
    staged: list[tuple[str, Path]] = []
    path = Path()
    try:
        for path, content in files.items():
            if path.is_dir():
                raise InputError(
                    "a folder stands where a file should be written",
                    where=str(path),
                    hint="move the folder away or choose another --out",
                )
            path.parent.mkdir(parents=True, exist_ok=True)
            handle, temporary = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
            staged.append((temporary, path))
            with os.fdopen(handle, "wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            # mkstemp makes private files; a cut file is for everyone who may read the folder.
            os.chmod(temporary, 0o666 & ~_umask())
        while staged:
            temporary, path = staged[0]
            os.replace(temporary, path)
            staged.pop(0)
    except OSError as fault:
        raise InputError(
            f"cannot write: {fault.strerror or fault}",
            where=str(path),
            hint="check that the folder exists, has room and may be written to",
        ) from fault
    finally:
        for temporary, _ in staged:
            with contextlib.suppress(OSError):
                os.unlink(temporary)


def _umask() -> int:
    """Return the process's file mask (reading it needs setting it)."""
    mask = os.umask(0o022)
    os.umask(mask)
    return mask


def read_text(path: Path, *, what: str) -> str:
    """Return the text of a UTF-8 file.

    Args:
        path: the file.
        what: what it is, for the message ("job file").
    Raises:
        InputError: missing, a folder, unreadable, or not UTF-8 (with the byte's place).
    """
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        raise InputError(
            f"the {what} does not exist", where=str(path), hint="check the name and the folder"
        ) from None
    except IsADirectoryError:
        raise InputError(
            f"the {what} is a folder", where=str(path), hint="name the file inside it"
        ) from None
    except OSError as fault:
        raise InputError(
            f"the {what} cannot be read: {fault.strerror or fault}", where=str(path)
        ) from fault
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = raw[: fault.start].count(b"\n") + 1
        raise InputError(
            f"the {what} is not UTF-8 text: byte 0x{raw[fault.start]:02x} on line {line}",
            where=str(path),
            hint="save it again as UTF-8",
        ) from None
