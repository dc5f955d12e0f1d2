"""Keys that have no effect on an order are refused by name, not taken in silence."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace

import pytest

from knifecam.order import order_from_text
from knifecam.shop.order_record import STAGES

Refusing = Callable[..., tuple[str, ...]]

CUTTING = "[[cutting]]\ncutter = 1\nstage = "
BEVEL = '[[bevels]]\nedge = [[20, 0], [80, 0]]\nangle = 8\nland = 0.4\nsides = "both"\n'
PATTERN = "[[patterns]]\ndiameter = 3\nalong = [[70, 10], [120, 10]]\npitch = 8\n"
HELD = '[workholding]\nkind = "bores"\nscrews = ["bore-1", "bore-2"]\ntip_clamp = true\n'
ONE_SIDE = '[[bevels]]\nedge = [[20, 0], [80, 0]]\nangle = 12\nsides = "A"\n[bevelling]\n'
IDLE = [
    (f"{ONE_SIDE}measure_stop = true", "bevelling.measure_stop=true has no effect where side B grinds"),
    (f'{CUTTING}"finish"\nallowance = 0.03', 'cutting[1].allowance=0.03 mm has no effect in stage "f'),
    (f'{CUTTING}"bore"\nallowance = 0.03', 'cutting[1].allowance=0.03 mm has no effect in stage "bore"'),
    (f'{CUTTING}"finish"\nstepover = 0.03', 'cutting[1].stepover=0.03 mm has no effect in stage "f'),
    (f'{CUTTING}"notch"', 'cutting[1].stage="notch" has no effect on this blade'),
    (f'{CUTTING}"fit"', 'cutting[1].stage="fit" has no effect on this blade'),
    (f'{CUTTING}"rough"\n{CUTTING.replace("1", "2")}"rough"', 'cutting[2].stage="rough" has no effect'),
    ("[bores]\nthrough = 0.3", 'bores.through=0.3 mm has no effect with opening="skin"'),
    (
        '[bores]\nopening = "relieved"\nskin = 0.3',
        'bores.skin=0.3 mm has no effect with opening="relieved"',
    ),
    (
        '[bores]\nopening = "relieved"\noversize = 0.3',
        'bores.oversize=0.3 mm has no effect with opening="relieved"',
    ),
    ("[bores]\nundersize = 0.1", "bores.undersize=0.1 mm has no effect where no bore is fitted"),
    ("[bores]\nspring_passes = 2", "bores.spring_passes=2 has no effect where no bore is fitted"),
    (
        '[workholding]\nscrews = ["bore-1"]',
        'workholding.screws=["bore-1"] has no effect with kind="tabs"',
    ),
    ("[workholding]\nhead_height = 4", 'workholding.head_height=4 mm has no effect with kind="tabs"'),
    ("[bevelling]\ncusp = 0.004", "bevelling.cusp=0.004 mm has no effect without [[bevels]]"),
    ("[mill]\ntravel_from = [0, 0, 0]", "mill.travel_from=[0 mm, 0 mm, 0 mm] has no effect without"),
    ("[setup]\ngap_stop = false\ngap_height = 12", "setup.gap_height=12 mm has no effect with gap_stop"),
    ("[blade]\nlapping = 0.1", "blade.lapping=0.1 mm has no effect without blade.thickness"),
    (f"{BEVEL}plunge_radius = 4", "bevels[1].plunge_radius=4 mm has no effect without a plunge"),
    (f"{PATTERN}angle = 30", "patterns[1].angle=30 deg has no effect on round cells"),
    (f"{PATTERN}staggered = true", "patterns[1].staggered=true has no effect on one row"),
    (f"{PATTERN}row_pitch = 4", "patterns[1].row_pitch=4 mm has no effect on one row"),
    ('[[edge_breaks]]\nof = "bores"\nstretches = [[[0, 0], [9, 0]]]', "edge_breaks[1].stretches="),
    (f'{HELD}[tabs]\nwaist = 2',
     "tabs.waist=2 mm has no effect without tabs"),
    (f'{HELD}[outline]\nno_tabs = [[0, 9]]',
     "outline.no_tabs="),
]  # fmt: skip


USED = {
    "allowance": ("slot", "rough", "clear", "bevel-rough", "bevel-semi", "plunge-line"),
    "stepdown": ("bore", "slot", "rough", "notch", "neck", "clear", "bevel-rough"),
    "stepover": ("bore", "slot", "rough", "notch", "break", "clear", "bevel-rough", "bevel-semi",
                 "bevel-finish", "plunge-line"),
}  # fmt: skip
"""Stages that leave metal, that go down in levels or turns, and that step aside."""


@pytest.mark.parametrize("stage", STAGES)
@pytest.mark.parametrize("key", USED)
def test_a_key_that_a_stage_has_no_use_for_is_refused(
    sound: str, refused: Refusing, key: str, stage: str
) -> None:
    lines = refused(f'{sound}{CUTTING}"{stage}"\n{key} = 0.02\n[setup]\ngauge = 1\n')
    found = [one for one in lines if f"cutting[1].{key}=0.02 mm has no effect in stage" in one]
    assert len(found) == (stage not in USED[key]), lines


def test_an_entry_for_another_steel_is_told_where_it_is_missed(
    sound: str, parts: SimpleNamespace
) -> None:
    """A shop keeps entries for all its steels; a steel misspelt would leave them out in silence."""

    def why(text: str) -> str:
        assumed = order_from_text(f"{sound}{text}", folder=".", drawing=parts).assumed
        return next(
            (str(x) for x in assumed if x.path == 'cutting of cutter 1 in stage "bore"'), ""
        )

    entry = '[[cutting]]\ncutter = 1\nstage = "bore"\nsteel = '
    assert '(what is stated holds for steel "1.2379" only; by diameter 3 mm and' in why(
        f'{entry}"1.2379"\n'
    )
    assert "what is stated" not in why("")
    assert why(f'{entry}"1.2379"\n{entry}"O1"\n[blade]\nsteel = "O1"\n') == ""


@pytest.mark.parametrize(
    ("key", "value"), [("opening", '"skin"'), ("skin", 0.3), ("oversize", 0.05), ("through", 0.3)]
)
def test_how_openings_go_through_is_refused_where_none_does(
    sound: str, refused: Refusing, draw: Callable[..., SimpleNamespace], key: str, value: object
) -> None:
    """By the outline alone, by bores that both sides meet in, and by blind reference bores."""
    plain, met = draw(bores=(), slots=()), draw(slots=())
    pins = '[registration]\nkind = "pins"\n'
    for text, drawing in ((pins, plain), ("", plain), ("both_sides = [5]\n", met)):
        lines = refused(f"{sound}[bores]\n{key} = {value}\n{text}", drawing)
        assert any(x.startswith(f"bores.{key}=") and " has no effect " in x for x in lines), lines


@pytest.mark.parametrize(("text", "line"), IDLE, ids=[line[:50] for _, line in IDLE])
def test_a_key_without_effect_is_refused_by_name(
    sound: str, refused: Refusing, text: str, line: str
) -> None:
    lines = [one for one in refused(f"{sound}{text}\n") if " has no effect " in one]
    assert len(lines) == 1, lines
    assert lines[0].startswith(line)
    assert lines[0].endswith("; leave it out")
