"""Orders that are sound: what they become, and what was assumed."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest

from knifecam.blade import Blade, Bore, Slot, Steel
from knifecam.curve import Stretch, place_at, polyline, rectangle
from knifecam.errors import OrderError
from knifecam.order import order_from_text
from knifecam.order.drawing_source import from_parts
from knifecam.order.read_order import order_digest
from knifecam.order.toml_text import OrderNotes, parsed, read_sections
from knifecam.rules.rule_passes import contradictions
from knifecam.shop import (
    Boring,
    Clamp,
    Cutter,
    Cutting,
    MeasuredBore,
    Mill,
    Order,
    Plate,
    Registration,
    Setup,
    Tabs,
    Trench,
    Workholding,
)

FULL = """\
name = "Full"
[blade]
thickness = 3.02
steel = "O1"
hardness = 61
[bores]
fitted = ["bore-1"]
both_sides = [5.0]
opening = "relieved"
undersize = 0.06
through = 0.4
spring_passes = 2
[plate]
length = 200
width = 60
thickness = [[10, 10, 3.0], [190, 10, 3.01], [190, 50, 3.0], [10, 50, 3.01]]
corner = [-30, -18]
datum_a = "lower-left"
datum_b = [-30, 42]
z_zero_a = "fixture"
z_zero_b = "fixture"
[mill]
pace = "usual"
units = "mm"
name = "Little mill"
travel = [300, 200, 150]
travel_from = [0, 0, -5]
machine_zero_a = [50, 40, 80]
machine_zero_b = [50, 60, 80]
spindle_low = 2000
spindle_high = "18000 rpm"
feed_high = 2000
rapid = [4000, 4000, 2000]
acceleration = 300
rapid_height = 6
approach_gap = 0.4
spin_up = 4
change_by_hand = false
change_height = 40
change_place_b = [-20, -30]
coolant_code = "M8"
[[cutters]]
number = 3
kind = "bull-nose"
diameter = 2.98
corner = 0.2
flutes = 3
flute_length = 4
neck = 2.8
reach = 10
cone = 30
shank = 6
stickout = 22
holder = 20
centre_cutting = true
ramp = 1.5
[[cutting]]
cutter = 3
stage = "bore"
spindle = 6000
feed = 180
stepdown = 0.06
stepover = 0.9
allowance = 0
life = 50
[[cutting]]
cutter = 3
stage = "fit"
surface_speed = 80
feed_per_tooth = 0.01
allowance = 0
life = 50
[[cutting]]
cutter = 3
stage = "slot"
spindle = 6000
feed = 180
stepdown = 0.06
stepover = 0.9
allowance = 0.05
life = 50
[[cutting]]
cutter = 3
stage = "rough"
spindle = 6000
feed = 180
stepdown = 0.06
stepover = 0.9
allowance = 0.05
life = 50
[[cutting]]
cutter = 3
stage = "finish"
spindle = 8000
feed = 240
allowance = 0
life = 50
[[cutting]]
cutter = 3
stage = "finish"
steel = "another steel"
[tabs]
stations = [20, [100, 24]]
waist = 1.6
thickness = 0.35
ramp_up = 40
ramp_down = 15
[outline]
depth_a = 0.7
overlap = 0.6
width = 4.2
web = 0.15
clearance = 0.03
border = 9
as_milled = [[[30, 0], [60, 0]]]
no_tabs = [[[0, 10], [10, 0]], [300, 10]]
[setup]
flip = "Y"
offsets = ["G56", "G59.3"]
support = "none"
gap_stop = true
gap_height = 12
gauge = 30
gauge_diameter = 4
fixture_allowance = 0.7
[registration]
kind = "bores"
[[registration.bores]]
name = "left"
centre = [-20, 12]
diameter = 6
depth = "through"
fitted = false
[[registration.bores]]
name = "right"
centre = [160, 12]
diameter = 5
depth = 3.005
fitted = true
[[registration.measured]]
bore = "left"
x = 10
y = 30.1
[[registration.measured]]
bore = "right"
x = 190
y = 29.9
[workholding]
kind = "bores"
screws = ["bore-2"]
head_diameter = 8
head_height = 3.5
tip_clamp = true
[[clamps]]
side = "B"
x = [0, 12]
y = [-20, -10]
height = 15
name = "left clamp"
"""


LENGTH = 140 + 10 + math.hypot(14, 14) + 126 + 24
"""mm: the length of the specimen's outline."""


def built(parts: SimpleNamespace) -> Order:
    """The same order as FULL, built in Python."""
    outline = parts.outline
    cutter = Cutter(
        number=3, kind="bull-nose", diameter=2.98, corner=0.2, flutes=3, flute_length=4.0,
        neck=2.8, reach=10.0, cone=math.radians(30), shank=6.0, stickout=22.0, holder=20.0,
        centre_cutting=True, ramp=math.radians(1.5),
    )  # fmt: skip
    common = {"cutter": 3, "life": 50.0}
    rough = common | {"spindle": 6000.0, "feed": 180.0, "stepdown": 0.06, "stepover": 0.9}
    fit = math.floor(80000 / (math.pi * 2.98))
    plate = Plate(
        length=200.0, width=60.0, thickness=3.005, corner=(-30.0, -18.0),
        measured=((-20.0, -8.0, 3.0), (160.0, -8.0, 3.01), (160.0, 32.0, 3.0), (-20.0, 32.0, 3.01)),
    )  # fmt: skip
    return Order(
        name="Full",
        blade=Blade(
            outline=outline,
            thickness=3.005,
            steel=Steel(name="O1", hardness_hrc=61.0),
            bores=(
                Bore(
                    name="bore-1", centre=(10.0, 12.0), diameter=5.0, fitted=True, both_sides=True
                ),
                Bore(name="bore-2", centre=(50.0, 12.0), diameter=5.0, both_sides=True),
            ),
            slots=(Slot(name="S1", outline=rectangle(25, 8, 35, 16)),),
        ),
        setup=Setup(
            plate=plate,
            mill=Mill(
                name="Little mill", travel=(300.0, 200.0, 150.0), travel_from=(0.0, 0.0, -5.0),
                machine_zero=((50.0, 40.0, 80.0), (50.0, 60.0, 80.0)), spindle_low=2000.0,
                spindle_high=18000.0, feed_high=2000.0, rapid=(4000.0, 4000.0, 2000.0),
                acceleration=300.0, rapid_height=6.0, approach_gap=0.4, spin_up=4.0,
                change_by_hand=False, change_height=40.0, change_place=(None, (-20.0, -30.0)),
                coolant_code="M8",
            ),
            flip="Y",
            registration=Registration(
                kind="bores",
                bores=(
                    Bore(name="left", centre=(-20.0, 12.0), diameter=6.0),
                    Bore(
                        name="right", centre=(160.0, 12.0), diameter=5.0, depth=3.005, fitted=True
                    ),
                ),
                measured=(
                    MeasuredBore(bore="left", x=10.0, y=30.1),
                    MeasuredBore(bore="right", x=190.0, y=29.9),
                ),
            ),
            workholding=Workholding(
                kind="bores", screws=("bore-2",), head_diameter=8.0, head_height=3.5, tip_clamp=True
            ),
            datum=((-30.0, -18.0), (-30.0, 42.0)),
            z_zero=("fixture", "fixture"),
            offsets=("G56", "G59.3"),
            clamps=(
                Clamp(
                    side="B", x_low=0.0, y_low=-20.0, x_high=12.0, y_high=-10.0, height=15.0,
                    name="left clamp",
                ),
            ),
            support="none",
            gap_stop=True,
            gap_height=12.0,
            gauge=30,
            gauge_diameter=4.0,
            fixture_allowance=0.7,
        ),
        cutters=(cutter,),
        cutting=(
            Cutting(stage="bore", **rough),
            Cutting(
                stage="fit", spindle=float(fit), feed=round(fit * 3 * 0.01, 1), stepdown=0.3,
                stepover=0.06, **common,
            ),
            Cutting(stage="slot", allowance=0.05, **rough),
            Cutting(stage="rough", allowance=0.05, **rough),
            Cutting(
                stage="finish", spindle=8000.0, feed=240.0, stepdown=4.47, stepover=0.06, **common
            ),
        ),
        tabs=Tabs(
            count=2, stations=(20.0, round(150 + math.hypot(14, 14) + 26, 6)), waist=1.6,
            thickness=0.35, no_tabs=(
                Stretch(start=round(outline.length - 10, 6), end=10.0),
                Stretch(start=300.0, end=10.0),
            ),
            as_milled=(Stretch(start=30.0, end=60.0),), ramp_up=math.radians(40),
            ramp_down=math.radians(15),
        ),
        trench=Trench(depth_a=0.7, overlap=0.6, width=4.2, web=0.15, clearance=0.03, border=9.0),
        boring=Boring(
            opening="relieved", undersize=0.06, through=0.4, spring_passes=2
        ),
    )  # fmt: skip


def test_toml_and_python_make_the_same_order(parts: SimpleNamespace) -> None:
    order = order_from_text(FULL, folder=".", drawing=parts)
    assert replace(order, digest="", assumed=()) == built(parts)


def test_an_order_built_in_python_is_checked_by_the_same_rules(parts: SimpleNamespace) -> None:
    sound = built(parts)
    assert contradictions(sound) == ()
    spoiled = replace(
        sound,
        cutters=sound.cutters * 2,
        tabs=replace(sound.tabs, thickness=3.2),
        setup=replace(sound.setup, offsets=("G54", "G54")),
    )
    lines = contradictions(spoiled)
    assert len(lines) == 3
    with pytest.raises(OrderError, match=r"^Trench.depth_a=nan must be a finite number$"):
        replace(sound.trench, depth_a=math.nan)


def test_an_order_in_inches_is_the_same_order(parts: SimpleNamespace) -> None:
    metric = """\
name = "Inch"
[plate]
length = 203.2
width = 63.5
thickness = [3.175, 3.175, 3.175, 3.175]
[[cutters]]
number = 1
kind = "bull-nose"
diameter = 3.175
corner = 0.254
[[cutting]]
cutter = 1
stage = "rough"
feed = 254
surface_speed = 60.96
feed_per_tooth = {tooth}
[mill]
feed_high = 2540
change_height = 50.8
[setup]
gap_height = 12.7
gauge_diameter = 6.35
[tabs]
waist = 1.524
""".replace("feed = 254\n", "")
    inch = """\
name = "Inch"
units = "in"
[plate]
length = 8
width = 2.5
thickness = [0.125, 0.125, "3.175 mm", 0.125]
[[cutters]]
number = 1
kind = "bull-nose"
diameter = 0.125
corner = 0.010
[[cutting]]
cutter = 1
stage = "rough"
surface_speed = 200
feed_per_tooth = 0.0005
[mill]
feed_high = 100
change_height = 2
[setup]
gap_height = 0.5
gauge_diameter = 0.25
[tabs]
waist = 0.060
"""
    first = order_from_text(metric.format(tooth=0.0127), folder=".", drawing=parts)
    second = order_from_text(inch, folder=".", drawing=parts)
    assert second.units == "in"
    same = {"assumed": first.assumed, "units": "mm", "digest": first.digest}
    assert replace(second, **same) == first
    assert len(second.assumed) == len(first.assumed)
    assert second.digest != first.digest  # what is left open is proposed in other sizes


def test_the_digest_knows_what_is_said_and_not_how(sound: str, parts: SimpleNamespace) -> None:
    first = order_from_text(sound, folder=".", drawing=parts).digest
    same = "# a remark\n" + sound.replace("length = 200", 'length = "20 cm"').replace("\n", "\r\n")
    assert order_from_text(same, folder="/elsewhere", drawing=parts).digest == first
    other = sound.replace("length = 200", "length = 201")
    assert order_from_text(other, folder=".", drawing=parts).digest != first
    assert len(first) == 16
    assert set(first) <= set("0123456789abcdef")


def test_the_digest_knows_no_order_of_keys_and_no_empty_table(
    sound: str, parts: SimpleNamespace
) -> None:
    first = order_from_text(sound, folder=".", drawing=parts).digest
    turned = sound.replace("length = 200\nwidth = 60\n", "width = 60\nlength = 200\n")
    empty = sound + "[mill]\n[registration]\n"
    for same in (turned, empty):
        assert same != sound
        assert order_from_text(same, folder=".", drawing=parts).digest == first


def test_the_digest_knows_the_place_in_a_list(sound: str, parts: SimpleNamespace) -> None:
    """A table that says nothing counts as one of its list."""
    breaks = '[[cutters]]\nnumber = 5\nkind = "chamfer"\ndiameter = 6\n[[edge_breaks]]\n'
    texts = [
        sound,
        sound + breaks,
        sound + breaks + "[[edge_breaks]]\nwidth = 0.4\nof = 'bores'\n",
        sound + breaks + "width = 0.4\nof = 'bores'\n[[edge_breaks]]\n",
    ]
    seen = {order_from_text(text, folder=".", drawing=parts).digest for text in texts}
    assert len(seen) == len(texts)


@pytest.mark.parametrize("table", ["mill", "tabs", "cutters", "registration"])
def test_a_later_silent_key_and_the_name_of_a_class_change_no_digest(
    sound: str, parts: SimpleNamespace, table: str
) -> None:
    text = sound + (
        "[mill]\nrapid_height = 7\n[tabs]\ncount = 5\n"
        '[registration]\nkind = "pins"\nbores = [{name = "P1", centre = [-9, 12], diameter = 5}]\n'
    )
    notes = OrderNotes()
    read = read_sections(parsed(text), notes)
    assert not notes.troubles
    held = getattr(read, table)
    old = held[0] if isinstance(held, tuple) else held

    class Grown(type(old)):  # type: ignore[misc]
        later: float | None = None
        later_too: str = "usual"

    def digest(**later: object) -> str:
        new = Grown.model_construct(**dict(old), **later)
        changed = (new, *held[1:]) if isinstance(held, tuple) else new
        return order_digest(replace(read, **{table: changed}), from_parts(parts))

    first = order_digest(read, from_parts(parts))
    assert digest() == first
    assert digest(later=0.0) != first
    assert digest(later_too="other") != first


def test_the_digest_knows_the_drawing(
    sound: str, parts: SimpleNamespace, draw: Callable[..., SimpleNamespace]
) -> None:
    first = order_from_text(sound, folder=".", drawing=parts).digest
    moved = draw(outline=rectangle(0, 0, 140, 24.001))
    assert order_from_text(sound, folder=".", drawing=moved).digest != first


def test_what_the_order_does_not_say_is_listed(sound: str, parts: SimpleNamespace) -> None:
    order = order_from_text(sound, folder=".", drawing=parts)
    thick = "tabs.thickness = 0.6 mm (three corner radii of 0.2 mm, which thicken its root; common"
    assumed = [str(one) for one in order.assumed]
    assert f"{thick} practice)" in assumed
    sharp = order_from_text(
        sound.replace("corner = 0.2", "corner = 0.1"), folder=".", drawing=parts
    )
    thick = "tabs.thickness = 0.4 mm (by blade thickness 3 mm; common practice)"
    assert thick in [str(one) for one in sharp.assumed]
    assert 'setup.flip = "X" (usual)' in assumed
    assert "plate.corner = [-30 mm, -18 mm] (the blade in the middle of the plate)" in assumed
    said = sound + '[setup]\nflip = "X"\n[tabs]\nthickness = 0.4\n'
    assumed = order_from_text(said, folder=".", drawing=parts).assumed
    assert not any(one.path in ("tabs.thickness", "setup.flip") for one in assumed)
    assert all(str(one).isprintable() for one in assumed)


def test_nothing_is_assumed_where_all_is_said(parts: SimpleNamespace) -> None:
    order = order_from_text(FULL, folder=".", drawing=parts)
    assert [one.path for one in order.assumed] == [
        "blade.lapping",
        "tabs.count",
    ]


def test_a_bore_gets_a_cutter_that_leaves_no_slug(sound: str, parts: SimpleNamespace) -> None:
    order = order_from_text(sound, folder=".", drawing=parts)
    (boring,) = order.cuttings("bore")
    cutter = order.cutter(boring.cutter)
    assert 5.0 / 1.9 <= cutter.diameter <= 5.0 / 1.25  # common practice


def test_a_second_cutter_of_the_same_size_is_kept_for_finishing(parts: SimpleNamespace) -> None:
    text = """\
name = "Two"
[plate]
length = 200
width = 60
thickness = [3.0, 3.0, 3.0, 3.0]
[[cutters]]
number = 4
kind = "flat"
diameter = 3
[[cutters]]
number = 7
kind = "flat"
diameter = 3
"""
    order = order_from_text(text, folder=".", drawing=parts)
    assert [c.cutter for c in order.cuttings("rough")] == [4]
    assert [c.cutter for c in order.cuttings("finish")] == [7]
    assert [c.cutter for c in order.cuttings("bore")] == [4]


def test_points_become_stations(sound: str, parts: SimpleNamespace) -> None:
    text = sound + "[tabs]\nstations = [[70.0, 24.3], [0.0, 12.0]]\n"
    order = order_from_text(text, folder=".", drawing=parts)
    found, _ = place_at(order.blade.outline, order.tabs.stations)
    assert found.ravel() == pytest.approx([70.0, 24.0, 0.0, 12.0], abs=1e-5)
    assert order.tabs.count == 2


@pytest.mark.parametrize(
    ("drawing", "stretch"),
    [
        ({"no_tabs": (polyline([(20, 0.2), (30, 0.2)], closed=False),)}, (20.0, 30.0)),
        ({"no_tabs": (polyline([(30, 0), (20, 0)], closed=False),)}, (20.0, 30.0)),
        ({"no_tab_pairs": [[(30, 0), (20, 0)]]}, (20.0, 30.0)),
        ({"no_tab_pairs": [[(5, 0), (0, 6)]]}, (LENGTH - 6, 5.0)),
        (
            {"no_tabs": (polyline([(0, 4), (0, 0), (140, 0), (140, 9)], closed=False),)},
            (LENGTH - 4, 149.0),
        ),
        (
            {
                "no_tabs": (
                    polyline([(140, 0), (140, 10), (126, 24), (0, 24), (0, 0)], closed=False),
                )
            },
            (140.0, 0.0),
        ),
    ],
)
def test_stretches_of_the_drawing_are_taken(
    sound: str,
    draw: Callable[..., SimpleNamespace],
    drawing: dict[str, object],
    stretch: tuple[float, float],
) -> None:
    (found,) = order_from_text(sound, folder=".", drawing=draw(**drawing)).tabs.no_tabs
    assert found.start % LENGTH == pytest.approx(stretch[0] % LENGTH, abs=2e-6)
    assert (found.end + 1e-5) % LENGTH == pytest.approx(stretch[1] % LENGTH, abs=2e-5)


def test_places_of_the_drawing_are_taken(sound: str, draw: Callable[..., SimpleNamespace]) -> None:
    order = order_from_text(sound, folder=".", drawing=draw(tabs=((70.0, 0.0),)))
    assert order.tabs.stations == (70.0,)
    assert order.tabs.count == 1


def test_pins_are_proposed_unequal_and_far_apart(sound: str, parts: SimpleNamespace) -> None:
    order = order_from_text(sound + '[registration]\nkind = "pins"\n', folder=".", drawing=parts)
    first, second = order.setup.registration.bores
    assert (first.diameter, second.diameter) == (6.0, 5.0)
    assert math.dist(first.centre, second.centre) >= 0.6 * order.setup.plate.length
    assert first.depth == pytest.approx(2.7)
    assert first.fitted
    assert second.fitted
    assert order.setup.datum == (first.centre, first.centre)


@pytest.mark.parametrize(
    ("named", "place"),
    [
        ("lower-left", (-30.0, -18.0)),
        ("lower-right", (170.0, -18.0)),
        ("upper-right", (170.0, 42.0)),
        ("upper-left", (-30.0, 42.0)),
        ("bore-1", (10.0, 12.0)),
    ],
)
def test_a_datum_may_be_named(
    sound: str, parts: SimpleNamespace, named: str, place: tuple[float, float]
) -> None:
    text = sound.replace("[plate]\n", f'[plate]\ndatum_a = "{named}"\n')
    assert order_from_text(text, folder=".", drawing=parts).setup.datum == (place, place)


def test_screws_want_a_tip_tab_beyond_ten_thicknesses(sound: str, parts: SimpleNamespace) -> None:
    near = sound + '[workholding]\nkind = "bores"\nscrews = ["bore-1", "bore-2"]\n'
    assert order_from_text(near, folder=".", drawing=parts).tabs.count == 1
    clamped = near + "tip_clamp = true\n"
    assert order_from_text(clamped, folder=".", drawing=parts).tabs.count == 0


def test_reference_bores_to_be_measured_go_through_into_a_relieved_bed(
    sound: str, parts: SimpleNamespace
) -> None:
    order = order_from_text(sound + '[registration]\nkind = "bores"\n', folder=".", drawing=parts)
    assert [b.depth for b in order.setup.registration.bores] == [None, None]
    assert order.boring.opening == "relieved"
    assert order.setup.fixture_allowance == pytest.approx(order.boring.through + 0.3)


def test_a_relieved_bed_gets_its_allowance(sound: str, parts: SimpleNamespace) -> None:
    order = order_from_text(sound + '[bores]\nopening = "relieved"\n', folder=".", drawing=parts)
    assert order.boring.through == pytest.approx(0.4)  # corner radius 0.2 + 0.2, common practice
    assert order.setup.fixture_allowance >= order.boring.through + 0.3 - 1e-9


def test_importing_knifecam_loads_neither_pydantic_nor_pint() -> None:
    import subprocess
    import sys

    code = (
        "import sys, knifecam, knifecam.shop, knifecam.blade;"
        "print(sorted({'pydantic', 'pint'} & set(sys.modules)))"
    )
    root = Path(__file__).parents[3]
    out = subprocess.run(
        [sys.executable, "-c", code], cwd=root, capture_output=True, text=True, check=True
    )
    assert out.stdout.strip() == "[]"


@pytest.mark.parametrize("said", ['units = "in"\n', '[mill]\nunits = "in"\n'])
def test_an_inch_shop_is_proposed_sizes_it_has(said: str, parts: SimpleNamespace) -> None:
    """2.000 of change height, a block of 0.500, gauge pin and first dowel of 0.250, the second 3/16."""
    text = """\
name = "Inch"
{}[plate]
length = "200 mm"
width = "60 mm"
thickness = ["3 mm", "3 mm", "3 mm", "3 mm"]
[[cutters]]
number = 1
kind = "flat"
diameter = "2 mm"
{}[registration]
kind = "pins"
"""
    top, below = (said, "") if said.startswith("units") else ("", said)
    order = order_from_text(text.format(top, below), folder=".", drawing=parts)
    inches = [
        order.setup.mill.change_height, order.setup.gap_height, order.setup.gauge_diameter,
        *(b.diameter for b in order.setup.registration.bores),
    ]  # fmt: skip
    assert [x / 25.4 for x in inches] == pytest.approx([2.0, 0.5, 0.25, 0.25, 0.1875], abs=1e-12)
    wanted = "setup.gap_height = 0.5 in (usual)" if top else "setup.gap_height = 12.7 mm (usual)"
    assert wanted in [str(one) for one in order.assumed]
    values = [f"{one.path} {one.value}" for one in order.assumed]
    tables = ("mill.", "setup.", "registration.", "tabs.", "outline.", "cutters[")
    assert not top or not any(" mm" in x for x in values if x.startswith(tables))
