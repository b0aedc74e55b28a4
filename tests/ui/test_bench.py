"""The Bench as it is read from two metres: one act, one number, one deadline, one key, at every size."""

from pathlib import Path

import pytest
from app_driver import at_each, begin_day, bench, press, running, said, settled, words, workshop
from gallery import text_in
from simulate.shop import Day, desk_for
from simulate.shop import workshop as simulated
from test_keys import tap
from textual.pilot import Pilot

from layup.app.app import LayupApp
from layup.app.bench_lines import act_of_enter, figure, picture
from layup.app.prompts import Choose
from layup.app.shell import GLYPHS, ROWS, big_lines
from layup.bench.day import PressDay
from layup.bench.opening import begin
from layup.bench.view import bench_view
from layup.session.batch_events import BatchMixed, StepDone
from layup.session.clock import ManualClock

SIZES = ((40, 16), (80, 24), (120, 36), (160, 50))


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    return workshop(tmp_path)


async def wait(app: LayupApp, pilot: Pilot[None], minutes: float) -> None:
    """Let time pass before the Bench."""
    app.clock.advance(minutes * 60)
    app.tick()
    await settled(app, pilot)


# -- the figure ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("value", ["8:08", "28 min", "2 h 35", "+4:26", "267 g", "15:11", "at most 36 min", "393.5 g"])
def test_a_figure_is_whole_or_plain_text_and_never_a_part_of_a_digit(value):
    for width in range(1, 70):
        for rows in (1, 4, 5, 9, 10, 20):
            lines = figure(value, width, rows)
            if lines == [value]:
                continue
            assert len(lines) in (ROWS, 2 * ROWS, 4 * ROWS)
            assert len(lines) <= rows
            assert max(map(len, lines)) <= width
            digits = "".join(value.split(" min")[0].split(" g")[0].split()).replace(" ", "")
            pixels = sum(row.count("#") for one in digits for row in GLYPHS[one])
            blocks = sum(line.count("█") for line in lines)
            assert blocks % pixels == 0, "every pixel of every digit is there, as large as every other"
    assert figure(value, 69, 5) != [value] or "most" in value


def test_a_figure_takes_the_room_there_is():
    assert len(figure("28 min", 38, 5)) == ROWS
    assert max(map(len, figure("28 min", 78, 10))) > max(map(len, big_lines("28")))


# -- what is drawn ---------------------------------------------------------------------------------------------------


def days(folder: Path) -> list[tuple[str, PressDay]]:
    """Return one press day at four moments: begun, a cup in use, two batches, a cup past its time."""
    found = []
    for moment in ("begun", "a cup", "two batches", "late"):
        planner = desk_for(simulated(folder / moment.replace(" ", "-")), Day())
        day = begin(planner, planner.figures, ManualClock())
        found.append((moment, day))
        if moment == "begun":
            continue
        for number in (1, 2) if moment == "two batches" else (1,):
            plan = day.state.batch(number).plan
            event = BatchMixed(batch=number, resin_g=plan.resin_g, hardener_g=plan.hardener_g, start_K=day.mix_K)
            assert day.log(event, "").done
            day.clock.advance(240.0)
            assert day.log(StepDone(step=day.state.step_now.number), "").done
            if moment == "two batches" and number == 1:
                assert day.poured_out(1, day.doubt(1)).done
        if moment == "late":
            day.clock.advance(day.alive[1].empty_by_s - day.now_s() + 200.0)
    return found


def test_at_every_size_each_line_fits_and_act_deadline_and_worst_batch_are_there(tmp_path):
    for moment, day in days(tmp_path):
        view = bench_view(day)
        for width in (38, 39, 47, 58, 78, 100, 118, 158):
            for rows in (9, 10, 14, 20, 30, 45):
                shown = picture(day, view, width=width, rows=rows)
                lines = [f"{line.words}{line.beside}" for line in (*shown.act, *shown.main, *shown.rest)]
                where = f"{moment} {width}x{rows}"
                assert len(lines) <= rows, where
                assert max(map(len, lines)) <= width, f"{where}: {max(lines, key=len)!r}"
                text = "\n".join(lines)
                assert view.act.words in text, where
                assert "…" not in "\n".join(line.words for line in (*shown.act, *shown.main)), where
                for one in (*view.cups[:1], *view.parts[: not view.cups]):
                    assert day.clock_time(one.by_s) in text, where
                assert text.count("estimate") <= 1, where
                if moment == "late":
                    assert f"▲ {view.act.words}" in text, where
                    assert shown.due == shown.urgency == 2, where


def test_a_tap_on_a_line_means_its_batch_or_the_act(tmp_path):
    for moment, day in days(tmp_path):
        view = bench_view(day)
        shown = picture(day, view, width=118, rows=30)
        assert {line.key for line in shown.act} == {"enter"}
        tapped = {number for line in (*shown.main, *shown.rest) for number in (line.batch, line.other)}
        assert tapped - {None} == {one.batch for one in (*view.cups, *view.parts)}, moment


async def test_on_the_screen_nothing_is_clipped_and_act_deadline_and_enter_stand_there_at_every_size(shop):
    async with running(shop, clock=ManualClock()) as (app, pilot):
        await begin_day(app, pilot, "enter", "h", "enter", "b")
        await wait(app, pilot, 4)
        for late in (0.0, app.day.alive[1].empty_by_s - app.day.now_s() + 100.0):
            await wait(app, pilot, late / 60)
            async for _ in at_each(app, pilot, SIZES):
                screen = text_in(app, app.screen.region)
                for line in bench(app).splitlines():
                    assert line.strip() in screen
                assert app.view.act.words in screen
                assert "▶ ENTER" in screen
                assert app.day.clock_time(app.day.alive[1].empty_by_s) in screen
                assert "█" in words(app, "#bench-main")
                act = app.base.query_one("#bench-act")
                assert act.has_class("now") is (late > 0.0)
        ink = app.base.query_one("#bench-rest").colors[3]
        assert act.styles.background.rgb == ink.rgb, "the act is drawn reversed, from edge to edge"
        await pilot.resize_terminal(20, 16)
        await wait(app, pilot, 60 - app.day.now_s() / 60)
        screen = text_in(app, app.screen.region)
        assert "too narrow" in screen, "under forty columns it says so"
        assert "LOOK AT CUP 1" in screen, "what must be done now is said all the same"
        await pilot.resize_terminal(40, 16)
        await settled(app, pilot)
        assert "too narrow" not in text_in(app, app.screen.region)


# -- keys and taps ---------------------------------------------------------------------------------------------------


async def test_enter_alone_goes_from_the_first_batch_to_the_closed_press(shop):
    async with running(shop, clock=ManualClock()) as (app, pilot):
        await begin_day(app, pilot)
        keys = 0
        while app.day.state.closed_s is None:
            await wait(app, pilot, 1.0)
            keys += act_of_enter(app.view) is not None
            await press(app, pilot, "enter")
            assert keys < 60, bench(app)
        assert not [batch for batch in app.day.state.batches if batch.status == "in the cup"]
        assert all(batch.mixed_s is not None for batch in app.day.state.batches)
        assert all(step.done_s is not None for step in app.day.state.steps)
        assert app.place.id == "cure"
        assert keys <= 13 + 5 * len(app.day.state.batches) + 1, "one for each step, four or five a batch, the closing"


async def test_while_a_batch_is_stirred_its_own_time_counts_down_and_the_step_shows_none(shop):
    async with running(shop, clock=ManualClock()) as (app, pilot):
        await begin_day(app, pilot, "enter", "h", "enter", "b")
        for gone_min, left in ((0.0, "3:00"), (1.0, "2:00")):
            await wait(app, pilot, gone_min)
            lines = bench(app).splitlines()
            assert [line.split()[-1] for line in lines if "STIR BATCH 1" in line] == [left]
            step = app.view.step
            assert not [line for line in lines if step.name.upper() in line and ":" in line.split("  ", 1)[-1][-20:]]
        await wait(app, pilot, 3.0)
        assert [
            line for line in bench(app).splitlines() if f"{app.view.step.name.upper()} " in line and "1:00 /" in line
        ]


async def test_enter_does_only_what_has_stood_there_for_a_second(shop):
    async with running(shop, clock=ManualClock()) as (app, pilot):
        await begin_day(app, pilot, "enter", "h", "enter", "b")
        seq = app.day.state.seq
        await wait(app, pilot, 3.1)
        await press(app, pilot, "enter")
        assert app.day.state.seq == seq
        assert said(app).startswith("new: ")
        await wait(app, pilot, 2 / 60)
        act = act_of_enter(app.view)
        await press(app, pilot, "enter", "enter")
        assert app.day.state.seq == seq + 1, "the second Enter was not meant for what came up"
        assert act_of_enter(app.view).is_same_as != act.is_same_as


async def test_space_makes_an_act_wait_and_enter_means_the_step(shop):
    async with running(shop, clock=ManualClock()) as (app, pilot):
        await begin_day(app, pilot, "enter", "h", "enter", "b")
        await wait(app, pilot, (app.day.alive[1].empty_by_s + 5.0) / 60)
        assert app.view.act.kind in ("empty cup", "look")
        assert "Space seen" in text_in(app, app.base.query_one("#keys").region)
        await press(app, pilot, "space")
        assert app.view.act.kind == "step"
        await wait(app, pilot, 1 / 60)
        await press(app, pilot, "enter")
        assert app.day.state.step_now.number == 3


async def test_a_tap_on_the_cup_asks_how_it_looks_and_one_on_the_act_does_it(shop):
    async with running(shop, clock=ManualClock()) as (app, pilot):
        await begin_day(app, pilot, "enter", "h", "enter", "b")
        await wait(app, pilot, 3.1)
        await tap(app, pilot, "#bench-main", "CUP 1")
        assert isinstance(app.screen, Choose)
        assert "Batch 1 looks" in app.screen.title_text
        await tap(app, pilot, "#choices", "runny")
        assert app.day.state.batch(1).observations[-1][1] == "runny"
        step = app.day.state.step_now.number
        await wait(app, pilot, 2 / 60)
        await tap(app, pilot, "#bench-act", "BASE SHEET")
        assert app.day.state.step_now.number == step + 1


async def test_a_forgotten_key_is_told_afterwards_and_the_clock_is_as_old_as_the_mix(shop):
    clock = ManualClock()
    async with running(shop, clock=clock) as (app, pilot):
        await begin_day(app, pilot, "enter")
        clock.advance(600.0)
        await press(app, pilot, "h", "apostrophe")
        assert "When was that?" in app.screen.title_text
        assert "hardener in" in app.screen.title_text
        await press(app, pilot, *"never", "enter")
        assert app.screen is not app.base, "what is no time is refused in the question"
        await press(app, pilot, *["backspace"] * 5, *"6", "enter")
        assert app.day.now_s() - app.day.state.batch(1).mixed_s == pytest.approx(360.0, abs=1.0)
        assert "6 min ago" in said(app)


async def test_no_message_however_long_pushes_a_deadline_out(tmp_path: Path) -> None:
    clock = ManualClock()
    async with running(workshop(tmp_path), clock=clock, size=(40, 16)) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, "enter", "h", "enter", "b")
        clock.advance(300)
        await press(app, pilot, "d")
        by = next(act for act in app.view.then if act.kind == "weigh")
        for lines in (1, 2, 3):
            app.say("more words than stand here " * lines)
            await pilot.pause()
            app.redraw()
            await pilot.pause()
            shown = bench(app).splitlines()
            assert len(shown) <= app.place.size.height
            assert [line for line in shown if f"weigh batch 2 by {app.day.clock_time(by.deadline_s)}" in line], lines
            assert [line for line in shown if "34 min" in line or "█" in line], "nor the figure that counts"
