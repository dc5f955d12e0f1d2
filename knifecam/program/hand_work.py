"""Where a hand comes near the spindle: stops, cutters put in, and the check of their lengths.

Hands work with the cutter high (``mill.change_height``). A cutter just put in comes down to the
gap for a block by feed, from a stop there, since nothing has proved its length yet.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

import numpy as np

from knifecam.curve.curve import Floats
from knifecam.planning.plan import Cut
from knifecam.planning.stop_texts import block_under, fit, read_gap, stays, take_block
from knifecam.program.program_head import comment_lines, comment_text, cutter_phrase
from knifecam.program.program_limits import LOWERING_FEED_MM_MIN, UNPROVED_FEED_MM_MIN
from knifecam.program.rs274_words import integer, unit_of, word
from knifecam.shop import Order

STOP_WORD, OPTIONAL_STOP_WORD = "M0", "M1"

MESSAGE = 70
"""Characters of a message, which the control shows while the program stands."""


def stop(words: tuple[str, ...], halt: str = STOP_WORD) -> list[str]:
    """Return a stop; the first phrase is a message right before it, the others are comments.

    ``halt`` is `STOP_WORD`, or `OPTIONAL_STOP_WORD` for a stop that a switch of the mill leaves
    out. A message is a comment that begins with ``MSG,`` (NISTIR 6556, section 3.3).
    """
    if not words:
        return []
    main, rest = comment_text(words[0]), words[1:]
    lines = [line for one in rest for line in comment_lines(one)]
    if len(main) > MESSAGE:
        lines = [*comment_lines(main), *lines]
        main = textwrap.shorten(main, MESSAGE, placeholder=" ...")
    return [*lines, f"(MSG, {main})", halt]


def slow(order: Order, z: float, rate: float) -> str:
    """Return the line that feeds Z alone to a program height, at ``rate`` mm/min or the mill's."""
    unit = unit_of(order)
    feed = float(unit.feeds(np.array(min(rate, order.setup.mill.feed_high))))
    return f"G1 {unit.word('Z', z)} {word('F', feed, unit.feed_decimals)}"


def goes_in(order: Order, cut: Cut, before: Cut | None) -> bool:
    """Whether a hand puts a cutter in before a cut that follows ``before``, None for the first."""
    changed = before is None or before.cutter != cut.cutter
    return cut.fresh or (order.setup.mill.change_by_hand and changed)


def cutter_change(
    order: Order, cut: Cut, before: Cut | None, *, edge: tuple[int, int]
) -> list[str]:
    """Return the lines that bring a cut's cutter into the spindle, a hand's stop before each.

    A mill that changes by itself first brings the worn cutter, so that a hand can take it out.
    Where the cutter stays, an optional stop asks for it: the cut may be the first after a restart.
    ``edge`` is which of its number's cutters makes the cut, and of how many.
    """
    call = f"{integer('T', cut.cutter)} M6"
    by_hand = order.setup.mill.change_by_hand
    if goes_in(order, cut, before):
        words = (
            fit(cut.cutter, fresh=cut.fresh, edge=edge),
            cutter_phrase(order.cutter(cut.cutter), unit_of(order)),
        )
        worn = cut.fresh and not by_hand and before is not None and before.cutter != cut.cutter
        return [*([call] if worn else []), *stop(words), call]
    return [*stop((stays(cut.cutter),) if by_hand else (), OPTIONAL_STOP_WORD), call]


def move_over(order: Order, number: int, place: Sequence[float] | Floats, up: float) -> list[str]:
    """Return how the tip comes over a place (x, y): Z alone to ``up`` by feed, then X and Y."""
    unit = unit_of(order)
    return [
        f"G43 {integer('H', number)}",
        slow(order, up, UNPROVED_FEED_MM_MIN),
        f"G0 {unit.word('X', float(place[0]))} {unit.word('Y', float(place[1]))}",
    ]


def length_check(
    order: Order, number: int, place: Sequence[float] | Floats, *, face: float, up: float, halt: str
) -> list[str]:
    """Return the stops that prove a cutter's length over the place where it stands, ``up`` high.

    ``face`` is the plate's upper face, all in the program's frame. The gap is read high up first,
    then the tip feeds down for the block and lifts before a hand takes the block away.
    """
    unit, gap = unit_of(order), order.setup.gap_height
    at = [unit.told(float(v), 1) for v in place]
    return [
        *stop((read_gap(number, unit.told(up - face, 2)),), halt),
        slow(order, face + gap, LOWERING_FEED_MM_MIN),
        *stop((block_under(number, unit.told(gap, 2), at),), halt),
        f"G0 {unit.word('Z', up)}",
        *stop((take_block(unit.told(gap, 2)),), halt),
    ]


def move_aside(order: Order, side: str) -> list[str]:
    """Return the line to the place where hands work, empty where the order names none."""
    places = order.setup.mill.change_place
    place = places["AB".index(side)] if places else None
    if place is None:
        return []
    unit = unit_of(order)
    return [f"G0 {unit.word('X', place[0])} {unit.word('Y', place[1])}"]
