"""Laws of pours and colours, and what warns of foam."""

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layup.chemistry.climate import moisture_warnings
from layup.errors import RangeError
from layup.planning.castings import colour_weights
from layup.planning.pours import PourPace, split_pours

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
    pours = split_pours(mass_g, due, pace, wait_s=lambda _: (waits_s, waits_s + 100.0))
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
@given(st.integers(2, 10))
def test_a_fade_goes_from_one_pigment_to_the_other_in_even_steps(pours):
    rows = [colour_weights(2, at / pours, 1.0 / pours, fade=True) for at in range(pours)]
    assert [after[1] - before[1] for before, after in pairwise(rows)] == pytest.approx([1 / (pours - 1)] * (pours - 1))


@pytest.mark.parametrize(
    ("moisture", "humidity", "count"),
    [(0.08, 0.5, 0), (0.08, 0.8, 1), (0.14, 0.5, 1), (0.14, 0.8, 2), (None, None, 1)],
)
def test_moisture_warns_of_wet_wood_damp_air_and_of_not_knowing(moisture, humidity, count):
    assert len(moisture_warnings(moisture, humidity)) == count


def test_a_pour_that_nobody_stirs_is_refused():
    with pytest.raises(RangeError, match="mixing time: is out of range"):
        PourPace(60.0, 0.0, 60.0)
