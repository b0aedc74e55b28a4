"""Laws of pours, channels and colours, and what is refused."""

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layup.chemistry.casting import (
    PourPace,
    cast_mass_g,
    colour_steps,
    colour_weights,
    moisture_warnings,
    split_pours,
    trapezium_m2,
)
from layup.errors import RangeError

few = settings(max_examples=40, deadline=None)


def shorter_the_more(at_100_g_s):
    """Return a life that halves with every fourfold mass."""
    return lambda mass_g: at_100_g_s * (mass_g / 100.0) ** -0.5


@few
@given(
    st.floats(20.0, 3000.0),
    st.floats(120.0, 3600.0),
    st.floats(10.0, 200.0),
    st.floats(10.0, 900.0),
    st.floats(0.0, 600.0),
    st.floats(0.0, 3600.0),
    st.booleans(),
)
def test_pours_add_up_are_in_time_and_are_the_fewest(mass_g, life_s, stirring_s, pouring_s, waits_s, minutes_s, alone):
    due = shorter_the_more(life_s)
    pace = PourPace(45.0, stirring_s, pouring_s, 20.0, minutes_s, alone)
    pours = split_pours(mass_g, due, pace, wait=lambda _: (waits_s, waits_s + 100.0))
    for pour in pours:
        assert pour.margin_s >= -1e-9
        assert pour.mix_s - pour.weigh_s == pytest.approx(45.0)
        assert pour.poured_s - pour.mix_s == pytest.approx(stirring_s + pouring_s / len(pours))
        assert pour.pour_s >= pour.opens_s - 1e-6
    if pours:
        assert sum(pour.mass_g for pour in pours) == pytest.approx(mass_g)
        fewer = len(pours) - 1
        assert fewer == 0 or stirring_s + pouring_s / fewer > due(mass_g / fewer)
    for before, after in pairwise(pours):
        assert after.weigh_s - before.weigh_s >= minutes_s / len(pours) - 1e-6
        assert (after.weigh_s if alone else after.mix_s) >= before.poured_s + 20.0 - 1e-6
        assert after.closes_s == pytest.approx(before.poured_s + waits_s + 100.0)


@few
@given(st.floats(100.0, 1000.0), st.integers(1, 8), st.floats(1.0, 50.0))
def test_a_pour_is_never_smaller_than_the_scale_can_weigh(mass_g, at_least, smallest_g):
    pace = PourPace(60.0, 60.0, 60.0)
    pours = split_pours(mass_g, shorter_the_more(900.0), pace, at_least=at_least, smallest_g=smallest_g)
    assert len(pours) >= at_least or mass_g / at_least < smallest_g
    assert all(pour.mass_g >= smallest_g for pour in pours)


@few
@given(st.integers(1, 12), st.integers(1, 4), st.booleans())
def test_each_pour_has_all_of_its_colour_and_each_pure_colour_as_many_pours(pours, colours, fade):
    pours = max(pours, colours) if fade else colours * pours
    shares = [colour_weights(colours, at / pours, 1.0 / pours, fade=fade) for at in range(pours)]
    assert [sum(row) for row in shares] == pytest.approx([1.0] * pours)
    assert shares[0][0] == shares[-1][-1] == 1.0
    if not fade:
        assert [sum(column) for column in zip(*shares, strict=True)] == [pours // colours] * colours


def test_a_casting_that_nothing_saves_has_no_pours():
    assert split_pours(500.0, lambda _: 30.0, PourPace(60.0, 60.0, 60.0)) == ()


@few
@given(st.lists(st.floats(10.0, 500.0), min_size=2, max_size=10), st.floats(0.001, 0.05))
def test_a_fade_keeps_its_loading_and_goes_from_one_pigment_to_the_other(masses_g, loading):
    steps = colour_steps(masses_g, loading, 0.05)
    assert [first + second for first, second in steps] == pytest.approx([loading * mass_g for mass_g in masses_g])
    assert steps[0][1] == steps[-1][0] == 0.0
    shares = [second / (first + second) for first, second in steps]
    assert [b - a for a, b in pairwise(shares)] == pytest.approx([1 / (len(shares) - 1)] * (len(shares) - 1))


@few
@given(st.floats(0.001, 0.1), st.floats(0.0, 0.1), st.floats(0.001, 0.1))
def test_a_trapezium_is_the_rectangle_of_its_mean_width(top_m, bottom_m, depth_m):
    assert trapezium_m2(top_m, bottom_m, depth_m) == pytest.approx((top_m + bottom_m) / 2 * depth_m)


@few
@given(st.floats(1e-6, 1e-2), st.floats(0.9, 1.6), st.floats(0.0, 0.5))
def test_mass_grows_in_proportion(volume_m3, density_g_cm3, waste):
    one = cast_mass_g(volume_m3, density_g_cm3, waste)
    assert cast_mass_g(2 * volume_m3, density_g_cm3, waste) == pytest.approx(2 * one)
    assert one == pytest.approx(cast_mass_g(volume_m3, density_g_cm3, 0.0) * (1 + waste))


@pytest.mark.parametrize(
    ("moisture", "humidity", "count"),
    [(0.08, 0.5, 0), (0.08, 0.8, 1), (0.14, 0.5, 1), (0.14, 0.8, 2), (None, None, 1)],
)
def test_moisture_warns_of_wet_wood_damp_air_and_of_not_knowing(moisture, humidity, count):
    assert len(moisture_warnings(moisture, humidity)) == count


# -- what is refused, in a builder's words -----------------------------------------------------------------------------


def pours(**changes):
    asked = {"mass_g": 400.0, "weighing_s": 60.0, "stirring_s": 60.0, "pouring_s": 60.0} | changes
    own = {name: asked.pop(name) for name in ("mass_g", "at_least", "multiple", "smallest_g") if name in asked}
    return split_pours(own.pop("mass_g"), lambda _: 300.0, PourPace(**asked), **own)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: trapezium_m2(0.01, -0.01, 0.01), "width at the bottom: is out of range"),
        (lambda: trapezium_m2(0.01, 0.0, 0.0), "depth of the channel: is out of range"),
        (lambda: cast_mass_g(0.0, 1.1), "volume of the casting: is out of range"),
        (lambda: cast_mass_g(1e-4, 1100.0), "density of the mix: .* between 0.3 and 5 g"),
        (lambda: cast_mass_g(1e-4, 1.1, 10.0), "waste: .*0.1 for 10 %"),
        (lambda: pours(mass_g=0.0), "mass of the casting: is out of range"),
        (lambda: pours(stirring_s=0.0), "mixing time: is out of range"),
        (lambda: pours(pouring_s=0.0), "time to pour it all: is out of range"),
        (lambda: pours(at_least=0), "number of pours: is out of range"),
        (lambda: pours(weighing_s=-1.0), "weighing time: is out of range"),
        (lambda: pours(minutes_s=-1.0), "minutes given: is out of range"),
        (lambda: pours(scraping_s=-1.0), "scraping time: is out of range"),
        (lambda: pours(multiple=0), "colours: is out of range"),
        (lambda: pours(smallest_g=-1.0), "smallest pour: is out of range"),
        (lambda: colour_steps([100.0], 0.02, 0.05), r"pours: are fewer than colours \(1\) - 2 or more"),
        (
            lambda: colour_steps([100.0] * 3, 0.02, 0.05, fade=False),
            r"pours: cannot be shared by the colours \(3\) - a multiple of 2",
        ),
        (lambda: colour_steps([100.0, 0.0], 0.02, 0.05), "mass of a pour: is out of range"),
        (
            lambda: colour_steps([100.0, 100.0], 0.06, 0.05),
            "pigment loading: .*the pigment maker's limit.*stronger paste",
        ),
        (lambda: colour_steps([100.0, 100.0], 0.02, 5.0), "the maker's limit for pigment: .*0.05 for 5 %"),
        (lambda: moisture_warnings(8.0, None), "wood moisture: .* between 0 and 1 - .*0.08 for 8 %"),
        (lambda: moisture_warnings(0.08, 50.0), "relative humidity: .* between 0 and 1 - .*0.5 for 50 %"),
    ],
)
def test_casting_refuses_what_cannot_be(call, words):
    with pytest.raises(RangeError, match=words):
        call()
