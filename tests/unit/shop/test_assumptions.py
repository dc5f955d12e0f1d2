"""Messages say which of the values they rest on the order did not state."""

import ast
import re
from pathlib import Path

import pytest

import knifecam
from knifecam.errors import KnifecamError
from knifecam.judge.finding_kinds import FINDING_KINDS, Kind
from knifecam.judge.findings import Finding, Verdict
from knifecam.order.order_tables import OrderText
from knifecam.quantity import basis, keyed, mm, rests_on, stated, told
from knifecam.shop.assumptions import Assumption, Why, unstated, with_unstated
from knifecam.shop.order_record import STAGES, cutting_path

PACKAGE = Path(knifecam.__file__).parent


def cutter(place: int, number: int, key: str, value: str) -> Assumption:
    return Assumption(
        table=f"cutters[{place}]",
        key=key,
        value=value,
        owner=f"cutter {number}",
        why=Why("guessed"),
    )


ASSUMED = (
    cutter(1, 7, "flute_length", "4.5 mm"),
    cutter(1, 7, "stickout", "24 mm"),
    cutter(2, 9, "flute_length", "6 mm"),
    cutter(2, 9, "neck", "3.8 mm"),
    Assumption(table="cutting", value="6383 rev/min, 280.9 mm/min", owner=cutting_path(7, "rough")),
    Assumption(table="mill", key="travel", value="[400 mm, 250 mm, 200 mm]"),
    Assumption(table="outline", key="width", value="3.9 mm", why=Why("by the cutters' diameters")),
    Assumption(table="tabs", key="thickness", value="0.45 mm"),
    *(
        Assumption(table="cutting", value="6383 rev/min", owner=cutting_path(9, stage))
        for stage in STAGES
    ),
    Assumption(table="mill", value="machine_zero_a and _b are unknown"),
)
FLUTES, NECK = keyed("cutter 9.flute_length", mm(6)), keyed("cutter 9.neck", mm(3.8))


@pytest.mark.parametrize(
    ("text", "kind", "rows"),
    [
        (
            f"cutter 7: {keyed('cutter 7.flute_length', mm(4.5)):.2f} is less than 5.20 mm",
            None,
            [0],
        ),
        (f"cutter 9: {NECK:.3f} is not relieved, and rubs above {FLUTES:.2f}", None, [2, 3]),
        (f"cutter 7 and 9: {keyed('cutter 7.flute_length', mm(6))}{FLUTES}", None, [0, 2]),
        (
            f"{stated('cutters[2].neck', mm(3.8))} must be at most"
            f" {keyed('cutters[2].flute_length', mm(6))}",
            None,
            [2, 3],
        ),
        (f"{keyed(cutting_path(7, 'rough') + '.stepdown', mm(3))} must be less", None, [4]),
        *(
            (f"feed{basis(cutting_path(9, stage))} is high", None, [8 + place])
            for place, stage in enumerate(STAGES)
        ),
        (f"feed{basis(cutting_path(99, 'rough'))} is high", None, []),
        (f"it spans 500 mm in X, more than {stated('mill.travel[1]', mm(400))}", None, [5]),
        (
            f"{stated('outline.width', mm(3.9)):.3f} with {stated('tabs.thickness', mm(0.45)):.3f}",
            None,
            [6, 7],
        ),
        ("X moves over 500 mm", Kind.TRAVEL, [5]),
        ("X moves over 500 mm", None, []),
        (f"metal stands 6 mm high beside cutter 7{basis('cutter 7')}", Kind.REACH, [0]),
        (f"metal stands 6 mm high beside cutter 8{basis('cutter 8')}", Kind.REACH, []),
        ("metal stands 6 mm high", Kind.REACH, [0, 2, 3]),
        (f"{stated('outline.overlap', mm(3.9))}, width=3.9 mm", None, []),
        (f"{keyed('cutter 77.flute_length', mm(4.5))}", None, []),
        ("cutter 7: flute_length=4.5 mm and outline.width=3.9 mm", None, []),
    ],
)
def test_what_a_message_rests_on(text, kind, rows):
    of_kind = FINDING_KINDS[kind].rests_on if kind else ()
    assert unstated(ASSUMED, rests_on(text), of_kind) == tuple(ASSUMED[k] for k in rows)


def test_it_stands_behind_the_message():
    lines = with_unstated(
        ASSUMED, [f"{stated('outline.width', mm(3.9)):.3f} is narrow", "the rest"]
    )
    assert [told(line) for line in lines] == [
        "outline.width=3.900 mm is narrow [default, not set in the order: outline.width = 3.9 mm (by the"
        " cutters' diameters)]",
        "the rest",
    ]


def test_marks_are_dropped_where_a_line_is_told():
    line = (
        f"{stated('outline.width', mm(25.4)):.3f} of {basis('tabs.waist')}{keyed('tabs.neck', 2)}"
    )
    assert told(line) == "outline.width=25.400 mm of neck=2"
    assert told(line, "in") == "outline.width=1.0000 in of neck=2"
    assert rests_on(line) == ("outline.width", "tabs.waist", "tabs.neck")
    assert KnifecamError(line).lines == (told(line),)
    found = Finding(kind=Kind.REACH, side="A", line=1, message=line, remedy=line).told_in("mm")
    data = Verdict(findings=(found,)).as_dict()["findings"]
    assert data[0]["message"] == data[0]["remedy"] == told(line)
    assert "rests_on" not in data[0]


NAMED = re.compile(rf"(?<![\w.])(?:{'|'.join(OrderText.model_fields)})(?:\[\d*\])?\.[a-z_]+=")


@pytest.mark.parametrize("room", ["rules", "planning"])
def test_no_message_names_a_value_without_a_mark(room):
    """Literal text "table.key=" would be a value that nobody marked."""
    for path in sorted((PACKAGE / room).glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                found = NAMED.search(node.value)
                assert found is None, f"{path.name}:{node.lineno}: {found}"
