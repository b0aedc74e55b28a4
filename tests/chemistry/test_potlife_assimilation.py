"""Learning from what a batch does, against the model's worked numbers and posteriors on a grid."""

from dataclasses import replace
from math import erf, exp, inf, log, sqrt

import numpy as np
import pytest
from potlife_cases import PLAIN, WARM, calibrate_point, sheet
from scipy.stats import truncnorm

from layup.chemistry.calibration import calibrate
from layup.chemistry.datasheet import FilmPoint
from layup.chemistry.film import film_life_s
from layup.chemistry.life_band import predict_band
from layup.chemistry.looks import word_conversion
from layup.chemistry.observation import _still_to_come, assimilate, learn, with_readings
from layup.chemistry.prediction import Vessel, predict
from layup.chemistry.stages import Stage, follow, follow_band
from layup.errors import RangeError

LAW = calibrate_point(1800.0, 100.0, 298.15, kinetics=PLAIN)
CUP = Vessel.cup()
CALIBRATION = calibrate(sheet(WARM))
EXACT_USE = replace(CALIBRATION, uncertainty=replace(CALIBRATION.uncertainty, mix_temperature_K=1e-9, mass_log=1e-9))
"""Batches that are weighed and measured without any error."""
BATCH = {"mass_g": 300.0, "start_K": 295.15}
STAGES = (Stage(CUP, 0.0, 295.15),)


def thickens_s(log_k, law=LAW):
    faster = replace(law, k_ref_per_s=law.k_ref_per_s * exp(log_k))
    return predict(faster, CUP, mass_g=300.0, start_K=295.15, ambient=295.15).working_s


def width(calibration, **where):
    band = predict_band(calibration, CUP, **{"mass_g": 300.0, "start_K": 295.15, "ambient": 295.15, **where})
    return log(band.working_s.high / band.working_s.low)


class TestWorkedNumbers:
    """30 min at 100 g and 25 C; a 300 g cup at 22 C seen to have thickened at 30 min; s_k 0.20, s_o 0.10."""

    def test_the_prediction_and_its_sensitivity(self):
        slope = (log(thickens_s(0.01)) - log(thickens_s(-0.01))) / 0.02
        assert thickens_s(0.0) / 60 == pytest.approx(36.126, abs=0.001)
        assert slope == pytest.approx(-1.0965, abs=0.0005)

    def test_the_update(self):
        after = assimilate(
            log(LAW.k_ref_per_s), 0.20, observed_s=1800.0, predicted_s=thickens_s(0.0), sensitivity=-1.0965
        )
        assert after.gain == pytest.approx(-0.7550, abs=5e-5)
        assert after.log_k - log(LAW.k_ref_per_s) == pytest.approx(0.1403, abs=5e-5)
        assert exp(after.log_k) == pytest.approx(5.5231e-4, rel=5e-5)
        assert after.log_k_sd == pytest.approx(0.0830, abs=5e-5)
        assert thickens_s(0.14029) / 60 == pytest.approx(31.00, abs=0.01)

    def test_the_exact_posterior_on_a_grid_agrees(self):
        log_k = np.linspace(-0.6, 0.8, 281)
        late = np.array([log(1800.0 / thickens_s(float(x))) for x in log_k])
        weight = np.exp(-0.5 * (log_k / 0.20) ** 2 - 0.5 * (late / 0.10) ** 2)
        weight /= weight.sum()
        mean = float((weight * log_k).sum())
        sd = sqrt(float((weight * (log_k - mean) ** 2).sum()))
        assert (mean, sd) == pytest.approx((0.1414, 0.0837), abs=2e-4)
        after = assimilate(0.0, 0.20, observed_s=1800.0, predicted_s=thickens_s(0.0), sensitivity=-1.0965)
        assert (after.log_k, after.log_k_sd) == pytest.approx((mean, sd), abs=2e-3)

    @pytest.mark.parametrize(
        ("change", "named"),
        [
            ({"observed_s": 0.0}, "observed time"),
            ({"predicted_s": -1.0}, "predicted time"),
            ({"log_k_sd": 0.0}, "standard deviation of ln k"),
            ({"observed_log_sd": 0.0}, "standard deviation of the observation"),
        ],
    )
    def test_impossible_values_are_refused(self, change, named):
        values = {"log_k": 0.0, "log_k_sd": 0.2, "observed_s": 1.0, "predicted_s": 1.0, "sensitivity": -1.0}
        with pytest.raises(RangeError, match=named):
            assimilate(**{**values, **change})


class TestLearn:
    def only_k(self, sd):
        """A calibration in which nothing but the rate constant is unsure."""
        sides = tuple(replace(LAW, k_ref_per_s=LAW.k_ref_per_s * exp(half * sd)) for half in (-0.5, 0.5))
        return replace(EXACT_USE, kinetics=LAW, variants=(sides,), covariance=((1.0,),))

    def test_with_only_the_rate_unsure_it_is_the_worked_update(self):
        after = learn(self.only_k(0.20), "thickening", 1800.0, STAGES, **BATCH).calibration
        assert log(after.kinetics.k_ref_per_s / LAW.k_ref_per_s) == pytest.approx(0.1403, abs=5e-4)
        assert 0.20 * sqrt(after.covariance[0][0]) == pytest.approx(0.0830, abs=5e-4)

    def test_still_runny_is_the_exact_one_sided_posterior(self):
        """On a grid: the prior times the chance that thickening is still to come."""
        late_s = 2300.0
        after = learn(self.only_k(0.20), "runny", late_s, STAGES, **BATCH).calibration
        log_k = np.linspace(-0.9, 0.6, 301)
        ahead = np.array([log(thickens_s(float(x)) / late_s) for x in log_k])
        chance = np.array([0.5 * (1 + erf(x / 0.10 / sqrt(2))) for x in ahead])
        weight = np.exp(-0.5 * (log_k / 0.20) ** 2) * chance
        weight /= weight.sum()
        mean = float((weight * log_k).sum())
        sd = sqrt(float((weight * (log_k - mean) ** 2).sum()))
        assert log(after.kinetics.k_ref_per_s / LAW.k_ref_per_s) == pytest.approx(mean, abs=0.004)
        assert 0.20 * sqrt(after.covariance[0][0]) == pytest.approx(sd, abs=0.004)

    def test_runny_early_teaches_next_to_nothing(self):
        after = learn(CALIBRATION, "runny", 300.0, STAGES, **BATCH)
        assert after.calibration.kinetics.k_ref_per_s == pytest.approx(CALIBRATION.kinetics.k_ref_per_s, rel=1e-6)
        assert width(after.calibration) == pytest.approx(width(CALIBRATION), rel=1e-6)
        assert after.words == ("still runny, as predicted",)

    def test_runny_far_beyond_belief_stays_a_number(self):
        after = learn(CALIBRATION, "runny", 40 * 3600.0, STAGES, **BATCH)
        assert after.surprise > 10.0
        assert 0.0 < after.calibration.kinetics.k_ref_per_s < CALIBRATION.kinetics.k_ref_per_s

    @pytest.mark.parametrize("factor", [0.8, 1.0, 1.2])
    def test_an_observation_pulls_the_prediction_to_itself_and_narrows_the_band(self, factor):
        before_s = predict(CALIBRATION.kinetics, CUP, ambient=295.15, **BATCH).working_s
        after = learn(CALIBRATION, "thickening", before_s * factor, STAGES, **BATCH).calibration
        after_s = predict(after.kinetics, CUP, ambient=295.15, **BATCH).working_s
        law_sd, use_sd = width(EXACT_USE) / 2 / 1.28155, self.use_sd()
        seen_sd = sqrt(0.10**2 + use_sd**2)
        if factor != 1.0:
            share = log(after_s / before_s) / log(factor)
            assert share == pytest.approx(law_sd**2 / (law_sd**2 + seen_sd**2), abs=0.04)
        exact_sd = law_sd * seen_sd / sqrt(law_sd**2 + seen_sd**2)
        assert width(after) / 2 / 1.28155 == pytest.approx(sqrt(exact_sd**2 + use_sd**2), rel=0.03)

    def use_sd(self):
        """Independent: how ln t of this batch moves with 1.5 K of its own temperature and 5 % of its mass."""

        def log_s(factor, warmer_K):
            return log(
                predict(
                    CALIBRATION.kinetics, CUP, mass_g=300.0 * factor, start_K=295.15 + warmer_K, ambient=295.15
                ).working_s
            )

        return sqrt((log_s(1, 0.75) - log_s(1, -0.75)) ** 2 + (log_s(1.025, 0) - log_s(0.975, 0)) ** 2)

    def test_what_is_seen_of_one_batch_says_nothing_of_the_next_ones_temperature(self):
        """However often a batch is seen to thicken, the next is as unsure as its own thermometer and scale."""
        calibration = CALIBRATION
        for _ in range(60):
            seen_s = predict(calibration.kinetics, CUP, ambient=295.15, **BATCH).working_s
            calibration = learn(calibration, "thickening", seen_s, STAGES, **BATCH, observed_log_sd=0.01).calibration
        assert self.use_sd() < width(calibration) / 2 / 1.28155 < 1.1 * self.use_sd()

    def test_later_batches_in_the_same_shop_gain_most(self):
        after = learn(EXACT_USE, "thickening", 1900.0, STAGES, **BATCH).calibration
        same = width(after, mass_g=150.0) / width(EXACT_USE, mass_g=150.0)
        cold = {"start_K": 280.15, "ambient": 280.15}
        far = width(after, **cold) / width(EXACT_USE, **cold)
        assert same < 0.6 < far < 1.0

    def test_each_further_observation_narrows_it(self):
        widths, calibration = [width(CALIBRATION)], CALIBRATION
        for seen_s in (1900.0, 2000.0, 1850.0):
            calibration = learn(calibration, "thickening", seen_s, STAGES, **BATCH).calibration
            widths.append(width(calibration))
        assert widths == sorted(widths, reverse=True)

    def test_the_words_stand_for_rising_conversions(self):
        limits = [word_conversion(LAW, word) for word in ("runny", "thickening", "stringy", "gelled")]
        assert limits[0] == limits[1] < limits[2] < limits[3] == LAW.conversion_gel
        with pytest.raises(RangeError, match=r"observation: is not one of the words \(gone\) - runny, thickening"):
            word_conversion(LAW, "gone")

    def test_stringy_is_not_gelled(self):
        """On the part, where an hour lies between them, the word decides what is learnt."""
        stages = (Stage(CUP, 0.0, 295.15), Stage(Vessel.film(), 900.0, 295.15))
        seen_s = follow(LAW, stages, **BATCH).gel_s
        gelled = learn(CALIBRATION, "gelled", seen_s, stages, **BATCH).calibration
        stringy = learn(CALIBRATION, "stringy", seen_s, stages, **BATCH).calibration
        assert gelled.kinetics.k_ref_per_s == pytest.approx(LAW.k_ref_per_s, rel=0.01)
        assert stringy.kinetics.k_ref_per_s < 0.95 * gelled.kinetics.k_ref_per_s

    @pytest.mark.parametrize(
        ("word", "seen_s", "said"),
        [
            ("thickening", 1500.0, "sooner than predicted"),
            ("gelled", 3000.0, "later than predicted"),
            ("runny", 2600.0, "beyond the predicted thickening"),
        ],
    )
    def test_it_says_what_it_learnt(self, word, seen_s, said):
        assert said in learn(CALIBRATION, word, seen_s, STAGES, **BATCH).words[0]

    def test_the_unbelievable_is_doubted_aloud(self):
        after = learn(CALIBRATION, "gelled", 300.0, STAGES, **BATCH)
        assert after.surprise < -3.0
        assert "check mass, ratio and temperatures" in after.words[1]

    def test_impossible_times_are_refused(self):
        with pytest.raises(RangeError, match="time of the observation"):
            learn(CALIBRATION, "gelled", 0.0, STAGES, **BATCH)

    def test_a_film_limit_is_learnt_with_the_rest(self):
        calibration = calibrate(sheet(WARM, films=(FilmPoint(7200.0, 298.15),)))
        stages = (Stage(CUP, 0.0, 295.15), Stage(Vessel.film(), 900.0, 295.15))
        before = follow_band(calibration, stages, **BATCH)
        after = follow_band(learn(calibration, "thickening", 6000.0, stages, **BATCH).calibration, stages, **BATCH)
        assert after.open_s.high / after.open_s.low < before.open_s.high / before.open_s.low
        assert after.course.open_s < before.course.open_s


class TestEarlyCup:
    """What an early cup says of the resin, and so of the film: nearly as much as of the next cup."""

    @pytest.mark.parametrize("stated", [WARM, replace(WARM, time_s=7200.0, mass_g=150.0)])
    @pytest.mark.parametrize("ratio", [None, 3.0, 4.0])
    @pytest.mark.parametrize("factor", [0.7, 1.3])
    def test_a_films_clock_moves_within_ten_points_of_the_next_cups(self, stated, ratio, factor):
        films = (FilmPoint(ratio * stated.time_s, 298.15),) if ratio else ()
        calibration = calibrate(sheet(stated, films=films))
        before = self.times_s(calibration)
        after = self.times_s(learn(calibration, "thickening", factor * before[0], STAGES, **BATCH).calibration)
        cup, film = (later / earlier - 1.0 for later, earlier in zip(after, before, strict=True))
        assert abs(cup) > 0.15
        assert abs(film) > 0.10
        assert film == pytest.approx(cup, abs=0.10)

    def times_s(self, calibration):
        """Return how long such a cup and a film live."""
        law = calibration.kinetics
        return predict(law, CUP, ambient=295.15, **BATCH).working_s, film_life_s(law, 295.15)

    def test_cup_and_film_share_what_their_stated_times_share(self):
        """Independent: two log-normal times with 11 % in common and 10 % each of their own, as a normal of two."""
        calibration = calibrate(sheet(WARM, films=(FilmPoint(5400.0, 298.15),)))
        at = {"mass_g": 100.0, "start_K": 298.15}
        stages = (Stage(CUP, 0.0, 298.15),)
        exact = replace(calibration, uncertainty=replace(calibration.uncertainty, mix_temperature_K=0.0, mass_log=0.0))
        law = learn(exact, "thickening", 1800.0 * 0.9, stages, **at).calibration.kinetics
        film_warm = 0.7 * 56000.0 / 8.314462618 / 298.15**2  # the sheet's test, 0.7 K off
        cup_warm = film_warm * 1.1
        variance = 0.11**2 + cup_warm**2 + 0.10**2 + 0.10**2
        cup_log = predict(law, CUP, ambient=298.15, **at).working_s / 1800.0
        film_log = film_life_s(law, 298.15) / 5400.0
        assert log(cup_log) == pytest.approx(log(0.9) * (variance - 0.10**2) / variance, abs=0.004)
        assert log(film_log) == pytest.approx(log(0.9) * (0.11**2 + film_warm * cup_warm) / variance, abs=0.004)


class TestReadings:
    def test_measured_temperatures_take_the_place_of_the_models(self):
        """Readings as the model itself would give them change nothing."""
        course = follow(LAW, STAGES, **BATCH)
        readings = tuple((60.0 * i, course.at(60.0 * i)[1]) for i in range(1, 25))
        measured = follow(LAW, with_readings(CUP, 295.15, readings, start_K=295.15), **BATCH)
        assert measured.working_s == pytest.approx(course.working_s, rel=1e-3)

    def test_a_cup_found_hotter_has_less_time_left(self):
        course = follow(LAW, STAGES, **BATCH)
        hotter = ((1200.0, course.at(1200.0)[1] + 5.0),)
        measured = follow(LAW, with_readings(CUP, 295.15, hotter, start_K=295.15), **BATCH)
        assert measured.at(1200.0)[1] == pytest.approx(hotter[0][1])
        assert measured.working_s < course.working_s
        assert measured.open_s is None

    def test_without_readings_the_model_stands(self):
        assert with_readings(CUP, 295.15, (), start_K=295.15) == STAGES


@pytest.mark.parametrize("ahead", [-29.0, -5.0, -1.0, 0.0, 0.7, 3.0])
def test_what_is_still_to_come_shifts_and_narrows_as_a_truncated_normal(ahead):
    """Independent: scipy's truncated normal distribution, cut off below `-ahead`."""
    shift, shrink = _still_to_come(ahead)
    exact = truncnorm(-ahead, inf)
    assert shift == pytest.approx(exact.mean(), rel=1e-9)
    assert 1.0 - shrink == pytest.approx(exact.var(), rel=1e-4)
