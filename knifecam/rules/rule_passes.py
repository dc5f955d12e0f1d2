"""The rules together: what contradicts itself, and what cannot be made."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from knifecam.quantity import told
from knifecam.rules.bevel_cutter_rules import bevels
from knifecam.rules.clamp_rules import clamps, of_keep_outs, tall
from knifecam.rules.cutter_rules import (
    depths,
    of_cutters,
    of_cutting,
    of_excess,
    of_stages,
    ramps,
    stages,
)
from knifecam.rules.edge_break_rules import edge_breaks
from knifecam.rules.jimping_rules import jimping
from knifecam.rules.opening_rules import bed, bores, of_boring, relieved
from knifecam.rules.registration_rules import of_reference, of_registration
from knifecam.rules.setup_rules import (
    frame,
    of_mill,
    of_plate,
    of_plate_and_blade,
    of_setup,
    travel,
)
from knifecam.rules.tab_rules import necks, of_tabs, tabs
from knifecam.rules.tolerance_rules import approach, over_bed
from knifecam.rules.trench_rules import loops, meeting, of_trench, trench
from knifecam.rules.workholding_rules import holding, of_hold, screws
from knifecam.shop.order_record import Order


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
        *of_cutters(order.cutters),
        *of_mill(setup.mill),
        *of_cutting(order.cutting, order.cutters, setup.mill),
        *of_excess(order.cutting, order.cutters, blade.steel.hardness_hrc),
        *of_stages(order.cutting, blade, setup.registration, order.tabs, order.cutters),
        *of_plate(setup.plate),
        *of_plate_and_blade(setup.plate, blade),
        *of_tabs(order.tabs, blade),
        *of_trench(order.trench, blade),
        *of_boring(order.boring, blade, setup),
        *of_hold(setup.hold, blade),
        *of_registration(setup.registration),
        *of_reference(setup.registration, setup.plate, blade, order.trench),
        *of_setup(setup, order.cutters),
        *of_keep_outs(setup.keep_out),
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
    bed,
    relieved,
    frame,
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
