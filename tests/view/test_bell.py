"""The bell: few alarms, ranked, each an act; paced, quiet once seen, and slow to flap."""

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scripted_days import Player, air, day_of, with_window

from layup.bench.acts import RANKS, Act, is_seen, ranked
from layup.bench.alarms import FLAP_S, PACE_S, REPEAT_S, STROKES, AlarmBoard, AlarmMonitor, look
from layup.bench.day import PressDay
from layup.bench.doing import seen, to_be_seen
from layup.bench.view import BenchView, bench_view
from layup.planning.clocks import STAGES
from layup.session.batch_events import (
    BatchLost,
    BatchMixed,
    BatchPouredOut,
    CupTemperatureRead,
    PourRead,
    PressClosed,
    StepDone,
)
from layup.session.day_events import SessionEnded, Undone
from layup.session.state import Event


def log(day: PressDay, *events: Event) -> None:
    for event in events:
        assert day.log(event, "").done, event


def mixed(day: PressDay, number: int) -> BatchMixed:
    batch = day.state.batch(number)
    assert batch is not None
    return BatchMixed(batch=number, resin_g=batch.plan.resin_g, hardener_g=batch.plan.hardener_g, start_K=293.15)


def read(day: PressDay, number: int, more_g: float = 0.0) -> PourRead:
    batch = day.state.batch(number)
    assert batch is not None
    return PourRead(batch=number, resin_g=batch.plan.resin_g, hardener_g=batch.plan.hardener_g + more_g)


def wait(day: PressDay, until_s: float) -> None:
    day.clock.advance(until_s - day.now_s())


def alarms(day: PressDay) -> dict[str, Act]:
    return {act.key: act for act in bench_view(day).alarms}


class Ear:
    """Hears the bell at every look of a day."""

    def __init__(self) -> None:
        self.board = AlarmBoard()
        self.news: list[tuple[float, Act]] = []
        self.strokes: list[tuple[float, int]] = []

    def __call__(self, _day: PressDay, view: BenchView) -> None:
        self.board = look(view.alarms, view.now_s, self.board)
        self.news += [(view.now_s, act) for act in self.board.news]
        if self.board.strokes:
            self.strokes.append((view.now_s, self.board.strokes))


# -- days ------------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def bad() -> Ear:
    """Return what was heard of a bad day: off ratio, too warm, a silent thermometer, nobody at the bench for long."""
    ear = Ear()
    day = with_window(day_of(), 16.0, 24.0)

    def silent(of: PressDay) -> None:
        of.thermometer_silent_s = 320.0

    player = Player(day, 1.2, (60.0 * 6, 60.0 * 110), seen=ear)
    player.play([(7, air(27.0)), (9, silent)], until_min=109.0)
    return ear


def test_a_bad_day_brings_no_more_than_one_new_alarm_a_minute_unless_somebody_is_in_danger(bad: Ear) -> None:
    calm = [(at_s, act) for at_s, act in bad.news if not act.danger]
    assert len(bad.news) >= 5
    assert min((later - earlier for (earlier, _), (later, _) in pairwise(calm)), default=PACE_S) >= PACE_S


def test_every_problem_of_the_bad_day_is_said_as_an_act(bad: Ear) -> None:
    assert {act.kind for _, act in bad.news} >= {"cool shop", "temperature", "empty cup", "look", "spread outside"}


def test_the_bell_rings_for_what_must_be_done_and_again_until_somebody_has_seen_it(bad: Ear) -> None:
    times = [at_s for at_s, _ in bad.strokes]
    assert {strokes for _, strokes in bad.strokes} == {1, 3}
    for at_s, act in bad.news:
        assert act.rank == "when free" or at_s in times, act
    late = [at_s for at_s in times if at_s >= max(at_s for at_s, _ in bad.news)]
    assert len(late) >= 3
    assert min(later - earlier for earlier, later in pairwise(late)) >= REPEAT_S


def test_a_day_that_goes_as_planned_rings_no_bell() -> None:
    ear = Ear()
    Player(day_of(), seen=ear).play([], until_min=90.0)
    assert ear.strokes == []


# -- what rings ------------------------------------------------------------------------------------------------------


def test_nothing_rings_before_a_day_begins_or_after_it_ended() -> None:
    day = day_of()
    assert alarms(day) == {}
    log(day, mixed(day, 1))
    wait(day, day.alive[1].over_s.high + 60.0)
    assert set(alarms(day)) == {"cup 1"}
    log(day, SessionEnded())
    assert alarms(day) == {}
    assert bench_view(day).act.kind == "over"


def with_part(*, steps: int) -> PressDay:
    """Return a day with its first batch on the part and so many steps done."""
    day = day_of()
    log(day, mixed(day, 1), BatchPouredOut(batch=1), *(StepDone(step=step.number) for step in day.state.steps[:steps]))
    return day


def test_once_the_part_has_gelled_open_there_is_no_alarm_for_it() -> None:
    day = with_part(steps=4)
    life = day.alive[1]
    rings = []
    for at_s in (life.over_s.low + 1.0, life.over_s.likely + 1.0, life.gel_s.likely + 1.0):
        wait(day, at_s)
        rings.append("part" in alarms(day))
    assert rings == [True, True, False]


def test_who_closes_the_press_in_time_is_not_told_to_hurry() -> None:
    day = with_part(steps=len(day_of().state.steps))
    life = day.alive[1]
    for spare_s, rings in ((120.0, False), (-60.0, True)):
        wait(day, life.over_s.low - day.closing_s - spare_s)
        act = bench_view(day).act
        assert (act.kind, act.urgency) == ("close", "now")
        assert ("part" in alarms(day)) == rings


def test_a_lost_cup_is_quiet_unless_it_is_measured_hot_afterwards() -> None:
    hot = CupTemperatureRead(batch=1, temperature_K=340.0)
    for events, rings in (([hot], True), ([hot, BatchLost(batch=1)], False), ([hot, BatchLost(batch=1), hot], True)):
        day = day_of()
        log(day, mixed(day, 1))
        for event in events:
            day.clock.advance(1.0)
            log(day, event)
        assert ("cup 1" in alarms(day)) == rings
        if rings:
            assert alarms(day)["cup 1"].words == "CUP 1 OUTSIDE NOW"
            assert alarms(day)["cup 1"].danger


def test_a_ratio_is_put_right_in_the_cup_and_not_on_the_part() -> None:
    day = day_of()
    log(day, mixed(day, 1), read(day, 1, more_g=20.0))
    act = bench_view(day).act
    batch = day.state.batch(1)
    assert batch is not None
    # the hardener wants 100/30 of its own mass of resin
    wanted_g = (batch.hardener_g or 0.0) * 130.0 / 30.0
    assert (act.kind, act.words, act.urgency) == ("add", "ADD RESIN", "now")
    assert act.number == f"{wanted_g:.0f} g"
    assert f", hardener +{100 * 20.0 / ((batch.hardener_g or 0.0) - 20.0):.0f} %, " in act.why
    assert "mix 1" not in alarms(day), "somebody is still at the scale"
    day.clock.advance(60.0)
    assert "mix 1" in alarms(day)
    log(day, BatchPouredOut(batch=1))
    assert "mix 1" not in alarms(day)


def test_mix_left_over_in_its_cup_after_the_closing_rings_only_where_it_heats_itself() -> None:
    day = day_of()
    log(day, mixed(day, 1), PressClosed())
    assert alarms(day) == {}
    wait(day, day.alive[1].empty_by_s)
    assert day.alive[1].heat == "runaway"
    assert alarms(day)["cup 1"].words == "SPREAD CUP 1 FLAT"
    assert bench_view(day).act.key == "cup 1"


def test_a_disk_that_is_full_and_a_meddled_folder_are_acts_too() -> None:
    day = day_of()
    day.source.fault = "NOT SAVED: 2 events are in memory only (No space left on device) - make room"
    day.source.mended = "another program wrote into the journal"
    found = alarms(day)
    assert (found["journal"].rank, found["files"].rank) == ("now", "soon")
    assert bench_view(day).act.kind == "save"


# -- seen ------------------------------------------------------------------------------------------------------------


def test_what_was_seen_is_quiet_until_it_gets_more_urgent_and_stays_so_through_a_restart() -> None:
    day = day_of()
    log(day, mixed(day, 1))
    wait(day, day.alive[1].due(0.0).soon_s + 1.0)
    board = look(bench_view(day).alarms, day.now_s(), AlarmBoard())
    assert (board.loudest.key, board.strokes) == ("cup 1", 1)
    assert seen(day).done
    assert look(bench_view(day).alarms, day.now_s(), AlarmBoard()).loudest is None, "opened anew"
    wait(day, day.alive[1].empty_by_s + 1.0)
    board = look(bench_view(day).alarms, day.now_s(), board)
    assert (board.loudest.key, board.loudest.rank, board.strokes) == ("cup 1", "now", 3)


def test_an_act_that_is_seen_waits_and_the_key_means_the_step_until_its_cup_gets_worse() -> None:
    day = day_of()
    log(day, mixed(day, 1))
    wait(day, day.alive[1].empty_by_s + 1.0)
    assert bench_view(day).act.words == "EMPTY CUP 1"
    assert seen(day).done
    assert bench_view(day).act.kind == "step"
    wait(day, day.alive[1].over_s.low + 1.0)
    assert bench_view(day).act.words == "LOOK AT CUP 1"


def test_an_undo_makes_what_was_seen_loud_again() -> None:
    day = with_window(day_of(), 16.0, 24.0)
    air(24.9)(day)
    assert to_be_seen(day).key == "shop"
    assert seen(day).done
    assert to_be_seen(day) is None
    log(day, Undone(undone_seq=day.state.undoable))
    assert to_be_seen(day).key == "shop"


def test_where_nothing_waits_the_key_for_seen_says_so() -> None:
    said = seen(day_of())
    assert not said.done
    assert "nothing" in said.words


def heard_on(day: PressDay, script: list[tuple[float, Callable[[PressDay], object]]], until_min: float) -> Ear:
    ear = Ear()
    Player(day, deaf_s=(0.0, 1e9), seen=ear).play(script, until_min=until_min)
    return ear


def test_a_problem_that_went_away_and_comes_back_is_said_again() -> None:
    ear = heard_on(with_window(day_of(), 16.0, 24.0), [(1, air(24.9)), (2, air(20.0)), (6, air(24.9))], 8.0)
    assert [act.key for _, act in ear.news] == ["shop", "shop"]


def test_a_thermometer_that_flickers_around_the_limit_rings_once() -> None:
    day = with_window(day_of(), 16.0, 24.0)
    ear = heard_on(day, [(n, air(24.0 + (0.1 if n % 2 else -0.3))) for n in range(1, 40)], 41.0)
    assert [act.key for _, act in ear.news] == ["shop"]
    air(23.0)(day)
    assert alarms(day) == {}


def test_the_watch_over_a_day_hears_what_its_view_shows() -> None:
    day = with_window(day_of(), 16.0, 24.0)
    air(24.9)(day)
    monitor = AlarmMonitor(day)
    board = monitor.look()
    assert (board.strokes, board.loudest.words) == (1, "COOL THE SHOP")
    assert monitor.seen().done
    assert monitor.board.loudest is None


# -- the pace alone, of any acts -------------------------------------------------------------------------------------


def act(key: str, level: int = 1, *, danger: bool = False, seen: bool = False) -> Act:
    return Act("empty cup", key.upper(), key, STAGES[level], alarm=True, danger=danger, seen=seen)


def test_what_stands_when_a_day_is_opened_again_rings_once_all_together() -> None:
    board = look([act("a", 1), act("b", 2), act("c", 2)], 100.0, AlarmBoard())
    assert (len(board.news), board.strokes) == (3, 3)
    again = look([act("a", 1), act("b", 2), act("c", 2)], 101.0, board)
    assert (again.news, again.strokes) == ((), 0)


def test_danger_does_not_wait_its_turn() -> None:
    board = look([], 0.0, AlarmBoard())
    board = look([act("a")], 180.0, board)
    assert [each.key for each in board.news] == ["a"]
    board = look([act("a"), act("b"), act("c", 2, danger=True)], 185.0, board)
    assert [each.key for each in board.news] == ["c"]
    board = look([act("a"), act("b"), act("c", 2, danger=True, seen=True)], 186.0 + PACE_S, board)
    assert [each.key for each in board.news] == ["b"]


@pytest.mark.parametrize(("gone_s", "again"), [(FLAP_S - 1.0, False), (FLAP_S + 1.0, True)])
def test_what_comes_back_within_two_minutes_is_no_news(gone_s: float, again: bool) -> None:
    board = look([act("a")], 1000.0, look([], 0.0, AlarmBoard()))
    board = look([], 1001.0, board)
    board = look([act("a")], 1000.0 + gone_s, board)
    assert bool(board.news) == again


def test_each_rank_is_louder_than_the_one_before() -> None:
    assert list(STROKES) == list(RANKS)
    assert list(STROKES.values()) == [0, 1, 3]


keys = st.sampled_from(["a", "b", "c", "d"])
acts = st.dictionaries(keys, st.tuples(st.integers(0, 4), st.booleans(), st.booleans()), max_size=4)
waits_s = st.sampled_from([1.0, 7.0, 30.0, 61.0, 400.0])
heard = st.lists(st.tuples(waits_s, acts), min_size=1, max_size=25)
Heard = list[tuple[float, dict[str, tuple[int, bool, bool]]]]


def boards_of(chosen: Heard) -> list[tuple[float, AlarmBoard]]:
    now_s, boards = 0.0, [(0.0, look([], 0.0, AlarmBoard()))]
    for wait_s, standing in chosen:
        now_s += wait_s
        found = [
            act(key, level, danger=danger and level > 1, seen=seen) for key, (level, danger, seen) in standing.items()
        ]
        boards.append((now_s, look(found, now_s, boards[-1][1])))
    return boards


@settings(deadline=None)
@given(heard)
def test_at_most_one_alarm_a_minute_comes_up_unless_somebody_is_in_danger(chosen: Heard) -> None:
    calm = [at_s for at_s, board in boards_of(chosen) for each in board.news if not each.danger]
    assert all(later - earlier >= PACE_S for earlier, later in pairwise(calm))


@settings(deadline=None)
@given(heard)
def test_what_was_seen_never_rings(chosen: Heard) -> None:
    for (_, before), (at_s, board) in pairwise(boards_of(chosen)):
        assert not any(each.seen for each in board.news)
        if board.strokes:
            assert [each for each in board.alarms if not each.seen and each.rank != "when free"]
            assert board.news or at_s - before.rang_s >= REPEAT_S


@settings(deadline=None)
@given(heard)
def test_looking_again_at_once_says_nothing_new(chosen: Heard) -> None:
    at_s, board = boards_of(chosen)[-1]
    again = look(board.alarms, at_s, board)
    held = {each.key for each in again.news}
    assert not held & {each.key for each in board.news}
    assert again.alarms == board.alarms


@settings(deadline=None)
@given(st.permutations([act(f"{level}{seen}", level, seen=seen) for level in range(5) for seen in (False, True)]))
def test_acts_are_ranked_the_most_urgent_first_and_what_waits_last(shuffled: list[Act]) -> None:
    order = [(each.seen, -each.level) for each in ranked(shuffled)]
    assert order == sorted(order)


def test_a_cup_left_alone_only_gets_more_urgent() -> None:
    day = day_of()
    log(day, mixed(day, 1))
    life, levels = day.alive[1], []
    for share in range(60):
        wait(day, max(day.now_s(), share / 40.0 * life.over_s.high))
        levels.append(next((each.level for each in bench_view(day).alarms if each.key == "cup 1"), 0))
    assert levels == sorted(levels)
    assert set(levels) == {0, 1, 2, 3, 4}


def test_an_acknowledgement_counts_only_from_when_the_matter_became_so_urgent() -> None:
    day = day_of()
    log(day, mixed(day, 1))
    wait(day, day.alive[1].due(0.0).soon_s + 5.0)
    assert seen(day).done
    stands = alarms(day)["cup 1"]
    assert is_seen(stands, day.state)
    assert not is_seen(replace(stands, seen=False, since_s=day.now_s() + 1.0), day.state)
    assert not is_seen(replace(stands, seen=False, urgency="now"), day.state)
