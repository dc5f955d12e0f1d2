"""Where a finished wall's passes are led onto and off it beside concave corners."""

from __future__ import annotations

import numpy as np
import pytest

from knifecam.curve import Curve, distance, place_at, station_of
from knifecam.errors import PlanError
from knifecam.paths.trench import Track
from knifecam.planning import clearing
from knifecam.planning.bench import Bench
from tests.agreement.bevel_blades import rounded_polygon
from tests.agreement.bevelled import bevelled_order

CUTTER = bevelled_order().cutters[1]
"""3 mm; it is led on along an arc of radius 4.5 mm, so a bay of less than 6 mm has no room."""


def bay(radius: float) -> Curve:
    """Return a rectangle of 60 x 40 mm with a bay in its upper side that ends in a half circle."""
    left, right = 30.0 - radius, 30.0 + radius
    return rounded_polygon(
        [
            (0.0, 0.0, 0.0), (60.0, 0.0, 0.0), (60.0, 40.0, 0.0), (right, 40.0, 0.0),
            (right, 10.0, radius), (left, 10.0, radius), (left, 40.0, 0.0), (0.0, 40.0, 0.0),
        ]
    )  # fmt: skip


def led(radius: float, place: tuple[float, float], way: str, step: float) -> tuple[Curve, float]:
    """Return the track and how far from the station beside ``place`` the arc is put."""
    wall = bay(radius)
    seen = clearing.Walled(bench=Bench(order=bevelled_order(), side="A"), wall=wall, opened=())
    track = clearing.track_at(wall, CUTTER.radius, 5e-4)
    station = float(station_of(track, place)[0])
    at = clearing._with_room(seen, Track(curve=track), station, way, CUTTER, step)
    return track, at - station


@pytest.mark.parametrize(("way", "step"), [("in", 0.25), ("out", -0.25), ("in", -0.25)])
def test_an_arc_stays_where_there_is_room(way: str, step: float) -> None:
    assert led(25.0, (30.0, 11.5), way, step)[1] == 0.0


@pytest.mark.parametrize(("way", "step"), [("in", 0.25), ("out", -0.25), ("in", -0.25)])
def test_in_a_tight_bay_the_arc_moves_the_way_asked_until_past_its_round(
    way: str, step: float
) -> None:
    radius = 5.0
    track, moved = led(radius, (30.0, 11.5), way, step)
    quarter = (radius - CUTTER.radius) * np.pi / 2
    assert moved * step > 0
    assert quarter - 1.0 <= abs(moved) <= 12.0
    place = place_at(track, float(station_of(track, (30.0, 11.5))[0]) + moved)[0]
    assert distance(place, bay(radius))[0] == pytest.approx(CUTTER.radius, abs=1e-3)


def test_a_bay_with_no_room_within_reach_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clearing, "LOOK_ON", 3.0)
    with pytest.raises(PlanError, match=r"no room to be led .* within 3 mm of .* cutter of less"):
        led(5.0, (30.0, 11.5), "in", 0.25)


def test_in_a_wide_bay_the_arc_leads_as_far_aside_as_it_can(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(clearing, "LOOK_ON", 3.0)
    assert abs(led(8.0, (30.0, 11.5), "in", 0.25)[1]) <= 3.0
