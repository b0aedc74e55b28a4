"""Marks that command a terminal or turn text round are not drawn raw: on the screen, by a command, in a report."""

import json
import re
import shutil

import pytest
from app_driver import begin_day, press, running, settled
from command_line import ask_in
from hypothesis import given
from hypothesis import strategies as st
from textual import events
from textual.widgets import Input

from layup.files.workshop import demo_root
from layup.session.text import clean_text, plain

MARKS = "\x9b31m\x85\u202e\u2066\u200f\ufeff\x07\x1b[2J"
"""C1 (U+009B begins a command as escape does), C0 and the marks of Unicode that change the direction of writing."""
RAW = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069\u2028\u2029\ufeff]")
"""ECMA-48 (C0, C1) and Unicode Standard Annex 9 (explicit directional formatting), all but the line feed."""
SESSION = "2026-03-07-touring-skis-168"
ODD = f"2026-03-08-{MARKS.replace(chr(0x1B) + '[2J', '')}-skis"


@pytest.fixture
def shop(tmp_path):
    """Make a workshop in which a session and a draft have such marks in their names."""
    root = tmp_path / "shop"
    shutil.copytree(demo_root() / "resins", root / "resins")
    shutil.copytree(demo_root() / "sessions" / SESSION, root / "sessions" / ODD)
    shutil.copytree(demo_root() / "sessions" / "touring-skis", root / "sessions" / f"draft{MARKS}")
    return root


def drawn(app):
    return "\n".join(strip.text for strip in app.screen._compositor.render_strips())


@given(st.text())
def test_nothing_of_the_kind_is_left_in_plain_text(text):
    assert not RAW.search(plain(text))
    assert plain(plain(text)) == plain(text)
    assert plain(clean_text(text, limit=1000).text) == clean_text(text, limit=1000).text


async def test_marks_pasted_into_a_question_are_not_drawn_and_not_kept(shop):
    async with running(shop) as (app, pilot):
        await begin_day(app, pilot, "b", "n")
        app.screen.query_one(Input).post_message(
            events.Paste(f"left{MARKS.replace(chr(0x85), '')} edge")
        )  # U+0085 ends a line
        await settled(app, pilot)
        assert MARKS[0] in app.screen.query_one(Input).value
        assert "left31m[2J edge" in drawn(app)
        assert not RAW.search(drawn(app))
        await press(app, pilot, "enter")
        (note,) = app.day.state.notes
        assert note.text == "left31m[2J edge"


async def test_no_place_draws_the_marks_in_a_name(shop):
    async with running(shop) as (app, pilot):
        for keys in (("s",), ("l",), ("slash", *"skis", "enter"), ("s", "g"), ("o", "y"), ("b",), ("s", "g")):
            await press(app, pilot, *keys)
            assert not RAW.search(drawn(app).replace("\n", "")), keys
        assert app.day is not None


@pytest.mark.parametrize("name", ["r.html", "r.md", "r.csv", "r.jsonl"])
def test_no_report_holds_the_marks_in_a_name(shop, name):
    answer = ask_in(shop, "export", ODD, f"{MARKS[:1]}{name}")
    assert (answer.code, answer.err) == (0, "")
    assert not RAW.search(answer.out)
    text = (shop / f"{MARKS[:1]}{name}").read_text(encoding="utf-8-sig")
    assert "2026-03-08" in text
    assert not RAW.search(text)


@pytest.mark.parametrize(
    "words",
    [
        ("review",),
        ("review", ODD),
        ("learn",),
        ("check",),
        ("compare", ODD, ODD),
        ("plan", f"draft{MARKS}"),
        ("sheet", f"draft{MARKS}"),
        ("outcome", ODD, "delaminatoin"),
        ("outcome", ODD, "--notes", MARKS),
        ("new", f"a{MARKS}"),
        ("review", f"none{MARKS}"),
        ("fabric", f"6{MARKS} oz"),
        ("mix", MARKS, "200 g"),
        ("fabric", "--weave", "5/in", "5/in", "--yarn", f"E{MARKS}"),
    ],
    ids=lambda words: words[0],
)
def test_no_command_prints_the_marks(shop, words):
    answer = ask_in(shop, *words)
    assert answer.out or answer.err
    assert not RAW.search(answer.out), ascii(answer.out)
    assert not RAW.search(answer.err), ascii(answer.err)
    assert "Traceback" not in answer.err


def test_json_escapes_the_marks(shop):
    answer = ask_in(shop, "review", ODD, "--json")
    assert not RAW.search(answer.out)
    assert not RAW.search(json.loads(answer.out)["session"])
