"""The order of work on both sides, and whether cutters and holders pass what stands on the plate."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from knifecam.blade import EdgeBreak
from knifecam.curve import Motions
from knifecam.curve.curve import Floats
from knifecam.curve.motions import sampled_places
from knifecam.errors import PlanError
from knifecam.paths.edge_break_motions import breaks_on
from knifecam.planning.bevel_cuts import BevelPasses, bevel_cuts, bevel_passes_on
from knifecam.planning.bevel_notes import bevel_notes
from knifecam.planning.cleared_cuts import (
    clear_cuts,
    edge_through_cuts,
    keep_tabs_off,
    uncleared_trench_cuts,
    wall_cuts,
)
from knifecam.planning.cleared_stretches import (
    ClearedStretch,
    cleared_stretches,
    refuse_outside_plate,
    refuse_tabs_on_cleared,
)
from knifecam.planning.edge_break_cuts import break_cuts, break_notes, groove_depth, with_groove
from knifecam.planning.neck_cuts import SNAP_WAY, neck_cuts, neck_room, necked
from knifecam.planning.opening_cuts import bore_cuts, notch_cuts, slot_cuts
from knifecam.planning.outline_cuts import groove_cuts, outline_cuts, side_outline
from knifecam.planning.plan import Cut, Plan, Tab
from knifecam.planning.planning_limits import PASS_STEP_MM
from knifecam.planning.stop_texts import CLAMP_NOW, SCREWS_IN, screws
from knifecam.planning.tab_places import place_tabs, room_for_tab
from knifecam.quantity import mm
from knifecam.rules.clamp_rules import (
    Obstacle,
    clamps_on,
    height_free_within,
    screw_heads,
    too_tall_line,
    widest_within,
)
from knifecam.rules.rules_limits import OBSTACLE_GAP_MM
from knifecam.shop import Cutter, Order
from knifecam.shop.side_view import Floors, SideContext, floors


def lay_out(order: Order) -> Plan:
    """Return both sides' cuts in the order they are made.

    Side A: reference bores; bores; slots; jimping; clearing beside the bevels' edges; the outline's
    trench and its finished wall; edge breaks; bevels in their stages, plunges last. Side B: bores,
    slots and jimping opened, screws put in where they hold the blade; a groove for the edge breaks,
    and these; the edges cleared, opened through and their walls finished while they are thick;
    bevels; the rest of the trench to its web, and last the wall, which shears the web and leaves
    the tabs.

    Raises
    ------
    PlanError
        Where no path does what the order wants.
    """
    depth = floors(order)
    a, b = SideContext(order=order, side="A"), SideContext(order=order, side="B")
    grounds = {bench.side: _grounds(bench) for bench in (a, b)}
    opened = cleared_stretches(order, grounds, depth.a_rough)
    refuse_outside_plate(order, opened)
    refuse_tabs_on_cleared(order, opened)
    cutters = [order.cutter(c.cutter) for c in order.cutting if c.stage in ("rough", "finish")]
    room = room_for_tab(order, cutters, depth.b_finish - depth.tab)
    if order.tabs.neck > 0:
        room = max(room, neck_room(order, depth))
    tabs, notes = place_tabs(keep_tabs_off(order, opened), room)
    if order.tabs.neck > 0:
        tabs = tuple(necked(order, tab) for tab in tabs)
        notes = (*notes, SNAP_WAY)
    used: dict[int, float] = {}
    blade = order.blade
    side_a = [
        *bore_cuts(a, depth, order.setup.registration.bores, name="REFERENCE BORES", used=used),
        *bore_cuts(a, depth, blade.bores, name="BORES", used=used),
        *slot_cuts(a, depth, blade.slots, name="SLOTS", used=used),
        *notch_cuts(a, depth, used),
        *_outline_a(a, depth, tabs, opened, used),
        *break_cuts(a, depth, _breaks(a), used),
        *bevel_cuts(a, grounds["A"], used),
    ]
    _renew(order, used)
    side_b = [
        *bore_cuts(b, depth, blade.bores, name="BORES OPENED", used=used),
        *slot_cuts(b, depth, blade.slots, name="SLOTS OPENED", used=used),
        *_held_b(b, depth, tabs, opened, grounds["B"], used),
    ]
    refuse_touching(order, (*side_a, *side_b))
    notes = (*notes, *break_notes(order, depth), *bevel_notes(order, opened))
    return Plan(cuts=(*side_a, *side_b), floors=depth, tabs=tabs, notes=notes)


def _breaks(bench: SideContext) -> tuple[EdgeBreak, ...]:
    """Return all edge breaks of a side, those of bores and slots first."""
    sides = (breaks_on(bench.order, bench.side, openings=one) for one in (True, False))
    return tuple(broken for side in sides for broken in side)


def _held_b(
    bench: SideContext,
    depth: Floors,
    tabs: Sequence[Tab],
    opened: Sequence[ClearedStretch],
    grounds: Sequence[BevelPasses],
    used: dict[int, float],
) -> list[Cut]:
    """Return what side B cuts after bores and slots, screws put in before anything of the outline.

    Bores under screws are broken before. Where the outline's edge is broken, a groove with its
    finished wall comes first.
    """
    order = bench.order
    screwed = order.setup.workholding.kind == "bores"
    before = break_cuts(bench, depth, breaks_on(order, "B", openings=True), used) if screwed else []
    notches = notch_cuts(bench, depth, used)
    groove: list[Cut] = []
    if breaks_on(order, "B", openings=False):
        groove = groove_cuts(bench, tabs, groove_depth(order), used)
        bench = with_groove(bench)
    rest = breaks_on(order, "B", openings=False) if screwed else _breaks(bench)
    cuts = [
        *notches,
        *groove,
        *break_cuts(bench, depth, rest, used),
        *_outline_b(bench, depth, tabs, opened, grounds, used),
        *neck_cuts(bench, depth, tabs, used),
    ]
    return [*before, *_screwed(order, cuts)]


def _grounds(bench: SideContext) -> tuple[BevelPasses, ...]:
    """Return all bevels' passes on one side."""
    bevels = bench.order.blade.bevels
    return tuple(bevel_passes_on(bench, bevel) for bevel in bevels if bevel.on(bench.side))


def _outline_a(
    bench: SideContext,
    depth: Floors,
    tabs: Sequence[Tab],
    opened: Sequence[ClearedStretch],
    used: dict[int, float],
) -> list[Cut]:
    """Return side A's clearing beside the edges, its trench and its wall."""
    cleared = [one for one in opened if one.clear_a]
    if not cleared:
        return outline_cuts(bench, depth, tabs, used)
    seen = side_outline(bench, cleared)
    return [
        *clear_cuts(seen, used),
        *uncleared_trench_cuts(seen, depth, tabs, used),
        *wall_cuts(seen, depth, tabs, used),
    ]


def _outline_b(
    bench: SideContext,
    depth: Floors,
    tabs: Sequence[Tab],
    opened: Sequence[ClearedStretch],
    grounds: Sequence[BevelPasses],
    used: dict[int, float],
) -> list[Cut]:
    """Return side B's cuts round the outline: the edges opened, the bevels, then what holds it."""
    order = bench.order
    if not opened:
        return _clamped(order, outline_cuts(bench, depth, tabs, used))
    seen = side_outline(bench, opened)
    return [
        *clear_cuts(seen, used),
        *edge_through_cuts(seen, used),
        *bevel_cuts(bench, grounds, used),
        *_clamped(
            order,
            [*uncleared_trench_cuts(seen, depth, tabs, used), *wall_cuts(seen, depth, tabs, used)],
        ),
    ]


def _renew(order: Order, used: dict[int, float]) -> None:
    """Let a cutter that is worn by half count as worn out, so that side B begins with a fresh one."""
    for number, minutes in used.items():
        life = min(c.life for c in order.cutting if c.cutter == number)
        if minutes > life / 2:
            used[number] = life


def _clamped(order: Order, cuts: list[Cut]) -> list[Cut]:
    """Return the cuts that free the blade, the far end clamped before them where that is ordered."""
    if not order.setup.workholding.tip_clamp or not cuts:
        return cuts
    stop = (
        CLAMP_NOW,
        "CLEAR OF THE TRENCH; NO CUT IS PLANNED ROUND IT AND NONE IS PROVED",
    )
    return [replace(cuts[0], stop=(*stop, *cuts[0].stop)), *cuts[1:]]


def _screwed(order: Order, cuts: list[Cut]) -> list[Cut]:
    hold = order.setup.workholding
    if hold.kind != "bores":
        return cuts
    stop = (
        screws(hold.screws),
        f"HEADS AT MOST {mm(hold.head_diameter):.1f} WIDE AND {mm(hold.head_height):.1f} HIGH",
        "THEIR THREADS IN THE FIXTURE LIE AT THE PLACES AS SEEN ON SIDE B",
    )
    return [replace(cuts[0], stop=(*cuts[0].stop, *stop)), *cuts[1:]]


def refuse_touching(order: Order, cuts: Sequence[Cut]) -> None:
    """Raise `PlanError` where a cutter or its holder would run into a clamp or a screw's head.

    Every place of every pass is looked at, rapids too; heads stand from the stop on at which the
    screws are put in. One line for each thing and cutter tells the worst.
    """
    worst: dict[tuple[str, int], _Lack] = {}
    screwed = False
    clamps = {side: tuple(clamps_on(order, side)) for side in "AB"}
    for cut in cuts:
        screwed = screwed or any(words.startswith(SCREWS_IN) for words in cut.stop)
        for thing in (*clamps[cut.side], *(screw_heads(order) if screwed else ())):
            found, key = _lack(order, cut, thing), (thing.name, cut.cutter)
            if found is not None:
                worst[key] = found if key not in worst else worst[key].with_(found)
    if worst:
        raise PlanError([one.told() for one in worst.values()])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Lack:
    """How much further away, or lower, a thing would have to be for a cutter to pass it, mm."""

    thing: Obstacle
    cutter: Cutter
    name: str
    further: float
    lower: float

    def with_(self, other: _Lack) -> _Lack:
        """Return the worse of both, as low as both want it."""
        worse = max(self, other, key=lambda one: one.further)
        return replace(worse, lower=max(self.lower, other.lower))

    def told(self) -> str:
        where = f"in the cut {self.name}"
        return too_tall_line(
            self.thing, self.cutter, where=where, lower=self.lower, further=self.further
        )


def _lack(order: Order, cut: Cut, thing: Obstacle) -> _Lack | None:
    """Return what a cut lacks beside a thing, None where it passes."""
    cutter, top = order.cutter(cut.cutter), order.blade.thickness / 2 + thing.height
    places = _near(cut.motions, thing, max(cutter.holder / 2, cutter.shank / 2, cutter.radius), top)
    if not len(places):
        return None
    above, room = top - places[:, 2] + OBSTACLE_GAP_MM, thing.away(places[:, :2]) - OBSTACLE_GAP_MM
    further = float(np.max(widest_within(cutter, above) - room))
    if not further > 0:
        return None
    lower = float(np.max(above - height_free_within(cutter, room)))
    return _Lack(thing=thing, cutter=cutter, name=cut.name, further=further, lower=lower)


def _near(motions: Motions, thing: Obstacle, widest: float, top: float) -> Floats:
    """Return the places (K, 3) of all motions that may come within ``widest`` mm below ``top``."""
    spread = np.where(motions.turns != 0.0, 2 * motions.radii, 0.0)[:, None]
    first, last = motions.start[:, :2], motions.stop[:, :2]
    reach = widest + thing.round_ + OBSTACLE_GAP_MM + spread
    close = (np.minimum(first, last) - reach < thing.high) & (
        np.maximum(first, last) + reach > thing.low
    )
    low = np.minimum(motions.start[:, 2], motions.stop[:, 2]) < top
    kept = np.flatnonzero(close.all(axis=1) & low)
    return sampled_places(motions.only(kept), PASS_STEP_MM) if len(kept) else np.zeros((0, 3))
