"""Whatever is in a DXF, it is read or refused with lines, in bounded time and memory.

The files are those of `hostile_drawings.py`; what ever went wrong is kept in
`hostile_drawings.json`. A sample runs always; `KNIFECAM_HOSTILE_DRAWINGS=100000` runs so many.
"""

from __future__ import annotations

import io
import json
import math
import os
import random
import resource
import time
import warnings
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import numpy as np
import pytest

from knifecam.curve.curve import Curve
from knifecam.drawing import find_parts, read_drawing, report
from knifecam.errors import DrawingError, KnifecamError
from tests.laws.hostile_drawings import Pairs, as_text, drawing, pairs_of

CHUNK = 500
COUNT = int(os.environ.get("KNIFECAM_HOSTILE_DRAWINGS", "500"))

SLOWEST = 10.0
"""s of one core, for any of these files of a few hundred bytes."""

KEPT = json.loads(Path(__file__).with_suffix(".json").with_stem("hostile_drawings").read_text())


def curves_of(found: object) -> Iterator[Curve]:
    for chain in found.chains:
        yield chain.curve


def judged(data: bytes) -> str:
    """Return what became of a file: "refused", "read", or "parts" where it shows a part."""
    with warnings.catch_warnings():
        warnings.simplefilter("error", RuntimeWarning)
        try:
            found = read_drawing(io.BytesIO(data), strict=False)
        except DrawingError as fault:
            told = fault.lines
        else:
            told = ()
        if told:
            assert all(line.strip() and line.isprintable() for line in told), told
            return "refused"
        for curve in curves_of(found):
            assert np.isfinite(curve.vertices).all()
            assert np.isfinite(curve.bulges).all()
            assert (np.abs(curve.bulges) <= 1 + 1e-9).all()
        lines = report(found)
        assert all(line.isprintable() for line in lines), lines
        with suppress(KnifecamError):
            find_parts(found)
            return "parts"
        return "read"


@pytest.mark.parametrize("first", range(0, COUNT, CHUNK))
def test_hostile_files_are_read_or_refused(first: int) -> None:
    became = {"refused": 0, "read": 0, "parts": 0}
    for seed in range(first, first + CHUNK):
        began = time.process_time()
        try:
            became[judged(drawing(seed))] += 1
        except Exception as fault:
            raise AssertionError(f"seed={seed}: {fault!r}") from fault
        assert time.process_time() - began < SLOWEST, seed
    assert min(became.values()) > 0, became


@pytest.mark.parametrize("name", KEPT)
def test_what_ever_went_wrong(name: str) -> None:
    judged(KEPT[name].encode("latin-1"))


def drawn(entities: Pairs, blocks: dict[str, Pairs] | None = None) -> bytes:
    """Return a file in mm of these entities and blocks."""
    head: Pairs = [(0, "SECTION"), (2, "HEADER"), (9, "$INSUNITS"), (70, "4"), (0, "ENDSEC")]
    head += [(0, "SECTION"), (2, "BLOCKS")]
    for name, inside in (blocks or {}).items():
        head += pairs_of("BLOCK", "0", (2, name), (70, 0), (10, 0), (20, 0), (3, name))
        head += inside + pairs_of("ENDBLK", "0")
    body: Pairs = [(0, "ENDSEC"), (0, "SECTION"), (2, "ENTITIES"), *entities]
    return as_text([*head, *body, (0, "ENDSEC"), (0, "EOF")])


def line(x: float, y: float, u: float, v: float) -> Pairs:
    return pairs_of("LINE", "L", (10, x), (20, y), (11, u), (21, v))


def copies(name: str, columns: int, rows: int) -> Pairs:
    grid = ((70, columns), (71, rows), (44, 1), (45, 1))
    return pairs_of("INSERT", "L", (2, name), (10, 0), (20, 0), *grid)


def lines_at_random(count: int) -> Pairs:
    chance = random.Random(1)
    return [pair for _ in range(count) for pair in line(*(chance.uniform(0, 9) for _ in "abcd"))]


def polyline_at_random(count: int) -> Pairs:
    chance = random.Random(2)
    marks = ((100, "AcDbEntity"), (100, "AcDbPolyline"), (90, count), (70, 1))
    rows = [(code, chance.uniform(0, 9)) for _ in range(count) for code in (10, 20)]
    return pairs_of("LWPOLYLINE", "L", *marks, *rows)


CROWDED = {
    "one line a thousand times": lambda: drawn(line(0, 0, 9, 0) * 1000),
    "one circle a thousand times": lambda: drawn(
        pairs_of("CIRCLE", "L", (10, 0), (20, 0), (40, 5)) * 1000
    ),
    "a thousand lines across each other": lambda: drawn(lines_at_random(1000)),
    "a star of a thousand": lambda: drawn(
        [p for k in range(1000) for p in line(0, 0, math.cos(k), math.sin(k))]
    ),
    "three thousand ends in a row": lambda: drawn(
        [p for k in range(3000) for p in line(0, k / 50, 1, k / 50)]
    ),
    "a tangle of three thousand": lambda: drawn(polyline_at_random(3000)),
    "copies of copies of nothing": lambda: drawn(
        copies("B", 200, 200), {"B": copies("C", 200, 200), "C": []}
    ),
    "blocks doubled sixty deep": lambda: drawn(
        copies("B59", 2, 1), {f"B{k}": copies(f"B{k - 1}", 2, 1) if k else [] for k in range(60)}
    ),
    "four ovals of a kilometre": lambda: drawn(
        [
            pair
            for k in range(4)
            for pair in pairs_of(
                "ELLIPSE", "L", (100, "AcDbEntity"), (100, "AcDbEllipse"), (10, k), (20, 0),
                (11, 9e5), (21, k), (40, 0.5), (41, 0), (42, 6.2),
            )
        ]
    ),
    "a number of three million digits": lambda: drawn(line("1" + "0" * 3_000_000, 0, 1, 1)),
    "a layer of three million letters": lambda: drawn(
        pairs_of("LINE", "x" * 3_000_000, (10, 0), (20, 0), (11, 1), (21, 1))
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CROWDED)
def test_crowded_files_take_bounded_time_and_memory(name: str) -> None:
    """Before there were limits the first was not read in 100 s; the third took 38 s."""
    data = CROWDED[name]()
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    began = time.process_time()
    with suppress(KnifecamError):
        read_drawing(io.BytesIO(data), strict=False)
    assert time.process_time() - began < 30
    grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) * 1024
    assert grown < 600e6


@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("one line a thousand times", "lie on each other"),
        ("one circle a thousand times", "come near each other"),
        ("a thousand lines across each other", "cross or touch"),
        ("copies of copies of nothing", "more than 50000 entities"),
        ("blocks doubled sixty deep", "more than 50000 entities"),
    ],
)
def test_crowded_files_are_refused_with_the_limit(name: str, why: str) -> None:
    with pytest.raises(DrawingError, match=why):
        read_drawing(io.BytesIO(CROWDED[name]()), strict=False)


def test_codes_that_steer_a_terminal_are_not_printed() -> None:
    found = read_drawing(io.BytesIO(drawn(pairs_of("POINT", "\x1b[31m", (10, 0), (20, 0)))))
    assert [layer.name for layer in found.layers] == ["?[31m"]
