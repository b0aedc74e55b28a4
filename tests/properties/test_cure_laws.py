"""Laws that every cure on the part obeys, and what is refused."""

from itertools import pairwise
from math import inf, isfinite

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from layup.chemistry.calibration import calibrate
from layup.chemistry.cure import (
    HOURLY_K,
    POST_CURE_AHEAD_K,
    demould_time_s,
    gel_conversion,
    glass_transition_K,
    heated_mould,
    heating_plans,
    post_cure_ramp,
)
from layup.chemistry.cure_course import Glass, Setting, set_on_part
from layup.chemistry.datasheet import Component, CurePoint, Datasheet, MakersClock, PotLifePoint
from layup.chemistry.demould import demould, setting_of
from layup.chemistry.kinetics import Kinetics
from layup.chemistry.observation import learn
from layup.chemistry.prediction import Vessel
from layup.chemistry.stages import Stage
from layup.chemistry.temperature import temperature_at_K
from layup.errors import RangeError

HOUR = 3600.0
few = settings(max_examples=25, deadline=None)

glasses = st.builds(
    Glass,
    cured_K=st.floats(330.0, 400.0),
    uncured_K=st.floats(220.0, 260.0),
    shape=st.floats(0.25, 0.6),
    half_rate_lead_K=st.floats(2.0, 20.0),
)
kinetics = st.builds(Kinetics, k_ref_per_s=st.floats(5e-5, 2e-3), activation_energy_J_mol=st.floats(40_000.0, 70_000.0))
clocks = st.sampled_from(
    [
        MakersClock(),
        MakersClock((CurePoint(24 * HOUR, 296.15),)),
        MakersClock((CurePoint(24 * HOUR, 296.15), CurePoint(6 * HOUR, 318.15))),
    ]
)
resins = st.builds(Setting, kinetics=kinetics, glass=glasses, clock=clocks)


@st.composite
def moulds(draw):
    """Draw a mould's history of one to five points."""
    gaps = draw(st.lists(st.floats(600.0, 6 * HOUR), min_size=0, max_size=4))
    times = [0.0]
    for gap in gaps:
        times.append(times[-1] + gap)
    return tuple((time_s, draw(st.floats(275.0, 325.0))) for time_s in times)


@few
@given(glasses, st.floats(0.0, 1.0))
def test_glass_transition_and_conversion_are_each_others_inverse(glass, conversion):
    transition_K = min(max(glass.transition_K(conversion), glass.uncured_K), glass.cured_K)
    assert glass.conversion_at(transition_K) == pytest.approx(conversion, abs=1e-9)


@few
@given(glasses, st.floats(0.0, 0.98), st.floats(250.0, 400.0))
def test_more_conversion_leaves_less_mobility(glass, conversion, temperature_K):
    less, more = glass.mobility()(conversion + 0.02, temperature_K), glass.mobility()(conversion, temperature_K)
    assert 0.0 < less <= more <= 1.0


@few
@given(resins, moulds())
def test_conversion_only_grows_and_stays_below_one(resin, mould):
    course = set_on_part(resin, mould, until_s=48 * HOUR)
    seen = [course.at(48 * HOUR * (i / 40)).conversion for i in range(41)]
    assert all(before <= after + 1e-9 for before, after in pairwise(seen))
    assert seen[0] >= 0.0
    assert seen[-1] < 1.0


@few
@given(resins, moulds(), st.floats(0.05, 0.95))
def test_a_history_split_anywhere_gives_the_same_answer(resin, mould, share):
    whole = set_on_part(resin, mould, until_s=30 * HOUR).end
    middle_s = share * 30 * HOUR
    first = set_on_part(resin, mould, until_s=middle_s).end
    second = set_on_part(resin, mould, until_s=30 * HOUR, from_s=middle_s, conversion_start=first.conversion).end
    assert second.conversion == pytest.approx(whole.conversion, abs=1e-7)
    assert first.age + second.age == pytest.approx(whole.age, rel=1e-6, abs=1e-9)


@few
@given(resins, moulds(), st.floats(24.0, 400.0))
@example(Setting(Kinetics(3e-4), Glass(355.15)), ((0.0, 293.0), (10 * HOUR, 303.0)), 294.0)  # meets time 0 at -1 K
def test_when_the_clock_was_started_changes_nothing(resin, mould, hours):
    late_s = hours * HOUR
    early = set_on_part(resin, mould, until_s=30 * HOUR).end
    late = set_on_part(resin, tuple((t + late_s, T) for t, T in mould), from_s=late_s, until_s=late_s + 30 * HOUR).end
    assert late.conversion == pytest.approx(early.conversion, abs=1e-7)
    assert late.age == pytest.approx(early.age, rel=1e-6, abs=1e-9)


@few
@given(resins, moulds(), st.floats(0.5, 10.0))
def test_a_warmer_mould_never_leaves_less_conversion_or_age(resin, mould, warmer_K):
    cold = set_on_part(resin, mould, until_s=30 * HOUR).end
    warm = set_on_part(resin, tuple((t, T + warmer_K) for t, T in mould), until_s=30 * HOUR).end
    assert warm.conversion >= cold.conversion - 1e-9
    assert warm.age >= cold.age


@few
@given(resins, moulds())
def test_all_conditions_hold_at_demoulding_and_one_fails_just_before(resin, mould):
    ready_s = demould_time_s(resin, mould, until_s=200 * HOUR)
    course = set_on_part(resin, mould, until_s=200 * HOUR)

    def ready(time_s):
        moment = course.at(time_s)
        gelled = (moment.conversion - resin.kinetics.conversion_gel - 0.03) * 100
        return min(moment.lead_K - 10.0, gelled, (moment.age - 1.0) * 100 if resin.clock.points else inf)

    if isfinite(ready_s):
        assert ready(ready_s) >= -1e-4
        assert ready(max(ready_s - 30.0, 0.0)) < 0.0
    else:
        assert all(ready(200 * HOUR * (i / 100)) < 0.0 for i in range(101))


@few
@given(resins, moulds(), st.floats(0.0, 0.5))
def test_asking_for_more_glass_or_starting_with_less_conversion_is_never_quicker(resin, mould, start):
    def at(lead_K, conversion_start):
        return demould_time_s(resin, mould, lead_K=lead_K, conversion_start=conversion_start, until_s=200 * HOUR)

    assert at(10.0, start) <= at(15.0, start) + 1.0
    assert at(10.0, start) <= at(10.0, 0.0) + 1.0


@few
@given(st.floats(280.0, 320.0), st.floats(0.5, 100.0), st.floats(0.5, 100.0))
def test_the_makers_clock_runs_faster_on_a_warmer_mould(temperature_K, hours, warmer_K):
    clock = MakersClock((CurePoint(hours * HOUR, 296.15), CurePoint(hours * HOUR / 4.0, 318.15)))
    assert clock.rate_per_s(temperature_K + warmer_K) > clock.rate_per_s(temperature_K)
    assert clock.rate_per_s(296.15) * hours * HOUR == pytest.approx(1.0, rel=1e-12)


@few
@given(st.integers(2, 8), st.integers(3, 8), st.floats(0.6, 1.0))
def test_more_groups_gel_sooner_and_a_gap_in_the_ratio_later(f, g, r):
    assert gel_conversion(f + 1, g, r) < gel_conversion(f, g, r)
    assert gel_conversion(f, g, r) >= gel_conversion(f, g)


@few
@given(st.floats(275.0, 290.0), st.floats(300.0, 325.0), st.floats(900.0, 20 * HOUR))
def test_a_heated_mould_stays_between_shop_and_heat_and_moves_no_faster_than_moulds_do(shop_K, mould_K, hold_s):
    mould = heated_mould(((0.0, shop_K), (10 * HOUR, shop_K - 5.0)), mould_K, hold_s)
    steps = list(pairwise(mould))
    assert all(abs(after[1] - before[1]) <= HOURLY_K / HOUR * (after[0] - before[0]) + 1e-6 for before, after in steps)
    assert all(shop_K - 5.0 - 1e-6 <= kelvin <= mould_K for _, kelvin in mould)
    back_s = mould[3][0]
    assert mould[3][1] == pytest.approx(temperature_at_K(((0.0, shop_K), (10 * HOUR, shop_K - 5.0)), back_s))


@settings(max_examples=8, deadline=None)
@given(st.floats(278.0, 288.0), st.integers(12, 30))
def test_each_heating_plan_makes_it_and_a_quarter_of_an_hour_less_does_not(shop_K, hours):
    resin = Setting(Kinetics(3.2e-4), Glass(355.15), MakersClock((CurePoint(24 * HOUR, 296.15),)))
    plans = heating_plans(resin, shop_K, by_s=hours * HOUR, moulds_K=(303.15, 313.15, 323.15))
    assert [plan.mould_K for plan in plans] == sorted(plan.mould_K for plan in plans)
    for plan in plans:
        assert plan.demould_s <= hours * HOUR
        if plan.hold_s > 900.0:
            shorter = heated_mould(shop_K, plan.mould_K, plan.hold_s - 900.0)
            assert demould_time_s(resin, shorter, until_s=hours * HOUR) == inf


@settings(max_examples=10, deadline=None)
@given(st.floats(288.0, 298.0), st.floats(315.0, 340.0))
def test_a_post_cure_never_gets_ahead_of_the_glass(start_K, target_K):
    resin = Setting(Kinetics(3.2e-4), Glass(365.15))
    day = set_on_part(resin, start_K, until_s=48 * HOUR).end.conversion
    ramp = post_cure_ramp(resin, conversion_start=day, start_K=start_K, target_K=target_K, hold_s=HOUR)
    course = set_on_part(resin, ramp, until_s=ramp[-1][0], conversion_start=day)
    assert min(course.at(ramp[-1][0] * (i / 200)).lead_K for i in range(201)) >= POST_CURE_AHEAD_K - 0.01
    assert all(before[1] <= after[1] for before, after in pairwise(ramp))
    assert ramp[-1][1] == pytest.approx(target_K)


def invented_datasheet(**facts):
    return Datasheet(
        id="invented",
        title="Invented",
        chemistry="epoxy-amine",
        resin=Component("resin", 1.15, 178.0),
        hardener=Component("hardener", 0.97, 53.0),
        ratio=(100.0, 30.0),
        ratio_by="weight",
        pot_lives=(PotLifePoint(45 * 60.0, 150.0, 298.15),),
        **facts,
    )


@settings(max_examples=10, deadline=None)
@given(st.floats(280.0, 320.0), st.sampled_from([(), (CurePoint(24 * HOUR, 296.15),)]))
def test_the_band_holds_the_estimate_and_the_verdict_follows_it(mould_K, stated):
    sheet = invented_datasheet(demould=stated, glass_transition_K=355.15)
    calibration = calibrate(sheet)
    setting, words = setting_of(sheet, calibration.kinetics)
    ready = demould(setting, calibration, mould_K)
    assert ready.out_s.low < ready.out_s.likely < ready.out_s.high
    assert ready.out_s.likely == pytest.approx(max(ready.stated_s, ready.glass_s), rel=1e-6)
    assert ready.verdict(ready.out_s.high * 1.01) == "makes it"
    assert ready.verdict(ready.out_s.likely) == "may make it"
    assert ready.verdict(ready.out_s.low * 0.99) == "does not make it"
    assert words


@settings(max_examples=10, deadline=None)
@given(st.floats(272.0, 300.0), st.sampled_from([(), (CurePoint(24 * HOUR, 296.15),)]))
def test_a_part_that_would_soften_below_thirty_degrees_is_called_hard_and_not_cured(mould_K, stated):
    """Below 30 degC: common practice, no source."""
    sheet = invented_datasheet(demould=stated, glass_transition_K=355.15)
    calibration = calibrate(sheet)
    setting, _ = setting_of(sheet, calibration.kinetics)
    ready = demould(setting, calibration, mould_K)
    there = set_on_part(setting, mould_K, until_s=min(ready.out_s.likely, 14 * 24 * HOUR)).end
    # the minute out is a quadrature's, the course the integrator's: they differ by up to some mK of a glass transition
    assert ready.softens_K == pytest.approx(there.glass_transition_K, abs=0.01)
    soft = isfinite(ready.out_s.likely) and there.glass_transition_K < 303.15
    assert bool(ready.cautions) == soft
    assert all(f"at about {there.glass_transition_K - 273.15:.0f} °C" in words for words in ready.cautions[:1])


def test_hard_is_not_cured_in_a_cold_shop_and_cured_in_a_warm_one():
    """A glass ten kelvin above a mould of 10 degC goes soft at room temperature; above one of 23 degC it does not."""
    sheet = invented_datasheet(glass_transition_K=355.15)
    calibration = calibrate(sheet)
    setting, _ = setting_of(sheet, calibration.kinetics)
    cold, _ = demould(setting, calibration, 283.15).cautions
    assert cold.startswith("Hard is not cured: a part out then softens at about 20 °C")
    assert demould(setting, calibration, 296.15).cautions == ()


def test_a_witness_cup_that_gels_early_brings_the_glass_forward_and_a_late_one_puts_it_off():
    calibration = calibrate(invented_datasheet())
    stages = (Stage(Vessel.cup(), 0.0, 293.15),)

    def glass_s(learnt):
        setting, _ = setting_of(invented_datasheet(), learnt.kinetics)
        return demould(setting, learnt, 293.15)

    usual = glass_s(calibration)
    early, late = (
        glass_s(learn(calibration, "gelled", minutes * 60.0, stages, mass_g=150.0, start_K=293.15).calibration)
        for minutes in (50.0, 100.0)
    )
    assert early.glass_s < usual.glass_s < late.glass_s
    assert early.out_s.high / early.out_s.low < usual.out_s.high / usual.out_s.low


# -- what is refused, in a builder's words -----------------------------------------------------------------------------

SLOW = Setting(Kinetics(3.2e-4), Glass(355.15))


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: gel_conversion(1, 4), r"groups a molecule \(f\): is out of range \(1\) - must be between 2 and 100"),
        (lambda: gel_conversion(2, 1), r"groups a molecule \(g\): is out of range"),
        (lambda: gel_conversion(2, 4, 1.2), r"ratio of groups \(r\).*scarcer groups over the others"),
        (lambda: gel_conversion(2, 4, 0.3), r"the mix never gels \(0.3\).*here 0.9 - check the mix ratio"),
        (lambda: glass_transition_K(1.1, 250.0, 350.0), "conversion: is out of range"),
        (lambda: glass_transition_K(0.5, 350.0, 340.0), "glass transition of the cured resin: is out of range"),
        (lambda: glass_transition_K(0.5, 250.0, 350.0, 0.0), r"shape \(lambda\): is out of range"),
        (lambda: Glass(350.0, half_rate_lead_K=60.0), "lead at half rate: is out of range"),
        (lambda: Glass(350.0).conversion_at(360.0), "glass transition: is out of range"),
    ],
)
def test_gel_and_glass_refuse_what_cannot_be(call, words):
    with pytest.raises(RangeError, match=words):
        call()


def test_demould_times_that_contradict_each_other_are_named():
    with pytest.raises(RangeError, match=r"warmer is not quicker \(6 h at 20 °C and 8 h at 40 °C\).*datasheet"):
        MakersClock((CurePoint(8 * HOUR, 313.15), CurePoint(6 * HOUR, 293.15)))


def test_two_demould_times_at_one_temperature_contradict_each_other():
    with pytest.raises(RangeError, match="each at its own temperature"):
        MakersClock((CurePoint(8 * HOUR, 293.15), CurePoint(6 * HOUR, 293.15)))


@pytest.mark.parametrize(("time_s", "kelvin"), [(0.0, 293.15), (HOUR, 700.0)])
def test_a_demould_statement_outside_reason_is_refused(time_s, kelvin):
    with pytest.raises(RangeError, match=r"demould (time|temperature): is out of range"):
        MakersClock((CurePoint(time_s, kelvin),))


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: set_on_part(SLOW, 293.15, until_s=0.0), "end of the course: is out of range"),
        (lambda: set_on_part(SLOW, 293.15, until_s=9.0, conversion_start=1.0), "conversion at the start"),
        (lambda: set_on_part(SLOW, (), until_s=9.0), "temperature history: is empty"),
        (lambda: set_on_part(SLOW, ((5.0, 290.0), (5.0, 291.0)), until_s=9.0), "does not run forward"),
        (lambda: set_on_part(SLOW, 293.15, until_s=9.0).at(10.0), "time on the part: is out of range"),
        (lambda: demould_time_s(SLOW, 20.0), "temperature: is out of range"),
    ],
)
def test_a_course_refuses_what_cannot_be(call, words):
    with pytest.raises(RangeError, match=words):
        call()


def ramp(**changes):
    asked = {"conversion_start": 0.8, "start_K": 293.15, "target_K": 333.15, "hold_s": HOUR} | changes
    return post_cure_ramp(SLOW, **asked)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: heating_plans(SLOW, 280.0, by_s=60.0), "at least an hour from closing"),
        (lambda: ramp(target_K=350.15), r"too close to the best glass transition.*at most 76 °C"),
        (lambda: ramp(target_K=290.0), "end of the post-cure: is out of range"),
        (lambda: ramp(hold_s=0.0), "hold: is out of range"),
        (lambda: ramp(conversion_start=0.0, start_K=250.0), "waits longer than two days at -23 °C"),
    ],
)
def test_heating_refuses_what_cannot_be(call, words):
    with pytest.raises(RangeError, match=words):
        call()
