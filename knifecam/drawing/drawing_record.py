"""What a drawing is made of: pieces, chains, and what was repaired or found wrong."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from knifecam.curve import Curve
from knifecam.curve.curve import Floats, arc_points
from knifecam.quantity import either, told

TWIN, EMPTY, OVERLAID, GAP, FORK, CROSSING = "twin", "empty", "overlaid", "gap", "fork", "crossing"
UNIT_UNCLEAR, OFF_PLANE, UNREADABLE = "units", "off-plane", "unreadable"

OF_JOINING = (OVERLAID, GAP, FORK, CROSSING)
"""Kinds of problems that come of joining pieces; the others come of reading them."""

MM_PER_INCH = 25.4


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """Where in the file a piece comes from; ``inside`` names the INSERT that placed it."""

    layer: str
    handle: str
    kind: str
    inside: str = ""

    def __str__(self) -> str:
        placed = f" in {self.inside}" if self.inside else ""
        return f"layer '{self.layer}', handle {self.handle}, {self.kind}{placed}"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piece:
    """One entity as lines and arcs in mm: ``vertices`` (N, 2), ``bulges`` (N,) as in `Curve`.

    ``level`` is the height at which it was drawn.
    """

    origin: Origin
    vertices: Floats
    bulges: Floats
    closed: bool = False
    level: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A POINT of the drawing, mm."""

    origin: Origin
    place: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """Something in the drawing that was repaired or must be put right.

    ``kind`` is one of "twin", "empty", "overlaid", "gap", "fork", "crossing", "units",
    "off-plane", "unreadable". ``place`` (x, y) and ``size`` are in mm. ``text`` says what, and
    what was done or would do.
    """

    kind: str
    text: str
    origin: Origin | None = None
    place: tuple[float, float] | None = None
    size: float | None = None

    @property
    def layer(self) -> str | None:
        """The layer it is on."""
        return self.origin.layer if self.origin else None

    @property
    def handle(self) -> str | None:
        """The handle of the entity it is about."""
        return self.origin.handle if self.origin else None

    @property
    def said(self) -> str:
        """The whole line, its quantities in both units."""
        return f"{self.origin}: {self.text}" if self.origin else self.text

    def __str__(self) -> str:
        return told(self.said)


class Repair(Trouble):
    """What was put right without changing the shape beyond the ``join`` tolerance."""

    __slots__ = ()


class Problem(Trouble):
    """What only the one who drew it can put right."""

    __slots__ = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """A layer with the count of entities by kind; ``hidden`` says why nothing of it is taken."""

    name: str
    counts: tuple[tuple[str, int], ...] = ()
    hidden: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """Entities that were not taken, and why."""

    kind: str
    layer: str
    count: int
    why: str

    def __str__(self) -> str:
        return f"{self.count} {self.kind} on layer '{self.layer}': {self.why}"


@dataclass(frozen=True, eq=False)
class Chain:
    """Pieces joined end to end; ``origins`` are theirs in the order of travel.

    A closed chain runs counter-clockwise from its vertex of least x.
    """

    curve: Curve
    origins: tuple[Origin, ...]

    @property
    def closed(self) -> bool:
        """Whether the chain is a loop."""
        return self.curve.closed

    @cached_property
    def layers(self) -> tuple[str, ...]:
        """Names of the layers it runs over."""
        return tuple(sorted({o.layer for o in self.origins}))

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """(x low, y low, x high, y high), mm."""
        return self.curve.bounds

    @property
    def size(self) -> tuple[float, float]:
        """Width and height in mm."""
        low_x, low_y, high_x, high_y = self.bounds
        return high_x - low_x, high_y - low_y

    @cached_property
    def round(self) -> tuple[tuple[float, float], float] | None:
        """Centre and diameter in mm, rounded to 1e-9, if the loop is a circle within 1 um."""
        if not (self.closed and self.curve.is_arc.all()):
            return None
        curve = self.curve
        whole = curve.lengths.sum()
        centre = (curve.centres * curve.lengths[:, None]).sum(axis=0) / whole
        radius = float((curve.radii * curve.lengths).sum() / whole)
        middles = arc_points(curve.starts, curve.ends, curve.bulges, np.full(len(curve), 0.5))
        reach = np.hypot(*(np.concatenate([curve.vertices, middles]) - centre).T)
        if not np.abs(reach - radius).max() <= 1e-3 or abs(self.curve.angles.sum()) > 6.5:
            return None
        x, y = (round(float(c), 9) + 0.0 for c in centre)
        return (x, y), round(2 * radius, 9)

    def __str__(self) -> str:
        first = self.origins[0]
        more = len({(o.handle, o.inside) for o in self.origins}) - 1
        names = " and ".join(f"'{name}'" for name in self.layers)
        placed = f" in {first.inside}" if first.inside else ""
        others = f" and {more} more" if more else ""
        plural = "layers" if len(self.layers) > 1 else "layer"
        return f"{plural} {names}, handle {first.handle}, {first.kind}{placed}{others}"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawing:
    """A drawing as it was understood, in mm.

    ``units`` is the name of the drawing's unit ("" if not known), ``factor`` its length in mm,
    ``stated`` what the file says about it. ``join`` is the largest gap that was closed, mm.
    """

    name: str
    version: str
    binary: bool
    units: str
    factor: float
    stated: str
    join: float
    layers: tuple[Layer, ...] = ()
    pieces: tuple[Piece, ...] = ()
    marks: tuple[Mark, ...] = ()
    chains: tuple[Chain, ...] = ()
    repairs: tuple[Repair, ...] = ()
    problems: tuple[Problem, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def loops(self) -> tuple[Chain, ...]:
        """The closed chains."""
        return tuple(c for c in self.chains if c.closed)

    @property
    def open_chains(self) -> tuple[Chain, ...]:
        """The chains that do not return to their start."""
        return tuple(c for c in self.chains if not c.closed)


def shown(value: float, digits: int = 4) -> str:
    """Return a number as messages show it: at most ``digits`` decimals, no idle zeros."""
    text = f"{value:.{digits}f}".rstrip("0").rstrip(".")
    return "0" if text in ("", "-0") else text


def shown_length(value: float, units: str = "mm") -> str:
    """Return a length in mm, with inches behind it where the drawing is in inches.

    Where the drawing's unit is not known it is in its units.
    """
    small = f"{value:.2g}" if 0 < abs(value) < 5e-4 else shown(value)
    if not units:
        return f"{small} units"
    inches = f" ({value / MM_PER_INCH:.3g} in)" if units == "in" else ""
    return either(f"{small} mm{inches}", f"{value / MM_PER_INCH:.3g} in")


def shown_mm(value: float, digits: int = 4) -> str:
    """Return a length in mm, of at most so many decimals, to be told in either unit."""
    return either(f"{shown(value, digits)} mm", f"{shown(value / MM_PER_INCH, digits + 1)} in")


def shown_size(wide: float, high: float, digits: int) -> str:
    """Return a size in mm, to be told in either unit."""
    inches = f"{shown(wide / MM_PER_INCH, digits + 1)} x {shown(high / MM_PER_INCH, digits + 1)} in"
    return either(f"{shown(wide, digits)} x {shown(high, digits)} mm", inches)


def shown_area(value: float, digits: int) -> str:
    """Return an area in mm2, to be told in either unit."""
    return either(f"{shown(value, digits)} mm2", f"{shown(value / MM_PER_INCH**2, digits + 3)} in2")


def shown_place(place: tuple[float, float] | Floats) -> str:
    """Return a place as messages show it."""
    x, y = float(place[0]), float(place[1])
    inches = f"({shown(x / MM_PER_INCH, 4)}, {shown(y / MM_PER_INCH, 4)})"
    return either(f"({shown(x, 3)}, {shown(y, 3)})", inches)


def counted(count: int, word: str) -> str:
    """Return a count with its word, in the plural where there is not exactly one."""
    return f"{count} {word}" if count == 1 else f"{count} {word}s"
