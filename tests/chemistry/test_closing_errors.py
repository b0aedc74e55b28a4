"""What closing refuses, in a builder's words."""

import pytest

from layup.chemistry.caul import Bed, bed_of_caul, caul_deflection_m, clamping, plywood_modulus_Pa, row_of_clamps
from layup.chemistry.closing import (
    bag_pressure_Pa,
    bolt_force_N,
    bolt_torque_Nm,
    clamp_order,
    press_force_N,
    standard_atmosphere_Pa,
)
from layup.chemistry.compaction import bed_give_m, fibre_fraction_under_pressure
from layup.errors import InputError, RangeError


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: bolt_force_N(0.0, 0.008), r"torque: is out of range \(0 N m\)"),
        (lambda: bolt_force_N(10.0, 8.0), r"thread diameter: .*8 mm for M8"),
        (lambda: bolt_force_N(10.0, 0.008, 2.0), r"nut factor \(K\): .*0.10 lubricated to 0.30 gritty"),
        (lambda: bolt_torque_Nm(0.0, 0.008), "force: is out of range"),
        (lambda: standard_atmosphere_Pa(20_000.0), "altitude: is out of range"),
        (lambda: bag_pressure_Pa(0.0, 101_325.0), "absolute pressure in the bag: local air less what a vacuum gauge"),
        (lambda: press_force_N(0.0, 0.1), "pressure: is out of range"),
        (lambda: press_force_N(1e5, 0.0), "area pressed: is out of range"),
        (lambda: clamp_order(0), "number of clamps: is out of range"),
        (lambda: caul_deflection_m(-1.0, 0.2, 0.02, 1e10), "pressure: is out of range"),
        (lambda: caul_deflection_m(1e5, 0.0, 0.02, 1e10), "span: is out of range"),
        (lambda: bed_of_caul(0.01, 0.02, 1e10, 1e5, 1e-4), "length of the caul: is out of range"),
        (lambda: bed_of_caul(1.7, 18.0, 1e10, 1e5, 1e-4), "thickness of the caul: is out of range"),
        (lambda: bed_of_caul(1.7, 0.02, 1e10, 1e5, 0.0), "give of the stack: is out of range"),
        (lambda: clamping(Bed(1.7, 0.1), 0.0), "unevenness: .*0.2 for 20 %"),
        (lambda: clamping(Bed(1.7, 0.1), 0.2, 500), "number of clamps: is out of range"),
        (lambda: clamping(Bed(5.0, 0.001)), r"so limp that 200 clamps do not press evenly.*thicker or stiffer caul"),
        (lambda: row_of_clamps(Bed(1.7, 0.1), 0), "number of clamps: is out of range"),
        (lambda: plywood_modulus_Pa(1e10, 4), r"plies: are an even number \(4\)"),
        (lambda: plywood_modulus_Pa(1e10, 53), "plies: is out of range"),
        (lambda: fibre_fraction_under_pressure("woven", 100.0), r"pressure: .*hand clamps to a strong bladder"),
        (lambda: bed_give_m("woven", 2.0), "laminate thickness: is out of range"),
    ],
)
def test_closing_refuses_what_cannot_be(call, words):
    with pytest.raises(RangeError, match=words):
        call()


@pytest.mark.parametrize(
    "call", [lambda: fibre_fraction_under_pressure("felt", 1e5), lambda: bed_give_m("felt", 0.002)]
)
def test_a_cloth_that_is_not_known_is_answered_with_those_that_are(call):
    with pytest.raises(InputError, match=r"cloth: .*\(felt\) - one of mat, woven, stitched, unidirectional"):
        call()
