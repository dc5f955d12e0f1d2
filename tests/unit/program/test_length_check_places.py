"""Length checks stand on bare plate: against areas that another library unites from the texts."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest
import shapely

from knifecam.errors import PlanError
from knifecam.judge.prove import judge
from knifecam.planning import lay_out
from knifecam.program import align_program, write_program
from knifecam.program.length_check_places import check_place
from knifecam.rs274.program_reader import read_program
from knifecam.shop import Clamp
from knifecam.sweep.side_program import stored_of
from tests.agreement.orders import simple_order
from tests.sabotage.made import ORDERS

BLOCK = re.compile(
    r"\(MSG, BLOCK ON BARE PLATE AT X(\S+) Y(\S+): (\S+) MUST JUST PASS CUTTER (\d+)\)"
)


def swept(order, text, side):
    """Return all that a text's cutters sweep below the plate's face, in the text's own frame."""
    trace = read_program(text, stored_of(order.setup))
    m, thick = trace.motions, order.setup.plate.thickness
    face = 0.0 if order.setup.z_zero["AB".index(side)] == "face" else thick
    areas = []
    for k in np.flatnonzero(np.minimum(m.start[:, 2], m.stop[:, 2]) < face - 1e-6):
        radius = order.cutter(int(trace.cutter[k])).radius
        if m.turns[k] != 0.0:
            arm = m.start[k, :2] - m.centre[k]
            turn = np.exp(2j * math.pi * m.turns[k] * np.linspace(0, 1, 33)) * complex(*arm)
            path = m.centre[k] + np.column_stack([turn.real, turn.imag])
        else:
            path = np.array([m.start[k, :2], m.stop[k, :2]])
        areas.append(shapely.LineString(path).buffer(radius))
    return shapely.unary_union(areas)


def checks(text):
    """Return X and Y of all blocks' messages, and of the mill where each stop stands."""
    told = [(float(x), float(y)) for x, y, *_ in BLOCK.findall(text)]
    trace = read_program(text)
    lines = text.splitlines()
    stood = [
        tuple(trace.motions.stop[act.before - 1, :2].tolist())
        for act in trace.acts
        if act.kind == "stop" and "BLOCK ON" in lines[act.line - 2]
    ]
    return told, stood


@pytest.mark.parametrize("name", ["plain", "clamped", "pins", "screwed", "faces", "broken"])
def test_every_check_stands_on_plate_that_nothing_cuts(name):
    order = ORDERS[name]()
    plan = lay_out(order)
    texts = [write_program(order, plan, side).text for side in "AB"]
    cut = [swept(order, text, side) for text, side in zip(texts, "AB", strict=True)]
    # both zeros are one place of the plate and it is turned about X: A's Y counts down on B
    below = shapely.transform(cut[0], lambda places: places * (1.0, -1.0))
    x0, y0, x1, y1 = order.setup.plate.bounds
    u, v = order.setup.datum[0]
    for k, side in enumerate("AB"):
        sign = 1.0 if k == 0 else -1.0
        plate = shapely.box(x0 - u, sign * (y0 - v), x1 - u, sign * (y1 - v))
        told, stood = checks(texts[k])
        assert len(told) == len(stood) == len(plan.side(side))
        assert told == stood
        for cut_, at in zip(plan.side(side), stood, strict=True):
            foot = shapely.Point(at).buffer(max(3.0, order.cutter(cut_.cutter).radius))
            assert plate.contains(foot)
            assert not cut[k].intersects(foot)
            assert k == 0 or not below.intersects(foot)
            for box in order.setup.clamps:
                clamp = shapely.box(box.x_low, box.y_low, box.x_high, box.y_high)
                holder = order.cutter(cut_.cutter).holder / 2
                assert box.side != side or clamp.distance(shapely.Point(at)) >= holder + 5.0


def test_the_pin_reads_its_gap_on_bare_plate_too():
    order = ORDERS["plain"]()
    plan = lay_out(order)
    x, y = check_place(order, plan, "B")
    text = align_program(order, plan)
    assert f"G0 X{x:.4f} Y{y:.4f}\n(MSG, READ Z: THE GAP UNDER THE PIN" in text


def crowded(order):
    """Return the order with clamps on all of side A's border."""
    x0, y0, x1, y1 = 0.0, 0.0, 110.0, 60.0
    bars = ((x0, y0, x1, 4.0), (x0, 56.0, x1, y1), (x0, y0, 4.0, y1), (106.0, y0, x1, y1))
    clamps = tuple(
        Clamp(side="A", x_low=a, y_low=b, x_high=c, y_high=d, height=2.0) for a, b, c, d in bars
    )
    return replace(order, setup=replace(order.setup, clamps=clamps))


def test_an_order_without_bare_plate_for_the_block_is_refused():
    order = crowded(simple_order())
    plan = lay_out(order)
    with pytest.raises(PlanError, match=r"setup\.gap_stop=true: on side A no cutter's length"):
        write_program(order, plan, "A")
    silent = replace(order, setup=replace(order.setup, gap_stop=False))
    assert "BARE PLATE" not in write_program(silent, plan, "A").text
    assert align_program(silent, plan)


PLACES = {
    # the slot of the blade lies round (12.5, 0) of the part; the datum is (-55, -30)
    "over the blade": (67.5, 30.0),
    # the trench runs from 10 to 14 mm below the middle line: Y 16 to 20 of the program
    "over ground that is cut": (55.0, 18.0),
    "beside the plate, or over its edge": (1.0, 6.0),
}


@pytest.mark.parametrize("why", list(PLACES))
def test_the_judge_finds_a_check_elsewhere(why):
    order = simple_order()
    plan = lay_out(order)
    a, b = (write_program(order, plan, side).text for side in "AB")
    x, y = PLACES[why]
    old = "G0 X6.0000 Y6.0000\n(MSG, READ Z"
    head, tail = a.rsplit(old, 1)
    spoilt = f"{head}G0 X{x:.4f} Y{y:.4f}\n(MSG, READ Z{tail}"
    assert not judge(order, (a, b)).verdict.findings
    found = [f for f in judge(order, (spoilt, b)).verdict.findings if f.kind == "stop"]
    assert any(f"is checked {why}" in f.message for f in found)
    assert all(f.side == "A" for f in found)


def test_the_judge_finds_a_check_over_side_a_s_trench_and_beside_a_clamp():
    order = simple_order()
    plan = lay_out(order)
    a, b = (write_program(order, plan, side).text for side in "AB")
    x, y = check_place(order, plan, "B")
    # side A's trench lies below Y -16 to -20; nothing of side B's is cut there at its first check
    spoilt = b.replace(f"G0 X{x:.4f} Y{y:.4f}\n(MSG, READ", "G0 X55.0000 Y-18.0000\n(MSG, READ", 1)
    (found,) = (f for f in judge(order, (a, spoilt)).verdict.findings if "checked" in f.message)
    assert "cut from below: depth=0.750 mm" in found.message
    clamp = Clamp(side="A", x_low=12.0, y_low=0.0, x_high=20.0, y_high=9.0, height=2.0)
    clamped = replace(order, setup=replace(order.setup, clamps=(clamp,)))
    found = [f for f in judge(clamped, (a, b)).verdict.findings if "checked" in f.message]
    gap = 6.0 - order.cutters[0].holder / 2
    assert f"beside clamp: gap={gap:.3f} mm from the holder" in found[0].message
