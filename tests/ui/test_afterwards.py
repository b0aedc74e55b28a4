"""Forms on Logbook: a failed layup told from memory, and what is told of a session afterwards."""

from pathlib import Path

import pytest
from app_driver import at_each, press, running, said, settled
from gallery import text_in
from session_examples import NOON, TOLD
from textual import events
from textual.widgets import Input

from layup.app.app import LayupApp
from layup.app.looking_back import RecallForm
from layup.app.prompts import Ask, Page
from layup.files.workshop import Workshop, new_workshop
from layup.session.archive import stored_session
from layup.session.recall import write_recalled
from layup.session.told import DRAFT, Interview

SIZES = ((80, 24), (40, 16))
ANSWERS = [*list(TOLD.values())[1:], "last winter"]


@pytest.fixture
def root(tmp_path: Path) -> Path:
    new_workshop(tmp_path / "shop")
    return tmp_path / "shop"


def shown(app: LayupApp) -> str:
    return " ".join(text_in(app, app.screen.region).replace("┃", " ").split())


async def write(app: LayupApp, pilot, text: str) -> None:
    """Type an answer and Enter."""
    app.screen.query_one(Input).value = text
    await press(app, pilot, "enter")


async def told(app: LayupApp, pilot) -> None:
    resins = list(Workshop(app.root).resins())
    for answer in (str(resins.index("slow-laminating") + 1), *ANSWERS):
        await write(app, pilot, answer)
    await settled(app, pilot)


async def test_an_empty_logbook_offers_to_tell_a_failed_layup_and_shows_its_cause(root: Path) -> None:
    async with running(root, size=SIZES[0]) as (app, pilot):

        async def stands(*pieces: str) -> None:
            """Assert that words stand on the screen at each size."""
            async for size in at_each(app, pilot, SIZES):
                for piece in pieces:
                    assert piece in shown(app), size

        assert "failed" not in said(app), "nobody who never made one is asked"
        await press(app, pilot, "l")
        await stands("R FAILED ONE")
        await press(app, pilot, "r")
        assert isinstance(app.screen, RecallForm)
        await stands("1/9 Which resin was it?")
        await write(app, pilot, "nosuch")
        await stands("! is not in this workshop (nosuch)")
        await told(app, pilot)
        assert isinstance(app.screen, Page)
        await stands("LIKELY CAUSE CUP TOO LARGE")
        await press(app, pilot, "escape")
        await settled(app, pilot)
        await stands("1 session", "recalled")
        async for size in at_each(app, pilot, SIZES):
            await press(app, pilot, "s", "l")
            short = app.query_one("#log-events")
            widest = max(len(line) for line in str(short.render()).splitlines())
            assert widest <= short.size.width, f"{size}: no line is broken twice beside a list that has just come"
        assert app.planner.lessons.sessions == 1, "the plan on Stack uses it at once"
        await press(app, pilot, "x")
        await stands("Told from memory: its minutes are not known.", "next plan, on Stack")
        await press(app, pilot, "escape", "enter")
        async for _ in at_each(app, pilot, SIZES):
            bench = str(app.query_one("#day-bench").render())
            assert bench.startswith("FROM MEMORY: as it was told")
            assert "FRESH" not in bench
            assert "empty" not in bench, "no act is due at a bench that nobody logged"


async def test_up_goes_back_and_escape_keeps_the_answers_for_later(root: Path) -> None:
    async with running(root, size=(80, 24)) as (app, pilot):
        await press(app, pilot, "l", "r")
        await write(app, pilot, "1")
        await write(app, pilot, "12")
        await press(app, pilot, "up")
        assert "2/9" in shown(app)
        assert app.screen.query_one(Input).value == "12"
        await press(app, pilot, "escape")
        assert (root / "sessions" / DRAFT).exists()
        await press(app, pilot, "r")
        assert "3/9" in shown(app), "it goes on where it was left"


async def test_outcome_note_photo_and_weights_are_added_to_the_chosen_session(root: Path, tmp_path: Path) -> None:
    picture = tmp_path / "tip.png"
    picture.write_bytes(b"\x89PNG\r\n\x1a\n" + b"x" * 9)
    talk = Interview(Workshop(root), NOON, keep=False)
    talk.give(TOLD)
    write_recalled(Workshop(root), talk.story())
    async with running(root, size=(80, 24)) as (app, pilot):
        await press(app, pilot, "l", "e", "1")
        assert "good, dry spot, void" in shown(app)
        await write(app, pilot, "dry")
        assert "did you mean 'dry spot'?" in shown(app)
        await press(app, pilot, "1")
        await write(app, pilot, "void, Dry Spot")
        assert "recorded: outcome: void, dry spot - gelled in the cup" in shown(app)
        await press(app, pilot, "2")
        await write(app, pilot, "foamed")
        await press(app, pilot, "3")
        await write(app, pilot, str(tmp_path / "no.png"))
        assert "is not there" in shown(app)
        assert isinstance(app.screen, Ask), "it is asked until it is a picture"
        await write(app, pilot, str(picture))
        await write(app, pilot, "the tip")
        assert "photo 01-tip.png: the tip" in shown(app)
        await press(app, pilot, "5")
        await write(app, pilot, "2 g")
        assert "is a mass, not a length" in shown(app)
        await write(app, pilot, "1.8 mm")
        assert "NOT KEPT: thickness measured: cannot be recorded" in shown(app), "this press was never closed"
        await press(app, pilot, "d")
        assert app.screen is app.base
    (folder,) = Workshop(root).begun()
    state = stored_session(folder).state
    assert state.outcome is not None
    assert state.outcome.tags == ("void", "dry spot")
    assert state.outcome.notes == "gelled in the cup", "what was told before stays"
    assert [note.text for note in state.notes] == ["foamed"]
    assert [photo.words for photo in state.photos] == ["photo 01-tip.png: the tip"]


async def test_who_types_on_without_looking_loses_no_letter(root: Path) -> None:
    async with running(root, size=(80, 24)) as (app, pilot):
        await press(app, pilot, "l", "r")
        for key in ("1", "enter", "1", "2", "enter", "3", "0", "0"):
            app.post_message(events.Key(key, key if len(key) == 1 else None))
        for _ in range(8):
            await pilot.pause()
        assert app.screen.talk.answers == {"resin": "1", "shop": "12"}
        assert app.screen.query_one(Input).value == "300"


async def test_who_looks_on_tells_nothing(root: Path) -> None:
    async with running(root, size=(80, 24), watch=True) as (app, pilot):
        await press(app, pilot, "l", "r")
        assert not isinstance(app.screen, RecallForm)
        assert said(app) == "not now: looking on only"
