"""What casting refuses, in a builder's words."""

import pytest

from layup.chemistry.casting import (
    cast_mass_g,
    channel_volume_m3,
    colour_steps,
    foam_volume_m3,
    moisture_warnings,
    split_pours,
    trapezium_m2,
)
from layup.errors import RangeError


def pours(**changes):
    asked = {"mass_g": 400.0, "life": lambda _: 300.0, "mixing_s": 60.0, "pouring_s": 60.0} | changes
    return split_pours(asked.pop("mass_g"), asked.pop("life"), **asked)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: trapezium_m2(0.01, -0.01, 0.01), "width at the bottom: is out of range"),
        (lambda: trapezium_m2(0.01, 0.0, 0.0), "depth of the channel: is out of range"),
        (lambda: channel_volume_m3([(0.0, 0.0)], 1e-4), r"path of the channel: has too few points \(1\) - two or more"),
        (lambda: channel_volume_m3([(0.0, 0.0), (0.0, 0.0)], 1e-4), "length of the channel: is out of range"),
        (lambda: channel_volume_m3([(0.0, 0.0), (1.0, 0.0)], 0.0), "section of the channel: is out of range"),
        (lambda: cast_mass_g(0.0, 1.1), "volume of the casting: is out of range"),
        (lambda: cast_mass_g(1e-4, 1100.0), "density of the mix: .* between 0.3 and 5 g"),
        (lambda: cast_mass_g(1e-4, 1.1, 10.0), "waste: .*0.1 for 10 %"),
        (lambda: pours(mass_g=0.0), "mass of the casting: is out of range"),
        (lambda: pours(mixing_s=0.0), "mixing time: is out of range"),
        (lambda: pours(pouring_s=0.0), "time to pour it all: is out of range"),
        (lambda: pours(at_least=0), "number of pours: is out of range"),
        (lambda: pours(between_s=-1.0), "wait between pours: is out of range"),
        (lambda: pours(smallest_g=-1.0), "smallest pour: is out of range"),
        (lambda: colour_steps([100.0], 0.02, 0.05), r"colour steps: need more than one pour \(1\)"),
        (lambda: colour_steps([100.0, 0.0], 0.02, 0.05), "mass of a pour: is out of range"),
        (
            lambda: colour_steps([100.0, 100.0], 0.06, 0.05),
            "pigment loading: .*the pigment maker's limit.*stronger paste",
        ),
        (lambda: colour_steps([100.0, 100.0], 0.02, 5.0), "the maker's limit for pigment: .*0.05 for 5 %"),
        (lambda: foam_volume_m3(-1.0, 293.15), "water: is out of range"),
        (lambda: foam_volume_m3(1.0, 20.0), "temperature of the mix: .* between -23.15 and 126.85 °C"),
        (lambda: moisture_warnings(8.0, None), "wood moisture: .* between 0 and 1 - .*0.08 for 8 %"),
        (lambda: moisture_warnings(0.08, 50.0), "relative humidity: .* between 0 and 1 - .*0.5 for 50 %"),
    ],
)
def test_casting_refuses_what_cannot_be(call, words):
    with pytest.raises(RangeError, match=words):
        call()
