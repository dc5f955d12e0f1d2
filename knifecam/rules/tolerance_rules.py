"""What must still hold where plate and zeros are a little off: lands, and tips above the fixture.

A plate may be `PLATE_THICKER_MM` mm thicker or thinner than measured, and side B's Z zero `Z_ZERO_OFF_MM`
mm off. A wedge of 0.02 mm along the plate moves less than either wherever it moves anything.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from knifecam.blade import Bevel, edge_height
from knifecam.quantity import least_mm, mm, most_mm, over_fixture, stated
from knifecam.rules.rules_limits import (
    PLANNED_LEAST_LAND_MM,
    PLATE_THICKER_MM,
    REMAINING_LAND_MM,
    Z_ZERO_OFF_MM,
)
from knifecam.shop import Order, Setup
from knifecam.shop.side_view import floors


def land_left(order: Order, bevel: Bevel) -> Iterator[str]:
    """A bevel's land stands what plate and zeros may be off by."""
    for cut in _cut_by(order, bevel):
        lost, why = lost_of_land(order.setup, cut)
        least = max(PLANNED_LEAST_LAND_MM, REMAINING_LAND_MM + lost)
        if not bevel.land >= least - 1e-9:
            yield (
                f"{bevel.path}: {bevel.keyed('land'):.3f} must be at least"
                f" {least_mm(least):.2f}: {why},"
                f" and {mm(REMAINING_LAND_MM)} must remain{_steadier(order.setup, cut, bevel.land)}"
            )
            return


def _cut_by(order: Order, bevel: Bevel) -> Iterator[str]:
    """Yield which sides mill the land along a bevel's edge: "A", "B" or, where both do, "AB"."""
    if bevel.sides == "both":
        yield "AB"
        return
    yield bevel.sides
    whole, edge = order.blade.outline.length, bevel.edge
    for other in order.blade.bevels:
        meets = other.edge.holds(edge.start, whole) or edge.holds(other.edge.start, whole)
        if meets and other.sides not in ("both", bevel.sides):
            yield "AB"
            return


def lost_of_land(setup: Setup, cut: str) -> tuple[float, str]:
    """Return the most, in mm, that is lost of a land which the sides in ``cut`` mill, and by what.

    A side that counts Z from the face rises with a thicker plate. One side alone leaves the land
    above the fixture; two leave that much together less the plate's thickness.
    """
    faces = sum(setup.z_zero["AB".index(side)] == "face" for side in cut)
    thickness = PLATE_THICKER_MM * abs(faces - (len(cut) - 1))
    if thickness > 0:
        way = "thinner" if faces > len(cut) - 1 else "thicker"
        return thickness, f"the plate may be {mm(thickness):g} {way} where Z is zeroed as ordered"
    if "B" in cut:
        return Z_ZERO_OFF_MM, f"side B's Z zero may be {mm(Z_ZERO_OFF_MM)} off"
    return 0.0, "it may not exist after all"


def _steadier(setup: Setup, cut: str, left: float) -> str:
    """Return which Z zeros would bear a land that the ordered ones do not; empty where none."""
    better = {
        "A": ("fixture", setup.z_zero[1]),
        "B": (setup.z_zero[0], "fixture"),
        "AB": ("face", "fixture"),
    }
    zeros = better[cut]
    lost = Z_ZERO_OFF_MM if "B" in cut else 0.0
    if (
        zeros == setup.z_zero
        or not left >= max(PLANNED_LEAST_LAND_MM, REMAINING_LAND_MM + lost) - 1e-9
    ):
        return ""
    keys = [
        f'plate.z_zero_{side.lower()} = "{zeros["AB".index(side)]}"'
        for side in cut
        if zeros["AB".index(side)] != setup.z_zero["AB".index(side)]
    ]
    return f"; or order {' and '.join(keys)}"


def over_bed(order: Order) -> Iterator[str]:
    """The outline's walls end above the fixture on either side, with plate and zeros off."""
    half, deep, setup = order.blade.thickness / 2, floors(order), order.setup
    opens = order.boring.opening == "skin" and (order.blade.bores or order.blade.slots)
    lowest = {
        "A": half + deep.a_rough,
        "B": half - max(deep.b_finish, deep.b_open if opens else -half),
    }
    for side, left in lowest.items():
        lost, why = _lower(setup, side)
        least = max(lost - setup.fixture_allowance, 0.0)
        if not (left >= least - 1e-9 and left > 0):
            yield (
                f"side {side} goes to {over_fixture(left, 3)}, at least {least_mm(max(least, 0.01)):.2f}"
                " must stay:"
                f" {why}; {_raised(order, side, least)}"
            )


def _lower(setup: Setup, side: str) -> tuple[float, str]:
    """Return by how much a side's tip may come lower than ordered, mm, and by what."""
    if setup.z_zero["AB".index(side)] == "face":
        return (
            PLATE_THICKER_MM,
            f"the plate may be {mm(PLATE_THICKER_MM)} thinner where Z is counted from its face",
        )
    if side == "B":
        return Z_ZERO_OFF_MM, f"side B's Z may be set {mm(Z_ZERO_OFF_MM)} too low"
    return 0.0, "it would run into the fixture"


def _raised(order: Order, side: str, least: float) -> str:
    """Return what keeps a side's outline off the fixture: another plane of meeting, or less overlap."""
    trench, thickness = order.trench, order.blade.thickness
    half = thickness / 2
    if side == "A":
        most = thickness - least - trench.overlap / 2
        return (
            f"order {stated('outline.depth_a', most_mm(most)):.2f} or less in place of"
            f" {mm(trench.depth_a):.3f}"
        )
    edges = [edge_height(bevel, "A") for bevel in order.blade.bevels if bevel.on("A")]
    room = half - max(edges, default=trench.web - half) + (order.bevelling.below if edges else 0.0)
    wanted = math.ceil(round((trench.overlap / 2 + least) * 100, 4)) / 100
    if wanted <= room - trench.overlap / 2:
        return (
            f"order {stated('outline.depth_a', least_mm(wanted)):.2f} or more in place of"
            f" {mm(trench.depth_a):.3f}"
        )
    narrow = math.floor(round((room - least) * 100, 4)) / 100
    corner = math.floor(round((narrow - 0.1) / 2 * 100, 4)) / 100
    if corner > 0:
        return (
            f"so thin a plate bears {stated('outline.overlap', most_mm(narrow)):.2f} at most in place of"
            f" {mm(trench.overlap):.3f}: cut the outline with corners of {most_mm(corner):.2f} or less"
        )
    return (
        f"a plate of {mm(thickness):.3f} has no room for"
        f" {stated('outline.overlap', mm(trench.overlap)):.3f} beside its edges: take a thicker plate"
        " or order a thinner land"
    )


def approach(order: Order) -> Iterator[str]:
    """Rapids down end above the plate, though it is thicker, or side B's Z zero lower than told."""
    setup, gap = order.setup, order.setup.mill.approach_gap
    least = max(PLATE_THICKER_MM if "fixture" in setup.z_zero else 0.0, Z_ZERO_OFF_MM)
    if not gap > least:
        yield (
            f"{stated('mill.approach_gap', mm(gap)):g} must be greater than {mm(least):g}: a plate"
            f" {mm(PLATE_THICKER_MM):g} thicker, or side B's Z set {mm(Z_ZERO_OFF_MM):g} too low, lets"
            " rapids end in the"
            f" plate; {mm(0.5)} is usual"
        )
