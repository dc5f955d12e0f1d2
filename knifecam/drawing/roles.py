"""What each loop of a drawing is: outline, bores, slots, and the marks for tabs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from knifecam.curve import Curve
from knifecam.curve.curve import Floats
from knifecam.drawing.choose import by_place, choose_outline, oddities
from knifecam.drawing.inside import crossings_between, holders
from knifecam.drawing.join import join_pieces
from knifecam.drawing.marks import point_pairs, tab_places
from knifecam.drawing.record import (
    OFF_PLANE,
    UNITS,
    UNREADABLE,
    Chain,
    Drawing,
    Mark,
    Problem,
    shown_length,
    shown_place,
)
from knifecam.errors import DrawingError


@dataclass(frozen=True, slots=True, kw_only=True)
class Roles:
    """Which layers hold what. Without any the drawing itself decides.

    ``shapes`` hold curves that are not cut as drawn, but that patterns are made of.
    """

    outline: tuple[str, ...] = ()
    bores: tuple[str, ...] = ()
    slots: tuple[str, ...] = ()
    tabs: tuple[str, ...] = ()
    keep_off: tuple[str, ...] = ()
    shapes: tuple[str, ...] = ()

    def named(self) -> set[str]:
        """Return all layers that have a role, case folded."""
        return {name.casefold() for f in fields(self) for name in getattr(self, f.name)}


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
    keep_off : tuple of Curve
        Marks for stretches without tabs: see `keep_off_stretches`.
    keep_off_pairs : (K, 2, 2) float
        Two points each, with no tab between them.
    shapes : tuple of (str, tuple of Curve)
        The curves of each layer of shapes, its name case folded.
    notes : tuple of str
        What was left alone, and what looks odd.
    """

    outline: Curve
    tabs: Floats
    keep_off_pairs: Floats
    bores: tuple[DrawnBore, ...] = ()
    slots: tuple[Curve, ...] = ()
    keep_off: tuple[Curve, ...] = ()
    shapes: tuple[tuple[str, tuple[Curve, ...]], ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Chains:
    """Chains by role; ``decided`` says whether the outline's layer was named."""

    outline: tuple[Chain, ...]
    bores: tuple[Chain, ...]
    slots: tuple[Chain, ...]
    decided: bool


def find_parts(drawing: Drawing, roles: Roles | None = None) -> Parts:
    """Return outline, bores, slots and marks of a drawing.

    Where the outline's layer is named, the loop there that holds all others is the outline.
    Where it is not, it is the one among all layers without a role. Circles inside the outline and
    on its layers are bores, other loops there are slots. Layers without a role matter only where
    the outline's is not named.

    Raises
    ------
    DrawingError
        One line for each: a named layer that holds nothing, a problem of the drawing on a layer
        that matters, a chain that should be a loop, loops that cross or lie outside of the
        outline; and, where the outline is not clear, every candidate.
    """
    chosen = roles or Roles()
    missing = _missing_layers(drawing, chosen)
    if missing:
        raise DrawingError(missing)
    chains = _sorted(drawing, chosen)
    outline, inner, notes = choose_outline(chains.outline, decided=chains.decided)
    bores = [*chains.bores, *(c for c in inner if c.round)]
    slots = [*chains.slots, *(c for c in inner if not c.round)]
    _refuse_misplaced(outline, [*bores, *slots])
    tabs, kept_off = (_of_layers(drawing, names) for names in (chosen.tabs, chosen.keep_off))
    return Parts(
        outline=outline.curve,
        bores=_named(bores),
        slots=tuple(chain.curve for chain in sorted(slots, key=by_place)),
        tabs=tab_places(_marks(drawing, chosen.tabs), tabs),
        keep_off=tuple(chain.curve for chain in kept_off),
        keep_off_pairs=point_pairs(_marks(drawing, chosen.keep_off)),
        shapes=tuple(
            (name.casefold(), tuple(chain.curve for chain in _of_layers(drawing, [name])))
            for name in chosen.shapes
        ),
        notes=(*notes, *oddities(slots), *_left_alone(drawing, chosen)),
    )


def _missing_layers(drawing: Drawing, roles: Roles) -> list[str]:
    there = {layer.name.casefold(): layer for layer in drawing.layers}
    known = ", ".join(f"'{layer.name}'" for layer in drawing.layers if layer.counts) or "none"
    lines = []
    for role in fields(roles):
        for name in getattr(roles, role.name):
            layer = there.get(name.casefold())
            if layer is not None and layer.counts:
                continue
            bad = [str(p) for p in drawing.problems if _lies_on(p, name)]
            if bad:
                lines += [line for line in bad if line not in lines]
                continue
            why = "is not in the drawing"
            if layer is not None:
                why = "holds no geometry"
                if layer.hidden:
                    why = f"is left out: it is {layer.hidden.removeprefix('on ')}"
            lines.append(f"{role.name}: layer '{name}' {why}; layers with geometry: {known}")
    return lines


def _lies_on(problem: Problem, layer: str) -> bool:
    return problem.origin is not None and problem.origin.layer.casefold() == layer.casefold()


def _sorted(drawing: Drawing, roles: Roles) -> _Chains:
    """Return the chains of every role; refuse what is wrong with those that are cut."""
    decided = bool(roles.outline)
    named = roles.named()
    own = {name.casefold() for name in roles.outline}
    layers = {layer.name.casefold() for layer in drawing.layers}
    layers |= {p.origin.layer.casefold() for p in drawing.problems if p.origin}
    bores = {name.casefold() for name in roles.bores} - own
    slots = {name.casefold() for name in roles.slots} - own - bores
    problems = [p for p in drawing.problems if p.kind == UNITS]
    made = []
    for wanted, across in (
        (own if decided else layers - named, not decided), (bores, False), (slots, False),
    ):  # fmt: skip
        pieces = [p for p in drawing.pieces if p.origin.layer.casefold() in wanted]
        groups = None if across else [0] * len(pieces)
        joined = join_pieces(
            pieces, drawing.join, groups=groups, across=across, units=drawing.units
        )
        read = [p for p in drawing.problems if p.kind in (OFF_PLANE, UNREADABLE)]
        problems += [p for p in read if p.origin and p.origin.layer.casefold() in wanted]
        problems += joined.problems
        made.append(joined.chains)
    outlines, bored, slotted = made
    lines = [str(p) for p in problems]
    told: set[object] = {p.origin for p in problems}
    lines += _open(outlines if decided else (), "outline", told)
    lines += _open(bored, "bores", told) + _open(slotted, "slots", told)
    lines += [
        f"bores: {chain} is not a circle; put it on a layer of slots"
        for chain in bored
        if chain.closed and not chain.round
    ]
    if lines:
        raise DrawingError(lines, problems)
    return _Chains(outline=outlines, bores=bored, slots=slotted, decided=decided)


def _open(chains: Sequence[Chain], role: str, told: set[object]) -> list[str]:
    """Return a line for each open chain of which no problem has told already."""
    lines = []
    for chain in chains:
        if chain.closed or told & set(chain.origins):
            continue
        first, last = chain.curve.vertices[0], chain.curve.vertices[-1]
        size = shown_length(float(np.hypot(*(last - first))))
        lines.append(
            f"{role}: {chain} is open: its ends at {shown_place(first)} and {shown_place(last)} are"
            f" {size} apart; close it, or move it to a layer without a role"
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


def _of_layers(drawing: Drawing, names: Sequence[str]) -> tuple[Chain, ...]:
    """Return the chains of marks on some layers; marks may cross and end as they like."""
    wanted = {name.casefold() for name in names}
    pieces = [p for p in drawing.pieces if p.origin.layer.casefold() in wanted]
    return join_pieces(pieces, drawing.join, units=drawing.units).chains


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
        f"layer '{layer.name}' has no role; left alone:"
        f" {', '.join(f'{count} {kind}' for kind, count in layer.counts)}"
        for layer in drawing.layers
        if layer.counts and layer.name.casefold() not in named
    ]
