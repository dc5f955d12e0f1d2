"""The orders of the golden set: demos, seeded orders, setups the demos lack, and hostile orders.

A specimen's name tells how it comes about ("demo petty-150", "good 17", "setup clamps",
"hostile hunter-104 33"); the same name is the same order on every machine.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from knifecam.curve import polyline
from knifecam.order import load_order, order_from_text
from knifecam.shop import Order
from tests.agreement.bevel_orders import random_bevel_order
from tests.agreement.detailed_orders import detailed_order
from tests.agreement.good_orders import good_order
from tests.agreement.orders import simple_order

EXAMPLES = Path(__file__).parents[2] / "examples"

DEMOS = ("field-knife-230x32", "hunter-104", "netting-knife-60", "petty-150")

SEEDED: Mapping[str, tuple[Callable[[int], Order], int]] = {
    "good": (good_order, 100),
    "bevel": (random_bevel_order, 60),
    "detailed": (detailed_order, 60),
}
"""Maker and number of the orders of each kind."""

CLAMPS = """
[[clamps]]
side = "A"
x = [2, 14]
y = [2, 14]
height = 6
[[clamps]]
side = "B"
x = [-12, -2]
y = [60, 72]
height = 9
name = "strap"
"""

MEASURED = """
[[registration.bores]]
name = "P1"
centre = [-132, -4]
diameter = 6
[[registration.bores]]
name = "P2"
centre = [172, -4]
diameter = 5
[[registration.measured]]
bore = "P1"
x = -38.021
y = 36.013
[[registration.measured]]
bore = "P2"
x = -342.018
y = 35.988
"""

SCREWS = '[workholding]\nkind = "bores"\nscrews = ["B1", "B4"]\nhead_diameter = 9\n[setup]'

Edits = Sequence[tuple[str, str]]

SETUPS: Mapping[str, tuple[str, Edits, str]] = {
    "clamps": ("field-knife-230x32", (), CLAMPS),
    "screws": ("field-knife-230x32", ((r"\[setup\]", SCREWS),), ""),
    "flip about X": ("field-knife-230x32", ((r'flip = "Y"', 'flip = "X"'),), ""),
    "measured bores": (
        "petty-150",
        ((r'kind = "pins"', 'kind = "bores"'), (r"(?s)\[\[registration\.bores\]\].*", "")),
        MEASURED,
    ),
    "relieved fixture": ("netting-knife-60", (), '[bores]\nopening = "relieved"\n'),
    "both faces": (
        "netting-knife-60", ((r"\[plate\]", '[plate]\nz_zero_a = "fixture"\nz_zero_b = "face"'),), "",
    ),
    "wide necks": ("hunter-104", ((r"neck = 0\.2", "neck = 0.25\ncount = 5"),), ""),
    "unsound beside sound": (
        "hunter-104", ((r"length = 262", "length = -262"), (r"wheel = 125", "wheel = 20")), "",
    ),
    "machine known": (
        "field-knife-230x32",
        (),
        "[mill]\ntravel = [600, 400, 300]\ntravel_from = [0, 0, -300]\n"
        "machine_zero_a = [60, 60, -200]\nmachine_zero_b = [400, 60, -200]\nunits = \"in\"\n",
    ),
}  # fmt: skip
"""A demo, what is put in place of what in it, and what is added at its end."""


def closing_bay() -> Order:
    """Return the plain blade with a bay whose mouth the trench's cutter closes."""
    corners = [(-30, -10), (-4, -10), (-6, -2), (6, -2), (4, -10), (30, -10), (30, 10), (-30, 10)]
    order = simple_order()
    blade = replace(order.blade, outline=polyline(corners), slots=())
    return replace(order, name="closing bay", blade=blade)


BUILT: Mapping[str, Callable[[], Order]] = {
    "plain blade": simple_order,
    "sharp cutters": lambda: simple_order(corner=0.0),
    "thick": lambda: simple_order(thickness=5.0),
    "closing bay": closing_bay,
}
"""Orders built in Python."""

ODD = ("-1", "0", "1e9", "nan", '"x"', "[]", "[1, 2]", "true", '"0.1 in"', '"3 s"', None)
"""What a hostile order says in place of a value; None: the line is left out."""


def demo_text(name: str) -> str:
    """Return a demo's order as it is written."""
    return (EXAMPLES / f"{name}.toml").read_text()


def edited(name: str) -> str:
    """Return the text of a setup."""
    demo, edits, added = SETUPS[name]
    text = demo_text(demo)
    for old, new in edits:
        text, count = re.subn(old, new, text)
        if not count:
            raise ValueError(f"setup {name!r}: {old!r} is not in {demo}")
    return text + added


def hostile_text(demo: str, index: int) -> str:
    """Return a demo's order with one to three of its values made odd, by seed."""
    rng = np.random.default_rng([910, DEMOS.index(demo), index])
    lines = demo_text(demo).splitlines()
    stated = [k for k, line in enumerate(lines) if re.match(r"\w+ = ", line)]
    for k in rng.choice(stated, size=int(rng.integers(1, 4)), replace=False):
        odd = ODD[int(rng.integers(len(ODD)))]
        lines[k] = "" if odd is None else f"{lines[k].split(' = ')[0]} = {odd}"
    return "\n".join(lines) + "\n"


def order_of(name: str) -> Order:
    """Return the order of a specimen.

    Raises
    ------
    OrderError
        When the order is refused while it is read.
    """
    kind, _, rest = name.partition(" ")
    if kind == "demo":
        return load_order(EXAMPLES / f"{rest}.toml")
    if kind == "setup":
        return order_from_text(edited(rest), folder=EXAMPLES)
    if kind == "built":
        return BUILT[rest]()
    if kind == "hostile":
        demo, index = rest.split()
        return order_from_text(hostile_text(demo, int(index)), folder=EXAMPLES)
    return SEEDED[kind][0](int(rest))


def whole_set() -> Iterator[str]:
    """Yield the names of all specimens."""
    yield from (f"demo {name}" for name in DEMOS)
    yield from (f"setup {name}" for name in SETUPS)
    yield from (f"built {name}" for name in BUILT)
    for kind, (_, count) in SEEDED.items():
        yield from (f"{kind} {index}" for index in range(count))
    yield from (f"hostile {demo} {index}" for demo in DEMOS for index in range(50))


def small_set() -> Iterator[str]:
    """Yield the names of those that CI makes."""
    yield from (f"demo {name}" for name in DEMOS)
    yield from (f"setup {name}" for name in ("screws", "unsound beside sound"))
    yield from (f"built {name}" for name in BUILT)
    yield from ("good 3", "detailed 3")
    yield from (f"hostile {demo} {index}" for demo in DEMOS for index in range(5))
