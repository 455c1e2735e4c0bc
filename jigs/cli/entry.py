"""Where the program starts: usage is printed from a table, without loading a command.

Asking for help must be quick on a shop's old laptop, so nothing is imported for it. The
table's words are those of the commands' own docstrings; a test holds the two together.
"""

from __future__ import annotations

import sys

#: command → its first line of help, in the order they are listed.
SUMMARIES = {
    "new": "Start a job: a folder with job.toml, shop.toml and the drawing, ready to edit.",
    "read": "Read a drawing: its loops, what was mended, and what stops it from being used.",
    "make": "Make the guides of a job: cut files, set-up sheet, preview and record.",
    "check": "Check a job: read it, work it out, report; write nothing.",
    "coupon": "Make a test piece for one sheet and laser, and the form for its readings.",
    "calibrate": "Work out a kerf card from readings and add it to the shop file.",
    "measured": "Correct a cut guide's offsets for what it really measures, or say to recut it.",
    "pins": "Say which pins of the shop fit a bore, or each bore of a drawing or job.",
    "shelf": "List the guides on the shelf, show one, add one, take one out, bring one back.",
}


def usage() -> str:
    """Return what ``jigs --help`` prints."""
    width = max(map(len, SUMMARIES)) + 2
    lines = [
        "Usage: jigs COMMAND [OPTIONS] …",
        "",
        "Laser-cut guides that locate odd-shaped parts, with the proof that they do.",
        "",
        "Commands:",
        *(f"  {name:<{width}}{summary}" for name, summary in SUMMARIES.items()),
        "",
        "jigs COMMAND --help says the rest. Exit codes: 0 good, 1 a check failed, 2 bad input.",
    ]
    return "\n".join(lines)


def main() -> None:
    """Run the command line."""
    if sys.argv[1:] in ([], ["--help"], ["-h"]):
        print(usage())
        return
    from jigs.cli.app import app

    app()
