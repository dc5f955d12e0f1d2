"""The order of work on both sides."""

from __future__ import annotations

from dataclasses import replace

from knifecam.planning.bench import Bench
from knifecam.planning.floor import floors
from knifecam.planning.notches import notch_cuts
from knifecam.planning.openings import bore_cuts, slot_cuts
from knifecam.planning.outline import outline_cuts
from knifecam.planning.plan import Cut, Plan
from knifecam.planning.tabs import place_tabs, room_for_tab
from knifecam.shop import Order


def lay_out(order: Order) -> Plan:
    """Return both sides' cuts in the order they are made.

    Side A: reference bores; bores; slots; jimping; the outline's trench and its finished wall. Side
    B: bores, slots and jimping opened, screws put in where they hold the blade, the trench to its
    web, and last the wall, which shears the web and leaves the tabs.

    Raises
    ------
    PlanError
        Where no path does what the order wants.
    """
    depth = floors(order)
    cutters = [order.cutter(c.cutter) for c in order.cutting if c.stage in ("rough", "finish")]
    lift = depth.b_finish - depth.tab
    tabs, notes = place_tabs(order, room_for_tab(order, cutters, lift))
    used: dict[int, float] = {}
    blade = order.blade
    a, b = Bench(order=order, side="A"), Bench(order=order, side="B")
    side_a = [
        *bore_cuts(a, depth, order.setup.registration.bores, name="REFERENCE BORES", used=used),
        *bore_cuts(a, depth, blade.bores, name="BORES", used=used),
        *slot_cuts(a, depth, blade.slots, name="SLOTS", used=used),
        *notch_cuts(a, depth, used),
        *outline_cuts(a, depth, tabs, used),
    ]
    _renew(order, used)
    side_b = [
        *bore_cuts(b, depth, blade.bores, name="BORES OPENED", used=used),
        *slot_cuts(b, depth, blade.slots, name="SLOTS OPENED", used=used),
        *notch_cuts(b, depth, used),
        *_screwed(order, outline_cuts(b, depth, tabs, used)),
    ]
    return Plan(cuts=(*side_a, *side_b), floors=depth, tabs=tabs, notes=notes)


def _renew(order: Order, used: dict[int, float]) -> None:
    """Let a cutter that is worn by half count as worn out, so that side B begins with a fresh one."""
    for number, minutes in used.items():
        life = min(c.life for c in order.cutting if c.cutter == number)
        if minutes > life / 2:
            used[number] = life


def _screwed(order: Order, cuts: list[Cut]) -> list[Cut]:
    hold = order.setup.hold
    if hold.kind != "bores":
        return cuts
    stop = (
        "PUT THE SCREWS IN NOW: BORES " + ", ".join(hold.screws),
        f"HEADS AT MOST {hold.head_diameter:.1f} WIDE AND {hold.head_height:.1f} HIGH",
        "THEIR THREADS IN THE BED LIE AT THE PLACES AS SEEN ON SIDE B",
    )
    return [replace(cuts[0], stop=(*cuts[0].stop, *stop)), *cuts[1:]]
