"""Damaged and hostile DXF files, each small and made from a seed.

A file is written from the pairs of code and value that the format's reference describes, a few
entities with numbers that may be anything, and is then damaged in a third of all cases: lines
changed, lost, doubled or swapped, bytes flipped, the end cut off.
"""

from __future__ import annotations

import random
import struct
from collections.abc import Sequence

Pairs = list[tuple[int, str]]

WILD = (
    "nan", "inf", "-inf", "1e308", "-1e308", "1e-320", "-0", "1e9", "99999999999999999999", "",
    "abc", "2147483648", "-2147483649", "1e5", "999999.5", "1e-9", "0x10", "1,5", "٣",
    "9" * 400, "1" + "0" * 5000,
)  # fmt: skip
MARK = b"AutoCAD Binary DXF\r\n\x1a\x00"


def number(chance: random.Random, wild: float) -> str:
    """Return a number as a drawing has it; now and then one that none should have."""
    if chance.random() < wild:
        return chance.choice(WILD)
    return repr(round(chance.uniform(-20, 60), chance.randrange(4)))


def pairs_of(kind: str, layer: str, *rest: tuple[int, object]) -> Pairs:
    return [(0, kind), (8, layer), *((code, str(value)) for code, value in rest)]


def entity(chance: random.Random, wild: float) -> Pairs:
    """Return one entity of a kind that is read, or of one that is not."""

    def n() -> str:
        return number(chance, wild)

    def few(low: int, high: int) -> range:
        return range(chance.randrange(low, high))

    def count(value: int) -> object:
        return value if chance.random() > wild else chance.choice([*WILD, "-1", "0", "1000000"])

    layer = chance.choice(["0", "L", "l", "DEFPOINTS", "off", "a\\U+0001b", "\x1b[31m"])
    up = chance.choice([("0", "0", "1"), ("0", "0", "-1"), ("0", "0", "0"), (n(), n(), n())])
    plane = [] if chance.random() < 0.8 else list(zip((210, 220, 230), up, strict=True))
    kind = chance.randrange(10)
    if kind == 0:
        return pairs_of("LINE", layer, (10, n()), (20, n()), (11, n()), (21, n()), *plane)
    if kind == 1:
        return pairs_of("ARC", layer, (10, n()), (20, n()), (40, n()), (50, n()), (51, n()), *plane)
    if kind == 2:
        return pairs_of("CIRCLE", layer, (10, n()), (20, n()), (40, n()), *plane)
    if kind == 3:
        rows = [pair for _ in few(0, 7) for pair in ((10, n()), (20, n()), (42, n()))]
        rows = [row for row in rows if row[0] != 42 or chance.random() < 0.4]
        flags = chance.choice([0, 1, 128, 129])
        marks = ((100, "AcDbEntity"), (100, "AcDbPolyline"), (90, count(4)), (70, flags))
        return pairs_of("LWPOLYLINE", layer, *marks, *rows, *plane)
    if kind == 4:
        made = pairs_of("POLYLINE", layer, (66, 1), (70, chance.choice([0, 1, 8, 9, 16, 64])))
        for _ in few(0, 5):
            bulge = ((42, n()),) if chance.random() < 0.4 else ()
            made += pairs_of("VERTEX", layer, (10, n()), (20, n()), (30, 0), *bulge)
        return made + pairs_of("SEQEND", layer)
    if kind == 5:
        marks = ((100, "AcDbEntity"), (100, "AcDbEllipse"))
        axis = ((11, n()), (21, n()), (31, chance.choice(["0", "0", n()])))
        ratio = chance.choice(["0", "0.4", "1", "-0.5", "1e-9", n()])
        turn = ((41, chance.choice(["0", n()])), (42, chance.choice(["6.283185307179586", n()])))
        where = ((10, n()), (20, n()), *axis, (40, ratio), *turn)
        return pairs_of("ELLIPSE", layer, *marks, *where, *plane)
    if kind == 6:
        return spline(chance, layer, n, count)
    if kind == 7:
        name = chance.choice(["B", "C", "D", "", "no such", "*Model_Space"])
        copies = ((70, count(2)), (44, n()), (71, count(1)), (45, n()))
        turned = ((41, n()), (42, n()), (43, chance.choice(["1", "0", n()])), (50, n()))
        rest = (*turned, *copies) if chance.random() < 0.6 else ()
        return pairs_of("INSERT", layer, (2, name), (10, n()), (20, n()), *rest, *plane)
    if kind == 8:
        return pairs_of("POINT", layer, (10, n()), (20, n()))
    other = chance.choice(["TEXT", "HATCH", "DIMENSION", "3DFACE", "MTEXT", "XLINE", "NOTHING", ""])
    return pairs_of(other, layer, (10, n()), (20, n()), (1, "x"), (40, n()))


def spline(chance: random.Random, layer: str, n: object, count: object) -> Pairs:
    """Return a spline whose knots fit, or nearly, or not at all."""
    degree = chance.choice([1, 2, 3, 3, 3, 3, 5, 0, -1, 24, 30])
    controls = max(0, degree + 1 + chance.randrange(-1, 4))
    inner = max(0, controls - degree - 1)
    knots = (
        ["0"] * (degree + 1) + [str(k + 1) for k in range(inner)] + [str(inner + 1)] * (degree + 1)
    )
    if chance.random() < 0.3 and knots:
        knots[chance.randrange(len(knots))] = n()
    if chance.random() < 0.1:
        chance.shuffle(knots)
    weights = [(41, n()) for _ in range(controls)] if chance.random() < 0.2 else []
    fit = chance.random() < 0.2
    places = [pair for _ in range(controls) for pair in ((11, n()), (21, n()))] if fit else [
        pair for _ in range(controls) for pair in ((10, n()), (20, n()))
    ]  # fmt: skip
    marks = ((100, "AcDbEntity"), (100, "AcDbSpline"), (70, chance.choice([8, 9, 11])))
    sizes = ((71, degree), (72, count(len(knots))), (73, count(controls)))
    knotted = [] if fit else [(40, k) for k in knots]
    return pairs_of("SPLINE", layer, *marks, *sizes, *knotted, *weights, *places)


def ring(chance: random.Random) -> Pairs:
    """Return a closed outline of four lines, drawn in any order, so that some files are whole."""
    corners = [(-30, -25), (70, -25), (70, 65), (-30, 65)]
    made: Pairs = []
    for k in chance.sample(range(4), 4):
        (x, y), (u, v) = corners[k], corners[(k + 1) % 4]
        made += pairs_of("LINE", "L", (10, x), (20, y), (11, u), (21, v))
    return made


def document(chance: random.Random) -> Pairs:
    """Return a whole drawing as pairs."""
    wild = chance.choice([0.0, 0.0, 0.02, 0.1, 0.4])
    unit = chance.choice(["4", "4", "1", "0", "13", "99", number(chance, 0.5)])
    version = chance.choice(["AC1015", "AC1015", "AC1009", "AC1032", "AC9999", "x"])
    pairs: Pairs = [(0, "SECTION"), (2, "HEADER"), (9, "$ACADVER"), (1, version)]
    pairs += [(9, "$INSUNITS"), (70, unit), (0, "ENDSEC")]
    if chance.random() < 0.4:
        pairs += [(0, "SECTION"), (2, "BLOCKS")]
        for name in chance.sample(["B", "C", "D"], chance.randrange(1, 4)):
            head = ((2, name), (70, 0), (10, number(chance, wild)), (20, number(chance, wild)))
            pairs += pairs_of("BLOCK", "0", *head, (3, name))
            for _ in range(chance.randrange(3)):
                pairs += entity(chance, wild)
            pairs += pairs_of("ENDBLK", "0")
        pairs += [(0, "ENDSEC")]
    pairs += [(0, "SECTION"), (2, "ENTITIES")]
    pairs += ring(chance) if chance.random() < 0.3 else []
    for _ in range(chance.randrange(1, 4)):
        pairs += entity(chance, wild)
    return [*pairs, (0, "ENDSEC"), (0, "EOF")]


def as_text(pairs: Sequence[tuple[int, str]]) -> bytes:
    return "".join(f"{code}\n{value}\n" for code, value in pairs).encode()


def as_binary(pairs: Sequence[tuple[int, str]]) -> bytes:
    """Return the pairs as the binary form has them since R13; numbers as the code's kind asks."""
    made = bytearray(MARK)
    for code, value in pairs:
        made += struct.pack("<H", code)
        try:
            if 10 <= code <= 59 or 210 <= code <= 239:
                made += struct.pack("<d", float(value))
            elif 60 <= code <= 79:
                made += struct.pack("<h", int(value))
            elif 90 <= code <= 99:
                made += struct.pack("<l", int(value))
            else:
                made += value.encode() + b"\x00"
        except (ValueError, struct.error, OverflowError):
            made += b"\xff" * 8
    return bytes(made)


def damaged_lines(data: bytes, chance: random.Random) -> bytes:
    """Return the text with lines changed, lost, doubled or swapped."""
    lines = data.split(b"\n")
    for _ in range(chance.choice([1, 1, 1, 2, 4])):
        k, m = chance.randrange(len(lines)), chance.randrange(len(lines))
        way = chance.randrange(5)
        if way == 0:
            lines[k] = chance.choice(WILD).encode()
        elif way == 1:
            del lines[k : k + chance.randrange(1, 4)]
        elif way == 2:
            lines.insert(k, lines[m])
        elif way == 3:
            lines[k], lines[m] = lines[m], lines[k]
        else:
            lines[k] = str(
                chance.choice([0, 5, 40, 70, 100, 102, 310, 999, 1001, 1071, -1])
            ).encode()
        lines = lines or [b""]
    return b"\n".join(lines)


def damaged_bytes(data: bytes, chance: random.Random) -> bytes:
    """Return the file with bytes flipped or lost, or cut off; mostly with its end put back."""
    made = bytearray(data)
    for _ in range(chance.choice([1, 1, 2, 5])):
        k = chance.randrange(len(made))
        way = chance.randrange(3)
        if way == 0:
            made[k] ^= 1 << chance.randrange(8)
        elif way == 1:
            del made[k : k + chance.randrange(1, 20)]
        else:
            del made[k:]
        made = made or bytearray(b"0")
    return bytes(made) + (b"\n0\nEOF\n" if chance.random() < 0.5 else b"")


def drawing(seed: int) -> bytes:
    """Return the file of a seed, some hundred bytes long."""
    chance = random.Random(seed)
    pairs = document(chance)
    binary = chance.random() < 0.12
    data = as_binary(pairs) if binary else as_text(pairs)
    way = chance.random()
    if way < 0.2 and not binary:
        return damaged_lines(data, chance)
    return damaged_bytes(data, chance) if way < 0.35 else data
