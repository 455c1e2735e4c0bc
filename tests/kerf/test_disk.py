"""Files are written whole or not at all, also when the writer is killed."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time

import pytest

from kerf.errors import InputError
from kerf.writing.disk import read_text, write_set, write_whole

WRITER = """
import sys
from pathlib import Path
from kerf.writing.disk import write_set
folder = Path(sys.argv[1])
for n in range(100_000):
    write_set({folder / name: (str(n % 10) * 200_000).encode() for name in ("a", "b", "c")})
    print(n, flush=True)
"""


def test_a_kill_leaves_every_file_whole(tmp_path):
    """Source: SIGKILL cannot be caught (POSIX); rename within a folder is atomic (POSIX)."""
    for wait in (0.01, 0.03, 0.07, 0.11):
        worker = subprocess.Popen(
            [sys.executable, "-c", WRITER, str(tmp_path)], stdout=subprocess.PIPE, text=True
        )
        assert worker.stdout is not None
        worker.stdout.readline()
        time.sleep(wait)
        worker.send_signal(signal.SIGKILL)
        worker.wait()
        for name in ("a", "b", "c"):
            content = (tmp_path / name).read_bytes()
            assert len(content) == 200_000
            assert len(set(content)) == 1


def test_a_set_is_replaced_together_or_not_at_all(tmp_path):
    write_set({tmp_path / "a": b"old", tmp_path / "b": b"old"})
    (tmp_path / "c").mkdir()
    with pytest.raises(InputError, match="folder stands"):
        write_set({tmp_path / "a": b"new", tmp_path / "b": b"new", tmp_path / "c": b"new"})
    assert (tmp_path / "a").read_bytes() == b"old"
    assert (tmp_path / "b").read_bytes() == b"old"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a", "b", "c"]


def test_folders_are_made_and_rights_are_the_usual(tmp_path):
    path = tmp_path / "x" / "y" / "file"
    write_whole(path, b"1")
    mask = os.umask(0)
    os.umask(mask)
    assert path.stat().st_mode & 0o777 == 0o666 & ~mask


@pytest.mark.parametrize(
    ("content", "says"), [(b"caf\xe9", "not UTF-8"), (b"\xef\xbb\xbfschema", "")]
)
def test_text_is_utf8_with_or_without_a_mark(tmp_path, content, says):
    path = tmp_path / "file"
    path.write_bytes(content)
    if says:
        with pytest.raises(InputError, match=says) as caught:
            read_text(path, what="job file")
        assert "line 1" in caught.value.what
    else:
        assert read_text(path, what="job file") == "schema"


def test_missing_and_folder(tmp_path):
    with pytest.raises(InputError, match="does not exist"):
        read_text(tmp_path / "no", what="job file")
    with pytest.raises(InputError, match="is a folder"):
        read_text(tmp_path, what="job file")
