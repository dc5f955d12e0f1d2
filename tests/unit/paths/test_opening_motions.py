"""Bores by helix, on figures worked by hand."""

import numpy as np
import pytest

from knifecam.errors import PlanError
from knifecam.paths.opening_motions import bore_passes, radii_of_helices


def test_one_helix_up_to_nineteen_tenths_of_the_cutter():
    assert radii_of_helices(5.0, 3.0, 1.2) == (1.0,)
    assert radii_of_helices(5.7, 3.0, 1.2) == pytest.approx((1.35,))


def test_wider_bores_are_cleared_from_the_inside():
    radii = radii_of_helices(10.0, 3.0, 1.0)
    assert radii[0] == pytest.approx(1.35)
    assert radii[-1] == pytest.approx(3.5)
    assert np.diff(radii).max() <= 1.0 + 1e-12
    # nothing is left between neighbouring annuli, nor in the middle
    assert radii[0] <= 1.5
    assert (np.diff(radii) < 3.0).all()


def test_a_cutter_as_wide_as_the_bore_is_refused():
    with pytest.raises(PlanError, match=r"leaves no helix; use one of 2\.40 mm or less"):
        radii_of_helices(3.0, 3.0, 1.0)


def test_the_helix_has_whole_turns_a_full_circle_and_leaves_the_wall():
    (only,) = bore_passes(
        (2.0, 3.0), 5.0, cutter=3.0, top=0.1, bottom=-2.0, pitch=0.07, stepover=1.2,
        ramp=np.radians(2), feed=300.0,
    )  # fmt: skip
    assert (only.turns[:-1] == 1.0).all()
    # 2.1 mm at 0.07 a turn: 30 turns and one level circle, then half a turn to the middle
    assert len(only) == 30 + 1 + 1
    assert only.start[-2, 2] == only.stop[-2, 2] == -2.0
    assert only.stop[-1] == pytest.approx((2.0, 3.0, -2.0))
    # feed 300 at the wall of 5 with a cutter of 3: 300 (5 - 3) / 5
    assert only.feed == pytest.approx(120.0)


def test_a_tight_helix_falls_no_steeper_than_the_cutter_may():
    passes = bore_passes(
        (0.0, 0.0), 3.4, cutter=3.0, top=0.0, bottom=-1.0, pitch=0.2, stepover=1.0,
        ramp=np.radians(2), feed=300.0,
    )  # fmt: skip
    fall = passes[0].start[0, 2] - passes[0].stop[0, 2]
    assert np.degrees(np.arctan(fall / (2 * np.pi * 0.2))) <= 2.0 + 1e-9
