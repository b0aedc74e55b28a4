"""README.md says what the program does now."""

import re
import time

import pytest
from readme_parts import DEVELOPERS, PICTURES, README, pictures, written
from screen_svg import text_of

TEXT = README.read_text(encoding="utf-8")


@pytest.fixture
def in_utc(monkeypatch):
    monkeypatch.setenv("TZ", "UTC")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.usefixtures("in_utc")
def test_the_parts_that_the_program_writes_are_current():
    text = DEVELOPERS.read_text(encoding="utf-8")
    assert written(text) == text, "run: python tests/readme_parts.py"
    for part in ("commands", "keys", "measured"):
        assert f"<!-- {part} -->" in text


@pytest.mark.usefixtures("in_utc")
def test_its_pictures_show_what_the_program_shows():
    for name, svg in pictures().items():
        kept = (PICTURES / name).read_text(encoding="utf-8")
        assert text_of(kept) == text_of(svg), f"{name} is old, run: python tests/readme_parts.py"
        assert f"(tests/pictures/{name})" in TEXT


def test_it_is_short():
    assert len(TEXT.splitlines()) <= 120


@pytest.mark.parametrize("name", ["demo", "test"])
def test_each_set_up_is_one_command(name):
    block = re.search(rf"<!-- {name} command -->\n```sh\n(.*?)\n```\n<!-- end -->", TEXT, re.S)
    assert block
    assert len(block[1].splitlines()) == 1
