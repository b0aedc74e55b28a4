"""What the page takes off the laptop: who is there, the rest planned anew, undo across surfaces."""

from argparse import ArgumentParser

import pytest
from scripted_days import day_of, loses, mixes
from simulate.shop import Day, desk_for, workshop

from layup.bench.afterwards import noted, times_to_meet
from layup.bench.changes import change_words, last_told, people_changed, take
from layup.bench.day import HERE, LogSurface
from layup.bench.doing import Question, temperature_read, undo
from layup.bench.forecast import out_likely_s
from layup.bench.opening import MEASURED, begin, items_of_day, tick_item
from layup.bench.rest import choices, rest_brief, rest_or_why
from layup.commands import serve
from layup.errors import InputError
from layup.page.taps import BACK, ChangedError, view_of
from layup.page.taps import tap as tapped
from layup.review.evidence import DEFECTS, GOOD
from layup.session.batch_events import Demoulded, PressClosed
from layup.session.clock import SystemClock
from layup.session.day_events import Note, SessionEnded
from layup.session.state import Outcome
from layup.session.state_parts import PLAYED
from layup.units import parse, temperature

PHONE, TABLET = LogSurface("phone", "a"), LogSurface("tablet", "b")


def tap(day, name: str, given: dict, surface: LogSurface) -> dict:
    return tapped(day, name, {**given, "surface": surface.kind, "device": surface.device})


def words_of(asked: dict) -> list[str]:
    return [words for words, _ in asked["question"]["choices"]]


def answer(day, asked: dict, name: str, choice: str, surface: LogSurface = PHONE, **fields) -> dict:
    """Tap one of the choices of a question, as the page's script does."""
    question = asked["question"]
    chosen = next(value for said, value in question["choices"] if said.startswith(choice))
    assert chosen is not None, f"{choice!r} sends nothing"
    given = {**fields, "question": question["kind"], "about": question["about"], "answer": chosen}
    return tap(day, question["tap"] or name, given, surface)


def more_of(day) -> list[str]:
    return [words for words, _, _ in view_of(day)["more"]]


# -- what no act asks for ------------------------------------------------------------------------------------------


def test_the_phone_says_a_batch_lost_types_a_temperature_takes_the_part_out_and_ends_the_day_each_with_its_question():
    day = day_of()
    assert "BATCH 1 LOST" not in more_of(day)
    mixes(1)(day)
    assert tap(day, "temperature", {"value": "12,5"}, PHONE)["done"]
    assert day.state.air[-1][1] == pytest.approx(285.65)
    assert "BATCH 1 LOST" in more_of(day)
    asked = tap(day, "more", {"kind": "spread outside", "batch": 1}, PHONE)
    assert asked["question"]["kind"] == "laid"
    lost = tap(day, "more", {"kind": "spread outside", "batch": 1, "question": "laid", "answer": "40"}, PHONE)
    assert lost["done"]
    assert lost["question"]["kind"] == "replan", "how the rest of the day goes on is asked next"
    assert (day.state.batch(1).status, day.state.batch(1).lost_laid_g) == ("lost", 40.0)
    assert day.state.batch(1).lost_why == "other", "its time had not come"
    with pytest.raises(ChangedError, match=r"^$"):
        tap(day, "more", {"kind": "end"}, PHONE)
    assert day.log(PressClosed(), "").done
    assert more_of(day) == ["PART IS OUT", "NOTE", "IT WAS EARLIER", "END THE DAY"]
    asked = tap(day, "more", {"kind": "demould"}, PHONE)
    assert "pressure off first" in asked["question"]["title"]
    assert asked["question"]["title"].startswith("▲ By the estimate: LEAVE IT CLOSED, it is LIQUID still."), (
        "as the app says"
    )
    assert not answer(day, asked, "more", "NO", kind="demould")["done"]
    assert answer(day, asked, "more", "YES", kind="demould")["done"]
    asked = tap(day, "more", {"kind": "end"}, PHONE)
    assert answer(day, asked, "more", "YES", kind="end")["done"]
    assert more_of(day) == ["HOW IT TURNED OUT", "NOTE"]


# -- people ----------------------------------------------------------------------------------------------------------


def test_a_helper_who_leaves_is_said_in_the_words_of_the_app_and_logged_on_the_second_tap():
    day, keys = day_of(), day_of()
    mixes(1)(day)
    mixes(1)(keys)
    title, change = people_changed(keys, -1)
    asked = tap(day, "people", {"by": -1}, PHONE)
    assert title == "Somebody left: 1 at the bench"
    assert asked["question"]["title"] == "\n".join([title, *change_words(keys, change)])
    assert day.state.people == 2
    said = answer(day, asked, "people", "YES", by=-1)
    assert said == {"said": take(keys, change).words, "done": True}
    assert day.state.people == keys.state.people == 1
    assert view_of(day)["press"] == view_of(keys)["press"]


def test_who_cannot_come_or_leave_is_not_offered_and_refused_in_words():
    day = day_of()
    assert more_of(day)[:2] == ["SOMEBODY CAME", "SOMEBODY LEFT"]
    answer(day, tap(day, "people", {"by": -1}, PHONE), "people", "YES", by=-1)
    assert "SOMEBODY LEFT" not in more_of(day)
    assert tap(day, "people", {"by": -1}, PHONE) == {"said": "not now: one is at the bench at least", "done": False}
    day.log(PressClosed(), "")
    assert not {"SOMEBODY CAME", "SOMEBODY LEFT", "REPLAN"} & set(more_of(day))
    assert "the press is closed" in tap(day, "people", {"by": 1}, PHONE)["said"]


def test_a_yes_to_what_another_surface_changed_meanwhile_is_asked_again():
    day = day_of()
    first = tap(day, "people", {"by": 1}, PHONE)
    answer(day, tap(day, "people", {"by": 1}, TABLET), "people", "YES", TABLET, by=1)
    again = answer(day, first, "people", "YES", by=1)
    assert again["question"]["title"].startswith("Somebody came: 4 at the bench")
    assert day.state.people == 3


# -- the rest planned anew --------------------------------------------------------------------------------------------


def test_the_page_offers_the_ways_on_of_the_app_and_takes_one_on_the_second_tap():
    day = day_of()
    mixes(1)(day)
    loses(1)(day)
    rest = rest_or_why(day)
    asked = tap(day, "replan", {}, PHONE)
    assert asked["question"]["title"] == "\n".join(rest_brief(day, rest))
    assert [words.split(" · ") for words in words_of(asked)[:-1]] == [
        [part.strip() for part in words.split("   ") if part.strip()] for _, _, words in choices(day, rest)
    ]
    assert words_of(asked)[-1] == BACK
    before, way = day.state.seq, rest.ways[0]
    sure = answer(day, asked, "replan", way.words)
    assert day.state.seq == before, "one tap takes nothing"
    assert sure["question"]["title"].splitlines() == [way.words, *change_words(day, way.change)]
    said = answer(day, sure, "replan", "YES")
    assert said["done"]
    assert tuple(one.plan.mass_g for one in day.state.batches if one.status == "to mix") == way.mix_g


def test_batches_that_are_kept_quieten_the_act_and_change_nothing():
    day = day_of()
    mixes(1)(day)
    loses(1)(day)
    planned = [one.plan for one in day.state.batches]
    act = next(act for act in (view_of(day)["act"], *view_of(day)["others"]) if act["kind"] == "replan")
    drawn = {key: act[key] for key in ("kind", "words", "batch", "step")}
    asked = tap(day, "act", drawn, PHONE)
    assert asked["question"]["tap"] == "replan", "the act asks what the button asks"
    said = answer(day, asked, "act", "keep batches", **drawn)
    assert said["said"].startswith("seen: ")
    assert [one.plan for one in day.state.batches] == planned


def test_a_way_on_that_is_gone_meanwhile_is_asked_anew():
    day = day_of()
    mixes(1)(day)
    loses(1)(day)
    first = tap(day, "replan", {}, PHONE)
    sure = answer(day, first, "replan", "mix ")
    mixes(2)(day)
    before = day.state.seq
    assert "question" in answer(day, sure, "replan", "YES")
    assert day.state.seq == before


def test_a_batch_carried_outside_is_followed_by_the_question_how_to_go_on():
    day = day_of()
    mixes(1)(day)
    day.observed(1, "gelled")
    act = view_of(day)["act"]
    assert act["kind"] == "spread outside"
    drawn = {key: act[key] for key in ("kind", "words", "batch", "step")}
    done = tap(day, "act", {**drawn, "question": "laid", "answer": "0"}, PHONE)
    assert done["done"]
    assert day.state.batch(1).lost_s is not None
    assert done["question"]["tap"] == "replan"
    assert answer(day, answer(day, done, "act", "mix "), "act", "YES")["done"]


def test_a_closed_press_leaves_nothing_to_plan_on_the_page():
    day = day_of()
    day.log(PressClosed(), "")
    assert tap(day, "replan", {}, PHONE) == {
        "said": "not now: the press is closed - there is nothing left to plan",
        "done": False,
    }


# -- undo -------------------------------------------------------------------------------------------------------------


def test_undo_asks_before_it_takes_back_what_another_surface_logged():
    day = day_of()
    day.log(Note(text="the tip lifts"), "")
    asked = tap(day, "undo", {}, PHONE)
    assert asked["question"]["title"] == "Take back note: the tip lifts, from the bench computer?"
    before = day.state.seq
    assert answer(day, asked, "undo", "YES")["said"].startswith("taken back: ")
    assert day.state.seq == before + 1


def test_undo_of_ones_own_entry_is_one_tap_and_the_app_asks_about_a_tap():
    day = day_of()
    tap(day, "temperature", {"value": "18"}, PHONE)
    assert isinstance(found := undo(day, HERE), Question)
    assert found.title.endswith(", from the phone?")
    assert undo(day, HERE, sure_of=found.about).done, "a yes takes it back"
    tap(day, "temperature", {"value": "18"}, PHONE)
    assert tap(day, "undo", {}, PHONE)["done"]
    day.log(Note(text="by hand"), "")
    assert undo(day, HERE).done


def test_two_phones_are_told_apart():
    day = day_of()
    tap(day, "temperature", {"value": "18"}, PHONE)
    asked = tap(day, "undo", {}, LogSurface("phone", "b"))
    assert asked["question"]["title"].endswith(", from another phone?")


def test_a_yes_takes_back_only_the_entry_that_was_asked_about():
    day = day_of()
    day.log(Note(text="one"), "")
    asked = tap(day, "undo", {}, PHONE)
    day.log(Note(text="two"), "")
    again = answer(day, asked, "undo", "YES")
    assert "two" in again["question"]["title"]
    assert day.state.undoable == day.state.seq


# -- a reading after the closing --------------------------------------------------------------------------------------


def test_a_temperature_of_a_closed_press_says_how_it_moves_the_time_of_the_part_out_also_once_the_day_is_ended():
    day = day_of()
    mixes(1)(day)
    assert "every countdown follows it" in tap(day, "temperature", {"value": "19"}, PHONE)["said"]
    day.poured_out(1)
    day.log(PressClosed(), "")
    day.log(SessionEnded(), "")
    before = day.clock_time(out_likely_s(day))
    said = tap(day, "temperature", {"value": "30"}, PHONE)["said"]
    after = day.clock_time(out_likely_s(day))
    assert after != before
    assert said == f"air at {temperature(303.15, '.1f')}: out ≈ {after}, was {before}"
    assert tap(day, "temperature", {"value": "30"}, PHONE)["said"] == f"air at {temperature(303.15, '.1f')}"


# -- looking on -------------------------------------------------------------------------------------------------------


def test_a_page_beside_a_running_app_says_first_of_all_how_to_come_to_one_that_logs(tmp_path, monkeypatch, capsys):
    root = workshop(tmp_path)
    desk = desk_for(root, Day(people=2, temperature_K=293.15))
    running = begin(desk, desk.figures, SystemClock())

    async def nothing(_server, _day) -> None:
        shown.append(view_of(_day))

    shown: list[dict] = []
    monkeypatch.setattr(serve, "_serve", nothing)
    words = "Looking on: the app writes. To tap: end layup serve, press 9 in the app"
    for given, said in (([], words), (["--watch"], "Looking on, as asked. To tap: start it without --watch")):
        parser = ArgumentParser()
        serve.add_arguments(parser)
        assert serve.run(parser.parse_args([*given, "--workshop", str(root)])) == 0
        assert capsys.readouterr().out.splitlines()[0] == said
        assert shown.pop()["says"]["mode"] == said
    running.close()
    assert serve.run(parser.parse_args(["--workshop", str(root)])) == 0
    assert "it may log" in capsys.readouterr().out
    assert shown.pop()["says"]["mode"] == ""


# -- what is told --------------------------------------------------------------------------------------------------


def test_a_note_is_typed_on_the_page_and_kept_once_and_may_be_met_again_next_time():
    day, keys = day_of(), day_of()
    mixes(1)(day)
    mixes(1)(keys)
    assert "NOTE" in more_of(day)
    asked = tap(day, "note", {}, PHONE)
    assert asked["question"]["typed_words"], "words, not a number"
    assert words_of(asked) == ["KEEP IT", BACK]
    said = tap(day, "note", {"question": "note", "answer": "the left edge wants more mix", "typed": True}, PHONE)
    assert said["said"] == noted(keys, "the left edge wants more mix").words
    assert day.state.notes[-1].text == "the left edge wants more mix"
    again = tap(day, "note", {"question": "note", "answer": "the left edge wants more mix", "typed": True}, PHONE)
    assert (again["done"], len(day.state.notes)) == (False, 1), "a tap that was not heard to arrive"
    assert words_of(said) == [words for _, words in times_to_meet(day)]
    step = day.state.step_now.plan.name
    assert answer(day, said, "note", "yes: at")["done"]
    assert [(one.text, one.step) for one in day.state.carried] == [("the left edge wants more mix", step)]
    with pytest.raises(InputError, match="says nothing"):
        tap(day, "note", {"question": "note", "answer": "  ", "typed": True}, PHONE)


def test_an_entry_told_to_be_earlier_is_given_its_time_once_and_no_other_entry_is():
    day = day_of()
    assert "IT WAS EARLIER" in more_of(day)
    assert day.read_scale(1, "").done
    day.clock.advance(900.0)
    assert day.hardener_in(1).done
    asked = tap(day, "earlier", {}, PHONE)
    start = day.state.record(last_told(day))
    assert asked["question"]["title"].endswith(start.describe_in(day.state)), "the clock of the cup, as in the app"
    assert words_of(asked)[-2:] == ["AS TYPED", BACK]
    said = answer(day, asked, "earlier", "10 min ago")
    assert said["done"]
    assert day.now_s() - day.state.batch(1).mixed_s == pytest.approx(600.0)
    again = answer(day, asked, "earlier", "10 min ago")
    assert not again["done"], "a tap that was not heard to arrive"
    assert day.now_s() - day.state.batch(1).mixed_s == pytest.approx(600.0)


def test_an_entry_logged_since_the_question_keeps_its_time_and_minutes_are_typed_as_in_the_app():
    day = day_of()
    assert day.read_scale(1, "").done
    day.clock.advance(900.0)
    assert day.hardener_in(1).done
    asked = tap(day, "earlier", {}, PHONE)
    assert temperature_read(day, "air", 290.0).done
    given = {"question": "earlier", "about": asked["question"]["about"], "typed": True}
    with pytest.raises(InputError, match="does not start with a number"):
        tap(day, "earlier", {**given, "answer": "never"}, PHONE)
    assert tap(day, "earlier", {**given, "answer": "6"}, PHONE)["done"]
    assert day.now_s() - day.state.batch(1).mixed_s == pytest.approx(360.0)
    assert day.state.air[-1][0] == day.now_s()
    assert words_of(tap(day_of_minutes(3.0), "earlier", {}, PHONE))[:1] == ["2 min ago"]
    assert "5 min ago" not in words_of(tap(day_of_minutes(3.0), "earlier", {}, PHONE)), "before the day began"


def day_of_minutes(minutes: float):
    """Return a day on which a temperature was read after some minutes."""
    day = day_of()
    day.clock.advance(60.0 * minutes)
    assert temperature_read(day, "air", 290.0).done
    return day


def closed_and_out():
    """Return a day whose part is out of the mould."""
    day = day_of()
    for event in (PressClosed(), Demoulded()):
        assert day.log(event, "").done
    return day


def test_the_end_of_the_day_is_followed_by_how_it_turned_out_one_word_a_tap_each_kept_once():
    day = closed_and_out()
    assert "HOW IT TURNED OUT" in more_of(day)
    asked = tap(day, "more", {"kind": "end"}, PHONE)
    asked = answer(day, asked, "more", "YES", kind="end")
    assert asked["question"]["title"] == "How it turned out"
    assert words_of(asked) == [GOOD, *DEFECTS, "DONE"]
    asked = answer(day, asked, "more", "twist")
    assert asked["question"]["title"] == "How it turned out: twist", "another word may be added"
    assert "twist" not in words_of(asked)
    asked = answer(day, asked, "more", "void")
    assert day.state.outcome.tags == ("twist", "void")
    before = day.state.seq
    assert not tap(day, "outcome", {"question": "outcome", "answer": "void"}, PHONE)["done"]
    assert day.state.seq == before, "a tap that was not heard to arrive"
    assert more_of(day) == ["HOW IT TURNED OUT", "NOTE"], "it may be said later, too"
    answer(day, tap(day, "outcome", {}, TABLET), "outcome", GOOD, TABLET)
    assert day.state.outcome.tags == (GOOD,), "good, and no defect beside it"
    answer(day, tap(day, "outcome", {}, TABLET), "outcome", "foam", TABLET)
    assert day.state.outcome.tags == ("foam",)
    with pytest.raises(InputError, match="no word for it"):
        tap(day, "outcome", {"question": "outcome", "answer": "lovely"}, PHONE)


def test_how_it_turned_out_keeps_the_words_of_the_app_and_is_not_asked_of_a_day_that_counts_for_nothing():
    day = closed_and_out()
    assert day.log(Outcome(tags=("dry spot", "left edge"), notes="see the photo"), "").done
    answer(day, tap(day, "outcome", {}, PHONE), "outcome", "void")
    assert (day.state.outcome.tags, day.state.outcome.notes) == (("dry spot", "left edge", "void"), "see the photo")
    assert "HOW IT TURNED OUT" not in more_of(day_of()), "nothing is out yet"
    day.log(Note(text=f"{PLAYED}an invented day"), "")
    assert "HOW IT TURNED OUT" not in more_of(day)


def test_the_temperatures_that_one_tap_logs_are_those_that_are_likely_and_no_more_than_six():
    day = day_of(celsius=20.0)

    def offered() -> list[float]:
        return [round(parse(words, "temperature", where="") - 273.15, 1) for words in view_of(day)["temperatures"]]

    assert offered() == [15.0, 18.0, 19.0, 20.0, 21.0, 22.0], "the plan's own is the last reading"
    day.clock.advance(600.0)
    assert tap(day, "temperature", {"value": "16"}, PHONE)["done"]
    assert offered() == [14.0, 15.0, 16.0, 17.0, 18.0, 20.0], "the plan's, which the heater brings back"
    assert tap(day, "temperature", {"value": "26"}, PHONE)["done"]
    assert offered() == [20.0, 24.0, 25.0, 26.0, 27.0, 28.0]
    assert "TEMPERATURE: TYPE IT" not in more_of(day), "it stands beside them"


def test_the_list_before_you_start_is_read_and_ticked_item_by_item_each_once():
    day, keys = day_of(), day_of()
    assert "CHECKLIST" in more_of(day)
    items = items_of_day(day)
    asked = tap(day, "checklist", {}, PHONE)
    assert asked["question"]["title"] == f"CHECKLIST 0/{len(items)}\n{items[0].group}\n{items[0].words}"
    assert words_of(asked) == ["TICK", "NEXT", BACK]
    said = answer(day, asked, "checklist", "TICK")
    assert tick_item(keys, items[0]).words == said["said"], "as the app logs it"
    assert list(day.state.ticks) == list(keys.state.ticks) == [items[0].key]
    assert said["question"]["about"] == items[1].key, "the next one follows"
    before = day.state.seq
    assert not answer(day, asked, "checklist", "TICK")["done"], "a tap that was not heard to arrive"
    assert day.state.seq == before
    skipped = answer(day, said, "checklist", "NEXT")
    assert (skipped["question"]["about"], day.state.seq) == (items[2].key, before)
    for item in items:
        if item.key not in day.state.ticks and item.key not in MEASURED:
            assert tap(day, "checklist", {"question": "checklist", "about": item.key, "answer": True}, PHONE)["done"]
    for key in MEASURED:
        asked = tap(day, "checklist", {}, PHONE)
        if "question" in asked:
            assert "AS TYPED" in words_of(asked)
            given = {"question": "checklist", "about": asked["question"]["about"], "typed": True}
            with pytest.raises(InputError, match="does not start with a number"):
                tap(day, "checklist", {**given, "answer": "wet"}, PHONE)
            assert tap(day, "checklist", {**given, "answer": "9"}, PHONE)["done"]
            assert asked["question"]["about"] in day.state.ticks, key
    assert tap(day, "checklist", {}, PHONE)["said"] == f"CHECKLIST {len(items)}/{len(items)}"
    assert day.log(PressClosed(), "").done
    assert "CHECKLIST" not in more_of(day)
