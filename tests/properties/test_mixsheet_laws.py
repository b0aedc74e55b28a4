"""Laws of a mix sheet: readings that can be shown, windows that keep their promise, verdicts that correct."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from smooth_laws import smooth

from layup.chemistry.datasheet import Component, Datasheet, PotLifePoint
from layup.chemistry.mixing import off_ratio
from layup.planning.mix_sheet import mix_sheet, verdict
from layup.planning.plan import Scale

solved = settings(max_examples=25)
"""Of what takes a search for the smallest batch of each way."""

digits = st.sampled_from([0.01, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0])
batches = st.floats(15.0, 3000.0)
mass = st.floats(1.0, 2000.0)


@st.composite
def systems(draw):
    return Datasheet(
        id="any",
        title="Any",
        chemistry="epoxy-amine",
        resin=Component("A", draw(st.floats(0.9, 1.6))),
        hardener=Component("B", draw(st.floats(0.8, 1.3))),
        ratio=(100.0, draw(st.floats(8.0, 120.0))),
        ratio_by=draw(st.sampled_from(["weight", "volume"])),
        pot_lives=(PotLifePoint(1800.0, 100.0, 298.15),),
    )


def is_shown(amount, step):
    return amount / step == pytest.approx(round(amount / step), abs=1e-6)


@smooth
@given(system=systems(), batch_g=batches, digit_g=digits)
def test_every_reading_is_one_the_scale_can_show_and_within_half_a_digit(system, batch_g, digit_g):
    sheet = mix_sheet(system, batch_g, Scale(digit_g, 5000.0))
    resin_g, hardener_g = sheet.masses_g
    for weighing, exact in ((sheet.one_tare, (resin_g, batch_g)), (sheet.separate_cups, (resin_g, hardener_g))):
        for reading, wanted in zip(weighing.readings, exact, strict=True):
            assert is_shown(reading.shows_g, digit_g)
            assert abs(reading.shows_g - wanted) <= digit_g / 2 + 1e-6


@smooth
@given(system=systems(), batch_g=batches, digit_g=digits)
def test_the_sheet_holds_the_whole_batch(system, batch_g, digit_g):
    sheet = mix_sheet(system, batch_g, Scale(digit_g, 5000.0))
    assert sum(sheet.masses_g) == pytest.approx(batch_g, rel=1e-12)
    assert off_ratio(sheet.masses_g, sheet.parts) == pytest.approx(0.0, abs=1e-12)


@smooth
@given(system=systems(), batch_g=batches, digit_g=digits)
def test_every_reading_accepted_keeps_the_ratio_to_two_percent_and_the_next_one_does_not(system, batch_g, digit_g):
    sheet = mix_sheet(system, batch_g, Scale(digit_g, 5000.0))
    resin, total = sheet.one_tare.readings
    if resin.within_g:
        low, high = resin.within_g
        for inside in (low, high):
            assert abs(off_ratio((inside, total.shows_g - inside), sheet.parts)) <= 0.02 + 1e-7
        for outside in (low - digit_g, high + digit_g):
            assert not 0 < outside < total.shows_g or (
                abs(off_ratio((outside, total.shows_g - outside), sheet.parts)) > 0.02 - 1e-7
            )
    resin, hardener = sheet.separate_cups.readings
    if resin.within_g:
        low, high = resin.within_g
        for inside in (low, high):
            assert abs(off_ratio((inside, hardener.shows_g), sheet.parts)) <= 0.02 + 1e-7
        for outside in (low - digit_g, high + digit_g):
            assert outside <= 0 or abs(off_ratio((outside, hardener.shows_g), sheet.parts)) > 0.02 - 1e-7
    if hardener.within_g:
        low, high = hardener.within_g
        for inside in (low, high):
            assert abs(off_ratio((resin.shows_g, inside), sheet.parts)) <= 0.02 + 1e-7
        for outside in (max(0.0, low - digit_g), high + digit_g):
            assert abs(off_ratio((resin.shows_g, outside), sheet.parts)) > 0.02 - 1e-7


@smooth
@given(system=systems(), batch_g=batches, digit_g=digits)
def test_a_window_holds_its_reading_and_is_missing_only_where_the_readings_are_off_ratio(system, batch_g, digit_g):
    sheet = mix_sheet(system, batch_g, Scale(digit_g, 5000.0))
    for weighing in (sheet.one_tare, sheet.separate_cups):
        for reading in weighing.readings:
            if reading.within_g is None:
                assert abs(weighing.accuracy.rounding_off_ratio) > 0.02 - 1e-7
            else:
                assert reading.within_g[0] <= reading.shows_g <= reading.within_g[1]


@smooth
@given(system=systems(), batch_g=batches, digit_g=digits)
def test_the_worst_case_is_at_least_what_rounding_alone_does(system, batch_g, digit_g):
    sheet = mix_sheet(system, batch_g, Scale(digit_g, 5000.0), measure_step_ml=digit_g)
    for accuracy in (sheet.one_tare.accuracy, sheet.separate_cups.accuracy, sheet.by_volume.accuracy):
        assert accuracy.total_off_ratio >= abs(accuracy.rounding_off_ratio)


@smooth
@given(system=systems(), digit_g=digits, more=st.floats(1.001, 5.0))
def test_a_batch_above_twice_the_smallest_never_warns_of_the_scale(system, digit_g, more):
    # Rounding and reading together are at most two digits, so doubling the digit covers both.
    smallest_g = mix_sheet(system, 500.0, Scale(digit_g, 5000.0)).one_tare.accuracy.smallest_batch_g
    sheet = mix_sheet(system, 2 * smallest_g * more, Scale(digit_g, 1e6))
    assert not any("On one tare" in words for words in sheet.warnings)


@smooth
@given(system=systems(), batch_g=batches, step_ml=st.sampled_from([0.5, 1.0, 2.0, 5.0]))
def test_volumes_at_the_marks_weigh_what_the_ratio_says_within_the_rounding(system, batch_g, step_ml):
    sheet = mix_sheet(system, batch_g, Scale(0.1, 5000.0), measure_step_ml=step_ml)
    resin, hardener = sheet.by_volume.measures
    assert is_shown(resin.shows_ml, step_ml)
    assert resin.steps * step_ml == pytest.approx(resin.shows_ml)
    poured_g = resin.shows_ml * system.resin.density_g_cm3, hardener.shows_ml * system.hardener.density_g_cm3
    assert off_ratio(poured_g, sheet.parts) == pytest.approx(sheet.by_volume.accuracy.rounding_off_ratio, abs=1e-9)
    assert abs(resin.shows_ml * system.resin.density_g_cm3 - sheet.masses_g[0]) <= step_ml * 1.6 + 1e-9


@solved
@given(system=systems(), batch_g=batches, factor=st.floats(0.2, 0.99))
def test_the_smallest_batch_is_the_same_on_every_sheet(system, batch_g, factor):
    scale = Scale(0.1, 5000.0)
    large, small = (mix_sheet(system, grams, scale, measure_step_ml=1.0) for grams in (batch_g, batch_g * factor))
    for way in ("one_tare", "separate_cups", "by_volume"):
        assert getattr(large, way).accuracy.smallest_batch_g == pytest.approx(
            getattr(small, way).accuracy.smallest_batch_g, rel=1e-9
        )


@smooth
@given(poured=st.tuples(mass, mass), hardener=st.floats(8.0, 120.0), cup_g=st.none() | st.floats(10.0, 5000.0))
def test_after_the_verdicts_additions_the_mix_is_on_ratio(poured, hardener, cup_g):
    parts = (100.0, hardener)
    judged = verdict(poured, parts, cup_g=cup_g)
    fixed_g = tuple(have + more for have, more in zip(poured, judged.add_g, strict=True))
    assert judged.batch_g == pytest.approx(sum(fixed_g), rel=1e-12)
    assert verdict(fixed_g, parts).word == "on ratio"
    assert judged.fits == (None if cup_g is None else judged.batch_g <= cup_g)
    if judged.word != "on ratio":
        assert off_ratio(fixed_g, parts) == pytest.approx(0.0, abs=1e-12)


@smooth
@given(poured=st.tuples(mass, mass), hardener=st.floats(8.0, 120.0))
def test_no_verdict_asks_for_hardener_that_the_resin_does_not_need(poured, hardener):
    judged = verdict(poured, (100.0, hardener))
    if judged.off_ratio >= 0.0:
        assert judged.add_g[1] == 0.0
        assert not any("g of hardener" in words for words in judged.advice)


@solved
@given(system=systems(), digit=st.sampled_from([0.1, 0.5, 1.0]))
def test_the_smallest_batch_of_each_way_has_a_worst_case_of_two_percent(system, digit):
    scale = Scale(digit, 5000.0)
    any_sheet = mix_sheet(system, 500.0, scale, measure_step_ml=digit)
    for way in ("one_tare", "separate_cups", "by_volume"):
        smallest_g = getattr(any_sheet, way).accuracy.smallest_batch_g
        sheet = mix_sheet(system, smallest_g, scale, measure_step_ml=digit)
        assert getattr(sheet, way).accuracy.worst_case_off_ratio == pytest.approx(0.02, rel=1e-9)
