"""Forms on Logbook: a failed layup told from memory, and what is told of a session afterwards."""

from pathlib import Path

import pytest
from app_driver import press, running, said, settled
from gallery import text_in
from textual.widgets import Input

from layup.app.afterwards import AfterwardsForm
from layup.app.app import LayupApp
from layup.app.prompts import Page
from layup.app.recall import RecallForm
from layup.bench.afterwards import FIELDS
from layup.files.workshop import Workshop, new_workshop
from layup.session.archive import stored_session
from layup.session.interview import DRAFT

ANSWERS = ["about 24", "about 400 g", "about 25, hot", "4", "no", "alone", "gelled in the cup", "last winter"]


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


@pytest.mark.parametrize("size", [(80, 24), (40, 16)])
async def test_an_empty_logbook_offers_to_tell_a_failed_layup_and_shows_its_cause(root: Path, size) -> None:
    async with running(root, size=size) as (app, pilot):
        assert said(app) == "Last layup failed? L, then R: tell it."
        await press(app, pilot, "l")
        await settled(app, pilot)
        assert "R FAILED ONE" in shown(app)
        await press(app, pilot, "r")
        assert isinstance(app.screen, RecallForm)
        assert "1/9 Which resin was it?" in shown(app)
        await write(app, pilot, "nosuch")
        assert "! is not in this workshop (nosuch)" in shown(app)
        await told(app, pilot)
        assert isinstance(app.screen, Page)
        assert "LIKELY CAUSE CUP TOO LARGE" in shown(app)
        await press(app, pilot, "escape")
        await settled(app, pilot)
        assert "1 session" in shown(app)
        assert "recalled" in shown(app)
        assert app.planner.lessons.sessions == 1, "the plan on Stack uses it at once"


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
    async with running(root, size=(80, 24)) as (app, pilot):
        await press(app, pilot, "l", "r")
        await told(app, pilot)
        await press(app, pilot, "escape")
        await settled(app, pilot)
        await press(app, pilot, "e")
        assert isinstance(app.screen, AfterwardsForm)
        assert "good, dry spot, void" in shown(app)
        said_of = {"words": "void, Dry Spot", "note": "foamed", "photo": str(tmp_path / "no.png"), "caption": "the tip"}
        for key, text in said_of.items():
            app.screen.query_one(f"#after-{key}", Input).value = text
        for _ in FIELDS:
            await press(app, pilot, "enter")
        assert "is not there" in shown(app)
        assert isinstance(app.screen, AfterwardsForm), "nothing typed is lost"
        app.screen.query_one("#after-photo", Input).value = str(picture)
        await press(app, pilot, "enter")
        await settled(app, pilot)
        assert not isinstance(app.screen, AfterwardsForm)
    (folder,) = Workshop(root).begun()
    state = stored_session(folder).state
    assert state.outcome is not None
    assert state.outcome.tags == ("void", "dry spot")
    assert state.outcome.notes == "gelled in the cup", "what was told before stays"
    assert [note.text for note in state.notes] == ["foamed"]
    assert [photo.words for photo in state.photos] == ["photo 01-tip.png: the tip"]


async def test_who_looks_on_tells_nothing(root: Path) -> None:
    async with running(root, size=(80, 24), watch=True) as (app, pilot):
        await press(app, pilot, "l", "r")
        assert not isinstance(app.screen, RecallForm)
        assert said(app) == "not now: this program only looks on"
