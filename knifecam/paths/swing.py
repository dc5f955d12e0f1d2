"""How near to a plunge a cutter may come before its rim swings into it.

Along a bevel a cutter touches at one place of its rim only; ahead, where the plunge rises, the rim
lies lower on the slope and has that much room. The rise a plunge of radius Rp adds at s past its line is
(Rp - sqrt(Rp^2 - s^2)) / cos a.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from knifecam.curve import Curve, place_at
from knifecam.curve.curve import Floats
from knifecam.paths.bevel import Face, Stand
from knifecam.shop import Cutter

SAFE = 0.02
"""mm a cutter stops before the place where it would touch: more than the looking leaves open."""

AROUND, UP = 73, 9
"""How many places round the rim, and up its corner, are looked at."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lead:
    """The arc on which a pass begins or ends beside a plunge, turned toward the edge.

    Its end lies ``aside`` mm off the pass and ``fall`` mm above it; ``radius`` in mm. ``stock`` mm
    stand above what the pass leaves, and are not to be met where the arc ends.
    """

    radius: float
    aside: float
    fall: float
    stock: float = 0.0

    @property
    def length(self) -> float:
        """Return how long the arc is, mm."""
        return self.radius * math.acos(1 - self.aside / self.radius)

    def places(self, count: int) -> tuple[Floats, Floats, Floats]:
        """Return how far aside, ahead and above the stock places along the arc are, (count,) mm."""
        whole = math.acos(1 - self.aside / self.radius)
        turned = np.linspace(0.0, whole, count)
        return (
            self.radius * (1 - np.cos(turned)),
            self.radius * np.sin(turned),
            (self.fall - self.stock) * turned / whole,
        )


NO_LEAD = Lead(radius=1.0, aside=1e-9, fall=0.0)
"""A pass that ends where it stands."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Before:
    """The cutter that came before, and how it stood at the same places of the face.

    ``leads``: where it stops passes, so many arcs end there one after another, each where the stage
    before still was at its depth.
    """

    cutter: Cutter
    stands: tuple[Stand, ...]
    leads: int = 1


def rim(cutter: Cutter, room: Floats, touch: Floats | None = None) -> tuple[Floats, Floats]:
    """Return distances from the axis and heights above the tip, (M, K) mm, of places up the corner.

    The uppermost of each row is as high above the tip as ``room`` (M,), or at the corner's end.
    Places at the slopes ``touch`` (M,) rad are among them: there the cutter has no room at all.
    """
    r, flat = cutter.corner, cutter.radius - cutter.corner
    whole = np.arccos(np.clip(1 - np.clip(room, 0.0, None) / max(r, 1e-9), 0.0, 1.0))
    up = whole[:, None] * np.linspace(0.0, 1.0, UP)
    if touch is not None:
        up = np.concatenate([up, np.minimum(touch, whole)[:, None]], axis=1)
    away = np.concatenate([np.full((len(room), 1), flat / 2), flat + r * np.sin(up)], axis=1)
    height = np.concatenate([np.zeros((len(room), 1)), r * (1 - np.cos(up))], axis=1)
    return away, height


def lean(face: Face, plunge: Curve) -> tuple[float, float]:
    """Return the parts of the direction past a plunge's line along the edge's normal and across it.

    Taken in the middle of the face.
    """
    stations = np.linspace(0.0, plunge.length, 101)
    places, headings = place_at(plunge, stations)
    from knifecam.curve.prolonged_distance import signed_line_distance

    d = signed_line_distance(places, face.edge)
    k = int(np.argmin(np.abs(d - face.width / 2)))
    step = 1e-3
    way = np.array([[step, 0.0], [0.0, step]])
    slope = (signed_line_distance(places[k] + way, face.edge) - d[k]) / step
    past = np.array([-math.sin(headings[k]), math.cos(headings[k])])
    slope /= np.hypot(*slope)
    along = float(past @ slope)
    return along, math.sqrt(max(0.0, 1 - along**2))


def limits(
    face: Face,
    cutter: Cutter,
    stands: Sequence[Stand],
    plunge: int,
    lead: Lead,
    before: Sequence[Before] = (),
) -> Floats:
    """Return how far past the line of a plunge the axis may come in each pass, (K,) mm.

    There the arc of ``lead`` begins; neither it nor the cutter in the pass comes nearer to the
    surface, or to the blade's flat beyond the plunge, than the pass itself stays above the face: a
    raised pass ends where it would if it were not raised. Nor does the arc end where the cutters
    that came ``before`` could not come.
    """
    line, radius = face.plunges[plunge]
    normal, across = lean(face, line)
    round_ = np.linspace(-math.pi, math.pi, AROUND)
    x = np.array([one.x for one in stands])
    z = np.array([one.z for one in stands])
    slope = face.angle(np.array([one.d for one in stands]))
    raised = np.array([one.raised for one in stands])
    stay, flat = raised[:, None, None], face.thickness / 2 + raised
    found = np.full(len(stands), np.inf)
    for aside, on, higher in zip(*lead.places(5), strict=True):
        away, up = rim(cutter, flat - z - higher, slope)
        inward = away[:, :, None] * np.cos(round_)
        ahead = across * away[:, :, None] * np.sin(round_) + normal * inward
        tip = ((z + higher)[:, None] + up)[:, :, None]
        beside = 0.0 if lead.stock > 0 else aside  # what was cut before ends where passes touch
        room = tip - face.height(x[:, None, None] - beside + inward) - stay
        lifted = np.clip(room * math.cos(face.bevel.angle), 0.0, radius)
        reach = np.sqrt(radius**2 - (radius - lifted) ** 2)
        free = tip > flat[:, None, None] + 1e-9
        most = np.where(free, np.inf, reach - ahead).min(axis=(1, 2))
        found = np.minimum(found, most - on * across + aside * normal)
    aside, on, _ = (float(one[-1]) for one in lead.places(2))
    arc = on * across - aside * normal
    for one in before:
        came = limits(face, one.cutter, one.stands, plunge, NO_LEAD)
        came -= max(0.0, cutter.radius - one.cutter.radius)
        stops = bool((came - arc < found).any())
        found = np.minimum(found, came - (one.leads if stops else 1) * arc)
    return found - SAFE
