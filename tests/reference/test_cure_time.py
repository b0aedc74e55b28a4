"""Gel, glass transition and time to demould, against published values and independent computations."""

from math import exp, inf, sqrt

import numpy as np
import pytest
from cure_by_scipy import scipy_demould_s
from scipy.integrate import quad

from layup.chemistry.cure import (
    demould_time_s,
    gel_conversion,
    glass_transition_K,
    heated_mould,
    heating_plans,
    post_cure_ramp,
)
from layup.chemistry.cure_course import Glass, Setting, set_on_part
from layup.chemistry.datasheet import CurePoint, MakersClock
from layup.chemistry.kinetics import Kinetics, conversion_after

HOUR = 3600.0
SLOW = Setting(Kinetics(3.2e-4), Glass(355.15))
STATED = (CurePoint(36 * HOUR, 291.15), CurePoint(24 * HOUR, 296.15), CurePoint(6 * HOUR, 318.15))


@pytest.mark.parametrize(("f", "g", "conversion"), [(2, 4, 0.57735), (2, 5, 0.5), (2, 6, 0.44721)])
def test_gel_conversions_of_a_diepoxide_are_florys(f, g, conversion):
    """Flory, Principles of Polymer Chemistry (1953), chapter 9: 1/sqrt((f-1)(g-1))."""
    assert gel_conversion(f, g) == pytest.approx(conversion, abs=5e-6)


def test_real_gels_come_later_than_florys():
    """Published band 0.55 to 0.65 for a diepoxide with a diamine holds the ideal value at its low end."""
    assert 0.55 <= gel_conversion(2, 4) <= 0.65


def test_an_unequal_mix_gels_later_by_the_root_of_its_ratio():
    """Flory (1953), chapter 9: 1/sqrt(r (f-1)(g-1))."""
    assert gel_conversion(2, 4, 0.8) == pytest.approx(1 / sqrt(0.8 * 3), rel=1e-12)


def test_a_diepoxide_with_a_third_of_its_diamine_gels_only_at_full_conversion():
    """Flory (1953), chapter 9: for f = 2, g = 4 there is no gel below r = 1/3."""
    assert gel_conversion(2, 4, 1 / 3) == pytest.approx(1.0, rel=1e-12)


@pytest.mark.parametrize(("conversion", "celsius"), [(0.5, 11.429), (0.8, 47.692), (0.9, 66.087)])
def test_glass_transition_follows_dibenedetto(conversion, celsius):
    """DiBenedetto's equation, computed by hand for Tg0 -20 C, Tg1 90 C, lambda 0.4 (formula check)."""
    assert glass_transition_K(conversion, 253.15, 363.15, 0.4) - 273.15 == pytest.approx(celsius, abs=5e-4)


def test_pure_bisphenol_epoxy_starts_at_its_published_glass_transition():
    """Pure DGEBA: -22 C (published value); at no conversion the equation returns its first constant."""
    assert glass_transition_K(0.0, 251.15, 400.0) == 251.15


def test_the_reaction_runs_at_half_its_rate_at_the_stated_lead():
    """1/k = 1/k_chem + 1/k_diff (Rabinowitch 1937): equal constants give half the rate."""
    glass = Glass(355.15, half_rate_lead_K=10.0)
    conversion = 0.8
    assert glass.mobility()(conversion, glass.transition_K(conversion) - 10.0) == pytest.approx(0.5, rel=1e-9)


def test_ten_kelvin_in_the_glass_cost_the_factor_of_the_modified_wlf_equation():
    """ln k_diff falls by C x/(S + x), C 42.5 and S 51.6 K (Simon and Gillham 1993, constants from memory)."""
    glass = Glass(355.15, half_rate_lead_K=0.0)
    left = glass.mobility()(0.8, glass.transition_K(0.8) - 10.0)
    assert left / (1 - left) == pytest.approx(exp(-42.5 * 10 / 61.6), rel=1e-9)


def test_a_week_in_a_cold_shop_leaves_the_glass_transition_ten_to_twenty_five_kelvin_ahead():
    """Cold-cured epoxies end 10 to 25 K above the temperature of their cure (from memory: a band)."""
    for celsius in (12.0, 18.0, 25.0, 40.0):
        assert 10.0 <= set_on_part(SLOW, celsius + 273.15, until_s=7 * 24 * HOUR).end.lead_K <= 25.0


def test_far_above_its_glass_transition_the_resin_follows_the_closed_form_of_the_pot_life():
    """Independent: the isothermal closed form G(a) = k t of the same rate law, without a glass."""
    kinetics = Kinetics(3.2e-4)
    hot = Setting(kinetics, Glass(355.15))
    for time_s in (60.0, 600.0, 1500.0):
        reduced = kinetics.rate_constant_per_s(373.15) * time_s
        assert set_on_part(hot, 373.15, until_s=time_s).end.conversion == pytest.approx(
            conversion_after(kinetics, reduced), rel=1e-7
        )


def test_time_to_vitrify_agrees_with_a_quadrature():
    """Independent: t = integral of da/rate (scipy quad) up to the conversion whose Tg is 10 K above the mould."""
    mould_K = 293.15
    end = SLOW.glass.conversion_at(mould_K + 10.0)
    expected, _ = quad(
        lambda a: 1.0 / (SLOW.kinetics.rate_per_s(a, mould_K) * SLOW.glass.mobility()(a, mould_K)),
        0.0,
        end,
        epsrel=1e-11,
        limit=200,
    )
    assert demould_time_s(SLOW, mould_K) == pytest.approx(expected, rel=1e-6)


HISTORIES = {
    "steady": ((0.0, 293.15),),
    "cold night": ((0.0, 291.15), (6 * HOUR, 285.15), (12 * HOUR, 279.15), (18 * HOUR, 283.15), (24 * HOUR, 290.15)),
    "heater in the morning": (
        (0.0, 288.15),
        (10 * HOUR, 283.15),
        (12 * HOUR, 318.15),
        (20 * HOUR, 318.15),
        (22 * HOUR, 293.15),
    ),
    "stages": ((0.0, 293.15), (12 * HOUR, 293.15), (12 * HOUR + 60, 318.15)),
    "sawtooth": tuple((i * 2 * HOUR, 290.15 + (8.0 if i % 2 else 0.0)) for i in range(30)),
}


@pytest.mark.parametrize("name", HISTORIES)
@pytest.mark.parametrize("points", [(), STATED[1:2], STATED], ids=["no stated time", "one", "three"])
def test_earliest_demould_under_a_logged_history_agrees_with_an_independent_integration(name, points):
    """Independent: scipy Radau on the equations written out in this file; 0.1 % is asked, one in a million kept."""
    setting = Setting(Kinetics(3.2e-4), Glass(355.15), MakersClock(points))
    assert demould_time_s(setting, HISTORIES[name]) == pytest.approx(
        scipy_demould_s(setting, HISTORIES[name]), rel=1e-6
    )


def test_earliest_demould_of_a_mix_that_comes_half_set_from_its_cup_agrees_too():
    """Independent: scipy Radau, from a conversion of 0.3."""
    expected = scipy_demould_s(SLOW, HISTORIES["cold night"], start=0.3)
    assert demould_time_s(SLOW, HISTORIES["cold night"], conversion_start=0.3) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("point", STATED)
def test_at_the_makers_temperature_the_part_waits_exactly_for_the_makers_time(point):
    """The clock passes through every stated point, by construction."""
    setting = Setting(Kinetics(3.2e-4), Glass(355.15), MakersClock(STATED))
    assert demould_time_s(setting, point.temperature_K) == pytest.approx(point.time_s, rel=1e-9)


def test_a_day_near_freezing_does_not_even_gel_it():
    """O. Moussa et al., Int. J. Adhesion & Adhesives 35 (2012) 9: at 0 C the cure hardly starts."""
    assert set_on_part(SLOW, 273.15, until_s=24 * HOUR).end.conversion < gel_conversion(2, 4)
    assert set_on_part(SLOW, 293.15, until_s=24 * HOUR).end.lead_K > 10.0


def test_full_cure_needs_heat():
    """Common practice, no source: a cold-cured laminate reaches its datasheet Tg only after a post-cure."""
    assert set_on_part(SLOW, 293.15, until_s=14 * 24 * HOUR).fully_cured_s() == inf
    assert set_on_part(SLOW, 338.15, until_s=14 * 24 * HOUR).fully_cured_s() < 8 * HOUR


def test_a_post_cure_of_eight_hours_at_sixty_degrees_finishes_the_cure():
    """Common practice, no source: 8 h at 60 C after a day in the shop, ramped so that the part stays a glass."""
    day = set_on_part(SLOW, 293.15, until_s=24 * HOUR).end.conversion
    ramp = post_cure_ramp(SLOW, conversion_start=day, start_K=293.15, target_K=333.15, hold_s=8 * HOUR)
    course = set_on_part(SLOW, ramp, until_s=ramp[-1][0], conversion_start=day)
    assert course.fully_cured_s() < ramp[-1][0]
    assert min(course.at(float(t)).lead_K for t in np.linspace(0.0, ramp[-1][0], 400)) > 4.99


def test_a_post_cure_climbs_in_the_fewest_steps_of_at_most_five_kelvin():
    """Common practice, no source: 5 K at 20 K an hour; a resin whose glass is far ahead waits nowhere."""
    ramp = post_cure_ramp(SLOW, conversion_start=0.98, start_K=293.15, target_K=305.15, hold_s=HOUR)
    assert [kelvin for _, kelvin in ramp] == pytest.approx([293.15, 297.15, 301.15, 305.15, 305.15])
    assert [time_s for time_s, _ in ramp] == pytest.approx([0.0, 720.0, 1440.0, 2160.0, 2160.0 + HOUR])
    assert len(post_cure_ramp(SLOW, conversion_start=0.98, start_K=293.15, target_K=303.15, hold_s=HOUR)) == 4


def test_moulds_are_tried_every_five_degrees_up_to_fifty():
    """What blankets and heaters in a shed reach and cores stand, 20 to 50 C: common practice, no source."""
    setting = Setting(Kinetics(3.2e-4), Glass(355.15), MakersClock(STATED))
    plans = heating_plans(setting, 279.15, by_s=48 * HOUR)
    assert [plan.mould_K - 273.15 for plan in plans] == pytest.approx([20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0])


def test_a_heated_mould_warms_at_twenty_kelvin_an_hour():
    """Common practice, no source: 20 K an hour."""
    mould = heated_mould(280.15, 320.15, 3 * HOUR)
    assert [time_s for time_s, _ in mould] == pytest.approx([0.0, 2 * HOUR, 5 * HOUR, 7 * HOUR])
