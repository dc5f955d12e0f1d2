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

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Longs = NDArray[np.int64]

SKIN = 1e-3
"""mm: no rim nearer than this to its motion's envelope is looked at: a wall is not met again."""

GRAIN = 2e-4
"""mm: metal thinner than this is not met."""

NEAR = 1e-6
"""mm within which a place under the rim of an earlier motion is swept by it."""

AGO, AGO_ROUND = 1e-4, 0.05
"""mm: the last of the way before the moment looked at does not count as cut: by cutters with a flat
end, and by others, whose corner leaves next to nothing of what it has just passed."""

DIRECTIONS = 32
"""Directions of the leading half circle that are looked at first."""

HALVINGS = 12
"""Then its ends are found between two of them by so many halvings: to 0.001 degree."""

SECTIONS = 34
"""Golden sections of a search: to 1e-7 of its stretch."""

GOLDEN = 0.5 * (math.sqrt(5.0) - 1.0)

# figures of a piece of a motion; those from BX on are laid by `lay`
(AX, AY, AZ, UX, UY, SLOPE, REACH, CX, CY, PATH, BEGIN, SENSE, RADIUS, FLAT, RISE, LOWEST, MOTION,
 SINCE, UNTIL, BEYOND, BX, BY, MX, MY, COSINE) = range(25)  # fmt: skip
PIECE = 25

# figures of a moment looked at
(X, Y, Z, HX, HY, BEND, TURN, OWN_RADIUS, OWN_FLAT, OWN_RISE, FALL, DEPTH, OWN_MOTION, WAY
 ) = range(14)  # fmt: skip
MOMENT = 14

# what is found of it
HIGH, LOW, GAP, GAP_CHIP, RADIAL, AXIAL, CHIP, EDGE = range(8)
FOUND = 8


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
    end, middle = p[BEGIN] + p[SENSE] * p[REACH], p[BEGIN] + p[SENSE] * 0.5 * p[REACH]
    p[AX], p[AY] = p[CX] + p[PATH] * math.cos(p[BEGIN]), p[CY] + p[PATH] * math.sin(p[BEGIN])
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
    return p[AZ] + p[SLOPE] * t + profile(v, p[RADIUS], p[FLAT], p[RISE])


raised = inner(_raised)


def _least(p: Floats, low: float, high: float, middle: float, base: float, pull: float) -> float:
    """Return the least height between two moments in which the cutter is over a place."""
    if p[FLAT] == p[RADIUS]:
        return p[AZ] + p[SLOPE] * (low if p[SLOPE] > 0.0 else high)
    a, b = high - GOLDEN * (high - low), low + GOLDEN * (high - low)
    fa, fb = raised(p, a, middle, base, pull), raised(p, b, middle, base, pull)
    for _ in range(SECTIONS):
        if fa < fb:
            high, b, fb = b, a, fa
            a = high - GOLDEN * (high - low)
            fa = raised(p, a, middle, base, pull)
        else:
            low, a, fa = a, b, fb
            b = low + GOLDEN * (high - low)
            fb = raised(p, b, middle, base, pull)
    return min(fa, fb)


least = inner(_least)


def _height(p: Floats, x: float, y: float) -> float:
    """Return the lowest surface a piece has over a place; inf beside it."""
    radius = p[RADIUS] + NEAR
    if p[SLOPE] == 0.0:
        v = away(p, x, y)
        return p[AZ] + profile(v, p[RADIUS], p[FLAT], p[RISE]) if v <= radius else math.inf
    reach, pull = p[REACH], 0.0
    if p[PATH] == 0.0:
        px, py = x - p[AX], y - p[AY]
        middle = px * p[UX] + py * p[UY]
        base = (p[UX] * py - p[UY] * px) ** 2
        if base > radius * radius:
            return math.inf
        half = math.sqrt(radius * radius - base)
    else:
        px, py = x - p[CX], y - p[CY]
        squared = px * px + py * py
        base, pull = p[PATH] ** 2 + squared, 2.0 * p[PATH] * math.sqrt(squared)
        if base - pull > radius * radius:
            return math.inf
        half = math.acos(max(-1.0, (base - radius * radius) / pull)) if pull > 0.0 else math.pi
        middle = p[SENSE] * (math.atan2(py, px) - p[BEGIN])
        middle += 2.0 * math.pi if middle < 0.0 else 0.0
    best = math.inf
    for _ in range(2):  # a place may lie past an arc's end and yet be near its beginning
        low, high = max(0.0, middle - half), min(reach, middle + half)
        if low <= high:
            best = min(best, least(p, low, high, middle, base, pull))
        middle -= 2.0 * math.pi if pull > 0.0 else math.inf
    return best


height = inner(_height)


def _metal(near: Floats, n: int, plate: Floats, x: float, y: float, floor: float) -> float:
    """Return how much metal stands over a place above ``floor``; 0 for less than a grain.

    ``near`` (n, 25) are the pieces that cut before: of the other side, then of this, each from the
    deepest on; one more row, which tells which of them emptied a place last: it is asked first.
    ``plate``: its lower and higher X and Y, bed and face.
    """
    if not (plate[0] <= x <= plate[1] and plate[2] <= y <= plate[3]):
        return 0.0
    bottom, top = max(plate[4], floor), plate[5]
    last = int(near[n, 0])
    if last >= 0:
        top = min(top, height(near[last], x, y))
        if top - bottom < GRAIN:
            return 0.0
    for k in range(n):
        p = near[k]
        if p[BEYOND] > 0.0:
            if -p[LOWEST] > bottom:
                bottom = max(bottom, -height(p, x, y))
        elif p[LOWEST] >= top:
            break
        else:
            top = min(top, height(p, x, y))
            if top - bottom < GRAIN:
                near[n, 0] = k
        if top - bottom < GRAIN:
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
    ago = AGO if m[OWN_FLAT] == R else AGO_ROUND
    round_ago = max(ago, math.pi * m[BEND]) if m[BEND] > R else ago
    for k in range(begin, end):
        p = pieces[listed[k]]
        own = p[BEYOND] == 0.0
        if own and p[LOWEST] >= ceiling:
            break
        mine = own and p[MOTION] == m[OWN_MOTION]
        until = m[WAY] - (round_ago if mine else ago) if own else math.inf
        if p[SINCE] >= until or (mine and p[PATH] == 0.0):
            continue
        if not own and (-p[LOWEST] <= m[Z] or p[LOWEST] >= hollow):
            continue
        far = away(p, m[X], m[Y])
        if far > R + p[RADIUS] + NEAR:
            continue
        for c in range(PIECE):
            near[n, c] = p[c]
        p = near[n]
        if p[UNTIL] > until:
            cut_off(p, until)
            far = away(p, m[X], m[Y])
        n += 1
        if p[SLOPE] == 0.0 and far + R <= p[RADIUS] + NEAR:  # it has passed over the whole cutter
            least_left = p[AZ] + profile(far + R, p[RADIUS], p[FLAT], p[RISE])
            if own:
                ceiling = min(ceiling, least_left)
            else:
                hollow = min(hollow, least_left)
    near[n, 0] = -1.0
    return n


gather = inner(_gather)


def _limits(m: Floats, v: float) -> tuple[float, float]:
    """Return the directions between which the rim of radius ``v`` is off the motion's envelope."""
    side = 1.0 - min(SKIN / v, 1.0)
    low, high = -side, side
    if m[BEND] > 0.0:
        scale = 1.0 / (2.0 * v * m[BEND])
        square = v * v + m[BEND] ** 2
        out = (square - (m[BEND] + v - SKIN) ** 2) * scale
        within = (square - (m[BEND] - v + SKIN) ** 2) * scale if m[BEND] > v else 1.0
        out, within = max(out, -1.0), min(within, 1.0)
        low, high = (out, within) if m[TURN] > 0.0 else (-within, -out)
    return math.asin(min(low, high)), math.asin(high)


limits = inner(_limits)


def _met(near: Floats, n: int, plate: Floats, m: Floats, v: float,
         floor: float, angle: float) -> float:  # fmt: skip
    """Return the metal before the rim of radius ``v`` in a direction, counted to the left."""
    ahead, left = v * math.cos(angle), v * math.sin(angle)
    x = m[X] + ahead * m[HX] - left * m[HY]
    y = m[Y] + ahead * m[HY] + left * m[HX]
    return metal(near, n, plate, x, y, floor)


met = inner(_met)


def _steepness(m: Floats, v: float) -> float:
    """Return the sine of the angle between the axis and the normal of the surface at ``v``."""
    if m[OWN_RISE] > 0.0:
        return m[OWN_RISE] / math.sqrt(1.0 + m[OWN_RISE] ** 2)
    r = m[OWN_RADIUS] - m[OWN_FLAT]
    return min(1.0, max(0.0, v - m[OWN_FLAT]) / r) if r > 0.0 else 1.0


steepness = inner(_steepness)


def _chip(m: Floats, steep: float, angle: float) -> float:
    """Return the chip's thickness over the feed per tooth: the feed's share along the normal."""
    down = math.sqrt(max(0.0, 1.0 - steep * steep)) * math.sin(m[FALL])
    return max(0.0, steep * math.cos(angle) * math.cos(m[FALL]) + down)


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
        stands = met(near, n, plate, m, v, floor, angle)
        thick = chip(m, steep, angle)
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
    thickest = max(chip(m, steep, ends[0] - step), chip(m, steep, ends[1] + step))
    if widest <= found[RADIAL] and thickest <= found[CHIP]:
        return
    for end in range(2):  # where between the last direction in air and the first in metal it begins
        if (end == 0 and first == 0) or (end == 1 and last == DIRECTIONS - 1):
            continue
        solid = ends[end]
        air = solid - step if end == 0 else solid + step
        for _ in range(HALVINGS):
            angle = 0.5 * (air + solid)
            if met(near, n, plate, m, v, floor, angle) > 0.0:
                solid = angle
            else:
                air = angle
        right, left = (solid, left) if end == 0 else (right, solid)
        found[CHIP] = max(found[CHIP], chip(m, steep, solid))
    across = v * (math.sin(left) - math.sin(right))
    if across > found[RADIAL]:
        found[RADIAL], found[EDGE] = across, steep
        found[LOW], found[HIGH] = right, left
        found[GAP], found[GAP_CHIP] = (last - first + 1 - seen) * step, lone


look_at = inner(_look_at)


def _radius_at(above: float, m: Floats) -> float:
    """Return the radius of the cutter at a height above its tip."""
    if m[OWN_RISE] > 0.0:
        return min(m[OWN_RADIUS], m[OWN_FLAT] + above / m[OWN_RISE])
    r = m[OWN_RADIUS] - m[OWN_FLAT]
    rest = max(r - above, 0.0)
    return m[OWN_FLAT] + math.sqrt(max(r * r - rest * rest, 0.0))


radius_at = inner(_radius_at)


def _look(pieces: Floats, begins: Longs, listed: Ints, x0: float, y0: float, size: float, nx: int,
          ny: int, plate: Floats, heights: Floats, moments: Floats, low: int, high: int,
          found: Floats, near: Floats) -> None:  # fmt: skip
    """Fill in what is met in the moments from low to high.

    ``pieces`` (E, 25) from the deepest on, those of the other side before this one's; ``listed``
    from ``begins[b]`` on reach square b of side ``size``; ``plate`` (6,); ``heights`` as in
    `rims.HEIGHTS`; ``moments`` (S, 14); ``found`` (S, 8); ``near`` (N + 1, 25) holds as many as any
    square lists.
    """
    for s in range(low, high):
        m, row = moments[s], found[s]
        i, j = int((m[X] - x0) / size), int((m[Y] - y0) / size)
        if not (0 <= i < nx and 0 <= j < ny) or m[Z] >= plate[5]:
            continue
        b = j * nx + i
        n = gather(pieces, listed, begins[b], begins[b + 1], m, plate[5], near)
        v, depth = m[OWN_RADIUS], m[DEPTH]
        for k in range(heights.size + 1):
            if k > 0:
                if m[OWN_FLAT] == m[OWN_RADIUS]:
                    break
                if k == 2:  # the first height is near the tip: it tells how deep the metal is
                    depth = max(depth, row[AXIAL] + heights[0] * depth)
                if heights[k - 1] < 1.0:  # of the depth cut, then of what is left of the radius
                    v = radius_at(heights[k - 1] * depth, m)
                else:
                    v += (heights[k - 1] - 1.0) * (m[OWN_RADIUS] - v)
            if k == 0 or 2.0 * SKIN < v < m[OWN_RADIUS]:
                look_at(near, n, plate, m, v, row)


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
            grown = p[RADIUS] + looking + 0.75 * size + NEAR
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
