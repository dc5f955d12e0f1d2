"""Ten further outlines, from DXF and order to two proved programs: both flips, both holds.

What the simulator measures in the texts must be what the order says: tabs within 1 um in thickness
and 20 um in waist, walls within 5 um, the two sides' bores within 1 um of each other.
"""

from __future__ import annotations

import itertools
import os

import pytest

import knifecam
from tests.agreement.outlines import DRAWN, as_dxf

MICRON = 1e-3
CELL = 0.1
CASES = list(itertools.product(DRAWN, "XY", ("tabs", "bores")))
QUICK = [case for k, case in enumerate(CASES) if k % 4 == (k // 4) % 4]
"""One of the four combinations for each outline, a different one each time."""

ORDER = """
name = "{name}"

[drawing]
file = "{name}.dxf"
outline = "PROFILE"
bores = "BORES"
{slots}

[blade]
thickness = {thickness}

[plate]
length = {length}
width = {width}
thickness = [{thickness}, {thickness}, {thickness}, {thickness}]

[mill]
travel = [600, 300, 200]

{cutters}

[workholding]
{hold}

[setup]
flip = "{flip}"
"""

CUTTER = """
[[cutters]]
number = {number}
kind = "bull-nose"
diameter = {diameter}
corner = 0.1
reach = 10
"""


def order_text(name: str, flip: str, hold: str) -> str:
    blade = DRAWN[name]()
    x0, y0, x1, y1 = blade.outline.bounds
    thickness = round(blade.thickness, 3)
    smallest = min(b.diameter for b in blade.bores)
    diameters = [3.0 if thickness > 2.5 else 2.0]
    if smallest < 1.2 * diameters[0]:
        diameters.append(smallest / 1.4)
    screws = [b.name for b in blade.bores if b.diameter >= 2.5][:3]
    held = 'kind = "tabs"'
    if hold == "bores":
        head = max(b.diameter for b in blade.bores if b.name in screws) + 1.0
        held = f'kind = "bores"\nscrews = {screws}\nhead_diameter = {head}'.replace("'", '"')
    return ORDER.format(
        name=name, thickness=thickness, length=x1 - x0 + 44, width=y1 - y0 + 44, flip=flip,
        hold=held, slots='slots = "SLOTS"' if blade.slots else "",
        cutters="".join(
            CUTTER.format(number=n, diameter=d) for n, d in enumerate(diameters, start=1)
        ),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("name", "flip", "hold"), CASES if os.environ.get("KNIFECAM_ALL") else QUICK
)
def test_outline_is_made_and_proved(name, flip, hold, tmp_path):
    as_dxf(DRAWN[name](), tmp_path / f"{name}.dxf", inches=name == "inch_dimensioned")
    (tmp_path / "order.toml").write_text(order_text(name, flip, hold))
    order = knifecam.load_order(tmp_path / "order.toml")
    made = knifecam.make(order, cell=CELL)
    assert made.verdict.findings == ()
    seen = made.verdict.measures
    assert len(seen["tabs"]) == len(made.plan.tabs)
    for tab in seen["tabs"]:
        assert tab["thickness"][0] == pytest.approx(order.tabs.thickness, abs=MICRON)
        assert tab["waist"] == pytest.approx(order.tabs.waist, abs=20 * MICRON)
    for side in "AB":
        assert seen["outline"][side]["gouge"] <= 5 * MICRON
        assert seen["outline"][side]["left"] <= 5 * MICRON
    assert seen["outline"]["mismatch"] < MICRON
    for bore in seen["bores"]:
        assert bore["mismatch"] < MICRON
        assert bore["diameter_a"] == pytest.approx(bore["wanted"], abs=2 * MICRON)
