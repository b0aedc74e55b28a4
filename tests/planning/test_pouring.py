"""Castings: grams and pigment of each pour, out of its cup in time, and from when on it can be planed."""

from dataclasses import replace
from itertools import pairwise

import pytest
from cure_by_scipy import scipy_demould_s
from plan_examples import PLAN, SLOW, WALLS

from layup.chemistry.calibration import calibrate
from layup.chemistry.datasheet import Component, CurePoint, Datasheet, PotLifePoint
from layup.chemistry.demould import setting_of
from layup.chemistry.life_band import predict_band
from layup.chemistry.prediction import Vessel
from layup.chemistry.stages import Stage, follow_band, gel_in_channel_s
from layup.errors import InputError, RangeError
from layup.planning.castings import (
    as_poured,
    casting_plan,
    join_words,
    pigment_warnings,
    planed_words,
    pourings,
)
from layup.planning.channel import USUAL_WALL, Channel
from layup.planning.plan import CastStep, Scale, Shop
from layup.planning.planner import PlanResult
from layup.planning.pours import place_words
from layup.planning.readiness import cold, reasons
from layup.session.lifetimes import fresh_cup_s

URETHANE = Datasheet(
    id="casting",
    title="Casting urethane",
    chemistry="urethane",
    resin=Component("polyol", 1.03, 178.0),
    hardener=Component("isocyanate", 1.09, 180.0),
    ratio=(1.0, 1.0),
    ratio_by="volume",
    pot_lives=(PotLifePoint(240.0, 200.0, 298.15),),
    demould=(CurePoint(7200.0, 291.15), CurePoint(3600.0, 298.15)),
    glass_transition_K=348.15,
)
FADE = replace(WALLS, pigments=("black", "white"), fade=True, loading=0.03)


def pour(step=WALLS, *, celsius=20.0, wood=None, humidity=None, people=2, sheet=URETHANE, **plan):
    steps = tuple(step if each is WALLS else each for each in PLAN.steps)
    crew = replace(PLAN.crew, people=people)
    case = PlanResult(
        replace(PLAN, steps=steps, crew=crew, **plan),
        SLOW,
        calibrate(SLOW),
        Shop(celsius + 273.15, relative_humidity=humidity),
        {} if sheet is None else {"casting": sheet},
    )
    day = case.timeline
    return pourings(case, day, wood_moisture=wood), day


@pytest.mark.parametrize("celsius", [20.0, 25.0])
def test_the_pours_add_up_to_the_volume_and_what_stays_in_the_cups(celsius):
    ((casting,), _) = pour(celsius=celsius)
    assert (len(casting.pours) > 2) == (celsius > 20.0)
    net_g = 2 * 300.0 * (1.03 + 1.09) / 2.0
    assert casting.mass_g == pytest.approx(net_g + len(casting.pours) * PLAN.losses.per_batch_g)
    for each in casting.pours:
        assert sum(each.parts_g) == pytest.approx(each.mass_g)
        assert each.parts_g[1] / each.parts_g[0] == pytest.approx(1.09 / 1.03)


@pytest.mark.parametrize("celsius", [12.0, 20.0, 25.0])
def test_each_pour_leaves_its_cup_by_the_one_rule_for_a_cup(celsius):
    ((casting,), _) = pour(celsius=celsius)
    for each in casting.pours:
        kelvin = celsius + 273.15
        cup_s = fresh_cup_s(calibrate(URETHANE), each.mass_g, kelvin, kelvin)
        assert each.due_s - each.mix_s == pytest.approx(cup_s)
        assert each.poured_s <= each.due_s


def test_the_minutes_that_a_casting_is_given_space_its_pours():
    """By hand: 30 min for three pours are 10 min each, whatever mixing and pouring take by themselves."""
    ((casting,), _) = pour(replace(WALLS, pours=3, bench_s=1800.0), celsius=15.0, people=1)
    assert [each.weigh_s for each in casting.pours] == pytest.approx([0.0, 600.0, 1200.0])
    assert [each.mix_s for each in casting.pours] == pytest.approx([120.0, 720.0, 1320.0])


def test_alone_a_pour_is_weighed_once_the_last_cup_is_scraped_and_with_a_helper_sooner():
    """By hand, alone: 2 min weighing, 1 min stirring, a gram in a quarter of a second, 20 s scraping."""
    quick = replace(WALLS, pours=3, bench_s=60.0)
    ((alone,), _) = pour(quick, celsius=15.0, people=1)
    each_s = 120.0 + 60.0 + alone.pours[0].mass_g / 4.0 + 20.0
    assert [each.weigh_s for each in alone.pours] == pytest.approx([0.0, each_s, 2.0 * each_s])
    ((helped,), _) = pour(quick, celsius=15.0, people=2)
    for before, after in pairwise(helped.pours):
        assert after.mix_s >= before.poured_s
    assert helped.takes_s < alone.takes_s


def test_the_next_pour_waits_until_the_last_is_firm_and_comes_before_a_soft_one_has_set():
    firm = replace(WALLS, pours=2, bench_s=60.0, join="firm")
    ((casting,), _) = pour(firm, people=1)
    first, second = casting.pours
    law, held_s = calibrate(URETHANE), 60.0 + first.mass_g / 4.0
    stages = Stage(Vessel.cup(), 0.0, 293.15), Stage(Vessel.film(), held_s, 293.15)
    film = follow_band(law, stages, mass_g=first.mass_g, start_K=293.15)
    firm_s = second.pour_s - first.mix_s
    assert firm_s == pytest.approx(gel_in_channel_s(film, USUAL_WALL.skin(law.kinetics.density_g_cm3)).high)
    cup = predict_band(law, Vessel.cup(), mass_g=first.mass_g, start_K=293.15, ambient=293.15)
    assert cup.gel_s.high < firm_s < 0.7 * film.gel_s.high
    assert not casting.trouble
    ((soft,), _) = pour(replace(WALLS, pours=2, bench_s=3600.0), people=2)
    assert soft.trouble
    assert "after the last has set" in soft.trouble
    assert any(words.startswith("Give it") for words in soft.helps)
    assert soft.pours[1].closes_s - soft.pours[0].mix_s < 0.7 * film.gel_s.low


def test_a_stated_window_counts_instead_of_the_models():
    step = replace(WALLS, pours=2, bench_s=60.0, join_s=(900.0, 1200.0))
    ((casting,), _) = pour(step, people=1)
    first, second = casting.pours
    assert casting.join is not None
    assert casting.join.stated
    assert second.pour_s == pytest.approx(first.poured_s + 900.0)
    assert second.closes_s == pytest.approx(first.poured_s + 1200.0)
    assert "15:00 to 20:00 after an empty cup (as stated)" in join_words(casting)


def test_a_scale_that_cannot_weigh_a_pour_says_what_can_be_done_with_its_numbers():
    """1 g, one tare, parts 1.03 : 1.09: 150 g keep within 2 % (`smallest_batch_g`, its own reference in test_mix)."""
    step = replace(WALLS, volume_m3=6e-5, pours=3, pigments=("black", "red", "white"), loading=0.03)
    ((casting,), _) = pour(step, people=1, celsius=15.0, scale=Scale(1.0))
    least_g = Scale(1.0).smallest_batch_g((1.03, 1.09))
    assert casting.trouble
    assert f"weighs {least_g:.0f} g or more" in casting.trouble
    bigger, finer, divided = casting.helps
    assert bigger.startswith(f"A bigger pour: 3 of {least_g:.0f} g")
    assert "reads 0.1 g" in finer
    whole_g = 2 * 60.0 * 1.06 + 3 * 20.0
    assert divided.startswith(f"One batch of {whole_g:.0f} g, divided into 3 cups before the colour")
    takes_s = 60.0 + 3 * 20.0 + whole_g / 4.0
    assert f"after {takes_s // 60:.0f}:{int(takes_s % 60):02d}" in divided


def test_three_pure_colours_take_an_equal_share_of_the_pours():
    step = replace(WALLS, pours=4, pigments=("black", "red", "white"), loading=0.03)
    ((casting,), _) = pour(step, celsius=15.0, scale=Scale(0.1))
    names = [[name for name, _ in each.pigments_g] for each in casting.pours]
    assert names == [["black"], ["black"], ["red"], ["red"], ["white"], ["white"]]


def test_a_casting_day_is_the_core_made_ready_and_then_the_pours_of_one_resin():
    other = replace(WALLS, name="tip", resin_id="other")
    day = casting_plan(replace(PLAN, steps=(*PLAN.steps, other)))
    assert [step.name for step in day.steps] == [
        "Warm and dry the core", "Seal the channel", "Tape and level", "sidewalls",
    ]  # fmt: skip
    assert not day.lays
    assert day.resin_id == "casting"
    assert [step.name for step in casting_plan(replace(PLAN, steps=(*PLAN.steps, other)), "other").steps][-1] == "tip"
    assert day.casting.another_day == ("tip (other)",)
    assert casting_plan(day) == day
    without = replace(PLAN, steps=tuple(step for step in PLAN.steps if not isinstance(step, CastStep)))
    assert casting_plan(without) is without


def test_a_warmer_shop_never_takes_fewer_pours_and_then_none_will_do():
    counts = []
    for celsius in (15.0, 20.0, 25.0, 27.0):
        ((casting,), _) = pour(celsius=celsius)
        counts.append(len(casting.pours) or 99)
    assert counts == sorted(counts)
    assert counts[0] == 2
    assert counts[-1] > 2
    ((hot,), _) = pour(celsius=40.0)
    assert hot.trouble
    assert "no pour leaves its cup in time" in hot.trouble
    assert hot.helps


def test_no_pour_is_larger_than_the_largest_cup():
    ((casting,), _) = pour(celsius=15.0, largest_cup_g=200.0)
    assert max(each.mass_g for each in casting.pours) <= 200.0


def test_the_colour_goes_in_even_steps_from_the_first_pigment_to_the_second():
    ((casting,), _) = pour(replace(FADE, pours=4), celsius=15.0)
    assert len(casting.pours) == 4
    for place, each in enumerate(casting.pours):
        grams = dict(each.pigments_g)
        assert sum(grams.values()) == pytest.approx(0.03 * each.mass_g)
        assert grams.get("white", 0.0) == pytest.approx(0.03 * each.mass_g * place / 3)


def test_one_pigment_is_the_same_share_of_every_pour_and_an_unweighed_one_has_no_grams():
    ((casting,), _) = pour(replace(WALLS, pigments=("black",), loading=0.02))
    assert all(each.pigments_g == (("black", pytest.approx(0.02 * each.mass_g)),) for each in casting.pours)
    ((casting,), _) = pour(replace(WALLS, pigments=("black paste, 2 %",)))
    assert all(each.pigments_g == () for each in casting.pours)


def test_the_casting_is_planed_once_scipy_says_so_too():
    """Independent integration (scipy LSODA), to 0.1 %."""
    ((casting,), _) = pour(celsius=22.0)
    setting, _ = setting_of(URETHANE, calibrate(URETHANE).kinetics)
    assert casting.planable.out_s.likely == pytest.approx(scipy_demould_s(setting, ((0.0, 295.15),)), rel=1e-3)
    assert f"{casting.planable.out_s.likely / 3600:.1f} h" in planed_words(casting)


def test_a_casting_in_the_day_starts_where_the_timeline_has_it_and_says_when_it_takes_too_long():
    ((before,), _) = pour()
    assert before.starts_s is None
    ((today,), day) = pour(replace(WALLS, before_press_day=False))
    row = next(row for row in day.steps if row.step == today.step)
    assert today.starts_s == row.spans[0].begin_s
    assert not [words for words in today.warnings if "takes" in words]
    ((hurried,), _) = pour(replace(WALLS, before_press_day=False, bench_s=60.0))
    assert any("the plan gives it 1 min" in words for words in hurried.warnings)
    ((alone,), _) = pour(replace(WALLS, before_press_day=False), people=1)
    assert any("Alone" in words for words in alone.warnings)


def test_isocyanate_and_moisture_are_minded():
    ((casting,), _) = pour(wood=0.14, humidity=0.8)
    assert any("14 %" in words for words in casting.warnings)
    assert any("damp" in words for words in casting.warnings)
    assert any("Isocyanates" in words for words in casting.cautions)
    assert casting.index == pytest.approx((1.09 / 180.0) / (1.03 / 178.0))
    ((epoxy,), _) = pour(sheet=replace(SLOW, id="casting"), wood=0.14, humidity=0.8)
    assert epoxy.index is None
    assert not any("Isocyanates" in words for words in epoxy.cautions)


@pytest.mark.parametrize(
    ("wood", "humidity", "words"),
    [(0.11, 0.5, ["holds 11 % water"]), (0.08, 0.8, ["air is damp (80 %)"]), (0.08, 0.5, []), (None, None, [])],
)
def test_on_the_casting_day_wet_wood_and_damp_air_make_a_urethane_wait(wood, humidity, words):
    """Wood above 10 % and air above 65 % foam it: common practice, no source."""
    steps = tuple(each for each in PLAN.steps if isinstance(each, CastStep))
    case = PlanResult(replace(PLAN, steps=steps), SLOW, calibrate(SLOW), Shop(293.15, humidity), {"casting": URETHANE})
    found = [each for each in reasons(case, wood) if each.todo.startswith("Water foams")]
    assert [each.answer for each in found] == ["wait"] * len(words)
    assert all(part in each.words for part, each in zip(words, found, strict=True))


def test_on_the_casting_day_the_casting_resins_own_minimum_counts():
    steps = tuple(each for each in PLAN.steps if isinstance(each, CastStep))
    warm = replace(URETHANE, minimum_temperature_K=294.15)
    for sheet, answers in ((URETHANE, []), (warm, ["no"])):
        case = PlanResult(replace(PLAN, steps=steps), SLOW, calibrate(SLOW), Shop(293.15), {"casting": sheet})
        assert [each.answer for each in cold(case)] == answers


def test_a_casting_whose_resin_is_not_at_hand_has_no_schedule():
    assert pour(sheet=None)[0] == ()


@pytest.mark.parametrize(
    ("change", "match"),
    [
        ({"pigments": ("black", "white")}, "second pigment: needs a loading.*loading = 0.02"),
        ({"volume_m3": None}, "has no volume"),
        ({"join_s": (900.0, 300.0)}, "join: ends before it begins"),
        ({"overfill": 10.0}, "overfill: is out of range"),
        ({"loading": 0.03}, "pigment loading: is given without a pigment"),
        ({"pigments": ("black",), "loading": 0.06}, "pigment loading: is out of range .* between 0 and 0.05"),
        ({"pigments": ("black",), "loading": 0.02, "loading_limit": 0.6}, "pigment limit: is out of range"),
    ],
)
def test_pigments_that_cannot_be_are_refused(change, match):
    with pytest.raises((RangeError, InputError), match=match):
        replace(WALLS, **change)


def test_a_maker_who_allows_more_is_believed():
    step = replace(WALLS, pigments=("black",), loading=0.08, loading_limit=0.1)
    assert isinstance(step, CastStep)
    ((casting,), _) = pour(step)
    assert casting.pours[0].pigments_g[0][1] == pytest.approx(0.08 * casting.pours[0].mass_g)


@pytest.mark.parametrize("celsius", [20.0, 25.0])
def test_the_budget_of_a_casting_is_what_its_pours_take_however_many(celsius):
    case = PlanResult(PLAN, SLOW, calibrate(SLOW), Shop(celsius + 273.15), {"casting": URETHANE})
    (pouring,) = pourings(case, None)
    (casting,) = as_poured(case).castings
    assert casting.pours == len(pouring.pours)
    assert casting.mix_g == pytest.approx(pouring.mass_g)
    assert sum(casting.parts_g) == pytest.approx(casting.mix_g)
    assert casting.losses_g == pytest.approx(len(pouring.pours) * PLAN.losses.per_batch_g)
    assert (casting.pours > WALLS.pours) == (celsius > 20.0)


def test_a_pour_has_its_place_by_pieces_walls_and_layers():
    """By hand: two pieces with two walls each are four channels, which five pours fill by four fifths each."""
    wall = Channel(0.008, 0.012)
    plain = CastStep("walls", 60.0, URETHANE.id, channel=wall)
    assert [place_words(plain, 2, at / 5, 1 / 5) for at in range(5)] == [
        "piece 1 left",
        "piece 1 left to piece 1 right",
        "piece 1 right to piece 2 left",
        "piece 2 left to piece 2 right",
        "piece 2 right",
    ]
    assert place_words(plain, 2, 0.0, 1.0) == "all 4"
    assert place_words(CastStep("tip", 60.0, URETHANE.id, 1e-5), 1, 0.0, 1.0) == ""
    colours = replace(plain, pigments=("black", "red", "white"), loading=0.03)
    assert [place_words(colours, 2, at / 3, 1 / 3) for at in range(3)] == [
        f"layer {layer} of 3, in all 4" for layer in (1, 2, 3)
    ]


def test_pigment_too_little_for_the_scale_says_what_can_be_done():
    step = CastStep("walls", 60.0, URETHANE.id, 1e-4, pigments=("black",), loading=0.03)
    (words,) = pigment_warnings(step, [120.0, 120.0], 1.0)  # by hand: 3.6 g, half a gram is 14 % of it; 7.2 g for both
    assert words.startswith(
        "Pigment of 3.6 g on a scale that reads 1 g is up to 14 % off: weigh it on a scale that reads 0.5"
    )
    assert "stir 7.2 g into the resin of all pours at once" in words
    assert not list(pigment_warnings(step, [120.0, 120.0], 0.5))
