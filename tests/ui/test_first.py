"""A folder without a plan: what to begin with is asked, and nothing is written before the answer."""

import shutil
from pathlib import Path

import pytest
from app_driver import at_each, press, running, said, words
from gallery import text_in

from layup.app.board_form import BoardForm
from layup.app.prompts import Choose
from layup.app.resin_form import ResinForm
from layup.commands.app import holds_no_session
from layup.files.workshop import demo_root


def asked(app) -> str:
    assert isinstance(app.screen, Choose)
    return " ".join((words(app, ".prompt-title") + " " + words(app, "#choices")).split())


async def test_an_empty_folder_asks_for_a_resin_then_a_board_and_ends_with_the_plan_on_stack(tmp_path: Path):
    async with running(tmp_path) as (app, pilot):
        assert f"Nothing yet in {tmp_path.resolve()}. Begin with what? ▸ 1 first resin" in asked(app)
        assert list(tmp_path.iterdir()) == []
        assert "cannot be read" not in said(app)
        await press(app, pilot, "enter")
        assert isinstance(app.screen, ResinForm)
        await press(app, pilot, "escape")
        assert "Nothing yet in" in asked(app)
        await press(app, pilot, "1")
        shutil.copy(demo_root() / "resins" / "slow-laminating.toml", tmp_path / "resins")
        app.screen.dismiss("slow-laminating")
        await press(app, pilot)
        assert "Written: slow-laminating. No plan yet in" in asked(app)
        assert "▸ 2 first board" in asked(app)
        await press(app, pilot, "enter")
        assert isinstance(app.screen, BoardForm)
        shutil.copytree(demo_root() / "sessions" / "touring-skis", tmp_path / "sessions" / "touring-skis")
        plan = tmp_path / "sessions" / "touring-skis" / "plan.toml"
        plan.write_text(plan.read_text(encoding="utf-8").replace("casting-urethane", "slow-laminating"), "utf-8")
        app.screen.dismiss("touring-skis")
        await press(app, pilot)
        assert app.screen is app.base
        assert said(app) == "written: touring-skis"
        assert app.planner.figures is not None
        assert "working it out" not in words(app, "#top")
        assert words(app, "#top")[0] in "●◆■"


async def test_a_board_s_draft_that_was_left_is_told_of_and_is_the_way_that_enter_goes(tmp_path: Path):
    (tmp_path / "resins").mkdir()
    shutil.copy(demo_root() / "resins" / "slow-laminating.toml", tmp_path / "resins")
    async with running(tmp_path) as (app, pilot):
        await press(app, pilot, "2", "P", "escape")
        assert "Draft kept: 2 board goes on. No plan yet" in asked(app)
        await press(app, pilot, "escape")
        assert said(app) == "draft kept: F goes on"
        await press(app, pilot, "F")
        assert isinstance(app.screen, BoardForm)
        assert app.screen.draft.resumed


@pytest.mark.parametrize("has", [(), ("resins",), ("sessions",), ("resins", "sessions")])
async def test_whatever_folders_there_are_without_a_plan_the_three_ways_are_offered(tmp_path: Path, has):
    for name in has:
        (tmp_path / name).mkdir()
    assert holds_no_session(tmp_path)
    async with running(tmp_path) as (app, pilot):
        async for _ in at_each(app, pilot, ((80, 24), (40, 16))):
            for way in ("1 first resin", "2 first board", "3 the demo"):
                assert way in asked(app)
                assert way.split()[-1] in text_in(app, app.screen.region)


def test_a_folder_with_a_session_is_not_taken_for_an_empty_one(tmp_path: Path):
    (tmp_path / "sessions" / "first").mkdir(parents=True)
    assert not holds_no_session(tmp_path)
    assert not holds_no_session(tmp_path / "nowhere")


async def test_the_demo_and_leaving_write_nothing_into_the_folder(tmp_path: Path):
    for key, demo in (("3", True), ("escape", False)):
        async with running(tmp_path) as (app, pilot):
            await pilot.press(key)
            await pilot.pause()
            assert app.wants_demo is demo
            assert not app.is_running
        assert list(tmp_path.iterdir()) == []


async def test_a_looker_on_is_not_asked(tmp_path: Path):
    async with running(tmp_path, watch=True) as (app, _):
        assert app.screen is app.base
