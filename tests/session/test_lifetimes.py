"""Lifetimes follow what was logged: age by the temperatures seen, the part after the cup, what was seen of a batch."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from plan_examples import SLOW
from scipy.integrate import trapezoid
from session_examples import lifetimes, mixed, stamped, start
from smooth_laws import smooth

from layup.chemistry.calibration import calibrate
from layup.chemistry.film import Skin, skin_share
from layup.chemistry.life_band import predict_band
from layup.chemistry.prediction import Vessel
from layup.session.batch_events import BatchMixed, BatchPouredOut, CupTemperatureRead, Observation
from layup.session.day_events import TemperatureRead
from layup.session.lifetimes import MOST_POINTS, SET_ASIDE, learnt_today, lives_of_day, thinned
from layup.session.records import fold
from layup.session.state import Event, SessionState

CALIBRATION = calibrate(SLOW)


def air(celsius: float) -> TemperatureRead:
    return TemperatureRead(place="air", temperature_K=celsius + 273.15)


def after(*events: Event) -> SessionState:
    """Return the state after events a minute apart, the first of them the start."""
    return fold(stamped([start(), *events], every_s=60.0))


def test_a_steady_shop_gives_the_engine_s_own_pot_life():
    state = after(air(20.0), mixed(1))
    life = lifetimes(state, CALIBRATION)[1]
    batch = state.batch(1)
    band = predict_band(CALIBRATION, Vessel.cup(), mass_g=batch.mass_g, start_K=batch.start_K, ambient=293.15)
    assert life.over_s.likely - life.mixed_s == pytest.approx(band.life.working_s, rel=1e-6)
    assert life.over_s.low - life.mixed_s == pytest.approx(band.working_s.low, rel=1e-3)
    assert life.over_s.low < life.over_s.likely < life.over_s.high


def test_a_warmer_reading_shortens_a_running_clock_and_does_not_restart_it():
    calm = lifetimes(after(air(20.0), mixed(1)), CALIBRATION)[1]
    warm = lifetimes(after(air(20.0), mixed(1), air(20.0), air(30.0)), CALIBRATION)[1]
    assert warm.mixed_s == calm.mixed_s
    assert warm.over_s.low < calm.over_s.low
    fresh_s = predict_band(CALIBRATION, Vessel.cup(), mass_g=130.0, start_K=303.15, ambient=303.15).life.working_s
    assert warm.over_s.likely < calm.over_s.likely
    assert warm.over_s.likely > warm.mixed_s + 0.9 * fresh_s


def test_a_batch_poured_out_lives_on_as_a_film():
    in_cup = lifetimes(after(air(20.0), mixed(1)), CALIBRATION)
    poured = lifetimes(after(air(20.0), mixed(1), BatchPouredOut(batch=1)), CALIBRATION)
    assert in_cup[1].where == "in the cup"
    assert poured[1].where == "on the part"
    assert poured[1].over_s.low > in_cup[1].over_s.low


def test_mix_in_thick_cloth_closes_sooner_than_a_film_and_a_cup_does_not_care():
    thick = replace(CALIBRATION, skin=Skin(700.0, 750.0))
    share = skin_share(thick.kinetics, thick.skin, 293.15)
    poured = after(air(20.0), mixed(1), BatchPouredOut(batch=1))
    film, cloth = (lifetimes(poured, law)[1] for law in (CALIBRATION, thick))
    out_s = poured.batch(1).poured_out_s
    assert share < 0.9
    left_s = film.over_s.later(-out_s)
    assert cloth.over_s.later(-out_s) == pytest.approx(left_s.times(share))
    in_cup = after(air(20.0), mixed(1))
    assert lifetimes(in_cup, thick)[1].over_s.low == lifetimes(in_cup, CALIBRATION)[1].over_s.low


def test_a_hot_reading_of_the_cup_counts_for_more_than_the_shop():
    cool = lifetimes(after(air(20.0), mixed(1)), CALIBRATION)[1]
    hot = lifetimes(
        after(air(20.0), mixed(1), CupTemperatureRead(batch=1, temperature_K=313.15)),
        CALIBRATION,
    )[1]
    assert hot.over_s.low < cool.over_s.low


def test_what_is_seen_of_one_batch_moves_the_others_and_narrows_their_band():
    events = [air(20.0), mixed(1), mixed(2), *[air(20.0)] * 12]
    before = after(*events)
    seen = after(*events, Observation(batch=1, word="thickening"))
    learnt, words, *_ = learnt_today(seen, CALIBRATION)
    old, new = lifetimes(before, CALIBRATION)[2], lifetimes(seen, learnt)[2]
    assert words
    assert new.over_s.likely < old.over_s.likely
    spreads = [(life.over_s.high - life.mixed_s) / (life.over_s.low - life.mixed_s) for life in (new, old)]
    assert spreads[0] < spreads[1]


@pytest.mark.parametrize("minutes", [1, 6, 20, 35])
@pytest.mark.parametrize("word", ["thickening", "stringy", "gelled"])
def test_bad_news_never_lengthens_a_clock(minutes, word):
    events = [air(20.0), mixed(1), mixed(2), BatchPouredOut(batch=2), *[air(20.0)] * (minutes - 1)]
    before, seen = after(*events), after(*events, Observation(batch=1, word=word))
    today = learnt_today(seen, CALIBRATION)
    assert today.cap is CALIBRATION or today.aside, "it came early"
    old, new = lifetimes(before, CALIBRATION), lifetimes(seen, today.calibration, today.cap)
    for number in (1, 2):
        assert new[number].over_s.low <= old[number].over_s.low
        assert new[number].over_s.likely <= old[number].over_s.likely
        assert new[number].over_s.low <= new[number].over_s.likely <= new[number].over_s.high
    at_s = seen.batch(1).observations[-1][0]
    assert new[1].over_s.low <= at_s
    if word != "thickening":
        assert new[1].over_s.likely <= at_s


@pytest.mark.parametrize("word", ["thickening", "stringy", "gelled"])
def test_a_look_that_cannot_be_ends_its_own_batch_and_moves_no_other_while_a_fast_one_moves_all(word):
    """A fast hardener is three to six times as quick as a slow one (from memory)."""
    events = [air(20.0), mixed(1), mixed(2)]
    before, seen = after(*events), after(*events, Observation(batch=1, word=word))
    today, state = learnt_today(seen, CALIBRATION), seen
    assert (today.aside, today.strange, today.words[-1]) == (1, 1, SET_ASIDE)
    old = lives_of_day(before, CALIBRATION).alive
    new = lives_of_day(state, CALIBRATION).alive
    assert new[2].over_s == old[2].over_s
    assert new[1].over_s.low <= seen.batch(1).observations[-1][0], "its own clock is over all the same"
    assert seen.batch(1).observations[-1][1] == word, "it stays in the log"
    fast = after(*events, *[air(20.0)] * 9, Observation(batch=1, word=word))
    assert learnt_today(fast, CALIBRATION).aside == 0
    assert lives_of_day(fast, CALIBRATION).alive[2].over_s.likely < old[2].over_s.likely


def test_what_others_taught_stands_beside_a_look_that_cannot_be():
    events = [air(20.0), mixed(1), mixed(2), *[air(20.0)] * 80, Observation(batch=1, word="runny")]
    with_news = after(*events, mixed(3))
    seen = after(*events, mixed(3), Observation(batch=3, word="gelled"))
    taught, today = learnt_today(with_news, CALIBRATION), learnt_today(seen, CALIBRATION)
    assert (today.calibration, today.cap) == (taught.calibration, taught.cap)


def test_good_news_may_lengthen_a_clock():
    events = [air(20.0), mixed(1), *[air(20.0)] * 80]
    seen = after(*events, Observation(batch=1, word="runny"))
    today = learnt_today(seen, CALIBRATION)
    assert today.cap is None
    assert lifetimes(seen, today.calibration)[1].over_s.likely > lifetimes(after(*events), CALIBRATION)[1].over_s.likely


def test_a_film_seen_stringy_may_be_shut_and_one_seen_gelled_is():
    events = [air(20.0), mixed(1), BatchPouredOut(batch=1), *[air(20.0)] * 30]
    for word, ends in (("thickening", 0), ("stringy", 1), ("gelled", 2)):
        seen = after(*events, Observation(batch=1, word=word))
        today = learnt_today(seen, CALIBRATION)
        life = lifetimes(seen, today.calibration, today.cap)[1]
        at_s = seen.batch(1).observations[-1][0]
        assert (life.over_s.low <= at_s) + (life.over_s.likely <= at_s) == ends


def test_a_cup_left_to_gel_is_learnt_from_once_for_each_word():
    state = after(air(20.0), mixed(1), *[air(20.0)] * 40, Observation(batch=1, word="gelled"))
    twice = after(
        air(20.0), mixed(1), *[air(20.0)] * 40, Observation(batch=1, word="gelled"), Observation(batch=1, word="gelled")
    )
    assert learnt_today(state, CALIBRATION)[0].kinetics == learnt_today(twice, CALIBRATION)[0].kinetics


@given(
    st.lists(st.floats(280.0, 310.0), min_size=2, max_size=400),
    st.floats(1.0, 600.0),
)
def test_a_thinned_history_keeps_its_ends_its_length_limit_and_its_mean(kelvins, every_s):
    history = tuple((place * every_s, kelvin) for place, kelvin in enumerate(kelvins))
    thin = thinned(history)
    assert len(thin) <= MOST_POINTS
    assert (thin[0], thin[-1]) == (history[0], history[-1])
    if len(history) > MOST_POINTS:
        mean = trapezoid(kelvins, dx=every_s) / history[-1][0]
        inner = thin[1:-1]
        assert sum(kelvin for _, kelvin in inner) / len(inner) == pytest.approx(mean, abs=1e-6)


def test_a_swinging_shop_of_many_readings_ages_a_batch_as_the_readings_one_by_one_do(monkeypatch):
    swings = [air(20.0 + (place % 3) - 1.0) for place in range(120)]
    state = after(mixed(1), *swings)
    thin = lifetimes(state, CALIBRATION)[1]
    monkeypatch.setattr("layup.session.lifetimes.MOST_POINTS", 10_000)
    thinned.cache_clear()
    whole = lifetimes(state, CALIBRATION)[1]
    thinned.cache_clear()
    assert thin.over_s.likely - thin.mixed_s == pytest.approx(whole.over_s.likely - whole.mixed_s, rel=5e-3)


def test_a_cup_seen_thickening_teaches_the_same_once_it_is_on_the_part():
    events = [air(20.0), mixed(1), *[air(20.0)] * 40, Observation(batch=1, word="thickening")]
    in_cup = learnt_today(after(*events), CALIBRATION)[0]
    poured = learnt_today(after(*events, BatchPouredOut(batch=1)), CALIBRATION)[0]
    assert poured.kinetics.k_ref_per_s == pytest.approx(in_cup.kinetics.k_ref_per_s)


def test_the_heat_class_is_the_one_that_one_case_in_ten_exceeds():
    """A cup just below running away as it is likely, and beyond it at the edge of what is unsure."""
    cold = [air(5.0), BatchMixed(batch=1, resin_g=40.0, hardener_g=12.0, start_K=278.15)]
    heat = lifetimes(after(*cold), CALIBRATION)[1].heat
    band = predict_band(CALIBRATION, Vessel.cup(), mass_g=52.0, start_K=278.15, ambient=278.15)
    assert heat == band.heat_class_high
    assert band.life.heat_class != band.heat_class_high
    warm = [*cold, air(30.0)]
    assert lifetimes(after(*warm), CALIBRATION)[1].heat == "runaway"


@smooth
@given(st.floats(60.0, 1800.0), st.sampled_from(["runny", "thickening"]))
def test_a_film_is_never_over_before_it_was_laid(every_s, word):
    events = [start(), air(24.0), mixed(1), Observation(batch=1, word=word), BatchPouredOut(batch=1)]
    state = fold(stamped(events, every_s=every_s))
    laid_s = state.batch(1).poured_out_s
    for law in (CALIBRATION, learnt_today(state, CALIBRATION).calibration):
        over_s = lifetimes(state, law)[1].over_s
        assert min(laid_s, over_s.likely) <= over_s.low <= over_s.likely <= over_s.high
