"""The force between cutter and work, over a turn, as three components: Kienzle's formula in slices.

Angles are counted as in `knifecam.cutting.engagement`: in the sense the spindle turns, from where
a tooth moves straight along the feed. The cutter cuts right-handed and its helix is right-handed.

A slice of edge, ``ds`` long in the plane of the axis and inclined by ``kappa`` (a right angle on the
flank, 0 on the end), meets a chip ``h = fz sin(angle) sin(kappa)``. Three forces act on it:

    along the cut, against the tooth's motion   (kc1.1 h^(1 - mc) + edge) ds
    square to edge and cut, away from the work  (share kc1.1 h^(1 - mc) + edge across) ds
    down along the edge, by the helix           kc1.1 h^(1 - mc) tan(inclination) ds

The helix draws the cutter down and lifts the work toward the spindle. The force square to the edge
presses the work down wherever the edge is not upright: at a corner radius, on a ball, on a cone.

The force down along the edge is that of a face without friction. Friction of the chip takes off up to
two thirds of it (the oblique cut with the chip's flow at the edge's inclination: from memory), so the
lift is the upper side. What the end's edges meet on slopes and in plunges is left out; the cutter is
rigid.

References
----------
O. Kienzle, Die Bestimmung von Kraeften und Leistungen an spanenden Werkzeugen, VDI-Z 94 (1952):
``F = kc1.1 b h^(1 - mc)``.
Y. Altintas, Manufacturing Automation (2000), chapter 2: edge forces beside those of the chip, and the
sum over teeth and slices (both titles from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from knifecam.curve.curve import Floats, frozen
from knifecam.shop.cutter import CHAMFER, Cutter

HARDNESS_HRC = (50.0, 55.0, 60.0, 63.0, 70.0)
KC11_N_MM2 = (3090.0, 3690.0, 4330.0, 4750.0, 5730.0)
"""N/mm2: specific cutting force of hardened steel at a chip of 1 mm, by hardness, in the groups that
follow ISO 513 (from memory; the last straight on from those before). Turning catalogues of 2017 and 2022
print 4600 at 55 HRC and 4700 at 60 for the groups of VDI 3323: a quarter more at most."""


CHIP_EXPONENT = 0.25
"""mc of hardened steel (from memory): the specific force grows as the chip's thickness to minus mc.
Chips here are a tenth of the thinnest that the formula is usually held to, so it is an upper side."""


NORMAL_SHARE = 0.6
"""Force square to the edge and to the cut, over the force along the cut (from memory)."""


EDGE_ALONG_N_MM, EDGE_ACROSS_N_MM = 15.0, 25.0
"""N for each mm of edge that rubs, along the cut and square to it, whatever the chip (from memory)."""


HELIX_RAD = np.radians(35.0)
"""rad: helix of end mills for hardened steel, which orders do not tell (common practice)."""


PLACES_A_TURN = 192
"""In about how many places of a turn the forces are looked at, alike between any two teeth."""


CORNER_SLICES = 18
"""Slices of a corner's quarter circle, of equal angle."""


NEARLY = 0.02
"""A force so little below the greatest may act lower down, where it bends the cutter more."""


ROWS_AT_ONCE = 1000
"""How many engagements are worked out together, to stay within the processor's own memory."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CuttingSteel:
    """What a steel puts up against an edge.

    ``kc11`` in N/mm2, ``mc`` and ``share`` plain, the edge forces ``along`` and ``across`` in N/mm.
    """

    kc11: float
    mc: float = CHIP_EXPONENT
    share: float = NORMAL_SHARE
    along: float = EDGE_ALONG_N_MM
    across: float = EDGE_ACROSS_N_MM


def hardened_steel(hardness: float) -> CuttingSteel:
    """Return what steel of a hardness (HRC) puts up, by `KC11_N_MM2`; softer counts as 50 HRC."""
    return CuttingSteel(kc11=float(np.interp(hardness, HARDNESS_HRC, KC11_N_MM2)))


@dataclass(frozen=True, eq=False)
class CuttingForce:
    """Forces on the cutter for each engagement, (N,) each; the work feels their opposites.

    Parameters
    ----------
    along, aside : N
        Component along the feed and toward the left of it, each where it is the greatest in size.
        Climb milling drives the cutter off a wall on the right: ``aside`` is positive.
    lift, press : N
        Greatest force that lifts the work toward the spindle, and that presses it down; not negative.
    across : N
        Greatest force square to the axis.
    height : mm
        How high above the tip that force acts; the lowest, where the helix moves it up unchanged.
    mean_along, mean_aside, mean_lift : N
        Means over a turn; the last is negative where the work is pressed down.
    torque, mean_torque : N mm
        Greatest, and mean over a turn.
    """

    along: Floats
    aside: Floats
    lift: Floats
    press: Floats
    across: Floats
    height: Floats
    mean_along: Floats
    mean_aside: Floats
    mean_lift: Floats
    torque: Floats
    mean_torque: Floats

    def __post_init__(self) -> None:
        for name in self.__dataclass_fields__:
            object.__setattr__(self, name, frozen(getattr(self, name), np.float64))

    def power(self, spindle: ArrayLike) -> Floats:
        """Return the mean power at ``spindle`` rev/min, W."""
        return np.asarray(self.mean_torque * np.asarray(spindle, float) * 2 * np.pi / 60 / 1000)


def cutting_force(
    cutter: Cutter,
    steel: CuttingSteel,
    *,
    entry: ArrayLike,
    exit_: ArrayLike,
    axial: ArrayLike,
    feed_per_tooth: ArrayLike,
    runout: float = 0.0,
    helix: float = HELIX_RAD,
) -> CuttingForce:
    """Return the forces of a cutter for each of N engagements.

    Parameters
    ----------
    entry, exit_ : (N,) rad
        Where teeth enter metal and leave it, 0 to half a turn.
    axial : (N,) mm
        How high above the tip metal reaches.
        All three may be (N, L): of layers that lie one on the other, ``axial`` being their tops.
    feed_per_tooth : (N,) mm
    runout : float, mm
        The leading tooth takes so much more than the feed per tooth, the others share what is left.
    helix : float, rad
        At the cutter's full radius; its lead is one and the same from the tip up.
    """
    arcs = np.broadcast_arrays(*(_layered(v) for v in (entry, exit_, axial)))
    tooth = np.ravel(np.asarray(feed_per_tooth, float))
    count = max(len(arcs[0]), len(tooth))
    low, high, tops = (np.broadcast_to(v, (count, v.shape[1])) for v in arcs)
    tooth = np.maximum(np.broadcast_to(tooth, count), 0.0)
    slices = _slices(cutter, float(tops.max(initial=0.0)), helix)
    parts = [
        _over_a_turn(cutter.flutes, steel, slices, (low[k], high[k], tops[k], tooth[k]), runout)
        for k in (
            slice(begin, begin + ROWS_AT_ONCE) for begin in range(0, count or 1, ROWS_AT_ONCE)
        )
    ]
    columns = map(np.concatenate, zip(*parts, strict=True))
    return CuttingForce(**dict(zip(CuttingForce.__dataclass_fields__, columns, strict=True)))


def _layered(values: ArrayLike) -> Floats:
    """Return figures of layers, (N, L), of one layer where they are plain."""
    given = np.atleast_1d(np.asarray(values, float))
    return given[:, None] if given.ndim == 1 else given


@dataclass(frozen=True, slots=True, kw_only=True)
class _Slice:
    """A slice of edge from ``low`` to ``high`` mm above the tip, as it is in its middle.

    ``inclination`` is the tangent of the angle by which the helix inclines the edge to the plane of
    the axis, ``shift`` how many places of the turn the slice lags behind the tip.
    """

    low: float
    high: float
    radius: float
    kappa: float
    inclination: float
    shift: int


def _slices(cutter: Cutter, deep: float, helix: float) -> list[_Slice]:
    """Return the cutter's edge in slices from the tip up, past ``deep`` mm."""
    lead = float(np.tan(helix)) / cutter.radius
    place = 2 * np.pi / _places(cutter.flutes)
    step = place / lead if lead * deep > place else max(deep, cutter.radius)
    bounds, kappas, radii = _foot(cutter, step)
    upper = bounds[-1] + step * np.arange(1, max(0, int(np.ceil((deep - bounds[-1]) / step))) + 1)
    bounds = np.concatenate([bounds, upper])
    kappas = np.concatenate([kappas, np.full(len(upper), np.pi / 2)])
    radii = np.concatenate([radii, np.full(len(upper), cutter.radius)])
    return [
        _Slice(
            low=low, high=high, radius=radius, kappa=kappa,
            inclination=float(radius * lead * np.sin(kappa)),
            shift=int((low + high) / 2 * lead / place),
        )
        for low, high, radius, kappa in zip(bounds[:-1], bounds[1:], radii, kappas, strict=True)
        if low < deep
    ]  # fmt: skip


def _places(flutes: int) -> int:
    """Return in how many places of a turn the forces are looked at."""
    return -(-PLACES_A_TURN // flutes) * flutes


def _foot(cutter: Cutter, step: float) -> tuple[Floats, Floats, Floats]:
    """Return the bounds, angles and radii of slices of a corner's or cone's edge."""
    if cutter.kind == CHAMFER:
        count = max(CORNER_SLICES, int(np.ceil(cutter.cone_height / step)))
        bounds = np.linspace(0.0, cutter.cone_height, count + 1)
        middle = (bounds[1:] + bounds[:-1]) / 2
        kappas = np.full(count, np.pi / 2 - cutter.half_angle)
        return bounds, kappas, cutter.tip / 2 + middle * np.tan(cutter.half_angle)
    turns = np.linspace(0.0, np.pi / 2, (CORNER_SLICES if cutter.corner > 0.0 else 0) + 1)
    kappas = (turns[1:] + turns[:-1]) / 2
    radii = cutter.radius - cutter.corner * (1.0 - np.sin(kappas))
    return cutter.corner * (1.0 - np.cos(turns)), kappas, radii


def _over_a_turn(
    flutes: int,
    steel: CuttingSteel,
    slices: list[_Slice],
    rows: tuple[Floats, Floats, Floats, Floats],
    runout: float,
) -> list[Floats]:
    """Return the columns of a `CuttingForce` for some engagements.

    ``rows``: entry, exit and tops of layers, (n, L) each, and the feed per tooth, (n,).
    """
    low, high, tops, tooth = rows
    lead = np.minimum(tooth + (runout if flutes > 1 else 0.0), flutes * tooth)
    rest = (flutes * tooth - lead) / (flutes - 1) if flutes > 1 else tooth
    power = 1.0 - steel.mc
    whole, foot = np.zeros(()), np.zeros(len(tooth))
    for layer in range(tops.shape[1]):
        turn = _edge_in_metal(flutes, steel.mc, low[:, layer], high[:, layer])
        pitch = turn.reshape(6, len(tooth), flutes, -1).sum(axis=2)
        per_chip, per_edge = _weights(slices, steel, foot, tops[:, layer])
        found = _laid(pitch, per_chip * rest**power, per_edge * (tooth > 0.0))
        if runout > 0.0:
            # the leading tooth goes through each pitch of the turn once
            more = _laid(turn, per_chip * (lead**power - rest**power), np.zeros_like(per_edge))
            found = np.tile(found, flutes) + more
        whole, foot = whole + found, np.maximum(foot, tops[:, layer])
    return _peaks(whole)


def _edge_in_metal(flutes: int, mc: float, low: Floats, high: Floats) -> Floats:
    """Return how much of each place of a turn is metal, times what forces vary by, (6, n, places).

    The first three are times the chip's share of the force, by cosine, by sine and plain; the
    others are of the edge that rubs.
    """
    places = _places(flutes)
    width = 2 * np.pi / places
    angle = (np.arange(places) + 0.5) * width
    begin = np.maximum(low[:, None], angle - width / 2)
    end = np.maximum(np.minimum(high[:, None], angle + width / 2), begin)
    edge, middle = (end - begin) / width, (begin + end) / 2
    sine, cosine = np.sin(middle), np.cos(middle)
    chip = edge * np.maximum(sine, 0.0) ** (1.0 - mc)
    return np.stack([chip * cosine, chip * sine, chip, edge * cosine, edge * sine, edge])


def _weights(
    slices: list[_Slice], steel: CuttingSteel, foot: Floats, top: Floats
) -> tuple[Floats, Floats]:
    """Return the forces on the edge between heights, summed by shift, (shifts, 6, n) each.

    In the order: along the cut, inward, down on the cutter, torque, and the moments of the first
    two about the tip. The first array is for each unit of the feed per tooth to the power of 1 - mc.
    """
    shifts = 1 + max((one.shift for one in slices), default=0)
    chips, edges = np.zeros((2, shifts, 6, len(top)))
    for one in slices:
        low = np.clip(foot, one.low, one.high)
        high = np.clip(top, low, one.high)
        middle, (sink, rise) = (low + high) / 2, (np.sin(one.kappa), np.cos(one.kappa))
        edge = (high - low) / sink
        chip = edge * steel.kc11 * sink ** (1.0 - steel.mc)
        inward = chip * (steel.share * sink + one.inclination * rise)
        down = chip * (one.inclination * sink - steel.share * rise)
        torque = chip * one.radius
        chips[one.shift] += [chip, inward, down, torque, chip * middle, inward * middle]
        along, inward = steel.along * edge, steel.across * sink * edge
        down = -steel.across * rise * edge
        torque = along * one.radius
        edges[one.shift] += [along, inward, down, torque, along * middle, inward * middle]
    return chips, edges


def _laid(turn: Floats, chips: Floats, edges: Floats) -> Floats:
    """Return forces over a turn (6, n, places), each slice's laid as far on as it lags.

    In the order that `_peaks` takes them.
    """
    sums = np.zeros_like(turn)
    for shift, (of_chip, of_edge) in enumerate(zip(chips, edges, strict=True)):
        if not of_edge[0].any() and not of_chip[0].any():
            continue
        a, r, d, t, am, rm = of_chip[:, :, None]
        b, s, e, u, bm, sm = of_edge[:, :, None]
        cosine, sine, plain, edge_cosine, edge_sine, edge = np.roll(turn, shift, axis=2)
        sums[0] -= a * cosine + r * sine + b * edge_cosine + s * edge_sine
        sums[1] += a * sine - r * cosine + b * edge_sine - s * edge_cosine
        sums[2] += d * plain + e * edge
        sums[3] += t * plain + u * edge
        sums[4] -= am * cosine + rm * sine + bm * edge_cosine + sm * edge_sine
        sums[5] += am * sine - rm * cosine + bm * edge_sine - sm * edge_cosine
    return sums


def _peaks(sums: Floats) -> list[Floats]:
    """Return the columns of a `CuttingForce` from what acts on the cutter over a turn.

    ``sums`` (6, n, places): along, aside and down in N, torque about the axis, and the moments of
    the first two about the tip in N mm.
    """
    feed, left, down, torque, feed_moment, left_moment = sums
    across = np.hypot(feed, left)
    force = across.max(axis=1)
    height = np.hypot(feed_moment, left_moment) / np.where(across > 0.0, across, 1.0)
    nearly = across >= (1.0 - NEARLY) * force[:, None]
    lowest = np.where(nearly, height, np.inf).min(axis=1)
    return [
        _farthest(feed), _farthest(left),
        np.maximum(down.max(axis=1), 0.0), np.maximum(-down.min(axis=1), 0.0),
        force, lowest, feed.mean(axis=1), left.mean(axis=1), down.mean(axis=1),
        torque.max(axis=1), torque.mean(axis=1),
    ]  # fmt: skip


def _farthest(values: Floats) -> Floats:
    """Return the value farthest from 0 of each row."""
    at = np.abs(values).argmax(axis=1)[:, None]
    return np.take_along_axis(values, at, 1)[:, 0]
