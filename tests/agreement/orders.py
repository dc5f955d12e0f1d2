"""Orders built in Python, for tests: a plain blade of 60 x 20 x 3 mm."""

from __future__ import annotations

import math

import numpy as np

from knifecam.blade import Blade, Bore, Slot
from knifecam.curve import Curve
from knifecam.shop import Cutter, Cutting, Mill, Order, Plate, Setup, Tabs, Trench


def rounded(x0: float, y0: float, x1: float, y1: float, r: float) -> Curve:
    """A counter-clockwise rectangle with rounded corners."""
    b = math.tan(math.pi / 8)
    corners = [
        (x0 + r, y0), (x1 - r, y0), (x1, y0 + r), (x1, y1 - r),
        (x1 - r, y1), (x0 + r, y1), (x0, y1 - r), (x0, y0 + r),
    ]  # fmt: skip
    return Curve(np.array(corners), np.array([0, b] * 4))


def cutter(number: int, *, diameter: float = 3.0, corner: float = 0.1) -> Cutter:
    """A small end mill with a neck."""
    return Cutter(
        number=number, kind="bull-nose" if corner else "flat", diameter=diameter, corner=corner,
        flute_length=2 * diameter, neck=diameter - 0.1, reach=4 * diameter, shank=6.0, stickout=22.0,
    )  # fmt: skip


def cutting(number: int, stage: str, **changes: float) -> Cutting:
    """How it works in a stage."""
    figures = {
        "bore": (0.07, 1.2, 0.0), "slot": (0.08, 1.2, 0.06), "rough": (0.08, 1.0, 0.06),
        "finish": (3.0, 1.0, 0.0), "fit": (3.0, 1.0, 0.0),
    }[stage]  # fmt: skip
    stepdown, stepover, allowance = figures
    plain = {
        "spindle": 7000.0, "feed": 300.0, "stepdown": stepdown, "stepover": stepover,
        "allowance": allowance, "life": 240.0,
    }  # fmt: skip
    return Cutting(cutter=number, stage=stage, **(plain | changes))


def simple_order(*, corner: float = 0.1, thickness: float = 3.0) -> Order:
    """A plain blade with one bore and one slot, two cutters, flip about X, two tabs."""
    places = [(x, y, thickness) for x in (-50.0, 50.0) for y in (-25.0, 25.0)]
    plate = Plate(
        length=110.0, width=60.0, thickness=thickness, corner=(-55.0, -30.0),
        measured=tuple(places),
    )  # fmt: skip
    return Order(
        name="plain blade 60x20",
        blade=Blade(
            outline=rounded(-30, -10, 30, 10, 4),
            thickness=thickness,
            bores=(Bore(name="B1", centre=(-15.0, 0.0), diameter=5.0),),
            slots=(Slot(name="S1", outline=rounded(5, -3, 20, 3, 2.6)),),
        ),
        setup=Setup(plate=plate, mill=Mill(), datum=(plate.corner, plate.corner)),
        cutters=(cutter(1, corner=corner), cutter(2, corner=corner)),
        cutting=(
            cutting(1, "bore"), cutting(1, "slot"), cutting(1, "rough"), cutting(2, "finish"),
            cutting(2, "fit"),
        ),
        tabs=Tabs(count=2),
        trench=Trench(depth_a=0.6, overlap=max(0.2, 2 * corner + 0.1), width=3.9),
    )  # fmt: skip
