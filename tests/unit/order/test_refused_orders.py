"""Orders that must be refused: each mistake has its line, and all lines come together."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import pytest

from knifecam.errors import KnifecamError, OrderError
from knifecam.order import load_order, order_from_text

Refusing = Callable[..., tuple[str, ...]]

VALUES = [
    ("length = 200", 'length = "3 s"', 'plate.length="3 s" must be a length such as'),
    ("length = 200", "length = -200", "plate.length=-200 mm must be greater than 0"),
    ("length = 200", "length = nan", "plate.length=nan mm must be a finite number"),
    ("length = 200", "length = inf", "plate.length=inf mm must be a finite number"),
    ("length = 200", "length = true", "plate.length=true must be a number"),
    ("length = 200", 'length = "200,5 mm"', "has a decimal comma; write a point"),
    ("length = 200", "length = 1979-05-27", "plate.length=1979-05-27"),
    ("length = 200\n", "", "plate.length is missing; give size along X (mm (in), such as"),
    ("[3.0, 3.0, 3.0, 3.0]", "3.0", "plate.thickness=3.0 must be four thicknesses"),
    ("[3.0, 3.0, 3.0, 3.0]", "[3.0, 3.0]", "plate.thickness=[3.0, 3.0] must be"),
    ("[3.0, 3.0, 3.0, 3.0]", "[3.0, 3.0, 3.0, -1]", "plate.thickness[4]=-1 mm must be greater"),
    ("[3.0, 3.0, 3.0, 3.0]", "[3.0, 3.0, 3.03, 3.0]", "spread=0.030 mm must be at most 0.02 mm"),
    (
        "[3.0, 3.0, 3.0, 3.0]",
        "[[0, 0, 3.0], [9, 0, 3.0], [9, 9, 3.0], [250, 9, 3.0]]",
        "plate.thickness[4]: the place (250, 9) mm is not on the plate",
    ),
    ("number = 1", "number = 1.5", "cutters[1].number=1.5 must be a whole number, from 1 to 99"),
    ("number = 1", "number = 0", "cutters[1].number=0 must be from 1 to 99"),
    ("number = 1", "number = 2", "cutters[2].number=2 is taken by cutters[1]"),
    (
        '"bull-nose"',
        '"bullnose"',
        'kind="bullnose" must be one of "flat", "bull-nose", "ball", "chamfer"; "bull',
    ),
    (
        '"bull-nose"',
        '"flat"',
        'cutters[1].corner=0.2 mm must be 0 for a flat cutter; write kind="b',
    ),
    (
        '"bull-nose"',
        '"ball"',
        "cutters[1].corner=0.2 mm must be half the diameter for a ball, 1.5 mm",
    ),
    (
        "corner = 0.2\n",
        "",
        "cutters[1].corner is missing; a bull-nose cutter must state its corner",
    ),
    (
        "corner = 0.2",
        "corner = 1.5",
        "must be greater than 0 and less than half the diameter, 1.5 mm",
    ),
    (
        "corner = 0.2",
        "corner = 0.2\nneck = 3.2",
        "cutters[1].neck=3.2 mm must be at most diameter=3 mm",
    ),
    (
        "corner = 0.2",
        "corner = 0.2\nreach = 3\nflute_length = 4",
        "flute_length=4 mm must be at most",
    ),
    (
        "corner = 0.2",
        "corner = 0.2\nreach = 30\nstickout = 25",
        "reach=30 mm must be at most stickout",
    ),
    ('name = "Paring knife"', "", "name is missing; give what is made"),
    ('name = "Paring knife"', 'name = "knife (small)"', "plain ASCII characters, no parentheses"),
    ('name = "Paring knife"', 'name = "Messer ö"', "plain ASCII characters, no parentheses"),
    ('name = "Paring knife"', 'name = "k"\nunits = "cm"', 'units="cm" must be one of "mm", "in"'),
    (
        'name = "Paring knife"',
        'name = "k"\nplates = 3',
        "plates=3 is no key of an order; the nearest",
    ),
    (
        'name = "Paring knife"',
        'name = "k"\ntabs = 4',
        "tabs=4 must be a table of keys; write [tabs]",
    ),
    (
        "[plate]",
        "[blade]\nthickness = 3.5\n[plate]",
        "blade.thickness=3.5 mm must be within 0.05 mm",
    ),
    (
        "length = 200",
        "length = 139",
        "is not within the plate of 139 x 60 mm: 0.50 mm past its left",
    ),
]

ADDED = [
    ("[tabs]\nwiast = 1.5", 'tabs.wiast=1.5 is no key of an order; the nearest is "waist"'),
    ("[tabs]\nwaist = 0", "tabs.waist=0 mm must be greater than 0"),
    (
        "[tabs]\nthickness = 3.5",
        "tabs.thickness=3.5 mm must be less than the blade's thickness, 3 mm",
    ),
    (
        "[tabs]\nstepdown = 0.1",
        "tabs.stepdown=0.1 is no key of an order; it belongs to [[cutting]]",
    ),
    ("[tabs]\nzzz = 0.1", "tabs.zzz=0.1 is no key of an order; known here are count, stations"),
    ("[tabs]\nstations = [5000]", "tabs.stations[1]=5000 mm must be at most the outline's length"),
    (
        "[tabs]\nstations = [[70, 12]]",
        "tabs.stations[1]=[70, 12] mm must lie on the outline within",
    ),
    ("[tabs]\ncount = 3\nstations = [70]", "tabs.count=3 must be the number of places, 1"),
    ("[tabs]\nramp_up = 5", "tabs.ramp_up=5 deg must be at least 10 and at most 60 deg"),
    ("[tabs]\nramp_down = 5", "tabs.ramp_down=5 deg must be at least 10 and at most 25 deg"),
    ("[tabs]\nramp_down = 30", "tabs.ramp_down=30 deg must be at least 10 and at most 25 deg"),
    ("[outline]\nweb = 0.7", "outline.web=0.7 mm must be greater than 0 and at most 0.6 mm"),
    ("[outline]\ndepth_a = 3", "outline.depth_a=3 mm must be less than the blade's"),
    ("[outline]\nno_tabs = [[10, 10]]", "outline.no_tabs[1] begins where it ends"),
    (
        "[outline]\nas_milled = [[10, 20], [30]]",
        "outline.as_milled[2]=[30] must be a list [from, to]",
    ),
    (
        "[bores]\nfitted = [6]",
        'bores.fitted[1]=6.0 mm is no bore of the drawing; there are "bore-1"',
    ),
    ('[bores]\nfitted = ["bore-9"]', 'bores.fitted[1]="bore-9" is no bore of the drawing'),
    (
        "[bores]\nskin = 1.6",
        "bores.skin=1.6 mm must be less than half the blade",
    ),
    (
        '[bores]\nopening = "relieved"\n[setup]\nfixture_allowance = 0.1',
        "setup.fixture_allowance=0.1 mm must be",
    ),
    ('[setup]\nflip = "Z"', 'setup.flip="Z" must be one of "X", "Y"'),
    ('[setup]\nflip = "x"', 'setup.flip="x" must be one of "X", "Y"; "X" is nearest'),
    ('[setup]\noffsets = ["G54", "G54"]', "must be two different ones"),
    ('[setup]\noffsets = ["G54", "G60"]', 'setup.offsets[2]="G60" must be one of "G54"'),
    ("[setup]\ngauge = 1", "setup.gauge=1 is a cutter's number"),
    (
        "[mill]\nspindle_low = 20000\nspindle_high = 10000",
        "mill.spindle_low=20000 rev/min must be at",
    ),
    ('[mill]\nspindle_high = "120 m/min"', "a surface speed belongs to surface_speed"),
    ('[mill]\ncoolant_code = "M9"', 'mill.coolant_code="M9" must be one of "M7", "M8"'),
    ("[mill]\nrapid_height = 1", "mill.rapid_height=1 mm must be at least 5"),
    ('[[cutting]]\ncutter = 7\nstage = "bore"', "cutting[1].cutter=7 is not among the order's cut"),
    (
        '[[cutting]]\ncutter = 1\nstage = "boring"',
        'cutting[1].stage="boring" must be one of "bore"',
    ),
    ("[[cutting]]\ncutter = 1", "cutting[1].stage is missing"),
    ("[cutting]\ncutter = 1", "cutting={..} must be a list of tables; write [[cutting]]"),
    (
        '[[cutting]]\ncutter = 1\nstage = "bore"\nspindle = 30000',
        'cutting of cutter 1 in stage "bore": spindle=30000 rev/min must be within the mill\'s range',
    ),
    (
        '[[cutting]]\ncutter = 1\nstage = "bore"\nfeed = 5000',
        "feed=5000 mm/min must be at most the mill's feed_high=3000",
    ),
    (
        '[[cutting]]\ncutter = 1\nstage = "bore"\nsurface_speed = 300',
        "cutting[1].surface_speed=300 m/min wants 31830 rev/min of cutter 1; the mill turns 1000",
    ),
    (
        '[[cutting]]\ncutter = 1\nstage = "bore"\nspindle = "120 m/min"',
        'cutting[1].spindle="120 m/min" must be a spindle speed such as',
    ),
    (
        '[[cutting]]\ncutter = 1\nstage = "bore"\nspindle = 6000\nsurface_speed = 60',
        "cutting[1]: spindle and surface_speed say the same thing twice",
    ),
    (
        '[[cutting]]\ncutter = 1\nstage = "bore"\nfeed = 60\nfeed_per_tooth = 0.01',
        "cutting[1]: feed and feed_per_tooth say the same thing twice",
    ),
    (
        '[[cutting]]\ncutter = 1\nstage = "bore"\n' * 2,
        'cutting of cutter 1 in stage "bore" stands twice',
    ),
    ('[workholding]\nkind = "glue"', 'workholding.kind="glue" must be one of "tabs", "bores"'),
    (
        '[workholding]\nkind = "bores"',
        "workholding.screws is empty; name the bores that take screws",
    ),
    (
        '[workholding]\nkind = "bores"\nscrews = ["bore-7"]',
        'workholding.screws[1]="bore-7" is no bore of the bla',
    ),
    (
        '[workholding]\nkind = "bores"\nscrews = ["bore-1"]\nhead_diameter = 4',
        'workholding.head_diameter=4 mm must be greater than bore "bore-1", 5 mm',
    ),
    (
        '[[clamps]]\nside = "A"\nx = [5, 5]\ny = [0, 9]\nheight = 9',
        "clamps[1].x=[5, 5] mm is emp",
    ),
    (
        '[[clamps]]\nside = "C"\nx = [5, 6]\ny = [0, 9]\nheight = 9',
        'clamps[1].side="C" must be',
    ),
    ('[[clamps]]\nside = "A"\nx = [5, 6]\nheight = 9', "clamps[1].y is missing"),
    (
        '[[registration.bores]]\nname = "p"\ncentre = [-20, 12]\ndiameter = "6 s"',
        'registration.bores[1].diameter="6 s" must be a length',
    ),
    (
        '[registration]\nmeasured = [{ bore = "p", x = 1, y = 2 }]',
        'registration.measured[1].bore="p" is no reference bore; known are none',
    ),
    ("[plate.more]\nx = 1", "plate.more={..} is no key of an order"),
]


@pytest.mark.parametrize(("old", "new", "line"), VALUES, ids=[v[2][:40] for v in VALUES])
def test_a_wrong_value_is_refused(
    sound: str, refused: Refusing, old: str, new: str, line: str
) -> None:
    assert old in sound
    lines = refused(sound.replace(old, new, 1))
    assert len(lines) == 1, lines
    assert line in lines[0]


@pytest.mark.parametrize(("more", "line"), ADDED, ids=[a[1][:40] for a in ADDED])
def test_a_wrong_table_is_refused(sound: str, refused: Refusing, more: str, line: str) -> None:
    lines = refused(sound + more)
    assert any(line in one for one in lines), lines
    assert all(one == one.rstrip(".\n") and "\n" not in one for one in lines)


PINS = """
[registration]
kind = "{kind}"
[[registration.bores]]
name = "left"
centre = [-20, 12]
diameter = {first}
[[registration.bores]]
name = "right"
centre = [{x}, {y}]
diameter = {second}
"""


def pins(
    kind: str = "pins", first: float = 6, second: float = 5, x: float = 160, y: float = 12
) -> str:
    return PINS.format(kind=kind, first=first, second=second, x=x, y=y)


THIRD = '[[registration.bores]]\nname = "third"\ncentre = [{x}, {y}]\ndiameter = 6\n'


@pytest.mark.parametrize(
    ("more", "line"),
    [
        (pins(second=6), "the plate seats on these pins turned by 180 deg too"),
        (pins(second=5.9), "the plate seats on these pins turned by 180 deg too"),
        (pins(second=6) + THIRD.format(x=70, y=-12), ""),
        (pins(), ""),
        (pins(x=175), "must lie within the plate; it passes its edge"),
        (pins(x=145), "must stand outside the trench, its middle 6.40 mm or more from the outline"),
        (pins(x=100), "it is 0.00 mm outside it"),
        (pins(x=-18), '"left" and "right" run into each other'),
        (pins(kind="bores"), ""),
    ],
    ids=str,
)
def test_pins_seat_one_way_only_and_in_the_waste(
    sound: str, parts: SimpleNamespace, more: str, line: str
) -> None:
    lines: tuple[str, ...] = ()
    try:
        order_from_text(sound + more, folder=".", drawing=parts)
    except OrderError as error:
        lines = error.lines
    assert bool(line) == bool(lines), lines
    assert not line or any(line in one for one in lines), lines


@pytest.mark.parametrize(
    ("measured", "line"),
    [
        (["left"], "registration.measured: one bore only; measure at least two"),
        (["left", "left"], "registration.measured: one bore only"),
        (
            ["left", "up"],
            'registration.measured[2].bore="up" is no reference bore; known are "left"',
        ),
    ],
)
def test_measured_bores_are_known_and_two(
    sound: str, refused: Refusing, measured: list[str], line: str
) -> None:
    more = "".join(f'[[registration.measured]]\nbore = "{m}"\nx = 1\ny = 2\n' for m in measured)
    lines = refused(sound + pins(kind="bores") + more)
    assert len(lines) == 1
    assert line in lines[0]


def test_one_reference_bore_is_too_few(sound: str, refused: Refusing) -> None:
    one = pins().split('[[registration.bores]]\nname = "right"')[0]
    assert "1 given; registration by pins wants at least two" in refused(sound + one)[0]


def test_all_mistakes_are_reported_together(refused: Refusing) -> None:
    text = """\
name = 3
[plate]
length = "3 s"
width = -60
[[cutters]]
number = 1
kind = "flat"
diameter = 3
corner = 0.5
[[cutters]]
number = 1
kind = "flat"
diameter = nan
[tabs]
waist = 0
wiast = 2
[setup]
offsets = ["G54", "G54"]
[mill]
spindle_low = 9000
spindle_high = 8000
[[clamps]]
side = "A"
x = [9, 1]
y = [0, 1]
height = 5
"""
    lines = refused(text)
    starts = [
        "name=3 must be text",
        'plate.length="3 s"',
        "plate.width=-60 mm",
        "plate.thickness is missing",
        "cutters[2].diameter=nan mm",
        "tabs.waist=0 mm",
        "tabs.wiast=2 is no key",
        "mill.spindle_low=9000 rev/min",
        "clamps[1].x=[9, 1] mm is empty",
    ]
    for start in starts:
        assert sum(line.startswith(start) for line in lines) == 1, (start, lines)
    assert len(lines) == len(starts)


def test_a_missing_stage_names_what_would_do(
    sound: str, refused: Refusing, draw: Callable[..., SimpleNamespace]
) -> None:
    tiny = draw(bores=(SimpleNamespace(name="tiny", centre=(10.0, 12.0), diameter=1.5),))
    (line,) = refused(sound, tiny)
    assert 'no cutter serves stage "bore"' in line
    tight = 'a flat or bull-nose cutter of 1.20 mm or less for bore "tiny" of 1.500 mm'
    assert tight in line


def test_an_empty_order_says_what_it_wants(refused: Refusing) -> None:
    lines = refused("", None)
    assert [line.split(" ")[0] for line in lines] == ["name", "plate", "cutters", "drawing"]
    assert "[[cutters]]" in lines[2]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("name = ", "line 1"),
        ('name = "a"\n[plate\n', "line 2"),
        ('name = "a"\nname = "b"\n', "overwrite"),
        ("x = " + "[" * 5000, "nested too deeply"),
        ("x = " + "9" * 5000, "digits"),
    ],
    ids=["value", "bracket", "twice", "deep", "digits"],
)
def test_text_that_is_not_toml_says_where(text: str, says: str) -> None:
    with pytest.raises(OrderError, match="the order is not TOML") as caught:
        order_from_text(text, folder=".")
    assert says in caught.value.lines[0]


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(OrderError, match="no such file"):
        load_order(tmp_path / "none.toml")
    with pytest.raises(OrderError, match="cannot be read"):
        load_order(tmp_path)
    (tmp_path / "latin.toml").write_bytes(b'name = "caf\xe9"')
    with pytest.raises(OrderError, match="byte 11 is not UTF-8 text"):
        load_order(tmp_path / "latin.toml")


def test_a_drawing_that_is_not_there(tmp_path: Path, sound: str) -> None:
    order = tmp_path / "knife.toml"
    order.write_text(sound + '[drawing]\nfile = "none.dxf"\n')
    with pytest.raises(OrderError) as caught:
        load_order(order)
    (line,) = caught.value.lines
    assert line.startswith('drawing.file="none.dxf"')
    assert "beside the order" in line


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("name = Knife", 'line 1, column 8): name = Knife; write text in quotes, as key = "text"'),
        ('name = "K"\nx = 1,5\n', "(at line 2, column 6): x = 1,5; write a decimal point"),
        ("[plate\n", "column 7): [plate; a table is [name], one of several [[name]]"),
        ("a = 1\na = 2\n", "(at line 2, column 6): a = 2; the key or table stands twice"),
        ("name\n", "column 5): name; every line is key = value, [table] or # a remark"),
        ('name = "a', 'name = "a; close the quotes in the line they begin in'),
        ("  0\nSECTION\n  2\nHEADER\n", "this is a drawing in DXF; give the order"),
    ],
)
def test_text_that_is_no_order_says_file_line_and_what_would_do(
    tmp_path: Path, text: str, says: str
) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(text)
    with pytest.raises(OrderError) as caught:
        load_order(file)
    (line,) = caught.value.lines
    assert line.startswith(f'order="{file}": the order is not TOML')
    assert says in line


def test_a_long_name_keeps_its_closing_quote(sound: str, refused: Refusing) -> None:
    lines = refused(sound.replace("Paring knife", "K" * 100))
    assert lines == (f'name="{"K" * 55}.." must be 1 to 40 plain ASCII characters, no parentheses',)


def test_a_spindle_range_upside_down_is_told_once(sound: str, refused: Refusing) -> None:
    (line,) = refused(sound + "[mill]\nspindle_low = 9000\nspindle_high = 2000\n")
    assert "mill.spindle_low=9000 rev/min must be at most spindle_high=2000 rev/min" in line


@pytest.mark.parametrize("figures", ["angle = 8", "height = 8", 'height = 8\nsides = "A"'])
@pytest.mark.parametrize("land", [3.0, 3.5])
def test_a_land_as_thick_as_the_plate_is_refused_by_its_own_name(
    sound: str, refused: Refusing, figures: str, land: float
) -> None:
    bevel = f"[[bevels]]\nedge = [[20, 0], [80, 0]]\n{figures}\nland = {land}\n"
    (line,) = refused(sound + bevel)
    assert line.startswith(
        f"bevels[1].land={land:g} mm must be less than the plate's thickness, 3 mm"
    )


@pytest.mark.parametrize(
    "text",
    [
        '[drawing]\nfile = "{}.dxf"\n',
        '[[bevels]]\nedge = "{}"\nangle = 8\n',
        '[[patterns]]\ncell = "{}"\nregion = "{}"\npitch = 4\n',
        'mill = "{}"\n',
        '[[edge_breaks]]\nof = "{}"\n',
        '[mill]\n"{}" = 4\n',
    ],
)
def test_no_text_of_an_order_steers_a_terminal(sound: str, text: str, tmp_path: Path) -> None:
    for sign in ("\\u001b[2J", "\\u202e", "\\u0085", "\\u2028", "\\u200f"):
        with pytest.raises(KnifecamError) as caught:
            order_from_text(sound + text.replace("{}", f"LAYER{sign}"), folder=tmp_path)
        assert all(line.isprintable() for line in caught.value.lines)
