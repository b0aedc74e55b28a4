"""Before the first batch, in the app: go, wait or no, and the list before you start."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from app_driver import at_each, begin_day, press, running, said, settled, words
from app_driver import workshop as make_workshop
from gallery import text_in
from textual.widgets import OptionList, Static

from layup.app.begin import BeginPage
from layup.app.checklist import ChecklistPage
from layup.files.durable import JOURNAL
from layup.planning.night import NightOutlook
from layup.session.clock import ManualClock


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    return make_workshop(tmp_path)


def journal(shop: Path) -> list[dict[str, object]]:
    return [
        json.loads(line)
        for path in shop.glob(f"sessions/*/{JOURNAL}")
        for line in path.read_text(encoding="utf-8").splitlines()
    ]


async def shop_at(app, pilot, celsius: float) -> None:
    """Have the dials of Stack at another temperature."""
    assert app.planner.change(replace(app.planner.settings, temperature_K=celsius + 273.15)) == ""
    app.redraw()
    await press(app, pilot)


async def test_a_shop_of_nine_degrees_is_stopped_with_a_heating_that_passes_and_beginning_anyway_asks_why(shop):
    async with running(shop) as (app, pilot):
        await shop_at(app, pilot, 9)
        await press(app, pilot, "g")
        body = " ".join(words(app, "#begin-body").split())
        assert "■ NO Below 15 °C this resin does not cure as its maker states" in body
        assert "HEAT Before the first batch: shop, mould, core and cans at 20 °C" in body
        assert "HEAT After closing: mould" in body
        assert words(app, "#begin-word").count("█") > 20
        await press(app, pilot, "y")
        assert isinstance(app.screen, BeginPage), "y does not begin"
        assert "begin anyway" not in words(app, "#begin-keys"), "O asks why, and is no key among others"
        await press(app, pilot, "n")
        assert app.day is None
        assert journal(shop) == []
        await press(app, pilot, "escape", "g", "o", "enter")
        assert app.day is None, "no reason was given"
        await press(app, pilot, *"test", "enter")
        assert app.day is not None
        (note,) = [entry for entry in journal(shop) if entry["event"] == "note"]
        assert note["text"].startswith("begun against the answer NO: test - against: Below 12 °C")


async def test_the_same_plan_at_twenty_one_degrees_begins_with_one_key_more(shop):
    cans = [(name, 'resin = "slow-laminating"\nlot = "1"\nmass = "5 kg"\n') for name in ("resin", "hardener")]
    text = "".join(f'[[can]]\ncomponent = "{name}"\n{rest}' for name, rest in cans)
    (shop / "stock.toml").write_text(text, encoding="utf-8")
    async with running(shop) as (app, pilot):
        await shop_at(app, pilot, 21)
        await press(app, pilot, "g")
        assert "● GO Enough in stock: 5000 g resin, 5000 g hardener" in " ".join(words(app, "#begin-body").split())
        assert "NO" not in words(app, "#begin-body")
        await press(app, pilot, "o", "y")
        assert app.day is not None
        assert "note" not in [entry["event"] for entry in journal(shop)]


async def test_only_a_key_that_is_shown_begins_over_a_wait_and_numbers_typed_there_change_the_answer(shop):
    async with running(shop) as (app, pilot):
        await press(app, pilot, "g")
        assert words(app, "#begin-next") == "▶ ENTER checklist   25 left"
        assert words(app, "#begin-keys").startswith("O begin anyway   I list")
        await press(app, pilot, "y")
        assert (isinstance(app.screen, BeginPage), app.day) == (True, None), "y answers no question here"
        await press(app, pilot, "o")
        asked = " ".join(str(each.content) for each in app.screen.query(Static))
        assert "0/25 ticked" in asked
        assert "Begin anyway?" in asked
        await press(app, pilot, "n")
        assert (isinstance(app.screen, BeginPage), app.day) == (True, None)
        await press(app, pilot, "w", *"900", "enter")
        assert "0 to 100 %" in words(app, "#hint")
        await press(app, pilot, "escape")
        assert isinstance(app.screen, BeginPage)
        assert app.planner.beginning.outlook.wood_moisture is None
        await press(app, pilot, "w", *"20", "enter")
        assert "■ NO The wood holds 20 % water" in " ".join(words(app, "#begin-body").split())
        await press(app, pilot, "w", *"9", "enter", "t", *"6", "enter")
        body = " ".join(words(app, "#begin-body").split())
        assert "◆ WAIT Mould below 15 °C" in body
        assert "● GO The wood holds 9 % water" in body
        await press(app, pilot, "o", "y")
        assert app.day is not None
        events = {entry["event"]: entry for entry in journal(shop)}
        assert "note" not in events
        assert events["wood-moisture-read"]["moisture_fraction"] == pytest.approx(0.09)
        assert events["night-expected"]["coldest_K"] == pytest.approx(279.15)
        assert events["night-expected"]["out_by_s"] == 48 * 3600
        assert app.planner.beginning.outlook.night_K is None, "the next day begins with nothing known"


async def test_the_page_opens_at_once_and_works_the_answer_out_beside_it(shop):
    async with running(shop) as (app, pilot):
        app.planner.beginning.outlook = NightOutlook(night_K=280.15)
        assert app.planner.beginning.known(app.planner.figures) is None
        await pilot.press("g")
        while not isinstance(app.screen, BeginPage) or not app.screen.is_mounted:
            await pilot.pause()
        await press(app, pilot)
        assert "WAIT" in words(app, "#begin-body")


async def test_ticks_made_before_the_day_are_logged_as_it_begins_and_later_ones_at_once(shop):
    async with running(shop) as (app, pilot):
        await press(app, pilot, "i")
        assert isinstance(app.screen, ChecklistPage)
        assert "0/25" in words(app, "#checklist-title")
        await press(app, pilot, "space", "enter", "space", "up", "space", "escape")
        assert journal(shop) == []
        await press(app, pilot, "g")
        assert "23 left" in words(app, "#begin-next")
        await press(app, pilot, "o", "y")
        ticked = [entry for entry in journal(shop) if entry["event"] == "checked"]
        assert [(entry["item"], entry["done"]) for entry in ticked] == [("cast-1", True), ("cut-4", True)]
        await press(app, pilot, "i")
        assert "CHECKLIST   2/25" in words(app, "#checklist-title")
        listing = app.screen.query_one(OptionList)
        assert listing.get_option_at_index(listing.highlighted).id == "cut-10", "the bar is on the first open item"
        await press(app, pilot, "enter")
        assert journal(shop)[-1]["item"] == "cut-10"
        await press(app, pilot, "up", "space", "escape")
        assert (journal(shop)[-1]["item"], journal(shop)[-1]["done"]) == ("cut-10", False)


async def test_the_item_under_the_bar_is_in_view_wherever_a_key_takes_it(shop):
    async with running(shop) as (app, pilot):
        await press(app, pilot, "i")
        async for size in at_each(app, pilot, ((40, 16), (80, 24))):
            for key in ("home", "end", "up", "home", "pagedown", "end"):
                await press(app, pilot, key)
                await settled(app, pilot)  # the mark follows the bar by a message, and that by another
                listing = app.screen.query_one(OptionList)
                item = next(item for item in app.screen.items if item.key == app.screen._here())
                shown = text_in(app, listing.region)
                assert f"▸ [ ] {item.short.split()[0]}" in shown, (size, key, shown)


async def test_what_is_measured_is_ticked_by_its_number_before_the_day_and_on_it(shop):
    async with running(shop) as (app, pilot):
        await press(app, pilot, "g", "enter")
        page, listing = app.screen, app.screen.query_one(OptionList)
        listing.highlighted = listing.get_option_index("humidity")
        await press(app, pilot, "enter", "escape")
        assert (app.screen, app.planner.beginning.ticked) == (page, {}), "no number, no tick"
        await press(app, pilot, "enter", *"55", "enter")
        assert list(app.planner.beginning.ticked) == ["humidity"]
        await press(app, pilot, "escape")
        assert isinstance(app.screen, BeginPage)
        assert "Humidity" not in words(app, "#begin-body")
        await press(app, pilot, "o", "y")
        read = next(entry for entry in journal(shop) if entry["event"] == "humidity-read")
        assert read["relative_humidity"] == 0.55
        await press(app, pilot, "b", "i")
        listing = app.screen.query_one(OptionList)
        listing.highlighted = listing.get_option_index("wood")
        await press(app, pilot, "enter", *"9", "enter", "escape")
        assert [entry["event"] for entry in journal(shop)[-2:]] == ["wood-moisture-read", "checked"]


async def test_enter_past_the_end_of_the_list_goes_on_to_begin_and_takes_no_tick_away(shop):
    async with running(shop) as (app, pilot):
        await press(app, pilot, "g", "enter")
        listing, items = app.screen.query_one(OptionList), app.screen.items
        assert "Enter ticks" in words(app, "#checklist-keys")
        listing.highlighted = listing.get_option_index(items[-1].key)
        await press(app, pilot, "enter")
        assert "CHECKLIST   1/25" in words(app, "#checklist-title")
        assert "Enter goes on" in words(app, "#checklist-keys")
        await press(app, pilot, "enter")
        assert isinstance(app.screen, BeginPage)
        assert app.planner.beginning.ticked == {items[-1].key: items[-1].words}
        for item in items[:-1]:
            app.planner.beginning.tick(item)
        await press(app, pilot, "i", "enter")
        assert isinstance(app.screen, BeginPage)
        assert len(app.planner.beginning.ticked) == 25


async def test_ticks_survive_the_program(shop):
    clock = ManualClock()
    async with running(shop, clock=clock) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, "b", "i", "enter", "escape", "q", "y")
    clock.advance(60)
    async with running(shop, clock=clock) as (app, pilot):
        await press(app, pilot, "i")
        assert "CHECKLIST   1/25" in words(app, "#checklist-title")
        await press(app, pilot, "escape", "u")
        assert "taken back: ready: Sidewalls on the core" in said(app)
        assert app.day.state.ticks == {}


async def test_readings_of_the_shop_are_logged_under_one_key(shop):
    readings = (
        ("h", "62", "humidity-read", "relative_humidity", 0.62),
        ("w", "9.5", "wood-moisture-read", "moisture_fraction", 0.095),
        ("a", "68 F", "temperature-read", "temperature_K", 293.15),
    )
    async with running(shop) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, "b")
        for key, typed, event, field, value in readings:
            keys = [{".": "full_stop", " ": "space"}.get(character, character) for character in typed]
            await press(app, pilot, "t", key, *keys, "enter")
            entry = journal(shop)[-1]
            assert entry["event"] == event
            assert entry[field] == pytest.approx(value)


async def test_the_page_reads_well_at_every_size(shop):
    async with running(shop) as (app, pilot):
        await press(app, pilot, "g")
        async for _ in at_each(app, pilot, ((80, 24), (160, 50))):
            room = app.screen.query_one("#begin-body").size.width
            assert all(len(line) <= room for line in words(app, "#begin-body").splitlines())
            assert words(app, "#begin-next") == "▶ ENTER checklist   25 left"
