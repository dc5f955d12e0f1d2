"""Clamps and heads of screws: their size, the room beside cuts, and their height.

The cutter's axis comes to within a known distance of them, and they reach a known height above its
tip: within that height nothing may turn that is wider than the distance.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.blade import Bore
from knifecam.curve import Curve, resample, signed_distance
from knifecam.curve.curve import Floats
from knifecam.quantity import NAME, bare, mm, most_mm
from knifecam.rules.rules_limits import CLAMP_ROOM_MM, OBSTACLE_GAP_MM, OUTLINE_CLAMP_SAMPLE_MM
from knifecam.rules.trench_rules import lies_beside
from knifecam.shop import Cutter, Cutting, Order
from knifecam.shop.setup import Clamp
from knifecam.shop.side_view import curve_on, floors, height_on, points_on


def check_clamps(clamps: Sequence[Clamp]) -> Iterator[str]:
    """Yield which keep-outs are empty."""
    for place, box in enumerate(clamps, start=1):
        where = f"clamps[{place}]"
        for axis, low, high in (("x", box.x_low, box.x_high), ("y", box.y_low, box.y_high)):
            if not low < high:
                yield (
                    f"{where}.{axis}=[{bare(low):g}, {bare(high):g}]{NAME} is empty; the first must"
                    " be less"
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class Obstacle:
    """A rectangle on a side's plate, in that side's frame, mm, ``height`` mm above its face.

    Grown by ``round_`` mm: a screw's head is a place grown by its radius.
    """

    name: str
    low: tuple[float, float]
    high: tuple[float, float]
    round_: float
    height: float

    def away(self, places: Floats) -> Floats:
        """Return how far places (K, 2) are from it, (K,) mm; 0 over it."""
        gone = np.maximum(np.maximum(self.low - places, places - self.high), 0.0)
        return np.asarray(np.maximum(np.hypot(*gone.T) - self.round_, 0.0))


def clamps_on(order: Order, side: str) -> Iterator[Obstacle]:
    """Yield the side's clamps in its frame."""
    setup = order.setup
    datum = points_on(side, setup.datum["AB".index(side)], setup.flip)[0]
    for clamp in setup.clamps:
        if clamp.side == side:
            x, y = datum
            yield Obstacle(
                name=f"clamp '{clamp.name}' on side {side}", round_=0.0, height=clamp.height,
                low=(clamp.x_low + x, clamp.y_low + y), high=(clamp.x_high + x, clamp.y_high + y),
            )  # fmt: skip


def screw_heads(order: Order) -> Iterator[Obstacle]:
    """Yield the heads of the screws that hold the blade on side B, in its frame."""
    setup = order.setup
    for bore in order.blade.bores if setup.workholding.kind == "bores" else ():
        if bore.name in setup.workholding.screws:
            x, y = (float(c) for c in points_on("B", bore.centre, setup.flip)[0])
            yield Obstacle(
                name=f"the screw's head over bore '{bore.name}'", low=(x, y), high=(x, y),
                round_=setup.workholding.head_diameter / 2, height=setup.workholding.head_height,
            )  # fmt: skip


def widest_within(cutter: Cutter, above: Floats) -> Floats:
    """Return the greatest radius, mm, that turns within ``above`` mm of the tip, (K,).

    The flutes, then the neck and its cone up to the shank, from ``stickout`` on the holder.
    """
    cone = cutter.neck / 2 + np.maximum(above - cutter.reach, 0.0) * np.tan(cutter.cone)
    shaft = np.maximum(np.minimum(cone, cutter.shank / 2), cutter.radius)
    held = max(cutter.holder / 2, cutter.radius)
    wide = np.where(above > cutter.stickout, held, shaft)
    return np.asarray(np.where(above > 0, wide, 0.0))


def height_free_within(cutter: Cutter, room: Floats) -> Floats:
    """Return how far above the tip nothing turns wider than ``room`` (K,) mm; inf for all of it, (K,)."""
    cone = cutter.reach + (room - cutter.neck / 2) / np.tan(cutter.cone)
    free = np.where(room < max(cutter.radius, cutter.neck / 2), 0.0, cone)
    free = np.where(room >= max(cutter.shank / 2, cutter.radius), np.inf, free)
    free = np.minimum(free, cutter.stickout)
    return np.where(room >= max(cutter.holder / 2, cutter.radius), np.inf, free)


def too_tall_line(
    thing: Obstacle, cutter: Cutter, *, where: str, lower: float, further: float
) -> str:
    """Return why a cutter does not pass a thing, which would have to be lower or further away."""
    low = math.floor(10 * (thing.height - lower) + 1e-6) / 10
    ways = ["let the cutter stick out further"]
    if low > 0:
        ways = [f"take a lower one, of at most {most_mm(low):.1f}", *ways]
    if thing.round_ == 0.0:
        ways = [f"set it {mm(math.ceil(10 * further - 1e-6) / 10):.1f} further away", *ways]
    return (
        f"{thing.name}, height={mm(thing.height):.2f}, stands in the way of cutter {cutter.number}"
        f" {where}: {mm(cutter.diameter):.2f} wide, its shank {mm(cutter.shank):.2f}, its holder"
        f" {mm(cutter.holder):.2f} from {mm(cutter.stickout):.2f} above the tip; {', or '.join(ways)}"
    )


def tall(order: Order) -> Iterator[str]:
    """Cutters, shanks and holders pass what stands above the plate, as deep as they go there."""
    deep, outline = floors(order), order.blade.outline
    for side, floor in (("A", deep.a_rough), ("B", height_on("B", deep.b_finish))):
        seen = curve_on(side, outline, order.setup.flip)
        for thing in clamps_on(order, side):
            gap = _beside(seen, thing)
            yield from _along_trench(order, thing, gap, floor, beyond=True)
            yield from _at_bores(order, thing) if side == "A" else ()
        for head in screw_heads(order) if side == "B" else ():
            yield from _along_trench(order, head, _beside(seen, head), floor, beyond=False)


def _beside(outline: Curve, thing: Obstacle) -> float:
    """Return how far a thing stands from the outline's wall, mm."""
    return float(thing.away(resample(outline, OUTLINE_CLAMP_SAMPLE_MM)[1]).min())


def _along_trench(
    order: Order, thing: Obstacle, gap: float, floor: float, *, beyond: bool
) -> Iterator[str]:
    """Yield why the trench's cutters do not pass a thing ``gap`` mm off the wall.

    It stands ``beyond`` the trench, or on the blade, on the wall's other side.
    """
    for stage in ("rough", "finish"):
        for entry in order.cuttings(stage):
            cutter = order.cutter(entry.cutter)
            room = gap - _outermost(order, entry, cutter) if beyond else gap + cutter.radius
            yield from _passing(order, thing, cutter, room, floor, f"in stage '{stage}'")


def _outermost(order: Order, entry: Cutting, cutter: Cutter) -> float:
    """Return how far from the wall the axis goes, mm."""
    if entry.stage == "finish":
        return cutter.radius
    return max(cutter.radius + entry.allowance, order.trench.width - cutter.radius)


def _at_bores(order: Order, thing: Obstacle) -> Iterator[str]:
    """Yield why no cutter that bores on side A passes a clamp there."""
    deep, half = floors(order), order.blade.thickness / 2
    for bore in (*order.blade.bores, *order.setup.registration.bores):
        if bore.both_sides:
            continue  # it stops midway; what its passes meet is measured as they are planned
        floor = deep.a_bore if bore.depth is None else half - bore.depth
        away = float(thing.away(np.array([bore.centre]))[0])
        lines: list[str] = []
        for entry in order.cuttings("bore"):
            cutter = order.cutter(entry.cutter)
            room = away - (bore.diameter / 2 - cutter.radius)
            found = list(_passing(order, thing, cutter, room, floor, f"over bore '{bore.name}'"))
            if not found:
                break
            lines += found
        else:
            yield from lines


def _passing(
    order: Order, thing: Obstacle, cutter: Cutter, room: float, floor: float, where: str
) -> Iterator[str]:
    """Yield why a cutter whose axis stays ``room`` mm off does not pass, its tip at ``floor``."""
    above = order.blade.thickness / 2 + thing.height - floor
    lacking = float(widest_within(cutter, np.array([above]))[0]) - (room - OBSTACLE_GAP_MM)
    if lacking > 0:
        lower = above - float(height_free_within(cutter, np.array([room - OBSTACLE_GAP_MM]))[0])
        yield too_tall_line(thing, cutter, where=where, lower=lower, further=lacking)


def clamps(order: Order) -> Iterator[str]:
    """Clamps stand clear of every path: the trench, and on side A the reference bores."""
    outline, setup = order.blade.outline, order.setup
    for clamp in setup.clamps:
        index = "AB".index(clamp.side)
        datum = points_on(clamp.side, setup.datum[index], setup.flip)[0]
        edge_x = np.linspace(clamp.x_low, clamp.x_high, 41)
        edge_y = np.linspace(clamp.y_low, clamp.y_high, 41)
        ring = np.concatenate(
            [np.column_stack([edge_x, np.full(41, y)]) for y in (clamp.y_low, clamp.y_high)]
            + [np.column_stack([np.full(41, x), edge_y]) for x in (clamp.x_low, clamp.x_high)]
        )
        part = points_on(clamp.side, ring + datum, setup.flip)
        rooms = {"the trench": float((-signed_distance(part, outline)).min()) - order.trench.width}
        for bore in setup.registration.bores if clamp.side == "A" else ():
            rooms[f"registration bore '{bore.name}'"] = _beside_clamp(clamp, bore, datum)
        for name, room in rooms.items():
            if not room >= CLAMP_ROOM_MM:
                yield (
                    f"clamps: '{clamp.name}' on side {clamp.side}"
                    f" {lies_beside(room, name)}; at least"
                    f" {mm(CLAMP_ROOM_MM)} must stay between them: move it away from the blade"
                )


def _beside_clamp(clamp: Clamp, bore: Bore, datum: NDArray[np.float64]) -> float:
    """Return the metal between a clamp of side A and a bore, mm; below 0 where they meet."""
    x, y = bore.centre[0] - datum[0], bore.centre[1] - datum[1]
    across = max(clamp.x_low - x, x - clamp.x_high, 0.0)
    along = max(clamp.y_low - y, y - clamp.y_high, 0.0)
    return math.hypot(across, along) - bore.diameter / 2
