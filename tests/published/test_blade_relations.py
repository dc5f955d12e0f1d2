"""Relations of a bevel's figures, hand-worked; and densities as steel makers print them.

The bevel's relation tan a = (t - e) / 2H and the plate's mass are plane geometry. Densities: Uddeholm,
Arne (AISI O1), edition 7, 2012, physical data (7800 kg/m3 at 62 HRC, 20 C); Rolled Alloys, data sheet
440C (0.275 lb/in3); D2 from memory of makers' data sheets (7700 kg/m3).
"""

import math

import pytest

from knifecam.blade import Bevel, Blade, Steel, grind_height
from knifecam.blade.mass import density_of, weigh
from knifecam.curve import Stretch, rectangle

POUND, INCH = 0.45359237, 0.0254
"""kg and m, exact (international pound and inch, 1959)."""


def test_plate_of_3_mm_land_of_04_and_15_mm_of_bevel_stand_at_4_9533_degrees():
    bevel = Bevel(name="V", edge=Stretch(start=0, end=100), angle=math.radians(4.9533), land=0.4)
    assert grind_height(bevel, 3.0, "A") == pytest.approx(15.0, abs=0.00015)
    assert math.degrees(2 * math.atan(1.3 / 15)) == pytest.approx(9.9065, abs=0.00005)


def test_density_of_o1_in_its_makers_brochure():
    assert density_of(Steel(name="o1"))[0] == 7800


def test_density_of_440c_in_a_data_sheet_in_pounds_and_inches():
    assert density_of(Steel(name="440C"))[0] == pytest.approx(0.275 * POUND / INCH**3, abs=5)


def test_density_of_d2_from_memory():
    density, source = density_of(Steel(name="D2"))
    assert density == 7700
    assert source.startswith("from memory")


def test_a_steel_not_listed_says_that_its_density_is_assumed():
    assert density_of(Steel(name="blister"))[1].startswith("assumed")


def test_a_plate_of_100_by_30_by_3_in_d2_weighs_69_3_g():
    plate = Blade(outline=rectangle(0, 0, 100, 30), thickness=3.0, steel=Steel(name="D2"))
    assert weigh(plate).mass == pytest.approx(69.3, abs=0.05)
    assert weigh(plate).centre == pytest.approx((50.0, 15.0, 0.0), abs=1e-9)
