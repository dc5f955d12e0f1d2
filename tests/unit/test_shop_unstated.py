"""Messages say which of the values they rest on the order did not state."""

import pytest

from knifecam.shop.assumptions import unstated, with_unstated
from knifecam.shop.stages import STAGES

ASSUMED = (
    "cutters[1].flute_length = 4.5 mm (guessed by diameter; measure yours)",
    "cutters[1].stickout = 24 mm (guessed by diameter; measure yours)",
    "cutters[2].flute_length = 6 mm (guessed by diameter; measure yours)",
    "cutters[2].neck = 3.8 mm (guessed by diameter; measure yours)",
    'cutting of cutter 7 in stage "rough" = 6383 rev/min, 280.9 mm/min (common practice)',
    "mill.travel = [400 mm, 250 mm, 200 mm] (a small mill's; state your own)",
    "outline.width = 3.9 mm (by the cutters' diameters; common practice)",
    "tabs.thickness = 0.45 mm (by blade thickness 3.51 mm; common practice)",
    *(
        f'cutting of cutter 9 in stage "{stage}" = 6383 rev/min (common practice)'
        for stage in STAGES
    ),
)
NUMBERS = (7, 9)


@pytest.mark.parametrize(
    ("text", "kind", "rows"),
    [
        ("cutter 7: flute_length=4.50 mm is less than the 5.20 mm wall it finishes", "", [0]),
        (
            "cutter 9: neck=3.800 mm is not relieved, and rubs above its flutes of 6.00 mm",
            "",
            [2, 3],
        ),
        ("cutter 7 and 9: flute_length=6 mm", "", [0, 2]),
        ("cutters[2].neck=3.8 mm must be greater than 0 and at most flute_length=6 mm", "", [2, 3]),
        ('cutting of cutter 7 in stage "rough": stepdown=3 mm', "", [4]),
        *(
            (f'cutting of cutter 9 in stage "{stage}": feed=9 mm/min', "", [8 + place])
            for place, stage in enumerate(STAGES)
        ),
        ('cutting of cutter 99 in stage "rough": feed=9 mm/min', "", []),
        ("side A: it spans 500 mm in X, more than mill.travel[1]=400 mm", "", [5]),
        ("outline.width=3.900 mm with tabs.thickness=0.450 mm", "", [6, 7]),
        ("X moves over 500 mm", "travel", [5]),
        ("X moves over 500 mm", "", []),
        ("metal stands 6 mm high beside cutter 7", "reach", [0]),
        ("metal stands 6 mm high", "reach", [0, 2, 3]),
        ("outline.overlap=3.9 mm, width=3.9 mm", "", []),
        ("cutter 77: flute_length=4.5 mm", "", []),
    ],
)
def test_what_a_message_rests_on(text, kind, rows):
    assert unstated(ASSUMED, NUMBERS, text, kind) == tuple(ASSUMED[k] for k in rows)


def test_it_stands_behind_the_message():
    lines = with_unstated(ASSUMED, NUMBERS, ["outline.width=3.900 mm is narrow", "the rest"])
    assert lines == [
        "outline.width=3.900 mm is narrow [the order does not state outline.width = 3.9 mm (by the"
        " cutters' diameters; common practice)]",
        "the rest",
    ]
