"""Bores and slots that a bevel goes over, and cusps that come out higher than ordered."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from knifecam.blade import Blade, Bore, Slot
from knifecam.curve import rectangle
from knifecam.planning import lay_out
from knifecam.quantity import told
from knifecam.rules.opening_rules import opening_rings, pierced_notes
from knifecam.rules.rule_passes import feasible
from knifecam.shop import Bevelling, Order
from tests.agreement.bevel_blades import ordered as ordered_as
from tests.agreement.bevel_blades import shop, straight_blade

ANGLE_DEG, LAND, THICK = 5.0, 0.4, 3.5
"""The bevel's edge lies on y = -12 from x = -8 to 60; past x = 0 toward -x its plunge rises."""


def blade_with(*bores: Bore, slots: tuple[Slot, ...] = (), **changes: float) -> Blade:
    made = straight_blade(**({"angle_deg": ANGLE_DEG, "thickness": THICK, "land": LAND} | changes))
    return replace(made, bores=bores, slots=slots)


def with_blade(blade: Blade) -> Order:
    return ordered_as(blade, shop())


def bore(x: float, y: float, name: str = "B1") -> Bore:
    return Bore(name=name, centre=(x, y), diameter=5.0)


@pytest.mark.parametrize("away", [5.0, 9.0, 15.0])
def test_a_ring_is_as_thick_as_the_bevel_s_relation_says(away: float) -> None:
    """Both sides rise by tan a: land + 2 d tan a, d the ring's least distance from the edge."""
    (ring,) = opening_rings(blade_with(bore(30.0, -12.0 + away)))
    wanted = LAND + 2 * (away - 2.5) * math.tan(math.radians(ANGLE_DEG))
    assert ring.thick == pytest.approx(wanted, abs=2e-4)  # places 0.1 mm apart miss 0.05^2 / 2 r
    assert ring.place[0] == pytest.approx(30.0, abs=0.1)
    assert ring.place[1] == pytest.approx(-14.5 + away, abs=1e-3)
    assert ring.bevels == ("edge",)


def test_an_opening_beside_the_bevel_has_no_ring_in_it() -> None:
    # the grind line lies (3.5 - 0.4) / 2 / tan 5 = 17.7 mm from the edge, at y = 5.7
    handle = blade_with(bore(-30.0, 0.0), bore(30.0, 8.3, "B2"))
    assert opening_rings(handle) == ()
    assert list(pierced_notes(with_blade(handle))) == []
    assert len(opening_rings(blade_with(bore(30.0, 8.1)))) == 1


def test_openings_in_a_bevel_are_told_with_the_thinnest_ring() -> None:
    slot = Slot(name="S1", outline=rectangle(40.0, -4.0, 50.0, 0.0))
    order = with_blade(blade_with(bore(20.0, -5.0), bore(10.0, -3.0, "B2"), slots=(slot,)))
    assert feasible(order) == ()
    (line,) = pierced_notes(order)
    assert told(line) == (
        "bevel edge goes over bore 'B1', bore 'B2', slot 'S1': the thinnest ring, of bore 'B1', is"
        " 1.19 mm thick at (20.0, -7.5); nothing seats level there"
    )
    assert line in lay_out(order).notes


def test_a_thin_ring_is_refused() -> None:
    # 0.1 + 2 x 1.6 x tan 3 = 0.268
    order = with_blade(blade_with(bore(30.0, -12.0 + 4.1), angle_deg=3.0, land=0.1, thickness=2.0))
    (line,) = (line for line in feasible(order) if "ring" in line)
    assert "bore 'B1' goes through bevel 'edge' and leaves a ring 0.268 mm thick" in line
    assert "at least 0.4 mm must stay" in line
    thicker = with_blade(
        blade_with(bore(30.0, -12.0 + 4.1), angle_deg=3.0, land=0.3, thickness=2.0)
    )
    assert [line for line in feasible(thicker) if "ring" in line] == []


def finest(order: Order, step: float) -> Order:
    """Return the order whose bevels are finished in such steps."""
    cutting = tuple(
        replace(c, stepover=step, life=5000.0) if c.stage == "bevel-finish" else c
        for c in order.cutting
    )
    return replace(order, cutting=cutting)


def test_cusps_that_no_step_makes_finer_are_told() -> None:
    """On a slope a corner of 1 mm leaves s^2 / 8 r, s = step / cos a: 0.0126 um for 0.01 mm."""
    order = replace(finest(with_blade(blade_with()), 0.01), bevelling=Bevelling(cusp=1e-5))
    (line,) = (n for n in lay_out(order).notes if "bevelling.cusp" in n)
    assert told(line) == (
        "bevel edge: bevelling.cusp wants 0.010 um, but steps of 0.010 mm leave 0.013 um: no step finer"
        " than 0.01 mm is proposed"
    )


def test_cusps_of_a_stated_stepover_are_told_and_cusps_as_wanted_are_not() -> None:
    order = with_blade(blade_with())
    assert not [n for n in lay_out(order).notes if "bevelling.cusp" in n]
    (line,) = (n for n in lay_out(finest(order, 0.3)).notes if "bevelling.cusp" in n)
    assert "the order states a stepover of 0.3 mm for stage 'bevel-finish'" in told(line)


@pytest.mark.parametrize(("skin", "said"), [(0.25, False), (0.9, True)])
def test_a_bore_opened_wider_by_all_of_its_wall_is_refused(skin: float, said: bool) -> None:
    """A ring of 0.9 mm at the bevel's lower side: 0.4 + 5 tan 5.7 with its edge on side B's face.

    Side B opens skin, both corners of 0.1 and 0.1 more: 0.55 mm of it, or 1.2.
    """
    made = blade_with(bore(30.0, -12.0 + 7.5))
    low = replace(
        made.bevels[0], sides="A", edge_at=(LAND - THICK) / 2, angle=math.atan(0.1), land=LAND
    )
    order = with_blade(replace(made, bevels=(low,)))
    order = replace(order, boring=replace(order.boring, skin=skin))
    lines = [told(line) for line in feasible(order) if "bores.oversize" in line]
    assert bool(lines) == said
    if said:
        assert lines[0].startswith(
            "bores.oversize=0.040 mm opens bore 'B1' wider from side B by all of its 0.900 mm at (29.95"
        )
        assert "since a skin of 0.900 mm is opened 1.200 mm deep: oversize = 0 will do" in lines[0]
    order = replace(order, boring=replace(order.boring, oversize=0.0))
    assert not [line for line in feasible(order) if "bores.oversize" in line]


def test_a_skin_that_is_opened_through_the_plate_is_refused_where_it_is_opened_wider() -> None:
    order = with_blade(blade_with(bore(-30.0, 0.0)))
    order = replace(order, boring=replace(order.boring, skin=1.9))
    assert not [line for line in feasible(order) if "bores.oversize" in line]
    order = replace(order, boring=replace(order.boring, skin=2.0))
    thin = replace(order, blade=replace(order.blade, thickness=2.2))
    (line,) = (line for line in feasible(thin) if "bores.oversize" in line)
    assert "wider from side B by all of its 2.200 mm" in told(line)
