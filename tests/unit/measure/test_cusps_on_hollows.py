"""What flat-ended cutters leave on hollow faces, by cutters laid into a circle, and what is allowed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from knifecam.measure.bevel_places import _stage_cusp
from knifecam.shop import Order
from knifecam.shop.order_record import BEVEL_FINISH
from tests.agreement.bevelled import bevelled_order


def finishing(step: float, corner: float, radius: float) -> Order:
    order = bevelled_order()
    (entry,) = order.cuttings(BEVEL_FINISH)
    cutter = replace(order.cutter(entry.cutter), number=9, diameter=2 * radius, corner=corner)
    kept = tuple(c for c in order.cutting if c.stage != BEVEL_FINISH)
    return replace(
        order, cutters=(*order.cutters, cutter),
        cutting=(*kept, replace(entry, cutter=9, stepover=step)),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("wheel", "low", "high", "step", "corner"),
    [
        (215.0, 0.0027, 0.0563, 0.549, 0.61),
        (215.0, 0.0027, 0.0563, 0.150, 0.61),
        (76.2, 0.084, 0.230, 0.107, 0.5),
        (150.0, 0.028, 0.147, 0.521, 0.5),
    ],
)
def test_hollow_faces_bear_no_more_than_is_allowed(
    wheel: float, low: float, high: float, step: float, corner: float
) -> None:
    """Slopes ``low`` to ``high`` of a circle; each cutter touches it with its corner and is flat beside.

    Where the face is nearly level the next pass lies higher than the slope there would have it.
    """
    radius = 2.5

    def tall(at: np.ndarray) -> np.ndarray:
        return -np.sqrt(wheel**2 - at**2)

    touched = np.arange(wheel * np.sin(low), wheel * np.sin(high), step)
    x = np.linspace(touched[0], touched[-1], 20001)
    left = np.full(len(x), np.inf)
    for place in touched:
        slope = np.arcsin(place / wheel)
        middle = place - corner * np.sin(slope) - (radius - corner)
        out = np.maximum(np.abs(x - middle) - (radius - corner), 0.0)
        inside = out <= corner
        tip = tall(place) + corner * np.cos(slope) - corner
        left[inside] = np.minimum(
            left[inside], tip + corner - np.sqrt(corner**2 - out[inside] ** 2)
        )
    slopes = np.arcsin(x / wheel)
    cusps = (left - tall(x)) * np.cos(slopes)
    allowed = _stage_cusp(
        finishing(step, corner, radius), BEVEL_FINISH, slopes, np.full(len(x), -1 / wheel)
    )
    assert (cusps <= np.maximum(1.1 * allowed, allowed + 0.00015)).all()
    assert allowed.max() <= 1.1 * cusps.max() + 0.00015
