"""`layup follow`: each act as one plain line, as it comes; and the words of `layup serve`."""

import itertools
import json
import sys

import pytest
from scripted_days import Player, day_of

from layup.bench.view import bench_view
from layup.commands.app import address, code, page_server, require_port
from layup.commands.follow import acts, line
from layup.commands.serve import opening_words
from layup.errors import InputError, LayupError
from layup.files.workshop import demo_root
from layup.session.day_events import SessionEnded


def followed(day, play) -> list:
    """Return what is said of a day while it goes on."""
    said = []

    def wait() -> None:
        play()

    for view, act in acts(day, wait=wait):
        said.append((view.now_s, line(day, act), act))
        if act.kind == "leave closed":
            break
    return said


def test_a_day_is_said_act_by_act_each_once_as_it_comes():
    day = day_of()
    player = Player(day)

    def play() -> None:
        player.play([], until_min=day.now_s() / 60.0 + 0.05)

    said = followed(day, play)
    lines = [words for _, words, _ in said]
    assert lines[0].endswith("mixing: weigh batch 1, scale to 286 g, TARE CUP, resin first.")
    assert any("  Lower glass, by " in words for words in lines)
    assert lines[-1].split("  ")[1].startswith("Leave it closed")
    keys = [(act.is_same_as, act.person, act.urgency) for _, _, act in said]
    assert all(one != other for one, other in itertools.pairwise(keys))
    assert all(sign not in words for words in lines for sign in "●◆▲■▶≈·")


def test_an_act_that_is_due_says_so_first():
    day = day_of()
    day.read_scale(1, "281")
    day.hardener_in(1)
    day.clock.advance(3600.0)
    act = bench_view(day).act
    assert act.urgency in ("now", "may be over", "past")
    assert line(day, act).split("  ")[1].startswith("Now! ")


def test_it_ends_with_the_session():
    day = day_of()
    day.log(SessionEnded(), "")
    assert [act.kind for _, act in acts(day, wait=lambda: pytest.fail("it waits"))] == ["over"]


def test_as_data_each_line_is_one_object(say):
    answer = say("follow", str(demo_root() / "sessions" / "2026-03-07-touring-skis-168"), "--json")
    assert answer.code == 0
    (line_,) = answer.out.splitlines()
    found = json.loads(line_)
    assert found["session"] == "2026-03-07-touring-skis-168"
    assert {"words", "deadline_s", "urgency", "at_s"} <= set(found)


def test_serving_says_where_for_whom_and_what_to_mind():
    home, lan = opening_words(8737, lan=False, watch=True), opening_words(80, lan=True, watch=False)
    assert "http://127.0.0.1:8737/" in home
    assert "this machine only, looking on only" in home
    assert "it may log" in lan
    assert "nothing is encrypted" in lan
    assert address(80, lan=False) == "http://127.0.0.1/"


def test_a_port_that_is_none_and_a_missing_library_are_refused_in_words(monkeypatch):
    with pytest.raises(InputError, match="is no port"):
        require_port(0)
    monkeypatch.setitem(sys.modules, "layup.page.server", None)
    with pytest.raises(LayupError, match=r"pip install 'layup\[serve\]'"):
        page_server(None, port=8737, lan=False, watch=True, say=print)


def test_the_code_for_a_camera_holds_the_word_behind_the_address_only():
    segno = pytest.importorskip("segno")
    assert len(code("http://192.168.1.5:8737/", "badogiku").splitlines()) >= 10
    assert segno.make("http://192.168.1.5:8737/#badogiku", micro=False).version <= 5


def test_where_no_day_runs_serving_says_how_to_begin_one(say):
    answer = say("serve")
    assert answer.code == 2
    assert "no session is running" in answer.complaint
    assert "layup press PLAN --page" in answer.complaint
