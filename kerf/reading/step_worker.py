"""The process that opens a STEP file, so that no fault in it can bring the program down.

The geometry kernel is C++: on a damaged file it may crash, never return, eat memory, or
chatter on standard output. ``kerf.reading.step`` therefore starts this module as a process of
its own with limits on time and memory, hands it a request as JSON on standard input, and
reads one JSON answer from standard output, which is kept clear of the kernel's chatter.

    {"path", "kind", "axis", "at_mm", "face", "solid", "cpu_s"}
    → {"solids", "faces", "strands", "probes", "notes"} or {"what", "hint"}

Probes are points of the view with the kernel's own word on whether material is there; the
reader holds the finished regions against them, so that a lost edge cannot pass unseen.
"""

from __future__ import annotations

import json
import os
import sys
from typing import Any

#: The process may use this much memory, bytes: a large assembly fits, a runaway does not.
MEMORY_BYTES = 4 * 2**30


def main() -> None:
    """Answer one request."""
    answer = os.fdopen(os.dup(1), "w", encoding="utf-8")
    quiet = os.open(os.devnull, os.O_WRONLY)
    os.dup2(quiet, 1)
    os.dup2(quiet, 2)
    request = json.load(sys.stdin)
    _limit(request["cpu_s"])
    from kerf.reading.step_frame import Refused
    from kerf.reading.step_solid import answered

    try:
        out: dict[str, Any] = answered(request)
    except Refused as fault:
        out = {"what": fault.what, "hint": fault.hint}
    except MemoryError:
        out = {"what": "the solid needs more memory than a part may", "hint": ""}
    except Exception as fault:  # the kernel's errors share no root of their own
        out = {
            "what": f"the geometry kernel gave up: {type(fault).__name__}: {fault}"[:300],
            "hint": "export the part again, as a solid body, or draw its profile as DXF",
        }
    json.dump(out, answer)
    answer.flush()
    # The kernel's own clearing up may crash after the work is done; the answer is out.
    os._exit(0)


def _limit(cpu_s: int) -> None:
    """Bound the time and memory of this process where the system can."""
    try:
        import resource
    except ImportError:  # Windows: the reader's own clock bounds the time
        return
    resource.setrlimit(resource.RLIMIT_CPU, (cpu_s, cpu_s + 1))
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


if __name__ == "__main__":
    main()
