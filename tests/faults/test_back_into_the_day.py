"""After a kill the running day is back on the Bench, whatever its figures, its files or its neighbours are like."""

from __future__ import annotations

import asyncio
import json
import os
import shutil
import threading
from contextlib import closing
from pathlib import Path

import pytest
from app_driver import bench, press, running, said, settled, words, workshop
from simulate.shop import begun, mix_first_batch
from textual.widgets import Static

from layup.app.app import LayupApp
from layup.app.mix import MixPlace
from layup.app.prompts import Choose, Page
from layup.bench.opening import open_day
from layup.bench.planner import Planner
from layup.files.durable import JOURNAL, PLAN, RESIN_COPY
from layup.session.archive import running_days, what_can_be_read
from layup.session.clock import ManualClock
from layup.session.day_events import SessionEnded, TemperatureRead
from layup.session.folder import LOCK_NAME
from layup.session.journal import Journal
from layup.session.state import Event


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    return workshop(tmp_path)


@pytest.fixture
def clock() -> ManualClock:
    return ManualClock()


@pytest.fixture
def folder(shop: Path, clock: ManualClock) -> Path:
    """Begin a day, with a batch in its cup, and leave it."""
    day = begun(shop, clock)
    mix_first_batch(day)
    day.close()
    return day.folder


def logged(folder: Path, clock: ManualClock, event: Event) -> None:
    """Log an event with another program, a minute later."""
    clock.advance(60.0)
    with Journal.open(folder, clock) as journal:
        journal.append(event)


def on_the_bench(app: LayupApp, folder: Path) -> bool:
    return app.place.id == "bench" and app.day is not None and app.day.folder == folder and not app.day.watching


def shown(app: LayupApp) -> str:
    """Return every word of the place on the screen."""
    return "\n".join(str(line.content) for line in app.place.query(Static))


# -- figures -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("celsius", [-45, -15, 75])
async def test_a_day_in_a_shop_beyond_the_model_opens_on_the_bench_and_says_what_is_not_known(
    shop, clock, folder, celsius
):
    logged(folder, clock, TemperatureRead(place="air", temperature_K=celsius + 273.15))
    clock.advance(600.0)
    async with running(shop, clock=clock) as (app, pilot):
        assert on_the_bench(app, folder)
        await press(app, pilot, "m", "b", "o", "b")
        beyond = celsius < -20
        assert ("not known: " in shown(app)) == beyond
        assert words(app, "#top").startswith("PRESS BY not known: close as soon as you can") == beyond
        assert app.day.state.batch(1).status == "on the part"
        assert app.day.window_K[0] is not None, "the window is that of the plan, whatever the shop is"
        await press(app, pilot, "a")
        assert "range" in said(app) or "cannot be planned with" in said(app)
        await press(app, pilot, "c")
        if len(app.screen_stack) > 1:
            await press(app, pilot, "y")
        await press(app, pilot, "p")
        assert app.day.state.closed_s is not None
        assert "LEAVE IT CLOSED" in words(app, "#cure-title")
        await settled(app, pilot)
        assert "working out" not in words(app, "#cure-out")
        await press(app, pilot, "z", "escape", "u")
        assert app.day.state.closed_s is None


async def test_the_clock_of_a_cup_beyond_the_model_counts_its_age(shop, clock, folder):
    logged(folder, clock, TemperatureRead(place="air", temperature_K=228.15))
    clock.advance(600.0)
    async with running(shop, clock=clock) as (app, pilot):
        app.tick()
        await settled(app, pilot)
        assert "▲ LIFE NOT KNOWN" in shown(app)
        assert "LOOK AT BATCH 1" in words(app, "#bench-act")
        assert "how long it lasts is not known" in bench(app)
        app.at(MixPlace).number = 1
        await press(app, pilot, "m")
        assert "how long it lasts is not known" in words(app, "#mix-clock")


async def test_who_leaves_while_the_day_is_still_opened_leaves_no_lock_behind(shop, clock, folder, monkeypatch):
    opening = threading.Event()

    def open_slowly(*given, **options):
        opening.set()
        while not app.left:
            os.sched_yield()
        return open_day(*given, **options)

    monkeypatch.setattr("layup.bench.opening.open_day", open_slowly)
    app = LayupApp(shop, clock=clock)
    async with app.run_test() as pilot:
        while not opening.is_set():
            await pilot.pause()
    await asyncio.get_running_loop().shutdown_default_executor()  # the one that opens the day has done
    assert app.day is not None
    assert not (folder / LOCK_NAME).exists()


# -- copies ------------------------------------------------------------------------------------------------------------


def spoil(path: Path, how: str) -> None:
    path.unlink()
    if how == "garbled":
        path.write_bytes(b"\xff\x00 = [")
    elif how == "empty":
        path.touch()
    elif how == "a folder":
        path.mkdir()


@pytest.mark.parametrize("name", [PLAN, RESIN_COPY])
@pytest.mark.parametrize("how", ["missing", "garbled", "empty", "a folder"])
def test_a_day_without_its_copy_goes_by_the_file_that_it_came_from(shop, clock, folder, name, how):
    spoil(folder / name, how)
    clock.advance(60.0)
    with closing(open_day(Planner(shop), None, clock).day) as day:
        assert day.folder == folder
        assert not day.watching
        assert day.greeting.startswith(f"▲ {name} cannot be read: ")
        assert day.unknown == {}
        assert day.alive[1].over_s.low > 600.0


@pytest.mark.parametrize("name", [PLAN, RESIN_COPY])
async def test_a_day_without_its_copy_is_on_the_bench_and_says_so(shop, clock, folder, name):
    spoil(folder / name, "garbled")
    clock.advance(60.0)
    async with running(shop, clock=clock) as (app, pilot):
        assert on_the_bench(app, folder)
        assert said(app).startswith(f"▲ {name} cannot be read: ")
        await press(app, pilot, "o", "y")
        assert words(app, "#top").startswith("PRESS BY ")


async def test_a_day_of_which_neither_copy_nor_origin_is_left_keeps_its_steps_and_ages(shop, clock, folder):
    for path in (folder / PLAN, folder / RESIN_COPY):
        path.unlink()
    origin = json.loads((folder / JOURNAL).read_text().splitlines()[0])
    shutil.rmtree(shop / "sessions" / origin["plan"])
    (shop / "resins" / f"{origin['resin']}.toml").unlink()
    clock.advance(600.0)
    async with running(shop, clock=clock) as (app, pilot):
        assert on_the_bench(app, folder)
        assert PLAN in said(app)
        assert RESIN_COPY in said(app)
        assert "LIFE NOT KNOWN" in shown(app)
        first = app.day.state.step_now.number
        await press(app, pilot, "o", "y", "d", "m")
        assert app.day.state.step_now.number > first
        assert "not known" in words(app, "#mix-facts")
        second = app.day.state.batch(2).plan
        app.at(MixPlace).number = 2
        assert app.day.readings(2).next_g == pytest.approx(second.resin_g, abs=0.51)
        await press(app, pilot, "p")
        assert "not known" in words(app, "#cure-body")
        await press(app, pilot, "a")
        assert "plan.toml" in said(app)
        await press(app, pilot, "c", "y")
        assert app.day.state.closed_s is not None
        assert "not known" in words(app, "#cure-out")
        await press(app, pilot, "z")
        assert "How far it has cured is not known" in app.screen.title_text


# -- which day ---------------------------------------------------------------------------------------------------------


async def test_a_running_day_is_found_behind_later_names_that_ended(shop, clock, folder):
    async with running(shop, clock=clock, plan="touring-skis") as (app, _):
        assert on_the_bench(app, folder)
    for name in (f"{folder.name}-10", f"{folder.name}-zzz", "9999-12-31-later"):
        other = folder.with_name(name)
        shutil.copytree(folder, other)
        logged(other, clock, SessionEnded())
    async with running(shop, clock=clock) as (app, _):
        assert on_the_bench(app, folder)


async def test_of_several_running_days_it_is_asked_which(shop, clock, folder):
    second = folder.with_name(f"{folder.name}-10")
    shutil.copytree(folder, second)
    async with running(shop, clock=clock) as (app, pilot):
        assert isinstance(app.screen, Choose)
        assert "2 sessions were not ended" in app.screen.title_text
        listed = [answer_words for _, _, answer_words in app.screen.choices]
        at = next(number for number, line in enumerate(listed, 1) if line.startswith(f"{second.name}:"))
        assert "1 of " in listed[at - 1]
        await press(app, pilot, str(at))
        assert on_the_bench(app, second)
    async with running(shop, clock=clock) as (app, pilot):
        await press(app, pilot, "s")
        assert app.day is None
        assert app.place.id == "stack"
    async with running(shop, clock=clock, session=folder) as (app, _):
        assert on_the_bench(app, folder)


def damaged(folder: Path, how: str) -> None:
    path = folder / JOURNAL
    data = path.read_bytes()
    if how == "empty":
        path.write_bytes(b"")
    elif how == "a byte of line 1":
        path.write_bytes(b"[" + data[1:])
    elif how == "zeros":
        path.write_bytes(bytes(len(data)))
    elif how == "a folder":
        path.unlink()
        path.mkdir()
    elif how == "a pipe":
        path.unlink()
        os.mkfifo(path)


HOW = ["empty", "a byte of line 1", "zeros", "a folder", "a pipe"]


@pytest.mark.parametrize("how", HOW)
def test_of_a_day_that_cannot_be_opened_it_is_told_why_and_what_can_be_read(shop, clock, folder, how):
    damaged(folder, how)
    opened = open_day(Planner(shop), None, clock)
    assert opened.day is None
    (day,) = opened.others
    assert f"▲ {folder.name}: cannot be opened" in day.words
    told = "\n".join(what_can_be_read(day))
    assert "entries can be read" in told
    assert ("nothing in it can be read" in told) == (how in ("empty", "zeros"))


@pytest.mark.parametrize("how", HOW[:2])
@pytest.mark.parametrize("by_name", [False, True])
async def test_a_day_that_cannot_be_opened_is_named_with_why_and_what_can_be_read(shop, clock, folder, how, by_name):
    damaged(folder, how)
    async with running(shop, clock=clock, session=folder if by_name else None) as (app, pilot):
        if not by_name:
            assert isinstance(app.screen, Choose)
            assert f"▲ {folder.name}: cannot be opened" in app.screen.choices[0][2]
            await press(app, pilot, "1")
        assert isinstance(app.screen, Page)
        assert app.screen.title_text == f"{folder.name} cannot be opened"
        body = app.screen.body.plain
        assert "entries can be read" in body
        assert ("nothing in it can be read" in body) == (how == "empty")
        if how == "a byte of line 1":
            assert f"{JOURNAL}:1: the line cannot be read" in body
            assert "batch 1" in body, "the good lines behind it are told"
        await press(app, pilot, "escape")
        assert app.day is None
        assert folder.name in said(app)


@pytest.mark.parametrize("how", HOW[:2])
async def test_a_damaged_day_beside_the_running_one_is_named_and_keeps_nobody_from_it(shop, clock, folder, how):
    other = folder.with_name(f"{folder.name}-10")
    shutil.copytree(folder, other)
    damaged(other, how)
    async with running(shop, clock=clock) as (app, _):
        assert on_the_bench(app, folder)
        assert f"▲ {other.name}: cannot be opened" in said(app)


async def test_an_end_that_was_taken_back_runs_again_and_the_running_ones_come_first(shop, clock, folder):
    async with running(shop, clock=clock) as (app, pilot):
        await press(app, pilot, "c", "y", "f", "y", "d", "u")
    async with running(shop, clock=clock) as (app, _):
        assert app.day.folder == folder
        (day,) = running_days(app.planner.workshop)
        assert day.words.endswith("press closed")
