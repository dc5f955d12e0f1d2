"""A correct two-sided program for a plain blade, written by hand for tests.

The blade is 60 x 20 x 3 mm with corners of 4 mm, one bore of 4 mm and two tabs on its upper edge,
milled with one flat cutter of 3 mm. Everything here is worked out from the drawing by the rules in
the docstrings; nothing of the planner is used.

Side A's program has Z0 on the face, side B's on the fixture; the plate is turned about X or Y. Both
programs are made by one writer that is given the features as they lie in the side's own frame.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field, replace

from knifecam.blade import Blade, Bore
from knifecam.curve import Curve
from knifecam.shop import (
    Boring,
    Cutter,
    Cutting,
    Mill,
    Order,
    Plate,
    Setup,
    Tabs,
    Trench,
)

LENGTH, WIDTH, THICK, CORNER = 60.0, 20.0, 3.0, 4.0
MEET, OVERLAP, TRENCH, WEB, CLEAR = 0.6, 0.2, 4.0, 0.2, 0.02
TAB, WAIST = 0.4, 1.5
RADIUS = 1.5
STOCK = 0.06
STEPDOWN = 0.25
FEED, RAMP_FEED = 300.0, 150.0
BORE_AT, BORE, SKIN, RELIEF = (12.0, 10.0), 4.0, 0.25, 0.04
TAB_PLACES = (18.0, 44.0)
EDGE = 15.0
RISE, DESCENT = math.radians(45), math.radians(20)
QUARTER = math.tan(math.pi / 8)


def outline() -> Curve:
    """Return the rounded rectangle, counter-clockwise from its lower edge's beginning."""
    c = CORNER
    vertices = [
        (c, 0), (LENGTH - c, 0), (LENGTH, c), (LENGTH, WIDTH - c),
        (LENGTH - c, WIDTH), (c, WIDTH), (0, WIDTH - c), (0, c),
    ]  # fmt: skip
    return Curve(vertices, [0, QUARTER] * 4)


def order(**changes: object) -> Order:
    """Return the order; ``changes`` replace fields of the order or, by name, of its setup."""
    plate = Plate(
        length=LENGTH + 2 * EDGE, width=WIDTH + 2 * EDGE, thickness=THICK, corner=(-EDGE, -EDGE)
    )
    cutter = Cutter(
        number=1, kind="flat", diameter=2 * RADIUS, flutes=4, flute_length=6.0, neck=2.9,
        reach=9.0, shank=6.0, stickout=25.0, ramp=math.radians(2.0),
    )  # fmt: skip
    stages = [
        Cutting(cutter=1, stage=stage, spindle=8000, feed=FEED, stepdown=STEPDOWN, stepover=0.9,
                allowance=STOCK if stage == "rough" else 0.0)
        for stage in ("bore", "rough", "finish")
    ]  # fmt: skip
    top = 4 * (LENGTH - 2 * CORNER) / 4 + math.pi * CORNER + (WIDTH - 2 * CORNER)
    stations = tuple(sorted(top + (LENGTH - CORNER - x) for x in TAB_PLACES))
    setup = Setup(
        plate=plate, mill=Mill(change_by_hand=False, change_height=5.0), flip="X",
        datum=((-EDGE, -EDGE), (-EDGE, -EDGE)), z_zero=("face", "fixture"), gap_stop=False,
    )  # fmt: skip
    made = Order(
        name="plain",
        blade=Blade(
            outline=outline(), thickness=THICK,
            bores=(Bore(name="pin", centre=BORE_AT, diameter=BORE),),
        ),
        setup=setup,
        cutters=(cutter,),
        cutting=tuple(stages),
        tabs=Tabs(count=2, stations=stations, waist=WAIST, thickness=TAB),
        trench=Trench(
            depth_a=MEET, overlap=OVERLAP, width=TRENCH, web=WEB, clearance=CLEAR, border=8.0
        ),
        boring=Boring(skin=SKIN, oversize=RELIEF),
    )  # fmt: skip
    for name, value in changes.items():
        if hasattr(setup, name):
            made = replace(made, setup=replace(made.setup, **{name: value}))
        else:
            made = replace(made, **{name: value})
    return made


@dataclass
class Writer:
    """Collects lines of text; heights are given below the plate's upper face, as negative z."""

    face: float
    lines: list[str] = field(default_factory=list)
    place: tuple[float, float, float] = (0.0, 0.0, 0.0)
    feed: float = FEED

    def say(self, *lines: str) -> None:
        self.lines += lines

    def rapid_z(self, z: float) -> None:
        self.lines.append(f"G0 Z{z + self.face:.4f}")
        self.place = (*self.place[:2], z)

    def rapid_xy(self, x: float, y: float) -> None:
        self.lines.append(f"G0 X{x:.4f} Y{y:.4f}")
        self.place = (x, y, self.place[2])

    def line(self, x: float, y: float, z: float) -> None:
        if math.dist((x, y, z), self.place) < 1e-6:
            return
        self.lines.append(f"G1 X{x:.4f} Y{y:.4f} Z{z + self.face:.4f} F{self.feed:g}")
        self.place = (x, y, z)

    def arc(self, word: str, x: float, y: float, z: float, cx: float, cy: float) -> None:
        i, j = round(cx - self.place[0], 4), round(cy - self.place[1], 4)
        self.lines.append(
            f"{word} X{x:.4f} Y{y:.4f} Z{z + self.face:.4f} I{i:.4f} J{j:.4f} F{self.feed:g}"
        )
        self.place = (x, y, z)


@dataclass(frozen=True)
class Seen:
    """The blade as it lies in one side's program frame: lower left corner and features."""

    x: float
    y: float
    bore: tuple[float, float]
    tabs: tuple[float, ...]
    tabs_above: bool


def seen(side: str, flip: str) -> Seen:
    """Return the blade in the program frame of a side.

    Side A: X0 Y0 is the plate's corner, EDGE below and left of the blade. Side B keeps that
    corner as its zero: after the half turn about X the blade lies at negative Y, about Y at
    negative X.
    """
    if side == "A":
        return Seen(EDGE, EDGE, (EDGE + BORE_AT[0], EDGE + BORE_AT[1]),
                    tuple(EDGE + x for x in TAB_PLACES), True)  # fmt: skip
    if flip == "X":
        return Seen(EDGE, -EDGE - WIDTH, (EDGE + BORE_AT[0], -EDGE - BORE_AT[1]),
                    tuple(EDGE + x for x in TAB_PLACES), False)  # fmt: skip
    return Seen(-EDGE - LENGTH, EDGE, (-EDGE - BORE_AT[0], EDGE + BORE_AT[1]),
                tuple(-EDGE - x for x in TAB_PLACES), True)  # fmt: skip


def head(w: Writer) -> None:
    w.say("(PLAIN BLADE)", "G21 G17 G90 G94 G40 G49 G80 G61 G54", "G92.1")


def begin_cut(w: Writer, name: str, offset: str) -> None:
    w.say(f"({name})", f"G21 G17 G90 G94 G40 G49 G80 G61 {offset}", "T1 M6", "S8000 M3", "G4 P3",
          "M7", "G43 H1")  # fmt: skip
    w.rapid_z(5.0)


def end_cut(w: Writer) -> None:
    w.rapid_z(5.0)
    w.say("M5", "M9")


def bore(w: Writer, at: tuple[float, float], diameter: float, bottom: float) -> None:
    """Helix counter-clockwise down to ``bottom``, 0.1 mm a turn, and a full circle there.

    The rim runs along the wall at FEED: the axis, on a circle so much smaller, at that share of it.
    """
    r = diameter / 2 - RADIUS
    x, y = at
    w.rapid_xy(x + r, y)
    w.rapid_z(0.5)
    w.feed = FEED * r / (diameter / 2)
    w.line(x + r, y, 0.0)
    z = 0.0
    while z > bottom + 1e-9:
        z = max(bottom, z - 0.1)
        w.arc("G3", x + r, y, z, x, y)
    w.arc("G3", x + r, y, z, x, y)
    w.line(x, y, z)
    w.feed = FEED


def lap(w: Writer, s: Seen, away: float, z: float, tab_z: float | None) -> None:
    """Clockwise round the blade at ``away`` mm, from the middle of the edge without tabs and back.

    Where ``z`` is below ``tab_z`` the cutter lifts to it over the tabs: level over waist and
    diameter, up at 45 and down at 20 degrees.
    """
    c, o = CORNER, away
    x0, x1, y0, y1 = s.x, s.x + LENGTH, s.y, s.y + WIDTH
    lift = tab_z if tab_z is not None and tab_z > z + 1e-9 else None
    # clockwise: lower edge toward -X, left edge up, upper edge toward +X, right edge down
    corners = [
        ((x0 + c, y0 - o), (x0 - o, y0 + c), (x0 + c, y0 + c)),
        ((x0 - o, y1 - c), (x0 + c, y1 + o), (x0 + c, y1 - c)),
        ((x1 - c, y1 + o), (x1 + o, y1 - c), (x1 - c, y1 - c)),
        ((x1 + o, y0 + c), (x1 - c, y0 - o), (x1 - c, y0 + c)),
    ]
    middle = (x0 + x1) / 2
    turn = 0 if s.tabs_above else 2
    order_ = corners[turn:] + corners[:turn]
    for k, (into, out, centre) in enumerate(order_):
        edge(w, s, into, z, lift if k == 2 else None)
        w.arc("G2", *out, z, *centre)
    w.line(middle, y0 - o if s.tabs_above else y1 + o, z)


def edge(w: Writer, s: Seen, to: tuple[float, float], z: float, lift: float | None) -> None:
    """Straight to a place, lifting over the tabs on the way if ``lift`` is given."""
    if lift is not None:
        way = 1.0 if to[0] > w.place[0] else -1.0
        half = WAIST / 2 + RADIUS
        up, down = (lift - z) / math.tan(RISE), (lift - z) / math.tan(DESCENT)
        for tab in sorted(s.tabs, reverse=way < 0):
            w.line(tab - way * (half + up), to[1], z)
            w.line(tab - way * half, to[1], lift)
            w.line(tab + way * half, to[1], lift)
            w.feed = RAMP_FEED
            w.line(tab + way * (half + down), to[1], z)
            w.feed = FEED
    w.line(*to, z)


def ramp_back(w: Writer, s: Seen, away: float, z: float, ramp: float) -> None:
    """Fall to ``z`` along the edge without tabs, then go back to its middle at that depth."""
    middle = s.x + LENGTH / 2
    y = s.y - away if s.tabs_above else s.y + WIDTH + away
    drop = w.place[2] - z
    way = -1.0 if s.tabs_above else 1.0
    w.feed = RAMP_FEED
    reach = drop / math.tan(ramp)
    while reach > 20.0:
        w.line(middle + way * 20.0, y, w.place[2] - 20.0 * math.tan(ramp))
        w.line(middle, y, w.place[2] - 20.0 * math.tan(ramp))
        reach -= 40.0
    if reach > 0:
        w.line(middle + way * reach, y, z)
    w.line(middle, y, z)
    w.feed = FEED


def rough(w: Writer, s: Seen, floor: float, tab_z: float | None) -> None:
    """Two laps a level: along the blade with stock left, and along the trench's outer wall."""
    levels = math.ceil(-floor / STEPDOWN - 1e-9)
    middle = s.x + LENGTH / 2
    outer = TRENCH - RADIUS
    inner = RADIUS + STOCK
    sign = -1.0 if s.tabs_above else 1.0
    base = s.y if s.tabs_above else s.y + WIDTH
    w.rapid_xy(middle, base + sign * inner)
    w.rapid_z(0.5)
    w.line(middle, base + sign * inner, 0.0)
    for k in range(1, levels + 1):
        z = floor * k / levels
        ramp_back(w, s, inner, z, math.radians(1.9))
        lap(w, s, inner, z, tab_z)
        if outer > inner + 1e-9:
            w.line(middle, base + sign * outer, z)
            lap(w, s, outer, z, tab_z)
            w.line(middle, base + sign * inner, z)
    w.rapid_z(5.0)


def finish(w: Writer, s: Seen, start: float, floor: float, tab_z: float | None) -> None:
    """One lap along the wall at full depth, from the side and back to it at a shallow angle."""
    middle = s.x + LENGTH / 2
    sign = -1.0 if s.tabs_above else 1.0
    way = -1.0 if s.tabs_above else 1.0
    base = s.y if s.tabs_above else s.y + WIDTH
    aside = RADIUS + 0.4
    w.rapid_xy(middle - way * 2, base + sign * aside)
    w.rapid_z(0.5)
    w.line(middle - way * 2, base + sign * aside, start)
    if floor < start:
        reach = (start - floor) / math.tan(math.radians(1.9))
        w.feed = RAMP_FEED
        w.line(middle - way * (2 + reach), base + sign * aside, floor)
        w.line(middle - way * 2, base + sign * aside, floor)
        w.feed = FEED
    w.line(middle, base + sign * RADIUS, floor)
    lap(w, s, RADIUS, floor, tab_z)
    w.line(middle + way * 0.8, base + sign * RADIUS, floor)
    w.line(middle + way * 2.8, base + sign * aside, floor)


def side_a() -> str:
    """Bore down to the skin, groove down past the meeting plane, wall finished."""
    s, w = seen("A", "X"), Writer(face=0.0)
    floor = -(MEET + OVERLAP / 2)
    head(w)
    begin_cut(w, "CUT 1 OF 3: BORES, CUTTER 1, DOWN TO Z-2.7500", "G54")
    bore(w, s.bore, BORE, -(THICK - SKIN))
    end_cut(w)
    begin_cut(w, "CUT 2 OF 3: GROOVE, CUTTER 1, DOWN TO Z-0.7000", "G54")
    rough(w, s, floor, None)
    end_cut(w)
    begin_cut(w, "CUT 3 OF 3: WALL, CUTTER 1, DOWN TO Z-0.6800", "G54")
    finish(w, s, floor + CLEAR, floor + CLEAR, None)
    end_cut(w)
    w.say("M2")
    return "\n".join(w.lines) + "\n"


def side_b(flip: str = "X") -> str:
    """Bore opened, groove down to the web over side A's, wall finished through it, tabs left."""
    s, w = seen("B", flip), Writer(face=THICK)
    a_floor = -(THICK - MEET - OVERLAP / 2)
    tab = a_floor + TAB
    head(w)
    begin_cut(w, "CUT 1 OF 3: BORES, CUTTER 1, DOWN TO Z2.6000", "G55")
    bore(w, s.bore, BORE + RELIEF, -(SKIN + 0.1))
    end_cut(w)
    begin_cut(w, "CUT 2 OF 3: GROOVE, CUTTER 1, DOWN TO Z0.9000", "G55")
    rough(w, s, a_floor + WEB, tab)
    end_cut(w)
    begin_cut(w, "CUT 3 OF 3: WALL, CUTTER 1, DOWN TO Z0.5000", "G55")
    finish(w, s, a_floor + WEB + CLEAR, a_floor - OVERLAP, tab + CLEAR)
    end_cut(w)
    w.say("M2")
    return "\n".join(w.lines) + "\n"


def moved_z(text: str, by: float) -> str:
    """Return the text with all Z words shifted."""
    return re.sub(r"Z(-?[0-9.]+)", lambda m: f"Z{float(m[1]) + by:.4f}", text)
