"""Stack: the lay-up in section, the dials, the spare by temperature, the day on one axis, and what is next."""

import re
from dataclasses import replace

import pytest
from app_driver import at_each, press, running, said, settled, words, workshop
from gallery import text_in

from layup.app.begin import BeginPage
from layup.app.checklist import ChecklistPage
from layup.app.dials import ALWAYS
from layup.app.prompts import Page
from layup.app.shell import TEXTURES
from layup.bench.dials import DIALS
from layup.bench.planner import Planner
from layup.planning.crew import MOST_PEOPLE
from layup.units import minutes

SIZES = ((40, 16), (80, 24), (120, 36), (160, 50))


@pytest.fixture
def shop(tmp_path):
    return workshop(tmp_path)


async def set_dials(app, pilot, **settings):
    """Have the dials stand elsewhere, with all that follows."""
    app.planner.settings = replace(app.planner.settings, **settings)
    app.place.work_out(app.planner.settings)
    await press(app, pilot)


async def test_the_lay_up_stands_in_section_of_other_plans_nothing_is_said_and_no_verdict_before_the_lessons_are_in(
    shop,
):
    async with running(shop) as (app, pilot):
        budget, plan = app.planner.figures.budget, app.planner.figures.plan
        _, *rows = words(app, "#stack-steps").splitlines()
        numbered = [(number, line) for number, line in enumerate(budget.lines, 1)]
        for row, (number, line) in zip(rows, reversed(numbered), strict=False):
            assert row.startswith(f"{number:>2} {2 * TEXTURES[plan.steps[number - 1].kind]} {line.name[:19]}")
            assert len(row) == 39
            fibre, mix = row[27:33].strip(), row[33:].strip()
            assert (fibre, mix) == tuple(f"{grams:.0f}" if grams else "" for grams in (line.glass_g, line.mix_g))
        assert rows[-1] == (
            f"TOTAL {budget.mix_g:.0f} g = {budget.resin_g:.0f}+{budget.hardener_g:.0f} "
            f"(cans ≥ {budget.buy_resin_g:.0f}+{budget.buy_hardener_g:.0f})"
        )
        assert not app.place.query_one("#stack-title").display
        assert "plans" not in words(app, "#keys"), "of one plan nothing is said of others"
        await press(app, pilot, "y")
        assert app.screen is app.base
        assert words(app, "#top").startswith("● FITS · ")
        app.planner.awaits_lessons = True
        app.redraw()
        assert words(app, "#top").startswith("working it out ...")
        assert app.place.has_class("awaits")
        app.planner.awaits_lessons = False
        app.redraw()
        assert not app.place.has_class("awaits")


async def test_the_verdict_its_spare_and_its_odds_stand_once_on_top_and_what_is_against_it_clear_of_the_grams(shop):
    async with running(shop) as (app, pilot):
        for celsius, people, head in ((20, 2, "● FITS · "), (22, 1, "◆ TIGHT · "), (30, 2, "■ DOES NOT FIT · ")):
            await set_dials(app, pilot, temperature_K=celsius + 273.15, people=people)
            top, shown = words(app, "#top"), text_in(app, app.screen.region)
            assert top.startswith(head)
            assert shown.count(top.split(" · ")[0]) == 1
            figures = app.planner.figures
            told = app.planner.fit(figures).works and figures.chance <= 0.99
            assert shown.count("in time") == told, "odds that are no news are on the page before the day"
            spare = minutes(abs(app.planner.figures.split.slack_s))
            assert f"{spare} spare" in top or f"{spare} short" in top
            assert ("wanted" in words(app, "#stack-batches")) is (head[0] == "◆")
            assert bool(app.place.ways) is (head[0] != "●")
            if head[0] == "◆":
                lines = words(app, "#stack-batches").splitlines()
                assert any("min wanted" in line for line in lines)
                assert all(line.startswith(" ") and not line.strip().startswith("min ") for line in lines), "with units"


async def test_a_plan_that_does_not_fit_shows_each_way_with_its_spare_and_a_key_takes_it(shop):
    async with running(shop) as (app, pilot):
        await set_dials(app, pilot, temperature_K=303.15, people=2)
        assert words(app, "#top").startswith("■ DOES NOT FIT")
        shown, stands = text_in(app, app.screen.region), app.planner.settings
        assert "Release film and caul" not in shown, "the lay-up is below the fold"
        of_file, of_dials = ([way for way in app.place.ways if bool(way.settings) is yes] for yes in (False, True))
        keyed = [*(("F", way) for way in of_file), *((f"{at}", way) for at, way in enumerate(of_dials, 1))]
        for key, way in keyed:
            head = f"  {key}  " if way.settings else f"  {key} edit: "
            assert any(line.startswith(head + way.words.split()[0]) for line in shown.splitlines())
            assert way.spare in shown
        assert of_dials
        await press(app, pilot, "pagedown")
        assert "Release film and caul" in text_in(app, app.screen.region)
        for at, way in enumerate(of_dials, 1):
            if at > 1:
                await set_dials(app, pilot, temperature_K=303.15, people=2)
            await press(app, pilot, f"{at}")
            assert app.planner.settings == way.settings != stands
            spare = minutes(app.planner.figures.split.slack_s)
            assert way.spare == f"{words(app, '#top')[0]} {spare} spare", "what was promised is what comes of it"


async def test_nothing_is_cut_at_any_size_and_what_is_next_always_shows(shop):
    async with running(shop) as (app, pilot):
        async for _, rows in at_each(app, pilot, SIZES):
            shown = text_in(app, app.screen.region)
            assert "▶ ENTER checklist" in shown
            assert "● FITS · " in shown
            for dial in DIALS:
                value = dial.shows(app.planner.settings, app.planner)
                if rows <= 30 and dial in DIALS[ALWAYS:]:
                    assert dial.name not in shown, "it comes as it is wanted"
                    continue
                assert f"{dial.name} " in shown or f"{dial.name}\n" in shown
                assert value.partition(" (")[0] in shown
            await press(app, pilot, *["down"] * ALWAYS)
            wanted = text_in(app, app.screen.region)
            assert all(f"{dial.name} " in wanted for dial in DIALS)
            await press(app, pilot, *["down"] * (len(DIALS) - ALWAYS))
            assert app.place.at == 0, "round to the first one again"
            for widget in ("#stack-shop", "#stack-picture", "#stack-day", "#stack-steps"):
                static = app.place.query_one(widget)
                if static.display:
                    assert all(len(line) <= static.size.width for line in words(app, widget).splitlines()), widget
            lower = ""
            for _ in range(4):
                await press(app, pilot, "pagedown")
                lower += text_in(app, app.screen.region)
            assert "closed " in shown + lower
            assert f"TOTAL {app.planner.figures.budget.mix_g:.0f} g" in shown + lower
            await press(app, pilot, *["pageup"] * 4)


def tick_all(app) -> None:
    """Tick everything on the list but what a day can go on without."""
    for item in app.planner.beginning.items(app.planner.figures):
        if item.stops and item.key not in app.planner.beginning.ticked:
            app.planner.beginning.tick(item)


async def test_enter_opens_the_list_first_and_then_the_question_whether_to_begin(shop):
    async with running(shop) as (app, pilot):
        await press(app, pilot, "enter")
        assert isinstance(app.screen, ChecklistPage)
        await press(app, pilot, "enter", "escape")
        assert isinstance(app.screen, BeginPage)
        assert words(app, "#begin-next") == "▶ ENTER begin   24 left"
        await press(app, pilot, "enter")
        assert app.day is None
        assert "24 left, open: cloth cut, faces sanded, shop warm" in " ".join(words(app, ".prompt-title").split())
        await press(app, pilot, "y")
        assert app.day is not None


async def test_the_page_before_the_day_never_says_go_on_an_unopened_list_nor_on_a_tight_plan(shop):
    async with running(shop) as (app, pilot):
        await press(app, pilot, "g")
        assert "◆ WAIT Checklist: 0/25 ticked." in words(app, "#begin-body")
        assert words(app, "#begin-next") == "▶ ENTER checklist   25 left"
        await press(app, pilot, "enter")
        assert isinstance(app.screen, ChecklistPage)
        await press(app, pilot, "space", "escape")
        assert app.screen.ready.answer == "wait"
        assert "◆ WAIT Checklist: 24 left, open: cloth cut" in words(app, "#begin-body")
        tick_all(app)
        await press(app, pilot, "i", "escape")
        assert app.screen.ready.answer == "go"
        assert "No known problem, 3 unknown." in words(app, "#begin-what")
        await press(app, pilot, "escape")
        await set_dials(app, pilot, temperature_K=296.15)
        await press(app, pilot, "g")
        assert app.screen.ready.fit.word == "tight"
        assert app.screen.ready.answer == "wait"
        assert "◆ TIGHT · " in words(app, "#begin-what")


async def test_the_page_never_says_go_in_a_cool_shop_on_what_a_datasheet_leaves_out(shop):
    path = shop / "resins" / "slow-laminating.toml"
    sheet, rest = path.read_text(encoding="utf-8").split("[[viscosity]]", 1)
    cure = rest.partition("[cure]")[2].replace("minimum_temperature", "#")
    path.write_text(f"{sheet}[cure]{cure}", encoding="utf-8")
    async with running(shop) as (app, pilot):
        tick_all(app)
        for celsius, answer in ((17, "wait"), (19, "go")):
            await set_dials(app, pilot, temperature_K=celsius + 273.15)
            assert ("● FITS · viscosity unknown, minimum cure unknown" in words(app, "#top")) is (answer == "wait")
            await press(app, pilot, "g")
            body = " ".join(words(app, "#begin-body").split())
            assert app.screen.ready.answer == answer, app.screen.ready.reasons
            for told in ("Viscosity of Slow laminating epoxy", "Minimum cure temperature of Slow laminating epoxy"):
                assert (told in body) is (answer == "wait")
            await press(app, pilot, "escape")


def test_no_dial_asks_for_more_people_than_a_plan_file_may_say(shop):
    planner = Planner(shop)
    planner.load()
    people = next(dial for dial in DIALS if dial.name == "People")
    for at, by, then in [(1, -1, 1), (1, 1, 2), (MOST_PEOPLE, 1, MOST_PEOPLE)]:
        assert people.turned(replace(planner.settings, people=at), planner, by).people == then


async def test_a_tap_chooses_a_dial_and_on_the_chosen_one_turns_it(shop):
    async with running(shop) as (app, pilot):
        before = app.planner.settings
        await pilot.click("#stack-shop", offset=(3, 1))
        await press(app, pilot)
        assert (DIALS[app.place.at].name, app.planner.settings) == ("People", before)
        await pilot.click("#stack-shop", offset=(10, 1))
        await press(app, pilot)
        assert app.planner.settings.people == 3
        await pilot.click("#stack-shop", offset=(3, 1))
        await press(app, pilot)
        assert app.planner.settings.people == 2
        await pilot.click("#stack-shop", offset=(25, 0))
        await press(app, pilot)
        assert DIALS[app.place.at].name == "Cup max"
        await pilot.click("#keys", offset=(3, 0))
        await press(app, pilot)
        assert isinstance(app.screen, ChecklistPage)


def add_plan(shop, name, *, old, new):
    """Add a plan to a workshop: the demo's with something else in it."""
    text = (shop / "sessions" / "touring-skis" / "plan.toml").read_text(encoding="utf-8")
    (shop / "sessions" / name).mkdir()
    (shop / "sessions" / name / "plan.toml").write_text(text.replace(old, new), encoding="utf-8")


async def test_of_several_plans_one_is_chosen_by_key_or_tap_and_a_broken_one_can_be_looked_at(shop):
    add_plan(shop, "board", old='title = "Touring skis 168"', new='title = "Splitboard 160"')
    add_plan(shop, "kite", old="pieces = 2", new="pieces = 0")
    async with running(shop) as (app, pilot):
        assert words(app, "#stack-title").startswith("PLAN 1/3 board")
        await press(app, pilot, "i", "space", "escape", "y")
        listed = words(app, "#choices")
        for shown in ("▸ 1  board  Splitboard 160 ×2", "  2  kite  ✗ plan.toml:4: pieces", "  3  touring-skis  "):
            assert shown in listed
        await press(app, pilot, "2")
        assert app.planner.figures is None
        assert "plan.toml:4: pieces" in words(app, "#stack-title")
        await press(app, pilot, "g")
        assert "not now" in str(app.base.query_one("#said").content)
        await pilot.click("#stack-title", offset=(18, 0))
        await press(app, pilot, "3")
        assert words(app, "#top").endswith("Touring skis 168 ×2")
        assert words(app, "#stack-title").startswith("PLAN 3/3 touring-skis")
        assert app.planner.beginning.ticked == {}, "what was ticked was for another plan"
        await press(app, pilot, "l", "s", "r")
        assert app.planner.plan_name_shown == "touring-skis", "the choice stays"


async def test_k_shows_each_resin_by_temperature_and_enter_plans_with_the_chosen_one(shop):
    async with running(shop) as (app, pilot):
        await press(app, pilot, "k")
        shown = text_in(app, app.screen.region)
        resins = [row.result.datasheet for row in app.screen.table.tonight]
        assert "take Slow laminating epoxy" in shown
        assert f"▸{resins[0].title}" in shown
        for size in SIZES:
            await pilot.resize_terminal(*size)
            lines = app.screen.query_one("#resins-body").render().plain.splitlines()
            assert max(map(len, lines)) <= app.screen.query_one("VerticalScroll").size.width
        await press(app, pilot, "down", "enter")
        assert app.planner.settings.resin_id == app.planner.figures.datasheet.id == resins[1].id


async def test_what_check_finds_odd_in_the_resin_s_file_stands_on_stack(shop):
    path = shop / "resins" / "slow-laminating.toml"
    path.write_text(path.read_text(encoding="utf-8").replace('time = "45 min"', 'time = "4 min"', 1), encoding="utf-8")
    assert "4 min" in path.read_text(encoding="utf-8")
    async with running(shop) as (app, pilot):
        await settled(app, pilot)
        assert "4 min? unusual of 150 g" in " ".join(words(app, "#stack-batches").split())


async def test_a_blend_that_is_chosen_is_planned_with_and_says_what_the_day_needs(shop):
    path = shop / "resins" / "slow-laminating.toml"
    text = path.read_text(encoding="utf-8").replace('id = "slow-laminating"', 'id = "slower"')
    text = text.replace("Slow laminating epoxy (demo)", "Slower")
    (shop / "resins" / "slower.toml").write_text('blends_with = ["slow-laminating"]\n' + text, encoding="utf-8")
    async with running(shop) as (app, pilot):
        await settled(app, pilot)
        app.place._plan_with("slow-laminating+slower")
        await settled(app, pilot)
        assert app.planner.figures.datasheet.id == "slow-laminating+slower"
        assert "a blend: for the day, write it as a resin of its own" in said(app)


async def test_the_days_before_stand_on_stack_and_the_dial_that_is_turned_is_in_view(shop):
    async with running(shop, size=(40, 16)) as (app, pilot):
        await press(app, pilot, "pagedown")
        assert app.place.query_one("#stack-scroll").scroll_y > 0
        await press(app, pilot, "right")
        assert "▸Shop    ◂21 °C▸" in text_in(app, app.screen.region)
        await press(app, pilot, "6")
        assert "such as 2026-12-05 18:00" in text_in(app, app.screen.region)
        await press(app, pilot, "enter")
        shown = " ".join(text_in(app, app.screen.region).split())
        assert "! is empty - a date, with or without a time" in shown.replace("┃ ", "").replace(" ┃", "")
        await press(app, pilot, "x", "enter")
        assert "is no date" in text_in(app, app.screen.region)
        await press(app, pilot, "backspace", *"2026-12-05T18", "enter")
        narrow = text_in(app, app.screen.region)
        assert "START BY" in narrow
        assert "OUT       Sat 05 Dec 18:00" in narrow
        await press(app, pilot, "escape")
        await pilot.resize_terminal(160, 50)
        await settled(app, pilot)
        shown = text_in(app, app.screen.region)
        assert "THE DAYS BEFORE  start by" in shown
        assert shown.index("lay up and close") < shown.index("cure in the press") < shown.index("out of the mould")
        rows = words(app, "#stack-steps").splitlines()
        assert sum(20 * TEXTURES["fabric"] in row for row in rows) == 2 * sum(
            step.kind == "fabric" for step in app.planner.plan.steps
        )
        assert not app.place.query_one("#stack-scroll").max_scroll_y


async def test_a_dial_that_was_turned_is_marked_and_stands_as_turned_when_the_app_opens_again(shop):
    async with running(shop) as (app, pilot):
        await settled(app, pilot)
        assert "*" not in words(app, "#stack-shop")
        await set_dials(app, pilot, cans_K=296.15, cup_g=200.0)
        await settled(app, pilot)
        assert re.search(r"Cup max +200 g +\*.*\n(.*\n)*.*Cans +23 °C +\*", words(app, "#stack-shop"))
    async with running(shop) as (app, pilot):
        await settled(app, pilot)
        assert (app.planner.settings.cans_K, app.planner.settings.cup_g) == (296.15, 200.0)
        await set_dials(app, pilot, cans_K=None, cup_g=app.planner.plan.largest_cup_g)
        await settled(app, pilot)
    assert not list(shop.glob(".drafts/*")), "the dials stand as in the file: nothing is kept"


async def test_the_days_before_stand_in_one_place_stack_where_it_has_room_else_a_page(shop):
    for size, paged in (((90, 44), False), ((60, 24), True)):
        async with running(shop, size=size) as (app, pilot):
            await press(app, pilot, "6", *["backspace"] * 20, *"2026-12-05", "enter")
            await settled(app, pilot)
            assert isinstance(app.screen, Page) is paged
            assert text_in(app, app.screen.region).count("lay up and close") == 1


async def test_a_casting_that_does_not_fit_says_so_on_the_press_day_and_a_key_in_words_is_no_verdict(shop):
    plan = shop / "sessions" / "touring-skis" / "plan.toml"
    plan.write_text(plan.read_text(encoding="utf-8").replace('"320 ml"', '"20 ml"'), encoding="utf-8")
    async with running(shop) as (app, pilot):
        assert words(app, "#top").startswith("● FITS"), "the verdict of the press day is its own"
        shown = " ".join(words(app, "#stack-batches").split())
        assert shown.endswith("■ CASTING DOES NOT FIT · 8 its day"), "why stands on that day"
        await press(app, pilot, "8")
        assert words(app, "#top").startswith("■ DOES NOT FIT")
        shown = " ".join(words(app, "#stack-batches").split())
        assert "CASTING DOES NOT FIT" not in shown, "it is this day's own verdict"
        assert "F edit: Weigh on a scale" in shown
