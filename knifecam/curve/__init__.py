"""Curves of lines and arcs in the plane, distances to them, and the motions of a cutter.

Millimetres and radians. Everything in knifecam may import this room; it imports nothing of ours
but the errors.
"""

from knifecam.curve.curve import Curve, Placement, circle, mirrored, placed, polyline, rectangle
from knifecam.curve.distance import distance, nearest, signed_distance, winding
from knifecam.curve.motions import ARC, FEED, RAPID, Motions
from knifecam.curve.stations import (
    Stretch,
    place_at,
    resample,
    station_of,
    stations_past,
    sub_curve,
)

__all__ = [
    "ARC",
    "FEED",
    "RAPID",
    "Curve",
    "Motions",
    "Placement",
    "Stretch",
    "circle",
    "distance",
    "mirrored",
    "nearest",
    "place_at",
    "placed",
    "polyline",
    "rectangle",
    "resample",
    "signed_distance",
    "station_of",
    "stations_past",
    "sub_curve",
    "winding",
]
