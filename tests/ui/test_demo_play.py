"""The demo opens where its countdowns can be seen: on a press day for play, in the throwaway copy only."""

import re

from app_driver import press, running, said, settled, words

from layup.app.prompts import Choose
from layup.bench.forecast import pace
from layup.bench.rehearsal import PLAYED_S
from layup.commands import app as command
from layup.commands import demo
from layup.files.durable import JOURNAL
from layup.files.workshop import throwaway_workshop
from layup.session.archive import stored_session
from layup.session.batch_events import BatchMixed, StepDone
from layup.session.clock import ManualClock
from layup.session.day_events import Note
from layup.session.state_parts import PLAYED


async def test_a_newcomer_sees_countdowns_that_run_at_the_first_key():
    clock = ManualClock()
    with throwaway_workshop() as root:
        before = {path.parent for path in root.glob(f"sessions/*/{JOURNAL}")}
        async with running(root, clock=clock, play=True) as (app, pilot):
            assert isinstance(app.screen, Choose)
            assert "nothing here is kept" in app.screen.title_text
            await press(app, pilot, "enter")
            day = app.day
            assert app.here == "bench"
            assert words(app, "#top").startswith("PLAY  ")
            assert "PLAY" in said(app)
            assert abs(day.now_s() - PLAYED_S) < 1.0
            assert [batch.number for batch in day.in_cup()] == [1]
            mixed = next(record for record in day.state.records if isinstance(record, BatchMixed))
            assert abs(mixed.elapsed_s - app.planner.figures.split.batches[0].contact_s) < 1.0
            assert any(isinstance(record, StepDone) for record in day.state.records)
            assert not day.doubtful_cups(), "its readings were on target"
            left_s = day.alive[1].empty_by_s - day.now_s()
            assert left_s > 0.0
            clock.advance(60.0)
            app.tick()
            await settled(app, pilot)
            assert abs(left_s - (day.alive[1].empty_by_s - day.now_s()) - 60.0) < 1.0, "the clock runs on from there"
            assert day.folder.parent == root / "sessions"
        kept = stored_session(day.folder)
        assert not kept.problems
        notes = [record.text for record in kept.state.records if isinstance(record, Note)]
        assert notes[0].startswith(f"{PLAYED}an invented day")
        assert {path.parent for path in root.glob(f"sessions/*/{JOURNAL}")} - before == {day.folder}


async def test_a_casting_day_can_be_looked_at_with_its_first_cup_mixed():
    with throwaway_workshop() as root:
        async with running(root, clock=ManualClock(), play=True) as (app, pilot):
            await press(app, pilot, "4")
            day = app.day
            assert day is not None, said(app)
            assert day.state.is_casting
            assert abs((pace(day, day.now_s()) or 1.0) - 1.0) < 0.05, "all that is played went as planned"
            assert app.here == "bench"
            assert words(app, "#top").startswith("PLAY  CASTING 0/")
            assert "casting day" in said(app)
            assert [batch.number for batch in day.in_cup()] == [1]
            assert 0.0 < day.alive[1].empty_by_s - day.now_s() < 600.0
            assert not day.doubtful_cups()


async def test_stack_shows_the_pours_of_a_casting_day_and_goes_back_to_the_press_day():
    with throwaway_workshop() as root:
        async with running(root, size=(120, 36)) as (app, pilot):
            await press(app, pilot, "8")
            shown = words(app, "#stack-batches")
            first, *pours = shown.strip().splitlines()
            assert first.strip() == "cups, min:s from the first weighing", (
                "2:00 is no time of the day, and no two hours"
            )
            assert re.fullmatch(r" *1 \d+ g mix at 2:00, empty by \d+:\d\d", pours[0])
            assert "out by" not in shown, "a part comes out of the mould, a cup is empty"
            assert "no batches" not in shown
            assert words(app, "#stack-picture").strip() == ""
            assert "TOTAL 0" not in words(app, "#stack-steps")
            await press(app, pilot, "8")
            assert app.planner.figures.plan.lays


async def test_q_quits_there_too():
    with throwaway_workshop() as root:
        async with running(root, play=True) as (app, pilot):
            await pilot.press("q")
            await pilot.pause()
            assert not app.is_running


async def test_who_wants_the_plan_gets_it_and_no_day_is_made_up():
    with throwaway_workshop() as root:
        before = sorted(root.glob(f"sessions/*/{JOURNAL}"))
        async with running(root, play=True) as (app, pilot):
            await press(app, pilot, "2")
            assert app.day is None
            assert app.here == "stack"
        assert sorted(root.glob(f"sessions/*/{JOURNAL}")) == before


def test_play_is_offered_in_the_throwaway_copy_and_never_in_one_that_is_kept(monkeypatch, tmp_path):
    opened = []
    monkeypatch.setattr(command, "require_terminal", lambda: None)
    monkeypatch.setattr(
        command, "open_app", lambda root, _, **asked: opened.append((root, asked.get("play", False))) or 0
    )

    class Words:
        keep = None
        watch = False
        thermometer = None

    assert demo.run(Words) == 0
    Words.keep = str(tmp_path / "kept")
    assert demo.run(Words) == 0
    assert [play for _, play in opened] == [True, False]
    assert opened[1][0] == Words.keep
