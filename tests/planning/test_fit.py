"""The one verdict: its edges by hand, and that everything that asks for it gets the same."""

from dataclasses import replace

import pytest
from plan_examples import PLAN, SLOW, WALLS, FormulaClocks

from layup.chemistry.calibration import calibrate
from layup.chemistry.datasheet import ViscosityPoint
from layup.planning.batches import split_batches
from layup.planning.budget import budget
from layup.planning.crew import job_of
from layup.planning.fit import Fit, fit_of, flowing
from layup.planning.night import NightOutlook
from layup.planning.plan import Closing, Foam, Shop
from layup.planning.planner import PlanResult
from layup.planning.pressing import pressing
from layup.planning.readiness import readiness
from layup.planning.remedies import remedies
from layup.planning.schedule import tight_spare

THIN = replace(SLOW, viscosities=(ViscosityPoint(0.5, 293.15), ViscosityPoint(0.3, 298.15)))
CASE = PlanResult(PLAN, THIN, calibrate(THIN), Shop(291.15, relative_humidity=0.5))
URETHANE = replace(SLOW, id="casting", title="Casting urethane", chemistry="urethane", minimum_temperature_K=288.15)
JOB = job_of(PLAN, budget(PLAN, SLOW), SLOW)


def ready(case, *, chance=None, outlook=None):
    return readiness(case, outlook or NightOutlook(wood_moisture=0.09), chance=chance)


@pytest.mark.parametrize(("life_s", "wanted_s"), [(2000.0, 300.0), (3000.0, 300.0), (12000.0, 1200.0)])
def test_spare_is_too_little_under_a_tenth_of_the_life_and_under_five_minutes(life_s, wanted_s):
    """By hand: a tenth of 2000 s is under five minutes, which then count; of 12 000 s it is 1200 s."""
    split = split_batches(JOB, FormulaClocks(cup_s=4000.0, film_s=9000.0))

    def spare(cup_s, part_s):
        batches = [
            replace(
                each,
                cup=replace(each.cup, life_s=each.cup.life_s._replace(low=life_s)),
                open_low_s=life_s,
                cup_margin_s=cup_s,
                part_margin_s=part_s,
            )
            for each in split.batches
        ]
        return tight_spare(replace(split, batches=tuple(batches)))

    assert spare(wanted_s + 1.0, wanted_s + 1.0) == ()
    assert "spare in its cup" in spare(wanted_s - 1.0, 9e4)[0]
    assert "spare on the part" in spare(9e4, wanted_s - 1.0)[0]
    assert spare(-1.0, -1.0) == (), "what is missed is not tight"


def test_cans_colder_than_the_resin_s_maker_asks_for_are_tight_in_a_shop_that_is_warm_enough():
    cold = replace(CASE, datasheet=replace(THIN, minimum_temperature_K=288.15), shop=Shop(291.15, resin_K=283.15))
    assert fit_of(cold).tight[-1] == "Cans at 10 °C: warm them, this resin asks for 15 °C."
    assert fit_of(replace(cold, shop=Shop(291.15))).word == "fits"


@pytest.mark.parametrize(("chance", "word"), [(None, "fits"), (0.9, "fits"), (0.899, "tight")])
def test_odds_under_nine_in_ten_are_tight(chance, word):
    assert fit_of(CASE, chance=chance).word == word


def test_what_forbids_a_plan_weighs_more_than_what_makes_it_tight():
    assert Fit(("too cold",), ("1 min",)).word == "does not fit"
    assert (Fit((), ("1 min",)).word, Fit((), ("1 min",)).works) == ("tight", True)
    assert fit_of(CASE, against=["the wood is wet"]).against == ("the wood is wet",)


def test_a_mix_from_warm_cans_that_stops_flowing_on_a_cold_part_is_tight():
    thick = replace(SLOW, minimum_temperature_K=278.15, viscosities=(ViscosityPoint(1.9, 291.15),))
    shop = Shop(291.15, resin_K=294.15, part_K=283.15)
    case = PlanResult(PLAN, thick, calibrate(thick), shop)
    assert any("no longer flows when the press closes" in words for words in fit_of(case).tight)
    assert ("stiff on part" in fit_of(case).beside) is fit_of(case).works, "what forbids a plan stands alone"
    warm = replace(case, shop=replace(shop, part_K=None))
    assert not any("no longer flows" in words for words in fit_of(warm).tight)


@pytest.mark.parametrize(
    ("bench_s", "fresh_Pa_s", "word"), [(600.0, 1.0, "fits"), (8000.0, 0.05, "fits"), (8000.0, 0.5, "tight")]
)
def test_a_press_that_closes_on_thick_mix_is_tight_with_the_grams_that_stay(bench_s, fresh_Pa_s, word):
    """Late, and still before the end of the open time: thin mix has left by the gel, thick mix has not."""
    sheet = replace(SLOW, viscosities=(ViscosityPoint(fresh_Pa_s, 293.15),))
    closing = replace(PLAN.closing, bench_s=bench_s, target_pressure_Pa=20_000.0)
    plan = replace(PLAN, losses=replace(PLAN.losses, squeeze_out=0.2), closing=closing)
    result = PlanResult(plan, sheet, calibrate(sheet), Shop(293.15))
    fit, until_s = fit_of(result), min(batch.squeezes_until.low for batch in flowing(result))
    assert fit.word == word
    assert (result.split.closed_s > until_s) == (word == "tight")
    assert all(words.endswith(f": close by {int(until_s) // 60} min.") for words in fit.tight)
    assert [words[:12] for words in fit.tight] == ["Closed then,"] * (word == "tight")
    assert ("resin-rich" in fit.beside) is (word == "tight")
    assert all("g that should leave stay, resin-rich" in words for words in fit.tight)


def test_mix_that_gets_too_thick_to_wet_cloth_while_it_is_laid_is_tight():
    """2 Pa s: common practice, no source; a mix that starts thicker is said to be too cold, not late."""
    sheet = replace(SLOW, viscosities=(ViscosityPoint(1.9, 293.15),))
    fit = fit_of(PlanResult(PLAN, sheet, calibrate(sheet), Shop(293.15)))
    assert fit.word == "tight"
    assert "no longer wets cloth" in fit.tight[0]
    thick = replace(SLOW, viscosities=(ViscosityPoint(2.4, 293.15),))
    cold = fit_of(PlanResult(PLAN, thick, calibrate(thick), Shop(293.15)))
    assert "too thick to wet out by hand" in cold.against[0]
    assert not any("no longer wets" in words for words in cold.tight)


def test_a_resin_that_is_cast_below_its_least_temperature_forbids_the_plan():
    resins = {"casting": URETHANE}
    mild, cold = (replace(CASE, casting_resins=resins, shop=Shop(kelvin)) for kelvin in (290.15, 286.15))
    assert fit_of(mild).works
    found = replace(cold, datasheet=replace(THIN, minimum_temperature_K=None))
    assert fit_of(found).against == ("Below 15 °C Casting urethane does not cure as its maker states.",)
    assert found.window.low_K == pytest.approx(288.15)


def test_begin_never_says_go_to_a_tight_plan_nor_fits_beside_no():
    assert (ready(CASE).answer, ready(CASE).fit.word) == ("go", "fits")
    unsure = ready(CASE, chance=0.5)
    assert (unsure.answer, unsure.fit.word) == ("wait", "tight")
    wet = ready(CASE, outlook=NightOutlook(wood_moisture=0.25))
    assert (wet.answer, wet.fit.word) == ("no", "does not fit")


@pytest.mark.parametrize("celsius", [17.0, 18.0])
@pytest.mark.parametrize(
    ("gap", "words"), [("viscosities", "Viscosity of"), ("minimum_temperature_K", "Minimum cure temp")]
)
def test_what_a_datasheet_leaves_out_is_named_in_a_cool_shop_and_is_no_go(gap, words, celsius):
    sheet = replace(THIN, **{gap: () if gap == "viscosities" else None})
    answer = ready(replace(CASE, datasheet=sheet, shop=Shop(273.15 + celsius, relative_humidity=0.5)))
    named = [reason for reason in answer.reasons if words in reason.words]
    assert ([reason.answer for reason in named], answer.answer) == ((["wait"], "wait") if celsius < 18 else ([], "go"))


def test_a_casting_plan_is_judged_by_its_pours():
    plan = replace(PLAN, steps=(WALLS,))
    case = replace(CASE, plan=plan, casting_resins={"casting": URETHANE})
    assert not plan.lays
    assert plan.pours_today(0)
    assert not PLAN.pours_today(0), "cast before press day"
    assert fit_of(case).word == "fits"
    short = replace(URETHANE, films=(), pot_lives=(replace(SLOW.pot_lives[0], time_s=70.0),))
    hurried = replace(case, casting_resins={"casting": short})
    assert fit_of(hurried).against == ("sidewalls: no pour leaves its cup in time.",)
    assert ready(hurried).answer == "no"


def test_a_remedy_of_a_tight_plan_makes_it_fit():
    case = replace(CASE, plan=replace(PLAN, crew=replace(PLAN.crew, people=1)), shop=Shop(303.15))
    assert fit_of(case).word == "tight"
    listed = remedies(case)
    assert listed
    assert all(remedy.fits == (fit_of(remedy.result).word == "fits") for remedy in listed)
    assert any(remedy.fits for remedy in listed)


CLAMPED = Closing(bench_s=360.0, target_pressure_Pa=100_000.0, clamps=10)
FOAM = Foam(thickness_m=0.05, density_g_cm3=0.03, strength_Pa=210_000.0)


@pytest.mark.parametrize(
    ("closing", "word", "answer", "short"),
    [
        (replace(CLAMPED, clamp_rating_N=1500.0), "does not fit", "no", "clamps overloaded"),
        (replace(CLAMPED, method="bolts", clamp_rating_N=1500.0), "does not fit", "no", "bolts overloaded"),
        (replace(CLAMPED, clamp_rating_N=20_000.0), "fits", "go", ""),
        (replace(CLAMPED, clamps=None, clamp_rating_N=1500.0), "fits", "go", ""),
        (replace(CLAMPED, foam=FOAM), "tight", "wait", "foam creeps"),
        (replace(CLAMPED, foam=replace(FOAM, strength_Pa=100_000.0)), "does not fit", "no", "foam crushes"),
        (replace(CLAMPED, method="bag", target_pressure_Pa=150_000.0), "tight", "wait", "bag too weak"),
        (replace(CLAMPED, method="bag", target_pressure_Pa=60_000.0), "fits", "go", ""),
    ],
)
def test_a_press_that_does_not_bear_the_plan_counts_in_the_verdict_and_in_the_answer(closing, word, answer, short):
    """By hand: 100 kPa on 0.16 m2 are 16 kN, 1.6 kN for each of ten clamps; foam carries 0.3 of its strength."""
    case = replace(CASE, plan=replace(PLAN, closing=closing))
    fit, asked = fit_of(case), ready(case)
    assert (fit.word, asked.fit.word) == (word, word)
    assert (short in fit.beside) == bool(short)
    said = [reason for reason in asked.reasons if reason.kind == "press"]
    assert [reason.answer for reason in said] == ([answer] if short else [])
    assert asked.answer == answer if answer == "no" else asked.answer != "no"
    for reason in said:
        assert sum(reason.words in each.words for each in asked.reasons) == 1, "said once"


def test_overloaded_clamps_are_mended_by_as_many_as_their_rating_asks_for():
    case = replace(CASE, plan=replace(PLAN, closing=replace(CLAMPED, clamp_rating_N=1500.0)))
    (more,) = remedies(case)
    count = more.result.plan.closing.clamps
    assert pressing(case.plan).row_N / count <= 1500.0 < pressing(case.plan).row_N / (count - 1)
    assert (more.fits, more.words) == (True, f"Take {count} clamps on each piece, or stronger ones.")
