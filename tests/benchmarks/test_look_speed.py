"""How fast a drawing of thousands of curves is told, as a ratio to what the parser takes alone.

    python -m pytest tests/benchmarks/test_look_speed.py --benchmark-enable -s

Both drawings are as heavy as real ones that were tried: 2,585 splines, and 1,695 blocks, nested
three deep, with 3,876 lines, arcs and circles. The parser reads the first and takes the blocks of
the second apart. Times are of the processor, the least of three runs.
"""

from __future__ import annotations

import io
import random
import time
from collections.abc import Callable

import ezdxf
import pytest
from ezdxf.disassemble import recursive_decompose

from knifecam.drawing import read_drawing, report


def written(document) -> str:
    document.header["$INSUNITS"] = 4
    text = io.StringIO()
    document.write(text)
    return text.getvalue()


def splines() -> str:
    """Return scrolls of five splines each."""
    chance, document = random.Random(1), ezdxf.new("R2010")
    for k in range(2585):
        x, y = k % 60 * 5.0, k // 60 * 5.0
        spline = document.modelspace().add_spline(degree=3)
        spline.control_points = [(x + n, y + 0.05 * chance.random()) for n in range(4)]
        spline.knots = [0] * 4 + [1] * 4
    return written(document)


def blocks() -> str:
    """Return brackets in pairs, pairs in fours, each half of the fours mirrored."""
    document = ezdxf.new("R2010")
    one, two, four = (document.blocks.new(name) for name in ("ONE", "TWO", "FOUR"))
    one.add_lwpolyline([(0, 0), (4, 0), (4, 2), (0, 2)], close=True)
    one.add_circle((2, 1), 0.5)
    one.add_line((0, 3), (4, 3))
    one.add_arc((2, 3), 1, 0, 180)
    for y in (0, 4.5):
        two.add_blockref("ONE", (0, y))
    for x in (0, 5):
        four.add_blockref("TWO", (x, 0))
    for k in range(242):
        document.modelspace().add_blockref("FOUR", (k % 20 * 11, k // 20 * 10))
    return written(document)


def least(action: Callable[[], object]) -> float:
    spent = []
    for _ in range(3):
        start = time.process_time()
        action()
        spent.append(time.process_time() - start)
    return min(spent)


def taken_apart(text: str) -> int:
    return sum(1 for _ in recursive_decompose(ezdxf.read(io.StringIO(text)).modelspace()))


def told(text: str) -> list[str]:
    return report(read_drawing(io.StringIO(text), strict=False))


@pytest.mark.parametrize(
    ("draw", "parse", "most"),
    [(splines, lambda text: ezdxf.read(io.StringIO(text)), 8.0), (blocks, taken_apart, 6.0)],
    ids=["splines", "blocks"],
)
def test_thousands_of_curves_are_told(benchmark, draw, parse, most) -> None:
    text = draw()
    told(text)  # compiled, where it is not yet
    ours, theirs = least(lambda: told(text)), least(lambda: parse(text))
    print(f"\n{draw.__name__}: {ours:.2f} s, {ours / theirs:.1f} times the parser alone")
    benchmark.pedantic(told, (text,), rounds=1)
    assert ours < most * theirs
