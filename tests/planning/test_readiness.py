"""Go, wait or no: what stands against a first batch, and the heat that takes it away."""

from dataclasses import replace
from math import ceil

import pytest
from cure_by_scipy import scipy_demould_s
from plan_examples import FAST, PLAN, SLOW

from layup.chemistry.calibration import calibrate
from layup.chemistry.climate import dew_point_K
from layup.chemistry.datasheet import CurePoint, ViscosityPoint
from layup.chemistry.demould import setting_of
from layup.planning.fit import cost_of_warming, works
from layup.planning.night import NightOutlook
from layup.planning.plan import Shop
from layup.planning.planner import PlanResult, thick_in_the_cup
from layup.planning.readiness import ANSWERS, heating_lines, readiness
from layup.units import minutes

HOUR = 3600.0
SHEET = replace(
    SLOW,
    demould=(CurePoint(36 * HOUR, 291.15), CurePoint(24 * HOUR, 296.15), CurePoint(6 * HOUR, 318.15)),
    glass_transition_K=355.15,
    viscosities=(ViscosityPoint(1.5, 288.15), ViscosityPoint(1.0, 293.15), ViscosityPoint(0.7, 298.15)),
)


def ask(celsius, outlook=None, *, sheet=SHEET, plan=PLAN, **shop):
    case = PlanResult(plan, sheet, calibrate(sheet), Shop(celsius + 273.15, **shop))
    return readiness(case, outlook or NightOutlook())


def kinds(ready, answer):
    return {reason.kind for reason in ready.reasons if reason.answer == answer}


def test_a_shop_of_nine_degrees_is_stopped_with_the_reasons_and_a_heating_that_passes():
    ready = ask(9)
    assert ready.answer == "no"
    assert kinds(ready, "no") == {"thick", "minimum"}
    assert any("15 °C" in reason.words for reason in ready.reasons)
    assert any("9 °C" in reason.todo for reason in ready.reasons)
    heating = ready.heating
    assert heating.shop_K > 288.15
    warmed = ask(heating.shop_K - 273.15, NightOutlook(night_K=282.15))
    assert warmed.answer == "wait", "warm enough to begin; what is left is to heat the mould for the night"
    assert not kinds(warmed, "no")
    setting, _ = setting_of(SHEET, calibrate(SHEET).kinetics)
    for plan in heating.moulds:
        # Independent integration (scipy LSODA): in time, and where we say it is
        out_s = scipy_demould_s(setting, plan.mould)
        assert out_s == pytest.approx(plan.demould_s, rel=1e-3)
        assert out_s < 48 * HOUR


@pytest.mark.parametrize("celsius", [16, 17, 19.9])
def test_a_mix_that_is_slow_to_wet_out_waits_and_says_how_warm_is_enough(celsius):
    """SHEET states 1000 mPa s at 20 °C, and thicker than that is slow by hand (common practice, no source)."""
    ready = ask(celsius)
    assert ready.answer == "wait"
    (slow,) = [reason for reason in ready.reasons if reason.kind == "thick"]
    assert slow.answer == "wait"
    assert "thicker than 1000 mPa·s" in slow.words
    assert "to 20 °C" in slow.todo
    assert ready.heating.shop_K == pytest.approx(293.15)
    told = [*(reason.words for reason in ready.reasons), *heating_lines(ready.heating)]
    assert sum("Out ≈" in words for words in told) == 1, "one page says one time"
    assert not {reason.kind for reason in ask(20).reasons} & {"thick"}
    assert not {reason.kind for reason in ask(celsius, resin_K=294.15).reasons} & {"thick"}, "warm cans are enough"


@pytest.mark.parametrize(("celsius", "people"), [(5, 1), (9, 2), (16, 3), (19.5, 1)])
def test_a_shop_is_warmed_to_the_first_degree_that_fits_wets_and_is_warm_enough(celsius, people):
    """Independent: every whole degree up to 35 °C asked for by itself."""
    plan = replace(PLAN, crew=replace(PLAN.crew, people=people))
    cases = [PlanResult(plan, SHEET, calibrate(SHEET), Shop(273.15 + whole)) for whole in range(ceil(celsius), 36)]
    good = [case.shop.temperature_K for case in cases if works(case) and thick_in_the_cup(case) is None]
    heating = ask(celsius, plan=plan).heating
    assert (heating and heating.shop_K) == (pytest.approx(good[0]) if good else None)


def test_advice_to_warm_says_what_it_costs_of_spare_on_the_page_and_in_the_heat():
    case = PlanResult(PLAN, SHEET, calibrate(SHEET), Shop(289.15))
    there = replace(case, shop=Shop(293.15))
    spare = f"{minutes(there.split.slack_s)} left of {minutes(case.split.slack_s)}"
    assert there.split.slack_s < case.split.slack_s
    ready = readiness(case, NightOutlook())
    (slow,) = [reason for reason in ready.reasons if reason.kind == "thick"]
    assert slow.todo == f"Warm shop and cans to 20 °C (costs spare: {spare}), or allow more time."
    assert f"cans at 20 °C (costs spare: {spare}), held" in heating_lines(ready.heating)[0]
    assert cost_of_warming(there, 289.15) == "", "a cooler shop has more to spare"
    hot = replace(case, datasheet=FAST, calibration=calibrate(FAST))
    assert cost_of_warming(hot, 318.15) == " (the batches do not fit there)"


def test_what_a_planned_cup_does_if_it_is_left_standing_is_said_with_the_time_it_has():
    case = PlanResult(PLAN, SHEET, calibrate(SHEET), Shop(294.15))
    (heat,) = [reason for reason in ask(21).reasons if reason.kind == "heat"]
    first = min(case.split.batches, key=lambda batch: batch.cup.life_s.low)
    assert first.cup.heat_class == "runaway"
    assert heat.answer == "go"
    assert f"Batch {first.number}, {first.mass_g:.0f} g" in heat.words
    assert f"past {first.cup.life_s.low / 60:.0f} min it foams, cracks, may smoke; " in heat.words
    assert f"emptied after {first.held_s / 60:.0f} min" in heat.words
    assert "outdoors" in heat.todo


@pytest.mark.parametrize(("hours", "heat_class", "said"), [(20, "hot", ["too hot to hold"]), (200, "warm", [])])
def test_a_slow_cup_is_told_to_get_hot_and_a_very_slow_one_needs_no_word(hours, heat_class, said):
    slow = replace(SHEET, pot_lives=(replace(SHEET.pot_lives[0], time_s=hours * HOUR),), films=(), demould=())
    case = PlanResult(PLAN, slow, calibrate(slow), Shop(294.15))
    assert {batch.cup.heat_class for batch in case.split.batches} == {heat_class}
    heat = [reason.words for reason in ask(21, sheet=slow).reasons if reason.kind == "heat"]
    assert len(heat) == len(said)
    assert all(words in heat[0] for words in said)


def test_the_same_plan_at_twenty_one_degrees_is_allowed():
    ready = ask(21)
    assert ready.answer == "go"
    assert ready.heating is None
    assert {reason.answer for reason in ready.reasons} == {"go"}


def test_the_answer_is_the_worst_of_its_reasons_which_come_worst_first():
    for celsius, outlook in (
        (9, NightOutlook()),
        (21, NightOutlook(night_K=279.15)),
        (21, NightOutlook(wood_moisture=0.2)),
    ):
        ready = ask(celsius, outlook)
        ranks = [ANSWERS.index(reason.answer) for reason in ready.reasons]
        assert ranks == sorted(ranks, reverse=True)
        assert ready.answer == ready.reasons[0].answer


def test_batches_that_do_not_fit_are_a_no_that_no_heat_turns():
    alone = replace(PLAN, crew=replace(PLAN.crew, people=1))
    ready = ask(32, sheet=replace(SHEET, id="fast", pot_lives=FAST.pot_lives, films=FAST.films), plan=alone)
    assert kinds(ready, "no") == {"batches"}
    assert ready.heating is None


@pytest.mark.parametrize(("humidity", "answer"), [(0.5, "go"), (0.71, "wait"), (0.84, "no"), (0.97, "no")])
def test_damp_air_waits_or_stops(humidity, answer):
    """Painting practice: 3 K above the dew point and at most 85 % (ISO 8502-4 says no simple rule holds)."""
    ready = ask(20, relative_humidity=humidity)
    assert ready.answer == answer
    damp = [reason for reason in ready.reasons if reason.kind in ("dew", "blush")]
    assert {reason.answer for reason in damp} == {answer}
    if 293.15 - dew_point_K(293.15, humidity) < 3.0:
        assert damp[0].kind == "dew"


def test_warming_the_air_without_drying_it_is_the_heat_for_damp_air():
    ready = ask(20, relative_humidity=0.9)
    assert ready.heating is not None
    assert ready.heating.shop_K > dew_point_K(293.15, 0.9) + 3.0
    assert ready.heating.moulds == ()


def test_a_urethane_has_no_blush():
    sheet = replace(SHEET, chemistry="other")
    assert not {r.kind for r in ask(20, sheet=sheet, relative_humidity=0.75).reasons} & {"blush"}


@pytest.mark.parametrize(
    ("moisture", "answer"), [(0.04, "go"), (0.06, "go"), (0.12, "go"), (0.13, "wait"), (0.18, "wait"), (0.19, "no")]
)
def test_wood_is_judged_by_its_usual_range(moisture, answer):
    """6 to 12 % is usual, above 18 % nothing bonds (common practice, no source)."""
    ready = ask(21, NightOutlook(wood_moisture=moisture))
    (wood,) = [reason for reason in ready.reasons if reason.kind == "wood"]
    assert wood.answer == ready.answer == answer
    assert "6 % to 12 % is usual" in wood.words


def test_what_is_not_known_is_said_and_not_judged():
    assert len(ask(21).unknown) == 3
    assert ask(21, NightOutlook(night_K=291.15, wood_moisture=0.09), relative_humidity=0.5).unknown == ()
    assert {"wood", "blush", "dew"} & {reason.kind for reason in ask(21).reasons} == set()


def test_a_cold_night_waits_with_the_heating_that_passes():
    ready = ask(21, NightOutlook(night_K=279.15))
    assert ready.answer == "wait"
    assert kinds(ready, "wait") == {"night", "demould"}
    assert ready.heating.shop_K is None
    assert ready.heating.moulds
    words = heating_lines(ready.heating)
    assert words[0].startswith("After closing: mould ")
    assert len(words) == len(ready.heating.moulds)


def test_heat_for_a_night_that_is_likely_in_time_says_that_it_makes_it_sure():
    ready = ask(21, NightOutlook(out_by_s=1.02 * ask(21).night.ready.out_s.likely))
    assert ready.night.verdict == "may make it"
    assert heating_lines(ready.heating)[0].startswith("After closing, to be sure: mould ")


def test_a_part_that_comes_out_hard_and_not_cured_is_said_to():
    week = NightOutlook(night_K=281.15, out_by_s=7 * 24 * HOUR)
    (cold,) = [reason for reason in ask(21, week, part_K=281.15).reasons if reason.kind == "demould"]
    (warm,) = [reason for reason in ask(21).reasons if reason.kind == "demould"]
    assert "Hard is not cured" in cold.words
    assert "Hard is not cured" not in warm.words


def test_a_part_wanted_sooner_than_any_heat_can_is_a_no():
    ready = ask(21, NightOutlook(out_by_s=2 * HOUR))
    assert (ready.answer, ready.heating) == ("no", None)
    assert kinds(ready, "no") == {"demould"}


def test_a_cold_part_in_a_warm_shop_is_too_cold():
    ready = ask(21, part_K=283.15)
    assert "minimum" in kinds(ready, "no")
    assert any("part 10 °C" in reason.todo for reason in ready.reasons)


def test_the_shop_that_is_asked_for_needs_no_more_heat_before_the_first_batch():
    heating = ask(9, relative_humidity=0.7).heating
    words = heating_lines(heating)
    assert words[0].startswith("Before the first batch")
    assert f"{heating.shop_K - 273.15:.0f} °C" in words[0]


def test_what_is_taken_for_granted_is_said():
    said = " ".join(ask(21, NightOutlook(night_K=288.15)).assumptions)
    assert "8 h" in said
    assert "no conversion before it" in said
