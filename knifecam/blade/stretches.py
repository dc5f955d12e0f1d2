"""Stretches of the outline: their curves, their lengths, what they share."""

from __future__ import annotations

from functools import lru_cache

from knifecam.curve import Curve, Stretch, sub_curve

SAME_PLACE = 1e-9
"""mm: stations closer than this are the same."""


def length_of(outline: Curve, stretch: Stretch) -> float:
    """Return the stretch's length in mm; from a station round to itself is the whole outline."""
    span = (stretch.end - stretch.start) % outline.length
    if span <= SAME_PLACE and stretch.end != stretch.start:
        return outline.length
    return span


def is_whole(outline: Curve, stretch: Stretch) -> bool:
    """Return whether the stretch is all of the closed outline."""
    return length_of(outline, stretch) >= outline.length - SAME_PLACE


@lru_cache(maxsize=256)
def part_of(outline: Curve, stretch: Stretch) -> Curve:
    """Return the stretch as an open curve along the outline's travel."""
    start = stretch.start % outline.length
    return sub_curve(outline, start, start + length_of(outline, stretch))


def shared(outline: Curve, one: Stretch, other: Stretch) -> float:
    """Return how many mm of the outline two stretches share."""
    whole = outline.length
    low, span = one.start % whole, length_of(outline, one)
    total = 0.0
    for lap in (-whole, 0.0, whole):
        start = other.start % whole + lap
        end = start + length_of(outline, other)
        total += max(0.0, min(low + span, end) - max(low, start))
    return total
