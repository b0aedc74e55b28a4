"""What is put right or changed on a running day: entries told afterwards, people, steps, mix left over."""

from dataclasses import replace
from pathlib import Path

import pytest
from simulate.shop import begun, workshop

from layup.app.bench_lines import step_lines
from layup.bench.changes import (
    DayChange,
    change_of,
    change_words,
    closing_of,
    left_over,
    press_act_done,
    take,
    that_was,
    when_s,
)
from layup.bench.day import PressDay, Said
from layup.bench.doing import do
from layup.bench.dues import next_at_press
from layup.bench.forecast import log_lines, outlook_of_day, pace
from layup.bench.opening import replanned
from layup.bench.view import bench_view
from layup.errors import InputError
from layup.planning.crew import pace_of
from layup.planning.fit import FITS
from layup.session.batch_events import BatchMixed, BatchPouredOut, PressClosed, StepDone
from layup.session.clock import ManualClock
from layup.session.day_events import PeopleChanged, StepAdded, StepMerged, StepSkipped
from layup.session.mass_balance import wants_mix, without_mix
from layup.session.state_parts import StepState


@pytest.fixture
def day(tmp_path: Path) -> PressDay:
    return begun(workshop(tmp_path), ManualClock())


def pass_s(day: PressDay, seconds: float) -> None:
    assert isinstance(day.clock, ManualClock)
    day.clock.advance(seconds)


def test_a_reading_without_the_key_starts_the_clock_a_usual_pour_before_it(day: PressDay):
    day.read_scale(1, "")
    pass_s(day, 240.0)
    said = day.read_scale(1, "")
    assert day.state.batch(1).mixed_s == pytest.approx(240.0 - 60.0)
    assert f"its clock runs since {day.clock_time(180.0)}: hardener was not logged as it went in" in said.words


def test_a_reading_at_once_after_the_resin_starts_no_clock_before_the_resin_was_in(day: PressDay):
    pass_s(day, 600.0)
    day.read_scale(1, "")
    pass_s(day, 20.0)
    day.read_scale(1, "")
    assert day.state.batch(1).mixed_s == pytest.approx(600.0)


def test_a_forgotten_hardener_key_is_put_right_with_the_minutes_back(day: PressDay):
    day.read_scale(1, "")
    pass_s(day, 600.0)
    day.hardener_in(1)
    young = day.alive[1]
    pass_s(day, 60.0)
    day.read_scale(1, "")
    said = that_was(day, when_s(day, "7 min ago"), seq=day.state.undoable - 1)
    assert said.done
    assert day.state.batch(1).mixed_s == pytest.approx(240.0)
    assert day.alive[1].empty_by_s < young.empty_by_s - 300.0
    assert f"7 min ago, {day.clock_time(240.0)}: batch 1 hardener in" in said.words


def test_the_minutes_back_after_a_reading_alone_are_of_the_hardener_that_it_started(day: PressDay):
    day.read_scale(1, "")
    pass_s(day, 600.0)
    day.read_scale(1, "")
    reading_s = day.state.batch(1).weighed_s
    assert that_was(day, when_s(day, "8 min ago")).done
    assert (day.state.batch(1).mixed_s, day.state.batch(1).weighed_s) == (pytest.approx(120.0), reading_s)


def test_no_entry_goes_to_a_time_that_has_not_come_or_at_which_it_could_not_be(day: PressDay):
    day.read_scale(1, "")
    pass_s(day, 300.0)
    day.hardener_in(1)
    pass_s(day, 300.0)
    day.poured_out(1)
    assert that_was(day, 700.0).words == "not then: that time has not come yet"
    assert that_was(day, 200.0).words == "not then: batch 1 is not mixed yet - hardener in comes first"
    assert day.state.batch(1).poured_out_s == pytest.approx(600.0), "refused, it stays as it was"
    with pytest.raises(InputError, match="before the session began"):
        when_s(day, "11 min ago")


def test_a_late_entry_is_marked_in_the_log_at_the_time_it_happened(day: PressDay):
    pass_s(day, 600.0)
    first, second = day.state.steps[:2]
    assert day.log(StepDone(step=first.number), "", 300.0).done
    assert log_lines(day, 1)[0].startswith(day.clock_time(300.0))
    assert log_lines(day, 1)[0].endswith("(told 5 min afterwards)")
    assert day.log(BatchPouredOut(batch=1), "", 300.0).words.startswith("not then: batch 1 is not mixed yet")
    assert day.log(StepDone(step=second.number), "", 900.0).words == "not then: that time has not come yet"


# -- people and steps ------------------------------------------------------------------------------------------------


def mix(day: PressDay, number: int) -> None:
    day.read_scale(number, "")
    pass_s(day, 60.0)
    day.hardener_in(number)
    pass_s(day, 60.0)
    assert day.read_scale(number, "").done


def lay_until(day: PressDay, step: int) -> None:
    """Do the steps before one of them, each in its planned time."""
    while day.state.step_now is not None and day.state.step_now.number != step:
        pass_s(day, day.state.step_now.plan.planned_s)
        assert day.step_done().done


def shares(day: PressDay) -> dict[int, float]:
    """Return how much of each step is laid, in a cup, or to be mixed."""
    sums = {step.number: day.balance.of_step(step.number) for step in day.state.steps}
    return {number: account.laid_share + account.left_share for number, account in sums.items()}


def test_a_helper_who_leaves_makes_the_closing_later_and_it_is_shown_before_it_is_taken(day: PressDay):
    mix(day, 1)
    change = change_of(day, PeopleChanged(people=1))
    assert isinstance(change, DayChange)
    assert change.after.ready_s > change.before.ready_s + 300.0
    assert FITS.index(change.after.verdict) >= FITS.index(change.before.verdict)
    assert day.state.people == 2, "looked at, it is not taken"
    said = take(day, change)
    assert (said.done, day.state.people) == (True, 1)
    assert outlook_of_day(day, day.now_s()).ready_s == pytest.approx(change.after.ready_s)
    assert f"closes {day.clock_time(change.after.ready_s)}, not {day.clock_time(change.before.ready_s)}" in said.words
    assert closing_of(day) == change.after
    by_cup = left_alone(day)
    assert by_cup.after.verdict == "does not fit"
    assert by_cup.after.spare_s > 0.0
    words = change_words(day, by_cup)
    assert f"DOES NOT FIT: {by_cup.after.why}" in words, "verdict and reason are one line"
    assert not any(" spare" in line for line in words if by_cup.after.why not in line), words


def left_alone(day: PressDay) -> DayChange:
    """Return what it does that the helper leaves while a cup stands that only two can lay in time."""
    day.log(PeopleChanged(people=2), "")
    pass_s(day, day.alive[1].empty_by_s - day.now_s() - 700.0)
    change = change_of(day, PeopleChanged(people=1))
    assert isinstance(change, DayChange)
    return change


def test_the_minutes_of_a_step_follow_the_people_who_are_there(day: PressDay):
    step = day.state.steps[0]
    alone, two = (pace_of(replace(day.crew, people=people)).full for people in (1, 2))
    assert day.planned_s(step) == step.plan.planned_s
    assert day.log(PeopleChanged(people=1), "").done
    assert day.planned_s(step) == pytest.approx(step.plan.planned_s * two / alone)
    assert day.log(PeopleChanged(people=2), "").done
    assert day.planned_s(step) == step.plan.planned_s


def test_a_helper_who_left_is_no_slower_pace_of_those_who_stay(day: PressDay):
    mix(day, 1)
    assert day.step_done().done
    assert day.log(PeopleChanged(people=1), "").done
    for _ in range(4):
        pass_s(day, day.planned_s(day.state.step_now))
        assert day.step_done().done
    times = [(step.plan.planned_s, step.took_s) for step in day.state.steps[1:5]]
    assert all(took_s > 1.3 * planned_s for planned_s, took_s in times), "alone each takes longer"
    assert pace(day, day.now_s()) == pytest.approx(1.0, abs=0.05)


def last_of(day: PressDay, kind: str) -> StepState:
    return [step for step in day.state.steps if step.plan.kind == kind][-1]


def test_a_step_left_out_closes_sooner_and_its_mix_is_not_mixed(day: PressDay):
    mix(day, 1)
    step = last_of(day, "bond")
    change = change_of(day, StepSkipped(step=step.number, why="veneer broke"))
    assert isinstance(change, DayChange)
    assert change.before.ready_s - change.after.ready_s == pytest.approx(step.plan.planned_s)
    before_g = sum(batch.plan.mass_g for batch in day.state.batches)
    assert take(day, change).done
    less_g = before_g - sum(batch.plan.mass_g for batch in day.state.batches)
    assert less_g == pytest.approx(day.mix_g[step.number])
    assert shares(day)[step.number] == 0.0
    assert not without_mix(day.state, day.balance), "a step left out wants no mix"
    assert all(share == pytest.approx(1.0, abs=0.02) for n, share in shares(day).items() if n in wants_mix(day.state))
    assert not [
        line for line in step_lines(day, bench_view(day), width=80, rows=30) if step.plan.name in line and "x" in line
    ]
    said = day.undo()
    assert said.words.startswith(f"taken back: left out: {step.plan.name}")
    assert sum(batch.plan.mass_g for batch in day.state.batches) == pytest.approx(before_g)
    assert day.state.step(step.number).left


def test_what_a_cup_in_hand_holds_for_a_step_left_out_is_told(day: PressDay):
    mix(day, 1)
    step = day.state.step_now
    change = change_of(day, StepSkipped(step=step.number))
    assert isinstance(change, DayChange)
    assert f"batch 1 has {day.mix_g[step.number] * day.balance.of_batch(1).poured_g:.0f} g" not in change.notes
    assert any(note.startswith("batch 1 has ") and note.endswith(" for it in its cup") for note in change.notes)


def test_a_step_merged_into_the_next_is_done_with_it_and_moves_no_closing(day: PressDay):
    mix(day, 1)
    first, second = day.state.steps[:2]
    change = change_of(day, StepMerged(step=first.number, into_step=second.number))
    assert isinstance(change, DayChange)
    assert change.after.ready_s == pytest.approx(change.before.ready_s)
    assert take(day, change).done
    assert day.state.step_now.number == second.number
    assert day.planned_s(day.state.step_now) == pytest.approx(first.plan.planned_s + second.plan.planned_s)
    pass_s(day, 600.0)
    assert day.step_done().done
    assert day.state.step(first.number).done_s == day.state.step(second.number).done_s
    assert day.balance.of_step(first.number).laid_share == pytest.approx(1.0)


def test_a_step_added_without_mix_closes_later_by_its_minutes(day: PressDay):
    before = day.state.steps[3].number
    event = StepAdded(step=50, name="tape the edges", kind="place", planned_s=240.0, before_step=before)
    change = change_of(day, event)
    assert isinstance(change, DayChange)
    assert change.after.ready_s - change.before.ready_s == pytest.approx(240.0)
    assert take(day, change).done
    assert [step.number for step in day.state.steps][3:5] == [50, before]
    assert "tape the edges" in " ".join(step_lines(day, bench_view(day), width=80, rows=30))


def test_a_step_added_with_mix_has_the_batches_planned_anew_for_it(day: PressDay):
    mix(day, 1)
    rest = replanned(day).split
    event = StepAdded(step=50, name="a patch", kind="bond", planned_s=120.0, mix_g=120.0)
    change = change_of(day, event)
    assert isinstance(change, DayChange)
    assert take(day, change).done
    waiting = [batch.plan.mass_g for batch in day.state.batches if batch.mixed_s is None]
    losses_g = (len(waiting) - len(rest.batches)) * day.plan.losses.per_batch_g
    assert sum(waiting) == pytest.approx(sum(batch.mass_g for batch in rest.batches) + 120.0 + losses_g)
    assert not without_mix(day.state, day.balance)
    assert shares(day)[50] == pytest.approx(1.0, abs=0.02)
    assert day.state.steps[-1].number == 50


def test_a_change_that_cannot_be_says_why(day: PressDay):
    mix(day, 1)
    first = day.state.steps[0].number
    assert day.step_done().done
    assert change_of(day, StepSkipped(step=first)) == f"step {first} is done already"
    assert "is done already" in change_of(day, StepMerged(step=first, into_step=first + 1))
    assert change_of(day, StepSkipped(step=99)) == "there is no step 99 in the plan"
    assert left_over(day, 2, 10.0) == "batch 2 is to mix - nothing is left in its cup"


# -- mix left over ---------------------------------------------------------------------------------------------------


def at_the_end_of_cup_1(day: PressDay) -> float:
    """Lay all that the first cup is for but the end of its last step; return what it was."""
    mix(day, 1)
    last = max(day.state.batch(1).plan.steps, key=[step.number for step in day.state.steps].index)
    lay_until(day, last)
    return day.state.batch(1).poured_g


def test_mix_left_over_goes_to_the_next_steps_and_so_much_less_is_mixed(day: PressDay):
    poured_g = at_the_end_of_cup_1(day)
    next_g = day.state.batch(2).plan.mass_g
    change = left_over(day, 1, 60.0)
    assert isinstance(change, DayChange)
    assert take(day, change).done
    batch, usable = day.state.batch(1), 60.0 - day.plan.losses.per_batch_g
    assert sum(share * day.mix_g[step] for step, share in batch.left_for) == pytest.approx(usable)
    assert next_g - day.state.batch(2).plan.mass_g == pytest.approx(usable)
    assert f"batch 2: {next_g - usable:.0f} g, not {next_g:.0f} g" in change.notes
    account = day.balance.of_batch(1)
    assert account.laid_g == pytest.approx(poured_g - 60.0)
    assert account.left_g == pytest.approx(60.0)
    assert all(share == pytest.approx(1.0, abs=0.02) for n, share in shares(day).items() if n in wants_mix(day.state))
    assert not without_mix(day.state, day.balance)
    plan = day.state.batch(2).plan
    assert plan.resin_g + plan.hardener_g == pytest.approx(plan.mass_g)
    assert plan.resin_g / plan.hardener_g == pytest.approx(day.parts[0] / day.parts[1])


def test_a_replan_after_mix_was_left_over_plans_as_much_as_the_lighter_batches_hold(day: PressDay):
    at_the_end_of_cup_1(day)
    change = left_over(day, 1, 60.0)
    assert isinstance(change, DayChange)
    assert take(day, change).done
    lighter_g = sum(batch.plan.mass_g for batch in day.state.batches if batch.mixed_s is None)
    rest = replanned(day).split
    losses_g = (len(rest.batches) - 1) * day.plan.losses.per_batch_g
    assert sum(batch.mass_g for batch in rest.batches) == pytest.approx(lighter_g + losses_g, abs=12.0)


def test_mix_left_over_that_is_no_good_any_more_is_not_counted_on(day: PressDay):
    at_the_end_of_cup_1(day)
    pass_s(day, day.alive[1].empty_by_s - day.now_s() + 1.0)
    change = left_over(day, 1, 60.0)
    assert isinstance(change, DayChange)
    assert len(change.events) == 1
    assert change.notes[0].startswith("batch 1 is ")
    assert change.notes[0].endswith(": lay no more of it")


def test_mix_left_over_that_could_not_be_laid_in_time_is_not_counted_on(day: PressDay):
    at_the_end_of_cup_1(day)
    pass_s(day, day.alive[1].empty_by_s - day.now_s() - 60.0)
    change = left_over(day, 1, 60.0)
    assert isinstance(change, DayChange)
    assert len(change.events) == 1
    assert change.notes[0].startswith(f"batch 1 must be empty by {day.clock_time(day.alive[1].empty_by_s)}: ")
    assert change.notes[0].endswith(" min too early to lay it")


def test_mix_off_ratio_is_credited_to_nothing(day: PressDay):
    day.read_scale(1, "")
    pass_s(day, 60.0)
    resin_g = day.state.batch(1).resin_g
    day.log(BatchMixed(batch=1, resin_g=resin_g, hardener_g=0.2 * resin_g, start_K=293.15), "")
    lay_until(day, max(day.state.batch(1).plan.steps, key=[step.number for step in day.state.steps].index))
    change = left_over(day, 1, 60.0)
    assert isinstance(change, DayChange)
    assert change.notes == ("batch 1 is off ratio: do not lay more of it",)


# -- at the closed press ---------------------------------------------------------------------------------------------


def closed(day: PressDay) -> float:
    """Mix and lay all there is, close the press and return when."""
    for batch in list(day.state.batches):
        mix(day, batch.number)
        assert day.poured_out(batch.number).done
    while day.state.step_now is not None:
        pass_s(day, 60.0)
        assert day.step_done().done
    assert day.log(PressClosed(), "").done
    return day.now_s()


def at_press(day: PressDay) -> tuple[str, float | None]:
    act = next_at_press(day, day.now_s())
    assert act is not None
    return act.words, act.at_s


def test_a_closed_press_wants_its_rounds_then_to_be_looked_at_again_and_then_to_stay_closed(day: PressDay):
    closed_s = closed(day)
    assert at_press(day) == ("RAISE TO HALF PRESSURE", closed_s)
    act = bench_view(day).act
    assert (act.words, act.number) == ("RAISE TO HALF PRESSURE", "50 kPa")
    assert do(day, act) == Said("done: raise to half pressure", True)
    assert do(day, act) == Said("not now: raise to full pressure", False), "a key meant for one act never logs another"
    pass_s(day, 30.0)
    assert at_press(day) == ("RAISE TO FULL PRESSURE", closed_s)
    assert press_act_done(day).done
    assert at_press(day) == ("READ THE GAUGE", closed_s + 300.0)
    view = bench_view(day)
    assert view.act.words == "LEAVE IT CLOSED"
    assert [act.words for act in view.then][:1] == ["READ THE GAUGE"]
    pass_s(day, 300.0)
    due = bench_view(day).act
    assert (due.words, due.kind, due.alarm) == ("READ THE GAUGE", "retighten", True)
    said = press_act_done(day)
    assert (said.done, said.words) == (True, "done: read the gauge")
    assert next_at_press(day, day.now_s()) is None
    assert bench_view(day).act.words == "LEAVE IT CLOSED"
    assert press_act_done(day).words == "not now: nothing is left to tighten"
    assert day.undo().done
    assert at_press(day) == ("READ THE GAUGE", closed_s + 300.0)


def test_nothing_is_tightened_once_the_resin_gels(day: PressDay):
    closed(day)
    gel_s = min(life.gel_s.low for life in day.alive.values())
    pass_s(day, gel_s - day.now_s() + 1.0)
    assert next_at_press(day, day.now_s()) is None


def test_the_press_of_a_day_whose_plan_cannot_be_read_is_left_closed(day: PressDay):
    closed(day)
    day._plan = InputError("plan", "cannot be read")
    assert next_at_press(day, day.now_s()) is None
