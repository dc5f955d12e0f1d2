"""A correct two-sided program for the plain blade with a flat bevel on its lower edge, by hand.

The blade is that of `hand_written`; the bevel runs along its edge y = 0 and, prolonged, over both
corners: h(y) = LAND / 2 + y tan ANGLE up to the face. Cutter 1 (flat, 3 mm) opens a U beside it,
cutter 2 (bull-nose, 4 mm, corner 0.5 mm) cuts it in three stages, from the edge upward. A pass that
touches the slope at y has its axis at y - r sin a - (R - r) and its tip at h(y) + r cos a - r, which
is plane geometry of a circle of radius r on a slope of angle a. Nothing of the planner is used.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace

from knifecam.blade import Bevel
from knifecam.curve import Stretch
from knifecam.shop import Cutter, Cutting, Order
from tests.unit.judge import hand_written as plain

ANGLE, LAND = math.radians(15.0), 0.4
R, CORNER = 2.0, 0.5
ROUGH, SEMI, FINISH = 0.6, 0.25, 0.1
ROUGH_LEFT, SEMI_LEFT = 0.12, 0.05
WHOLE = 1.2
"""mm: roughing passes take all that stands above the slope, no levels."""

PAST, REACH, BELOW = 2.2, 7.5, 0.07
"""mm: how far passes run past the blade, how wide and how far below the lowest tip the U is open."""


@contextmanager
def figures(**changes: float) -> Iterator[None]:
    """Let programs and orders be written with other figures for a while."""
    here = globals()
    kept = {name: here[name] for name in changes}
    here.update(changes)
    try:
        yield
    finally:
        here.update(kept)


@dataclass(frozen=True)
class Pass:
    """A pass: where it touches, its axis' y and its tip's height above the mid-plane."""

    touch: float
    y: float
    z: float


def width() -> float:
    """Return how far from the edge the slope meets the face."""
    return (plain.THICK - LAND) / 2 / math.tan(ANGLE)


def height(y: float) -> float:
    return LAND / 2 + y * math.tan(ANGLE)


def passes(step: float, left: float = 0.0) -> list[Pass]:
    """Return the passes from the edge to the grind line, ``left`` mm plumb above the surface."""
    count = math.ceil(width() / step - 1e-9)
    rows = []
    for k in range(count + 1):
        y = width() * k / count
        z = height(y) + left + CORNER * (math.cos(ANGLE) - 1)
        rows.append(Pass(y, y - CORNER * math.sin(ANGLE) - (R - CORNER), z))
    return rows


def bevel(**changes: object) -> Bevel:
    """Return the bevel on the lower edge, stations 0 to 52."""
    edge = Stretch(start=0.0, end=plain.LENGTH - 2 * plain.CORNER)
    return replace(Bevel(name="main", edge=edge, angle=ANGLE, land=LAND), **changes)


def order(**changes: object) -> Order:
    """Return the plain order with the bevel, its cutter and its stages."""
    base = plain.order()
    nose = Cutter(
        number=2, kind="bull-nose", diameter=2 * R, corner=CORNER, flutes=4, flute_length=6.0,
        neck=3.8, reach=12.0, shank=6.0, stickout=25.0, ramp=math.radians(2.0),
    )  # fmt: skip
    steps = {"bevel-rough": (ROUGH, ROUGH_LEFT), "bevel-semi": (SEMI, SEMI_LEFT),
             "bevel-finish": (FINISH, 0.0)}  # fmt: skip
    stages = [
        Cutting(cutter=2, stage=stage, spindle=8000, feed=plain.FEED, stepover=step, allowance=left,
                stepdown=WHOLE if stage == "bevel-rough" else 0.5)
        for stage, (step, left) in steps.items()
    ]  # fmt: skip
    clear = replace(base.cutting[1], stage="clear")
    made = replace(
        base,
        name="bevelled",
        blade=replace(base.blade, bevels=(bevel(),)),
        trench=replace(base.trench, border=7.0),
        cutters=(*base.cutters, nose),
        cutting=(*base.cutting, clear, *stages),
    )
    return replace(made, **changes)


@dataclass
class Beside:
    """Writes motions given in the part's plane for one side; B turned about X."""

    w: plain.Writer
    side: str

    def at(self, x: float, y: float) -> tuple[float, float]:
        return x + plain.EDGE, (y + plain.EDGE) * (1 if self.side == "A" else -1)

    def line(self, x: float, y: float, z: float) -> None:
        self.w.line(*self.at(x, y), z)

    def arc(self, x: float, y: float, z: float, cx: float, cy: float, *, turn: str) -> None:
        """``turn`` as seen on the part from side A."""
        word = turn if self.side == "A" else {"G2": "G3", "G3": "G2"}[turn]
        self.w.arc(word, *self.at(x, y), z, *self.at(cx, cy))

    def rapid(self, x: float, y: float) -> None:
        self.w.rapid_xy(*self.at(x, y))


def u_shape(b: Beside, away: float, z: float) -> None:
    """From where the U begins to its other end with the blade on the right of travel."""
    c, length, high = plain.CORNER, plain.LENGTH, 8.0
    if b.side == "A":
        b.line(length + away, c, z)
        b.arc(length - c, -away, z, length - c, c, turn="G2")
        b.line(c, -away, z)
        b.arc(-away, c, z, c, c, turn="G2")
        b.line(-away, high, z)
    else:
        b.line(-away, c, z)
        b.arc(c, -away, z, c, c, turn="G3")
        b.line(length - c, -away, z)
        b.arc(length + away, c, z, length - c, c, turn="G3")
        b.line(length + away, high, z)


def ends(side: str, away: float) -> tuple[tuple[float, float], tuple[float, float]]:
    """Where the U begins and ends."""
    right, left = (plain.LENGTH + away, 8.0), (-away, 8.0)
    return (right, left) if side == "A" else (left, right)


def clear(b: Beside, floor: float) -> None:
    """Open the U in levels, each lap entered by a ramp along its first leg."""
    radius = plain.RADIUS
    laps, away = [], REACH - radius
    while away > radius + plain.STOCK + 1e-9:
        laps.append(away)
        away -= 1.2
    laps.append(radius + plain.STOCK)
    levels = math.ceil(-floor / plain.STEPDOWN - 1e-9)
    for k in range(1, levels + 1):
        z, before = floor * k / levels, floor * (k - 1) / levels
        for away in laps:
            (x, y), _ = ends(b.side, away)
            b.w.rapid_z(5.0)
            b.rapid(x, y)
            b.w.rapid_z(0.5)
            b.w.feed = plain.RAMP_FEED
            b.line(x, y, before)
            fall = before - z
            while fall > 1e-9:
                part = min(fall, 2 * 3.0 * math.tan(math.radians(1.9)))
                b.line(x, y - 3.0, b.w.place[2] - part / 2)
                b.line(x, y, b.w.place[2] - part / 2)
                fall -= part
            b.w.feed = plain.FEED
            u_shape(b, away, z)
    b.w.rapid_z(5.0)


def edge_wall(b: Beside, floor: float) -> None:
    """Finish the wall of the U, from the side and back to it."""
    (x, y), (u, v) = ends(b.side, plain.RADIUS)
    way = 1.0 if x > u else -1.0
    b.rapid(x + way * 0.5, y - 1.0)
    b.w.rapid_z(0.5)
    b.w.feed = plain.RAMP_FEED
    b.line(x + way * 0.5, y - 1.0, floor)
    b.w.feed = plain.FEED
    b.line(x, y - 2.0, floor)
    u_shape(b, plain.RADIUS, floor)
    b.line(u - way * 0.5, v - 1.0, floor)
    b.w.rapid_z(5.0)


def slope(b: Beside, rows: list[Pass]) -> None:
    """Cut passes from the edge upward, each from the cleared ground at one end to the other."""
    begin, end = (plain.LENGTH + PAST, -PAST) if b.side == "A" else (-PAST, plain.LENGTH + PAST)
    face = plain.THICK / 2
    for row in rows:
        b.w.rapid_z(5.0)
        b.rapid(begin, row.y)
        b.w.rapid_z(0.5)
        b.line(begin, row.y, row.z - face)
        b.line(end, row.y, row.z - face)
    b.w.rapid_z(5.0)


def finish_only(side: str, rows: list[Pass]) -> str:
    """Return a program of nothing but passes on the slope: what measures look at, no more."""
    w = plain.Writer(face=0.0 if side == "A" else plain.THICK)
    plain.head(w)
    begin_cut(w, "CUT 1 OF 1: BEVEL FINISH, CUTTER 2", "G54" if side == "A" else "G55", 2)
    slope(Beside(w, side), rows)
    plain.end_cut(w)
    w.say("M2")
    return "\n".join(w.lines) + "\n"


def begin_cut(w: plain.Writer, name: str, offset: str, cutter: int) -> None:
    plain.begin_cut(w, name, offset)
    w.lines[:] = [
        row.replace("T1 M6", f"T{cutter} M6").replace("G43 H1", f"G43 H{cutter}")
        if k >= len(w.lines) - 9 else row
        for k, row in enumerate(w.lines)
    ]  # fmt: skip


STAGES = ("rough", "semi", "finish")


def stage_passes(stage: str) -> list[Pass]:
    figures = {"rough": (ROUGH, ROUGH_LEFT), "semi": (SEMI, SEMI_LEFT), "finish": (FINISH, 0.0)}
    return passes(*figures[stage])


def bevel_cuts(w: plain.Writer, side: str, *, first: int, count: int,
               stages: tuple[str, ...] = STAGES) -> None:  # fmt: skip
    """The U, its wall and the bevel's stages."""
    b, offset = Beside(w, side), "G54" if side == "A" else "G55"
    floor = stage_passes("finish")[0].z - BELOW - plain.THICK / 2
    begin_cut(w, f"CUT {first} OF {count}: CLEAR, CUTTER 1", offset, 1)
    clear(b, floor)
    plain.end_cut(w)
    begin_cut(w, f"CUT {first + 1} OF {count}: EDGE WALL, CUTTER 1", offset, 1)
    edge_wall(b, floor + plain.CLEAR)
    plain.end_cut(w)
    for k, stage in enumerate(stages):
        begin_cut(w, f"CUT {first + 2 + k} OF {count}: BEVEL {stage.upper()}, CUTTER 2", offset, 2)
        slope(b, stage_passes(stage))
        plain.end_cut(w)


def side_a() -> str:
    """As the plain side A, then the U and the bevel."""
    w = plain.Writer(face=0.0)
    w.lines = plain.side_a().removesuffix("M2\n").splitlines()
    bevel_cuts(w, "A", first=4, count=8)
    w.say("M2")
    return "\n".join(w.lines) + "\n"


def side_b() -> str:
    """Bore opened, U and bevel, then the groove and its wall with tabs on the back."""
    s, w = plain.seen("B", "X"), plain.Writer(face=plain.THICK)
    a_floor = -(plain.THICK - plain.MEET - plain.OVERLAP / 2)
    tab = a_floor + plain.TAB
    plain.head(w)
    plain.begin_cut(w, "CUT 1 OF 8: BORES, CUTTER 1, DOWN TO Z2.6000", "G55")
    plain.bore(w, s.bore, plain.BORE + plain.RELIEF, -(plain.SKIN + 0.1))
    plain.end_cut(w)
    plain.begin_cut(w, "CUT 2 OF 8: GROOVE, CUTTER 1, DOWN TO Z0.9000", "G55")
    plain.rough(w, s, a_floor + plain.WEB, tab)
    plain.end_cut(w)
    plain.begin_cut(w, "CUT 3 OF 8: WALL, CUTTER 1, DOWN TO Z0.5000", "G55")
    plain.finish(
        w, s, a_floor + plain.WEB + plain.CLEAR, a_floor - plain.OVERLAP, tab + plain.CLEAR
    )
    plain.end_cut(w)
    bevel_cuts(w, "B", first=4, count=8)
    w.say("M2")
    return "\n".join(w.lines) + "\n"
