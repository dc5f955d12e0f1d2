"""The mill: what it can move, how fast, and the words it understands."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from knifecam.record import OneOf, Plain, Record, Within

Way = Annotated[float, Within(above=0.0, most=2000.0)]
Far = Annotated[float, Within(least=-5000.0, most=5000.0)]
Machine = tuple[Far, Far, Far]
Seen = tuple[Far, Far]
Speed = Annotated[float, Within(unit="rev/min", above=0.0, most=200000.0)]
Rate = Annotated[float, Within(unit="mm/min", above=0.0, most=200000.0)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mill(Record):
    """A three-axis mill with a vertical spindle.

    ``travel`` is the way of X, Y and Z in mm, ``travel_from`` where it begins: the lowest machine
    coordinate of each axis. ``machine_zero`` gives, for side A and side B, where the program's zero
    lies in machine coordinates; None when unknown, and then travel can be judged by its extent only.
    ``rapid_height`` and ``approach_gap`` are mm above the highest thing on the table and above the
    surface at the place. ``change_height`` is how far above the plate the tip stands while hands
    work, and ``change_place`` (x, y) in each side's program where it goes for that, None to stay
    where it is. ``air_word`` is "M7" or "M8"; ``units`` "mm" or "in", what its programs count in.
    """

    name: Annotated[str, Plain()] = "mill"
    units: Annotated[str, OneOf(words=("mm", "in"))] = "mm"
    travel: tuple[Way, Way, Way] = (400.0, 250.0, 200.0)
    travel_from: Machine = (0.0, 0.0, 0.0)
    machine_zero: tuple[Machine | None, Machine | None] | None = None
    spindle_low: Speed = 1000.0
    spindle_high: Speed = 24000.0
    feed_high: Annotated[float, Within(unit="mm/min", above=0.0, most=100000.0)] = 3000.0
    rapid: tuple[Rate, Rate, Rate] = (5000.0, 5000.0, 3000.0)
    acceleration: Annotated[float, Within(unit="mm/s^2", above=0.0, most=50000.0)] = 500.0
    rapid_height: Annotated[float, Within(least=5.0, most=200.0)] = 5.0
    approach_gap: Annotated[float, Within(above=0.0, most=10.0)] = 0.5
    spin_up: Annotated[float, Within(unit="s", least=0.0, most=60.0)] = 3.0
    change_by_hand: bool = True
    change_height: Annotated[float, Within(least=5.0, most=500.0)] = 50.0
    change_place: tuple[Seen | None, Seen | None] | None = None
    air_word: Annotated[str, OneOf(words=("M7", "M8"))] = "M7"
