"""Keys, bar, help and taps: what works here and now is offered, and nothing ends a day by accident."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from app_driver import begin_day, press, running, said, settled, workshop
from gallery import text_in
from textual.events import Key
from textual.pilot import Pilot
from textual.widgets import Input

from layup.app.actions import DOES
from layup.app.app import LayupApp
from layup.app.help import help_lines
from layup.app.keys import ACTIONS, GROUPS, ON_THE_BAR, PLACE_OF, PLACES, bar, shown_key, works
from layup.app.place import Place
from layup.app.prompts import Ask, Choose
from layup.app.shell import KeyBar
from layup.session.clock import ManualClock
from layup.session.day_events import AlarmAcknowledged

ROWS = ("qwertyuiop", "asdfghjkl", "zxcvbnm")
"""The letters of a keyboard (ISO/IEC 9995-2; QWERTY), each row half a key or so to the right of the one above."""
OFTEN = "uteo"
"""The letters on the bar of a running day; Enter and Space lie apart."""
DANGEROUS = ("leave", "lost", "press_closed", "demoulded", "plan_anew")
"""What ends a day or a batch, or changes what is left of it."""
ALWAYS = ("leave", "help", "look", "sound", "search", "read_again", "variant", "before_you_start", "accept")
"""Deeds that log nothing and are refused nowhere, or only say that there is nothing to take."""
SIZES = ((40, 16), (80, 24))


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    return workshop(tmp_path)


def neighbours(letter: str) -> set[str]:
    """Return the letters that a thick finger may hit beside one."""
    at = {one: (row, place) for row, letters in enumerate(ROWS) for place, one in enumerate(letters)}
    row, place = at[letter]
    near = {(row, place - 1), (row, place + 1), (row - 1, place), (row - 1, place + 1), (row + 1, place - 1)}
    return {one for one, where in at.items() if where in near | {(row + 1, place)}}


def test_no_key_that_ends_or_changes_the_day_lies_beside_one_that_is_pressed_often():
    assert neighbours("g") == set("tyfhvb")
    key_of = {action.name: action.key for action in ACTIONS}
    for name in DANGEROUS:
        assert not neighbours(key_of[name]) & set(OFTEN), name
    for row in PLACES.values():
        assert not set(row.bar) & {"lost", "press_closed", "demoulded", "plan_anew"}


def test_every_key_has_one_meaning_and_a_short_word_under_a_heading_of_the_help():
    for place in ("", "logbook"):  # a key may mean something else in one place, and one thing there
        keys = [key for action in ACTIONS if action.place == place for key in action.key.split(",")] + list(PLACES)
        assert len(keys) == len(set(keys))
    assert {action.group for action in ACTIONS} == set(GROUPS)
    assert all(len(action.help.split()) <= 6 for action in ACTIONS)
    assert {name for row in PLACES.values() for name in row.bar} <= {action.name for action in ACTIONS}


def on_bar(app: LayupApp) -> list[str]:
    """Return the names on the bar, which has room for six, the help last."""
    names = [action.name for action in app.base.query_one(KeyBar).actions()]
    assert len(names) <= ON_THE_BAR
    assert names[-1] == "help"
    return names


async def tried(app: LayupApp, pilot: Pilot[None], where: str) -> None:
    """Try the deeds: none on the bar is refused, and what is not offered asks nothing, logs nothing and says why."""
    able, shown, place = works(app), on_bar(app), app.place.id
    assert set(shown) <= able, where
    for name, deed in DOES.items():
        if name in ALWAYS or (name in able and name not in shown) or (name in ("begin", "undo") and name in able):
            continue
        app.say("")
        seq = app.day.state.seq if app.day else 0
        deed(app)
        assert said(app).startswith("not now") is (name not in able), f"{where}: {name} says {said(app)!r}"
        if name == "casting_day" and name in able:
            deed(app)  # back to the press day
        if len(app.screen_stack) > 1:
            assert name in able, f"{where}: {name} asks"
            await settled(app, pilot)
            app.screen.dismiss(None)
            await pilot.pause()
        if app.day is not None and app.day.state.seq != seq:
            assert app.day.undo().done, f"{where}: {name}"
        if app.place.id != place:
            app.action_go(place)


async def test_the_next_key_works_in_a_place_as_soon_as_it_is_gone_to_and_what_is_not_gone_to_is_not_made(shop):
    async with running(shop, clock=ManualClock()) as (app, pilot):
        assert {place.id for place in app.query(Place)} == {"stack"}
        await begin_day(app, pilot)
        assert {place.id for place in app.query(Place)} == {"stack", "mix"}
        for name in PLACE_OF:  # with nothing awaited in between, as keys that are typed at once
            app.action_go(name)
            assert app.place.id == name
            app.place.show()
            app.place.arrow(0, 1)
            app.place.arrow(0, -1)
            app.place.page(1)
            app.place.tick()
            app.action_do("sound")
        app.action_go("bench")
        seq = app.day.state.seq
        app.action_go("mix")
        app.place.take(f"{app.day.readings(1).next_g:g}")
        assert app.day.state.seq == seq + 1
        await press(app, pilot, "p", "l")
        assert [place.id for place in app.query(Place) if place.display] == ["logbook"]


async def test_a_place_whose_key_is_typed_while_the_workshop_is_read_is_gone_to_once_it_is(shop):
    app = LayupApp(shop, clock=ManualClock())
    async with app.run_test() as pilot:
        assert not app.ready
        await pilot.press("b", "d", "l", "m")
        await settled(app, pilot)
        assert app.here == "mix"


async def test_what_is_typed_behind_the_key_that_leaves_does_nothing(shop):
    async with running(shop, clock=ManualClock()) as (app, pilot):
        await begin_day(app, pilot)
        app.exit()
        for name in PLACE_OF:
            app.action_go(name)
        for name in DOES:
            app.action_do(name)
        assert app.here == "mix"
        assert len(app.screen_stack) == 1
    app = LayupApp(shop, clock=ManualClock())
    async with app.run_test():
        app.exit()  # before the workshop is read


async def test_at_every_stage_of_the_day_the_bar_offers_what_works_and_nothing_else_does(shop):
    clock = ManualClock()
    async with running(shop, clock=clock, size=(120, 36)) as (app, pilot):
        await tried(app, pilot, "before the day")
        assert on_bar(app)[0] == "accept"
        await begin_day(app, pilot)
        await tried(app, pilot, "at the scale, nothing weighed")
        assert on_bar(app)[:2] == ["accept", "choose"]
        await press(app, pilot, "b")
        await tried(app, pilot, "nothing mixed")
        assert not {"poured_out", "observe", "lost"} & works(app)
        await press(app, pilot, "m", "enter", "h")
        assert "hardener_in" not in works(app)
        await press(app, pilot, "enter", "b")
        await tried(app, pilot, "a cup in use")
        assert {"poured_out", "observe", "temperature", "undo"} < set(on_bar(app))
        assert "finish" not in on_bar(app), "what ends a day stands on the bar only once the press is closed"
        for _ in range(2):
            await press(app, pilot, "w", "enter", "h", "enter", "b")
        await tried(app, pilot, "every batch mixed")
        assert not {"weigh", "hardener_in"} & works(app)
        await press(app, pilot, "o", "1", "y", "c", "y")
        await tried(app, pilot, "closed")
        assert "finish" in on_bar(app), "what ends a day is not hidden"
        assert not {"press_closed", "plan_anew", "step_done", "poured_out", "lost", "hardener_in"} & works(app)
        await press(app, pilot, "z", "y")
        await tried(app, pilot, "out of the mould")
        assert "demoulded" not in works(app)
        await press(app, pilot, "f", "y", "escape")
        await tried(app, pilot, "ended")
        assert "begin" in works(app)


async def test_quit_asks_on_a_running_day_and_enter_stays(shop):
    async with running(shop) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, "q")
        assert "Leave it?" in app.screen.title_text
        await press(app, pilot, "enter")
        assert app.is_running
        assert app.screen is app.base
        await press(app, pilot, "q", "f", "y")
        assert app.day.state.ended_s is not None, "a day that is given up is ended there"
        await press(app, pilot, "q")
        assert not app.is_running


async def test_a_letter_works_with_caps_lock_on(shop):
    async with running(shop) as (app, pilot):
        await press(app, pilot, "G", "o", "y", "enter", "H", "enter", "B")
        assert app.day.state.batch(1).mixed_s is not None
        assert app.place.id == "bench"
        await press(app, pilot, "T", "A")
        assert "air" in app.screen.title_text


@pytest.mark.parametrize("size", SIZES)
async def test_a_tap_on_a_key_a_place_or_an_answer_is_that_key(shop, size):
    async with running(shop, size=size) as (app, pilot):
        await begin_day(app, pilot)
        await tap(app, pilot, "#keys", "ENTER")
        assert app.day.readings(1).stage == "hardener", "a tap on Enter takes the reading"
        await press(app, pilot, "h", "enter")
        await tap(app, pilot, "#keys", "B")
        assert app.place.id == "bench"
        await tap(app, pilot, "#keys", "looks")
        assert isinstance(app.screen, Choose)
        await tap(app, pilot, "#choices", "runny")
        assert app.day.state.batch(1).observations[-1][1] == "runny"
        await tap(app, pilot, "#keys", "°C")
        await tap(app, pilot, "#choices", "air")
        assert app.screen.query_one(Input)


async def tap(app: LayupApp, pilot: Pilot[None], where: str, words: str) -> None:
    """Tap on words of a widget."""
    region = app.screen.query_one(where).region
    lines = text_in(app, region).split("\n")
    row = next(row for row, line in reversed(list(enumerate(lines))) if words in line)
    await pilot.click(offset=(region.x + lines[row].index(words), region.y + row))
    await press(app, pilot)


def abilities() -> Iterator[frozenset[str]]:
    """Yield what may work at once, from nothing to everything."""
    names = [action.name for action in ACTIONS]
    yield from (frozenset(names[:count]) for count in (0, 5, len(names)))


def test_the_help_lists_what_works_and_nothing_else_in_lines_that_fit():
    for able in abilities():
        for width in (34, 70, 90):
            lines = help_lines(able, width)
            assert max(map(len, lines)) <= width
        for action in ACTIONS:  # at the last width no words break
            told = [line for line in lines if f"{shown_key(action)} " in line and action.help in line]
            assert bool(told) is (action.name in able), action


async def test_the_keys_of_a_running_day_are_one_page_above_its_log_and_an_answer_given_twice_is_taken_once(shop):
    async with running(shop) as (app, pilot):
        await begin_day(app, pilot, "enter", "h", "enter", "b", "question_mark")
        brief = text_in(app, app.screen.region)
        assert "X  lost" in " ".join(brief.split("┃"))
        assert "First: SDS" not in brief
        await press(app, pilot, "question_mark")
        text = text_in(app, app.screen.region)
        assert "batch lost, replan" in text, "all of it is one key further"
        assert "First: SDS" in text, "the last line of the keys is in view"
        await press(app, pilot, "end")
        assert "batch 1 hardener in" in text_in(app, app.screen.region), "the log is below them"
        assert "part out" not in text, "nothing is in the mould yet"
        while app.screen is not app.base:
            await press(app, pilot, "escape")
        for key in ("q", "t", "plus", "question_mark"):
            app.simulate_key(key)
            await settled(app, pilot)
            assert len(app.screen_stack) > 1, key
            screen = app.screen
            screen.dismiss(None)
            screen.dismiss(None)
            await settled(app, pilot)
            assert len(app.screen_stack) == 1, key
        assert app.is_running


def test_the_bar_shows_six_at_most_and_the_help_always():
    for place in (*PLACE_OF, "elsewhere"):
        for able in abilities():
            names = [action.name for action in bar(place, able)]
            assert len(names) <= ON_THE_BAR
            assert names[-1] == "help"
    assert shown_key(ACTIONS[0]) == "Enter"


async def type_at_once(app, pilot, *keys: str) -> None:
    """Type keys so fast that all are there before the first was answered."""
    for key in keys:
        app.post_message(Key(key, key))
    await pilot.pause()


async def test_keys_typed_quickly_are_lost_between_no_two_questions_and_digits_alone_read_the_air(tmp_path):
    async with running(workshop(tmp_path)) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, "b")
        for keys, title, place in (("tm12", "Temperature: mould", "mould"), ("t12", "Temperature: air", "air")):
            await type_at_once(app, pilot, *keys)
            assert isinstance(app.screen, Ask)
            assert (app.screen.title_text, app.screen.query_one(Input).value) == (title, "12")
            await press(app, pilot, "enter", "y")
            assert app.day.state.history(place)[-1][1] == pytest.approx(285.15)


async def test_a_digit_where_it_is_asked_what_to_log_begins_the_reading_of_the_air(tmp_path):
    async with running(workshop(tmp_path)) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, "t", "1", "3", "enter", "y")
        assert app.day.state.air[-1][1] == pytest.approx(286.15)


async def test_a_yes_where_nothing_is_asked_is_told_so_and_what_was_seen_is_told_without_its_rank(tmp_path):
    async with running(workshop(tmp_path)) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, "b", "y")
        assert said(app) == "not now: nothing is asked - on Stack (s) y chooses a plan"
    assert AlarmAcknowledged(alarm="shop", rank="soon").describe() == "seen: shop"
