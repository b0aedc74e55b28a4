"""Alarms: few, ranked, each with an action, in time, quiet once acknowledged, and none where nothing can be done."""

import re
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from bench_examples import CLOSE_NOW, CLOSING_S, PARTS, STIR_S, WINDOW_K, Bench, begin, bench, quiet_outlook, resin
from hypothesis import given, settings
from hypothesis import strategies as st
from session_examples import stamped

from layup.bench.alarm_causes import RANKS, AlarmContext
from layup.bench.alarms import PACE_S, REPEAT_S, VOICES, Board, acknowledgement, look
from layup.session.batch_events import (
    BatchLost,
    BatchMixed,
    BatchPouredOut,
    CupTemperatureRead,
    PourRead,
    PressClosed,
    StepDone,
)
from layup.session.day_events import AlarmAcknowledged, SessionEnded, TemperatureRead, Undone
from layup.session.lifetimes import Lifetime, lifetimes
from layup.session.records import fold, refusal
from layup.session.state import Event, SessionState

Script = list[tuple[float, Event | Callable[[], None]]]


def air(celsius: float) -> TemperatureRead:
    """Return what the thermometer says of the shop."""
    return TemperatureRead(place="air", temperature_K=celsius + 273.15, source="thermometer")


def poured(batch: int, resin_g: float = 200.0, hardener_g: float = 60.0) -> PourRead:
    """Return a reading of the scale."""
    return PourRead(batch=batch, resin_g=resin_g, hardener_g=hardener_g)


def mixed(batch: int) -> BatchMixed:
    """Return a batch of 260 g at 20 degC, mixed as planned."""
    return BatchMixed(batch=batch, resin_g=200.0, hardener_g=60.0, start_K=293.15)


def changed(day: Bench, **what: object) -> Callable[[], None]:
    """Return what changes the outlook of a day."""

    def change() -> None:
        day.outlook = replace(day.outlook, **what)

    return change


def at_pace(day: Bench, rate: float) -> Callable[[], None]:
    """Return what slows a day down."""

    def change() -> None:
        day.rate = rate

    return change


def bad_day(day: Bench) -> Script:
    """Return a day on which nearly everything goes wrong, by the minute."""
    full = "NOT SAVED: 2 events are in memory only (No space left on device) - make room, keep this running"
    return [
        *[(0, air(20.0)), (1, poured(1, 200.0, 0.0)), (2, mixed(1)), (3, poured(1, 200.0, 67.0))],
        *[(6, poured(1, 223.0, 67.0)), (8, BatchPouredOut(batch=1)), (9, StepDone(step=1))],
        *[(10 + n, air(20.0 + 0.45 * n)) for n in range(16)],
        *[(31, changed(day, thermometer_silent_s=320.0)), (32, poured(2)), (34.5, mixed(2))],
        *[(35, mixed(3)), (40, at_pace(day, 2.2)), (44, BatchPouredOut(batch=3))],
        *[(45, changed(day, thermometer_silent_s=None)), (45.2, air(27.5))],
        *[(48, changed(day, fault=full)), (52, changed(day, fault=""))],
        *[(80, CupTemperatureRead(batch=2, temperature_K=345.0)), (82, BatchLost(batch=2, why="gelled in the cup"))],
        *[(83, StepDone(step=2)), (86.5, mixed(4)), (90, StepDone(step=3)), (112, PressClosed())],
        *[(140, BatchLost(batch=4, why="left over")), (150, SessionEnded())],
    ]


@pytest.fixture(scope="module")
def bad(tmp_path_factory: pytest.TempPathFactory) -> Bench:
    """Return the bad day once it is over, and half an hour more."""
    day = bench(tmp_path_factory.mktemp("bad") / "s")
    day.play(bad_day(day))
    day.run_until(180.0)
    return day


def test_a_bad_day_brings_no_more_than_one_new_alarm_a_minute(bad: Bench) -> None:
    times = [at_s for at_s, _ in bad.news]
    assert len(times) >= 14, "the day is not bad enough to test anything"
    assert min(later - earlier for earlier, later in pairwise(times)) >= PACE_S
    assert max(len(board.alarms) for _, board in bad.boards) <= 5


def test_every_kind_of_problem_of_the_bad_day_is_said(bad: Bench) -> None:
    assert {alarm.kind for _, alarm in bad.news} >= {
        *("off ratio", "stirred", "shop", "thermometer", "clock not started", "late", "not saved"),
        *("cup heats", "closing"),
    }
    shown = {alarm.kind for _, board in bad.boards for alarm in board.alarms}
    assert "cup hot" in shown, "it was loud already, so it is no news"


def life_at(day: Bench, number: int, minute: float) -> Lifetime:
    """Return the lifetime of a batch as it was known at a minute of the day."""
    return lifetimes(fold([r for r in day.journal.state.records if r.elapsed_s <= minute * 60.0]), resin())[number]


def test_each_problem_of_the_bad_day_is_first_said_in_time_to_act(bad: Bench) -> None:
    """The last moment at which it helps, less the minutes that acting takes (common practice, no source)."""
    first, second, fourth = life_at(bad, 1, 111.0), life_at(bad, 2, 79.0), life_at(bad, 4, 139.0)
    in_time = {
        "ratio 1": (8.0 * 60.0, 3.0),  # before it is on the part: stir in the rest of the resin
        "clock 2": (34.5 * 60.0, 1.0),
        "cup 2": (second.low_s, 5.0),  # spread it out, or lay it
        "part": (first.low_s, CLOSING_S / 60.0 + 20.0),  # leave something out, get hands
        "shop": (86.5 * 60.0, 30.0),  # the next batch is mixed then: cool the cans
        "cup 4": (fourth.low_s, 5.0),
    }
    for key, (last_s, needed_min) in in_time.items():
        assert bad.first(key) <= last_s - needed_min * 60.0, key
    assert bad.first("thermometer") <= 33 * 60.0
    assert bad.first("journal") <= 49 * 60.0
    rung = [at_s for at_s, alarm in bad.news if alarm.key == "cup 2" and alarm.rank == "soon"]
    assert rung[0] <= second.low_s - 180.0


def test_the_bell_rings_for_what_must_be_done_and_again_until_somebody_has_seen_it(bad: Bench) -> None:
    times = [at_s for at_s, _ in bad.strokes]
    assert min(later - earlier for earlier, later in pairwise(times)) >= PACE_S
    assert {strokes for _, strokes in bad.strokes} == {1, 3}
    for at_s, alarm in bad.news:
        assert alarm.rank == "when free" or at_s in times, alarm
    assert len(times) > len([1 for _, alarm in bad.news if alarm.rank != "when free"])


def test_a_day_that_goes_as_planned_rings_no_bell(tmp_path: Path) -> None:
    day = bench(tmp_path / "s", begin(batches=3, steps=6))
    script: Script = [(0, air(20.0))]
    for n in (1, 2, 3):
        at = 14.0 * (n - 1)
        script += [(at + 1, poured(n, 200.0, 0.0)), (at + 3, mixed(n)), (at + 3.8, poured(n, 200.4, 60.2))]
        script += [(at + 7, StepDone(step=2 * n - 1)), (at + 12, BatchPouredOut(batch=n))]
        script += [(at + 14, StepDone(step=2 * n)), (at + 14, air(20.0 + 0.2 * n))]
    day.play([*script, (48, PressClosed()), (200, SessionEnded())])
    assert {alarm.kind for _, alarm in day.news} == {"stirred"}
    assert day.strokes == []


def test_nothing_is_said_before_a_day_begins_or_after_it_ended(bad: Bench) -> None:
    ended = bad.journal.state
    assert bad.board.alarms == ()
    outlook = quiet_outlook(bad.journal.now_s())
    hot = replace(outlook, fault="NOT SAVED", thermometer_silent_s=900.0)
    assert look(ended, bad.alive, hot, Board()).alarms == ()
    assert look(SessionState(), {}, hot, Board()).alarms == ()


@pytest.mark.parametrize("resin_name", ["slow-laminating", "fast-laminating"])
def test_once_the_part_has_gelled_open_there_is_no_alarm_for_it(resin_name: str) -> None:
    state = fold(stamped([begin(), air(20.0), mixed(1), BatchPouredOut(batch=1)]))
    alive = lifetimes(state, resin(resin_name))
    kinds = {}
    for name, at_s in (("low", alive[1].low_s), ("likely", alive[1].likely_s), ("gel", alive[1].gel_s)):
        kinds[name] = [alarm.kind for alarm in look(state, alive, quiet_outlook(at_s + 1.0), Board()).alarms]
    assert kinds == {"low": ["shut"], "likely": ["shut"], "gel": []}


def test_who_closes_the_press_in_time_is_not_told_to_hurry() -> None:
    done = [StepDone(step=n) for n in range(1, 9)]
    state = fold(stamped([begin(), air(20.0), mixed(1), BatchPouredOut(batch=1), *done]))
    alive = lifetimes(state, resin())
    outlook = quiet_outlook(alive[1].low_s - CLOSING_S - 60.0)
    for ready_s, kinds in ((alive[1].low_s - 60.0, []), (alive[1].low_s + 60.0, ["closing"])):
        board = look(state, alive, replace(outlook, ready_s=ready_s), Board())
        assert [alarm.kind for alarm in board.alarms] == kinds


def test_a_lost_cup_is_quiet_unless_it_is_measured_hot_afterwards() -> None:
    hot, lost = CupTemperatureRead(batch=1, temperature_K=340.0), BatchLost(batch=1, why="gelled")
    for events, kinds in (([hot], ["cup hot"]), ([hot, lost], []), ([hot, lost, hot], ["cup hot"])):
        state = fold(stamped([begin(), air(20.0), mixed(1), *events]))
        board = look(state, lifetimes(state, resin()), quiet_outlook(400.0), Board())
        assert [alarm.kind for alarm in board.alarms if alarm.kind == "cup hot"] == kinds


def test_a_ratio_is_put_right_in_the_cup_and_not_on_the_part() -> None:
    wrong = [begin(), air(20.0), mixed(1), poured(1, 200.0, 70.0)]
    for more, count in (([], 1), ([poured(1, 233.3, 70.0)], 0), ([BatchPouredOut(batch=1)], 0)):
        state = fold(stamped([*wrong, *more]))
        board = look(state, lifetimes(state, resin()), quiet_outlook(600.0), Board())
        found = [alarm for alarm in board.alarms if alarm.kind == "off ratio"]
        assert len(found) == count
        if found:
            assert found[0].rank == "now"
            # 70 g of hardener want 70 x 100/30 = 233.3 g of resin
            assert found[0].action.startswith("Add 33.3 g of resin")
            assert found[0].words == "batch 1 has 17 % too much hardener"


def test_an_acknowledged_alarm_is_quiet_until_its_rank_rises_and_stays_so_through_a_restart(tmp_path: Path) -> None:
    day = bench(tmp_path / "s")
    day.play([(0, air(20.0)), (1, mixed(1))])
    day.run_while(lambda: day.board.loudest is None or day.board.loudest.key != "cup 1")
    assert day.board.loudest is not None
    day.log(acknowledgement(day.board.loudest))
    assert day.look().loudest is None
    assert day.board.alarms[0].acknowledged
    day.clock.advance(20.0)
    after_restart = look(fold(day.journal.state.records), day.alive, quiet_outlook(day.journal.now_s()), Board())
    assert [alarm.acknowledged for alarm in after_restart.alarms if alarm.key == "cup 1"] == [True]
    assert after_restart.strokes == 0
    day.strokes.clear()
    day.run_while(lambda: not day.strokes)
    assert day.board.loudest is not None
    assert (day.board.loudest.key, day.board.loudest.rank) == ("cup 1", "now")


def test_undo_makes_an_acknowledged_alarm_loud_again(tmp_path: Path) -> None:
    day = bench(tmp_path / "s")
    day.play([(0, air(30.0)), (1, lambda: None)])
    assert day.board.loudest is not None
    day.log(acknowledgement(day.board.loudest))
    assert day.look().loudest is None
    assert day.journal.state.undoable is not None
    day.log(Undone(undone_seq=day.journal.state.undoable))
    day.look()
    assert day.board.loudest is not None
    assert day.board.loudest.kind == "shop"


def test_a_problem_that_went_away_and_comes_back_is_said_again(tmp_path: Path) -> None:
    day = bench(tmp_path / "s")
    day.play([(0, air(30.0)), (1, lambda: None)])
    assert day.board.loudest is not None
    day.log(acknowledgement(day.board.loudest))
    day.play([(2, air(20.0)), (5, air(30.0)), (6, lambda: None)])
    assert day.board.loudest is not None
    assert day.board.loudest.kind == "shop"
    assert [alarm.kind for _, alarm in day.news] == ["shop", "shop"]


def test_a_thermometer_that_flickers_around_the_limit_rings_once(tmp_path: Path) -> None:
    day = bench(tmp_path / "s")
    day.play([(n, air(WINDOW_K[1] - 273.15 + (0.1 if n % 2 else -0.3))) for n in range(40)])
    assert [alarm.kind for _, alarm in day.news] == ["shop"]
    day.play([(41, air(23.0)), (42, lambda: None)])
    assert day.board.alarms == ()


def test_what_stands_when_a_day_is_opened_again_is_shown_at_once_and_rings_once() -> None:
    state = fold(stamped([begin(), air(30.0), mixed(1), mixed(2), BatchPouredOut(batch=1)]))
    alive = lifetimes(state, resin())
    outlook = replace(quiet_outlook(alive[2].likely_s + 60.0), fault="NOT SAVED")
    board = look(state, alive, outlook, Board())
    assert [alarm.key for alarm in board.alarms] == ["cup 2", "journal", "shop"]
    assert board.alarms[1].rank == "now", "nothing that is pressed is kept meanwhile"
    assert board.strokes == 3
    later = look(state, alive, replace(outlook, now_s=outlook.now_s + 1.0), board)
    assert (later.strokes, later.news) == (0, ())


def test_danger_does_not_wait_its_turn() -> None:
    state = fold(stamped([begin(), air(30.0), mixed(1)]))
    hot = fold(stamped([begin(), air(30.0), mixed(1), CupTemperatureRead(batch=1, temperature_K=340.0)]))
    calm = look(fold(stamped([begin()])), {}, quiet_outlook(170.0), Board())
    board = look(state, lifetimes(state, resin()), quiet_outlook(180.0), calm)
    assert [alarm.kind for alarm in board.news] == ["shop"]
    board = look(hot, lifetimes(hot, resin()), replace(quiet_outlook(185.0), fault="NOT SAVED"), board)
    assert [alarm.kind for alarm in board.news] == ["cup hot"]
    assert "not saved" not in [alarm.kind for alarm in board.alarms]
    board = look(hot, lifetimes(hot, resin()), replace(quiet_outlook(186.0 + PACE_S), fault="NOT SAVED"), board)
    assert [alarm.kind for alarm in board.news] == ["not saved"]


def test_each_rank_has_a_word_a_place_and_a_bell_and_each_is_louder_than_the_one_before() -> None:
    assert list(VOICES) == list(RANKS)
    assert len({voice.word for voice in VOICES.values()}) == len({voice.place for voice in VOICES.values()}) == 3
    assert [voice.strokes for voice in VOICES.values()] == [0, 1, 3]


def test_the_loudest_alarm_stands_at_the_place_of_its_rank() -> None:
    state = fold(stamped([begin(), air(30.0)]))
    board = look(state, {}, replace(quiet_outlook(60.0), thermometer_silent_s=400.0), Board())
    assert board.at("banner") is not None
    assert board.at("banner") == board.loudest
    assert board.at("list") is None
    assert board.at("top line") is None


# -- laws: any day, well or badly spent ----------------------------------------------------------------------

batches = st.integers(1, 4)
events = st.one_of(
    st.builds(poured, batches, st.floats(150.0, 250.0), st.floats(0.0, 90.0)),
    st.builds(mixed, batches),
    st.builds(BatchPouredOut, batch=batches),
    st.builds(BatchLost, batch=batches),
    st.builds(StepDone, step=st.integers(1, 8)),
    st.builds(air, st.floats(5.0, 35.0)),
    st.builds(CupTemperatureRead, batch=batches, temperature_K=st.floats(285.0, 360.0)),
    st.builds(AlarmAcknowledged, alarm=st.sampled_from(["cup 1", "part", "shop"]), rank=st.sampled_from(RANKS)),
    st.just(PressClosed()),
)
outlooks = st.builds(
    AlarmContext,
    now_s=st.just(0.0),
    parts=st.just(PARTS),
    closing_s=st.just(CLOSING_S),
    stir_s=st.just(STIR_S),
    rescue=st.just(CLOSE_NOW),
    ready_s=st.none() | st.floats(0.0, 20_000.0),
    window_K=st.sampled_from([(None, None), WINDOW_K, (None, 295.0)]),
    fault=st.sampled_from(["", "", "NOT SAVED"]),
    thermometer_silent_s=st.none() | st.floats(300.0, 4000.0),
)
waits_s = st.sampled_from([1.0, 7.0, 30.0, 61.0, 400.0, 1500.0])
days = st.lists(st.tuples(waits_s, st.none() | events, st.none() | outlooks), min_size=1, max_size=25)


def boards_of(chosen: list[tuple[float, Event | None, AlarmContext | None]]) -> list[tuple[float, SessionState, Board]]:
    """Play a day of random waits, events that apply and changes of the outlook; return every look."""
    logged: list[tuple[float, Event]] = [(0.0, begin()), (0.0, air(20.0))]
    now_s, outlook, board = 0.0, quiet_outlook(), Board()
    state = fold(stamped([event for _, event in logged], every_s=0.0))
    alive = lifetimes(state, resin())
    looks = [(now_s, state, look(state, alive, outlook, board))]
    for wait_s, event, changed_outlook in chosen:
        now_s += wait_s
        outlook = replace(changed_outlook or outlook, now_s=now_s)
        if event is not None and refusal(state, event) is None:
            logged.append((now_s, event))
            records = stamped([event for _, event in logged])
            state = fold([r.model_copy(update={"elapsed_s": at}) for r, (at, _) in zip(records, logged, strict=True)])
            alive = lifetimes(state, resin())
        looks.append((now_s, state, look(state, alive, outlook, looks[-1][2])))
    return looks


@settings(max_examples=120, deadline=None)
@given(days)
def test_alarms_are_ranked_few_and_each_asks_for_an_action(
    chosen: list[tuple[float, Event | None, AlarmContext | None]],
) -> None:
    for _, _, board in boards_of(chosen):
        order = [(alarm.acknowledged, -alarm.level, not alarm.danger) for alarm in board.alarms]
        assert order == sorted(order)
        assert len({alarm.key for alarm in board.alarms}) == len(board.alarms)
        for alarm in board.alarms:
            assert alarm.words
            assert alarm.action
            assert len(alarm.action) < 140
            assert re.fullmatch(r"[^\x00-\x1f\x7f-\x9f]+", alarm.key + alarm.words + alarm.action)
            assert not (alarm.danger and alarm.rank == "when free")


@settings(max_examples=120, deadline=None)
@given(days)
def test_at_most_one_alarm_a_minute_comes_up_unless_somebody_is_in_danger(
    chosen: list[tuple[float, Event | None, AlarmContext | None]],
) -> None:
    calm = [(at_s, alarm) for at_s, _, board in boards_of(chosen)[1:] for alarm in board.news if not alarm.danger]
    for (earlier_s, _), (later_s, alarm) in pairwise(calm):
        assert later_s - earlier_s >= PACE_S, alarm


@settings(max_examples=120, deadline=None)
@given(days)
def test_an_acknowledged_alarm_never_rings(chosen: list[tuple[float, Event | None, AlarmContext | None]]) -> None:
    looks = boards_of(chosen)
    for (_, _, before), (at_s, _, board) in pairwise(looks):
        assert not any(alarm.acknowledged for alarm in board.news)
        if board.strokes:
            loud = [alarm for alarm in board.alarms if not alarm.acknowledged and alarm.rank != "when free"]
            assert loud
            assert board.news or at_s - before.rang_s >= REPEAT_S


@settings(max_examples=80, deadline=None)
@given(days)
def test_looking_again_at_once_says_nothing_new(chosen: list[tuple[float, Event | None, AlarmContext | None]]) -> None:
    now_s, state, board = boards_of(chosen)[-1]
    alive, outlook = lifetimes(state, resin()), chosen[-1][2] or quiet_outlook()
    once = look(state, alive, replace(outlook, now_s=now_s), board)
    again = look(state, alive, replace(outlook, now_s=now_s), once)
    assert (again.alarms, again.news, again.strokes) == (once.alarms, (), 0)


@settings(max_examples=60, deadline=None)
@given(
    st.floats(150.0, 800.0), st.floats(10.0, 32.0), st.lists(st.floats(0.0, 1.6), min_size=2, max_size=12).map(sorted)
)
def test_a_cup_left_alone_only_gets_more_urgent(mass_g: float, celsius: float, shares: list[float]) -> None:
    resin_g = mass_g / 1.3
    event = BatchMixed(batch=1, resin_g=resin_g, hardener_g=0.3 * resin_g, start_K=celsius + 273.15)
    state = fold(stamped([begin(), air(celsius), event], every_s=0.0))
    alive = lifetimes(state, resin())
    board, levels = Board(looked=True), []
    outlook = replace(quiet_outlook(), window_K=(None, None))
    for share in shares:
        board = look(state, alive, replace(outlook, now_s=share * alive[1].low_s), board)
        levels.append(next((alarm.level for alarm in board.alarms if alarm.key == "cup 1"), -1))
    assert levels == sorted(levels)
    if shares[-1] >= 1.0 and shares[0] < 0.5:
        assert levels[-1] == RANKS.index("now")
