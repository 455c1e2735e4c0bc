"""Seeds of every kind of entity, and mutations of them that real files suffer and worse."""

from __future__ import annotations

import io
import random
from typing import Any

#: Values that break arithmetic, counts or codes.
VALUES = (
    "0", "-1", "1e300", "-1e308", "nan", "inf", "1e-300", "99999999999", "-7", "x", "",
    "1.5", "2147483648", "360", "0.0000001", "1e9", "1e6",
)  # fmt: skip
WORDS = (
    "LINE", "ARC", "CIRCLE", "ELLIPSE", "SPLINE", "LWPOLYLINE", "POLYLINE", "VERTEX", "SEQEND",
    "INSERT", "BLOCK", "ENDBLK", "ENDSEC", "SECTION", "EOF", "HATCH", "MLINE", "TEXT", "LAYER",
    "*Model_Space", "0", "REGION", "3DFACE", "MTEXT", "DIMENSION", "$INSUNITS",
)  # fmt: skip


def seeds() -> list[bytes]:
    """Return small DXF files, ASCII of several releases and binary."""
    out = []
    for release in ("R12", "R2000", "R2010", "R2018"):
        doc = _document(release)
        text = io.StringIO()
        doc.write(text)
        out.append(text.getvalue().encode("utf-8", "replace"))
        binary = io.BytesIO()
        doc.write(binary, fmt="bin")
        out.append(binary.getvalue())
    # The header tables of a new file are long and dull; the entities matter.
    out.append(_bare(out[2]))
    return out


def _bare(content: bytes) -> bytes:
    """Return only the entities of an ASCII file, with the unit."""
    lines = content.split(b"\n")
    at = lines.index(b"ENTITIES")
    head = [b"  0", b"SECTION", b"  2", b"HEADER", b"  9", b"$INSUNITS", b" 70", b"4"]
    return b"\n".join([*head, b"  0", b"ENDSEC", b"  0", b"SECTION", b"  2", *lines[at:]])


def _document(release: str) -> Any:
    import ezdxf

    doc = ezdxf.new(release, units=4)
    doc.layers.add("CUT")
    doc.layers.add("OFF").off()
    inner = doc.blocks.new("INNER", base_point=(1, 1))
    inner.add_circle((1, 1), 1)
    inner.add_line((0, 0), (2, 2))
    outer = doc.blocks.new("OUTER")
    outer.add_blockref("INNER", (3, 3), dxfattribs={"xscale": 2, "rotation": 30})
    outer.add_lwpolyline([(0, 0, 0.3), (9, 0, 0), (9, 9, -0.2)], format="xyb", close=True) if (
        release != "R12"
    ) else outer.add_polyline2d([(0, 0), (9, 0), (9, 9)], close=True)
    space = doc.modelspace()
    space.add_blockref("OUTER", (100, 0), dxfattribs={"yscale": 0.5, "layer": "CUT"})
    grid = {"row_count": 2, "column_count": 2, "row_spacing": 20, "column_spacing": 20}
    space.add_blockref("OUTER", (200, 0), dxfattribs=grid)
    for a, b in (((0, 0), (40, 0)), ((40, 0), (40, 30)), ((40, 30), (0, 30)), ((0, 30), (0, 0))):
        space.add_line(a, b, dxfattribs={"layer": "CUT"})
    space.add_arc((20, 15), 5, 0, 180)
    space.add_line((15, 15), (25, 15))
    space.add_circle((8, 8), 3, dxfattribs={"extrusion": (0, 0, -1)})
    space.add_polyline2d([(50, 0), (60, 0), (60, 10)], close=True)
    space.add_polyline3d([(50, 20), (60, 20), (60, 30), (50, 20)])
    space.add_text("A")
    space.add_point((1, 1))
    if release != "R12":
        space.add_ellipse((70, 10), (8, 3), 0.4)
        space.add_ellipse((70, 40), (8, 3), 0.4, 0.3, 2.0)
        space.add_open_spline([(0, 40), (10, 50), (20, 35), (30, 45)])
        space.add_rational_spline([(0, 60), (10, 70), (20, 55), (30, 65)], [1, 2, 1, 1])
        space.add_spline([(0, 80), (10, 85), (20, 80)])
        hatch = space.add_hatch()
        hatch.paths.add_polyline_path([(80, 0), (90, 0), (90, 9)], is_closed=True)
        path = hatch.paths.add_edge_path()
        path.add_line((80, 20), (90, 20))
        path.add_arc((85, 20), 5, 0, 180)
        path.add_ellipse((85, 40), (5, 0), 0.5, 0, 360)
        space.add_mline([(80, 60), (95, 60), (95, 75)])
        space.add_3dface([(0, 0), (1, 0), (1, 1), (0, 1)])
    return doc


def mutated(content: bytes, random_: random.Random) -> bytes:
    """Return the file with one to six things gone wrong."""
    for _ in range(random_.randint(1, 6)):
        content = random_.choice(_MUTATIONS)(content, random_)
    return content


def _lines(content: bytes) -> list[bytes]:
    return content.split(b"\n")


def _value(content: bytes, r: random.Random) -> bytes:
    lines = _lines(content)
    i = r.randrange(len(lines))
    lines[i] = r.choice(VALUES).encode()
    return b"\n".join(lines)


def _entity_value(content: bytes, r: random.Random) -> bytes:
    """Change a value in the blocks or entities, where it counts."""
    lines = _lines(content)
    begin = next((i for i, line in enumerate(lines) if line.strip() == b"ENTITIES"), 0)
    if begin + 2 >= len(lines):
        return content
    i = r.randrange(begin, len(lines))
    words = VALUES if r.random() < 0.8 else WORDS
    lines[i] = r.choice(words).encode()
    return b"\n".join(lines)


def _word(content: bytes, r: random.Random) -> bytes:
    a, b = r.choice(WORDS).encode(), r.choice(WORDS).encode()
    return content.replace(a, b, r.randint(1, 3))


def _byte(content: bytes, r: random.Random) -> bytes:
    if not content:
        return content
    i = r.randrange(len(content))
    return content[:i] + bytes([r.randrange(256)]) + content[i + 1 :]


def _cut(content: bytes, r: random.Random) -> bytes:
    return content[: r.randrange(len(content) + 1)]


def _drop(content: bytes, r: random.Random) -> bytes:
    lines = _lines(content)
    i = r.randrange(len(lines))
    del lines[i : i + r.choice((1, 1, 2, 7))]
    return b"\n".join(lines)


def _repeat(content: bytes, r: random.Random) -> bytes:
    lines = _lines(content)
    i = r.randrange(len(lines))
    piece = lines[i : i + r.choice((1, 2, 12, 60))]
    return b"\n".join([*lines[:i], *piece * r.randint(1, 4), *lines[i:]])


def _rubbish(content: bytes, r: random.Random) -> bytes:
    i = r.randrange(len(content) + 1)
    return content[:i] + r.randbytes(r.randint(1, 40)) + content[i:]


_MUTATIONS = (
    _value, _entity_value, _entity_value, _entity_value, _entity_value, _word, _byte, _byte,
    _cut, _drop, _drop, _repeat, _rubbish,
)  # fmt: skip
