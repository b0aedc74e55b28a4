"""The app as its user drives it: keys in, events and words out."""

import json
import os
import signal
from datetime import UTC, datetime
from pathlib import Path

import pytest
from app_driver import begin_day, bench, logged, press, running, said, settled, words
from app_driver import workshop as make_workshop
from command_line import ask_in
from textual.widgets import OptionList, Static

from layup.app.actions import DOES
from layup.app.begin import BeginPage
from layup.app.keys import ACTIONS, PLACES
from layup.app.logbook import OWN
from layup.app.prompts import Choose
from layup.app.shell import BigDigits
from layup.bench.alarms import source_of
from layup.files.durable import JOURNAL
from layup.files.workshop import new_workshop
from layup.planning.night import NightOutlook
from layup.session.batch_events import BatchMixed, BatchPouredOut, StepDone
from layup.session.clock import ManualClock
from layup.session.day_events import Note


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    return make_workshop(tmp_path)


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    """A workshop with the two sessions of the demo."""
    root = tmp_path / "demo"
    new_workshop(root, whole=True)
    return root


def journal(shop: Path) -> list[dict[str, object]]:
    (path,) = shop.glob(f"sessions/*/{JOURNAL}")
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]


async def test_a_plan_named_on_the_command_line_opens_on_the_question_whether_to_begin(shop):
    async with running(shop, plan="touring-skis") as (app, pilot):
        assert isinstance(app.screen, BeginPage)
        await press(app, pilot, "o", "y")
        assert app.day is not None
        assert app.day.state.start.plan == "touring-skis"


async def test_the_question_whether_to_begin_goes_by_what_earlier_sessions_taught(demo):
    async with running(demo, plan="touring-skis") as (app, _):
        assert app.planner.lessons.sessions > 0
        assert isinstance(app.screen, BeginPage)
        assert app.screen.figures is app.planner.figures
        assert app.planner.figures.lessons_used


async def test_a_plan_that_cannot_be_used_or_only_looked_at_opens_on_stack_and_who_looks_on_writes_nothing(shop):
    async with running(shop, plan="touring-skis", watch=True) as (app, pilot):
        assert app.screen is app.base
        await press(app, pilot, "g")
        assert "looking on only" in said(app)
    assert not list(shop.glob(f"sessions/*/{JOURNAL}"))
    path = shop / "sessions" / "touring-skis" / "plan.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("pieces =", "peices ="), encoding="utf-8")
    async with running(shop, plan="touring-skis") as (app, _):
        assert app.screen is app.base
        assert "peices" in words(app, "#stack-title")


async def test_a_batch_is_on_the_disk_within_twelve_keys_a_step_is_undone_and_yes_closes_the_press_all_the_same(shop):
    begun, rest = ["g", "o", "y", "enter", "h"], ["enter"]
    assert len(begun + rest) < 12
    async with running(shop) as (app, pilot):
        await press(app, pilot, *begun)
        assert "clock started" in said(app)
        assert any(entry["event"] == "batch-mixed" for entry in journal(shop)), (
            "what the screen confirms is on the disk"
        )
        await press(app, pilot, *rest)
        assert [entry["event"] for entry in journal(shop)][-3:] == ["pour-read", "batch-mixed", "pour-read"]
        assert "ON RATIO" in said(app)
        await press(app, pilot, "b", "d", "y")
        assert isinstance(app.day.state.records[-1], StepDone)
        await press(app, pilot, "u")
        assert app.day.state.steps[0].done_s is None
        assert [entry["event"] for entry in journal(shop)][-2:] == ["step-done", "undone"], "both stay in the journal"
        await press(app, pilot, "d", "y", "c")
        assert ": in the cup" in app.screen.title_text
        assert "Log closed anyway?" in app.screen.title_text
        await press(app, pilot, "y")
        assert "press closed: leave it shut" in said(app)
        assert journal(shop)[-1]["event"] == "press-closed"
        assert app.place.id == "cure"
        assert app.day.state.closed_s is not None


async def test_an_over_pour_shows_the_grams_to_add_and_the_next_reading(shop):
    async with running(shop) as (app, pilot):
        await begin_day(app, pilot, "enter", "h", *"400", "enter")
        assert "too much hardener: typed right?" in app.screen.title_text, "a third more hardener may be a slip"
        await press(app, pilot, "y")
        assert words(app, "#mix-head").startswith("✗ ADD ")
        assert " RESIN → SCALE TO " in words(app, "#mix-head")
        target = app.base.query_one("#mix-digits", BigDigits).value
        await press(app, pilot, "enter")
        assert words(app, "#mix-head").startswith("✓ ON RATIO")
        batch = app.day.state.batch(1)
        assert batch.mass_g == pytest.approx(float(target), abs=0.51)


async def test_the_countdown_is_the_plan_s_and_follows_a_change_of_temperature_by_age(shop):
    clock = ManualClock()
    async with running(shop, clock=clock) as (app, pilot):
        planned = app.planner.figures.split.batches[0]
        await begin_day(app, pilot, "enter", "h", "enter", "b")
        life = app.day.alive[1]
        assert life.empty_by_s - life.mixed_s == pytest.approx(planned.cup.empty_by_s, rel=0.01)
        assert life.empty_by_s < life.over_s.low
        clock.advance(20 * 60)
        app.tick()
        calm_s = app.day.alive[1].over_s.low
        await press(app, pilot, "t", "a", *"30", "enter")
        assert app.day.alive[1].over_s.low == calm_s, "a jump by ten degrees is asked about"
        await press(app, pilot, "y")
        warm_s = app.day.alive[1].over_s.low
        assert clock.monotonic_s() > 1000
        assert app.day.now_s() < warm_s < calm_s, "it does not restart"
        fresh_at_30_s = 0.5 * (calm_s - app.day.alive[1].mixed_s)
        assert warm_s - app.day.now_s() < fresh_at_30_s


async def test_a_key_that_cannot_apply_says_why_and_what_is_asked_is_left_with_nothing_logged(shop):
    async with running(shop) as (app, pilot):
        await press(app, pilot, "b", "o")
        assert "no press day is running" in said(app)
        await begin_day(app, pilot)
        await press(app, pilot, "b", "o")
        assert "no batch is in its cup" in said(app)
        await press(app, pilot, "b", "z")
        assert "the press is not closed yet" in said(app)
        await press(app, pilot, "h", "enter")
        assert app.day.state.batch(1).mixed_s is None, "nobody weighed it: it is asked first"
        await press(app, pilot, "h", "y")
        assert app.day.state.batch(1).mixed_s is not None
        seq = app.day.state.seq
        for key in "tekx":
            await press(app, pilot, key)
            assert isinstance(app.screen, Choose), key
            await press(app, pilot, "escape")
            assert app.screen is app.base, key
        assert app.day.state.seq == seq


async def test_a_press_closed_over_no_mix_at_all_is_reviewed_and_ended_like_any_other(shop):
    async with running(shop) as (app, pilot):
        await begin_day(app, pilot, "b", "c", "y")
        assert app.place.id == "cure"
        await press(app, pilot, "z", "y", "f", "y", "escape", "l")
        assert [entry["event"] for entry in journal(shop)][-3:] == ["press-closed", "demoulded", "session-ended"]
        assert app.day.state.misfits == ()
        assert ask_in(shop, "review", app.day.folder.name).code in (0, 1)


async def test_a_second_program_looks_on_and_writes_nothing_and_the_session_resumes_where_it_was_left(shop):
    clock = ManualClock()
    async with running(shop, clock=clock) as (app, pilot):
        await begin_day(app, pilot, "enter", "h")
        before = journal(shop)
        async with running(shop, clock=clock) as (second, other):
            assert second.day.watching
            assert "LOOKING ON" in words(second, "#top")
            await press(second, other, "d")
            assert "only looking on" in said(second)
        assert journal(shop) == before
        await press(app, pilot, "enter")
        low_s = app.day.alive[1].over_s.low
        await press(app, pilot, "q", "y")
        assert "press day kept" in app.farewell
    clock.advance(300)
    async with running(shop, clock=clock) as (app, pilot):
        assert app.here == "bench"
        assert app.day.alive[1].over_s.low == pytest.approx(low_s)
        assert app.day.now_s() >= 300


async def test_notes_can_neither_style_nor_command_the_screen(shop):
    async with running(shop) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, "n")
        for character in "[bold]x[/] [@click=app.quit]y":
            await pilot.press(
                character
                if character.isalnum()
                else {
                    "[": "left_square_bracket",
                    "]": "right_square_bracket",
                    "/": "slash",
                    " ": "space",
                    "@": "at",
                    "=": "equals_sign",
                    ".": "full_stop",
                }[character]
            )
        await press(app, pilot, "enter", "n", "b")
        note = next(record for record in app.day.state.records if isinstance(record, Note))
        assert "[bold]x[/]" in note.text
        assert note.text in logged(app)


async def test_a_lost_batch_is_planned_anew_with_its_mix_sheet(shop):
    clock = ManualClock()
    async with running(shop, clock=clock) as (app, pilot):
        await begin_day(app, pilot, "enter", "h", "enter", "b")
        clock.advance(300)
        await press(app, pilot, "x", "2", "enter")
        assert "REPLAN" in words(app, ".prompt-title")
        await press(app, pilot, "y")
        assert app.here == "mix"
        assert "BATCH 2" in words(app, "#mix-title")
        assert journal(shop)[-1]["event"] == "replanned"


async def test_a_whole_press_day_ends_in_the_logbook(shop):
    clock = ManualClock()
    async with running(shop, clock=clock) as (app, pilot):
        await begin_day(app, pilot)
        while app.day.next_to_mix() is not None:
            await press(app, pilot, "w", "enter", "h", "enter", "b")
            clock.advance(600)
            await press(app, pilot, "o")
        assert any(isinstance(record, BatchPouredOut) for record in app.day.state.records)
        while app.day.state.step_now is not None:
            clock.advance(60)
            await press(app, pilot, "d")
        await press(app, pilot, "c")
        assert "press closed" in said(app)
        assert "PRESS CLOSED" in words(app, "#top")
        await press(app, pilot, "f", "y")
        assert "Add what to this session?" in app.screen.title_text, "how it turned out is asked at once"
        await press(app, pilot, "escape", "l")
        await settled(app, pilot)
        assert "LOGBOOK  1 session" in words(app, "#log-title")
        await press(app, pilot, "enter", "home")
        told = []
        for _ in range(8):
            await press(app, pilot, "down")
            told.append(words(app, "#day-did"))
        assert any("hardener in" in one for one in told)
        assert sum(isinstance(record, BatchMixed) for record in app.day.state.records) == len(app.day.state.batches)


async def test_the_desk_follows_each_setting_and_a_variant_stays_beside_it(shop):
    async with running(shop) as (app, pilot):
        before = app.planner.figures
        await press(app, pilot, "v", "right", "right", "down", "left")
        assert app.planner.settings.people == 1
        assert app.planner.settings.temperature_K == pytest.approx(before.settings.temperature_K + 2)
        assert app.planner.figures.settings == app.planner.settings
        assert ", Shop 20 °C" in words(app, "#stack-batches")


async def test_a_setting_that_cannot_be_is_refused_and_the_last_good_one_stays(shop):
    path = shop / "sessions" / "touring-skis" / "plan.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("value = 0.67", "value = 0.83"), encoding="utf-8")
    async with running(shop) as (app, pilot):
        await press(app, pilot, "up", "up", *["right"] * 4)
        assert app.planner.figures.settings == app.planner.settings
        assert app.planner.settings.fraction == pytest.approx(0.84)
        assert "must be" in said(app) or "ceiling" in said(app)


async def test_a_damaged_plan_is_shown_with_its_line_and_read_again_once_mended(shop):
    path = shop / "sessions" / "touring-skis" / "plan.toml"
    good = path.read_text(encoding="utf-8")
    path.write_text(good.replace("pieces = 2", "pieces = 0"), encoding="utf-8")
    async with running(shop) as (app, pilot):
        assert "plan.toml:4" in words(app, "#stack-title")
        await press(app, pilot, "g")
        assert "not now" in said(app)
        path.write_text(good, encoding="utf-8")
        await press(app, pilot, "r")
        assert app.planner.figures is not None


async def test_a_reading_that_is_no_number_is_refused_in_words_and_one_far_from_the_next_is_asked_about(shop):
    async with running(shop) as (app, pilot):
        await begin_day(app, pilot, *"1.2.3", "enter")
        assert "is not a number of grams" in said(app)
        await settled(app, pilot)
        assert [entry["event"] for entry in journal(shop)].count("pour-read") == 0
        await press(app, pilot, *["backspace"] * 5, *"3000", "enter", "n")
        assert app.day.readings(1).poured_g == ()
        await press(app, pilot, *["backspace"] * 4, *"12", "enter", "y")
        assert app.day.readings(1).poured_g == (12.0,)


def test_every_action_has_a_deed_and_every_key_one_meaning():
    named = {action.name for action in ACTIONS}
    of_a_place = {action.name: action.place for action in ACTIONS if action.place}
    of_stack = {"which_resin", "way_1", "way_2", "way_3"}
    own = set(OWN) | of_stack  # of the Logbook, and of Stack, which do them by themselves
    assert named - {"choose", "change", "page"} == set(DOES) | own
    assert not own & set(DOES)
    assert set(OWN) == {name for name, place in of_a_place.items() if place == "logbook"}
    assert set(of_a_place) - set(OWN) == {"board_form", "dry_run"} | of_stack


async def test_hardener_in_before_any_reading_takes_the_resin_as_planned_and_the_next_reading_as_the_sum(shop):
    async with running(shop) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, "h")
        resin_g = app.day.state.batch(1).plan.resin_g
        readings = app.day.readings(1)
        assert readings.stage == "hardener"
        assert readings.poured_g == (pytest.approx(resin_g, abs=0.5),)
        await press(app, pilot, *f"{readings.next_g:g}", "enter")
        assert "ON RATIO" in said(app)
        assert app.day.state.batch(1).hardener_g == pytest.approx(readings.next_g - readings.poured_g[0])


async def test_a_hasty_yes_begins_nothing_that_it_was_not_asked_and_a_hasty_enter_once_the_answer_is_go(shop):
    async with running(shop) as (app, pilot):
        await pilot.press("g", "y")
        await settled(app, pilot)
        assert isinstance(app.screen, BeginPage)
        assert app.day is None
        await press(app, pilot, "escape")
        for item in app.planner.beginning.items(app.planner.figures):
            app.planner.beginning.tick(item)
        app.planner.beginning.outlook = NightOutlook(night_K=293.15)
        await pilot.press("g", "enter")
        await settled(app, pilot)
        assert app.day is not None


async def test_every_place_is_gone_to_by_its_key_and_says_how_it_is_used(shop):
    async with running(shop) as (app, pilot):
        for key, row in (*PLACES.items(), *PLACES.items()):
            await press(app, pilot, key)
            assert app.place.id == row.name
            await press(app, pilot, "question_mark")
            assert app.screen.details[0] == row.use
            await press(app, pilot, "escape")


async def test_a_place_longer_than_the_screen_is_scrolled_by_pages(shop):
    async with running(shop, size=(80, 16)) as (app, pilot):
        scroll = app.place.query_one("#stack-scroll")
        assert scroll.scroll_y == 0
        await press(app, pilot, "pagedown")
        assert scroll.scroll_y == scroll.max_scroll_y > 0
        await press(app, pilot, "pageup")
        assert scroll.scroll_y == 0


async def test_the_clocks_go_on_while_a_question_stands_over_them(shop):
    clock = ManualClock()
    async with running(shop, clock=clock) as (app, pilot):
        await begin_day(app, pilot, "enter", "h", "enter", "b", "o", "y", "n")
        before = bench(app)
        clock.advance(90)
        app.tick()
        await pilot.resize_terminal(100, 30)
        await settled(app, pilot)
        assert bench(app) != before
        await press(app, pilot, *"thin", "enter")
        assert any(isinstance(record, Note) for record in app.day.state.records)


async def test_an_alarm_says_what_to_do_rings_and_is_quiet_once_seen(shop):
    clock = ManualClock()
    async with running(shop, clock=clock) as (app, pilot):
        rung = []
        app.bell = lambda: rung.append(clock.monotonic_s())
        await begin_day(app, pilot, "enter", "h", "enter", "b")
        clock.advance(app.day.alive[1].over_s.low - app.day.now_s() + 5)
        app.tick()
        assert "LOOK AT CUP 1 NOW" in words(app, "#bench-act")
        assert rung
        await press(app, pilot, "space")
        assert "seen" in said(app)
        for _ in range(5):
            clock.advance(1)
            app.tick()
            assert "cup 1" not in {act.key for act in app.alarm_monitor.board.news}, "what was seen does not ring"
        assert "CUP 1" not in words(app, "#bench-act"), "seen, it waits behind the step"
        assert journal(shop)[-1]["event"] == "alarm-acknowledged"


async def test_a_thermometer_is_followed_into_the_clocks(shop, tmp_path):
    clock = ManualClock()
    file = tmp_path / "shop.txt"
    file.write_text("20.0", encoding="utf-8")
    os.utime(file, (clock.utc().timestamp(),) * 2)
    source = source_of(str(file), clock)
    async with running(shop, clock=clock, thermometer=source) as (app, pilot):
        await begin_day(app, pilot, "enter", "h", "enter", "b")
        app.tick()
        calm_s = app.day.alive[1].over_s.low
        for celsius in ("24.0", "26.0"):
            clock.advance(120)
            file.write_text(celsius, encoding="utf-8")
            os.utime(file, (clock.utc().timestamp(),) * 2)
            app._read_thermometer()
            await settled(app, pilot)
        assert app.day.state.air[-1][1] == pytest.approx(299.15)
        assert app.day.alive[1].over_s.low < calm_s


async def test_a_plan_uses_what_earlier_sessions_taught_or_leaves_it_out_and_a_resumed_day_does_as_it_was_planned(demo):
    clock = ManualClock(datetime(2026, 4, 1, 9, 0, tzinfo=UTC))
    async with running(demo, clock=clock) as (app, pilot):
        lessons, learnt = app.planner.lessons, app.planner.figures
        assert lessons.sessions == 2
        await press(app, pilot, "up")
        assert "Lessons ◂2▸" in words(app, "#stack-shop")
        await press(app, pilot, "right")
        assert app.planner.settings.lessons is False
        assert "Lessons ◂off▸" in words(app, "#stack-shop")
        plain = app.planner.figures
        assert plain.split.closed_s < learnt.split.closed_s
        await press(app, pilot, "left", "down", "right", "right")
        turned = app.planner.settings
        app._learnt(lessons)
        await settled(app, pilot)
        assert app.planner.settings == turned, "lessons that come late leave the dials as they were turned meanwhile"
        assert app.planner.figures.settings == turned
        assert app.planner.figures.lessons_used
        assert set(lessons.words(app.planner.plan)) <= set(app.planner.figures.taught)
        await press(app, pilot, "left", "left")
        await begin_day(app, pilot, "enter", "h", "enter")
        assert app.day.state.start.lessons_used
        assert app.day.calibration.kinetics == learnt.calibration.kinetics
        low_s = app.day.alive[1].over_s.low
        await press(app, pilot, "q", "y")
    async with running(demo, clock=clock) as (app, _):
        assert app.day.alive[1].over_s.low == pytest.approx(low_s)


async def test_a_viewer_opened_first_finds_the_day_once_it_begins(shop):
    clock = ManualClock()
    async with running(shop, clock=clock, watch=True) as (viewer, watching):
        assert viewer.day is None
        async with running(shop, clock=clock) as (app, pilot):
            await begin_day(app, pilot, "enter", "h")
            viewer.look_for_a_day()
            viewer.tick()  # on a slow machine it had found the day already, before the last key
            await settled(viewer, watching)
            assert viewer.day.state.seq == app.day.state.seq
            await press(app, pilot, "enter")
            viewer.tick()
            assert viewer.day.state.seq == app.day.state.seq


async def test_the_keys_of_the_logbook_follow_the_list_as_it_comes(demo):
    async with running(demo) as (app, pilot):
        await press(app, pilot, "l")
        await settled(app, pilot)
        assert words(app, "#keys").startswith("▶ ENTER open"), "the first session is under the bar"


async def test_the_logbook_names_the_cause_of_a_failed_day_searches_and_scrolls_what_is_chosen(demo):
    async with running(demo) as (app, pilot):
        await press(app, pilot, "l")
        await settled(app, pilot)
        assert "LOGBOOK  2 sessions" in words(app, "#log-title")
        assert "lower glass took 19 min, not 9 min: possible" in words(app, "#log-events")
        await pilot.resize_terminal(60, 16)
        await settled(app, pilot)
        scroll, listing = app.query_one("#log-scroll"), app.query_one(OptionList)
        await press(app, pilot, "pagedown")
        assert (scroll.scroll_offset.y > 0, listing.highlighted) == (True, 0)
        await press(app, pilot, "pageup")
        assert (scroll.scroll_offset.y, listing.highlighted) == (0, 0)
        await press(app, pilot, "slash", *"good", "enter")
        await settled(app, pilot)
        assert "1 session with" in words(app, "#log-title")
        assert words(app, "#log-events").startswith("Good")


async def test_a_scale_tared_again_is_read_as_what_was_poured_since(shop):
    path = shop / "sessions" / "touring-skis" / "plan.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("[scale]\n", "[scale]\ntare_each = true\n"), "utf-8")
    async with running(shop) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, "enter")
        assert "TARE AGAIN" in words(app, "#mix-tare")
        await press(app, pilot, "h")
        readings = app.day.readings(1)
        (resin_g,), hardener_g = readings.poured_g, readings.next_g
        assert hardener_g == pytest.approx(0.3 * resin_g, abs=0.5)
        assert "DO NOT TARE" in words(app, "#mix-tare"), "hardener is in: taring now loses it"
        await press(app, pilot, *f"{hardener_g + 10:g}", "enter")
        batch = app.day.state.batch(1)
        assert (batch.resin_g, batch.hardener_g) == (resin_g, hardener_g + 10)
        adding_g = app.day.readings(1).next_g
        assert adding_g == pytest.approx(batch.hardener_g / 0.3 - batch.resin_g, abs=1.0)
        await press(app, pilot, "enter")
        assert app.day.state.batch(1).resin_g == pytest.approx(resin_g + adding_g)
        assert "ON RATIO" in said(app)


async def test_a_batch_is_chosen_by_its_own_number_in_every_question(shop):
    async with running(shop) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, "enter", "h", "enter", "b", "o", "y", "w", "enter", "h", "enter", "b")
        for key in "ex":
            await press(app, pilot, key)
            assert {answer: key for key, answer, _ in app.screen.choices} == {"1": "1", "2": "2"}
            await press(app, pilot, "escape")


async def test_h_takes_the_number_that_is_typed_first(shop):
    async with running(shop) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, *"290", "h")
        batch = app.day.state.batch(1)
        assert batch.mixed_s is not None
        assert app.day.readings(1).poured_g == (290.0,)


async def test_a_lost_batch_that_is_not_planned_anew_is_missed_on_the_bench_and_at_closing(shop):
    async with running(shop) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, "enter", "h", "enter", "b", "x", "2", "enter", "n")
        assert "REPLAN THE REST NOW" in bench(app)
        assert "without resin" in bench(app)
        await press(app, pilot, "c")
        assert "no mix: steps 2" in app.screen.title_text
        await press(app, pilot, "enter")
        assert app.day.state.closed_s is None


async def test_a_part_under_press_is_there_again_after_a_restart_until_its_session_is_ended(shop):
    clock = ManualClock()
    async with running(shop, clock=clock) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, "enter", "h", "enter", "b", "o", "y", "c", "y", "z")
        assert "LEAVE IT CLOSED, it is LIQUID still" in app.screen.title_text
        await press(app, pilot, "enter")
        assert app.day.state.demoulded_s is None
        await press(app, pilot, "s", "g")
        assert "is not ended" in said(app)
    async with running(shop, clock=clock) as (app, pilot):
        assert app.place.id == "cure"
        assert app.day.state.closed_s is not None
        await press(app, pilot, "f")
        assert "clock to demoulding ends too" in app.screen.title_text
        await press(app, pilot, "y")
        assert "SESSION ENDED" in str(app.base.query_one("#top", Static).content)
        await press(app, pilot, "escape", "s")
        assert app.place.id == "stack"
        verdict, _ = app.planner.top_line(width=78)
        assert words(app, "#top") == verdict, "Stack is the next plan's, whose verdict stands on top"
    async with running(shop, clock=clock) as (app, _):
        assert app.day is None


async def test_cans_cooler_than_the_shop_make_a_cup_last_longer_and_are_logged(shop):
    async with running(shop) as (app, pilot):
        warm_s = app.planner.figures.split.batches[0].cup_margin_s
        await press(app, pilot, *["down"] * 4, *["left"] * 4)
        assert app.planner.settings.cans_K == pytest.approx(289.15)
        assert app.planner.figures.split.batches[0].cup_margin_s > warm_s
        await begin_day(app, pilot)
        assert app.day.state.resin[-1][1] == pytest.approx(289.15)


@pytest.mark.skipif(not hasattr(signal, "SIGHUP"), reason="no terminal hangs up there")
async def test_giving_up_on_a_dead_terminal_ends_the_program_whatever_closing_says(shop, monkeypatch):
    ended: list[int] = []
    async with running(shop) as (app, pilot):
        await begin_day(app, pilot)
        with monkeypatch.context() as patched:
            patched.setattr("layup.app.app.os._exit", ended.append)
            patched.setattr(app.day, "close", lambda: (_ for _ in ()).throw(OSError("bad file")))
            with pytest.raises(OSError, match="bad file"):
                app._give_up()
    assert ended == [128 + signal.SIGHUP]
