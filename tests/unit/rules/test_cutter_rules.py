"""Cutting data far above the proposals: noted, then refused; figures by hand from the tables."""

from dataclasses import replace

import pytest

from knifecam.rules.cutter_rules import above_proposals
from knifecam.rules.rule_passes import contradictions, remarks
from tests.agreement.orders import simple_order

GOOD = simple_order()


def with_stage(stage, **changes):
    """Change one stage of the plain order (cutter of 3 mm, 4 flutes, 7000 rev/min, 300 mm/min)."""
    cutting = tuple(replace(c, **changes) if c.stage == stage else c for c in GOOD.cutting)
    return replace(GOOD, cutting=cutting)


def kept(order):
    return replace(order, tabs=replace(order.tabs, stations=(20.0, 100.0)))


def test_the_plain_order_is_within_its_proposals():
    assert contradictions(GOOD) == ()
    assert remarks(kept(GOOD)) == ()


# proposals for 3 mm at 60 HRC: stepdown 0.135, 65 m/min in a trench, 85 on walls; 0.0082 mm a tooth
# makes a chip of 8 um over a corner of 0.1 in levels as deep as they are ordered, 0.075
@pytest.mark.parametrize(
    ("stage", "changes", "said"),
    [
        ("rough", {"stepdown": 0.41}, "stepdown=0.41 mm is 3.04 times the 0.135 mm"),
        ("bore", {"stepdown": 0.3}, "stepdown=0.3 mm is 3.09 times the 0.097 mm"),
        ("rough", {"feed": 1000.0}, "feed_per_tooth=0.03571 mm is 4.36 times the 0.0082 mm"),
        # pi x 3 x 11000 / 1000 = 103.7 m/min, and 1.59 times 65
        ("rough", {"spindle": 11000.0}, "surface_speed=103.7 m/min is 1.59 times the 65 m/min"),
        # pi x 3 x 14000 / 1000 = 131.9 m/min, and 1.55 times 85
        ("finish", {"spindle": 14000.0}, "surface_speed=131.9 m/min is 1.55 times the 85 m/min"),
    ],
)
def test_far_above_the_proposal_is_noted(stage, changes, said):
    order = with_stage(stage, **changes)
    assert contradictions(order) == ()
    (line,) = remarks(kept(order))
    assert said in line
    assert f'in stage "{stage}"' in line


@pytest.mark.parametrize(
    ("stage", "changes", "said"),
    [
        ("rough", {"stepdown": 3.0}, "stepdown=3 mm is 22.2 times the 0.135 mm that would be proposed;"
         " at most 1.35 mm is taken"),
        ("rough", {"feed": 2900.0, "spindle": 6000.0}, "feed_per_tooth=0.1208 mm is 14.7 times"),
        ("finish", {"spindle": 23900.0, "feed": 900.0}, None),
        ("rough", {"spindle": 23900.0, "feed": 900.0}, "surface_speed=225.3 m/min is 3.47 times the"
         " 65 m/min that would be proposed; at most 195 m/min is taken"),
    ],
)  # fmt: skip
def test_what_cannot_be_meant_is_refused(stage, changes, said):
    lines = contradictions(with_stage(stage, **changes))
    assert [said in line for line in lines] == ([True] if said else [])


def test_less_than_proposed_and_other_stages_pass():
    assert (
        list(
            above_proposals(with_stage("rough", stepdown=0.01, feed=50.0).cutting, GOOD.cutters, 60)
        )
        == []
    )
    assert list(above_proposals(with_stage("finish", stepdown=9.0).cutting, GOOD.cutters, 60)) == []


@pytest.mark.parametrize(
    ("hardness", "noted"), [(49.0, True), (50.0, False), (66.0, False), (67, True)]
)
def test_the_hardness_the_proposals_hold_for_is_said(hardness, noted):
    slow = tuple(
        replace(c, spindle=4000.0, feed=90.0) for c in GOOD.cutting
    )  # speeds fall above 62 HRC
    steel = replace(GOOD.blade.steel, hardness_hrc=hardness)
    order = replace(GOOD, blade=replace(GOOD.blade, steel=steel), cutting=slow)
    lines = remarks(kept(order))
    assert [line for line in lines if "are proposed for 50 to 66 HRC" in line] == list(lines)
    assert len(lines) == noted


def test_an_edge_that_nobody_named_is_said():
    (line,) = remarks(GOOD)
    assert "no stretch of the outline is kept free of tabs" in line
    assert remarks(replace(GOOD, tabs=replace(GOOD.tabs, count=0))) == ()


def test_a_plate_of_more_spread_is_refused_until_allowed_and_then_noted():
    measured = tuple((x, y, 3.0 + 0.03 * (x > 0)) for x, y, _ in GOOD.setup.plate.measured)
    for allowed, refused in ((0.02, True), (0.03, False)):
        plate = replace(GOOD.setup.plate, measured=measured, allowed_spread=allowed)
        order = kept(replace(GOOD, setup=replace(GOOD.setup, plate=plate)))
        lines = [x for x in contradictions(order) if "spread" in x]
        assert len(lines) == refused
        if refused:
            assert "spread=0.030 mm must be at most 0.02 mm" in lines[0]
        assert "differs by 0.030 mm: tabs and land differ by as much" in remarks(order)[0]
