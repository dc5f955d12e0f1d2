"""What a maker should know of a plan beside its cuts: cutters to have ready, time in waste."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from knifecam.planning.plan import Cut, Plan
from knifecam.shop.order import BORE, FIT, SLOT

MOST = 0.5
"""Share of the contact time above which the openings' waste is worth a word."""

OPENED = {"slots": (SLOT,), "bores": (BORE, FIT)}
"""Openings, and the stages that mill all that is in them to chips."""


def waste_notes(cuts: Sequence[Cut]) -> Iterator[str]:
    """Yield which openings take more than half of the contact time: no slug of theirs may stay.

    A piece left standing in an opening would come loose beside the turning cutter.
    """
    whole = sum(cut.minutes for cut in cuts)
    for name, stages in OPENED.items():
        minutes = sum(cut.minutes for cut in cuts if cut.stage in stages)
        if minutes > MOST * whole:
            yield (
                f"{name} take {minutes:.0f} of {whole:.0f} min in contact: all that is in them is"
                " milled to chips, since a slug would come loose; a plate opened there before it is"
                " hardened saves that"
            )


def edges_used(plan: Plan, number: int, side: str) -> int:
    """Return how many cutters of a number one side works with, one after the other."""
    cuts = [cut for cut in plan.side(side) if cut.cutter == number]
    return sum(cut.fresh for cut in cuts) + int(bool(cuts) and not cuts[0].fresh)


def kept_from_a(plan: Plan, number: int) -> bool:
    """Whether side B begins with the cutter of that number that side A ended with."""
    cuts = [cut for cut in plan.side("B") if cut.cutter == number]
    return bool(cuts) and not cuts[0].fresh and edges_used(plan, number, "A") > 0


def which_edge(plan: Plan, cut: Cut) -> tuple[int, int]:
    """Return which of a number's cutters makes a cut, from 1 through both sides, and of how many."""
    cuts = [one for one in plan.cuts if one.cutter == cut.cutter]
    place = next(k for k, one in enumerate(cuts) if one is cut)
    fresh = sum(one.fresh for one in cuts[: place + 1])
    return fresh + int(not cuts[0].fresh), cutters_needed(plan, cut.cutter)


def cutters_needed(plan: Plan, number: int) -> int:
    """Return how many cutters of a number the whole job takes."""
    used = sum(edges_used(plan, number, side) for side in "AB")
    return used - int(kept_from_a(plan, number))
