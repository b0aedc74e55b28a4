"""Predicting and following: vessels, heat classes, histories, stages, and what is refused."""

from dataclasses import replace
from itertools import pairwise
from math import exp, inf

import pytest
from potlife_cases import PLAIN, WARM, calibrate_point, sheet
from scipy.integrate import solve_ivp

from layup.chemistry.calibration import calibrate
from layup.chemistry.film import film_life_s, remaining_s
from layup.chemistry.kinetics import Kinetics, conversion_after, reduced_time, stretch, unstretch
from layup.chemistry.life_band import predict_band
from layup.chemistry.prediction import Vessel, heat_class, heat_loss_of, middle_runs_away, predict, semenov
from layup.chemistry.stages import Stage, follow, follow_band
from layup.chemistry.temperature import corners, dose_s, temperature_at_K, time_of_dose_s
from layup.errors import RangeError

LAW = calibrate_point(1800.0, 100.0, 298.15)
SLOW = calibrate_point(8 * 3600.0, 100.0, 293.15)
CUP, FILM = Vessel.cup(), Vessel.film()


def life(law=LAW, vessel=CUP, mass_g=100.0, start_K=298.15, ambient=298.15, **more):
    return predict(law, vessel, mass_g=mass_g, start_K=start_K, ambient=ambient, **more)


class TestVessel:
    def test_a_cup_loses_heat_by_side_top_and_half_its_bottom(self):
        """By hand: 110 g at 1.10 g/cm3 is 100 cm3; 0.05 m wide it stands 50.93 mm high."""
        law = replace(PLAIN, k_ref_per_s=1e-4)
        area_m2 = 3.14159265 * 0.05 * 0.0509296 + 1.5 * 3.14159265 * 0.05**2 / 4
        resistance = 1 / 10 + 0.5 * (100e-6 / area_m2) / 0.2
        assert heat_loss_of(law, Vessel.cup(0.05), 110.0).tau_s == pytest.approx(
            110 * 1.9 * resistance / area_m2, rel=1e-6
        )

    def test_an_unmeasured_cup_is_as_wide_as_the_mix_stands_high(self):
        volume_m3 = 110.0 / 1.10 * 1e-6
        diameter_m = Vessel.cup().width_m(volume_m3)
        assert 4 * volume_m3 / (3.14159265 * diameter_m**2) == pytest.approx(diameter_m, rel=1e-7)

    def test_a_trays_loss_depends_on_its_depth_alone(self):
        law = Kinetics(1e-4)
        small, big = (heat_loss_of(law, Vessel.tray(0.01), mass_g) for mass_g in (50.0, 5000.0))
        assert small == pytest.approx(big, rel=1e-12)

    def test_a_film_has_no_time_constant(self):
        with pytest.raises(RangeError, match="film: has no heat of its own"):
            heat_loss_of(LAW, FILM, 100.0)

    def test_a_tray_needs_a_depth(self):
        with pytest.raises(RangeError, match="tray: needs the depth"):
            Vessel("tray")

    @pytest.mark.parametrize("make", [lambda: Vessel.tray(0.0), lambda: Vessel.cup(-0.1)])
    def test_sizes_are_above_zero(self, make):
        with pytest.raises(RangeError, match="must be above 0"):
            make()


class TestLife:
    def test_the_classes_of_heat(self):
        assert life().heat_class == "runaway"
        assert life(SLOW, mass_g=50.0, start_K=288.15, ambient=288.15).heat_class == "warm"
        assert life(SLOW, mass_g=100.0, start_K=296.15, ambient=296.15).heat_class == "hot"
        assert life(vessel=FILM).heat_class == "warm"

    @pytest.mark.parametrize(
        ("psi", "peak_K", "expected"),
        [
            (0.2, 300.0, "warm"),
            (0.4, 300.0, "hot"),
            (0.2, 334.0, "hot"),
            (0.56, 300.0, "runaway"),
            (0.2, 374.0, "runaway"),
        ],
    )
    def test_the_edges_of_the_classes(self, psi, peak_K, expected):
        assert heat_class(psi, peak_K) == expected

    def test_the_peak_never_exceeds_the_bound(self):
        result = life(mass_g=2000.0)
        assert result.peak_K < result.bound_K == pytest.approx(298.15 + 430 / 1.9)

    def test_near_the_edge_a_little_more_speed_makes_the_peak_leap(self):
        """Which is why people are told the class and not the degrees."""
        laws = [replace(SLOW, k_ref_per_s=SLOW.k_ref_per_s * factor) for factor in (0.85, 1.0, 1.15)]
        peaks_K = [life(law, start_K=297.15, ambient=297.15).peak_K for law in laws]
        assert all(later_K - before_K > 25.0 for before_K, later_K in pairwise(peaks_K))

    def test_a_start_past_a_limit_leaves_no_time_to_it(self):
        result = life(conversion_start=0.5)
        assert result.working_s == 0.0
        assert 0.0 < result.gel_s < life().gel_s

    def test_a_hot_start_that_only_cools_has_its_peak_at_the_start(self):
        result = life(SLOW, Vessel.tray(0.001), start_K=330.0, ambient=285.0)
        assert (result.peak_K, result.peak_s) == (330.0, 0.0)

    def test_a_thin_tray_carried_from_the_heat_into_the_cold_is_followed(self):
        """Its steps are long while it is hot, and the cold falls into one of them."""
        law = calibrate_point(4914.0, 100.0, 295.0, kinetics=Kinetics(1.0, 71e3, 200.0, a0=0.125))
        carried = ((39.0, 310.0), (69.0, 279.0), (2019.0, 282.0), (2306.0, 294.5))
        found = [
            life(law, Vessel.tray(depth_m), start_K=279.0, ambient=carried) for depth_m in (0.001, 0.001001, 0.0011)
        ]
        assert found[0].working_s == pytest.approx(found[1].working_s, rel=1e-3)
        assert found[0].working_s > found[2].working_s

    def test_a_films_peak_is_the_hottest_the_part_gets(self):
        result = life(vessel=FILM, ambient=((0.0, 290.0), (600.0, 305.0), (1200.0, 295.0)))
        assert (result.peak_K, result.peak_s) == (305.0, 600.0)

    def test_only_a_film_has_an_open_time(self):
        assert life().open_s is None
        law = replace(LAW, conversion_open=0.25)
        film = life(law, FILM)
        assert film.open_s == pytest.approx(film_life_s(law, 298.15))
        assert film.open_s < film.working_s

    @pytest.mark.parametrize(
        ("change", "named"),
        [
            ({"mass_g": 0.0}, "mass of mix"),
            ({"mass_g": float("nan")}, "mass of mix"),
            ({"start_K": 20.0}, "start temperature"),
            ({"ambient": 20.0}, "temperature"),
            ({"ambient": ()}, "temperature history: is empty"),
            ({"ambient": ((0.0, 290.0), (0.0, 291.0))}, "does not run forward"),
            ({"ambient": ((0.0, 290.0), (5.0, float("inf")))}, "temperature"),
            ({"conversion_start": 1.0}, "conversion at the start"),
            ({"conversion_start": -0.1}, "conversion at the start"),
        ],
    )
    def test_impossible_questions_are_refused_by_name(self, change, named):
        with pytest.raises(RangeError, match=named):
            life(**change)

    @pytest.mark.parametrize(
        ("change", "named"),
        [
            ({"k_ref_per_s": 0.0}, "rate constant"),
            ({"a0": 0.0}, "a0"),
            ({"n": 0.0}, "n: is out of range"),
            ({"conversion_working": 0.6}, "gel conversion: comes before the working limit"),
            ({"conversion_open": 1.0}, "open conversion"),
            ({"heat_J_g": -1.0}, "heat of reaction"),
        ],
    )
    def test_impossible_laws_are_refused_by_name(self, change, named):
        with pytest.raises(RangeError, match=named):
            replace(LAW, **change)


class TestSemenov:
    def test_twice_the_rate_is_twice_the_number(self):
        fast = replace(LAW, k_ref_per_s=2 * LAW.k_ref_per_s)
        assert semenov(fast, CUP, 100.0, 298.15) == pytest.approx(2 * semenov(LAW, CUP, 100.0, 298.15))

    def test_past_its_fastest_conversion_a_mix_is_less_dangerous(self):
        assert semenov(LAW, CUP, 100.0, 298.15, 0.6) < semenov(LAW, CUP, 100.0, 298.15, 0.1)

    @pytest.mark.parametrize(
        ("vessel", "half_m", "critical"), [(Vessel.cup(0.08), 0.04, 2.0), (Vessel.tray(0.03), 0.015, 0.878458)]
    )
    def test_how_near_the_middle_is_to_running_away_by_hand(self, vessel, half_m, critical):
        """Frank-Kamenetskii's delta, Ea/(R T^2) dH rho k max f r^2/k_th, over 2 for a cylinder, 0.878 for a slab."""
        fastest = max((0.05 + i / 1000) * (1 - i / 1000) ** 2 for i in range(1000))
        heat_W_m3 = 430.0 * 1.10e6 * LAW.k_ref_per_s * exp(-56000 / 8.314462618 * (1 / 303.15 - 1 / 298.15)) * fastest
        delta = 56000 / (8.314462618 * 303.15**2) * heat_W_m3 * half_m**2 / 0.2
        assert middle_runs_away(LAW, vessel, 250.0, 303.15) == pytest.approx(delta / critical, rel=1e-5)

    def test_the_middle_of_a_thin_tray_stays_as_cool_as_its_skin(self):
        assert middle_runs_away(LAW, Vessel.tray(0.002), 100.0, 298.15) < 0.1
        assert middle_runs_away(LAW, CUP, 500.0, 298.15) > 1.0
        with pytest.raises(RangeError, match="film: has no middle"):
            middle_runs_away(LAW, FILM, 100.0, 298.15)


class TestHistory:
    HISTORY = ((100.0, 290.0), (200.0, 300.0), (400.0, 280.0))

    @pytest.mark.parametrize(
        ("time_s", "temperature_K"),
        [(-5.0, 290.0), (100.0, 290.0), (150.0, 295.0), (200.0, 300.0), (300.0, 290.0), (400.0, 280.0), (9e9, 280.0)],
    )
    def test_a_history_is_straight_between_its_points_and_held_beyond_them(self, time_s, temperature_K):
        assert temperature_at_K(self.HISTORY, time_s) == pytest.approx(temperature_K)

    def test_its_corners_hold_its_hottest_and_coldest(self):
        found = corners(self.HISTORY, from_s=150.0, until_s=1000.0)
        assert found == ((150.0, 295.0), (200.0, 300.0), (400.0, 280.0), (1000.0, 280.0))

    @pytest.mark.parametrize("wanted_s", [0.0, 50.0, 130.0, 200.0, 1000.0])
    def test_the_time_of_a_dose_gives_the_dose_back(self, wanted_s):
        time_s = time_of_dose_s(self.HISTORY, 55000.0, wanted_s, from_s=20.0)
        assert dose_s(self.HISTORY, 55000.0, from_s=20.0, until_s=time_s) == pytest.approx(wanted_s, abs=1e-8)

    def test_time_does_not_run_backwards(self):
        with pytest.raises(RangeError, match="end of the history"):
            dose_s(290.0, 55000.0, from_s=10.0, until_s=5.0)

    def test_a_history_may_begin_before_the_mix(self):
        early = ((-600.0, 280.0), (600.0, 300.0))
        late = ((0.0, 290.0), (600.0, 300.0))
        assert life(ambient=early).working_s == pytest.approx(life(ambient=late).working_s, rel=1e-9)


class TestReducedTime:
    @pytest.mark.parametrize(("m", "n"), [(1.0, 2.0), (1.0, 1.5), (0.7, 2.3), (2.0, 1.0)])
    @pytest.mark.parametrize("conversion", [0.0, 0.01, 0.35, 0.577, 0.95])
    def test_conversion_after_undoes_it(self, m, n, conversion):
        law = Kinetics(1.0, m=m, n=n)
        assert conversion_after(law, reduced_time(law, conversion)) == pytest.approx(conversion, abs=1e-9)

    def test_the_closed_form_is_the_quadrature(self):
        """The default law by quadrature, a hair from its order, against the closed form."""
        near = Kinetics(1.0, n=2.0 + 1e-12)
        assert reduced_time(near, 0.8) == pytest.approx(reduced_time(Kinetics(1.0), 0.8), rel=1e-9)

    def test_the_integration_variable_is_undone(self):
        for conversion in (0.0, 0.2, 0.999):
            assert unstretch(stretch(conversion, 0.05), 0.05) == pytest.approx(conversion, abs=1e-12)

    def test_the_fastest_conversion_is_where_the_rate_is_greatest(self):
        for law in (Kinetics(1.0), Kinetics(1.0, m=1.4, n=1.7), Kinetics(1.0, m=0.0, n=1.0)):
            best = law.fastest_conversion()
            assert all(law.shape(best) >= law.shape(i / 1000) - 1e-12 for i in range(1000))

    def test_what_is_left_of_a_film(self):
        whole_s = film_life_s(LAW, 290.0)
        assert remaining_s(LAW, 0.0, 290.0) == pytest.approx(whole_s)
        assert remaining_s(LAW, 1e9, 290.0) == 0.0
        with pytest.raises(RangeError, match="dose"):
            remaining_s(LAW, -1.0, 290.0)
        assert film_life_s(LAW, 290.0, conversion_start=0.9) == 0.0


class TestCourse:
    POURED = (Stage(CUP, 0.0, 298.15), Stage(FILM, 900.0, 293.15))

    def test_pouring_in_time_buys_time(self):
        course = follow(LAW, self.POURED, mass_g=200.0, start_K=298.15)
        cup = life(mass_g=200.0)
        assert course.working_s > 3 * cup.working_s
        assert course.working_s < course.open_s < course.gel_s
        closing = replace(LAW, conversion_open=LAW.conversion_working)
        at_thickening = follow(closing, self.POURED, mass_g=200.0, start_K=298.15)
        assert at_thickening.open_s == at_thickening.working_s

    def test_conversion_is_kept_and_temperature_is_the_parts(self):
        course = follow(LAW, self.POURED, mass_g=200.0, start_K=298.15)
        before, after = course.at(900.0 - 1e-6), course.at(900.0)
        assert after[0] == pytest.approx(before[0], abs=1e-8)
        assert before[1] > 300.0
        assert after[1] == 293.15

    def test_from_film_back_into_a_tray_the_temperature_is_kept(self):
        stages = (Stage(FILM, 0.0, 310.0), Stage(Vessel.tray(0.01), 300.0, 290.0))
        course = follow(LAW, stages, mass_g=200.0, start_K=298.15)
        assert course.at(300.0)[1] == pytest.approx(310.0)
        assert course.open_s is None

    def test_one_stage_is_what_predict_says(self):
        course, alone = (
            follow(LAW, (Stage(CUP, 0.0, 290.0),), mass_g=150.0, start_K=295.0),
            life(mass_g=150.0, start_K=295.0, ambient=290.0),
        )
        assert (course.working_s, course.gel_s, course.peak_K) == (alone.working_s, alone.gel_s, alone.peak_K)

    def test_a_limit_passed_in_the_cup_is_not_moved_by_pouring(self):
        late = (Stage(CUP, 0.0, 298.15), Stage(FILM, 1810.0, 293.15))
        course = follow(replace(LAW, conversion_open=LAW.conversion_working), late, mass_g=100.0, start_K=298.15)
        assert course.working_s == pytest.approx(1800.0, rel=1e-5)
        assert course.open_s == 1810.0
        assert course.gel_s > 1817.1

    def test_the_hottest_a_batch_gets_may_be_on_the_part(self):
        part = ((900.0, 293.15), (1500.0, 333.15), (2100.0, 290.15))
        course = follow(LAW, (Stage(CUP, 0.0, 288.15), Stage(FILM, 900.0, part)), mass_g=50.0, start_K=288.15)
        assert course.gel_s > 1500.0
        assert course.peak_K == 333.15

    def test_samples_span_the_course(self):
        course = follow(LAW, self.POURED, mass_g=200.0, start_K=298.15, until_s=20000.0)
        samples = course.samples(50)
        assert (samples[0][0], samples[-1][0]) == (0.0, 20000.0)
        assert all(later[1] >= before[1] for before, later in pairwise(samples))

    def test_a_cup_followed_for_long_cools_to_the_shop(self):
        course = follow(LAW, (Stage(CUP, 0.0, 290.0),), mass_g=100.0, start_K=298.15, until_s=12 * 3600.0)
        assert course.at(12 * 3600.0)[1] == pytest.approx(290.0, abs=0.5)
        hot = course.at(3600.0)
        loss = heat_loss_of(LAW, CUP, 100.0)
        cooled = solve_ivp(
            lambda _, x: -x * (1.0 + loss.growth_per_K * x) / loss.tau_s, (0.0, loss.tau_s), [hot[1] - 290.0], rtol=1e-9
        )
        assert course.at(3600.0 + loss.tau_s)[1] - 290.0 == pytest.approx(cooled.y[0, -1], rel=0.02)

    def test_beyond_its_end_a_course_says_nothing(self):
        course = follow(LAW, self.POURED, mass_g=200.0, start_K=298.15)
        with pytest.raises(RangeError, match=r"time on the course: is out of range .* until_s"):
            course.at(course.end_s + 1.0)

    def test_stages_come_in_order_and_there_is_one(self):
        with pytest.raises(RangeError, match="course: has no stage"):
            follow(LAW, (), mass_g=100.0, start_K=298.15)
        with pytest.raises(RangeError, match="course: goes back in time"):
            follow(LAW, (Stage(CUP, 10.0, 290.0), Stage(FILM, 5.0, 290.0)), mass_g=100.0, start_K=298.15)

    def test_its_band_is_predicts_for_one_stage(self):
        calibration = calibrate(sheet(WARM))
        alone = predict_band(calibration, CUP, mass_g=150.0, start_K=290.0, ambient=288.0)
        banded = follow_band(calibration, (Stage(CUP, 0.0, 288.0),), mass_g=150.0, start_K=290.0)
        assert banded.working_s.low == pytest.approx(alone.working_s.low, rel=1e-4)
        assert banded.gel_s.high == pytest.approx(alone.gel_s.high, rel=1e-4)
        assert banded.open_s is None

    def test_the_open_time_of_a_poured_batch_has_a_band(self):
        banded = follow_band(calibrate(sheet(WARM)), self.POURED, mass_g=200.0, start_K=298.15)
        assert banded.open_s.low < banded.course.open_s < banded.open_s.high < inf
