"""A second side that lies otherwise: what a shift, a turn and a chip under the plate do."""

from __future__ import annotations

import numpy as np
import pytest

from knifecam.judge.prove import judge, judge_misplaced
from knifecam.report.screen_lines import effect_lines, misplacement_effects
from knifecam.shop.setup import Misplacement
from tests.unit.judge import hand_bevel as bevelled
from tests.unit.judge import hand_written as hand

CELL = 0.2


def seen(*places: Misplacement):
    texts = (hand.side_a(), hand.side_b())
    return [j.verdict for j in judge_misplaced(hand.order(), texts, places, cell=CELL)]


def test_lying_as_ordered_is_what_judge_says():
    verdict = seen(Misplacement())[0]
    assert verdict == judge(hand.order(), (hand.side_a(), hand.side_b()), cell=CELL).verdict


def test_a_shift_parts_the_walls_by_itself():
    """0.03 mm along X: the walls square to X are 0.03 mm apart, and no tab gets thinner."""
    right, moved = seen(Misplacement(), Misplacement(x=0.03))
    assert moved.measures["outline"]["mismatch"] == pytest.approx(0.03, abs=1e-3)
    assert moved.measures["tabs"][0]["thickness"][0] == pytest.approx(
        right.measures["tabs"][0]["thickness"][0], abs=1e-6
    )
    assert any(f.kind == "mismatch" for f in moved.findings)


def test_the_way_it_is_shifted_does_not_matter_to_the_size():
    for place in (Misplacement(x=-0.03), Misplacement(y=0.03)):
        step = seen(place)[0].measures["outline"]["mismatch"]
        assert step == pytest.approx(0.03, abs=1e-3)


def test_a_chip_under_the_plate_thins_the_tabs():
    """The plate lies 0.05 mm higher, so side B comes 0.05 mm nearer to side A's floor."""
    right, raised = seen(Misplacement(), Misplacement(z=0.05))
    before = np.array([tab["thickness"][0] for tab in right.measures["tabs"]])
    after = np.array([tab["thickness"][0] for tab in raised.measures["tabs"]])
    assert after == pytest.approx(before - 0.05, abs=1e-3)


def test_a_turn_parts_the_walls_by_the_angle_times_the_way():
    """1 mrad about the zero at the plate's corner: far ends of walls move by up to its distance."""
    turned = seen(Misplacement(angle=1e-3))[0]
    x0, y0, x1, y1 = hand.order().blade.outline.bounds
    corners = np.array([(x0, y0), (x1, y0), (x0, y1), (x1, y1)]) - hand.order().setup.datum[1]
    step = turned.measures["outline"]["mismatch"]
    assert 0.3e-3 * np.abs(corners).max() < step < 1.01e-3 * np.hypot(*corners.T).max()


def test_what_is_not_a_number_is_refused():
    with pytest.raises(ValueError, match="x=nan"):
        Misplacement(x=float("nan"))
    with pytest.raises(ValueError, match="only side B"):
        next(judge_misplaced(hand.order(), (hand.side_a(), None), [Misplacement()], cell=CELL))


def test_what_land_is_left_is_told():
    """Side B higher by 0.05 mm takes that off a land that both sides grind."""
    texts = (bevelled.side_a(), bevelled.side_b())
    places = [Misplacement(), Misplacement(z=0.05)]
    both = [j.verdict for j in judge_misplaced(bevelled.order(), texts, places, cell=CELL)]
    told = misplacement_effects(*both)["land"]
    assert told["misplaced"][0] == pytest.approx(told["as_ordered"][0] - 0.05, abs=1e-3)
    assert any(
        line.startswith("  land: ") for line in effect_lines(places[1], misplacement_effects(*both))
    )


def test_effects_set_both_side_by_side_and_count_findings():
    place = Misplacement(x=0.03, z=0.05)
    told = misplacement_effects(*seen(Misplacement(), place))
    assert told["walls_apart"]["as_ordered"] < 1e-3
    assert told["walls_apart"]["misplaced"] == pytest.approx(0.03, abs=1e-3)
    before, after = (told["tab_thickness"][k] for k in ("as_ordered", "misplaced"))
    assert after[0] == pytest.approx(before[0] - 0.05, abs=1e-3)
    assert told["findings"]["mismatch"] >= 1
    assert not {"stop", "first-move"} & set(told["findings"])
    lines = list(effect_lines(place, told))
    assert lines[0].startswith(
        "with side B shifted by X 0.03, Y 0 mm, raised by 0.05 mm, turned by 0 deg"
    )
    assert "  step between the sides' walls: 0.030 mm (0.000)" in lines
