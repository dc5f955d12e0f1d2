"""The plan: both sides' cuts in order, cutters needed, time and waste."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from knifecam.curve import Motions
from knifecam.planning.planning_limits import WASTE_WORTH_SHARE
from knifecam.shop import Order
from knifecam.shop.order_record import BORE, FIT, SLOT
from knifecam.shop.side_view import Floors


@dataclass(frozen=True, slots=True, kw_only=True)
class Tab:
    """One tab: where it stands on the outline, and its sizes in mm.

    ``heading`` rad is the outline's direction there (counter-clockwise round the blade, part
    frame); ``waist`` the width of the narrow face, ``wide`` that of the wide face, ``stub`` the
    width left on the blade; ``section`` mm2 at the waist, ``moment`` N mm that snaps it, least and
    greatest, for bend strengths of 2500 and 3500 N/mm2 (common practice). A tab that is necked at
    the wall leaves a stub as thick as its ``neck`` that stands out by ``stub_height``; its section
    and moment are the neck's.
    """

    station: float
    place: tuple[float, float]
    heading: float
    waist: float
    thickness: float
    wide: float
    stub: float
    section: float
    moment: tuple[float, float]
    neck: float = 0.0
    stub_height: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """One cutter doing one thing on one side.

    ``motions`` are in the side's own frame (z toward the spindle, 0 in the mid-plane), begin and
    end at the rapid height. ``stop`` is what the maker must do before it and ``after`` what after
    it, empty for nothing. ``fresh``: a fresh cutter of the same number goes in first. ``minutes``
    is the time in contact as planned (feed time below the face).
    """

    name: str
    side: str
    cutter: int
    stage: str
    spindle: float
    motions: Motions
    minutes: float
    bottom: float
    stop: tuple[str, ...] = ()
    after: tuple[str, ...] = ()
    fresh: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Both sides' cuts, what they rest on, and what the maker should know."""

    cuts: tuple[Cut, ...]
    floors: Floors
    tabs: tuple[Tab, ...]
    notes: tuple[str, ...] = ()

    def side(self, side: str) -> tuple[Cut, ...]:
        """Return the cuts of one side in order."""
        return tuple(cut for cut in self.cuts if cut.side == side)


OPENING_STAGES = {"slots": (SLOT,), "bores": (BORE, FIT)}
"""Openings, and the stages that mill all that is in them to chips."""


def waste_notes(cuts: Sequence[Cut]) -> Iterator[str]:
    """Yield which openings take more than half of the contact time: no slug of theirs may stay.

    A piece left standing in an opening would come loose beside the turning cutter.
    """
    whole = sum(cut.minutes for cut in cuts)
    for name, stages in OPENING_STAGES.items():
        minutes = sum(cut.minutes for cut in cuts if cut.stage in stages)
        if minutes > WASTE_WORTH_SHARE * whole:
            yield (
                f"{name} take {minutes:.0f} of {whole:.0f} min of cutting: they are milled out whole,"
                " since a slug would come loose; openings cut before the plate is hardened save that"
            )


def cutters_used_on(plan: Plan, number: int, side: str) -> int:
    """Return how many cutters of a number one side works with, one after the other."""
    cuts = [cut for cut in plan.side(side) if cut.cutter == number]
    return sum(cut.fresh for cut in cuts) + int(bool(cuts) and not cuts[0].fresh)


def carried_from_side_a(plan: Plan, number: int) -> bool:
    """Whether side B begins with the cutter of that number that side A ended with."""
    cuts = [cut for cut in plan.side("B") if cut.cutter == number]
    return bool(cuts) and not cuts[0].fresh and cutters_used_on(plan, number, "A") > 0


def which_edge(plan: Plan, cut: Cut) -> tuple[int, int]:
    """Return which of a number's cutters makes a cut, from 1 through both sides, and of how many."""
    cuts = [one for one in plan.cuts if one.cutter == cut.cutter]
    place = next(k for k, one in enumerate(cuts) if one is cut)
    fresh = sum(one.fresh for one in cuts[: place + 1])
    return fresh + int(not cuts[0].fresh), cutters_needed(plan, cut.cutter)


def cutters_needed(plan: Plan, number: int) -> int:
    """Return how many cutters of a number the whole job takes."""
    used = sum(cutters_used_on(plan, number, side) for side in "AB")
    return used - int(carried_from_side_a(plan, number))


def cutter_lines(order: Order, plan: Plan) -> Iterator[str]:
    """Yield how many cutters of each number the job takes, for how long, and what it leaves alone."""
    for number in dict.fromkeys(cut.cutter for cut in plan.cuts):
        minutes = sum(cut.minutes for cut in plan.cuts if cut.cutter == number)
        used = [(side, n) for side in "AB" if (n := cutters_used_on(plan, number, side))]
        needed, carried = cutters_needed(plan, number), carried_from_side_a(plan, number)
        where = ", ".join(f"{n} on side {side}" for side, n in used)
        if carried and needed == 1:
            where = "used on both sides"
        elif carried:
            a, b = (n for _, n in used)
            more = f"then {b - 1} more" if b > 1 else "no other"
            where = f"{a} on side A; side B starts with the last of them, {more}"
        yield f"cutter {number}: {needed} needed ({where}), about {minutes:.0f} min of cutting"
    unused = _unused(order, plan)
    if unused:
        yield f"not used: {'; '.join(unused)}"


def _unused(order: Order, plan: Plan) -> list[str]:
    """Return the cutters and the stages of cutters that no cut of the plan is made with."""
    at_work = {(cut.cutter, cut.stage) for cut in plan.cuts}
    working = {number for number, _ in at_work}
    idle = [str(c.number) for c in order.cutters if c.number not in working]
    numbers = [f"cutter{'s' if len(idle) > 1 else ''} {' and '.join(idle)}"] if idle else []
    return numbers + [
        f'cutter {c.cutter} in stage "{c.stage}"'
        for c in order.cutting
        if c.cutter in working and (c.cutter, c.stage) not in at_work
    ]
