"""Damage done to drawings: pieces cut, doubled and barbed, and numbers swapped."""

from __future__ import annotations

import io
import random
import re

#: A small drawing of our own with every kind of element that places something.
SVG = (
    b'<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="80mm" viewBox="0 0 100 80">'
    b'<style>.a{display:none}</style><g id="cut" transform="translate(3 4) rotate(30)">'
    b'<path d="M10 10h20v15c0 5-5 9-9 9A9 9 0 0 1 10 25q-5-5 0-15z"/></g>'
    b'<defs><g id="d"><circle r="3"/></g></defs><use href="#d" x="60" y="20"/>'
    b'<symbol id="s" viewBox="0 0 4 4"><rect rx="1" width="4" height="4"/></symbol>'
    b'<use href="#s" x="85" width="8" height="8"/><ellipse cx="70" cy="60" rx="9" ry="4"/>'
    b'<path fill="none" stroke="red" d="M80 20h9"/><line stroke="red" x1="89" y1="20" x2="89" '
    b'y2="29"/><polyline fill="none" stroke="red" points="89 29 80 20"/>'
    b'<polygon points="1 70 9 70 5 78"/><text class="a">x</text></svg>'
)
#: Pieces that break readers: numbers out of range, half tokens, references, nesting.
BARBS = (
    *(b"\0", b"\xff", b'"', b">", b"<", b"\n", b"\r\n", b"(", b")", b"#1", b"$", b"*", b"'", b"%"),
    *(b'href="#cut"', b'href="#s"', b"Z", b"M", b"c", b"a1 1 0 1 1 0 0", b"scale(0)", b"skewX(90)"),
    *(b"<g>", b"</g>", b"<svg>", b"&x;", b"<!--", b"<![CDATA[", b"display:none"),
    *(b"  0\nLINE\n", b" 10\n1e300\n", b"  2\nB\n", b"  0\nENDSEC\n", b"  0\nEOF\n", b" 42\n1e9\n"),
)
#: Numbers at the edges of sense.
NUMBERS = (
    *(b"0", b"-0", b"-1", b"1", b"2", b"0.1", b"1e-6", b"1e-300", b"1e15", b"1e300", b"-1e300"),
    *(b"1e999", b"NaN", b"inf", b"999999999", b"-7", b"360", b"90", b"3.14159265358979", b""),
)
_NUMBER = re.compile(rb"[-+]?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?")


def dxf() -> bytes:
    """Return a small DXF of our own with every kind of curve, a block and a hatch."""
    import ezdxf

    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0, 0, 0, 0.3), (40, 0), (40, 30), (0, 30)], close=True)
    space.add_circle((10, 10), 4)
    space.add_ellipse((28, 15), (6, 0), 0.5)
    space.add_spline([(50, 0), (60, 5), (70, 0), (60, 20), (50, 0)])
    for a, b in (((0, 40), (10, 40)), ((10, 40), (10, 50)), ((10, 50), (0, 40))):
        space.add_line(a, b)
    space.add_arc((60, 40), 5, 0, 180)
    space.add_line((55, 40), (65, 40))
    document.blocks.new("B").add_circle((0, 0), 2)
    space.add_blockref("B", (20, 22), dxfattribs={"xscale": 1.5, "yscale": 1.5, "rotation": 30})
    hatch = space.add_hatch()
    hatch.paths.add_polyline_path([(80, 0), (90, 0), (90, 9)], is_closed=True)
    out = io.StringIO()
    document.write(out)
    return out.getvalue().encode()


def damaged(rng: random.Random, content: bytes) -> bytes:
    """Return the bytes with one to five things wrong.

    Every other time only numbers are swapped, so that the damage gets past the file's grammar
    and reaches the geometry.
    """
    out = content
    if rng.random() < 0.5:
        for _ in range(rng.randint(1, 4)):
            found = list(_NUMBER.finditer(out))
            if not found:
                break
            at = rng.choice(found)
            new = rng.choice(NUMBERS) if rng.random() < 0.6 else rng.choice(found)[0]
            out = out[: at.start()] + new + out[at.end() :]
        return out
    for _ in range(rng.randint(1, 5)):
        i = rng.randrange(len(out) + 1)
        j = min(len(out), i + rng.choice((0, 1, 1, 2, 3, 5, 9, 20, 60, 400)))
        k = rng.randrange(len(out) + 1)
        piece = (
            b"",
            rng.choice(BARBS),
            rng.choice(NUMBERS),
            out[i:j] * rng.choice((2, 3, 50)),
            bytes([rng.randrange(256)]),
            out[k : k + j - i],
        )[rng.randrange(6)]
        out = out[:i] + piece + out[j:]
    return out[: rng.randrange(len(out) + 1)] if rng.random() < 0.05 else out
