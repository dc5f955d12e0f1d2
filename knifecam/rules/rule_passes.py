"""The rules together: what contradicts itself, what cannot be made, and what a maker should know."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from knifecam.quantity import mm, stated, told
from knifecam.rules.bevel_cutter_rules import bevels
from knifecam.rules.clamp_rules import check_clamps, clamps, tall
from knifecam.rules.cutter_rules import (
    above_proposals,
    check_cutters,
    check_cutting,
    check_excess,
    check_stages,
    depths,
    ramps,
    stages,
)
from knifecam.rules.edge_break_rules import edge_breaks
from knifecam.rules.jimping_rules import jimping
from knifecam.rules.opening_rules import bores, check_boring, fixture_depths, relieved
from knifecam.rules.rules_limits import HARDNESSES_HRC
from knifecam.rules.setup_rules import (
    border_left,
    check_blade_in_plate,
    check_mill,
    check_plate,
    check_reference_bores,
    check_registration,
    check_setup,
    travel,
)
from knifecam.rules.tab_rules import check_tabs, necks, tabs
from knifecam.rules.tolerance_rules import approach, over_bed
from knifecam.rules.trench_rules import check_trench, loops, meeting, trench
from knifecam.rules.workholding_rules import check_workholding, holding, screws
from knifecam.shop.order_record import Order
from knifecam.shop.shop_limits import ALLOWED_SPREAD_MM


def contradictions(order: Order) -> tuple[str, ...]:
    """Return everything in ``order`` that contradicts itself, one line each; empty when sound."""
    return tuple(told(line, order.units) for line in _contradicting(order))


def feasible(order: Order) -> tuple[str, ...]:
    """Return why the order cannot be made, one line a reason; nothing when it can."""
    return tuple(told(line, order.units) for line in _unfeasible(order))


def refused(order: Order) -> tuple[str, ...]:
    """Return both, each line with the marks of what it rests on and in both units."""
    return (*_contradicting(order), *_unfeasible(order))


def _contradicting(order: Order) -> Iterator[str]:
    blade, setup = order.blade, order.setup
    yield from (
        *check_cutters(order.cutters),
        *check_mill(setup.mill),
        *check_cutting(order.cutting, order.cutters, setup.mill),
        *check_excess(order.cutting, order.cutters, blade.steel.hardness_hrc),
        *check_stages(order.cutting, blade, setup.registration, order.tabs, order.cutters),
        *check_plate(setup.plate),
        *check_blade_in_plate(setup.plate, blade),
        *check_tabs(order.tabs, blade),
        *check_trench(order.trench, blade),
        *check_boring(order.boring, blade, setup),
        *check_workholding(setup.workholding, blade),
        *check_registration(setup.registration),
        *check_reference_bores(setup.registration, setup.plate, blade, order.trench),
        *check_setup(setup, order.cutters),
        *check_clamps(setup.clamps),
    )


Rule = Callable[[Order], Iterator[str]]


def _unfeasible(order: Order) -> Iterator[str]:
    return (line for rule in RULES for line in rule(order))


RULES: tuple[Rule, ...] = (
    stages,
    loops,
    trench,
    meeting,
    over_bed,
    approach,
    tabs,
    depths,
    bores,
    fixture_depths,
    relieved,
    border_left,
    clamps,
    tall,
    ramps,
    screws,
    holding,
    travel,
    jimping,
    edge_breaks,
    necks,
    bevels,
)


def remarks(order: Order) -> tuple[str, ...]:
    """Return what lies outside of what is usual, or was left to chance."""
    drawn = [f"drawing: {note}" for note in order.drawn_notes]
    found = (*drawn, *_cutting(order), *_hardness(order), *_edge(order), *_plate(order))
    return tuple(told(line, order.units) for line in found)


def _cutting(order: Order) -> Iterator[str]:
    for one in above_proposals(order.cutting, order.cutters, order.blade.steel.hardness_hrc):
        yield f"{one.said()}; check it before a cutter breaks"


def _hardness(order: Order) -> Iterator[str]:
    hardness, (low, high) = order.blade.steel.hardness_hrc, HARDNESSES_HRC
    if not low <= hardness <= high:
        yield (
            f"{stated('blade.hardness', hardness):g} HRC: speeds, feeds and stepdowns are proposed for"
            f" {low:g} to {high:g} HRC, the same for all up to 62; give your own under [[cutting]]"
        )


def _edge(order: Order) -> Iterator[str]:
    tabs, blade = order.tabs, order.blade
    if tabs.stations or not tabs.count or blade.bevels:
        return
    if not (tabs.no_tabs or tabs.as_milled):
        yield (
            "no stretch of the outline is kept free of tabs, so they may stand on the cutting edge:"
            " name the edge in outline.no_tabs, or draw it on a layer named in drawing.no_tabs"
        )


def _plate(order: Order) -> Iterator[str]:
    plate, mill = order.setup.plate, order.setup.mill
    if plate.spread > ALLOWED_SPREAD_MM:
        yield (
            f"{stated('plate.spread', mm(plate.allowed_spread)):g} lets a plate pass whose thickness"
            f" differs by {mm(plate.spread):.3f}: tabs and land differ by as much"
        )
    for axis, name, size in ((0, "length", plate.length), (1, "width", plate.width)):
        if size > mill.travel[axis]:
            yield (
                f"plate.{name}={mm(size):g} is more than the mill moves in {'XY'[axis]},"
                f" {mm(mill.travel[axis]):g}: see that it clears column and covers"
            )
