"""The outline is the right one, or the error lists what it could be: never another without a word.

Every drawing, each of its layers in each role, and each of its strokes left out in turn. A sample
runs always; `KNIFECAM_DRAWINGS=0:2000` draws more, and gives more roles at once.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from knifecam.drawing import Drawing, Roles, find_parts
from knifecam.errors import DrawingError
from tests.laws.drawn_knives import Knife, Stroke, area_of, demo, drawing_of, knife

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.dxf"))
WIDE = "KNIFECAM_DRAWINGS" in os.environ
FIRST, LAST = map(int, os.environ.get("KNIFECAM_DRAWINGS", "0:6").split(":"))
ROLES = ("bores", "slots", "tabs", "no_tabs", "shapes")
"""That of the outline is no question: who names its layer has said the word."""


def same(drawn: Knife, drawing: Drawing, roles: Roles) -> str:
    """Return "right" or "unclear"; a wrong outline fails."""
    try:
        found = find_parts(drawing, roles)
    except DrawingError as fault:
        told = fault.lines
    else:
        told = ()
    if told:
        assert any("layer" in line for line in told), told
        return "unclear"
    area = area_of(found.outline)
    off = area.symmetric_difference(drawn.outline).area / drawn.outline.area
    assert off < 1e-3, (drawn.name, roles, found.outline.bounds)
    return "right"


def given(layers: tuple[str, ...]) -> Iterator[Roles]:
    """Each layer in each role, then two layers in two."""
    yield Roles()
    for layer in layers:
        for role in ROLES:
            yield Roles(**{role: (layer,)})
    for layer in layers:
        for other in layers:
            if layer < other:
                yield Roles(shapes=(layer, other))
            if WIDE and layer != other:
                yield Roles(no_tabs=(layer,), shapes=(other,))
                yield Roles(tabs=(layer,), shapes=(other,))


def without_each(drawn: Knife) -> Iterator[tuple[Stroke, ...]]:
    """Yield the strokes but for one: of a knife that is one stroke nothing would be left."""
    for k, one in enumerate(drawn.strokes):
        if not (one.closed and one.layer == "PROFILE" and len(one.points) > 2):
            yield drawn.strokes[:k] + drawn.strokes[k + 1 :]


def outcome(drawn: Knife) -> Counter[str]:
    """Return how many were right and how many unclear."""
    whole = drawing_of(drawn.strokes)
    counts = Counter(same(drawn, whole, roles) for roles in given(drawn.layers))
    for strokes in without_each(drawn):
        part = drawing_of(strokes)
        layers = sorted({stroke.layer for stroke in strokes})
        for roles in (Roles(), *(Roles(shapes=(name,)) for name in layers if WIDE)):
            counts[f"{same(drawn, part, roles)}, one missing"] += 1
    return counts


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_demos(path: Path) -> None:
    counts = outcome(demo(path))
    assert counts["right"] > counts["unclear"]


@pytest.mark.parametrize("seed", range(FIRST, LAST))
def test_drawn_knives(seed: int) -> None:
    outcome(knife(seed))


def test_most_drawings_are_clear_with_the_roles_that_are_meant() -> None:
    """Refusing all would be no mistake either, but of no use."""
    meant = {"tabs": "TABS", "no_tabs": "KEEP", "shapes": ("EDGE", "PLUNGE", "CELL")}
    counts: Counter[str] = Counter()
    for seed in range(60):
        drawn = knife(seed)
        if {"HELP", "SHEET", "TIP", "AXIS", "SAW"} & set(drawn.layers):
            continue
        roles = {}
        for role, names in meant.items():
            named = (names,) if isinstance(names, str) else names
            roles[role] = tuple(name for name in named if name in drawn.layers)
        counts[same(drawn, drawing_of(drawn.strokes), Roles(**roles))] += 1
    assert counts["right"] > 10 * counts["unclear"], counts
