"""The surface of a bevel with a plunge, and where the tip of a cutter stands that touches it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import Curve, place_at
from knifecam.curve.curve import Floats
from knifecam.curve.prolonged_distance import signed_line_distance
from knifecam.paths.bevel import Face, normals
from knifecam.shop import Cutter

Ints = NDArray[np.int64]

BORDER = 0.12
"""mm off the edge up to which the surface, prolonged, is followed down."""

STEP = 1e-5
"""mm: how far apart distances are taken for a direction."""

CREASE = 0.01
"""By how much the slope may change from one place to the next before a crease is looked for."""

HALVINGS, ROLLED = 12, 9
"""How often the stretch with a crease is halved, and places by which a cutter rolls over it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One pass along a plunge: ``s`` mm past its line, ``raised`` mm above the surface."""

    s: float
    raised: float


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Slopes:
    """The surface of a bevel and one of its plunges, along the ways that lie over the lines."""

    face: Face
    plunge: int
    lines: Sequence[Line]
    ways: Sequence[Curve]

    def at(self, row: Ints, station: Floats) -> tuple[Floats, Floats, Floats]:
        """Return places (K, 2), their distances (K,) from the edge and the gradient (K, 2) there."""
        points, headings = np.empty((len(row), 2)), np.empty(len(row))
        for k in np.unique(row):
            points[row == k], headings[row == k] = place_at(self.ways[k], station[row == k])
        shifts = np.array([(0.0, 0.0), (STEP, 0.0), (-STEP, 0.0), (0.0, STEP), (0.0, -STEP)])
        seen = signed_line_distance((points + shifts[:, None]).reshape(-1, 2), self.face.edge)
        d, right, left, above, below = seen.reshape(5, -1)
        slope = np.stack([right - left, above - below], axis=1)
        slope /= np.hypot(slope[:, 0], slope[:, 1])[:, None]
        on, radius = self._on(row), self.face.plunges[self.plunge][1]
        steep = on / np.sqrt(radius**2 - on**2) / math.cos(self.face.bevel.angle)
        grade = np.tan(self.face.angle(d))[:, None] * slope + steep[:, None] * normals(headings)
        return points, d, grade

    def _on(self, row: Ints) -> Floats:
        """Return how far up the plunge's cylinder each row's line lies, (K,) mm."""
        radius = self.face.plunges[self.plunge][1]
        return np.clip(np.array([one.s for one in self.lines])[row], 0.0, 0.999999 * radius)

    def tips(self, cutter: Cutter, row: Ints, station: Floats) -> tuple[Ints, Floats]:
        """Return rows and places (K, 3) of the tip where the cutter touches the surface.

        Where the surface is creased, in a ridge as far from one part of the edge as from another,
        the cutter rolls over: it touches the ridge with every normal between both slopes.
        """
        points, d, grade = self.at(row, station)
        low = np.flatnonzero((np.diff(row) == 0) & (np.hypot(*np.diff(grade, axis=0).T) > CREASE))
        if len(low):
            rolled = self._rolled(row[low], station[low], station[low + 1])
            many = len(rolled[0]) // max(len(low), 1)
            row = np.insert(row, np.repeat(low + 1, many), rolled[0])
            points = np.insert(points, np.repeat(low + 1, many), rolled[1], axis=0)
            d = np.insert(d, np.repeat(low + 1, many), rolled[2])
            grade = np.insert(grade, np.repeat(low + 1, many), rolled[3], axis=0)
        return row, self._tip(cutter, row, points, d, grade)

    def _rolled(self, row: Ints, low: Floats, high: Floats) -> tuple[Ints, Floats, Floats, Floats]:
        """Return `ROLLED` places at each crease between two stations: where it is, its slopes."""
        _, _, first = self.at(row, low)
        _, _, last = self.at(row, high)
        for _ in range(HALVINGS):
            middle = (low + high) / 2
            _, _, grade = self.at(row, middle)
            beyond = np.hypot(*(grade - last).T) < np.hypot(*(grade - first).T)
            low, high = np.where(beyond, low, middle), np.where(beyond, middle, high)
            first = np.where(beyond[:, None], first, grade)
            last = np.where(beyond[:, None], grade, last)
        points, d, _ = self.at(row, (low + high) / 2)
        share = np.linspace(0.0, 1.0, ROLLED)[None, :, None]
        grade = first[:, None] + share * (last - first)[:, None]
        return (
            np.repeat(row, ROLLED),
            np.repeat(points, ROLLED, axis=0),
            np.repeat(d, ROLLED),
            grade.reshape(-1, 2),
        )

    def _tip(self, cutter: Cutter, row: Ints, points: Floats, d: Floats, grade: Floats) -> Floats:
        """Return the tip's places (K, 3); further out than `BORDER` mm off the edge they are level."""
        radius, on = self.face.plunges[self.plunge][1], self._on(row)
        size = np.hypot(grade[:, 0], grade[:, 1])
        upright = 1 / np.sqrt(1 + size**2)
        away = cutter.corner * size * upright + (cutter.radius - cutter.corner)
        axis = points - grade / size[:, None] * away[:, None]
        lifted = (radius - np.sqrt(radius**2 - on**2)) / math.cos(self.face.bevel.angle)
        raised = np.array([one.raised for one in self.lines])[row]
        z = self.face.height(np.maximum(d, -BORDER)) + lifted + raised
        return np.column_stack([axis, z + cutter.corner * (upright - 1)])
