"""The model against published times of real resins, each row of a set foretold from each other row of it.

Sources stand at the head of `measured_times.csv`. Nothing is fitted to A1 and A2: they are blind. A3's film set what is
usual of a film's limit (with other makers' working times), so A3 checks only what it is worth.
Run with -s to see the whole table.
"""

import pytest
from measured import COMPARED_ON, comparisons, foretell, from_the_middle, log_error, measured, table_markdown

FOUND = comparisons()


def test_every_row_is_foretold_from_every_other_of_its_set_and_shown():
    rows = measured()
    sets = [row.set for row in rows]
    assert {name: sets.count(name) for name in sets} == {"A1": 8, "A2": 4, "A3": 2}
    assert len(FOUND) == 8 * 7 + 4 * 3 + 2 * 1
    print(f"\n{'set':4}{'stated':34}{'asked':34}{'measured':>9}{'foretold':>9}{'80 %':>12}{'ratio':>7}  in")
    for one in FOUND:
        band = f"{one.low_min:.0f}-{one.high_min:.0f}"
        print(
            f"{one.stated.set:4}{one.stated.words:34}{one.asked.words:34}{one.asked.minutes:9.0f}{one.likely_min:9.0f}"
            f"{band:>12}{one.ratio:7.2f}  {'yes' if one.held else 'NO'}"
        )
    print(f"{sum(one.held for one in FOUND)} of {len(FOUND)} in the 80 % band; compared {COMPARED_ON}")
    print(table_markdown())


@pytest.mark.parametrize(("name", "least", "ratio"), [("A1", 0.80, 1.40), ("A2", 0.80, 1.20), ("A3", 0.80, 1.30)])
def test_the_eighty_percent_band_holds_four_of_five_of_each_set(name, least, ratio):
    of_set = [one for one in FOUND if one.stated.set == name]
    assert sum(one.held for one in of_set) / len(of_set) >= least
    assert log_error(of_set) < ratio


def test_from_the_middle_row_ten_of_eleven_are_held():
    """With one energy for all hardeners, 55 +- 8 kJ/mol, and a film that closed where a cup thickens, it was 8."""
    middle = from_the_middle(FOUND)
    assert len(middle) == 11
    assert sum(one.held for one in middle) >= 10


def test_the_bands_hold_by_being_right_and_not_by_being_wide():
    """High over low is at most 1.8 within 6 K of the stated row, for rows of one kind."""
    near = [
        one
        for one in FOUND
        if abs(one.stated.temperature_C - one.asked.temperature_C) < 6.0 and one.stated.vessel == one.asked.vessel
    ]
    assert len(near) == 2 * 7 + 4
    for one in near:
        assert one.high_min / one.low_min <= 1.8


def test_two_of_its_temperatures_do_not_pull_a_whole_set_too_hard():
    """A1 from 10 and 27 C: told 55 kJ/mol, while the whole set answers with 46; the band of the rest holds it."""
    rows = {row.temperature_C: row for row in measured() if row.set == "A1"}
    stated = rows[10.0].point, rows[26.67].point
    held = 0
    for kelvin, row in rows.items():
        if kelvin not in (10.0, 26.67):
            _, low_min, high_min = foretell(stated, row.point)
            held += low_min <= row.minutes_high and row.minutes_low <= high_min
    assert held >= 5


def test_a_film_from_its_cup_is_no_longer_half_as_long_as_measured():
    """A3: a cup of 100 g gels after 9 to 12 min, the film works for 60 to 70; by the cup's own limit it was 37."""
    (found,) = [one for one in from_the_middle(FOUND) if one.stated.set == "A3"]
    assert found.held
    assert found.ratio > 0.75
    assert not found.blind
