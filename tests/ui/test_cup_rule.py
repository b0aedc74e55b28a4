"""A cup is judged once: its fan, its act, the bell, a replan and the review never contradict each other."""

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from machine_clock import MachineClock
from simulate.shop import begun, workshop

from layup.app.bench_lines import enter_words
from layup.bench.day import PressDay
from layup.bench.doing import doubt_words, kept
from layup.bench.opening import day_state, replanned, rescue_now
from layup.bench.view import bench_view
from layup.chemistry.uncertainty import Band
from layup.planning.clocks import HOT_CUPS
from layup.review.review import review
from layup.session.archive import stored_session
from layup.session.batch_events import BatchMixed, BatchPouredOut, CupTemperatureRead, StepDone
from layup.session.day_events import Note


def day_of(folder: Path) -> PressDay:
    return begun(workshop(folder), MachineClock())


@pytest.fixture
def day(tmp_path: Path) -> PressDay:
    return day_of(tmp_path)


def until(day: PressDay, at_s: float) -> None:
    assert isinstance(day.clock, MachineClock)
    day.clock.advance(at_s - day.now_s())


def mix(day: PressDay, number: int) -> None:
    planned = next(batch.plan for batch in day.state.batches if batch.number == number)
    event = BatchMixed(batch=number, resin_g=planned.resin_g, hardener_g=planned.hardener_g, start_K=day.mix_K)
    assert day.log(event, "").done


def finish(day: PressDay, steps: int) -> None:
    for _ in range(steps):
        step = day.state.step_now
        assert step is not None
        assert day.log(StepDone(step=step.number), "").done


def cup_alarm(day: PressDay, number: int = 1):
    """Return the act of a cup that rings, or None."""
    return next((act for act in bench_view(day).alarms if act.key == f"cup {number}"), None)


def test_act_and_fan_count_to_the_same_moment(day: PressDay) -> None:
    mix(day, 1)
    by_s = day.alive[1].empty_by_s
    for at_s, rank, urgency in ((by_s - 120.0, "soon", "soon"), (by_s + 32.0, "now", "now")):
        until(day, at_s)
        view, alarm = bench_view(day), cup_alarm(day)
        assert alarm is not None
        assert alarm.deadline_s == view.cups[0].by_s == by_s
        assert (alarm.rank, view.cups[0].urgency) == (rank, urgency)


def test_a_cup_past_its_time_is_the_act_whatever_the_part_has_to_spare(day: PressDay) -> None:
    mix(day, 1)
    assert day.log(BatchPouredOut(batch=1), "").done
    mix(day, 2)
    until(day, day.alive[2].empty_by_s + 720.0)
    view = bench_view(day)
    assert view.act.key == "cup 2"
    assert view.press.by_s == day.press_by_s


def test_a_replan_lays_what_is_in_a_cup_by_when_the_card_wants_it_empty(day: PressDay) -> None:
    mix(day, 1)
    until(day, 300.0)
    (cup,) = day_state(day).in_cup
    assert cup.empty_within_s == pytest.approx(day.alive[1].empty_by_s - 300.0)


@pytest.mark.parametrize(
    ("celsius", "word", "words"),
    [(44.0, "fresh", ""), (46.0, "empty now", "EMPTY CUP 1"), (61.0, "outside now", "CUP 1 OUTSIDE NOW")],
)
def test_a_cup_measured_hot_is_said_alike_by_its_fan_and_by_the_act(day, celsius, word, words) -> None:
    mix(day, 1)
    assert day.log(CupTemperatureRead(batch=1, temperature_K=celsius + 273.15), "").done
    view, alarm = bench_view(day), cup_alarm(day)
    assert view.cups[0].words == word
    assert (alarm.words if alarm else "") == words
    if alarm is not None:
        assert view.act.is_same_as == alarm.is_same_as
        assert alarm.rank == "now"
        assert f"{celsius:.0f} °C" in alarm.why


@pytest.mark.parametrize(("celsius", "stands"), [(46.0, False), (61.0, True)])
def test_a_cup_that_belongs_outside_is_laid_only_where_somebody_was_asked(day, celsius, stands) -> None:
    mix(day, 1)
    assert day.doubt(1) == "unread", "nobody read the scale"
    assert day.log(CupTemperatureRead(batch=1, temperature_K=celsius + 273.15), "").done
    assert day.doubt(1) == ("hot" if stands else "unread")
    if stands:
        assert doubt_words(day, 1).startswith("Batch 1 is HOT: 61 °C in its cup.")
        assert kept(day, 1).words == "batch 1 stays in its cup: carry it outside now"
        assert day.poured_out(1, "hot").done
        assert day.doubt(1) is None, "it was accepted"


# -- what saves most -------------------------------------------------------------------------------------------


def half_the_lower_glass(day: PressDay, *, minutes_left: float) -> None:
    """Lay the base and half the lower glass, with no core in, and wait until the part must soon be closed."""
    names = [step.plan.name for step in day.state.steps]
    glass = names.index("Lower glass")
    mix(day, 1)
    finish(day, glass)
    assert day.log(BatchPouredOut(batch=1), "").done
    press_by_s = day.press_by_s
    assert press_by_s is not None
    until(day, press_by_s - 60.0 * minutes_left)


@pytest.mark.parametrize("minutes_left", [5.0, -2.0, -12.0])
def test_with_half_the_lower_glass_down_act_and_replan_say_alike_to_save_core_and_base(day, minutes_left) -> None:
    half_the_lower_glass(day, minutes_left=minutes_left)
    advice = " ".join(replanned(day).advice)
    assert rescue_now(day).words.startswith("scrape the wet layers off")
    assert rescue_now(day).words[1:] in advice
    assert "close the press" not in advice
    view = bench_view(day)
    assert view.act.words == "SCRAPE IT OFF"
    assert enter_words(view.act) == "scraped off", "the key names what it logs"
    assert "close now" not in [part.words for part in view.parts], "the card says what the act says"


def test_with_the_core_in_act_and_replan_say_alike_to_close_with_what_is_on_it(day) -> None:
    names = [step.plan.name for step in day.state.steps]
    mix(day, 1)
    mix(day, 2)
    finish(day, names.index("Core in place") + 1)
    for number in (1, 2):
        assert day.log(BatchPouredOut(batch=number), "").done
    assert day.press_by_s is not None
    until(day, day.press_by_s + 60.0)
    advice = " ".join(replanned(day).advice)
    assert rescue_now(day).words.startswith("close the press now")
    assert rescue_now(day).words[1:] in advice
    assert "scrape" not in advice
    assert bench_view(day).act.words == "CLOSE NOW"


# -- the rule itself, and every asker of it -------------------------------------------------------------------------


@pytest.fixture(scope="module")
def long_day(tmp_path_factory: pytest.TempPathFactory) -> PressDay:
    """Return a day with one batch in its cup, whose life each example replaces."""
    day = day_of(tmp_path_factory.mktemp("long"))
    mix(day, 1)
    return day


CUP_WORDS = {"fresh": "fresh", "soon": "empty soon", "now": "empty now", "may be over": "may be thick"}
CUP_ACTS = {"soon": "EMPTY CUP 1", "now": "EMPTY CUP 1", "may be over": "LOOK AT CUP 1", "past": "CUP 1 OUTSIDE NOW"}


@settings(max_examples=200, deadline=None)
@given(
    life_s=st.floats(120.0, 40_000.0),
    wider=st.floats(1.05, 3.0),
    heat=st.sampled_from(["warm", "hot", "runaway"]),
    age=st.floats(0.0, 4.0),
    read_C=st.one_of(st.none(), st.floats(15.0, 80.0)),
)
def test_fan_act_and_bell_judge_any_cup_alike_at_every_moment(long_day, life_s, wider, heat, age, read_C) -> None:
    now_s = long_day.now_s()
    mixed_s = now_s - age * life_s
    over_s = Band(*(mixed_s + factor * life_s for factor in (1.0, wider**0.5, wider)))
    read_K = None if read_C is None else (now_s - 60.0, read_C + 273.15)
    life = replace(
        long_day.alive[1],
        mixed_s=mixed_s,
        over_s=over_s,
        heat=heat,
        read_K=read_K,
    )
    state = long_day.state
    long_day._lives, long_day._alive_of = (
        long_day._known_lives()._replace(alive={1: life}),
        (state.batches, state.air, state.mould, state.resin, state.forecast),
    )
    edges = [{"warm": 1.0, "hot": 0.9, "runaway": 0.8}[heat] * life_s, life_s, wider * life_s]
    edges.append(edges[0] - min(600.0, 0.2 * life_s))
    assume(min(abs(age * life_s - edge_s) for edge_s in edges) > 1e-3)
    stage = expected_stage(age * life_s, life_s, wider * life_s, heat, read_C)
    view, alarm = bench_view(long_day), cup_alarm(long_day)
    assert view.cups[0].urgency == stage
    assert view.cups[0].by_s == pytest.approx(mixed_s + edges[0])
    assert (alarm is None) == (stage == "fresh")
    assert (alarm.rank if alarm else None) == {"fresh": None, "soon": "soon"}.get(stage, "now")
    assert (view.act.key == "cup 1") == (stage in ("now", "may be over", "past"))
    if alarm is not None:
        assert alarm.urgency == stage
        assert alarm.words == CUP_ACTS[stage]
        assert alarm.deadline_s == view.cups[0].by_s
        assert alarm.danger == (stage != "soon" and (heat == "runaway" or (read_C is not None and read_C >= 45.0)))
    if not (read_C is not None and read_C >= 45.0):
        assert view.cups[0].words == CUP_WORDS.get(stage, "past its time")


def expected_stage(age_s: float, low_s: float, high_s: float, heat: str, read_C: float | None) -> str:
    """Return the stage as bench practice has it, worked out from scratch."""
    by_s = {"warm": 10, "hot": 9, "runaway": 8}[heat] * low_s / 10
    stage = "fresh"
    if age_s >= by_s - min(10 * 60, low_s / 5):
        stage = "soon"
    if age_s >= by_s or (read_C is not None and read_C >= 45.0):
        stage = "now"
    if age_s >= low_s:
        stage = "may be over"
    if age_s >= high_s or (read_C is not None and read_C >= 60.0):
        stage = "past"
    return stage


@pytest.mark.parametrize("share", [0.7, 0.81, 0.95, 1.02, 3.0])
def test_the_review_finds_a_cup_thick_where_its_card_said_so_as_it_was_emptied(day, share) -> None:
    mix(day, 1)
    life = day.alive[1]
    until(day, life.mixed_s + share * (life.over_s.low - life.mixed_s))
    stage = bench_view(day).cups[0].urgency
    assert day.log(BatchPouredOut(batch=1), "").done
    found = [finding for finding in review(stored_session(day.folder)).findings if finding.cause == "past thickening"]
    assert bool(found) == (stage in ("may be over", "past"))
    if found:
        assert (found[0].certainty == "certain") == (stage == "past")
        by = round((life.empty_by_s - life.mixed_s) / 60)
        assert f"within {by} min of first contact" in found[0].change


@pytest.mark.parametrize(("celsius", "found"), [(36.0, False), (44.0, False), (46.0, True), (61.0, True)])
def test_the_review_calls_a_cup_hot_where_its_card_did(day, celsius, found) -> None:
    mix(day, 1)
    until(day, 600.0)
    assert day.log(CupTemperatureRead(batch=1, temperature_K=celsius + 273.15), "").done
    hot = day.alive[1].hot(day.now_s()) is not None
    assert (bench_view(day).cups[0].words in [row.word for row in HOT_CUPS]) or not hot
    assert day.log(BatchPouredOut(batch=1), "").done
    assert ("cup too hot" in {finding.cause for finding in review(stored_session(day.folder)).findings}) == found == hot


def test_a_clock_said_to_be_right_that_is_behind_the_last_entry_is_said_to_count_nothing(day) -> None:
    mix(day, 1)
    until(day, 600.0)
    assert isinstance(day.clock, MachineClock)
    day.clock.reboot(60.0, "boot-2")
    day.clock.set_wall(-3600.0)
    assert day.log(Note(text="the power is back"), "").done
    age_s = day.now_s()
    said = day.tell_clock()
    assert said.words.endswith(", before the last entry: 0 min are counted, all may be older")
    assert day.now_s() == pytest.approx(age_s)
