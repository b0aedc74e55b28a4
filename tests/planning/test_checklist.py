"""The list "before you start" says what this plan needs, in numbers of this plan."""

import re
from dataclasses import replace
from itertools import pairwise

import pytest
from plan_examples import PLAN, SLOW, WALLS

from layup.chemistry.calibration import calibrate
from layup.chemistry.datasheet import ViscosityPoint
from layup.planning.castings import as_poured, pourings
from layup.planning.checklist import CLOSING_ITEMS, GROUPS, checklist, closing_items, with_list
from layup.planning.cuts import cut_list
from layup.planning.fit import fit_of
from layup.planning.night import NightOutlook
from layup.planning.plan import Closing, PlaceStep, Shop, Task
from layup.planning.planner import PlanResult
from layup.planning.readiness import readiness

CASE = PlanResult(PLAN, SLOW, calibrate(SLOW), Shop(293.15))


def items(case=CASE, ready=None):
    return {item.key: item for item in checklist(case, ready)}


def test_items_come_in_the_order_in_which_they_are_gone_through_and_have_keys_of_their_own():
    listed = checklist(CASE)
    order = [GROUPS.index(item.group) for item in listed]
    assert order == sorted(order)
    assert {GROUPS[at] for at in order} == set(GROUPS) - {"from last time"}, "those come from earlier sessions"
    assert len({item.key for item in listed}) == len(listed)


def test_the_shop_is_asked_for_between_both_limits_of_the_plan():
    alone = replace(CASE, plan=replace(PLAN, crew=replace(PLAN.crew, people=1)))
    high_K = alone.window.high_K
    assert high_K is not None
    asked = items(alone)["warm"]
    warm, hottest = (int(each) for each in re.findall(r"(\d+) to (\d+) °C", asked.words)[0])
    assert warm < hottest < high_K - 273.15
    there, warmer = (fit_of(replace(alone, shop=Shop(273.15 + each))) for each in (hottest, hottest + 1))
    assert [any("spare" in words for words in one.tight) for one in (there, warmer)] == [False, True], (
        "the last with enough to spare"
    )
    assert asked.short == f"Shop {warm} to {hottest} °C"
    lazy = replace(SLOW, pot_lives=(replace(SLOW.pot_lives[0], time_s=30_000.0),), films=())
    slow = replace(CASE, datasheet=lazy, calibration=calibrate(lazy))
    assert items(slow)["warm"].short == f"Shop ≥ {warm} °C", "it leaves enough in the hottest shop that is tried"


def test_a_shop_with_nothing_to_spare_is_asked_for_as_it_is_and_no_warmer():
    """A range of one number says nothing, and one without the plan's own shop is not true."""
    alone = replace(CASE, plan=replace(PLAN, crew=replace(PLAN.crew, people=1)))
    tight = next(one for one in alone.window.samples if one.works and one.tight)
    case = replace(
        alone, datasheet=replace(SLOW, minimum_temperature_K=tight.temperature_K), shop=Shop(tight.temperature_K)
    )
    assert items(case)["warm"].short == f"Shop {tight.temperature_K - 273.15:.0f} °C, no warmer"
    warm_cans = replace(case, shop=Shop(tight.temperature_K, resin_K=300.15))
    assert items(warm_cans)["warm"].words.startswith("Cans at 27 °C; shop, mould, core at ")


@pytest.mark.parametrize("celsius", [33, 35])
def test_a_shop_that_is_too_hot_for_the_plan_is_not_asked_for(celsius):
    alone = replace(CASE, plan=replace(PLAN, crew=replace(PLAN.crew, people=1)))
    hot = replace(alone, shop=Shop(273.15 + celsius))
    assert fit_of(hot).word == "does not fit"
    assert items(hot)["warm"].short == items(alone)["warm"].short


def test_every_cut_of_the_cut_list_is_there_with_running_numbers():
    found, first = items(), 1
    for cut in cut_list(PLAN):
        words = found[f"cut-{cut.step + 1}"].words
        assert f"{cut.count} cut" in words
        assert f"{cut.length_m * 1000:.0f} x {cut.width_m * 1000:.0f} mm" in words
        assert f"no. {first} to {first + cut.count - 1}" in words
        first += cut.count
    assert first == 1 + 4 + 2 + 4, "two layers on two pieces, a strip each, two layers on two pieces"


def test_no_two_items_in_a_row_are_alike_cloth_of_one_name_and_size_is_one_thing_to_tick():
    glass = next(step for step in PLAN.steps if step.kind == "fabric")
    at = PLAN.steps.index(glass)
    twice = replace(PLAN, steps=(*PLAN.steps[: at + 1], glass, *PLAN.steps[at + 1 :]))
    listed = checklist(replace(CASE, plan=twice))
    assert all(one.short != other.short for one, other in pairwise(listed))
    both, one = (found[f"cut-{at + 1}"].words for found in ({item.key: item for item in listed}, items()))
    count = int(re.findall(r": (\d+) cut", one)[0])
    assert f": {2 * count} cut" in both
    assert f"no. 1 to {2 * count}" in both


def test_cans_cups_and_mix_sheets_are_those_of_the_budget_and_the_batches():
    found, count = items(), len(CASE.split.batches)
    assert f"{CASE.budget.buy_resin_g:.0f} g" in found["cans"].words
    assert f"{count + 1} clean dry cups" in found["cups"].words
    assert f"{count} mix sheets" in found["mix-sheets"].words


def test_a_scale_that_is_tared_between_the_components_is_said_to():
    again = replace(CASE, plan=replace(PLAN, scale=replace(PLAN.scale, tare_each=True)))
    assert "tared again before the hardener" in items(again)["scale"].words
    assert "tared again" not in items()["scale"].words


def test_castings_are_done_before_and_named():
    assert items()["cast-1"].words.startswith("sidewalls: cast, cured")


WET = (ViscosityPoint(1.2, 291.15), ViscosityPoint(0.7, 298.15))
"""1 Pa s is passed at 20.4 degC, with ln of the viscosity straight in 1/T (by hand): wets out from 21 degC on."""
GAPS = {
    "nothing left out": ({"viscosities": WET}, 21),
    "no viscosity": ({"viscosities": ()}, 18),
    "no minimum": ({"viscosities": WET, "minimum_temperature_K": None}, 21),
    "neither": ({"viscosities": (), "minimum_temperature_K": None}, 18),
    "a warm minimum": ({"viscosities": (), "minimum_temperature_K": 295.15}, 22),
}


@pytest.mark.parametrize("gap", GAPS)
@pytest.mark.parametrize("celsius", [10.0, 16.0, 17.0, 22.0])
def test_list_and_answer_name_one_temperature_and_the_verdict_says_what_the_cold_does(gap, celsius):
    """What is only slow to wet out is no reason to ask for another shop than the plan's own."""
    changed, warm = GAPS[gap]
    sheet = replace(SLOW, **changed)
    case = replace(CASE, datasheet=sheet, calibration=calibrate(sheet), shop=Shop(celsius + 273.15))
    ready = readiness(case, NightOutlook(night_K=293.15))
    heating = ready.heating.shop_K - 273.15 if ready.heating and ready.heating.shop_K else warm
    wanted = celsius if gap == "nothing left out" and 15.0 <= celsius < warm else max(warm, heating)
    assert re.search(rf"at (≥ )?{wanted:.0f} (to \d+ )?°C", items(case, ready)["warm"].words)
    cold = [reason for reason in ready.reasons if reason.kind in ("thick", "minimum") and reason.answer != "go"]
    for reason in cold:
        told = re.findall(r"(\d+) °C", reason.todo)
        assert told in ([], [str(warm)], [f"{celsius:.0f}"]), reason
    assert bool(cold) == bool(ready.fit.beside), "what the answer names stands beside the verdict, too"
    assert all(len(words.split()) <= 3 for words in ready.fit.beside)
    assert ready.fit.beside == fit_of(case).beside
    assert cold or celsius >= 17.0


def test_the_answer_is_go_once_all_is_ticked_that_stops_a_day_and_names_what_is_open():
    ready = readiness(replace(CASE, shop=Shop(294.15, relative_humidity=0.5)), NightOutlook(wood_moisture=0.09))
    listed = checklist(CASE, ready)
    stops = [item for item in listed if item.stops]
    assert ready.answer == "go"
    assert 10 < len(stops) < len(listed)
    assert all(len(item.stops.split()) <= 3 for item in stops)
    for open_one in stops:
        ticked = {item.key for item in listed if item is not open_one}
        waits = with_list(ready, listed, ticked)
        assert (waits.answer, waits.reasons[0].words) == ("wait", f"Checklist: 1 left, open: {open_one.stops}.")
    assert with_list(ready, listed, {item.key for item in stops}) == ready
    assert with_list(ready, listed, ()).reasons[0].words == f"Checklist: 0/{len(listed)} ticked."


def test_the_heater_is_ready_for_the_night_that_needs_it():
    ready = readiness(CASE, NightOutlook(night_K=278.15))
    plan = ready.heating.moulds[0]
    assert f"mould at {plan.mould_K - 273.15:.0f} °C" in items(ready=ready)["heater"].words
    assert "mould" not in items()["heater"].words


def test_somebody_knows_and_gloves_are_there_for_everybody():
    assert "knows that you work" in items()["told"].words
    assert "6 pairs" in items()["gloves"].words
    alone = replace(CASE, plan=replace(PLAN, crew=replace(PLAN.crew, people=1)))
    assert "roles" in items()
    assert "roles" not in items(alone)


def test_a_plan_without_bonds_asks_for_no_wood():
    bare = replace(PLAN, steps=tuple(step for step in PLAN.steps if step.kind in ("fabric", "place")))
    case = replace(CASE, plan=bare)
    found = items(case)
    assert "wood" not in found
    assert "faces" not in found
    assert "wood" in items()


def test_a_plan_without_resin_still_has_its_list():
    case = replace(CASE, plan=replace(PLAN, steps=(PlaceStep("dry piece", 60.0),)))
    found = items(case)
    assert "cups" not in found
    assert "dry-run" in found


def test_a_plan_that_only_casts_asks_for_what_its_pours_take_and_for_no_press():
    urethane = replace(SLOW, id="casting", title="Casting urethane", chemistry="urethane")
    case = replace(CASE, plan=replace(PLAN, steps=(WALLS,)), casting_resins={"casting": urethane})
    (casting,), found = as_poured(case).castings, items(case)
    (pouring,) = pourings(case, None)
    assert casting.pours == len(pouring.pours)
    assert casting.parts_g == pytest.approx([sum(cup.parts_g[at] for cup in pouring.pours) for at in (0, 1)])
    assert f"Resin {casting.parts_g[0]:.0f} g and hardener {casting.parts_g[1]:.0f} g" in found["cans-1"].words
    assert f"{len(pouring.pours)} pour sheets" in found["mix-sheets"].words
    assert f"{len(pouring.pours) + 1} clean dry cups" in found["cups"].words
    assert "of Casting urethane read" in found["sheets"].words
    assert "dry wipes first" in found["gloves"].words
    assert "wood" in found, "water in it foams a urethane"
    assert not {"closing", "edges", "dry-run", "cans", "cast-1"} & found.keys()
    told = " ".join(item.words for item in found.values())
    assert " 0 g" not in told
    assert SLOW.title not in told


@pytest.mark.parametrize("method", CLOSING_ITEMS)
def test_each_way_of_closing_has_its_own_check(method):
    plan = replace(PLAN, closing=Closing(method=method, target_pressure_Pa=90_000.0, clamps=7))
    first, *rest = closing_items(plan)
    assert first.group == "closing"
    if method in ("clamps", "bolts"):
        assert first.words.startswith(f"7 {method}")
    if method == "bladder":
        assert "90 kPa" in first.words
        assert "relief valve" in first.words
    assert rest
    assert "All clamps" in closing_items(replace(PLAN, closing=Closing()))[0].words


def test_the_list_has_what_the_plan_states_of_the_days_before():
    acts = Task("Glue the core", 7200.0), Task("Sealer dries", 43200.0, ("Glue the core",), hands=False)
    listed = [item for item in checklist(replace(CASE, plan=replace(PLAN, before=acts))) if "before-" in item.key]
    assert [(item.group, item.words) for item in listed] == [
        ("the days before", "Glue the core: done"),
        ("the days before", "Sealer dries: over"),
    ]
    assert listed[0].short == "Glue the core: done"
