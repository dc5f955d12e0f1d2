"""The lines a maker reads: what they say, and in which words."""

from dataclasses import replace
from pathlib import Path

from knifecam.judge.finding_kinds import FINDING_KINDS, Kind
from knifecam.judge.findings import Finding, Verdict
from knifecam.order import load_order
from knifecam.report.screen_lines import (
    file_lines,
    finding_lines,
    measure_lines,
    outline_line,
    uncut_lines,
)
from knifecam.shop.assumptions import Assumption, assumed_lines
from tests.agreement.orders import simple_order

ORDER = replace(
    simple_order(),
    assumed=(
        Assumption(table="cutters[2]", key="flute_length", value="6 mm", owner="cutter 2"),
        Assumption(table="mill", key="travel", value="[400 mm, 250 mm, 200 mm]"),
    ),
)
BOTH = {"sides": {"A": {}, "B": {}}}


def test_proved_means_both_sides_or_says_which():
    assert list(finding_lines(Verdict(measures=BOTH), ORDER)) == [
        "PROVED: the simulator found no fault in the two programs"
    ]
    (line,) = finding_lines(Verdict(measures={"sides": {"A": {}}}), ORDER)
    assert line.startswith("PROVED FOR SIDE A ONLY: side B's program was not given; not proved are")
    (line,) = finding_lines(Verdict(measures={"sides": {"B": {}}}), ORDER)
    assert line.startswith("PROVED FOR SIDE B ONLY: side A's program was not given")


def test_findings_say_what_the_order_did_not_state():
    found = (
        Finding(
            kind=Kind.TRAVEL,
            side="A",
            line=0,
            message="X moves over 500 mm",
            remedy="a longer mill",
        ),
        Finding(kind=Kind.TAB, side="B", line=7, message="too thin"),
    )
    lines = list(finding_lines(Verdict(findings=found, measures={"sides": {"B": {}}}), ORDER))
    assert lines == [
        "NOT PROVED: 2 findings; side A was not given",
        "  travel side A: X moves over 500 mm",
        "      a longer mill",
        f"      default, not set in the order: {ORDER.assumed[1]}",
        "  tab side B, line 7: too thin",
        f"      {FINDING_KINDS[Kind.TAB].remedy}",
    ]


def test_corners_that_stay_uncut_are_told_with_what_would_reach_them():
    row = {"of": "outline", "place": [25.0, 6.0], "left": 0.4142, "cutter_radius": 1.5}
    rows = [row | {"largest_cutter": 1.0}, row | {"largest_cutter": 0.02, "left": None}]
    assert list(uncut_lines({"unreachable": rows})) == [
        "UNCUT CORNER C1 of outline at (25.00, 6.00): the cutter of 3.000 mm leaves 0.414 mm of metal;"
        " one of 1.00 mm or less reaches it",
        "UNCUT CORNER C2 of outline at (25.00, 6.00): the cutter of 3.000 mm leaves metal; no cutter"
        " reaches it, so file it or draw it with a radius",
    ]
    assert list(uncut_lines({})) == []


def test_corners_alike_share_a_line():
    """A hole drawn as lines: one line for all its corners, with the worst of them."""
    row = {"of": "S1", "place": [5.0, 0.0], "cutter_radius": 1.5, "largest_cutter": 0.0}
    hole = [row | {"left": 0.084, "place": [float(k), 1.0]} for k in range(3)]
    hole[1] = hole[1] | {"left": 0.086}
    assert list(uncut_lines({"unreachable": [*hole, row | {"left": 0.002, "of": "S2"}]})) == [
        "UNCUT CORNERS C1, C2, C3 of S1, worst C2 at (1.00, 1.00): the cutter of 3.000 mm leaves"
        " 0.086 mm of metal; no cutter reaches them, so file them or draw them with a radius",
        "UNCUT CORNER C4 of S2 at (5.00, 0.00): the cutter of 3.000 mm leaves 0.002 mm of metal; no"
        " cutter reaches it, so file it or draw it with a radius",
    ]


def test_a_corner_with_less_than_half_a_micrometre_left_is_no_line():
    row = {"of": "S1", "place": [5.0, 0.0], "cutter_radius": 1.5, "largest_cutter": 0.0}
    rows = [row | {"left": 0.0004}, row | {"left": 0.0006}]
    (line,) = uncut_lines({"unreachable": rows})
    assert line.startswith(
        "UNCUT CORNER C1 of S1 at (5.00, 0.00): the cutter of 3.000 mm leaves 0.001 mm"
    )


def value_of(line):
    """What a grouped line must show of an assumption: key and value, or the table and its value."""
    return f" {line.key} {line.value}" if line.key else f"{line.path}: {line.value}"


def test_assumptions_are_grouped_and_none_is_lost():
    """What to measure stands first; the usual values are counted; each line lands in one group."""
    assumed = load_order("examples/field-knife-230x32.toml").assumed
    lines = list(assumed_lines(assumed))
    assert len(lines) < len(assumed) / 2
    assert lines[0] == "guessed: measure these before cutting:"
    assert lines[1].startswith("  cutters[1]: flutes 4, flute_length 4.49 mm, neck 2.84 mm")
    assert any(
        line.startswith("  tabs: count 4, waist 1.5 mm, thickness 0.45 mm") for line in lines
    )
    *shown, last = lines
    count = int(last.removeprefix("defaults used for ").split(" ")[0])
    text = " ".join(" ".join(shown).split())
    told = [line for line in assumed if value_of(line) in text]
    assert len(told) + count == len(assumed)
    assert last.endswith("(list: --assumed)")
    assert list(assumed_lines(assumed, whole=True)) == [f"  assumed: {line}" for line in assumed]
    assert list(assumed_lines(())) == []


def test_what_was_measured_of_details_is_told_in_a_line_each():
    width = {"least": 0.1996, "mean": 0.2, "most": 0.2}
    part = {"name": "E1", "of": "outline", "side": "A", "wanted": 0.2, "width": width}
    measures = {
        "edge_breaks": [part, part | {"width": {"least": 0.2, "mean": 0.2, "most": 0.2011}}],
        "jimping": [
            {
                "name": "J1", "notches": 7, "wanted_depth": 0.45, "wanted_pitch": 3.0121,
                "depth": {"least": 0.45, "mean": 0.45, "most": 0.45},
                "axes_apart": {"least": 3.012, "mean": 3.0121, "most": 3.0149},
            }
        ],
        "slots": [
            {"name": "S1", "left": 0.0, "A": {"gouge": 0.0003}, "B": {"gouge": 0.02}},
            {"name": "S2", "left": 0.001, "B": {"gouge": None}},
        ],
        "webs": [
            {"between": ["S1", "outline"], "least": 4.5},
            {"between": ["S1", "S2"], "least": 1.564},
        ],
    }  # fmt: skip
    assert list(measure_lines(measures)) == [
        "edge break E1 of outline, side A: 0.200 to 0.201 mm wide (ordered 0.200)",
        "jimping J1: 7 notches, 0.450 mm deep (ordered 0.450), 3.012 to 3.015 mm apart (ordered 3.012)",
        "walls of 2 slots at worst: 0.0003 mm oversize, 0.0010 mm undersize",
        "thinnest web: 1.56 mm, between S1 and S2",
    ]


def test_what_was_measured_of_bevels_tells_how_the_land_may_move():
    land = {
        "wanted": {"least": 0.3, "mean": 0.3, "most": 0.3},
        "measured": {"least": 0.2999, "mean": 0.3, "most": 0.3031},
        "disturbed": {"as ordered": [0.2999, 0.3031], "lower": [0.2699, 0.2731], "unknown": []},
    }
    measures = {
        "bevels": [
            {
                "name": "edge", "sides": {}, "land": land, "symmetry": 0.000012,
                "sensitivity": [
                    {
                        "side": side, "per": 0.01,
                        "z_lower": {"grind_line": 0.0814, "land": -0.01},
                        "cutter_thicker": {"grind_line": 0.005, "land": -0.00061},
                        "cutter_worn": {"grind_line": -0.0821, "land": 0.01008},
                    }
                    for side in "AB"
                ],
            }
        ],
        "plunges": [
            {
                "bevel": "edge", "number": 1, "side": "B", "radius_wanted": 6.0,
                "radius": {"least": 6.0027, "most": 6.0275},
            }
        ],
        "tip": {"thickness": [{"behind": 1.0, "measured": 0.4896}, {"behind": 3.0, "measured": None}]},
    }  # fmt: skip
    assert list(measure_lines(measures)) == [
        "land of bevel edge: 0.2999 to 0.3031 mm (ordered 0.300)",
        "  0.270 to 0.303 mm with plate thickness, taper and side B's Z zero at their worst",
        "  sides A and B mirror each other within 0.01 um",
        "bevel edge, per 10 um of error:",
        "  Z set too low moves the grind line 81 um away from the edge and thins the land by 10.0 um",
        "  a cutter too thick moves the grind line 5 um away from the edge and thins the land by 0.6 um",
        "  a worn cutter moves the grind line 82 um toward the edge and thickens the land by 10.1 um",
        "plunge 1 of bevel edge, side B: radius 6.00 to 6.03 mm (ordered 6.00)",
        "thickness behind the tip: 0.49 mm at 1 mm, unknown at 3 mm",
    ]


def test_a_bore_that_one_side_opens_wider_is_told_from_both():
    row = {"name": "pin", "wanted": 5.0, "diameter_a": 5.0, "diameter_b": 5.04}
    told = [row, row | {"diameter_b": 5.0}, row | {"diameter_a": None}, row | {"diameter_b": None}]
    assert list(measure_lines({"bores": told})) == [
        "bore pin: 5.0000 mm on side A, 5.0400 mm on side B (ordered 5.0000)",
        "bore pin: 5.0000 mm (ordered 5.0000)",
        "bore pin: 5.0400 mm (ordered 5.0000)",
        "bore pin: 5.0000 mm (ordered 5.0000)",
    ]


def test_the_outline_is_told_with_its_size_and_its_layers():
    assert outline_line(replace(ORDER, outline_layers=("BACK", "EDGE"))).endswith(
        " mm, from layers 'BACK' and 'EDGE'"
    )
    field = load_order("examples/field-knife-230x32.toml")
    assert outline_line(field) == "outline: 230.00 x 32.00 mm, from layer 'PROFILE'"


def test_every_file_written_is_listed():
    written = ("verdict.json", "side-a.nc", "offsets.nc", "plate.png", "sections.png")
    assert list(file_lines(Path("out"), written, proved=True)) == [
        "programs: out/side-a.nc, out/offsets.nc",
        "verdict:  out/verdict.json",
        "pictures: out/plate.png, out/sections.png",
    ]
    told = list(file_lines(Path("out"), ("verdict.json", "not-proved-a.nc"), proved=False))
    assert told[:2] == [
        "programs: not proved, marked as such",
        "programs: out/not-proved-a.nc",
    ]
    (told, _) = file_lines(Path("out"), ("verdict.json",), proved=False)
    assert told == "programs: not proved, so not written; --unproved writes them"


def test_edge_breaks_of_many_slots_and_of_both_sides_share_a_line():
    width = {"least": 0.2, "mean": 0.2, "most": 0.2}
    rows = [
        {"name": "E2", "of": f"P1-{k}", "side": side, "wanted": 0.2, "width": width}
        for k in range(1, 19)
        for side in "AB"
    ]
    assert list(measure_lines({"edge_breaks": rows})) == [
        "edge break E2 of P1-1, P1-2, P1-3 and 15 more, sides A and B: 0.200 mm wide (ordered 0.200)"
    ]
