"""What an act does when its key is pressed, what is asked first, and that no key does what was not read."""

from dataclasses import replace

import pytest
from scripted_days import Player, answer, beside, day_of, done, loses, mixes

from layup.app.bench_lines import enter_words
from layup.bench.acts import KINDS, TAKES_TIME, Act, Kind, is_seen
from layup.bench.day import PressDay, Said
from layup.bench.doing import DRAWN_FOR_S, OnScreen, Question, do, end_question, looks, seen, to_be_seen
from layup.bench.forecast import out_likely_s
from layup.bench.scale_readings import STIR_S
from layup.bench.view import bench_view
from layup.errors import InputError
from layup.planning.plan import Closing
from layup.planning.pressing import pressing, pull_words
from layup.session.batch_events import (
    BatchMixed,
    BatchPouredOut,
    CupTemperatureRead,
    Demoulded,
    PourRead,
    PressClosed,
    Replanned,
    StepDone,
)
from layup.session.state import Event


def log(day: PressDay, *events: Event) -> None:
    for event in events:
        assert day.log(event, "").done, event


def mixed(day: PressDay, number: int = 1) -> BatchMixed:
    batch = day.state.batch(number)
    assert batch is not None
    return BatchMixed(batch=number, resin_g=batch.plan.resin_g, hardener_g=batch.plan.hardener_g, start_K=293.15)


def asked(day: PressDay, act: Act | None = None) -> Question:
    found = do(day, act or bench_view(day).act)
    assert isinstance(found, Question), found
    return found


def last(day: PressDay) -> str:
    return day.state.records[-1].event


def test_from_the_first_act_to_the_closed_press_the_one_key_does_it_all() -> None:
    day = day_of()
    player = Player(day)
    player.play([], until_min=120.0)
    assert day.state.closed_s is not None
    assert not day.state.misfits
    assert {batch.status for batch in day.state.batches} == {"under press"}
    assert all(batch.resin_read and batch.hardener_read for batch in day.state.batches)


def test_the_key_starts_the_clock_as_hardener_touches_and_asks_the_scale_after_it() -> None:
    day = day_of()
    assert asked(day).kind == "scale"
    done(day, bench_view(day).act)
    assert bench_view(day).act.words == "POUR HARDENER"
    assert last(beside(day)) == "pour-read"
    done(day, bench_view(day).act)
    assert last(day) == "batch-mixed"
    assert bench_view(day).act.words == "READ THE SCALE"
    done(day, bench_view(day).act)
    assert last(day) == "pour-read"
    assert bench_view(day).act.words == "STIR BATCH 1"


def test_an_unread_batch_goes_on_the_part_only_once_somebody_said_so() -> None:
    day = day_of(1)
    log(day, mixed(day))
    day.clock.advance(600.0)
    act = bench_view(day).act
    assert act.kind == "step"
    question = asked(day)
    assert question.kind == "lay anyway"
    assert "UNREAD" in question.title
    kept = do(day, act, False)
    assert isinstance(kept, Said)
    assert not kept.done
    assert isinstance(do(day, act, True), Said)
    assert day.state.records[-1].despite == "unread"


def test_a_step_that_is_not_on_the_bench_any_more_is_not_done_again() -> None:
    day = day_of(1)
    log(day, mixed(day))
    day.clock.advance(600.0)
    act = bench_view(day).act
    done(day, act)
    again = do(day, act)
    assert isinstance(again, Said)
    assert not again.done


def test_a_cup_past_its_time_is_lost_once_it_is_known_what_of_it_is_laid() -> None:
    day = day_of()
    log(day, mixed(day))
    day.clock.advance(day.alive[1].over_s.high + 60.0)
    question = asked(day)
    assert (question.kind, question.act.words, question.usual_g) == ("laid", "CUP 1 OUTSIDE NOW", 0.0)
    assert isinstance(do(day, question.act, 120.0), Said)
    batch = day.state.batch(1)
    assert batch is not None
    assert (batch.status, batch.lost_laid_g, batch.lost_why) == ("lost", 120.0, "past its time")


def test_a_look_at_a_cup_decides_between_laying_it_and_spreading_it_out() -> None:
    for word, words in (
        ("runny", "EMPTY CUP 1"),
        ("thickening", "SPREAD CUP 1 FLAT"),
        ("stringy", "CUP 1 OUTSIDE NOW"),
    ):
        day = day_of()
        log(day, mixed(day))
        day.clock.advance(day.alive[1].over_s.low + 1.0)
        question = asked(day)
        assert question.kind == "looks"
        assert isinstance(do(day, question.act, word), Said)
        assert bench_view(day).act.words == words


def test_a_pour_on_the_scale_is_read_before_a_cup_is_emptied_that_has_time() -> None:
    day = day_of()
    for _ in range(3):
        done(day, bench_view(day).act)
    day.clock.advance(STIR_S + 1.0)
    while not any(act.kind == "empty cup" for act in (bench_view(day).act, *bench_view(day).others)):
        assert day.step_done().done
    log(day, mixed(day, 2))
    assert bench_view(day).act.words == "READ THE SCALE"
    assert "EMPTY" in bench_view(day).others[0].words
    assert day.read_scale(2, "").done
    assert bench_view(day).act.words != "READ THE SCALE"


def test_a_cup_that_is_still_stirred_is_emptied_only_once_somebody_said_so() -> None:
    day = day_of()
    for _ in range(3):
        done(day, bench_view(day).act)
    assert bench_view(day).act.words == "STIR BATCH 1"
    emptied = Act("empty cup", "", "cup 1", batch=1)
    question = asked(day, emptied)
    assert question.kind == "sure"
    assert f"until {day.clock_time(STIR_S)}." in question.title, "a question stands for long: it counts nothing down"
    assert isinstance(do(day, emptied, False), Said)
    assert day.state.batch(1).status == "in the cup"
    laid = Act("step", "", "step 1", step=day.state.step_now.number)
    assert asked(day, laid).title.startswith(question.title.partition("\n")[0]), (
        "a step that is laid from it asks the same"
    )
    assert isinstance(do(day, laid, False), Said)
    assert day.state.step_now.number == laid.step
    assert day.step_done().done
    assert asked(day, emptied).kind == "sure", "a step that was ticked stirs no cup"
    day.clock.advance(STIR_S)
    assert isinstance(do(day, emptied), Said), "stirred, it is not asked"
    assert day.state.batch(1).status == "on the part"


def test_a_step_with_a_stirred_cup_in_hand_is_not_kept_back_by_the_next_one_that_is_stirred() -> None:
    day = day_of()
    first, second = (batch.plan for batch in day.state.batches[:2])
    lower = next(step for step in day.state.steps if step.plan.name == "Lower glass").number
    shared = second.model_copy(update={"steps": (lower, *second.steps), "shares": (0.1, *second.shares)})
    log(day, Replanned(batches=(first, shared)))
    for _ in range(3):
        done(day, bench_view(day).act)
    log(day, *(StepDone(step=step.number) for step in day.state.steps if step.number < lower))
    day.clock.advance(STIR_S + 1.0)
    assert day.read_scale(2, "").done
    assert day.hardener_in(2).done
    laid = Act("step", "", f"step {lower}", step=lower)
    for _ in range(2):
        assert isinstance(do(beside(day), laid), Said), "batch 1 is in hand, stirred; batch 2 stirred, unread, or read"
        assert day.read_scale(2, "").done
    log(day, BatchPouredOut(batch=1))
    assert asked(day, laid).title.startswith("Batch 2 is stirred until"), "its only mix is being stirred"


def test_what_is_on_the_part_sets_the_press_and_what_is_in_its_cup_does_not() -> None:
    day = day_of()
    log(day, mixed(day))
    assert day.press_by_s is None
    day.clock.advance(600.0)
    log(day, BatchPouredOut(batch=1))
    assert day.press_by_s == day.alive[1].over_s.low


def test_a_look_that_cannot_be_is_asked_again_with_what_it_does_to_the_closing_and_undo_restores_it() -> None:
    day = day_of()
    log(day, mixed(day), PourRead(batch=1, resin_g=280.0, hardener_g=84.0))
    day.clock.advance(600.0)
    log(day, BatchPouredOut(batch=1))
    by_s, seq = day.press_by_s, day.state.seq
    question = looks(day, 1, "gelled")
    assert isinstance(question, Question)
    assert (question.kind, question.about, day.state.seq) == ("sure", "gelled", seq), "nothing is logged yet"
    assert "Batch 1 gelled, after 10 min?" in question.title
    assert f"not {day.clock_time(by_s)}" in question.title
    said = looks(day, 1, "gelled", sure=True)
    assert isinstance(said, Said)
    assert day.press_by_s < by_s - 3600.0
    assert f"Press by {day.clock_time(day.press_by_s)}," in question.title, "what was said is what came"
    assert day.undo().done
    assert day.press_by_s == by_s
    for word in ("runny", "thickening"):
        expected = day_of()
        log(expected, mixed(expected))
        expected.clock.advance(0.9 * expected.alive[1].over_s.likely if word == "thickening" else 600.0)
        assert isinstance(looks(expected, 1, word), Said), "what can be is not asked"


def test_a_look_that_cannot_be_says_before_it_is_kept_that_no_other_cup_goes_by_it() -> None:
    day = day_of()
    mixes(1)(day)
    day.clock.advance(200.0)
    mixes(2)(day)
    day.clock.advance(29.0)
    others = day.alive[1].over_s
    question = looks(day, 2, "gelled")
    assert question.title.count("Too far off to be true: no other batch goes by it.") == 1
    assert isinstance(looks(day, 2, "gelled", sure=True), Said)
    assert day.alive[1].over_s == others
    assert day.alive[2].over_s.high <= day.now_s(), "its own clock is over all the same"


def test_a_look_is_logged_where_nobody_can_read_of_which_resin_it_is() -> None:
    day = day_of()
    log(day, mixed(day))
    day._resin, day._alive_of = InputError("resin.toml", "cannot be read"), ()
    assert looks(day, 1, "gelled") == Said("batch 1 looks gelled", True)


def test_a_lost_cup_that_is_hot_can_only_be_seen() -> None:
    day = day_of()
    log(day, mixed(day))
    loses(1)(day)
    day.clock.advance(1.0)
    log(day, CupTemperatureRead(batch=1, temperature_K=340.0))
    act = bench_view(day).act
    assert act.words == "CUP 1 OUTSIDE NOW"
    done(day, act)
    assert last(day) == "alarm-acknowledged"
    assert bench_view(day).act.key != "cup 1"


def late(day: PressDay, steps: int) -> Question | Said:
    log(day, mixed(day), BatchPouredOut(batch=1), *(StepDone(step=step.number) for step in day.state.steps[:steps]))
    day.clock.advance(day.alive[1].over_s.low - day.closing_s - 200.0)
    assert bench_view(day).act.kind == "rescue"
    return do(day, bench_view(day).act)


def test_closing_with_work_left_is_asked_with_what_is_missing() -> None:
    question = late(day_of(), 7)
    assert isinstance(question, Question)
    assert (question.kind, question.act.words) == ("close anyway", "CLOSE NOW")
    assert (question.act.closes, enter_words(question.act)) == (True, "closed")
    assert enter_words(replace(question.act, closes=False, words="CLOSE BY ITS WORDS ONLY")) == "seen"
    assert "not done: step" in question.title
    assert "batch 2 (398 g): to mix" in question.title


def test_where_only_closing_saves_the_part_it_is_the_one_act_and_the_step_waits_behind_it() -> None:
    day = day_of()
    late(day, 7)
    log(day, mixed(day, 2))
    view = bench_view(day)
    assert (view.act.words, view.act.why.endswith("lay no more")) == ("CLOSE NOW", True)
    assert not [act for act in view.others if act.person == "laying"]
    assert not [act for act in view.then if act.kind in ("step", "close", "weigh")], view.then
    assert view.notice == ""
    loses(2)(day)
    view = bench_view(day)
    assert (view.act.words, [act.kind for act in view.then]) == ("CLOSE NOW", ["replan"]), "the rest in its order"
    seen(day)
    assert bench_view(day).act.words == "REPLAN THE REST"


def test_film_and_caul_are_put_on_before_the_press_is_closed_however_late_it_is() -> None:
    day = day_of()
    log(day, mixed(day), mixed(day, 2), BatchPouredOut(batch=1), BatchPouredOut(batch=2))
    log(day, *(StepDone(step=step.number) for step in day.state.steps[:-1]))
    day.clock.advance(day.alive[1].over_s.low - day.closing_s - 200.0)
    act = bench_view(day).act
    assert (act.words, act.urgency, act.alarm) == ("RELEASE FILM AND CAUL", "now", True)
    assert act.why.endswith("then close")
    done(day, act)
    assert bench_view(day).act.words == "CLOSE THE PRESS"


def test_where_only_the_core_must_still_go_in_the_key_goes_on_with_the_work() -> None:
    day = day_of()
    said = late(day, 5)
    assert isinstance(said, Said)
    assert said.words == "seen: only to core in place"
    assert bench_view(day).act.kind == "weigh", "the core wants the next batch"


def test_the_closing_says_how_many_clamps_and_how_hard_each() -> None:
    day = day_of()
    day._plan = replace(day.plan, closing=Closing("clamps", target_pressure_Pa=150_000.0, clamps=9))
    log(day, *(StepDone(step=step.number) for step in day.state.steps))
    act = bench_view(day).act
    assert (act.words, act.number) == ("CLOSE THE PRESS", f"{9 * day.plan.pieces} clamps")
    each_N = pressing(day.plan).force_N / 9
    assert act.why == f"each {pull_words(each_N)}"
    log(day, PressClosed())
    assert bench_view(day).act.words == f"TIGHTEN {9 * day.plan.pieces} CLAMPS HALF"
    assert bench_view(day).act.number == pull_words(each_N / 2)


def test_the_end_of_a_day_is_asked_and_the_pressure_is_let_off_before_the_part_comes_out() -> None:
    day = day_of()
    log(day, *(StepDone(step=step.number) for step in day.state.steps), PressClosed())
    for words in ("RAISE TO HALF PRESSURE", "RAISE TO FULL PRESSURE"):
        assert bench_view(day).act.words == words
        done(day, bench_view(day).act)
        assert last(day) == "tightened"
    assert bench_view(day).act.words == "LEAVE IT CLOSED"
    seq = day.state.seq
    assert isinstance(do(day, bench_view(day).act), Said)
    assert day.state.seq == seq, "nothing is logged for leaving it alone"
    assert to_be_seen(day) is None, "nobody has seen what comes in five minutes"
    out = day.clock_time(out_likely_s(day))
    gauge = f"read the gauge at {day.clock_time(day.state.closed_s + 300.0)}"
    assert f"Still to come: {gauge}, the part out at ≈ {out}." in end_question(day)
    day.clock.advance(301.0)
    assert bench_view(day).act.words == "READ THE GAUGE"
    assert to_be_seen(day).words == "READ THE GAUGE"
    done(day, bench_view(day).act)
    assert last(day) == "retightened"
    day.clock.advance(3 * 86_400.0)
    assert "Still to come: the part out." in end_question(day), "its time has come"
    day.out_s = (day.now_s(), day.now_s(), day.now_s() + 60.0)
    question = asked(day)
    assert question.kind == "out"
    assert "pressure off first" in question.title
    assert isinstance(do(day, question.act, True), Said)
    assert isinstance(day.state.records[-1], Demoulded)
    assert asked(day).kind == "end"
    assert end_question(day) == "End this session? It stays in the logbook."
    done(day, bench_view(day).act)
    assert bench_view(day).act.words == "SESSION ENDED"


def test_after_the_batches_stayed_as_they_were_the_replan_is_quiet_until_hands_or_batches_change() -> None:
    day = day_of()
    log(day, mixed(day))
    loses(1)(day)
    act = bench_view(day).act
    assert act.words == "REPLAN THE REST"
    assert asked(day).kind == "replan"
    assert isinstance(do(day, act, False), Said)
    assert bench_view(day).act.kind != "replan"
    day.clock.advance(10.0)
    log(day, mixed(day, 2))
    loses(2)(day)
    assert bench_view(day).act.words == "REPLAN THE REST"


def test_who_answers_a_question_is_understood_by_the_act_it_came_from() -> None:
    day = day_of()
    question = asked(day)
    assert answer(day, question) == ""
    assert isinstance(do(day, question.act, ""), Said)


# -- what was drawn --------------------------------------------------------------------------------------------------


def test_a_key_does_an_act_only_once_it_has_been_drawn_for_a_second() -> None:
    step, cup = Act("step", "LOWER GLASS", "step 4", step=4), Act("empty cup", "EMPTY CUP 1", "cup 1", "now", batch=1)
    screen = OnScreen().drawn(step, 10.0).drawn(step, 11.5)
    assert screen.meant(11.5) == step
    screen = screen.drawn(cup, 12.0)
    assert screen.meant(12.9) is None, "the key was meant for the step"
    assert screen.meant(12.0 + DRAWN_FOR_S) == cup


def test_digits_that_count_on_do_not_make_it_another_act() -> None:
    early = Act("empty cup", "EMPTY CUP 1", "cup 1", "now", why="1 min late", batch=1)
    late = Act("empty cup", "EMPTY CUP 1", "cup 1", "may be over", why="2 min late", batch=1)
    screen = OnScreen().drawn(early, 10.0).drawn(late, 10.9)
    assert screen.meant(11.0) == late


def test_nothing_is_meant_before_anything_was_drawn() -> None:
    assert OnScreen().meant(100.0) is None


@pytest.mark.parametrize("kind", ["step", "weigh"])
def test_a_calm_act_is_not_put_off_by_the_key_for_seen(kind: str) -> None:
    day = day_of(1)
    if kind == "step":
        log(day, mixed(day))
        day.clock.advance(300.0)
    assert bench_view(day).act.kind == kind
    assert not seen(day).done


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind not in (*TAKES_TIME, "save")])
def test_every_act_but_one_that_takes_time_is_asked_or_logged_at_its_key(kind: Kind) -> None:
    """So that an act that is added, and is no more than an alarm, is quiet once somebody has seen it."""
    day = day_of()
    log(day, mixed(day))
    act = Act(kind, "WHATEVER", "whatever", "soon", alarm=True, batch=1, step=1)
    before = len(day.state.records)
    said = do(day, act)
    assert isinstance(said, Question) or not said.done or len(day.state.records) > before
    if isinstance(said, Said) and said.words.startswith("seen"):
        assert is_seen(act, day.state)
