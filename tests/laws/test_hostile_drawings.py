"""Whatever is in a DXF, it is read or refused with lines, in bounded time and memory.

The files are those of `hostile_drawings.py`; what ever went wrong is kept in
`hostile_drawings.json`. A sample runs always; `python -m tests.hostile` runs more, with a log.
"""

from __future__ import annotations

import io
import json
import math
import random
import re
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

COUNT = 500

SLOWEST = 10.0
"""s of one core, for any of these files of a few hundred bytes."""

KEPT = json.loads(Path(__file__).with_suffix(".json").with_stem("hostile_drawings").read_text())


def curves_of(found: object) -> Iterator[Curve]:
    for chain in found.chains:
        yield chain.curve


def judged(data: bytes) -> str:
    """Return what became of a file: "read", "parts" where it shows a part, or "refused: why"."""
    with warnings.catch_warnings(record=True) as warned:
        warnings.simplefilter("always", RuntimeWarning)
        told = told_of(data)
    assert not warned, [str(one.message) for one in warned]
    return told


def told_of(data: bytes) -> str:
    """Return what `judged` does; curves and lines of a file that is read are checked."""
    try:
        found = read_drawing(io.BytesIO(data), strict=False)
    except DrawingError as fault:
        told = fault.lines
    else:
        told = ()
    if told:
        assert all(line.strip() and line.isprintable() for line in told), told
        return f"refused: {told[0]}"
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


def test_hostile_files_are_read_or_refused() -> None:
    became = {"refused": 0, "read": 0, "parts": 0}
    for seed in range(COUNT):
        began = time.process_time()
        try:
            became[judged(drawing(seed)).partition(":")[0]] += 1
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


def wild_spline(degree: int, count: int, reach: float, seed: int = 0) -> Pairs:
    """Return a spline whose control points are anywhere within ``reach``, its knots 1 apart."""
    chance = random.Random(seed)
    marks = ((100, "AcDbEntity"), (100, "AcDbSpline"), (70, 8), (71, degree))
    sizes = ((72, count + degree + 1), (73, count))
    knots = [(40, k) for k in range(count + degree + 1)]
    places = [(code, chance.uniform(-reach, reach)) for _ in range(count) for code in (10, 20)]
    return pairs_of("SPLINE", "L", *marks, *sizes, *knots, *places)


def stretched(name: str, factor: float) -> Pairs:
    return pairs_of("INSERT", "L", (2, name), (10, 0), (20, 0), (41, factor), (42, 1), (43, 1))


def rings(count: int) -> Pairs:
    return [
        pair
        for k in range(count)
        for pair in pairs_of("CIRCLE", "L", (10, 0), (20, 0), (40, 3e5 + k))
    ]


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
    "a wild spline of degree 24": lambda: drawn(wild_spline(24, 1000, 9e5)),
    "many splines that bend too tightly": lambda: drawn(
        [pair for k in range(100) for pair in wild_spline(24, 300, 9.0, k)]
    ),
    "many circles that a block stretches": lambda: drawn(stretched("B", 2.0), {"B": rings(300)}),
    "a number of three million digits": lambda: drawn(line("1" + "0" * 3_000_000, 0, 1, 1)),
    "a layer of three million letters": lambda: drawn(
        pairs_of("LINE", "x" * 3_000_000, (10, 0), (20, 0), (11, 1), (21, 1))
    ),
}  # fmt: skip


WHY = {
    "one line a thousand times": "lie on each other",
    "one circle a thousand times": "come near each other",
    "a thousand lines across each other": "cross or touch",
    "copies of copies of nothing": "more than 50000 entities",
    "blocks doubled sixty deep": "more than 50000 entities",
    "many splines that bend too tightly": r"handle \w+, SPLINE: by here .* too long to follow",
    "many circles that a block stretches": r"handle \w+, CIRCLE in .*: by here .* too long to",
}
"""What the refusal of some says."""


@pytest.mark.parametrize("name", CROWDED)
def test_crowded_files_take_bounded_time_and_memory(name: str) -> None:
    """Before there were limits the first was not read in 100 s; the third took 38 s."""
    data = CROWDED[name]()
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    began = time.process_time()
    with pytest.raises(DrawingError, match=WHY[name]) if name in WHY else suppress(DrawingError):
        read_drawing(io.BytesIO(data), strict=False)
    assert time.process_time() - began < 30
    grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) * 1024
    assert grown < 600e6


def test_a_wild_spline_of_high_degree_is_told_with_its_place() -> None:
    """It took 19 s; of the highest degree a fifth as many arcs are tried, a de Boor point once."""
    found = read_drawing(io.BytesIO(CROWDED["a wild spline of degree 24"]()), strict=False)
    (problem,) = found.problems
    assert "too many arcs" in str(problem)
    assert "draw it simpler" in str(problem)
    assert re.search(r"winding from \(-?[\d.]+, -?[\d.]+\) on", str(problem))


def test_codes_that_steer_a_terminal_are_not_printed() -> None:
    found = read_drawing(io.BytesIO(drawn(pairs_of("POINT", "\x1b[31m", (10, 0), (20, 0)))))
    assert [layer.name for layer in found.layers] == [r"\U+001B[31m"]
