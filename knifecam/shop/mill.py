"""The mill: what it can move, how fast, and the words it understands."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Mill:
    """A three-axis mill with a vertical spindle.

    ``travel`` is the way of X, Y and Z in mm, ``travel_from`` where it begins: the lowest machine
    coordinate of each axis. ``machine_zero`` gives, for side A and side B, where the program's zero
    lies in machine coordinates; None when unknown, and then travel can be judged by its extent only.
    ``rapid_height`` and ``approach_gap`` are mm above the highest thing on the table and above the
    surface at the place. ``change_height`` is how far above the plate the tip stands while hands
    work, and ``change_place`` (x, y) in each side's program where it goes for that, None to stay
    where it is. ``air_word`` is "M7" or "M8"; ``units`` "mm" or "in", what its programs count in.
    """

    name: str = "mill"
    units: str = "mm"
    travel: tuple[float, float, float] = (400.0, 250.0, 200.0)
    travel_from: tuple[float, float, float] = (0.0, 0.0, 0.0)
    machine_zero: (
        tuple[tuple[float, float, float] | None, tuple[float, float, float] | None] | None
    ) = None
    spindle_low: float = 1000.0
    spindle_high: float = 24000.0
    feed_high: float = 3000.0
    rapid: tuple[float, float, float] = (5000.0, 5000.0, 3000.0)
    acceleration: float = 500.0
    rapid_height: float = 5.0
    approach_gap: float = 0.5
    spin_up: float = 3.0
    change_by_hand: bool = True
    change_height: float = 50.0
    change_place: tuple[tuple[float, float] | None, tuple[float, float] | None] | None = None
    air_word: str = "M7"
