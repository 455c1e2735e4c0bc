"""Laws of the SVG reader under damage: it reads or says one clear thing, whatever the bytes."""

from __future__ import annotations

import random

from hypothesis import given, settings
from hypothesis import strategies as st

from kerf.errors import KerfError
from kerf.reading.svg import parse_svg

START = (
    b'<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="80mm" viewBox="0 0 100 80">'
    b'<style>.a{display:none}</style><g id="cut" transform="translate(3 4) rotate(30)">'
    b'<path d="M10 10h20v15c0 5-5 9-9 9A9 9 0 0 1 10 25q-5-5 0-15z"/></g>'
    b'<defs><g id="d"><circle r="3"/></g></defs><use href="#d" x="60" y="20"/>'
    b'<symbol id="s" viewBox="0 0 4 4"><rect rx="1" width="4" height="4"/></symbol>'
    b'<use href="#s" width="8" height="8"/><ellipse cx="70" cy="60" rx="9" ry="4"/>'
    b'<polygon points="1 70 9 70 5 78"/><text class="a">x</text></svg>'
)
#: Pieces that break readers: numbers out of range, half tokens, references, nesting.
BARBS = (
    *(b"1e300", b"-1e300", b"1e-300", b"1e999", b"NaN", b"inf", b"0", b"-0", b"-1", b"", b"%"),
    *(b'href="#cut"', b'href="#d"', b'href="#s"', b"Z", b"A", b"M", b"a1 1 0 1 1 0 0", b"c"),
    *(b"scale(0)", b"skewX(90)", b"matrix(1e200 0 0 1e200 0 0)", b"<g>", b"</g>", b"<svg>"),
    *(b"\0", b"\xff", b"&lt;", b"&x;", b'"', b">", b"<!--", b"<![CDATA[", b"display:none"),
)


def mutated(rng: random.Random, content: bytes = START) -> bytes:
    """Return the drawing with one to four pieces cut, doubled or replaced by barbs."""
    out = content
    for _ in range(rng.randint(1, 4)):
        i = rng.randrange(len(out) + 1)
        j = min(len(out), i + rng.choice((0, 1, 1, 2, 3, 5, 9, 20, 60)))
        kind = rng.randrange(4)
        piece = {
            0: b"",
            1: rng.choice(BARBS),
            2: out[i:j] * 2,
            3: bytes([rng.randrange(256)]),
        }[kind]
        out = out[:i] + piece + out[j:]
    return out


@settings(max_examples=300, deadline=None, derandomize=True)
@given(seed=st.integers(0, 2**32))
def test_damaged_svg_is_read_or_refused_in_words(seed: int) -> None:
    content = mutated(random.Random(seed))
    try:
        drawing = parse_svg(content, path="damaged.svg")
    except KerfError as fault:
        fault.describe()
        return
    for region in drawing.regions:
        assert region.area_mm2 > 0
