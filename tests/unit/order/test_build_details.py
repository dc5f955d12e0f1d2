"""Slots by figures, patterns, jimping, edge breaks and necks, read from orders."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import ezdxf
import numpy as np
import pytest
import shapely

from knifecam.blade import Bevel, Blade
from knifecam.curve import Stretch, circle, place_at, rectangle
from knifecam.errors import OrderError
from knifecam.order import load_order, order_from_text
from knifecam.order.build_details import flat_stretches
from knifecam.rules.rule_passes import feasible
from knifecam.shop.tab_neck import neck_of

CHAMFER = """
[[cutters]]
number = 5
kind = "chamfer"
diameter = 6
"""


def read(text: str, parts: SimpleNamespace) -> object:
    return order_from_text(text, folder=".", drawing=parts)


def polygon(curve) -> shapely.Polygon:
    return shapely.Polygon(curve.points(0.0005))


def test_a_slot_by_figures_is_a_straight_one_with_round_ends(
    sound: str, draw: Callable[..., SimpleNamespace]
) -> None:
    text = (
        sound
        + '[[slots]]\nname = "lanyard"\ncentre = [100, 12]\nlength = 9\nwidth = 4\nangle = 90\n'
    )
    (slot,) = read(text, draw(slots=())).blade.slots
    assert slot.name == "lanyard"
    assert slot.outline.bounds == pytest.approx((98.0, 7.5, 102.0, 16.5))
    assert slot.outline.area == pytest.approx(5.0 * 4.0 + math.pi * 4.0)


def test_slots_count_on_after_the_drawn_ones(sound: str, parts: SimpleNamespace) -> None:
    text = sound + "[[slots]]\ncentre = [100, 12]\nlength = 9\nwidth = 4\n"
    assert [s.name for s in read(text, parts).blade.slots] == ["S1", "S2"]


ROWS = """
[[patterns]]
diameter = 4
region = [[10, 4], [100, 4], [100, 20], [10, 20]]
pitch = 6
"""


def test_round_cells_in_rows_are_bores(sound: str, draw: Callable[..., SimpleNamespace]) -> None:
    """A region of 90 x 16 holds 15 x 3 cells of 4 mm at a pitch of 6."""
    order = read(sound + ROWS, draw(slots=(), bores=()))
    assert len(order.blade.bores) == 45
    assert [b.name for b in order.blade.bores[:2]] == ["P1-01", "P1-02"]
    x = sorted({round(b.centre[0], 6) for b in order.blade.bores})
    y = sorted({round(b.centre[1], 6) for b in order.blade.bores})
    assert np.diff(x) == pytest.approx(np.full(14, 6.0))
    assert y == pytest.approx([6.0, 12.0, 18.0])
    assert any("cells = 45" in str(one) for one in order.assumed)


def test_staggered_rows_keep_the_pitch_between_all_neighbours(
    sound: str, draw: Callable[..., SimpleNamespace]
) -> None:
    order = read(sound + ROWS + "staggered = true\n", draw(slots=(), bores=()))
    at = np.array([b.centre for b in order.blade.bores])
    apart = np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1)) + np.eye(len(at)) * 99
    assert len(set(at[:, 1].round(6))) == 3
    assert apart.min(axis=1) == pytest.approx(np.full(len(at), 6.0))


def test_cells_that_break_margin_or_web_are_left_out_and_counted(
    sound: str, parts: SimpleNamespace
) -> None:
    """Bores of 5 mm stand at (10, 12) and (50, 12), a slot at 25..35 x 8..16."""
    region = "region = [[0, 0], [140, 0], [140, 24], [0, 24]]\n"
    text = sound + f"[[patterns]]\ndiameter = 3\n{region}pitch = 5\nmargin = 2.5\nweb = 1.8\n"
    order = read(text, parts)
    blade = order.blade
    cells = [polygon(circle(b.centre, b.diameter)) for b in blade.bores if b.name[0] == "P"]
    others = [polygon(circle(b.centre, b.diameter)) for b in blade.bores if b.name[0] != "P"]
    others += [polygon(s.outline) for s in blade.slots]
    rim = polygon(blade.outline).exterior
    for cell in cells:
        assert cell.distance(rim) >= 2.5 - 1e-3
        assert min(cell.distance(o) for o in (*cells, *others) if o is not cell) >= 1.8 - 1e-3
    (line,) = [str(x) for x in order.assumed if "cells = " in str(x)]
    counted = [int(x) for x in line.replace(",", " ").replace("(", " ").split() if x.isdigit()]
    assert counted[0] == len(cells)
    # floor((140 - 3) / 5) + 1 columns, floor((24 - 3) / 5) + 1 rows: 28 x 5 whole cells
    assert sum(counted) == 28 * 5
    assert min(counted) > 0


def test_cells_follow_a_curve_and_turn_with_it(
    sound: str, draw: Callable[..., SimpleNamespace]
) -> None:
    text = sound + (
        "[[patterns]]\nlength = 5\nwidth = 2.5\nangle = 90\nalong = [[20, 12], [80, 12]]\npitch = 5\n"
    )
    slots = read(text, draw(slots=(), bores=())).blade.slots
    assert len(slots) == 13  # 60 / 5 + 1
    low_x, low_y, high_x, high_y = slots[0].outline.bounds
    assert (high_x - low_x, high_y - low_y) == pytest.approx((2.5, 5.0))
    assert (low_x + high_x) / 2 == pytest.approx(20.0)


@pytest.mark.parametrize(
    ("keys", "rule"),
    [
        ("diameter = 4\nwidth = 2\nregion = [[0,0],[9,0],[9,9]]\npitch = 6", "give the cell once"),
        ("diameter = 4\npitch = 6", "give one of region and along"),
        ("length = 2\nwidth = 3\nalong = [[0,0],[9,0]]\npitch = 6", "must be less than length"),
        ("diameter = 4\nregion = [[0,0],[3,0],[3,3]]\npitch = 6", "no cell is left"),
        ('cell = "STAR"\nregion = [[0,0],[9,0],[9,9]]\npitch = 6', "exactly one curve; it has 0"),
        ("diameter = 4\nrows = 2\nregion = [[10,4],[99,4],[99,20]]\npitch = 6", "rows goes with along"),
    ],
)  # fmt: skip
def test_patterns_that_contradict_themselves(
    keys: str, rule: str, sound: str, refused: Callable[..., tuple[str, ...]],
    draw: Callable[..., SimpleNamespace],
) -> None:  # fmt: skip
    lines = refused(sound + "[[patterns]]\n" + keys + "\n", draw(slots=(), bores=()))
    assert any("patterns[1]" in line and rule in line for line in lines), lines


def test_drawn_cells_fill_a_drawn_region(tmp_path: Path, sound: str) -> None:
    """Triangles of 6 mm in a region of their own layer; neither layer is cut as drawn."""
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = 4
    space = document.modelspace()
    layer = {"layer": "PROFILE"}
    space.add_lwpolyline([(0, 0), (140, 0), (140, 24), (0, 24)], close=True, dxfattribs=layer)
    corners = [(200, 0), (206, 0), (203, 5)]
    space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "Cell"})
    region = [(20, 4), (90, 4), (90, 20), (20, 20)]
    space.add_lwpolyline(region, close=True, dxfattribs={"layer": "REGION"})
    document.saveas(tmp_path / "knife.dxf")
    text = (
        sound
        + '[drawing]\nfile = "knife.dxf"\noutline = "PROFILE"\n'
        + ('[[patterns]]\ncell = "CELL"\nregion = "region"\npitch = 8.5\n')
    )
    (tmp_path / "knife.toml").write_text(text)
    slots = load_order(tmp_path / "knife.toml").blade.slots
    assert len(slots) >= 8
    for slot in slots:
        assert slot.outline.area == pytest.approx(15.0)
        assert polygon(slot.outline).within(shapely.box(20, 4, 90, 20).buffer(1e-6))


def test_jimping_is_fitted_to_its_stretch(sound: str, parts: SimpleNamespace) -> None:
    text = sound + "[[jimping]]\nstretch = [[100, 24], [70, 24]]\n"
    order = read(text, parts)
    (row,) = order.blade.jimping
    assert (row.name, row.diameter, row.depth) == ("J1", 2.5, 0.45)
    x = np.array([c[0] for c in row.centres])
    half = math.sqrt(0.45 * 2.05)
    assert (x.min(), x.max()) == pytest.approx((70 + half, 100 - half))
    assert [c.stage for c in order.cutting if c.cutter == 2].count("notch") == 1
    assert any("jimping[1]: notches = 11" in str(one) for one in order.assumed)


def test_jimping_without_a_cutter_that_fits_is_refused(
    sound: str, refused: Callable[..., tuple[str, ...]]
) -> None:
    thick = sound.replace("diameter = 2.0", "diameter = 3.0")
    text = thick + "[[jimping]]\nstretch = [[100, 24], [70, 24]]\n"
    assert any('no cutter serves stage "notch"' in line for line in refused(text))


def test_edge_breaks_go_round_outline_bores_and_slots_of_both_sides(
    sound: str, parts: SimpleNamespace
) -> None:
    text = sound + CHAMFER + '[[edge_breaks]]\nof = ["outline", "bores", "S1"]\nwidth = 0.25\n'
    order = read(text, parts)
    found = {(b.of, b.side) for b in order.blade.breaks}
    assert found == {(of, s) for of in ("outline", "bore-1", "bore-2", "S1") for s in "AB"}
    assert {b.width for b in order.blade.breaks} == {0.25}
    assert {b.angle for b in order.blade.breaks} == {math.pi / 4}
    (entry,) = order.cuttings("break")
    mill = order.cutter(entry.cutter)
    assert (mill.kind, mill.tip, mill.half_angle) == ("chamfer", 0.3, math.pi / 4)
    # 85 m/min where it meets the metal: 0.3 + 2 (0.3 + 0.35) = 1.6 mm
    assert entry.spindle == math.floor(85e3 / (math.pi * 1.6))


def test_wide_breaks_are_proposed_a_deeper_meeting_plane(
    sound: str, parts: SimpleNamespace
) -> None:
    """0.5 + 0.3 + 0.05 + 0.02 less half the overlap of 0.5: 0.62 mm; 0.3 wide stays at 0.6."""
    wide = read(sound + CHAMFER + "[[edge_breaks]]\nwidth = 0.5\n", parts)
    assert wide.trench.overlap == pytest.approx(0.5)
    assert wide.trench.depth_a == pytest.approx(0.62)
    assert not any("order outline.depth_a" in line for line in feasible(wide))
    usual = read(sound + CHAMFER + "[[edge_breaks]]\nwidth = 0.3\n", parts)
    assert usual.trench.depth_a == pytest.approx(0.6)


def test_breaks_of_the_outline_end_before_jimping_where_the_order_does_not_say(
    sound: str, parts: SimpleNamespace
) -> None:
    """Jimping from x = 100 to 70 on the upper edge: the break runs from 69.5 round to 100.5."""
    text = sound + CHAMFER + "[[jimping]]\nstretch = [[100, 24], [70, 24]]\n[[edge_breaks]]\n"
    blade = read(text, parts).blade
    for one in blade.breaks:
        (stretch,) = one.stretches
        ends = place_at(blade.outline, [stretch.start, stretch.end])[0]
        assert ends == pytest.approx(np.array([[69.5, 24.0], [100.5, 24.0]]), abs=0.051)


def test_breaks_of_the_outline_stay_off_a_chisel_edge_on_both_sides() -> None:
    """Ground on A alone, edge in B's face: B's default break keeps the land of 0.3 mm too."""
    edge = Stretch(start=0, end=100)
    bevel = Bevel(name="V", edge=edge, sides="A", angle=0.2, land=0.3, edge_at=-0.85)
    blade = Blade(outline=rectangle(0, 0, 100, 30), thickness=2.0, bevels=(bevel,))
    for side in "AB":
        (kept,) = flat_stretches(blade, side, 0.2)
        assert not kept.holds(np.linspace(0, 100, 101), blade.outline.length).any()
        assert kept.holds(np.linspace(115, 215, 101), blade.outline.length).all()


def test_a_pattern_is_broken_by_its_name(sound: str, draw: Callable[..., SimpleNamespace]) -> None:
    text = sound + CHAMFER + ROWS + '[[edge_breaks]]\nof = "P1"\nside = "A"\n'
    assert len(read(text, draw(slots=(), bores=())).blade.breaks) == 45


def test_breaks_of_bores_that_are_not_there_are_refused(
    sound: str, draw: Callable[..., SimpleNamespace]
) -> None:
    text = sound + CHAMFER + '[[edge_breaks]]\nof = "slots"\n'
    with pytest.raises(OrderError) as error:
        read(text, draw(slots=(), bores=()))
    assert error.value.lines[0].startswith('edge_breaks[1].of="slots": the blade has none; name')


@pytest.mark.parametrize(
    ("keys", "rule"),
    [
        ('of = "S9"', 'edge_breaks[1].of="S9" is no bore, slot or pattern'),
        ("angle = 30", 'no cutter serves stage "break"'),
        ("stretches = [[5, 5]]", "begins where it ends"),
    ],
)
def test_edge_breaks_that_cannot_be(
    keys: str, rule: str, sound: str, refused: Callable[..., tuple[str, ...]]
) -> None:
    lines = refused(sound + CHAMFER + "[[edge_breaks]]\n" + keys + "\n")
    assert any(rule in line for line in lines), lines


@pytest.mark.parametrize(
    ("keys", "rule"),
    [
        ("tip = 7", "cutters[3].tip=7 mm must be less than diameter=6 mm"),
        ("flute_length = 2", "cutters[3].flute_length=2 mm must be at least the cone's height"),
        ("corner = 0.2", "cutters[3].corner=0.2 mm must be 0 for a chamfer mill"),
    ],
)
def test_chamfer_mills_that_cannot_be(
    keys: str, rule: str, sound: str, refused: Callable[..., tuple[str, ...]]
) -> None:
    assert any(rule in line for line in refused(sound + CHAMFER + keys + "\n"))


def test_other_mills_have_no_tip(sound: str, refused: Callable[..., tuple[str, ...]]) -> None:
    assert any("those of a chamfer mill" in line for line in refused(sound + "tip = 0.1\n"))


def test_necks_want_a_thin_cutter_and_less_than_the_tab(
    sound: str, parts: SimpleNamespace, refused: Callable[..., tuple[str, ...]]
) -> None:
    text = sound + '[[cutters]]\nnumber = 6\nkind = "flat"\ndiameter = 1\n[tabs]\nneck = 0.2\n'
    order = read(text, parts)
    assert order.tabs.neck == 0.2
    assert [c.cutter for c in order.cuttings("neck")] == [6]
    assert any('stage "neck"' in line for line in refused(sound + "[tabs]\nneck = 0.2\n"))
    for neck in (0.62, 0.7):  # the tab is 0.6 mm thick
        thick = text.replace("neck = 0.2", f"neck = {neck}")
        assert any(f"tabs.neck={neck} mm must be less" in line for line in refused(thick))


def test_necked_tabs_are_proposed_wide_enough_to_snap_at_the_wall(
    sound: str, parts: SimpleNamespace
) -> None:
    """A corner of 0.1 mm snaps less readily than a sharp one, and wants a wider neck and tab."""
    sound = sound.replace(
        "corner = 0.2", "corner = 0.1"
    )  # or the tab is thicker, and snaps earlier
    small = '[[cutters]]\nnumber = 6\nkind = "bull-nose"\ndiameter = 1\ncorner = 0.1\n'
    order = read(sound + small + "[tabs]\nneck = 0.2\n", parts)
    assert order.tabs.waist == neck_of(order).waist > 1.5
    assert any("so that it snaps at its neck" in str(one) for one in order.assumed)
    sharp = small.replace("bull-nose", "flat").replace("corner = 0.1\n", "")
    assert read(sound + sharp + "[tabs]\nneck = 0.2\n", parts).tabs.waist == 1.5


def test_the_digest_of_an_order_silent_about_details(sound: str, parts: SimpleNamespace) -> None:
    """It stays what it is whatever keys orders may have later."""
    assert read(sound, parts).digest == DIGEST
    assert read(sound + "[tabs]\nneck = 0.0\n", parts).digest != DIGEST


DIGEST = "e7526c34a32c196e"


def test_slots_are_not_named_twice(sound: str, refused: Callable[..., tuple[str, ...]]) -> None:
    text = sound + '[[slots]]\nname = "bore-1"\ncentre = [100, 12]\nlength = 9\nwidth = 4\n'
    assert any('"bore-1" stands twice' in line for line in refused(text))
