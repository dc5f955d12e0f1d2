"""What `explain` says of each line."""

import numpy as np
import pytest

from knifecam.report.explain import explain, explained_lines, to_part_frame
from knifecam.shop import Mill, Plate, Setup
from knifecam.sweep.side_program import stored_of


def test_each_line_and_what_it_did():
    text = "G21 G90 (hello)\nG0 Z5\nG0 X7 Y7\n\nG2 X10 Y16 I3 J4 Z6 F150 M3\nG91 G20 X1\nM2\n"
    text = text.replace("G91 G20 X1", "G1 G91 G20 X1")
    assert list(explain(text)) == [
        "     1  G21 G90 (hello)",
        "          comment: hello",
        "     2  G0 Z5",
        "          rapid from X? Y? Z? to X? Y? Z5.0000",
        "          now motion G0",
        "     3  G0 X7 Y7",
        "          rapid from X? Y? Z5.0000 to X7.0000 Y7.0000 Z5.0000",
        "     4",
        "     5  G2 X10 Y16 I3 J4 Z6 F150 M3",
        "          spindle clockwise",
        "          clockwise helix from X7.0000 Y7.0000 Z5.0000 to X10.0000 Y16.0000 Z6.0000 about "
        "X10.0000 Y11.0000, radius 5.0000 mm, 143.130 degrees, 12.5304 mm at 150.0 mm/min",
        "          now motion G2, feed 150",
        "     6  G1 G91 G20 X1",
        "          straight from X10.0000 Y16.0000 Z6.0000 to X35.4000 Y16.0000 Z6.0000, "
        "25.4000 mm at 3810.0 mm/min",
        "          now motion G1, units inches, distance incremental",
        "     7  M2",
        "          ends (M2)",
        "          now distance absolute",
    ]


def test_acts_in_plain_words():
    text = "\n".join((
        "%", "T2 M6", "G43 H2", "G49", "G59.3", "G61.1", "M8", "M9", "M49", "G4 P0.5",
        "G10 L2 P2 X1", "G10 L2 P3", "G0 X4", "G92 X7", "G0 X1 M0", "%",
    ))  # fmt: skip
    rows = {row.line: row.did for row in explained_lines(text)}
    assert rows == {
        2: ("changes to cutter 2",),
        3: ("length offset H2",),
        4: ("no length offset",),
        5: ("work offset G59.3",),
        6: ("path mode G61.1",),
        7: ("coolant flood on",),
        8: ("coolant off",),
        9: ("overrides off",),
        10: ("waits 0.5 s",),
        11: ("sets the zero of work offset 2 to X1.0000",),
        12: ("sets the zero of work offset 3 to what it was",),
        13: ("rapid from X? Y? Z? to X4.0000 Y? Z?",),
        14: ("G92: shift is now X-3.0000 Y+0.0000 Z+0.0000",),
        15: ("rapid from X4.0000 Y? Z? to X-2.0000 Y? Z?", "stops (M0)"),
        16: ("ends",),
    }


def test_places_in_the_part():
    def turned(places):
        return places * np.array([1.0, -1.0, -1.0])

    words = list(explain("G0 X1 Y2 Z3\nM2", to_part=turned))
    assert words[1].endswith("to X1.0000 Y2.0000 Z3.0000 (part X1.0000 Y-2.0000 Z-3.0000)")


def test_a_refused_line_is_the_last():
    rows = list(explained_lines("G0 X1\nG1 X2\nG0 X3\nM2"))
    assert [row.line for row in rows] == [1, 2]
    assert rows[1].text == "G1 X2"
    assert rows[1].refused == "G1 at feed F=0: set F greater than 0 first"
    assert list(explain("G0 X1\n"))[-1].startswith("          refused: the text must end with M2")


@pytest.mark.parametrize(
    ("side", "place"),
    [
        # Z0 is A's upper face, 1.5 above the middle; and B's fixture, 1.5 below it, turned about X
        ("A", "(part X1.0000 Y2.0000 Z5.5000)"),
        ("B", "(part X1.0000 Y-2.0000 Z-2.5000)"),
    ],
)
def test_places_of_both_sides_in_the_part(side, place):
    plate = Plate(length=100, width=50, thickness=3, corner=(0, 0))
    setup = Setup(plate=plate, mill=Mill(), datum=((0, 0), (0, 0)))
    words = list(explain("G0 Z4\nX1 Y2\nM2", stored_of(setup), to_part=to_part_frame(setup, side)))
    assert words[1].endswith("to X? Y? Z4.0000")
    assert words[4].endswith(f"to X1.0000 Y2.0000 Z4.0000 {place}")


def test_modes_of_return_and_compensation_are_told():
    words = list(explain("G99 G41 D0\nG98 G40\nM2"))
    assert words[1].strip() == "now return to R, compensation left by 0.0000 mm"
    assert words[3].strip() == "now return to the starting height, compensation off"


def test_a_long_row_of_motions_is_shortened():
    text = "G21 G90 F100 G54 G49\nG0 X0 Y0 Z9\nG91 G81 X1 Z-1 R-5 L50\nM2"
    row = next(r for r in explained_lines(text) if r.line == 3)
    assert len(row.did) == 25
    assert row.did[12] == "(176 more like these)"
