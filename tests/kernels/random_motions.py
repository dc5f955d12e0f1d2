"""Random motions of every kind, for the kernels' tests."""

from __future__ import annotations

import numpy as np

from knifecam.curve import Motions

CUTTERS = ("flat", "ball", "bull-nose")
KINDS = ("level", "inclined", "upright", "arc", "helix")


def corner_of(cutter, radius, rng):
    """Corner radius of a kind of cutter."""
    return {"flat": 0.0, "ball": radius, "bull-nose": radius * rng.choice([0.02, 0.3, 0.9])}[cutter]


def random_cone(radius, rng):
    """Radius of the tip, 0 for every third, and half angle of a cone: slender to blunt."""
    tip = 0.0 if rng.random() < 1 / 3 else radius * rng.uniform(0.02, 0.95)
    return tip, np.deg2rad(rng.choice([45.0, 30.0, rng.uniform(8.0, 80.0)]))


def as_motions(rows):
    """Record of motions from (kind, start, stop, centre, turns)."""
    kind, start, stop, centre, turns = zip(*rows, strict=True)
    return Motions(
        np.array(kind, np.uint8), np.array(start), np.array(stop), np.array(centre),
        np.array(turns), np.zeros(len(rows)),
    )  # fmt: skip


def random_motion(kind, rng, start=None):
    """A motion of a kind: lengths from 0.1 um, full circles and more, either way round."""
    a = np.append(rng.uniform(-3, 3, 2), rng.uniform(-1, 1)) if start is None else np.array(start)
    z = rng.uniform(-1, 1)
    if kind == "upright":
        return (int(rng.integers(2)), tuple(a), (a[0], a[1], z), (0.0, 0.0), 0.0)
    if kind in ("level", "inclined"):
        length = 10 ** rng.uniform(-4, 0.8)
        angle = rng.uniform(0, 2 * np.pi) if rng.random() < 0.7 else rng.integers(4) * np.pi / 2
        if kind == "level":
            z = a[2]
        elif rng.random() < 0.5:
            z = a[2] + rng.uniform(-0.1, 0.1) * length
        stop = (a[0] + length * np.cos(angle), a[1] + length * np.sin(angle), z)
        return (1, tuple(a), stop, (0.0, 0.0), 0.0)
    reach, angle = 10 ** rng.uniform(-1.5, 0.8), rng.uniform(0, 2 * np.pi)
    centre = a[:2] - reach * np.array([np.cos(angle), np.sin(angle)])
    turns = rng.choice([rng.uniform(0.001, 0.2), rng.uniform(0.1, 1), 1.0, rng.uniform(1, 2.2)])
    turns *= rng.choice([-1, 1])
    if kind == "arc":
        z = a[2]
    elif rng.random() < 0.7:
        z = a[2] + rng.uniform(-0.3, 0.3)
    end = angle + 2 * np.pi * turns
    stop = (centre[0] + reach * np.cos(end), centre[1] + reach * np.sin(end), z)
    return (2, tuple(a), stop, tuple(centre), turns)


def random_chain(rng, count, box=4.0):
    """Motions of all kinds, each mostly beginning where the one before ended, within a box."""
    rows = []
    at = np.append(rng.uniform(-3, 3, 2), rng.uniform(-0.5, 1.2))
    while len(rows) < count:
        if rng.random() < 0.2:
            at = np.append(rng.uniform(-3, 3, 2), at[2])
        kind = KINDS[rng.integers(5)]
        row = random_motion(kind, rng, at)
        if np.abs(row[2][:2]).max() < box:
            rows.append(row)
            at = np.array(row[2])
    return rows


def places_near(motion_place, motion, radius, rng, count):
    """Places under the cutter in some moment of a motion, a few of them just outside."""
    px, py, _ = motion_place(motion, rng.random(count))
    off, angle = 1.05 * radius * np.sqrt(rng.random(count)), rng.uniform(0, 2 * np.pi, count)
    return np.column_stack([px + off * np.cos(angle), py + off * np.sin(angle)])
