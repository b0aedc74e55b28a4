"""A note for next time in the app: made after a note, met on the begin page and at its step, ticked off, dropped."""

import re
import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest
from app_driver import begin_day, bench, press, running, said, words
from app_driver import workshop as make_workshop
from gallery import text_in
from simulate.demo_days import SESSIONS
from textual.widgets import OptionList

from layup.app.afterwards import NextTimePage
from layup.app.begin import BeginPage
from layup.app.checklist import ChecklistPage
from layup.app.looking_back import ComparePage, LessonsPage
from layup.files.workshop import Workshop
from layup.review.carried import append_to, carriers, cup_in, open_notes
from layup.review.lessons import NOTHING_LEARNT
from layup.session.clock import ManualClock
from layup.session.day_events import CarriedForward

FAILED = "2026-03-07-touring-skis-168"
LATER = datetime(2026, 11, 1, 9, 0, tzinfo=UTC)


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """A workshop whose failed day carries one note to a step, and one to before the day."""
    root = make_workshop(tmp_path)
    folder = Path(shutil.copytree(SESSIONS / FAILED, root / "sessions" / FAILED))
    notes = (
        CarriedForward(text="From the middle out", step_name="base sheet, edges up"),
        CarriedForward(text="Warm mould"),
    )
    append_to(folder, notes, ManualClock(LATER))
    return root


def is_open(shop: Path) -> set[str]:
    return {note.text for note in open_notes(carriers(Workshop(shop)))}


async def test_a_note_of_the_failed_day_is_met_before_the_day_and_at_its_step_and_enter_does_the_step(shop):
    clock = ManualClock(LATER)
    async with running(shop, clock=clock) as (app, pilot):
        await press(app, pilot, "g")
        assert isinstance(app.screen, BeginPage)
        body = words(app, "#begin-body").splitlines()
        assert body[0] == "FROM LAST TIME"
        assert body[1].startswith("[ ] ")
        assert "[ ] Warm mould (2026-03-07)" in body
        await press(app, pilot, "o", "y", "enter", "enter", "enter", "b")
        clock.advance(240.0)
        app.tick()
        assert app.view.act.words == "BASE SHEET, EDGES UP" or app.view.others[0].words == "BASE SHEET, EDGES UP"
        assert "last time: From the middle out" in bench(app)
        await press(app, pilot, "space")
        assert "From the middle out".casefold() in said(app).casefold()
        assert "last time" not in bench(app)
        assert is_open(shop) == {"From the middle out", "Warm mould"}, "seen is not done"


async def test_what_is_ticked_before_the_day_is_done_once_the_day_begins_and_comes_no_more(shop):
    async with running(shop, clock=ManualClock(LATER)) as (app, pilot):
        await press(app, pilot, "g", "i")
        assert isinstance(app.screen, ChecklistPage)
        assert app.screen.items[0].group == "from last time"
        await press(app, pilot, "space")
        assert is_open(shop) == {"From the middle out", "Warm mould"}, "nothing is written before the day"
        await press(app, pilot, "escape")
        assert words(app, "#begin-body").count("[x]") == 1
        await press(app, pilot, "o", "y")
        assert is_open(shop) == {"Warm mould"}
        await press(app, pilot, "enter", "enter", "enter", "b", "i", "home", "down")
        ticked = app.screen.query_one(OptionList)
        assert app.screen.items[0].key in app.day.state.ticks
        ticked.highlighted = ticked.get_option_index(app.screen.items[0].key)
        await press(app, pilot, "space")
        assert is_open(shop) == {"From the middle out", "Warm mould"}, "a tick taken away opens it again"


async def test_a_note_is_dropped_from_the_list_before_the_day_and_stands_so_at_once(shop):
    async with running(shop, clock=ManualClock(LATER)) as (app, pilot):
        await press(app, pilot, "g", "i", "x")
        assert words(app, "#checklist-said") == "dropped: From the middle out"
        assert is_open(shop) == {"Warm mould"}
        await press(app, pilot, "escape")
        assert "From the middle out" not in words(app, "#begin-body")


async def test_a_note_written_at_the_bench_comes_back_if_its_question_is_answered_so(shop):
    clock = ManualClock(LATER)
    async with running(shop, clock=clock) as (app, pilot):
        await begin_day(app, pilot, "enter", "enter", "enter", "b")
        await press(app, pilot, "n", *"tip", "enter", "s")
        assert app.day.state.carried[0].step == "Base sheet, edges up"
        await press(app, pilot, "n", *"tail", "enter", "escape")
        assert [note.text for note in app.day.state.notes] == ["tip", "tail"]
        assert [note.text for note in app.day.state.carried] == ["tip"]


async def test_on_logbook_lessons_are_eight_lines_and_a_finding_is_carried_with_one_key_and_left_with_the_same(shop):
    async with running(shop, clock=ManualClock(LATER)) as (app, pilot):
        await press(app, pilot, "l", "v")
        assert isinstance(app.screen, LessonsPage)
        short = words(app, "#lessons-body")
        assert "2 at the bench" in short
        assert "slow step: 1 of 1 day" in short
        assert "over the plan's minutes" not in short
        await press(app, pilot, "d")
        assert words(app, "#lessons-body").startswith(short), "the spread is behind a key"
        assert "over the plan's minutes" in words(app, "#lessons-body")
        await press(app, pilot, "d", "escape")
        assert app.place.id == "logbook"
        await press(app, pilot, "a")
        assert isinstance(app.screen, NextTimePage)
        lines = page_lines(app)
        assert "Empty a cup of 372 g within 28 min" in lines[0]
        assert "Lower glass: Lay out dry" in lines[1]
        assert lines[0].startswith("▸   ")
        assert sum("→" in line for line in lines) == 2
        await press(app, pilot, "enter")
        assert "▸ →" in page_lines(app)[0]
        assert len(is_open(shop)) == 3
        assert len(app.planner.notes) == 3, "the next plan knows at once"
        await press(app, pilot, "space")
        assert is_open(shop) == {"From the middle out", "Warm mould"}
        await press(app, pilot, "w", *"wipe", "enter")
        assert "wipe" in is_open(shop)
        await press(app, pilot, "s")
        assert (app.screen is app.base, app.place.id) == (True, "stack"), "a key that stands below it works"
        await press(app, pilot, "l", "a", "g")
        assert isinstance(app.screen, BeginPage)


async def test_on_logbook_a_note_of_another_day_is_ticked_off_where_no_session_runs(shop):
    good = "2026-02-21-touring-skis-168"
    shutil.copytree(SESSIONS / good, shop / "sessions" / good)
    async with running(shop, clock=ManualClock(LATER)) as (app, pilot):
        await press(app, pilot, "l", "down", "a")
        assert isinstance(app.screen, NextTimePage)
        assert app.screen.session_name == good
        place = next(at for at, row in enumerate(app.screen.rows) if row.event is None)
        assert "[ ] Base sheet, edges up: From the middle out".casefold() in page_lines(app)[place].casefold()
        listing = app.screen.query_one(OptionList)
        listing.highlighted = listing.get_option_index(str(place))
        await press(app, pilot, "enter")
        assert words(app, "#checklist-said") == "done: From the middle out"
        assert is_open(shop) == {"Warm mould"}
        await press(app, pilot, "x")
        assert is_open(shop) == set()


async def test_who_looks_on_carries_nothing(shop):
    async with running(shop, clock=ManualClock(LATER), watch=True) as (app, pilot):
        await press(app, pilot, "l", "a", "enter")
        assert words(app, "#checklist-said") == "not now: looking on only"
        assert len(is_open(shop)) == 2


def page_lines(app) -> list[str]:
    """Return the lines of the page of notes, each as it is drawn, without its headings."""
    listing = app.screen.query_one(OptionList)
    return [str(listing.get_option(str(number)).prompt) for number in range(len(app.screen.rows))]


async def test_two_days_that_are_marked_stand_over_each_other_at_first_contact_then_at_the_closing(shop):
    good = "2026-02-21-touring-skis-168"
    shutil.copytree(SESSIONS / good, shop / "sessions" / good)
    async with running(shop, clock=ManualClock(LATER)) as (app, pilot):
        await press(app, pilot, "l", "c")
        assert f"A is {FAILED}" in said(app)
        await press(app, pilot, "c")
        assert said(app) == "no day is marked"
        await press(app, pilot, "c", "down", "c")
        assert isinstance(app.screen, ComparePage)
        assert app.screen.names == (FAILED, good), "the day marked first is A"
        body = words(app, "#compare-body")
        assert body.startswith("A Dry spot, void,"), "what came of both stands first"
        assert "\nB Good: nothing stands out." in body
        assert "First to differ: people planned: 2 / 3" in body
        assert "+ B had more to spare then, - less" in body
        assert "0 first contact" in body
        await press(app, pilot, "a")
        assert "0 press closed" in words(app, "#compare-body")
        await press(app, pilot, "escape")
        assert app.place.id == "logbook"
        await press(app, pilot, "c")
        assert "A is" in said(app)
        await press(app, pilot, "s")
        assert said(app) == "", "a mark is not told of elsewhere"


async def test_the_cups_that_would_have_saved_the_day_are_carried_from_its_page_and_turn_the_dial(shop):
    async with running(shop, clock=ManualClock(LATER)) as (app, pilot):
        planned_g = app.planner.settings.cup_g
        await press(app, pilot, "l", "x")
        saves = re.search(r"Enter: cups ≤ (\d+) g, tared twice, \+40 g mix, next time", app.screen.body.plain)
        assert saves is not None
        await press(app, pilot, "enter")
        assert isinstance(app.screen, NextTimePage)
        assert app.screen._here().words.startswith(f"Cups ≤ {saves[1]} g"), "the bar is where Enter led"
        await press(app, pilot, "enter")
        assert f"Stack: cups of {saves[1]} g" in words(app, "#checklist-said")
        assert app.planner.figures.plan.largest_cup_g == float(saves[1]) < planned_g
        await press(app, pilot, "enter")
        assert app.planner.settings.cup_g == planned_g, "dropped, it is as the plan has it"
        await press(app, pilot, "enter", "escape", "s")
        assert f"{saves[1]} g *" in " ".join(text_in(app, app.screen.region).split())


async def test_a_dial_that_a_note_turned_is_planned_with_where_sessions_teach_nothing_and_comes_back_with_x(
    shop, monkeypatch
):
    monkeypatch.setattr("layup.review.lessons.workshop_lessons", lambda *_, **__: NOTHING_LEARNT)
    async with running(shop, clock=ManualClock(LATER)) as (app, pilot):
        planned_g = app.planner.settings.cup_g
        await press(app, pilot, "l", "x", "enter", "enter")
        assert app.planner.settings.cup_g < planned_g
        assert app.planner.figures.plan.largest_cup_g == app.planner.settings.cup_g
        await press(app, pilot, "x")
        assert f"Stack: cups of {planned_g:.0f} g" in words(app, "#checklist-said")
        assert app.planner.figures.plan.largest_cup_g == app.planner.settings.cup_g == planned_g
        await press(app, pilot, "enter", "escape", "s", "g", "i")  # carried again, and dropped before the day
        (cups,) = [item for item in app.screen.items if item.short.startswith("Cups")]
        assert app.planner.settings.cup_g < planned_g
        listing = app.screen.query_one(OptionList)
        listing.highlighted = listing.get_option_index(cups.key)
        await press(app, pilot, "x")
        assert f"Stack: cups of {planned_g:.0f} g" in words(app, "#checklist-said")
        assert app.planner.settings.cup_g == planned_g


@pytest.mark.parametrize(
    ("text", "cup_g"),
    [
        ("Cups ≤ 199 g, tared twice", 199.0),
        ("Mix no more than 268 g in a cup", 268.0),
        ("Empty a cup of 372 g within 28 min of first contact", None),
        ("Cups ≤ 199 g, tared twice, +40 g mix", 199.0),
        ("cups ≤ 12 min", None),
    ],
)
def test_only_a_note_that_names_the_most_in_a_cup_turns_a_dial(text, cup_g):
    assert cup_in(text) == cup_g
