"""What each loop of a drawing is: outline, bores, slots, and the marks for tabs."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, fields, replace
from functools import lru_cache

import numpy as np

from knifecam.curve import Curve
from knifecam.curve.curve import Floats
from knifecam.drawing.chains import Joined, join_pieces
from knifecam.drawing.drawing_limits import MOST_LOOPS_TRIED
from knifecam.drawing.drawing_record import (
    OF_JOINING,
    OFF_PLANE,
    UNIT_UNCLEAR,
    UNREADABLE,
    Chain,
    Drawing,
    Mark,
    Origin,
    Problem,
    shown_length,
    shown_place,
)
from knifecam.drawing.outline_choice import (
    by_place,
    by_size,
    choose_outline,
    crossings_between,
    holders,
    oddities,
    point_pairs,
    tab_places,
)
from knifecam.errors import DrawingError
from knifecam.quantity import named


@dataclass(frozen=True, slots=True, kw_only=True)
class Roles:
    """Which layers hold what. Without any the drawing itself decides.

    ``shapes`` hold curves that are not cut as drawn, but that patterns are made of.
    """

    outline: tuple[str, ...] = ()
    bores: tuple[str, ...] = ()
    slots: tuple[str, ...] = ()
    tabs: tuple[str, ...] = ()
    no_tabs: tuple[str, ...] = ()
    shapes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for field in fields(self):
            names = getattr(self, field.name)
            if isinstance(names, str):
                raise DrawingError(f"{field.name}='{names}' must be a tuple of layers' names")
            object.__setattr__(self, field.name, tuple(names))

    def named(self) -> set[str]:
        """Return all layers that have a role, case folded."""
        return {name.casefold() for f in fields(self) for name in getattr(self, f.name)}

    def marking(self) -> frozenset[str]:
        """Return the layers, case folded, that say where something is and may be cut besides."""
        return frozenset(name.casefold() for name in (*self.tabs, *self.no_tabs, *self.shapes))


def role_thing(role: str, layer: str = "") -> str:
    """Return what lines mark as the thing that a role's name stands for (`knifecam.quantity.named`).

    Shapes get each ``layer`` by a key of its own, which belongs to the thing.
    """
    return f"role {role} {layer}".rstrip()


def _role(role: str, layer: str = "") -> str:
    """Return a role's name in a line, for whoever knows the key that gives it to replace."""
    return named(role_thing(role, layer), role)


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnBore:
    """A circle that is a bore, mm."""

    name: str
    centre: tuple[float, float]
    diameter: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Parts:
    """The part as drawn, mm.

    Parameters
    ----------
    outline : Curve
        Closed, counter-clockwise.
    bores : tuple of DrawnBore
        "B1", "B2", ... by x, then y.
    slots : tuple of Curve
        Closed, counter-clockwise, by x, then y of their lower left.
    tabs : (K, 2) float
        Places that ask for a tab.
    no_tabs : tuple of Curve
        Marks for stretches without tabs: see `no_tab_stretches`.
    no_tab_pairs : (K, 2, 2) float
        Two points each, with no tab between them.
    shapes : tuple of (str, tuple of Curve)
        The curves of each layer of shapes, its name case folded.
    layers : tuple of str
        Those of the outline.
    notes : tuple of str
        What was left alone, and what looks odd.
    """

    outline: Curve
    tabs: Floats
    no_tab_pairs: Floats
    bores: tuple[DrawnBore, ...] = ()
    slots: tuple[Curve, ...] = ()
    no_tabs: tuple[Curve, ...] = ()
    shapes: tuple[tuple[str, tuple[Curve, ...]], ...] = ()
    layers: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Chains:
    """Chains by role; ``unused`` are problems that matter only where no outline is found."""

    outline: tuple[Chain, ...]
    bores: tuple[Chain, ...]
    slots: tuple[Chain, ...]
    unused: tuple[Problem, ...]


def find_parts(drawing: Drawing, roles: Roles | None = None) -> Parts:
    """Return outline, bores, slots and marks of a drawing.

    Where the outline's layer is named, the loop there that holds all others is the outline.
    Where it is not, it is the one among all layers but those of bores and slots; what marks tabs,
    stretches or shapes may be part of it too. Circles inside the outline and on its layers are
    bores, other loops there are slots. Layers without a role matter only where the outline's is not
    named.

    Raises
    ------
    DrawingError
        One line for each: a named layer that holds nothing, a problem of the drawing on a layer
        that matters, a chain that should be a loop, loops that cross or lie outside of the
        outline; and, where the outline is not clear, every candidate.
    """
    found = _outcome(drawing, roles or Roles())
    if isinstance(found, DrawingError):
        raise DrawingError(found.said, found.problems)
    return found


@lru_cache(maxsize=1)
def _outcome(drawing: Drawing, roles: Roles) -> Parts | DrawingError:
    """Return the parts, or why there are none. Known of the last drawing asked for: `look` asks for
    its list, its picture and its status."""
    try:
        return _found(drawing, roles)
    except DrawingError as fault:
        return DrawingError(fault.said, fault.problems)


def _found(drawing: Drawing, chosen: Roles, *, advised: bool = True) -> Parts:
    """Return the parts; only where ``advised`` does a refusal try which layers would settle it."""
    missing = _missing_layers(drawing, chosen)
    if missing:
        raise DrawingError(missing)
    chains = _sorted(drawing, chosen, advised=advised)
    outline, inner, notes = _chosen(drawing, chosen, chains, advised=advised)
    bores = [*chains.bores, *(c for c in inner if c.round)]
    slots = [*chains.slots, *(c for c in inner if not c.round)]
    _refuse_misplaced(outline, [*bores, *slots])
    cut = {origin for chain in (outline, *inner) for origin in chain.origins}
    tabs = _marking(drawing, "tabs", chosen.tabs, cut)
    kept_off = _marking(drawing, "no_tabs", chosen.no_tabs, cut)
    return Parts(
        outline=outline.curve,
        bores=_named(bores),
        slots=tuple(chain.curve for chain in sorted(slots, key=by_place)),
        tabs=tab_places(_marks(drawing, chosen.tabs), tabs),
        no_tabs=tuple(chain.curve for chain in kept_off),
        no_tab_pairs=point_pairs(_marks(drawing, chosen.no_tabs)),
        shapes=tuple(
            (name.casefold(), tuple(chain.curve for chain in _of_layers(drawing, [name], cut)))
            for name in chosen.shapes
        ),
        layers=outline.layers,
        notes=(*notes, *oddities(slots), *_left_alone(drawing, chosen)),
    )


def problems_that_matter(drawing: Drawing, roles: Roles | None = None) -> tuple[Problem, ...]:
    """Return the drawing's problems but for those on layers that are not cut, once these are named.

    What cannot be read matters on every layer with a role.
    """
    if roles is None or not roles.outline:
        return drawing.problems
    cut = {name.casefold() for name in (*roles.outline, *roles.bores, *roles.slots)}
    lost = (OFF_PLANE, UNREADABLE)
    return tuple(
        p
        for p in drawing.problems
        if not p.origin or _folded(p) in (roles.named() if p.kind in lost else cut)
    )


def _chosen(
    drawing: Drawing, roles: Roles, chains: _Chains, *, advised: bool
) -> tuple[Chain, list[Chain], list[str]]:
    """Return the outline, the loops in it that are cut, and notes."""
    marking = frozenset() if roles.outline else roles.marking()
    try:
        outline, inner, notes = choose_outline(
            chains.outline, decided=bool(roles.outline), marking=marking, near=drawing.join,
            slots=chains.slots, remedy=lambda loops: _remedy(drawing, roles, loops) if advised else "",
        )  # fmt: skip
    except DrawingError as fault:
        raise DrawingError(
            [*fault.said, *(one.said for one in chains.unused)], chains.unused
        ) from fault
    shared = [name for name in outline.layers if name.casefold() in marking]
    if shared:
        notes.insert(0, f"the outline runs over {_layers(shared)}, which marks something besides")
    return outline, inner, notes


def _layers(names: Sequence[str]) -> str:
    return f"layer{'s' if len(names) > 1 else ''} {' and '.join(repr(name) for name in names)}"


def _remedy(drawing: Drawing, roles: Roles, loops: Sequence[Chain]) -> str:
    """Return what to do so that one of the loops is the outline."""
    return _naming(drawing, roles, loops) or (
        "leave one part in the drawing, or put its outline on a layer of its own"
    )


def _naming(drawing: Drawing, roles: Roles, loops: Sequence[Chain]) -> str:
    """Return which layers may be named so that one of the loops is the outline, each tried; or ""."""
    large = sorted((loop for loop in loops if not loop.round), key=by_size)
    tried = dict.fromkeys(loop.layers for loop in large[:MOST_LOOPS_TRIED])
    cures = [layers for layers in tried if _is_clear(drawing, replace(roles, outline=layers))]
    if not cures:
        return ""
    return f"name the outline's layer, {' or '.join(_key(layers) for layers in cures)}"


def _key(layers: Sequence[str]) -> str:
    """Return what names the layers in an order."""
    names = ", ".join(f"'{name}'" for name in layers)
    return f"outline={names}" if len(layers) == 1 else f"outline=[{names}]"


def _is_clear(drawing: Drawing, roles: Roles) -> bool:
    try:
        _found(drawing, roles, advised=False)
    except DrawingError:
        return False
    return True


def _missing_layers(drawing: Drawing, roles: Roles) -> list[str]:
    there = {layer.name.casefold(): layer for layer in drawing.layers}
    known = ", ".join(f"'{layer.name}'" for layer in drawing.layers if layer.counts) or "none"
    lines = []
    for role in fields(roles):
        for name in getattr(roles, role.name):
            layer = there.get(name.casefold())
            if layer is not None and layer.counts:
                continue
            bad = [p.said for p in drawing.problems if _lies_on(p, name)]
            if bad:
                lines += [line for line in bad if line not in lines]
                continue
            why = "is not in the drawing"
            if layer is not None:
                why = "holds no geometry"
                if layer.hidden:
                    why = f"is left out: it is {layer.hidden.removeprefix('on ')}"
            called = _role(role.name, name if role.name == "shapes" else "")
            lines.append(f"{called}: layer '{name}' {why}; layers with geometry: {known}")
    return lines


def _lies_on(problem: Problem, layer: str) -> bool:
    return problem.origin is not None and problem.origin.layer.casefold() == layer.casefold()


def _sorted(drawing: Drawing, roles: Roles, *, advised: bool) -> _Chains:
    """Return the chains of every role; refuse what is wrong with those that are cut."""
    decided = bool(roles.outline)
    own = {name.casefold() for name in roles.outline}
    bores = {name.casefold() for name in roles.bores} - own
    slots = {name.casefold() for name in roles.slots} - own - bores
    marking = frozenset() if decided else roles.marking() - bores - slots
    candidates = own or _with_geometry(drawing) - bores - slots
    outlines = _joined(drawing, candidates, across=not decided, marking=marking)
    bored, slotted = (_joined(drawing, wanted) for wanted in (bores, slots))
    of_marks = [p for p in outlines.problems if _folded(p) in marking]
    problems = [p for p in drawing.problems if p.kind == UNIT_UNCLEAR]
    read = [p for p in drawing.problems if p.kind in (OFF_PLANE, UNREADABLE)]
    problems += [p for p in read if _folded(p) in candidates | bores | slots | roles.named()]
    for joined in (outlines, bored, slotted):
        problems += [p for p in joined.problems if p not in of_marks]
    lines = [p.said for p in problems]
    told: set[object] = {p.origin for p in problems}
    lines += _open(outlines.chains if decided else (), "outline", told)
    if lines and decided and advised:
        lines = _closed_by(drawing, roles, outlines.chains, lines)
    lines += _open(bored.chains, "bores", told) + _open(slotted.chains, "slots", told)
    lines += [
        f"{_role('bores')}: {chain} is not a circle; put it on a layer of slots"
        for chain in bored.chains
        if chain.closed and not chain.round
    ]
    if lines:
        if problems and not decided and advised:
            lines += _cure(drawing, roles, outlines.chains)
        raise DrawingError(lines, problems)
    return _Chains(
        outline=outlines.chains, bores=bored.chains, slots=slotted.chains, unused=tuple(of_marks)
    )


def _with_geometry(drawing: Drawing) -> set[str]:
    """Return the layers, case folded, that hold pieces or what should have become such."""
    return {p.origin.layer.casefold() for p in drawing.pieces} | {
        _folded(p) for p in drawing.problems if p.origin
    }


def _folded(problem: Problem) -> str:
    return (problem.layer or "").casefold()


def _joined(
    drawing: Drawing,
    wanted: Collection[str],
    *,
    across: bool = False,
    marking: frozenset[str] = frozenset(),
) -> Joined:
    """Return what the pieces of some layers make: of one group, or ``across`` of one a layer.

    Where it is what was joined as the drawing was read, nothing is joined anew.
    """
    pieces = [p for p in drawing.pieces if p.origin.layer.casefold() in wanted]
    several = len({p.origin.layer.casefold() for p in pieces}) > 1
    if len(pieces) == len(drawing.pieces) and not marking and (across or not several):
        return Joined(
            chains=drawing.chains,
            problems=tuple(p for p in drawing.problems if p.kind in OF_JOINING),
        )
    groups = None if across else [0] * len(pieces)
    last = [p.origin.layer.casefold() in marking for p in pieces]
    return join_pieces(
        pieces, drawing.join, groups=groups, across=across, last=last, units=drawing.units
    )


def _cure(drawing: Drawing, roles: Roles, chains: Sequence[Chain]) -> list[str]:
    """Return a line where naming the outline's layer leaves the problems of others behind."""
    remedy = _naming(drawing, roles, [chain for chain in chains if chain.closed])
    if not remedy:
        return []
    return [f"{remedy}: then only what lies on layers with a role must be sound"]


def _closed_by(
    drawing: Drawing, roles: Roles, chains: Sequence[Chain], lines: list[str]
) -> list[str]:
    """Return the lines on the outline's layers; where other layers close an open chain, with these."""
    cut = {name.casefold() for name in (*roles.bores, *roles.slots)}
    others = {p.origin.layer.casefold() for p in drawing.pieces} - cut
    marking = frozenset(others - {name.casefold() for name in roles.outline})
    apart = {origin for chain in chains if not chain.closed for origin in chain.origins}
    loops = _joined(drawing, others, across=True, marking=marking).chains
    remedy = _naming(drawing, roles, [c for c in loops if c.closed and apart & set(c.origins)])
    return [f"{line}; or {remedy}" for line in lines] if remedy else lines


def _open(chains: Sequence[Chain], role: str, told: set[object]) -> list[str]:
    """Return a line for each open chain of which no problem has told already."""
    lines = []
    for chain in chains:
        if chain.closed or told & set(chain.origins):
            continue
        first, last = chain.curve.vertices[0], chain.curve.vertices[-1]
        size = shown_length(float(np.hypot(*(last - first))))
        lines.append(
            f"{_role(role)}: {chain} is open: its ends at {shown_place(first)} and"
            f" {shown_place(last)} are {size} apart; close it, or move it to a layer without a role"
        )
    return lines


def _refuse_misplaced(outline: Chain, inner: Sequence[Chain]) -> None:
    """Refuse bores and slots that cross anything, hold each other, or lie outside the outline."""
    every = [outline, *inner]
    crossing = crossings_between(every)
    lines = [
        f"{every[b]}: crosses or touches {'the outline, ' if a == 0 else ''}{every[a]} at"
        f" {shown_place(place)}; metal must stay between them"
        for a, b, place in crossing
    ]
    met = {b for _, b, _ in crossing} | {a for a, _, _ in crossing}
    holds = holders(every)
    for k in range(1, len(every)):
        if k in met:
            continue
        if not holds[0, k]:
            lines.append(
                f"{every[k]}: lies outside of the outline at {shown_place(every[k].bounds[:2])}"
            )
        for other in np.flatnonzero(holds[1:, k]) + 1:
            lines.append(f"{every[k]}: lies inside {every[other]}; one opening cannot hold another")
    if lines:
        raise DrawingError(lines)


def _of_layers(drawing: Drawing, names: Sequence[str], cut: set[Origin]) -> list[Chain]:
    """Return the chains of marks on some layers; marks may cross and end as they like.

    A loop of what is ``cut``, the outline or an opening, is no mark.
    """
    wanted = {name.casefold() for name in names}
    pieces = [p for p in drawing.pieces if p.origin.layer.casefold() in wanted]
    made = join_pieces(pieces, drawing.join, units=drawing.units).chains
    return [chain for chain in made if not (chain.closed and cut & set(chain.origins))]


def _marking(drawing: Drawing, role: str, names: Sequence[str], cut: set[Origin]) -> list[Chain]:
    """Return the chains of a role; refuse a layer that holds the outline and no mark."""
    for name in names:
        if not (_of_layers(drawing, [name], cut) or _marks(drawing, [name])):
            raise DrawingError(
                f"{_role(role)}: layer '{name}' holds the outline or its openings and no mark;"
                " draw the marks on a layer of their own"
            )
    return _of_layers(drawing, names, cut)


def _marks(drawing: Drawing, names: Sequence[str]) -> list[Mark]:
    wanted = {name.casefold() for name in names}
    return [m for m in drawing.marks if m.origin.layer.casefold() in wanted]


def _named(bores: Sequence[Chain]) -> tuple[DrawnBore, ...]:
    """Return bores with their names, by x, then y."""
    rounds = sorted(
        (chain.round for chain in bores if chain.round),
        key=lambda found: (round(found[0][0], 6), round(found[0][1], 6)),
    )
    return tuple(
        DrawnBore(name=f"B{k}", centre=centre, diameter=diameter)
        for k, (centre, diameter) in enumerate(rounds, 1)
    )


def _left_alone(drawing: Drawing, roles: Roles) -> list[str]:
    """Return a note for each layer that holds geometry and has no role."""
    named = roles.named()
    if not roles.outline:
        return []
    return [
        f"layer '{layer.name}' has no role; not used:"
        f" {', '.join(f'{count} {kind}' for kind, count in layer.counts)}"
        for layer in drawing.layers
        if layer.counts and layer.name.casefold() not in named
    ]
