"""The engagement of a program written by hand: one flat cutter of 3 mm, 4 flutes, 8000 rev/min."""

from __future__ import annotations

import numpy as np
import pytest

from knifecam.cutting import Engagement
from knifecam.cutting.engagement import engaged_angle, largest_chip, mean_chip
from knifecam.judge.cutter_loads import met_metal
from knifecam.judge.prove import judge
from knifecam.judge.verdict_figures import _words, heaviest_cut, line_loads
from knifecam.quantity import told
from knifecam.report.explain import explain
from knifecam.sweep.side_program import stored_of
from tests.unit.judge import hand_written

TOOTH = hand_written.FEED / (4 * 8000)


@pytest.fixture(scope="module")
def judged():
    texts = (hand_written.side_a(), hand_written.side_b())
    found = judge(hand_written.order(), texts)
    assert found.verdict.ok
    return found


def finishing(side, word):
    """Feed motions of the finishing cut, from its phrase on."""
    lines = [k for k, text in enumerate(side.text.splitlines(), 1) if word in text]
    return (np.asarray(side.trace.line) > lines[-1]) & ~side.rapid


def test_the_lines_volumes_are_the_plates_loss(judged):
    plate = judged.case.order.setup.plate
    whole = plate.length * plate.width * plate.thickness
    by_line = [np.bincount(s.trace.line, s.volume) for s in judged.case.sides]
    taken = sum(float(lines.sum()) for lines in by_line)
    assert taken == pytest.approx(whole - judged.grid.volume, rel=1e-9)
    for side, record in zip(judged.case.sides, judged.engagement, strict=True):
        assert np.bincount(record.motion, record.volume, len(side)) == pytest.approx(side.volume)


def test_a_finishing_lap_climbs_in_its_stock(judged):
    """0.06 on the right along the straight wall: teeth enter at 180 - 16.26 degrees, leave at 180."""
    side, record = judged.case.sides[0], judged.engagement[0]
    rows = np.flatnonzero(
        finishing(side, "WALL")[record.motion]
        & (np.abs(record.place[:, 1] + hand_written.RADIUS) < 1e-3)  # the lower wall, y = 0
        & (np.abs(record.place[:, 0] - 35) < 4)  # the lap ends in its lead-in's arc at x = 30
        & (record.met > 0.0)
    )
    assert len(rows) > 5
    angle = float(engaged_angle(hand_written.STOCK, 2 * hand_written.RADIUS))
    assert record.entry[rows] == pytest.approx(np.pi - angle, abs=5e-5)
    assert record.exit[rows] == pytest.approx(np.pi)
    assert record.radial[rows] == pytest.approx(hand_written.STOCK, abs=2e-4)
    assert record.feed_per_tooth[rows] == pytest.approx(TOOTH)
    between = (np.pi - angle, np.pi)
    largest, mean = float(largest_chip(TOOTH, *between)), float(mean_chip(TOOTH, *between))
    assert record.chip[rows] == pytest.approx(largest, rel=2e-3)
    assert record.mean_chip[rows] == pytest.approx(mean, rel=2e-3)
    assert not record.both_walls[rows].any()


def test_contact_on_end_is_the_time_from_first_metal_to_air(judged):
    for side, record in zip(judged.case.sides, judged.engagement, strict=True):
        feeding = record.volume > 0.0
        assert np.all((record.unbroken > 0.0) == feeding & ~side.rapid[record.motion])
        # all runs together are all the time in contact, step by step
        edges = np.diff(np.concatenate([[0], feeding.astype(int)])) > 0
        seconds = 60 * record.length / side.motions.feed[record.motion].clip(1e-9)
        assert record.unbroken[edges].sum() == pytest.approx(seconds[feeding].sum(), rel=1e-6)


def test_the_hardest_line_agrees_with_the_exact_record(judged):
    for side, record in zip(judged.case.sides, judged.engagement, strict=True):
        found = heaviest_cut(side, judged.case, met_metal(side, judged.case))
        assert found == judged.verdict.measures["sides"][side.name]["heaviest_cut"]
        rows = np.asarray(side.trace.line)[record.motion] == found["line"]
        exact = {name: np.nanmax(getattr(record, name)[rows]) for name in ("met", "radial", "chip")}
        assert np.radians(found["angle_deg"]) == pytest.approx(exact["met"], abs=0.08)
        assert found["radial"] == pytest.approx(exact["radial"], abs=0.12)  # a cell is 0.1
        feed = side.motions.feed[record.motion[rows]][0]
        assert found["section"] * feed == pytest.approx(found["rate"], rel=1e-3)
        if not side.steps.fall[rows].any():  # a slot at one level: a rectangle
            assert found["section"] == pytest.approx(found["radial"] * found["axial"], rel=1e-3)
        assert found["chip"] == pytest.approx(exact["chip"], rel=0.02)
        assert found["unbroken_contact_s"] == pytest.approx(record.unbroken[rows].max(), abs=0.05)


def test_each_line_that_cuts_tells_what_it_met(judged):
    side, record = judged.case.sides[0], judged.engagement[0]
    loads = line_loads(side, record)
    cutting = np.unique(np.asarray(side.trace.line)[side.volume > 0.0])
    assert set(cutting) <= set(loads)
    k = int(np.flatnonzero(finishing(side, "WALL") & (side.volume > 0.5))[0])
    words = told(loads[int(side.trace.line[k])])
    assert " mm, radial " in words
    assert "to 180.0 degrees" in words


def test_explain_prints_it_below_the_line(judged):
    side, order = judged.case.sides[0], judged.case.order
    loads = line_loads(side, judged.engagement[0])
    printed = list(explain(side.text, stored_of(order.setup), loads=loads))
    assert [row.strip() for row in printed if row.strip().startswith("takes ")] == [
        told(row) for row in loads.values()
    ]


def test_motions_far_from_the_plate_cost_nothing():
    """Cutting feeds out to 9 m away and back: in the air there, and the rest is met as before."""
    lines = hand_written.side_a().splitlines()
    last = max(k for k, row in enumerate(lines) if row.startswith("G1 "))
    far = ["G1 X9000.0 Y-9000.0 F300", "G1 X9000.0 Y9000.0", lines[last]]
    text = "\n".join([*lines[: last + 1], *far, *lines[last + 1 :]]) + "\n"
    found = judge(hand_written.order(), (text, None))
    record, side = found.engagement[0], found.case.sides[0]
    away = np.asarray(side.trace.line)[record.motion] == last + 3
    assert away.any()
    assert np.all(record.met[away] == 0.0)
    assert np.nanmax(record.radial) == pytest.approx(2 * hand_written.RADIUS)


def test_a_side_judged_by_sights_alone_has_no_engagement():
    found = judge(hand_written.order(), (hand_written.side_a(), None), only_sights=True)
    assert found.engagement == (None, None)


@pytest.mark.parametrize(
    ("chip", "words"),
    [(np.nan, "chip not known, since the spindle stands; "), (0.01, "chip 0.0100 mm; ")],
)
def test_a_line_tells_when_its_chips_are_not_known(chip, words):
    one = {name: np.ones(1) for name in Engagement.__dataclass_fields__}
    seen = {"motion": np.zeros(1), "place": np.ones((1, 3)), "chip": np.array([chip])}
    record = Engagement(**one | seen)
    assert words in told(_words(record, np.array([0])))
