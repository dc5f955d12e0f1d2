"""Finished blades as solids, built by manifold3d from the order's figures alone.

Nothing here looks at knifecam's surface. A bevel's waste is the union of one piece for each line
(an extruded section) and each arc (a turned section) of the edge and of its end tangents; the
section is all that lies above the profile. Past a plunge the section over s is swept along the
plunge's line and sheared to lie in the bevel, slice by slice where the profile is bent. Breaks are
prisms and cones, bores and notches cylinders.

Facets: turned sections have `ROUND` facets a turn (off by r (1 - cos(pi / ROUND)), 0.18 um for
80 mm, times the slope of 0.2 at most), profiles `BENT` chords over at most 15 mm (off by c^2 / 8R,
0.05 um for wheels of 60 mm), plunges `RISE` chords of a quarter turn in layers of 0.2 mm (off by
0.1 um for 7 mm), bores `BORE` facets of true area.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from manifold3d import CrossSection, Manifold, OpType

ROUND, BENT, RISE, BORE = 1500, 100, 150, 360
TOP, FAR = 30.0, 150.0


def unit(angle):
    return np.array([math.cos(angle), math.sin(angle)])


def left_of(heading):
    return np.array([-math.sin(heading), math.cos(heading)])


def placed(solid, columns, origin):
    """Map the solid's own axes to ``columns`` (three 3-vectors) at ``origin``."""
    return solid.transform(np.column_stack([*columns, origin]))


def mirrored(solid, side):
    return solid if side == "A" else solid.mirror((0, 0, 1))


def united(solids):
    return Manifold.batch_boolean(list(solids), OpType.Add)


@dataclass
class Piece:
    """A line (radius inf) or arc of a chain: where it starts, its heading, length and turn."""

    start: np.ndarray
    heading: float
    length: float
    turn: float = 0.0

    @property
    def radius(self):
        return self.length / abs(self.turn) if self.turn else math.inf

    @property
    def end_heading(self):
        return self.heading + self.turn

    @property
    def end(self):
        if not self.turn:
            return self.start + self.length * unit(self.heading)
        chord = 2 * self.radius * math.sin(abs(self.turn) / 2)
        return self.start + chord * unit(self.heading + self.turn / 2)

    @property
    def centre(self):
        return self.start + self.radius * math.copysign(1, self.turn) * left_of(self.heading)


def chain(vertices, closed=True):
    """Pieces of a chain of rows (x, y, bulge)."""
    rows = [np.asarray(v, float) for v in vertices]
    pieces = []
    for a, b in zip(rows, [*rows[1:], rows[0]] if closed else rows[1:], strict=False):
        chord = b[:2] - a[:2]
        turn = 4 * math.atan(a[2])
        length = math.hypot(*chord)
        if turn:
            length *= (turn / 2) / math.sin(turn / 2)
        pieces.append(Piece(a[:2], math.atan2(chord[1], chord[0]) - turn / 2, length, turn))
    return pieces


def with_tangents(pieces):
    first, last = pieces[0], pieces[-1]
    before = Piece(first.start - FAR * unit(first.heading), first.heading, FAR)
    return [before, *pieces, Piece(last.end, last.end_heading, FAR)]


def outline_points(pieces, sagitta=5e-5):
    points = []
    for piece in pieces:
        if not piece.turn:
            points.append(piece.start[None])
            continue
        count = math.ceil(abs(piece.turn) / math.sqrt(8 * sagitta / piece.radius))
        angle = piece.turn * np.arange(count) / count
        arm = piece.start - piece.centre
        c, s = np.cos(angle), np.sin(angle)
        points.append(
            piece.centre + np.column_stack([c * arm[0] - s * arm[1], s * arm[0] + c * arm[1]])
        )
    return np.concatenate(points)


def polygon(points):
    return CrossSection([np.asarray(points, float)])


def prism(pieces, low, high):
    return polygon(outline_points(pieces)).extrude(high - low).translate((0, 0, low))


def along_line(section, piece, more=0.0, layer=1e9):
    """A section (d, z) extruded along a line; d counts to the left."""
    solid = section.extrude(piece.length + 2 * more, n_divisions=int(piece.length / layer))
    n, t = left_of(piece.heading), unit(piece.heading)
    start = piece.start - more * t
    return placed(solid, [(*n, 0), (0, 0, 1), (*t, 0)], (*start, 0))


def along_arc(points, piece, more=0.0):
    """A section of ``points`` (d, z) turned along an arc; d counts to the left."""
    way = math.copysign(1, piece.turn)
    radii = piece.radius - way * points[:, 0]
    shape = shapely.Polygon(np.column_stack([radii, points[:, 1]]))
    shape = shape.intersection(shapely.box(0, -2 * TOP, 1e4, 2 * TOP))
    section = CrossSection([np.asarray(ring.exterior.coords)[:-1] for ring in parts_of(shape)])
    if section.area() < 0:
        raise ValueError("the section is the wrong way round")
    turn = math.degrees(abs(piece.turn) + 2 * more)
    toward = piece.heading - math.pi / 2 if way > 0 else piece.end_heading + math.pi / 2
    begin = math.degrees(toward - more)
    solid = Manifold.revolve(section, max(3, math.ceil(ROUND * turn / 360)), turn)
    return solid.rotate((0, 0, begin)).translate((*piece.centre, 0))


def parts_of(shape):
    found = [shape] if shape.geom_type == "Polygon" else list(shape.geoms)
    return [shapely.geometry.polygon.orient(p) for p in found]


def swept(points, pieces, layer=1e9):
    """A section of ``points`` (d, z) along a chain of lines and arcs, a hair longer at each joint."""
    solids = []
    for piece in pieces:
        if piece.turn:
            solids.append(along_arc(points, piece, more=1e-7))
        else:
            solids.append(along_line(polygon(points), piece, more=1e-6, layer=layer))
    for one, other in pairwise(pieces):
        turn = (other.heading - one.end_heading + math.pi) % (2 * math.pi) - math.pi
        if turn < -1e-9:  # a corner that turns away from the section's side: a fan about it
            solids.append(along_arc(points, Piece(other.start, one.end_heading, 0.0, turn)))
    return united(solids)


def profile(figures, thickness, side):
    """Points (d, z) of the profile of one side, from below the edge to above the flat."""
    low = figures["land"] / 2 + (1 if side == "A" else -1) * figures.get("edge_at", 0.0)
    a = figures["angle"]
    rise = thickness / 2 - low
    start, stop = np.array([0.0, low]), np.array([rise / math.tan(a), thickness / 2])
    kind = figures.get("profile", "flat")
    if kind == "flat":
        on = np.array([start, stop])
        slopes = [math.tan(a)] * 2
    else:
        chord = math.hypot(*(stop - start))
        if kind == "hollow":
            radius, way = figures["wheel"], 1.0
        else:
            sag = figures["sag"]
            radius, way = (chord**2 / 4 + sag**2) / (2 * sag), -1.0
        half = math.asin(chord / 2 / radius)
        centre = (start + stop) / 2 + way * math.sqrt(radius**2 - chord**2 / 4) * left_of(a)
        from_centre = a - way * math.pi / 2 + np.linspace(-half, half, BENT + 1) * way
        on = centre + radius * np.column_stack([np.cos(from_centre), np.sin(from_centre)])
        slopes = [math.tan(a - way * half), math.tan(a + way * half)]
    before = start - 6.0 * np.array([1.0, slopes[0]])
    after = stop + (TOP - 2) * np.array([1.0, slopes[1]])
    return np.vstack([before, on, after])


def above(points):
    """The section above a profile, counter-clockwise."""
    return np.vstack([points, [points[-1, 0], TOP], [points[0, 0], TOP]])


def risen(plunge, points, edge, angle):
    """The waste past a plunge: all above h(d) + f(s) for 0 < s < Rp, the edge straight there.

    The section above f(s) is swept along the plunge's line in layers; every corner is then lifted
    by the profile at its distance from the edge.
    """
    radius = plunge["radius"]
    t = np.linspace(0, math.pi / 2, RISE + 1)
    rise = np.column_stack([radius * np.sin(t), radius * (1 - np.cos(t)) / math.cos(angle)])
    section = np.vstack([[-1e-3, 0.0], rise, [radius, TOP], [-1e-3, TOP]])
    swept_up = swept(section, chain(plunge["line"], closed=False), layer=0.2)
    n = left_of(edge.heading)

    def lift(corners):
        d = (corners[:, :2] - edge.start) @ n
        return corners + np.outer(np.interp(d, points[:, 0], points[:, 1]), [0, 0, 1])

    return swept_up.warp_batch(lift)


def cylinder_in_bevel(plunge, points, edge, angle):
    """The same for a straight plunge square to a straight edge: a round bar lying in a flat bevel."""
    radius = plunge["radius"]
    n = left_of(edge.heading)
    up = np.array([*(n * math.cos(angle)), math.sin(angle)])
    normal = np.array([*(-n * math.sin(angle)), math.cos(angle)])
    line = chain(plunge["line"], closed=False)[0]
    along = unit(edge.heading)
    d_line = float(n @ (line.start - edge.start))
    foot = line.start - d_line * n
    low = float(np.interp(0.0, points[:, 0], points[:, 1]))
    # circumscribed, so that the facets touch the bevel along the plunge's line
    bar = Manifold.cylinder(80.0, radius / math.cos(math.pi / 1200), circular_segments=1200)
    bar = bar.rotate((0, 0, 360 / 2400)).translate((0, 0, -40))
    centre = np.array([*foot, low]) + radius * normal
    across = np.array([*along, 0.0])
    bar = placed(bar, [across, np.cross(up, across), up], centre)
    return Manifold.hull(bar + bar.translate((0, 0, TOP)))


def bevel_waste(figures, pieces, thickness, side):
    points = profile(figures, thickness, side)
    waste = swept(above(points), with_tangents(pieces))
    if len(figures.get("plunges", ())) == 0:
        return mirrored(waste, side)
    past, before = [], []
    for plunge in figures["plunges"]:
        line = with_tangents(chain(plunge["line"], closed=False))
        before.append(swept(np.array([[-200, -TOP], [0, -TOP], [0, 2 * TOP], [-200, 2 * TOP]]), line)
                      if not any(p.turn for p in line) else right_of(line))  # fmt: skip
        edge = pieces[plunge.get("piece", 0)]
        build = cylinder_in_bevel if plunge.get("bar") else risen
        past.append(build(plunge, points, edge, figures["angle"]))
    kept = waste
    for solid in before:
        kept = kept ^ solid
    for k in range(len(past)):
        for other in (*before[:k], *before[k + 1 :]):
            past[k] = past[k] ^ other
    return mirrored(united([kept, *past]), side)


def right_of(line):
    """All that lies on the right of a chain, as far as it matters."""
    points = outline_points(line, 1e-6)
    points = np.vstack([points, line[-1].end])
    out = 200 * -left_of(line[0].heading)
    out_end = 200 * -left_of(line[-1].heading)
    corners = np.vstack([points, points[-1] + out_end, points[0] + out])
    shape = shapely.geometry.polygon.orient(shapely.Polygon(corners).buffer(0))
    return polygon(np.asarray(shape.exterior.coords)[:-1]).extrude(3 * TOP).translate((0, 0, -TOP))


def break_waste(broken, pieces, thickness):
    """Prisms square to lines, turned sections along arcs; the metal is on the left of ``pieces``."""
    width, depth = broken["width"], broken["width"] * math.tan(broken["angle"])
    half, slope = thickness / 2, depth / broken["width"]
    section = np.array([[-0.5, half - depth - 0.5 * slope], [width + 0.1, half + 0.1 * slope],
                        [-0.5, half + 0.1 * slope]])  # fmt: skip
    return mirrored(swept(section, pieces), broken["side"])


def round_pin(centre, radius, low, high):
    true_area = math.sqrt(2 * math.pi / BORE / math.sin(2 * math.pi / BORE))
    pin = Manifold.cylinder(high - low, radius * true_area, circular_segments=BORE)
    return pin.translate((*centre, low))


def countersink(centre, radius, broken, thickness):
    slope = math.tan(broken["angle"])
    depth, more = broken["width"] * slope, 0.1
    cone = Manifold.cylinder(
        depth + more, radius, radius + broken["width"] + more / slope, circular_segments=ROUND
    )
    return mirrored(cone.translate((*centre, thickness / 2 - depth)), broken["side"])


def finished(spec):
    """The finished solid of a blade given by its figures."""
    thickness = spec["thickness"]
    pieces = chain(spec["outline"])
    half = thickness / 2
    wastes = []
    for figures in spec["bevels"]:
        first, last = figures["edge"]
        for side in "AB" if figures.get("sides", "both") == "both" else figures["sides"]:
            wastes.append(bevel_waste(figures, pieces[first:last], thickness, side))
    for bore in spec.get("bores", ()):
        low = -half - 1 if bore.get("depth") is None else half - bore["depth"]
        wastes.append(round_pin(bore["centre"], bore["diameter"] / 2, low, half + 1))
    for broken in spec.get("breaks", ()):
        if broken["of"] == "outline":
            first, last = broken["pieces"]
            wastes.append(break_waste(broken, pieces[first:last], thickness))
        elif broken["of"].startswith("S"):
            slot = next(s for s in spec["slots"] if s["name"] == broken["of"])
            backward = [Piece(p.end, p.end_heading + math.pi, p.length, -p.turn)
                        for p in chain(slot["outline"])]  # fmt: skip
            wastes.append(break_waste(broken, backward, thickness))
        else:
            bore = next(b for b in spec["bores"] if b["name"] == broken["of"])
            wastes.append(countersink(bore["centre"], bore["diameter"] / 2, broken, thickness))
    for slot in spec.get("slots", ()):
        wastes.append(prism(chain(slot["outline"]), -half - 1, half + 1))
    for notch in spec.get("notches", ()):
        wastes.append(round_pin(notch["centre"], notch["diameter"] / 2, -half - 1, half + 1))
    return prism(pieces, -half, half) - united(wastes)


def heights(solid, points):
    """Highest and lowest z (K,) of the solid over ``points`` (K, 2); NaN where there is none."""
    mesh = solid.to_mesh64()
    corners = np.asarray(mesh.vert_properties)[:, :3][np.asarray(mesh.tri_verts)]
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    area = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    level = np.abs(area) > 1e-13
    a, b, c, area = a[level], b[level], c[level], area[level]
    low, high = (f(f(a[:, :2], b[:, :2]), c[:, :2]) for f in (np.minimum, np.maximum))
    tree = shapely.STRtree(shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1]))
    which, tri = tree.query(shapely.points(points))
    p = points[which]
    a, b, c, area = a[tri], b[tri], c[tri], area[tri]
    u = (
        (c[:, 0] - b[:, 0]) * (p[:, 1] - b[:, 1]) - (c[:, 1] - b[:, 1]) * (p[:, 0] - b[:, 0])
    ) / area
    v = (
        (a[:, 0] - c[:, 0]) * (p[:, 1] - c[:, 1]) - (a[:, 1] - c[:, 1]) * (p[:, 0] - c[:, 0])
    ) / area
    within = (u >= -1e-9) & (v >= -1e-9) & (u + v <= 1 + 1e-9)
    z = (u * a[:, 2] + v * b[:, 2] + (1 - u - v) * c[:, 2])[within]
    top = np.full(len(points), -np.inf)
    bottom = np.full(len(points), np.inf)
    np.maximum.at(top, which[within], z)
    np.minimum.at(bottom, which[within], z)
    return top, bottom
