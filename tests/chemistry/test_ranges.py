"""What a range says when a value is outside it: its ends as they count, in the units that people use."""

from math import inf, nan

import pytest

from layup.chemistry.numerics import require_between, require_positive
from layup.errors import RangeError


def refused(value, low, high, **how):
    with pytest.raises(RangeError, match="it: is ") as caught:
        require_between("it", value, low, high, **how)
    return str(caught.value)


def test_an_end_that_is_refused_is_named():
    assert refused(0.0, 0.0, 0.5, open_low=True) == "it: is out of range (0) - must be between 0 and 0.5, 0 excluded"
    assert refused(1.0, 0.0, 1.0, open_high=True) == "it: is out of range (1) - must be between 0 and 1, 1 excluded"
    both = refused(2.0, 0.0, 1.0, unit="m", open_low=True, open_high=True)
    assert both == "it: is out of range (2 m) - must be between 0 and 1 m, 0 and 1 excluded"
    assert refused(2.0, 0.0, 1.0) == "it: is out of range (2) - must be between 0 and 1"


def test_a_temperature_is_told_in_degrees_and_a_difference_is_left_as_it_is():
    assert refused(400.0, 233.15, 333.15, unit="K") == "it: is out of range (126.85 °C) - must be between -40 and 60 °C"
    assert refused(50.0, 0.0, 40.0, unit="°C") == "it: is out of range (50 °C) - must be between 0 and 40 °C"


def test_large_numbers_keep_their_noughts_and_no_number_is_said_to_be_none():
    assert refused(2e6, 0.0, 1e6, unit="g") == "it: is out of range (2000000 g) - must be between 0 and 1000000 g"
    assert refused(nan, 0.0, 1.0) == "it: is not a number (nan) - must be between 0 and 1"
    assert refused(inf, 0.0, inf, unit="s") == "it: is out of range (inf s) - must be at least 0 s"
    with pytest.raises(RangeError, match=r"it: is out of range \(-1 g\) - must be above 0 g"):
        require_positive("it", -1.0, unit="g")


def test_a_time_is_told_as_people_tell_it_and_never_rounded():
    assert refused(600.0, 3600.0, 14 * 86400.0, unit="s") == (
        "it: is out of range (10 min) - must be between 60 min and 14 d"
    )
    assert refused(360.5, 0.0, 360.0, unit="s") == "it: is out of range (360.5 s) - must be between 0 s and 6 min"
