"""The metal a cutter's leading rim is about to meet, from exact geometry: no grid is involved.

A place of the rim is in metal where it lies in the plate and no earlier motion has swept it. What
earlier motions left over a place is found from the lowest surface each of them had there, in closed
form, or for corners and cones that rise or fall by the least value of a convex function.

Compiled when it is first asked for, and kept. The whole call tree is in this file.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from knifecam.compiled import inner, outer
from knifecam.sweep.sweep_limits import (
    AGO_MM,
    AGO_ROUND_MM,
    BELOW_TOP_MM,
    ENVELOPE_SKIN_MM,
    GOLDEN_SHARE,
    LEAST_CHIP_SHARE,
    LEAST_MET_MM,
    SWEPT_WITHIN_MM,
    THICKER_CHIP_TIMES,
)

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Longs = NDArray[np.int64]

DIRECTIONS = 32
"""Directions of the leading half circle that are looked at first."""

END_HALVINGS = 12
"""Then its ends are found between two of them by so many halvings: to 0.001 degree."""

SECTIONS, FEWER = 34, 14
"""Golden sections of a search: to 1e-7 of its stretch; where any place will do, to 0.001."""

# figures of a piece of a motion; those from BX on are laid by `lay`
(
    AX,
    AY,
    AZ,
    UX,
    UY,
    SLOPE,
    REACH,
    CX,
    CY,
    PATH,
    PIECE_BEGIN,
    SENSE,
    PIECE_RADIUS,
    PIECE_FLAT,
    PIECE_RISE,
    LOWEST,
    PIECE_MOTION,
    SINCE,
    UNTIL,
    BEYOND,
    BX,
    BY,
    MX,
    MY,
    COSINE,
) = range(25)
PIECE = 25

# figures of a moment looked at
(X, Y, Z, HX, HY, BEND, TURN, OWN_RADIUS, OWN_FLAT, OWN_RISE, FORTH, DOWN, DEPTH, OWN_MOTION, WAY
 ) = range(15)  # fmt: skip
MOMENT = 15

# what is found of it
HIGH, LOW, FOUND_GAP, GAP_CHIP, RADIAL, AXIAL, CHIP, EDGE = range(8)
FOUND = 8

# figures of a part of the edge: its radii, the cosines and sines of its directions, its chip at most
LESS, MORE, COS_LOW, SIN_LOW, COS_HIGH, SIN_HIGH, AT_MOST = range(7)
PART = 7

# the thickest chip found so far, the radius and the direction's cosine it was found at
THICK, AT_RADIUS, AT_COSINE = range(3)

PARTS = 2048
"""Parts of the edge that are kept for a closer look; past them a part counts as its chip at most."""

SECTORS = 4
"""Of the leading half circle, whose edges are searched one after the other."""


def _profile(v: float, radius: float, flat: float, rise: float) -> float:
    """Return the height of a cutter's surface above its tip at ``v`` from its axis."""
    w = max(min(v, radius) - flat, 0.0)
    if rise > 0.0:
        return rise * w
    r = radius - flat
    return r - math.sqrt(max(r * r - w * w, 0.0))


profile = inner(_profile)


def _lay(p: Floats) -> None:
    """Fill in where a piece ends, and of an arc the sector it lies in: its middle, its half angle."""
    if p[PATH] == 0.0:
        p[BX], p[BY] = p[AX] + p[UX] * p[REACH], p[AY] + p[UY] * p[REACH]
        return
    end, middle = p[PIECE_BEGIN] + p[SENSE] * p[REACH], p[PIECE_BEGIN] + p[SENSE] * 0.5 * p[REACH]
    p[AX], p[AY] = (
        p[CX] + p[PATH] * math.cos(p[PIECE_BEGIN]),
        p[CY] + p[PATH] * math.sin(p[PIECE_BEGIN]),
    )
    p[BX], p[BY] = p[CX] + p[PATH] * math.cos(end), p[CY] + p[PATH] * math.sin(end)
    p[MX], p[MY] = math.cos(middle), math.sin(middle)
    p[COSINE] = math.cos(0.5 * p[REACH])


lay = inner(_lay)


def _away(p: Floats, x: float, y: float) -> float:
    """Return how far a place is from the path of a piece, seen from above."""
    ax, ay = x - p[AX], y - p[AY]
    if p[PATH] == 0.0:
        along = ax * p[UX] + ay * p[UY]
        off = p[UX] * ay - p[UY] * ax
        past = along - min(max(along, 0.0), p[REACH])
        return math.sqrt(off * off + past * past)
    px, py = x - p[CX], y - p[CY]
    rho = math.sqrt(px * px + py * py)
    if px * p[MX] + py * p[MY] >= rho * p[COSINE]:
        return abs(rho - p[PATH])
    bx, by = x - p[BX], y - p[BY]
    return math.sqrt(min(ax * ax + ay * ay, bx * bx + by * by))


away = inner(_away)


def _raised(p: Floats, t: float, middle: float, base: float, pull: float) -> float:
    """Return the height of the cutter's surface over a place at moment ``t`` of a piece."""
    lag = t - middle
    squared = base - pull * math.cos(lag) if pull > 0.0 else base + lag * lag
    v = math.sqrt(max(squared, 0.0))
    return p[AZ] + p[SLOPE] * t + profile(v, p[PIECE_RADIUS], p[PIECE_FLAT], p[PIECE_RISE])


raised = inner(_raised)


def _least(p: Floats, low: float, high: float, middle: float, base: float, pull: float,
           sections: int) -> float:  # fmt: skip
    """Return the moment of the least height between two in which the cutter is over a place."""
    if p[PIECE_FLAT] == p[PIECE_RADIUS]:
        return low if p[SLOPE] > 0.0 else high
    a, b = high - GOLDEN_SHARE * (high - low), low + GOLDEN_SHARE * (high - low)
    fa, fb = raised(p, a, middle, base, pull), raised(p, b, middle, base, pull)
    for _ in range(sections):
        if fa < fb:
            high, b, fb = b, a, fa
            a = high - GOLDEN_SHARE * (high - low)
            fa = raised(p, a, middle, base, pull)
        else:
            low, a, fa = a, b, fb
            b = low + GOLDEN_SHARE * (high - low)
            fb = raised(p, b, middle, base, pull)
    return a if fa < fb else b


least = inner(_least)


def _lowest(p: Floats, x: float, y: float, limit: float, sections: int) -> tuple[float, float]:
    """Return the lowest surface a sloped piece has over a place, and at what moment.

    inf beside it, and where it cannot come below ``limit``.
    """
    radius = p[PIECE_RADIUS] + SWEPT_WITHIN_MM
    reach, pull = p[REACH], 0.0
    if p[PATH] == 0.0:
        px, py = x - p[AX], y - p[AY]
        middle = px * p[UX] + py * p[UY]
        base = (p[UX] * py - p[UY] * px) ** 2
        if base > radius * radius:
            return math.inf, 0.0
        half = math.sqrt(radius * radius - base)
    else:
        px, py = x - p[CX], y - p[CY]
        squared = px * px + py * py
        base, pull = p[PATH] ** 2 + squared, 2.0 * p[PATH] * math.sqrt(squared)
        if base - pull > radius * radius:
            return math.inf, 0.0
        half = math.acos(max(-1.0, (base - radius * radius) / pull)) if pull > 0.0 else math.pi
        middle = p[SENSE] * (math.atan2(py, px) - p[PIECE_BEGIN])
        middle += 2.0 * math.pi if middle < 0.0 else 0.0
    best, at = math.inf, 0.0
    for _ in range(2):  # a place may lie past an arc's end and yet be near its beginning
        low, high = max(0.0, middle - half), min(reach, middle + half)
        if low <= high:
            nearest = profile(
                math.sqrt(max(0.0, base - pull)), p[PIECE_RADIUS], p[PIECE_FLAT], p[PIECE_RISE]
            )
            deepest = p[AZ] + p[SLOPE] * (low if p[SLOPE] > 0.0 else high)
            if deepest + nearest < min(best, limit):
                t = least(p, low, high, middle, base, pull, sections)
                over = raised(p, t, middle, base, pull)
                best, at = (over, t) if over < best else (best, at)
        middle -= 2.0 * math.pi if pull > 0.0 else math.inf
    return best, at


lowest = inner(_lowest)


def _height(p: Floats, x: float, y: float, limit: float) -> float:
    """Return the lowest surface a piece has over a place, where it may lie below ``limit``; or inf."""
    if p[SLOPE] == 0.0:
        v = away(p, x, y)
        if v > p[PIECE_RADIUS] + SWEPT_WITHIN_MM:
            return math.inf
        return p[AZ] + profile(v, p[PIECE_RADIUS], p[PIECE_FLAT], p[PIECE_RISE])
    over, _ = lowest(p, x, y, limit, SECTIONS)
    return over


height = inner(_height)


def _metal(near: Floats, n: int, plate: Floats, x: float, y: float, floor: float,
           lid: float) -> float:  # fmt: skip
    """Return how much metal stands over a place above ``floor``; 0 for less than a grain.

    0 as well where it begins above ``lid``, over a void: an edge that leans is past it there.

    ``near`` (n, 25) are the pieces that cut before: of the other side, then of this, each from the
    deepest on; one more row, which tells which of them emptied a place last: it is asked first.
    ``plate``: its lower and higher X and Y, fixture and face.
    """
    if not (plate[0] <= x <= plate[1] and plate[2] <= y <= plate[3]):
        return 0.0
    bottom, top = max(plate[4], floor), plate[5]
    if bottom > lid:
        return 0.0
    last = int(near[n, 0])
    if last >= 0:
        top = min(top, height(near[last], x, y, top))
        if top - bottom < LEAST_MET_MM:
            return 0.0
    for k in range(n):
        p = near[k]
        if p[BEYOND] > 0.0:
            if -p[LOWEST] > bottom:
                bottom = max(bottom, -height(p, x, y, -bottom))
                if bottom > lid:
                    return 0.0
        elif p[LOWEST] >= top:
            break
        else:
            top = min(top, height(p, x, y, top))
            if top - bottom < LEAST_MET_MM:
                near[n, 0] = k
        if top - bottom < LEAST_MET_MM:
            return 0.0
    return top - bottom


metal = inner(_metal)


def _cut_off(p: Floats, until: float) -> None:
    """Shorten a piece to what is cut before some length of the program's way."""
    p[REACH] *= (until - p[SINCE]) / (p[UNTIL] - p[SINCE])
    p[UNTIL] = until
    lay(p)


cut_off = inner(_cut_off)


def _gather(pieces: Floats, listed: Ints, begin: int, end: int, m: Floats, face: float,
            near: Floats) -> int:  # fmt: skip
    """Copy the pieces cut before a moment that reach its rim; return how many."""
    n = 0
    hollow, ceiling = math.inf, face
    R = m[OWN_RADIUS]
    ago = AGO_MM if m[OWN_FLAT] == R else AGO_ROUND_MM
    round_ago = max(ago, math.pi * m[BEND]) if m[BEND] > R else ago
    for k in range(begin, end):
        p = pieces[listed[k]]
        own = p[BEYOND] == 0.0
        if own and p[LOWEST] >= ceiling:
            break
        mine = own and p[PIECE_MOTION] == m[OWN_MOTION]
        until = m[WAY] - (round_ago if mine else ago) if own else math.inf
        if p[SINCE] >= until or (mine and p[PATH] == 0.0):
            continue
        if not own and (-p[LOWEST] <= m[Z] or p[LOWEST] >= hollow):
            continue
        far = away(p, m[X], m[Y])
        if far > R + p[PIECE_RADIUS] + SWEPT_WITHIN_MM:
            continue
        for c in range(PIECE):
            near[n, c] = p[c]
        p = near[n]
        if p[UNTIL] > until:
            cut_off(p, until)
            far = away(p, m[X], m[Y])
        n += 1
        if (
            p[SLOPE] == 0.0 and far + R <= p[PIECE_RADIUS] + SWEPT_WITHIN_MM
        ):  # it has passed over the whole cutter
            least_left = p[AZ] + profile(far + R, p[PIECE_RADIUS], p[PIECE_FLAT], p[PIECE_RISE])
            if own:
                ceiling = min(ceiling, least_left)
            else:
                hollow = min(hollow, least_left)
    near[n, 0] = -1.0
    return n


gather = inner(_gather)


def _limits(m: Floats, v: float) -> tuple[float, float]:
    """Return the directions between which the rim of radius ``v`` is off the motion's envelope."""
    side = 1.0 - min(ENVELOPE_SKIN_MM / v, 1.0)
    low, high = -side, side
    if m[BEND] > 0.0:
        scale = 1.0 / (2.0 * v * m[BEND])
        square = v * v + m[BEND] ** 2
        out = (square - (m[BEND] + v - ENVELOPE_SKIN_MM) ** 2) * scale
        within = (square - (m[BEND] - v + ENVELOPE_SKIN_MM) ** 2) * scale if m[BEND] > v else 1.0
        out, within = max(out, -1.0), min(within, 1.0)
        low, high = (out, within) if m[TURN] > 0.0 else (-within, -out)
    return math.asin(min(low, high)), math.asin(high)


limits = inner(_limits)


def _met(near: Floats, n: int, plate: Floats, m: Floats, v: float, floor: float, ahead: float,
         left: float) -> float:  # fmt: skip
    """Return the metal before the rim of radius ``v`` in a direction, by its cosine and sine."""
    x = m[X] + v * (ahead * m[HX] - left * m[HY])
    y = m[Y] + v * (ahead * m[HY] + left * m[HX])
    lid = floor + LEAST_MET_MM if v < m[OWN_RADIUS] else math.inf
    return metal(near, n, plate, x, y, floor, lid)


met = inner(_met)


def _steepness(m: Floats, v: float) -> float:
    """Return the sine of the angle between the axis and the normal of the surface at ``v``."""
    if m[OWN_RISE] > 0.0:
        return m[OWN_RISE] / math.sqrt(1.0 + m[OWN_RISE] ** 2)
    r = m[OWN_RADIUS] - m[OWN_FLAT]
    return min(1.0, max(0.0, v - m[OWN_FLAT]) / r) if r > 0.0 else 1.0


steepness = inner(_steepness)


def _chip(m: Floats, steep: float, ahead: float) -> float:
    """Return the chip's thickness over the feed per tooth: the feed's share along the normal."""
    down = math.sqrt(max(0.0, 1.0 - steep * steep)) * m[DOWN]
    return max(0.0, steep * ahead * m[FORTH] + down)


chip = inner(_chip)


def _look_at(near: Floats, n: int, plate: Floats, m: Floats,
             v: float, found: Floats) -> None:  # fmt: skip
    """Look round the rim of one radius; keep what is met where it is the widest across."""
    floor = m[Z] + profile(v, m[OWN_RADIUS], m[OWN_FLAT], m[OWN_RISE])
    if floor >= plate[5]:
        return
    low, high = limits(m, v)
    step = (high - low) / (DIRECTIONS - 1)
    steep = steepness(m, v)
    first, last, seen = -1, -1, 0
    lone = passed = 0.0
    for k in range(DIRECTIONS):
        angle = low + k * step
        ahead = math.cos(angle)
        stands = met(near, n, plate, m, v, floor, ahead, math.sin(angle))
        thick = chip(m, steep, ahead)
        if stands > 0.0:
            first = k if first < 0 else first
            last = k
            seen += 1
            lone, passed = lone + passed, 0.0
            found[AXIAL] = max(found[AXIAL], stands)
            found[CHIP] = max(found[CHIP], thick)
        elif first >= 0:
            passed += thick * step
    if seen == 0:
        return
    ends = (low + first * step, low + last * step)
    right, left = -0.5 * math.pi, 0.5 * math.pi
    widest = v * (math.sin(min(left, ends[1] + step)) - math.sin(max(right, ends[0] - step)))
    thickest = max(
        chip(m, steep, math.cos(ends[0] - step)), chip(m, steep, math.cos(ends[1] + step))
    )
    if widest <= found[RADIAL] and thickest <= found[CHIP]:
        return
    for end in range(2):  # where between the last direction in air and the first in metal it begins
        if (end == 0 and first == 0) or (end == 1 and last == DIRECTIONS - 1):
            continue
        solid = ends[end]
        air = solid - step if end == 0 else solid + step
        for _ in range(END_HALVINGS):
            angle = 0.5 * (air + solid)
            if met(near, n, plate, m, v, floor, math.cos(angle), math.sin(angle)) > 0.0:
                solid = angle
            else:
                air = angle
        right, left = (solid, left) if end == 0 else (right, solid)
        found[CHIP] = max(found[CHIP], chip(m, steep, math.cos(solid)))
    across = v * (math.sin(left) - math.sin(right))
    if across > found[RADIAL]:
        found[RADIAL], found[EDGE] = across, steep
        found[LOW], found[HIGH] = right, left
        found[FOUND_GAP], found[GAP_CHIP] = (last - first + 1 - seen) * step, lone


look_at = inner(_look_at)


def _radius_at(above: float, m: Floats) -> float:
    """Return the radius of the cutter at a height above its tip."""
    if m[OWN_RISE] > 0.0:
        return min(m[OWN_RADIUS], m[OWN_FLAT] + above / m[OWN_RISE])
    r = m[OWN_RADIUS] - m[OWN_FLAT]
    rest = max(r - above, 0.0)
    return m[OWN_FLAT] + math.sqrt(max(r * r - rest * rest, 0.0))


radius_at = inner(_radius_at)


def _stood(p: Floats, x: float, y: float, limit: float) -> tuple[float, float, float]:
    """Return where the tip of a piece's cutter stood when it cut deepest over a place, or near it.

    Its height is inf where the surface cannot have been below ``limit``.
    """
    if p[SLOPE] != 0.0:
        over, moment = lowest(p, x, y, limit, FEWER)
        z = p[AZ] + p[SLOPE] * moment if over < math.inf else math.inf
        if p[PATH] == 0.0:
            return p[AX] + moment * p[UX], p[AY] + moment * p[UY], z
        turned = p[PIECE_BEGIN] + p[SENSE] * moment
        return p[CX] + p[PATH] * math.cos(turned), p[CY] + p[PATH] * math.sin(turned), z
    if p[PATH] == 0.0:
        along = (x - p[AX]) * p[UX] + (y - p[AY]) * p[UY]
        along = min(max(along, 0.0), p[REACH])
        return p[AX] + along * p[UX], p[AY] + along * p[UY], p[AZ]
    px, py = x - p[CX], y - p[CY]
    rho = math.sqrt(px * px + py * py)
    if px * p[MX] + py * p[MY] >= rho * p[COSINE] and rho > 0.0:
        return p[CX] + p[PATH] * px / rho, p[CY] + p[PATH] * py / rho, p[AZ]
    if (x - p[AX]) ** 2 + (y - p[AY]) ** 2 <= (x - p[BX]) ** 2 + (y - p[BY]) ** 2:
        return p[AX], p[AY], p[AZ]
    return p[BX], p[BY], p[AZ]


stood = inner(_stood)


def _left_by(p: Floats, tip: tuple[float, float, float], x: float, y: float) -> float:
    """Return the surface that a piece's cutter has over a place when its tip stands somewhere."""
    d = math.sqrt((x - tip[0]) ** 2 + (y - tip[1]) ** 2)
    return (
        tip[2] + profile(d, p[PIECE_RADIUS], p[PIECE_FLAT], p[PIECE_RISE])
        if d <= p[PIECE_RADIUS] + SWEPT_WITHIN_MM
        else math.inf
    )


left_by = inner(_left_by)


def _at_most(m: Floats, c: Floats, least: float) -> float:
    """Return the thickest chip that a part of the edge can take; keep it there.

    Of level cuts, cut off the part what takes chips of ``least`` or thinner.
    """
    straight = c[SIN_LOW] <= 0.0 <= c[SIN_HIGH]
    ahead = m[FORTH] * (1.0 if straight else max(c[COS_LOW], c[COS_HIGH]))
    steep = steepness(m, c[MORE])
    if m[DOWN] > 0.0:  # the end of the edge takes the most of the fall
        square = ahead * ahead + m[DOWN] * m[DOWN]
        steep = min(max(ahead / math.sqrt(square), steepness(m, c[LESS])), steep)
    c[AT_MOST] = steep * ahead + math.sqrt(max(0.0, 1.0 - steep * steep)) * m[DOWN]
    if m[DOWN] == 0.0 and c[AT_MOST] > least:
        cosine = least / (steep * m[FORTH])
        sine = math.sqrt(max(0.0, 1.0 - cosine * cosine))
        if c[SIN_LOW] < -sine:
            c[COS_LOW], c[SIN_LOW] = cosine, -sine
        if c[SIN_HIGH] > sine:
            c[COS_HIGH], c[SIN_HIGH] = cosine, sine
        if m[OWN_RISE] == 0.0:
            w = (m[OWN_RADIUS] - m[OWN_FLAT]) * least / ahead
            c[LESS] = max(c[LESS], m[OWN_FLAT] + w)
    return float(c[AT_MOST])


at_most = inner(_at_most)


def _middle(c: Floats) -> tuple[float, float, float, float, float]:
    """Return the middle of a part of the edge: its radius, its direction's cosine and sine.

    Then the cosine of half its turn, and how far from the middle any place of it may be.
    """
    ahead, left = c[COS_LOW] + c[COS_HIGH], c[SIN_LOW] + c[SIN_HIGH]
    size = math.sqrt(ahead * ahead + left * left)
    half = 0.5 * size
    far = 0.5 * (c[MORE] - c[LESS]) + c[MORE] * math.sqrt(max(0.0, 2.0 - size))
    return 0.5 * (c[LESS] + c[MORE]), ahead / size, left / size, half, far


middle_of = inner(_middle)


def _pick(near: Floats, n: int, plate: Floats, m: Floats, c: Floats, some: Floats) -> int:
    """Copy the pieces that may bound the metal over a part of the edge; return how many."""
    v, ahead, left, _, far = middle_of(c)
    x, y = m[X] + v * (ahead * m[HX] - left * m[HY]), m[Y] + v * (ahead * m[HY] + left * m[HX])
    count, top = 0, plate[5]
    for k in range(n):
        p = near[k]
        own = p[BEYOND] == 0.0
        if own and p[LOWEST] >= top:
            break
        d = away(p, x, y)
        if d > p[PIECE_RADIUS] + SWEPT_WITHIN_MM + far:
            continue
        if (
            own
            and p[LOWEST]
            + profile(max(0.0, d - far), p[PIECE_RADIUS], p[PIECE_FLAT], p[PIECE_RISE])
            >= top
        ):
            continue
        if own and p[SLOPE] == 0.0 and d + far <= p[PIECE_RADIUS] + SWEPT_WITHIN_MM:
            top = min(top, p[AZ] + profile(d + far, p[PIECE_RADIUS], p[PIECE_FLAT], p[PIECE_RISE]))
        for e in range(PIECE):
            some[count, e] = p[e]
        count += 1
    some[count, 0] = -1.0
    return count


pick = inner(_pick)


def _standing(some: Floats, n: int, plate: Floats, m: Floats, c: Floats) -> float:
    """Return the metal over the middle of a part of the edge; -1 where none meets any of the part.

    A cutter that stood somewhere left its own surface at most, which is convex, and the edge lies
    above the plane that touches it in the part's middle. So what is left between the two is the
    thickest at a corner of what encloses the part. The same tells a void of the other side.
    """
    v, ahead, left, half, far = middle_of(c)
    radius = m[OWN_RADIUS]
    over = m[Z] + profile(v, radius, m[OWN_FLAT], m[OWN_RISE])
    high = m[Z] + profile(c[MORE], radius, m[OWN_FLAT], m[OWN_RISE])
    steep = steepness(m, v)
    slope = steep / math.sqrt(1.0 - steep * steep)
    v0, v1 = c[LESS], c[MORE] / half
    z0, z1 = over + slope * (v0 * half - v), over + slope * (c[MORE] - v)
    x, y = m[X] + v * (ahead * m[HX] - left * m[HY]), m[Y] + v * (ahead * m[HY] + left * m[HX])
    if not (plate[0] - far <= x <= plate[1] + far and plate[2] - far <= y <= plate[3] + far):
        return -1.0
    bottom, stands, leans = plate[4], plate[5] - over, c[MORE] < radius
    if plate[5] - z0 < LEAST_MET_MM or (leans and high < bottom):
        return -1.0
    ax, ay = c[COS_LOW] * m[HX] - c[SIN_LOW] * m[HY], c[COS_LOW] * m[HY] + c[SIN_LOW] * m[HX]
    bx, by = c[COS_HIGH] * m[HX] - c[SIN_HIGH] * m[HY], c[COS_HIGH] * m[HY] + c[SIN_HIGH] * m[HX]
    for k in range(-1, n):
        if k < 0 and some[n, 0] < 0.0:
            continue
        p = some[k if k >= 0 else int(some[n, 0])]
        own = p[BEYOND] == 0.0
        if own and p[LOWEST] - over >= max(stands, LEAST_MET_MM):
            break
        d = away(p, x, y)
        if d > p[PIECE_RADIUS] + SWEPT_WITHIN_MM:
            continue
        was = p[LOWEST] + profile(
            d, p[PIECE_RADIUS], p[PIECE_FLAT], p[PIECE_RISE]
        )  # of sloped pieces at least
        if was >= (over + max(stands, LEAST_MET_MM) if own else -bottom):
            continue
        tip = (0.0, 0.0, 0.0)
        if p[SLOPE] != 0.0:
            tip = stood(p, x, y, over + max(stands, LEAST_MET_MM) if own else -bottom)
            was = left_by(p, tip, x, y)
        if own:
            stands = min(stands, was - over)
            if was - max(over, bottom) >= LEAST_MET_MM:
                continue
        if p[SLOPE] == 0.0:
            tip = stood(p, x, y, math.inf)
        tip = (tip[0] - m[X], tip[1] - m[Y], tip[2])
        outer_left = max(left_by(p, tip, v1 * ax, v1 * ay), left_by(p, tip, v1 * bx, v1 * by))
        if outer_left == math.inf:
            continue
        inner_left = max(left_by(p, tip, v0 * ax, v0 * ay), left_by(p, tip, v0 * bx, v0 * by))
        most = max(outer_left, inner_left)
        if own:
            if max(outer_left - z1, inner_left - z0) < LEAST_MET_MM or most - bottom < LEAST_MET_MM:
                some[n, 0] = k if k >= 0 else some[n, 0]
                return -1.0
        elif -most > bottom:
            bottom = -most
            if plate[5] - bottom < LEAST_MET_MM or (leans and bottom > high):
                return -1.0
    return max(stands, 0.0)


standing = inner(_standing)


def _by_radius(m: Floats, c: Floats, beyond: float) -> bool:
    """Return whether a part is better halved between its radii than between its directions.

    Where but one of the two rids a half of chips that are thicker by ``beyond``, it is that one; else
    it is the one along which the edge and its touching plane lie farther apart.
    """
    low, high = steepness(m, c[LESS]), steepness(m, c[MORE])
    near, far = max(c[COS_LOW], c[COS_HIGH]), min(c[COS_LOW], c[COS_HIGH])
    if c[SIN_LOW] <= 0.0 <= c[SIN_HIGH]:
        near = 1.0
    by_radius, by_turn = (high - low) * near > beyond, high * (near - far) > beyond
    if by_radius != by_turn:
        return bool(by_radius)
    v, steep = 0.5 * (c[LESS] + c[MORE]), 0.5 * (low + high)
    across = (c[MORE] - c[LESS]) ** 2
    turn = (c[COS_HIGH] - c[COS_LOW]) ** 2 + (c[SIN_HIGH] - c[SIN_LOW]) ** 2
    if m[OWN_RISE] > 0.0:
        return bool(across > v * v * turn)
    flatness = (m[OWN_RADIUS] - m[OWN_FLAT]) * steep * (1.0 - steep * steep) / v
    return bool(across > v * v * turn * flatness)


by_radius = inner(_by_radius)


def _try(some: Floats, n: int, plate: Floats, m: Floats, v: float, ahead: float, left: float,
         best: Floats) -> float:  # fmt: skip
    """Return the metal over a place of the edge; keep the chip there if it is the thickest."""
    floor = m[Z] + profile(v, m[OWN_RADIUS], m[OWN_FLAT], m[OWN_RISE])
    stands = met(some, n, plate, m, v, floor, ahead, left)
    thick = chip(m, steepness(m, v), ahead)
    if stands > 0.0 and thick > best[THICK]:
        low, high = limits(m, v)
        if math.sin(low) <= left <= math.sin(high):
            best[THICK], best[AT_RADIUS], best[AT_COSINE] = thick, v, ahead
    return stands


try_at = inner(_try)


def _search(some: Floats, n: int, plate: Floats, m: Floats, parts: Floats, best: Floats) -> None:
    """Halve the first of the parts, always the one that promises most; keep the thickest chip."""
    count = 1
    while count > 0:
        k = 0
        for j in range(1, count):
            k = j if parts[j, AT_MOST] > parts[k, AT_MOST] else k
        beyond = parts[k, AT_MOST] - best[THICK] * THICKER_CHIP_TIMES
        if beyond <= 0.0:
            break
        across = by_radius(m, parts[k], beyond)
        count -= 1
        a, b = parts[count], parts[count + 1]
        for e in range(PART):
            parts[k, e], a[e], b[e] = a[e], parts[k, e], parts[k, e]
        v, ahead, left, _, _ = middle_of(a)
        if across:
            a[MORE] = b[LESS] = v
        else:
            a[COS_HIGH], a[SIN_HIGH] = ahead, left
            b[COS_LOW], b[SIN_LOW] = ahead, left
        for c in (a, b):
            if at_most(m, c, best[THICK] * THICKER_CHIP_TIMES) <= best[THICK] * THICKER_CHIP_TIMES:
                continue
            stands = standing(some, n, plate, m, c)
            if stands < 0.0:
                continue
            v, ahead, left, _, far = middle_of(c)
            if stands >= LEAST_MET_MM and chip(m, steepness(m, v), ahead) > best[THICK]:
                stands = try_at(some, n, plate, m, v, ahead, left, best)
                if stands > 0.0:  # what stands there may be met as high as its top
                    above = (
                        profile(v, m[OWN_RADIUS], m[OWN_FLAT], m[OWN_RISE]) + stands - BELOW_TOP_MM
                    )
                    try_at(some, n, plate, m, radius_at(above, m), ahead, left, best)
            if far <= ENVELOPE_SKIN_MM:
                continue
            if count == PARTS - 2:  # no room left: count what it could take at most
                best[THICK], best[AT_RADIUS], best[AT_COSINE] = c[AT_MOST], v, ahead
                continue
            for e in range(PART):
                parts[count, e] = c[e]
            count += 1


search = inner(_search)


def _thickest(near: Floats, n: int, plate: Floats, m: Floats, some: Floats, parts: Floats,
              best: Floats, found: Floats) -> float:  # fmt: skip
    """Return the radius at which a corner or cone takes its thickest chip; keep the chip.

    0 where none is thicker than that already found.
    """
    best[THICK], best[AT_RADIUS] = max(LEAST_CHIP_SHARE, found[CHIP]), 0.0
    low, high = limits(m, m[OWN_RADIUS])
    step = (high - low) / SECTORS
    for k in range(SECTORS):  # the middle ones first
        begin = low + step * ((SECTORS + k) // 2 if k % 2 == 0 else (SECTORS - 1 - k) // 2)
        c = parts[0]
        c[LESS], c[MORE] = m[OWN_FLAT], m[OWN_RADIUS]
        c[COS_LOW], c[SIN_LOW] = math.cos(begin), math.sin(begin)
        c[COS_HIGH], c[SIN_HIGH] = math.cos(begin + step), math.sin(begin + step)
        if at_most(m, c, best[THICK] * THICKER_CHIP_TIMES) > best[THICK] * THICKER_CHIP_TIMES:
            search(some, pick(near, n, plate, m, c, some), plate, m, parts, best)
    v = float(best[AT_RADIUS])
    if v > 0.0:  # a grain stands above the highest rim that meets metal
        top = profile(v, m[OWN_RADIUS], m[OWN_FLAT], m[OWN_RISE]) + LEAST_MET_MM
        thick = chip(m, steepness(m, radius_at(top, m)), best[AT_COSINE])
        found[CHIP] = max(best[THICK], thick)
    return v


thickest = inner(_thickest)


def _look_up(near: Floats, n: int, plate: Floats, heights: Floats, m: Floats, some: Floats,
             parts: Floats, best: Floats, found: Floats) -> None:  # fmt: skip
    """Look round the rims of a corner or cone at some heights, and where its chip is the thickest."""
    for k in range(heights.size + 2):
        v = 0.0
        if k == heights.size + 1:
            v = thickest(near, n, plate, m, some, parts, best, found)
        elif k == 1:  # the first is near the tip: it tells how high the metal stands
            v = radius_at(heights[0] * m[DEPTH] + found[AXIAL] - BELOW_TOP_MM, m)
        else:
            v = radius_at(heights[max(0, k - 1)] * m[DEPTH], m)
        if 2.0 * ENVELOPE_SKIN_MM < v < m[OWN_RADIUS]:
            look_at(near, n, plate, m, v, found)


look_up = inner(_look_up)


def _look(pieces: Floats, begins: Longs, listed: Ints, x0: float, y0: float, size: float, nx: int,
          ny: int, plate: Floats, heights: Floats, moments: Floats, low: int, high: int,
          found: Floats, near: Floats) -> None:  # fmt: skip
    """Fill in what is met in the moments from low to high.

    ``pieces`` (E, 25) from the deepest on, those of the other side before this one's; ``listed``
    from ``begins[b]`` on reach square b of side ``size``; ``plate`` (6,); ``heights`` as in
    `rims.HEIGHTS`; ``moments`` (S, 15); ``found`` (S, 8); ``near`` (N + 1, 25) holds as many as any
    square lists.
    """
    some, parts, best = np.empty_like(near), np.empty((PARTS, PART)), np.empty(3)
    for s in range(low, high):
        m, row = moments[s], found[s]
        i, j = int((m[X] - x0) / size), int((m[Y] - y0) / size)
        if not (0 <= i < nx and 0 <= j < ny) or m[Z] >= plate[5]:
            continue
        b = j * nx + i
        n = gather(pieces, listed, begins[b], begins[b + 1], m, plate[5], near)
        look_at(near, n, plate, m, m[OWN_RADIUS], row)
        if m[OWN_FLAT] < m[OWN_RADIUS]:
            look_up(near, n, plate, heights, m, some, parts, best, row)


look = outer(_look)


def _within(value: float, count: int) -> int:
    """Return a number cut to a whole one from 0 to ``count``."""
    return int(min(max(value, 0.0), float(count)))


within = inner(_within)


def _list_pieces(pieces: Floats, x0: float, y0: float, size: float, nx: int, ny: int, looking: float,
                 begins: Longs) -> Ints:  # fmt: skip
    """Return which pieces reach a rim of radius ``looking`` in each square; fill in its lists' ends."""
    counts = np.zeros(nx * ny + 1, np.int64)
    listed = np.empty(0, np.int32)
    for filling in range(2):
        if filling:
            begins[0] = 0
            for b in range(nx * ny):
                begins[b + 1] = begins[b] + counts[b]
                counts[b] = begins[b]
            listed = np.empty(begins[nx * ny], np.int32)
        for e in range(pieces.shape[0]):
            p = pieces[e]
            if not filling:
                lay(p)
            grown = p[PIECE_RADIUS] + looking + 0.75 * size + SWEPT_WITHIN_MM
            sag = p[PATH] * (1.0 - p[COSINE]) if p[PATH] > 0.0 else 0.0
            a, c = min(p[AX], p[BX]) - sag, max(p[AX], p[BX]) + sag
            d, f = min(p[AY], p[BY]) - sag, max(p[AY], p[BY]) + sag
            rows = within((d - grown - y0) / size, ny), within((f + grown - y0) / size + 1.0, ny)
            columns = within((a - grown - x0) / size, nx), within((c + grown - x0) / size + 1.0, nx)
            for j in range(rows[0], rows[1]):
                for i in range(columns[0], columns[1]):
                    x, y = x0 + (i + 0.5) * size, y0 + (j + 0.5) * size
                    if away(p, x, y) <= grown:
                        b = j * nx + i
                        if filling:
                            listed[counts[b]] = e
                        counts[b] += 1
    return listed


list_pieces = outer(_list_pieces)
