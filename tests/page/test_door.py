"""Who may come in to the page of the bench: checks that OWASP names for cross-site requests and DNS rebinding."""

import socket

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layup.page.door import REMEMBERED, SLOWEST_S, Door

PORT = 8737


def door(*, lan: bool = True, port: int = PORT) -> Door:
    return Door(lan=lan, port=port, role="writer", say=lambda _: None)


def test_a_word_lets_one_device_in_and_the_next_one_is_said():
    said: list[str] = []
    here = Door(lan=True, port=PORT, role="writer", say=said.append)
    first = here.word
    token = here.enter(f" {first.upper()} ", "10.0.0.5", 0.0)
    assert isinstance(token, str)
    assert here.role_of(token) == "writer"
    assert said == [first, here.word]
    assert here.word != first
    assert isinstance(here.enter(first, "10.0.0.6", 0.0), float)


def test_nobody_needs_a_word_at_home_and_nobody_is_in_without_one_on_the_lan():
    assert door(lan=False).role_of(None) == "writer"
    assert door(lan=False).word == ""
    assert door().role_of(None) is None
    assert door().role_of("x" * 43) is None


def test_a_wrong_word_slows_one_address_and_never_locks_out_the_rest():
    here = door()
    waits = []
    now_s = 0.0
    for _ in range(10):
        wait = here.enter("wrong", "10.0.0.66", now_s)
        assert isinstance(wait, float)
        waits.append(wait)
        assert here.enter(here.word, "10.0.0.66", now_s) == pytest.approx(wait), "it waits, even with the right word"
        now_s += wait
    assert waits[:4] == [1.0, 2.0, 4.0, 8.0]
    assert max(waits) == SLOWEST_S
    assert isinstance(here.enter(here.word, "10.0.0.5", now_s - 1.0), str)
    assert isinstance(here.enter(here.word, "10.0.0.66", now_s), str), "and comes in once it has waited"


def test_wrong_words_from_everywhere_take_no_more_memory():
    here = door()
    for number in range(3 * REMEMBERED):
        here.enter("wrong", f"10.0.{number // 250}.{number % 250}", 0.0)
    assert len(here._wrong) == REMEMBERED


@pytest.mark.parametrize(
    ("host", "lan", "port", "ours"),
    [
        ("127.0.0.1:8737", False, PORT, True),
        ("localhost:8737", False, PORT, True),
        ("[::1]:8737", False, PORT, True),
        ("127.0.0.1", False, PORT, False),
        ("127.0.0.1", False, 80, True),
        ("localhost:80", False, 80, True),
        ("192.168.1.5:8737", False, PORT, False),
        ("192.168.1.5:8737", True, PORT, True),
        ("[fe80::1]:8737", True, PORT, True),
        (f"{socket.gethostname()}:8737", True, PORT, True),
        ("bench.example:8737", True, PORT, False),
        ("bench.example:8737", False, PORT, False),
        ("127.0.0.1:8737@evil.example", False, PORT, False),
        ("", True, PORT, False),
        ("127.0.0.1:99999", False, PORT, False),
    ],
)
def test_only_what_names_this_machine_is_ours(host, lan, port, ours):
    assert door(lan=lan, port=port).is_ours(host) is ours


@given(st.text(max_size=60))
def test_any_host_is_answered_and_none_is_ours_by_chance(host):
    named = host.startswith(("127.0.0.1", "localhost", "[::1]"))
    assert named or not door(lan=False).is_ours(host)


@pytest.mark.parametrize(
    ("headers", "changes", "allowed"),
    [
        ({"Host": "a:1", "Origin": "http://a:1"}, True, True),
        ({"Host": "a:1"}, True, False),
        ({"Host": "a:1"}, False, True),
        ({"Host": "a:1", "Origin": "http://b:1"}, False, False),
        ({"Host": "a:1", "Origin": "null"}, True, False),
        ({"Host": "a:1", "Origin": "http://[", "Sec-Fetch-Site": "same-origin"}, True, False),
        ({"Host": "a:1", "Origin": "http://a:1", "Sec-Fetch-Site": "cross-site"}, True, False),
        ({"Host": "a:1", "Sec-Fetch-Site": "none"}, False, True),
    ],
)
def test_only_our_own_page_changes_anything(headers, changes, allowed):
    assert door().comes_from_us(headers, changes=changes) is allowed
