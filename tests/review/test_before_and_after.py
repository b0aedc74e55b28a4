"""What is logged around the bench: the list before the day, the wood, and the night to come."""

import pytest
from pydantic import ValidationError
from session_examples import mixed, stamped, start

from layup.session.batch_events import BatchPouredOut, PressClosed
from layup.session.day_events import Checked, SessionEnded, Undone, WoodMoistureRead
from layup.session.records import extend, fold, refusal
from layup.session.state import Event, NightExpected, SessionState


def after(*events: Event) -> SessionState:
    return fold(stamped([start(), *events]))


def test_a_tick_stands_until_it_is_taken_away_and_ticking_again_moves_it_to_the_end() -> None:
    ticked = [Checked(item="cups", words="3 cups"), Checked(item="gloves", words="6 pairs")]
    assert list(after(*ticked).ticks.items()) == [("cups", 60.0), ("gloves", 120.0)]
    assert after(*ticked, Checked(item="cups", done=False)).ticks == {"gloves": 120.0}
    again = after(*ticked, Checked(item="cups", words="4 cups"))
    assert list(again.ticks.items()) == [("gloves", 120.0), ("cups", 180.0)]


def test_undo_takes_a_tick_back_and_gives_one_back() -> None:
    untick = [Checked(item="cups"), Checked(item="cups", done=False)]
    assert after(*untick).undoable == 3
    assert list(after(*untick, Undone(undone_seq=3)).ticks) == ["cups"]
    assert after(Checked(item="cups"), Undone(undone_seq=2)).ticks == {}


def test_the_last_word_on_wood_and_night_counts() -> None:
    state = after(
        WoodMoistureRead(moisture_fraction=0.14), NightExpected(coldest_K=280.0),
        WoodMoistureRead(moisture_fraction=0.09), NightExpected(coldest_K=279.15, out_by_s=86_400.0),
    )  # fmt: skip
    assert state.wood_moisture == 0.09
    assert state.night is not None
    assert (state.night.coldest_K, state.night.out_by_s) == (279.15, 86_400.0)


def test_one_record_more_is_the_same_as_folding_all() -> None:
    records = stamped([start(), Checked(item="cups"), WoodMoistureRead(moisture_fraction=0.1)])
    assert extend(fold(records[:-1]), records[-1:]) == fold(records)


def test_a_night_can_be_expected_after_the_day_has_ended_but_nothing_ticked() -> None:
    ended = after(mixed(1), BatchPouredOut(batch=1), PressClosed(), SessionEnded())
    assert refusal(ended, NightExpected(coldest_K=279.15)) is None
    assert refusal(ended, Checked(item="cups")) == "the session has ended - undo brings it back"


def test_they_are_told_in_words() -> None:
    assert Checked(item="cups", words="3 cups").describe() == "ready: 3 cups"
    assert Checked(item="cups", done=False).describe() == "not ready after all: cups"
    assert WoodMoistureRead(moisture_fraction=0.09).describe() == "wood at 9 % moisture"
    night = NightExpected(coldest_K=279.15, out_by_s=86_400.0)
    assert night.describe() == "tonight down to 6.0 °C, part wanted out 24 h after closing"


@pytest.mark.parametrize(
    ("make", "match"),
    [
        (lambda: WoodMoistureRead(moisture_fraction=9.0), "less than or equal to 1"),
        (lambda: NightExpected(coldest_K=6.0), "greater than or equal to 200"),
        (lambda: NightExpected(coldest_K=279.0, out_by_s=60.0), "greater than or equal to 3600"),
        (lambda: Checked(item="a\x1bb"), "should match pattern"),
    ],
)
def test_what_cannot_be_is_refused(make: object, match: str) -> None:
    with pytest.raises(ValidationError, match=match):
        make()  # type: ignore[operator]  # parametrised as an object
