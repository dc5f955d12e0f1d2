"""Every key of an order does something, or it is listed why: programs, proposals or refusals tell.

Each key has two values in an order in which it matters; the sweep walks the model, so that a key
that is new has to be entered here. Nothing is judged. Keys where they cannot matter:
`test_order_idle.py`.
"""

from __future__ import annotations

import copy
import hashlib
import re
from collections.abc import Iterator
from types import SimpleNamespace
from typing import Any, get_args

import numpy as np
import pytest

from knifecam.curve import circle, polyline, rectangle
from knifecam.errors import KnifecamError
from knifecam.order import order_from_text
from knifecam.order.order_tables import OrderText
from knifecam.planning import Plan, lay_out
from knifecam.program import align_program, offsets_program, write_program
from knifecam.quantity import told
from knifecam.rules.rule_passes import feasible, remarks
from knifecam.shop import Order
from tests.laws.test_order_fuzz import document

Tables = dict[str, Any]

END = [(0, 0), (70, 0), (70, 14), (62, 20), (0, 20)]


def drawn(bores: int = 0, **more: object) -> SimpleNamespace:
    """Return a blade of 70 x 20 mm with up to two bores of 5 mm."""
    named = [
        SimpleNamespace(name=f"b{k}", centre=(20.0 * k - 10, 10.0), diameter=5.0) for k in (1, 2)
    ]
    plain = {"slots": (), "tabs": (), "no_tabs": (), "no_tab_pairs": (), "shapes": ()}
    return SimpleNamespace(**{"outline": polyline(END), "bores": named[:bores], **plain, **more})


def cutter(number: int, kind: str, diameter: float, **more: object) -> Tables:
    return {"number": number, "kind": kind, "diameter": diameter, **more}


NOSE = {"kind": "bull-nose", "diameter": 3, "corner": 0.1, "reach": 12}
ROUGH = {"cutter": 1, "stage": "rough", "stepdown": 0.22}
BORE = {"cutter": 1, "stage": "bore", "stepdown": 0.15}
SLOT = {"cutter": 1, "stage": "slot", "stepdown": 0.22}
PLAIN: Tables = {
    "name": "tiny",
    "plate": {"length": 130, "width": 70, "thickness": [2, 2, 2, 2]},
    "cutters": [{"number": 1, **NOSE}, {"number": 2, **NOSE}],
    "cutting": [ROUGH],
    "setup": {"gap_stop": False},
    "tabs": {"count": 3},
    "outline": {"no_tabs": [[[2, 0], [68, 0]]]},
}
"""Coarse levels and no stops over a block, so that it is planned soon."""

PINS = [
    {"name": "P1", "centre": [-12, 10], "diameter": 6},
    {"name": "P2", "centre": [84, 10], "diameter": 5},
]
FOUND = [{"bore": "P1", "x": 12.0, "y": 10.0}, {"bore": "P2", "x": -84.0, "y": 10.0}]
BEVEL = {"edge": [[25, 0], [70, 0]], "angle": 20, "land": 0.5, "plunge": [[25, -2], [25, 22]]}
PATTERN = {"region": [[4, 4], [44, 4], [44, 16], [4, 16]], "length": 8, "width": 3.5, "pitch": 12}
BALL, FLAT = cutter(3, "ball", 5), cutter(4, "bull-nose", 4, corner=0.5)
CHAMFER = cutter(5, "chamfer", 6, tip=0.2)
CLAMP = {"side": "A", "x": [2, 12], "y": [2, 12], "height": 6}
TALL = {"side": "A", "x": [2, 25], "y": [2, 17], "height": 45}


def base(**changes: Any) -> Tables:
    return copy.deepcopy({**PLAIN, **changes})


def with_cutters(*more: Tables, **changes: Any) -> Tables:
    return base(cutters=[*PLAIN["cutters"], *more], **changes)


SHAPES = (
    ("cell", (circle((0, 0), 5),)),
    ("smaller", (circle((0, 0), 4.5),)),
    ("row", (polyline([(6, 10), (60, 10)], closed=False),)),
)
BASES: dict[str, tuple[Tables, SimpleNamespace]] = {
    "plain": (base(), drawn()),
    "checked": (base(setup={}), drawn()),
    "bored": (base(cutting=[BORE, ROUGH]), drawn(2)),
    "fitted": (base(cutting=[BORE, ROUGH], bores={"fitted": ["b1"]}), drawn(2)),
    "pins": (base(cutting=[BORE, ROUGH], registration={"kind": "pins", "bores": PINS}), drawn()),
    "found": (
        base(registration={
            "kind": "bores", "bores": [{**one, "depth": "through"} for one in PINS],
            "measured": FOUND,
        }),
        drawn(),
    ),
    "relieved": (base(cutting=[BORE, ROUGH], bores={"opening": "relieved"}), drawn(2)),
    "slotted": (base(cutting=[SLOT, ROUGH]), drawn(slots=(rectangle(15, 6, 25, 14),))),
    "screws": (
        base(
            workholding={"kind": "bores", "screws": ["b1", "b2"], "tip_clamp": True, "head_diameter": 8},
            tabs={}, outline={}, cutting=[BORE, ROUGH],
        ),
        drawn(2),
    ),
    "bevelled": (with_cutters(BALL, FLAT, bevels=[BEVEL], bevelling={"cusp": 0.02}), drawn()),
    "convex": (
        with_cutters(FLAT, bevels=[
            {"edge": [[0, 0], [70, 0]], "height": 4.5, "land": 0.5, "profile": "convex", "sag": 0.03}
        ]),
        drawn(),
    ),
    "hollow": (
        with_cutters(FLAT, bevels=[
            {"edge": [[0, 0], [70, 0]], "height": 4.5, "land": 0.5, "profile": "hollow", "wheel": 60}
        ]),
        drawn(),
    ),
    "slot": (
        base(slots=[{"name": "s", "centre": [50, 8], "length": 10, "width": 4}], cutting=[SLOT, ROUGH]),
        drawn(),
    ),
    "pattern": (base(patterns=[PATTERN], cutting=[SLOT, ROUGH]), drawn()),
    "row": (
        base(
            patterns=[{"along": [[6, 8], [60, 8]], "length": 6, "width": 3.5, "pitch": 12, "rows": 2,
                       "row_pitch": 6, "margin": 0.5}],
            cutting=[SLOT, ROUGH],
        ),
        drawn(shapes=SHAPES),
    ),
    "round": (
        base(patterns=[{"along": [[6, 10], [60, 10]], "diameter": 5, "pitch": 12}]), drawn(shapes=SHAPES)
    ),
    "jimped": (
        with_cutters(
            cutter(7, "bull-nose", 2, corner=0.1, reach=8), jimping=[{"stretch": [[30, 20], [10, 20]]}]
        ),
        drawn(),
    ),
    "broken": (with_cutters(CHAMFER, edge_breaks=[{"width": 0.2, "side": "A"}]), drawn()),
    "necked": (with_cutters(cutter(6, "flat", 1, reach=6), tabs={"count": 3, "neck": 0.2}), drawn()),
    "clamp left": (base(clamps=[{**CLAMP, "y": [2, 60]}]), drawn()),
    "clamp below": (base(clamps=[{**CLAMP, "x": [2, 60]}]), drawn()),
    "clamped": (base(clamps=[CLAMP]), drawn()),
    "copied": (
        base(patterns=[{"along": [[6, 10], [60, 10]], "cell": "cell", "pitch": 12}], cutting=[ROUGH]),
        drawn(shapes=SHAPES),
    ),
    "proposed": (base(cutting=[]), drawn()),
    "chamfer first": (
        base(cutters=[CHAMFER, *PLAIN["cutters"]], edge_breaks=[{"width": 0.2, "side": "A"}]), drawn()
    ),
    "written": (
        {
            "name": "tiny",
            "plate": {"length": "130 mm", "width": "70 mm", "thickness": ["2 mm"] * 4},
            "cutters": [cutter(1, "flat", "3 mm")], "tabs": {"waist": 0.06},
        },
        drawn(),
    ),
    "placed": (base(mill={"travel_from": [0, 0, 0]}), drawn()),
}  # fmt: skip
"""Orders by name, each with its drawing."""

EFFECTS: dict[str, tuple[str, Any, Any]] = {
    "name": ("plain", "one", "two"),
    "units": ("written", "mm", "in"),
    "blade.thickness": ("plain", 2.04, 2.06),
    "blade.steel": ("plain", "O1", "D2"),
    "blade.hardness": ("plain", 60, 64),
    "bevels.name": ("bevelled", "edge", "belly"),
    "bevels.edge": ("bevelled", [[25, 0], [70, 0]], [[25, 0], [66, 0]]),
    "bevels.sides": ("hollow", "both", "A"),
    "bevels.profile": ("convex", "convex", "hollow"),
    "bevels.angle": ("bevelled", 20, 21),
    "bevels.height": ("convex", 4.5, 4.6),
    "bevels.land": ("bevelled", 0.5, 0.55),
    "bevels.wheel": ("hollow", 60, 80),
    "bevels.sag": ("convex", 0.03, 0.04),
    "bevels.edge_at": ("hollow", "middle", 0.05),
    "bevels.plunge": ("bevelled", [[25, -2], [25, 22]], [[26, -2], [26, 22]]),
    "bevels.plunge_radius": ("bevelled", 5, 6),
    "bevelling.cusp": ("bevelled", 0.02, 0.01),
    "bevelling.below": ("bevelled", 0.07, 0.09),
    "bevelling.measure_stop": ("bevelled", False, True),
    "slots.centre": ("slot", [50, 8], [51, 8]),
    "slots.length": ("slot", 10, 11),
    "slots.width": ("slot", 4, 4.5),
    "slots.angle": ("slot", 0, 20),
    "patterns.cell": ("copied", "cell", "smaller"),
    "patterns.diameter": ("round", 5, 5.5),
    "patterns.length": ("pattern", 8, 8.5),
    "patterns.width": ("pattern", 3.5, 3.6),
    "patterns.region": ("pattern", PATTERN["region"], [[4, 4], [30, 4], [30, 16], [4, 16]]),
    "patterns.along": ("row", [[6, 8], [60, 8]], [[6, 8], [40, 8]]),
    "patterns.pitch": ("pattern", 12, 13),
    "patterns.row_pitch": ("row", 6, 12),
    "patterns.rows": ("row", 2, 3),
    "patterns.staggered": ("pattern", False, True),
    "patterns.angle": ("pattern", 0, 10),
    "patterns.margin": ("pattern", 1, 3),
    "patterns.web": ("pattern", 1.8, 6),
    "jimping.stretch": ("jimped", [[30, 20], [10, 20]], [[40, 20], [10, 20]]),
    "jimping.diameter": ("jimped", 2.5, 2.6),
    "jimping.depth": ("jimped", 0.45, 0.4),
    "jimping.pitch": ("jimped", 2.8, 3.4),
    "edge_breaks.of": ("broken", "outline", "bores"),
    "edge_breaks.side": ("broken", "A", "B"),
    "edge_breaks.width": ("broken", 0.2, 0.22),
    "edge_breaks.angle": ("broken", 45, 40),
    "edge_breaks.stretches": ("broken", [[[40, 20], [5, 20]]], [[[50, 20], [5, 20]]]),
    "plate.length": ("plain", 130, 132),
    "plate.width": ("plain", 70, 72),
    "plate.thickness": ("plain", [2, 2, 2, 2], [2, 2, 2, 2.01]),
    "plate.corner": ("plain", [-30, -25], [-31, -26]),
    "plate.datum_a": ("plain", "lower-left", "upper-left"),
    "plate.datum_b": ("plain", "lower-left", "upper-left"),
    "plate.z_zero_a": ("plain", "face", "fixture"),
    "plate.z_zero_b": ("plain", "face", "fixture"),
    "cutters.number": ("proposed", 1, 9),
    "cutters.kind": ("plain", "bull-nose", "flat"),
    "cutters.diameter": ("plain", 3, 2.9),
    "cutters.corner": ("plain", 0.1, 0.12),
    "cutters.flutes": ("plain", 3, 4),
    "cutters.cone": ("plain", 10, 89),
    "cutters.shank": ("plain", 6, 8),
    "cutters.stickout": ("plain", 40, 45),
    "cutters.ramp": ("bored", 0.2, 0.3),
    "cutters.tip": ("chamfer first", 0.2, 0.3),
    "cutters.half_angle": ("chamfer first", 45, 40),
    "cutting.cutter": ("plain", 1, 2),
    "cutting.stage": ("plain", "rough", "finish"),
    "cutting.steel": ("plain", "O1", "D2"),
    "cutting.spindle": ("plain", 6000, 6100),
    "cutting.surface_speed": ("plain", "60 m/min", "61 m/min"),
    "cutting.feed": ("plain", 100, 101),
    "cutting.feed_per_tooth": ("plain", 0.008, 0.009),
    "cutting.stepdown": ("plain", 0.22, 0.18),
    "cutting.stepover": ("plain", 0.5, 0.4),
    "cutting.allowance": ("plain", 0.06, 0.07),
    "cutting.life": ("plain", 60, 4),
    "mill.name": ("plain", "the red one", "the grey one"),
    "mill.units": ("plain", "mm", "in"),
    "mill.pace": ("plain", "first", "full"),
    "mill.spindle_low": ("plain", 1000, 7000),
    "mill.spindle_high": ("plain", 24000, 5000),
    "mill.feed_high": ("plain", 3000, 100),
    "mill.rapid_height": ("plain", 5, 7),
    "mill.approach_gap": ("plain", 0.5, 0.7),
    "mill.spin_up": ("plain", 3, 5),
    "mill.change_by_hand": ("plain", True, False),
    "mill.change_height": ("plain", 50, 60),
    "mill.change_place_a": ("plain", [0, 0], [1, 1]),
    "mill.change_place_b": ("plain", [0, 0], [1, 1]),
    "mill.coolant_code": ("plain", "M7", "M8"),
    "setup.flip": ("plain", "X", "Y"),
    "setup.offsets": ("plain", ["G54", "G55"], ["G54", "G56"]),
    "setup.support": ("plain", "filled", "none"),
    "setup.gap_stop": ("plain", False, True),
    "setup.gap_height": ("checked", 10, 12),
    "setup.gauge": ("bored", 98, 97),
    "setup.gauge_diameter": ("bored", 4, 3),
    "outline.depth_a": ("plain", 0.6, 0.7),
    "outline.overlap": ("plain", 0.3, 0.35),
    "outline.width": ("plain", 3.9, 4.1),
    "outline.web": ("plain", 0.2, 0.25),
    "outline.clearance": ("plain", 0.02, 0.03),
    "outline.as_milled": ("plain", [[[62, 20], [20, 20]]], [[[0, 19], [0, 1]]]),
    "outline.no_tabs": ("plain", [[[2, 0], [68, 0]]], [[[60, 20], [2, 20]]]),
    "tabs.count": ("plain", 3, 4),
    "tabs.stations": ("plain", [[58, 20], [20, 20], [0, 10]], [[57, 20], [20, 20], [0, 10]]),
    "tabs.waist": ("plain", 1.5, 1.7),
    "tabs.thickness": ("plain", 0.4, 0.45),
    "tabs.ramp_up": ("plain", 45, 40),
    "tabs.ramp_down": ("plain", 20, 15),
    "tabs.neck": ("necked", 0.2, 0.18),
    "bores.fitted": ("fitted", ["b1"], ["b2"]),
    "bores.both_sides": ("bored", ["b1"], ["b2"]),
    "bores.opening": ("bored", "skin", "relieved"),
    "bores.skin": ("bored", 0.25, 0.3),
    "bores.oversize": ("bored", 0.04, 0.06),
    "bores.through": ("relieved", 0.3, 0.35),
    "bores.undersize": ("fitted", 0.08, 0.1),
    "bores.spring_passes": ("fitted", 1, 2),
    "workholding.kind": ("screws", "bores", "tabs"),
    "workholding.screws": ("screws", ["b1", "b2"], ["b1"]),
    "workholding.head_diameter": ("screws", 8, 9),
    "workholding.head_height": ("screws", 5, 6),
    "workholding.tip_clamp": ("screws", True, False),
    "registration.kind": ("pins", "pins", "edges"),
    "registration.bores.centre": ("pins", [-12, 10], [-13, 10]),
    "registration.bores.diameter": ("pins", 6, 6.2),
    "registration.bores.depth": ("pins", 1.5, 1.6),
    "registration.bores.fitted": ("pins", True, False),
    "registration.measured.x": ("found", 12.0, 12.01),
    "registration.measured.y": ("found", 10.0, 10.01),
    "clamps.side": ("clamped", "A", "B"),
    "clamps.x": ("clamp left", [2, 12], [2, 35]),
    "clamps.y": ("clamp below", [2, 12], [2, 30]),
    "clamps.height": ("clamped", 6, 9),
}
"""The order in which a key matters, and two values that differ in proposals, programs or refusals."""

LIMITS: dict[str, tuple[str, Any, Any]] = {
    "blade.lapping": ("lapped", 0.05, 0.03),
    "plate.spread": ("uneven", 0.04, 0.01),
    "cutters.flute_length": ("slotted", 4.5, 1),
    "cutters.neck": ("plain", 2.8, 3.2),
    "cutters.reach": ("plain", 12, 1),
    "cutters.holder": ("beside", 7, 40),
    "mill.travel": ("plain", [500, 400, 300], [90, 60, 80]),
    "mill.travel_from": ("machine", [0, 0, 0], [200, 0, 0]),
    "mill.machine_zero_a": ("placed", [100, 100, 100], [390, 100, 100]),
    "mill.machine_zero_b": ("placed", [200, 100, 100], [200, 10, 100]),
    "setup.fixture_allowance": ("relieved", 0.7, 0.2),
    "outline.border": ("plain", 8, 40),
    "slots.name": ("twin slots", "s", "t"),
    "patterns.name": ("cells broken", "p", "q"),
    "jimping.name": ("thick notch", "j", "k"),
    "edge_breaks.name": ("wide break", "e", "f"),
    "clamps.name": ("beside", "strap", "toe clamp"),
    "registration.bores.name": ("found", "P1", "P3"),
    "registration.measured.bore": ("found", "P1", "P3"),
}
"""Limits of the shop, read where they are exceeded, and names, which refusals and other tables tell."""

BASES |= {
    "lapped": (base(blade={"thickness": 2.04}), drawn()),
    "uneven": (
        base(plate={"length": 130, "width": 70, "thickness": [2, 2, 2, 2.03]}), drawn()
    ),
    "beside": (base(cutters=PLAIN["cutters"][:1], clamps=[TALL]), drawn()),
    "machine": (
        base(mill={"machine_zero_a": [100, 100, 100], "machine_zero_b": [230, 100, 100]}), drawn()
    ),
    "twin slots": (
        base(
            slots=[{"centre": [50, 8], "length": 10, "width": 4},
                   {"name": "t", "centre": [20, 8], "length": 10, "width": 4}],
        ),
        drawn(),
    ),
    "cells broken": (
        with_cutters(CHAMFER, patterns=[PATTERN], edge_breaks=[{"of": "p", "width": 0.2}]), drawn()
    ),
    "thick notch": (
        with_cutters(
            cutter(7, "bull-nose", 2, corner=0.1, reach=8),
            jimping=[{"stretch": [[30, 20], [10, 20]], "depth": 2.4}],
        ),
        drawn(),
    ),
    "wide break": (with_cutters(CHAMFER, edge_breaks=[{"width": 1.2}]), drawn()),
}  # fmt: skip

JUDGED = {
    "mill.cutting_data": "what is proposed: test_cutting_data",
    "mill.rapid": "how long the job takes: test_hand_work",
    "mill.acceleration": "how long the job takes: test_hand_work",
    "cutters.centre_cutting": "the planner never falls straight: the simulator asks it of any program",
}
"""Keys that only the simulator reads."""

READ = {
    f"drawing.{key}"
    for key in OrderText.model_fields["drawing"].annotation.__args__[0].model_fields
}
"""Keys that say how the drawing is read: `test_order_drawing.py`."""


def _models(kind: Any) -> Iterator[Any]:
    """Yield the tables that a field's annotation holds."""
    if isinstance(kind, type) and hasattr(kind, "model_fields"):
        yield kind
    for part in get_args(kind):
        yield from _models(part)


def paths_of(table: Any, above: str = "") -> Iterator[str]:
    """Yield every key of a table and of those below it, as ``table.key``."""
    for key, about in table.model_fields.items():
        below = list(_models(about.annotation))
        for inner in below:
            yield from paths_of(inner, f"{above}{key}.")
        if not below:
            yield above + key


def stated(tables: Tables, path: str, value: Any) -> Tables:
    """Return tables with a value stated: in the first entry where the table is one of several."""
    tables = copy.deepcopy(tables)
    *tops, key = path.split(".")
    at: Any = tables
    for top in tops:
        at = at.setdefault(top, {})
        at = at[0] if isinstance(at, list) else at
    at[key] = value
    return tables


class Outcome:
    """What becomes of an order, found step by step: the later steps only where they are asked for."""

    def __init__(self, name: str, path: str, value: Any) -> None:
        tables, parts = BASES[name]
        self.refused: tuple[str, ...] = ()
        self._order: Order | None = None
        self._plan: Plan | None = None
        self.told: tuple[str, ...] = ()
        try:
            text = document(stated(tables, path, value))
            self._order = order_from_text(text, folder=".", drawing=parts)
        except KnifecamError as refused:
            self.refused = refused.lines
            return
        said = (*map(str, self._order.assumed), *remarks(self._order))
        self.told = tuple(
            line for line in said if re.sub(r"\[\d+\]", "", line).split(" ")[0] != path
        )

    def planned(self) -> str:
        """Return what stands for the cuts, "" where the order is refused."""
        if self.refused or self._order is None:
            return ""
        self.refused = tuple(told(x) for x in feasible(self._order))
        if self.refused:
            return ""
        try:
            self._plan = lay_out(self._order)
        except KnifecamError as refused:
            self.refused = refused.lines
            return ""
        seen = hashlib.sha256(repr([self._plan.tabs, self._plan.notes]).encode())
        for cut in self._plan.cuts:
            m = cut.motions
            for one in (m.kind, m.start, m.stop, m.centre, m.turns, m.feed):
                seen.update(np.ascontiguousarray(one).tobytes())
            seen.update(repr((cut.name, cut.cutter, cut.spindle, cut.fresh, cut.stop)).encode())
        return seen.hexdigest()

    def texts(self) -> str:
        """Return the programs, without the number of the order in their heads."""
        assert self._order is not None
        assert self._plan is not None
        sides = [write_program(self._order, self._plan, side).text for side in "AB"]
        helpers = [align_program(self._order, self._plan), offsets_program(self._order) or ""]
        return "\n".join([*sides, *helpers]).replace(self._order.digest.upper(), "")


def differ(first: Outcome, second: Outcome) -> bool:
    """Tell whether the two come out otherwise, by the cheapest sign of it."""
    if (first.refused, first.told) != (second.refused, second.told):
        return True
    if first.refused:
        return False
    return first.planned() != second.planned() or (
        first.refused != second.refused or (not first.refused and first.texts() != second.texts())
    )


def names(path: str, lines: tuple[str, ...]) -> bool:
    """Tell whether a line names the key, or the clamp whose key it is."""
    table, _, key = path.rpartition(".")
    return any(re.search(rf"\b{key}\b|\b{table}:? '", line) for line in lines)


def test_every_key_of_the_model_is_here() -> None:
    entered = [*EFFECTS, *LIMITS, *JUDGED, *READ]
    assert sorted(entered) == sorted(paths_of(OrderText))


@pytest.mark.parametrize("path", EFFECTS)
def test_a_key_has_an_effect(path: str) -> None:
    name, first, second = EFFECTS[path]
    made = Outcome(name, path, first)
    assert not made.refused
    other = Outcome(name, path, second)
    assert differ(made, other)
    assert not made.refused
    assert not other.refused or names(path, other.refused)


@pytest.mark.parametrize("path", LIMITS)
def test_a_limit_is_told_by_name_where_it_is_exceeded(path: str) -> None:
    """Names are told by refusals, and by those of tables that refer to them."""
    name, kept, exceeded = LIMITS[path]
    within, over = Outcome(name, path, kept), Outcome(name, path, exceeded)
    over.planned()
    assert over.refused
    key = path.split(".")[-1]
    if key in ("name", "bore"):
        assert any(re.search(rf"\b({kept}|{exceeded})\b", line) for line in over.refused)
        return
    within.planned()
    assert not within.refused
    assert names(path, over.refused)


ANYWHERE = {
    "units": "the unit of bare numbers",
    "blade.thickness": "held to the plate as measured",
    "plate.spread": "held to the plate as measured",
    "cutters.number": "named by [[cutting]] and the programs",
    "cutters.flute_length": "the cutter's own, whatever it cuts",
    "cutters.holder": "the cutter's own, whatever it cuts",
    "cutters.ramp": "the cutter's own, whatever it cuts",
    "mill.machine_zero_a": "travel is judged by it",
    "mill.machine_zero_b": "travel is judged by it",
    "setup.gauge": "the alignment program goes with every order",
    "setup.gauge_diameter": "the alignment program goes with every order",
    "setup.fixture_allowance": "the fixture's own: the simulator holds any program to it",
    "bores.both_sides": "refused by the bores it names",
    "workholding.kind": "refused without workholding.screws",
    "workholding.tip_clamp": "a clamp holds the far end of a blade on tabs too",
    "registration.kind": "proposes its bores",
}
"""Keys that hold for an order without bevels, openings, clamps and screws too, and why."""


def bound() -> Iterator[tuple[str, Any]]:
    """Yield keys that rest on what their order has, and a value, but for those of its own tables."""
    several = {"bevels", "slots", "patterns", "jimping", "edge_breaks", "clamps", "registration.bores",
               "registration.measured"}  # fmt: skip
    for path, (name, _, value) in (EFFECTS | LIMITS).items():
        own = path.rpartition(".")[0] in several
        if name != "plain" and path not in ANYWHERE and not own:
            yield path, value


@pytest.mark.parametrize(("path", "value"), list(bound()))
def test_a_key_is_refused_by_name_where_it_cannot_matter(path: str, value: Any) -> None:
    """The plain order has no bevel, opening, neck, screw, block or clamp."""
    tables, parts = BASES["plain"]
    with pytest.raises(KnifecamError) as caught:
        order_from_text(document(stated(tables, path, value)), folder=".", drawing=parts)
    assert names(path, caught.value.lines)
