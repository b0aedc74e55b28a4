"""The next act: one at every moment, the most urgent that can be done."""

from dataclasses import replace
from math import inf
from pathlib import Path

import pytest
from scripted_days import Player, day_of, done, loses, mixes, take_replan
from scripted_days import _desk as desk_of
from simulate.shop import begun, workshop

from layup.app.bench_lines import act_of_enter
from layup.bench.acts import Act
from layup.bench.day import PressDay
from layup.bench.doing import temperature_read
from layup.bench.dues import dues
from layup.bench.forecast import outlook_of_day
from layup.bench.opening import plan_now, window_of
from layup.bench.view import bench_view
from layup.commands.follow import line as spoken
from layup.errors import InputError
from layup.page.taps import view_of
from layup.planning.planner import too_cold
from layup.session.batch_events import BatchLost, BatchMixed, Replanned, StepDone
from layup.session.clock import ManualClock
from layup.session.day_events import PeopleChanged, TemperatureRead


@pytest.fixture
def day(tmp_path: Path) -> PressDay:
    """Return a day of two that begins now."""
    return begun(workshop(tmp_path), ManualClock())


def test_a_day_that_begins_is_told_to_weigh_its_first_batch_which_has_no_deadline_yet(day: PressDay) -> None:
    view = bench_view(day)
    resin_g = f"{day.state.batches[0].plan.resin_g:.0f} g"
    assert (view.act.words, view.act.number) == ("WEIGH BATCH 1", resin_g), "the number is what the scale shows next"
    assert view.act.why == "TARE CUP, resin first"
    assert (view.act.deadline_s, view.act.urgency) == (None, "fresh")
    assert view.cups == view.parts == ()


def test_each_pour_says_what_the_scale_shows_how_much_is_added_and_whether_to_tare(day: PressDay) -> None:
    day.read_scale(1, "281")
    readings = day.readings(1)
    act = bench_view(day).act
    assert (act.words, act.number) == ("POUR HARDENER", f"{readings.next_g:.0f} g")
    assert act.amount == f"SCALE TO {readings.next_g:.0f} g", "the number is not what is poured"
    assert act.why == f"+{readings.next_g - 281.0:.0f} g, DO NOT TARE"
    assert act.aloud == f"pour hardener, scale to {readings.next_g:.0f} g, {act.why}"
    twice = replace(readings, tare_each=True)
    assert twice.pour_words == f"+{twice.next_g:.0f} g, TARE AGAIN"
    assert replace(twice, clock_runs=True).tare_words == "DO NOT TARE", "hardener is in: taring now loses it"
    day.hardener_in(1)
    act = bench_view(day).act
    assert (act.words, act.amount, act.why) == ("READ THE SCALE", f"SHOULD BE {readings.next_g:.0f} g", "DO NOT TARE")
    assert "+" not in view_of(day)["says"]["button"], "it is in: what is asked is the total"
    day.read_scale(1, f"{readings.next_g + 25.0:.0f}")
    act = bench_view(day).act
    assert (act.words, act.amount) == ("ADD RESIN", f"SCALE TO {day.readings(1).next_g:.0f} g")
    assert act.why.startswith(f"+{day.readings(1).pour_g:.4g} g, DO NOT TARE, ")


def test_closing_takes_as_long_on_the_day_as_in_its_plan_and_longer_for_who_is_left(day: PressDay) -> None:
    figures = plan_now(day)
    assert figures.timeline is not None
    (closing,) = figures.timeline.closing.spans
    assert day.closing_s == pytest.approx(closing.end_s - closing.begin_s)
    assert day.log(PeopleChanged(people=1), "").done
    assert day.closing_s == day.closing.bench_s


def test_a_plan_file_with_fewer_steps_than_the_day_keeps_nobody_from_its_clocks(day: PressDay) -> None:
    day._plan = replace(day.plan, steps=day.plan.steps[:4])
    batch = day.state.batches[0]
    event = BatchMixed(batch=1, resin_g=batch.plan.resin_g, hardener_g=batch.plan.hardener_g, start_K=293.15)
    assert day.log(event, "").done
    assert window_of(day) == (None, None)
    assert bench_view(day).cups[0].by_s == day.alive[1].empty_by_s
    assert isinstance(day.clock, ManualClock)
    day.clock.advance(day.alive[1].over_s.high + 60.0)
    assert bench_view(day).act.words == "CUP 1 OUTSIDE NOW"


@pytest.mark.parametrize("people", [1, 2])
def test_the_minutes_of_a_step_run_once_its_cup_is_stirred(people: int) -> None:
    day = day_of(people)
    day.clock.advance(300.0)
    assert bench_view(day).step.spent_s == 0.0, "nothing is mixed yet"
    day.read_scale(1, "")
    assert day.hardener_in(1).done
    day.clock.advance(day.stir_s / 2)
    view = bench_view(day)
    assert (view.act.kind, view.step.spent_s) == ("read scale", 0.0)
    day.clock.advance(day.stir_s / 2 + 60.0)
    assert bench_view(day).step.spent_s == pytest.approx(60.0)


@pytest.mark.parametrize("people", [1, 2])
def test_the_minutes_of_a_step_never_run_back_while_another_cup_is_mixed(people: int) -> None:
    day = day_of(people)
    day.read_scale(1, "")
    assert day.hardener_in(1).done
    shown, ahead_s = [], 0.0
    for second in range(0, 600, 10):
        if second == 300:
            day.read_scale(2, "")
        if second == 330:
            ahead_s = outlook_of_day(day, day.now_s()).ready_s - day.now_s()
            assert day.hardener_in(2).done
            assert outlook_of_day(day, day.now_s()).ready_s - day.now_s() >= ahead_s - 1.0, "mixed, it closes no sooner"
        shown.append(bench_view(day).step.spent_s)
        day.clock.advance(10.0)
    assert shown == sorted(shown)
    assert (shown[42] == shown[33]) == (people == 1), "alone the step waits while the cup is stirred"


def test_a_batch_of_which_nobody_can_say_how_long_it_lasts_is_looked_at_every_five_minutes(day: PressDay) -> None:
    day._resin = InputError("resin.toml", "cannot be read")
    batch = day.state.batches[0]
    event = BatchMixed(batch=1, resin_g=batch.plan.resin_g, hardener_g=batch.plan.hardener_g, start_K=293.15)
    assert day.log(event, "").done
    view = bench_view(day)
    assert (view.act.words, view.act.rank) == ("LOOK AT BATCH 1", "soon")
    assert (view.cups[0].words, view.cups[0].by_s) == ("life not known", None)
    assert day.observed(1, "runny").done
    assert bench_view(day).act.kind != "look"
    assert isinstance(day.clock, ManualClock)
    day.clock.advance(301.0)
    assert bench_view(day).act.words == "LOOK AT BATCH 1"


def test_a_cup_that_another_goes_on_from_within_a_step_is_emptied_onto_it_by_one_wording_early_and_late(
    day: PressDay,
) -> None:
    first, second = (batch.plan for batch in day.state.batches[:2])
    last = first.steps[-1]
    shares = {"steps": (last, *second.steps), "shares": (0.6, *second.shares)}
    shared = (first.model_copy(update={"shares": (*first.shares[:-1], 0.4)}), second.model_copy(update=shares))
    assert day.log(Replanned(batches=shared), "").done
    event = BatchMixed(batch=1, resin_g=first.resin_g, hardener_g=first.hardener_g, start_K=293.15)
    assert day.log(event, "").done
    assert day.read_scale(1, "").done
    assert isinstance(day.clock, ManualClock)
    day.clock.advance(200.0)
    for step in day.state.steps:
        if step.number < last:
            assert day.log(StepDone(step=step.number), "").done
    view, name = bench_view(day), day.plan.steps[last - 1].name
    (act,) = view.others
    assert (act.person, act.words, act.why) == ("laying", "EMPTY CUP 1", f"onto {name.lower()}")
    assert act.deadline_s == day.alive[1].empty_by_s
    assert last not in [each.step for each in dues(day, day.now_s()).coming], "it is laid as its cup is emptied"
    day.clock.advance(day.alive[1].empty_by_s - day.now_s() + 1.0)
    due = bench_view(day).act
    assert (due.words, due.urgency, act.urgency) == ("EMPTY CUP 1", day.alive[1].stage(day.now_s(), 0.0), "fresh")
    assert day.poured_out(1).done
    assert bench_view(day).act.words == "WEIGH BATCH 2"


@pytest.mark.parametrize("people", [1, 2])
def test_work_that_goes_faster_than_planned_makes_nothing_late_while_the_press_can_wait(people: int) -> None:
    """Each act done two seconds after the last: a plan's time that has gone by is no limit; the press is."""
    day, seen = day_of(people), 0
    while (view := bench_view(day)).act.kind != "leave closed":
        spare_s = inf if view.press.spare_s is None else view.press.spare_s
        for act in (view.act, *view.others, *view.then):
            if act.kind in ("weigh", "pour hardener", "step", "close"):
                late_s = 0.0 if act.deadline_s is None else view.now_s - act.deadline_s
                assert late_s <= 0.0 or late_s >= spare_s, act
            assert act.kind != "weigh" or not act.is_due, act
        act = next((each for each in (view.act, *view.others) if each.kind not in ("stir", "wait")), None)
        if act is not None:
            done(day, act)
        day.clock.advance(2.0)
        seen += 1
    assert seen > 15


def test_a_batch_weighed_later_than_planned_is_behind_and_late_only_once_the_press_cannot_wait() -> None:
    day = day_of()
    for _ in range(3):
        done(day, bench_view(day).act)
    due_s = next(act.deadline_s for act in dues(day, day.now_s()).coming if act.kind == "weigh")
    for step in day.state.steps[:7]:
        day.clock.advance(day.planned_s(step))
        assert day.log(StepDone(step=step.number), "").done
    assert day.poured_out(1).done
    day.clock.advance(max(due_s, day.state.bench_free_s) + 600.0 - day.now_s())
    view = bench_view(day)
    shown = view.act.words, view.act.urgency, view.act.deadline_s, view.act.alarm
    assert shown == ("WEIGH BATCH 2", "soon", None, True), "the bench waits for it, and that rings"
    assert view.act.why == "TARE CUP, resin first, 10 min behind"
    day.clock.advance(view.press.spare_s - 60.0)
    act = bench_view(day).act
    assert (act.words, act.urgency, act.deadline_s < day.now_s()) == ("WEIGH BATCH 2", "now", True)
    assert act.why == "TARE CUP, resin first"
    day.clock.advance(120.0)
    assert bench_view(day).act.kind == "replan", "no minute is to spare any more"


def test_a_batch_that_would_go_off_in_its_cup_at_the_pace_and_warmth_of_today_asks_for_a_replan(day: PressDay) -> None:
    assert bench_view(day).act.kind == "weigh"
    assert day.log(TemperatureRead(place="air", temperature_K=303.15), "").done
    view = bench_view(day)
    batch = day.state.batches[0]
    over_s = -day.cup_spare_s(batch, 1.0)
    assert over_s > 60.0
    assert (view.act.kind, view.act.urgency, view.act.alarm) == ("replan", "soon", True)
    assert view.act.why == f"batch 1: {over_s / 60:.0f} min too long in its cup"
    assert day.log(TemperatureRead(place="air", temperature_K=293.15), "").done
    assert bench_view(day).act.kind == "weigh"


def test_somebody_alone_is_told_a_closing_that_counts_the_mixing_to_come() -> None:
    """The plan of the same day, worked out by the batches, closes when the bench says before anything is mixed."""
    day, plan = day_of(1), desk_of(1, 20.0).figures
    assert bench_view(day).press.ready_s == pytest.approx(plan.timeline.closed_s, abs=1.0)
    closes = [view.press.ready_s for view in player_of(day, until_min=40.0).views]
    assert max(closes) - min(closes) < 360.0, "mixing as planned is no slow pace"


def test_what_comes_is_in_the_order_in_which_it_is_done() -> None:
    for people in (1, 2):
        day = day_of(people)
        for view in player_of(day, until_min=30.0).views:
            steps = [act.step for act in view.then if act.kind == "step"]
            on_bench = day.state.step(steps[0]) if steps else None
            assert steps == sorted(steps), (view.now_s, steps)
            assert on_bench is None or on_bench.number <= view.step.number + 1, "the step on the bench is not skipped"


def test_no_batch_is_to_be_weighed_before_anybody_could_know_of_it() -> None:
    for people, minute in ((1, 20.0), (2, 25.0), (2, 1.0)):
        day = day_of(people)
        player = player_of(day, until_min=minute)
        loses(1)(day)
        take_replan(day)
        lost_s = day.now_s()
        player.play([], until_min=minute + 15.0)
        found = [act for view in player.views for act in (view.act, *view.others, *view.then) if act.kind == "weigh"]
        late = [act for act in found if act.deadline_s is not None and act.batch not in (1, 2)]
        assert all(act.deadline_s >= lost_s - 1e-6 for act in late), (people, minute, lost_s, late)


def player_of(day: PressDay, *, until_min: float) -> Player:
    """Return a crew that has worked for some minutes."""
    player = Player(day)
    player.play([], until_min=until_min)
    return player


@pytest.mark.parametrize("minute", [1.0, 41.0, 75.0])
def test_a_cold_shop_logged_at_any_time_of_the_day_is_said_by_the_rule_of_the_page_before_it(minute: float) -> None:
    day = day_of()
    player_of(day, until_min=minute)
    assert not cold_acts(day)
    assert temperature_read(day, "air", 282.15).done
    (act,) = cold_acts(day)
    limits = too_cold(plan_now(day))
    mixing = any(batch.status in ("to mix", "weighed") for batch in day.state.batches)
    said = [f"shop 9.0 °C: {limit.short} below {limit.temperature_K - 273.15:.0f} °C" for limit in limits]
    assert act.words == ("WARM THE SHOP" if mixing else "WARM THE PART")
    assert act.why in said, "the same limits, one by one"
    assert act.alarm
    done(day, act)
    assert all(each.seen for each in cold_acts(day)), "seen, it waits"
    view = bench_view(day)
    stands = [view.notice, *(each.why for each in (view.act, *view.others, *view.then))]
    assert act.why in stands, "in small words, as long as it holds"
    assert not [each for each in view.alarms if not each.seen and each.kind == "warm shop"]
    assert temperature_read(day, "air", 294.15).done
    assert not cold_acts(day)
    assert bench_view(day).notice != act.why


def test_what_a_datasheet_leaves_out_is_said_on_a_cool_day() -> None:
    day = day_of()
    day._sheet = replace(day.sheet, viscosities=(), minimum_temperature_K=None)
    assert temperature_read(day, "air", 289.15).done
    (act,) = cold_acts(day)
    assert (act.why, act.urgency) == ("shop 16.0 °C: viscosity unknown below 18 °C", "fresh")


def cold_acts(day: PressDay) -> list[Act]:
    """Return what the bench says of the cold."""
    found = dues(day, day.now_s())
    return [act for act in (*found.standing, *found.coming) if act.kind == "warm shop"]


def lost_after(day: PressDay, steps: int, laid_g: float) -> None:
    """Work until so many steps are done, lose the cup in hand with less on the part than those took, and replan."""
    player = Player(day)
    while sum(step.done_s is not None for step in day.state.steps) < steps:
        player._work(bench_view(day))
        day.clock.advance(10.0)
    (batch,) = day.in_cup()
    assert laid_g < day.laid_so_far_g(batch) - 100.0, "what is laid is short of mix"
    assert day.log(BatchLost(batch=batch.number, why="spilt", laid_g=laid_g), "").done
    take_replan(day)


@pytest.mark.parametrize("people", [1, 2])
def test_a_batch_made_anew_says_at_the_scale_and_once_stirred_onto_which_laid_step_it_goes(people: int) -> None:
    day = day_of(people)
    lost_after(day, 3, 40.0)
    name = day.state.steps[2].plan.name.lower()
    new = next(batch for batch in day.state.batches if batch.status == "to mix")
    assert day.state.steps[2].number in new.steps
    weigh = next(act for act in dues(day, day.now_s()).standing if act.kind == "weigh")
    assert weigh.why == f"TARE CUP, also {name}"
    assert f"also {name}" in spoken(day, weigh)
    assert view_of(day)["says"]["foot"] == f"also {name}", "to tare stands on the button"
    mixes(new.number)(day)
    day.clock.advance(day.stir_s + 1.0)
    step = next(act for act in dues(day, day.now_s()).standing if act.kind == "step")
    assert step.why == f"first cup {new.number} onto {name}"
    for act in (bench_view(day).act, *bench_view(day).others):
        if act.kind == "step":
            done(day, act)
    step = next(act for act in dues(day, day.now_s()).standing if act.kind == "step")
    assert "first cup" not in step.why, "it is there now"


def test_a_batch_made_anew_for_laid_steps_alone_is_asked_for_and_emptied_onto_them() -> None:
    day = day_of(2)
    lost_after(day, 11, 50.0)
    assert day.state.step_now.plan.kind == "place", "all that takes mix is laid"
    weigh = next(act for act in dues(day, day.now_s()).standing if act.kind == "weigh")
    assert weigh.why == "TARE CUP, also steps 10-12"
    mixes(weigh.batch)(day)
    day.clock.advance(day.stir_s + 1.0)
    empty = next(act for act in dues(day, day.now_s()).standing if act.kind == "empty cup")
    assert (empty.words, empty.why) == (f"EMPTY CUP {weigh.batch}", "onto steps 10-12")


def test_a_batch_made_anew_for_the_steps_to_come_names_no_laid_step() -> None:
    day = day_of(2)
    mixes(1)(day)
    loses(1)(day)
    take_replan(day)
    weigh = next(act for act in dues(day, day.now_s()).standing if act.kind == "weigh")
    assert weigh.why == "TARE CUP, resin first"


@pytest.mark.parametrize("people", [1, 2])
def test_while_the_cup_of_a_step_is_stirred_the_step_is_no_act_on_any_surface(people: int) -> None:
    day = day_of(people)
    assert day.read_scale(1, "").done
    assert day.hardener_in(1).done
    for kind, beside in (("read scale", "READ THE SCALE"), ("stir", "")):
        view, page = bench_view(day), view_of(day)
        assert view.act.kind == kind
        assert [act.words for act in view.others] == ["WAIT FOR BATCH 1"] * (people - 1)
        assert page["says"]["button"].partition("\n")[0] == beside, "only what can be confirmed has a button"
        assert page["says"]["beside"] == "", page["beside"]
        assert "step" in [act.kind for act in view.then], "it comes"
        assert act_of_enter(view) is (view.act if beside else None)
        assert day.read_scale(1, "").done or not beside
        day.clock.advance(30.0)
    day.clock.advance(day.stir_s)
    assert bench_view(day).act.kind == "step"


def test_a_cup_made_anew_is_stirred_before_it_is_emptied_onto_what_is_laid() -> None:
    day = day_of(2)
    lost_after(day, 11, 50.0)
    number = next(batch.number for batch in day.state.batches if batch.status == "to mix")
    mixes(number)(day)
    kinds = [act.kind for act in dues(day, day.now_s()).standing]
    assert "empty cup" not in kinds
    assert "step" not in kinds, "film and caul come after it"
    assert bench_view(day).act.kind == "stir"


def test_a_step_that_has_a_stirred_cup_goes_on_while_its_next_one_is_stirred() -> None:
    day = day_of(2)
    first, second = (batch.plan for batch in day.state.batches[:2])
    step = first.steps[0]
    shared = second.model_copy(update={"steps": (step, *second.steps), "shares": (0.1, *second.shares)})
    assert day.log(Replanned(batches=(first, shared)), "").done
    mixes(1)(day)
    day.clock.advance(day.stir_s + 1.0)
    mixes(2)(day)
    assert "step" in [act.kind for act in dues(day, day.now_s()).standing]
