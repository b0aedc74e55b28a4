"""The one root finder, against scipy's and on what a search may meet."""

from math import exp, inf, log

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from layup.chemistry.numerics import first_at_or_above

SMOOTH = {
    "straight": lambda x: x - 0.3,
    "flat and then steep": lambda x: x**9 - 1e-6,
    "steep and then flat": lambda x: 1.0 - exp(-50.0 * x) - 0.9,
    "logarithm": lambda x: log(x + 1e-9) + 1.0,
    "kinked": lambda x: min(x - 0.2, 100.0 * (x - 0.7)),
}


@pytest.mark.parametrize("name", SMOOTH)
@pytest.mark.parametrize("within", [1e-3, 1e-9, 1e-13])
def test_it_finds_what_scipy_finds_in_few_tries_and_from_above(name, within):
    tried = []

    def counted(x):
        tried.append(x)
        return SMOOTH[name](x)

    found = first_at_or_above(counted, 0.0, 1.0, within)
    root = brentq(SMOOTH[name], 0.0, 1.0, xtol=1e-15, rtol=1e-15)
    assert root - 1e-14 <= found <= root + within + 1e-14
    assert SMOOTH[name](found) >= 0.0
    assert len(tried) <= 60


@given(st.floats(0.0, 1.0), st.sampled_from([-inf, -1.0, -1e-300]), st.sampled_from([0.0, 1.0, inf]))
def test_a_switch_without_any_slope_is_found_too(at, before, after):
    found = first_at_or_above(lambda x: after if x >= at else before, 0.0, 1.0, 1e-9)
    assert at <= found <= at + 1e-9


def test_the_ends_of_the_bracket_answer_where_nothing_turns():
    assert first_at_or_above(lambda x: x, 0.0, 1.0, 1e-9) == 0.0
    assert first_at_or_above(lambda x: x + 5.0, 0.0, 1.0, 1e-9) == 0.0
    assert first_at_or_above(lambda x: x - 5.0, 0.0, 1.0, 1e-9) == 1.0


def test_values_that_are_known_are_not_asked_for_again():
    tried = []
    first_at_or_above(lambda x: tried.append(x) or x - 0.5, 0.0, 1.0, 1e-6, at_low=-0.5, at_high=0.5)
    assert tried
    assert not {0.0, 1.0} & set(tried)
