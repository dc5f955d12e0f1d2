"""Cutting data: what is read from knifecam's own file and a maker's, and what is refused of one."""

from __future__ import annotations

from pathlib import Path

import pytest

from knifecam.errors import OrderError
from knifecam.order import load_order
from knifecam.shop.cutting_data import ENGAGEMENTS, PACES, VALUES, own_data, usual_data
from knifecam.shop.defaults import stepover_for

EXAMPLES = Path(__file__).parents[3] / "examples"
FIELD = (EXAMPLES / "field-knife-230x32.toml").read_text(encoding="utf-8")
OWN = """\
[[data]]
kind = "slot"
hardness = 60
speed = [40, 50, 60]
chip = [[3, 6], [6, 9]]
depth = [0.02, 0.03, 0.04]
width = 0.3
life = 45
"""


def test_each_kind_has_data_each_figure_a_source_and_paces_rise() -> None:
    data = usual_data()
    for kind in ENGAGEMENTS:
        rows = [row for row in data.rows if row.kind == kind]
        assert [row.hardness for row in rows] == [62.0, 66.0]
        assert set(rows[0].source) >= {"speed", "chip", "depth", "life"}
        marks = ("read: ", "memory", "common practice")
        assert all(text.startswith(marks) for row in rows for text in row.source.values())
    speeds = [usual_data(pace).speed("slot", 60.0) for pace in PACES]
    assert speeds == [50.0, 65.0, 80.0]  # a general catalogue of 2022, p. 1301: 50 to 80 m/min


def test_between_two_hardnesses_figures_are_linear_and_beyond_them_held() -> None:
    """15 % less at 64 HRC than at 62, as much again at 66."""
    speeds = [usual_data().speed("slot", hrc) for hrc in (55.0, 62.0, 64.0, 66.0, 68.0)]
    assert speeds == pytest.approx([65.0, 65.0, 0.85 * 65.0, 0.7 * 65.0, 0.7 * 65.0])


def test_a_chip_grows_with_the_diameter_and_in_proportion_below_the_first() -> None:
    chips = [1000 * usual_data().chip("slot", 60.0, d) for d in (1.0, 2.0, 3.0, 4.5, 6.0, 20.0)]
    assert chips == pytest.approx([2.7, 5.4, 8.0, 9.0, 10.0, 12.0])


def test_a_makers_file_replaces_the_kinds_it_holds() -> None:
    data = own_data(OWN, "own.toml", "first")
    assert data.speed("slot", 64.0) == 40.0
    assert data.chip("slot", 64.0, 4.5) == pytest.approx(0.0075)
    assert (data.depth("slot", 60.0), data.width("slot", 60.0), data.life("slot", 60.0)) == (
        0.02, 0.3, 45.0,
    )  # fmt: skip
    assert data.speed("side", 60.0) == usual_data("first").speed("side", 60.0)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('"slot"', '"slots"', 'data[1]: kind="slots" must be one of slot, helix'),
        ("hardness = 60\n", "", "data[1]: hardness is missing"),
        ("hardness = 60", "hardness = 99", "hardness=99 must be greater than 20 and at most 70"),
        ("[40, 50, 60]", "[40, 60, 50]", "speed=[40, 60, 50] must be three numbers"),
        ("[40, 50, 60]", "[40, 50]", "speed=[40, 50] must be three numbers"),
        ("[40, 50, 60]", "[40, 50, true]", "speed=[40, 50, true] must be three numbers"),
        ("[[3, 6], [6, 9]]", "[[6, 9], [3, 6]]", "must be pairs [diameter in mm, chip in um]"),
        ("[[3, 6], [6, 9]]", "[]", "must be pairs"),
        ("width = 0.3", "width = nan", "width=nan must be greater than 0 and at most 1"),
        ("life = 45", "life = 45\nlives = 4", "lives is no key; known are kind, hardness"),
        ("life = 45", 'life = 45\nsource = "me"', "source must be a table of texts"),
        ("[[data]]", "[[rows]]", 'must hold [[data]] tables and nothing else; take out "rows"'),
        ("[[data]]", "data = 3\n[x]", "must hold [[data]] tables and nothing else"),
        ("life = 45", "life = = 45", "is not TOML"),
        (OWN, OWN + OWN, 'kind "slot" stands twice at 60 HRC'),
    ],
)
def test_what_a_file_cannot_say_is_refused(old: str, new: str, said: str) -> None:
    assert old in OWN
    with pytest.raises(OrderError) as error:
        own_data(OWN.replace(old, new, 1), "own.toml")
    assert any(said in line for line in error.value.lines), error.value.lines
    assert all(line.startswith('cutting_data="own.toml"') for line in error.value.lines)
    assert set(VALUES) == {"speed", "chip", "depth", "width", "life"}


def test_an_order_takes_the_file_beside_it_and_counts_it_in_its_digest(tmp_path: Path) -> None:
    drawing = EXAMPLES / "field-knife-230x32.dxf"
    (tmp_path / drawing.name).write_bytes(drawing.read_bytes())
    path = tmp_path / "knife.toml"
    path.write_text(FIELD + '[mill]\ncutting_data = "own.toml"\n', encoding="utf-8")
    (tmp_path / "own.toml").write_text(OWN, encoding="utf-8")
    order = load_order(path)
    (rough,) = order.cuttings("rough")
    # 0.03 diameters of 2.992 mm; 50 m/min: 5319 rev/min; a chip of 6 um on a corner of 0.15 that a level
    # of 0.089 mm meets to a sine of 0.9137
    assert (rough.stepdown, rough.spindle, rough.life) == (0.089, 5319.0, 45.0)
    assert rough.feed / rough.spindle / 4 == pytest.approx(0.006 / 0.9137, abs=6e-5)
    (tmp_path / "own.toml").write_text(OWN.replace("0.03", "0.035"), encoding="utf-8")
    other = load_order(path)
    assert other.cuttings("rough")[0].stepdown == 0.104
    assert other.digest != order.digest
    (tmp_path / "own.toml").unlink()
    with pytest.raises(
        OrderError, match=r'mill\.cutting_data="own\.toml" cannot be read: no such file'
    ):
        load_order(path)


def test_the_width_of_a_makers_file_is_the_step_aside_that_is_proposed() -> None:
    data = own_data(OWN, "own.toml")
    assert stepover_for("rough", 3.0, data=data) == 0.9
    assert stepover_for("rough", 3.0) == 1.05
    assert stepover_for("bevel-rough", 6.0, data=data) == 2.1
