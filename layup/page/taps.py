"""What the page shows and what its buttons do: the bench view as data, and each tap as what `bench.doing` logs."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, replace

from layup.bench.acts import AT_SCALE, KINDS, NOTED, TAKES_TIME, Act, ranked
from layup.bench.afterwards import FIELDS, met_again, note_of, noted, outcome_with, times_to_meet
from layup.bench.alarms import PLAUSIBLE_K
from layup.bench.changes import change_words, last_told, people_changed, take, that_was, when_question, when_s
from layup.bench.day import LogSurface, PressDay, Said
from layup.bench.doing import REPLAN_AFTER, Answer, Question, do, looks, seen, temperature_read, to_be_seen, undo
from layup.bench.dues import dues
from layup.bench.opening import MEASURED, items_of_day, tick_item
from layup.bench.rest import Rest, choices, rest_brief, rest_or_why
from layup.bench.view import (
    SHAPES,
    BenchView,
    act_data,
    bench_view,
    coming,
    looks_on_words,
    press_words,
    title_words,
    until_words,
    view_data,
)
from layup.chemistry.looks import LOOKS
from layup.errors import InputError
from layup.review.evidence import DEFECTS, GOOD
from layup.units import in_minutes, mass, parse, temperature, temperature_hint, temperature_limits, with_unit

BESIDE = ("step", "empty cup", "close", "weigh")
"""What the second button may do while another act is on top, the first that can be done."""
NUDGES_K = (-5.0, -2.0, -1.0, 0.0, 1.0, 2.0)
"""Offered around the last temperature, so that one tap logs it; the plan's own takes the first one's place."""
SAME_K = 0.5
"""Two temperatures nearer than this are one to somebody who reads a thermometer (common practice, no source)."""
MOISTURES = ("6 %", "8 %", "10 %", "12 %", "15 %")
SURFACES = ("phone", "tablet", "browser")
"""What a page says that it stands on; one that says nothing of the kind is called a page."""
AGO_MIN = (2, 5, 10, 15, 30)
"""Offered for what was forgotten, so that one tap tells it."""
TYPED = {"typed": True}
BACK = "BACK"
"""What leaves a question without an answer."""
LEAVE: tuple[str, object] = (BACK, None)
NEXT = "NEXT"
"""What leaves an item of the list open, and goes on to the one after it."""
NO_DAY = {"day": None, "back": BACK, "says": {"act": "NO PRESS DAY RUNS", "foot": "Begin it on the bench computer."}}
"""What the page shows without a day."""
Fields = Mapping[str, object]
Choices = list[tuple[str, object]]
"""What a question may be answered with: words and answer; TYPED for what is typed, None to leave it."""


@dataclass(frozen=True, slots=True)
class PageQuestion:
    """A question as the page shows it; the answer comes back with `kind` and what it is `about`."""

    kind: str
    title: str
    choices: Choices
    about: str = ""
    tap: str = ""
    """The button that the answer goes to, where it is not the one that was tapped."""
    usual: str = ""
    number: str = ""
    typed_words: bool = False
    """Whether what is typed is words, not a number."""


class ChangedError(Exception):
    """The act that was tapped is not on top any more."""


def view_of(day: PressDay) -> dict[str, object]:
    """Return everything that the page shows at this moment."""
    view = bench_view(day)
    standing = ranked(dues(day, view.now_s).standing)
    taken = {act.key for act in (view.act, *view.others)}
    beside = next((act for kind in BESIDE for act in standing if act.kind == kind and act.key not in taken), None)
    beside = beside or next((act for act in view.others if act.kind != "wait"), None)
    steps = day.state.steps
    return {
        **view_data(day, view),
        "says": _says(day, view, beside),
        "beside": act_data(beside) if beside else None,
        "steps_done": sum(step.done_s is not None for step in steps),
        "steps": len(steps),
        "words": list(LOOKS),
        "temperatures": _around(day),
        "to_see": to_be_seen(day) is not None,
        "more": _more(day),
        "back": BACK,
        "fault": day.fault,
        "ended": day.state.ended_s is not None,
    }


def _says(day: PressDay, view: BenchView, beside: Act | None) -> dict[str, object]:
    """Return what the page writes: it adds only the time that is left to what is said here, and that goes by."""
    act, step = view.act, view.step if view.act.kind == "step" else None
    late = SHAPES[act.urgency] + " " if act.is_due else ""
    how = _how(day, act)
    why = ", ".join(part for part in act.why.split(", ") if part not in how.split(", "))
    return {
        "mode": " · ".join(filter(None, (view.mark, looks_on_words(day)))),
        "for": f"{act.person.upper()}   ({view.others[0].person}: {_act_words(view.others[0])})" if view.others else "",
        "act": f"{late}{act.words}",
        "of_number": act.of_number,
        "how": how,
        "aloud": act.aloud,
        "button": _button_words(day, act),
        "beside": _button_words(day, beside) if beside else "",
        "step": [f"step {step.place}/{step.of},", f"of {in_minutes(step.planned_s)}"] if step else None,
        "by": "" if act.deadline_s is None else f"by {day.clock_time(act.deadline_s)},",
        "late": "late",
        "foot": " · ".join(filter(None, (why, f"{NOTED} {act.note}" if act.note else ""))),
        "rings": 0 if act.seen else act.level,
        "then": "then " + " · ".join("".join(coming(day, each)) for each in view.then) if view.then else "",
        "batches": [(title_words(one), until_words(day, one)) for one in (*view.cups, *view.parts)],
        "press": " · ".join((*press_words(day, view)[0], "estimates")),
    }


def _act_words(act: Act) -> str:
    return f"{act.words} {act.amount}".rstrip()


def _how(day: PressDay, act: Act) -> str:
    """Return how much is poured at the scale, and whether it is tared; empty of any other act."""
    return day.readings(act.batch).pour_words if act.kind in AT_SCALE and act.batch is not None else ""


def _button_words(day: PressDay, act: Act) -> str:
    """Return what stands on a button: at the scale all that must be right there; nothing where an act takes time."""
    if act.kind in TAKES_TIME:
        return ""
    how = _how(day, act)
    return "\n".join((act.words, act.amount, how)) if how else _act_words(act)


def _more(day: PressDay) -> list[tuple[str, str, Fields]]:
    """Return what is tapped less often and can be done now: words, button, and what goes with it."""
    state, told = day.state, list[tuple[str, str, Fields]]()
    if not day.mark and (state.ended_s is not None or state.demoulded_s is not None):
        told.append(("HOW IT TURNED OUT", "outcome", {}))
    told.append(("NOTE", "note", {}))
    if state.ended_s is not None:
        return told
    told += [("IT WAS EARLIER", "earlier", {})] if state.undoable is not None else []
    if state.closed_s is not None:
        out = "PLANED" if state.is_casting else "PART IS OUT"
        stays = state.demoulded_s is None and not day.is_dry
        return [
            *([(out, "more", {"kind": "demould"})] if stays else []),
            *told,
            ("END THE DAY", "more", {"kind": "end"}),
        ]
    left: list[tuple[str, str, Fields]] = [("SOMEBODY LEFT", "people", {"by": -1})] if state.people > 1 else []
    lost = [
        (f"BATCH {one.number} LOST", "more", {"kind": "spread outside", "batch": one.number}) for one in day.in_cup()
    ]
    return [
        ("SOMEBODY CAME", "people", {"by": 1}),
        *left,
        ("REPLAN", "replan", {}),
        *lost,
        ("CHECKLIST", "checklist", {}),
        *told,
    ]


def _of_more(day: PressDay, given: Fields) -> Said | Question:
    """Do what is in that list and no act asks for now, with what is asked first."""
    kind = next((one for one in KINDS if one == given.get("kind")), None)
    batch = next((one.number for one in day.in_cup() if one.number == given.get("batch")), None)
    offered = [(fields.get("kind"), fields.get("batch")) for _, name, fields in _more(day) if name == "more"]
    if kind is None or (kind, batch) not in offered:
        raise ChangedError
    return do(day, Act(kind, "", f"cup {batch}" if batch else kind, batch=batch), _answer(given))


def surface_of(given: Fields) -> LogSurface:
    """Return where a tap comes from, as its page says."""
    kind, device = given.get("surface"), given.get("device")
    return LogSurface(str(kind) if kind in SURFACES else "page", device[:40] if isinstance(device, str) else "")


def tap(day: PressDay, name: str, given: Fields) -> dict[str, object]:
    """Do what a button says, and keep on which surface it was logged."""
    before = day.state.seq
    found = TAPS[name](day, given)
    day.entered_on.update(dict.fromkeys(range(before + 1, day.state.seq + 1), surface_of(given)))
    if isinstance(found, Said):
        answer: dict[str, object] = {"said": found.words, "done": found.done}
        following = _following(day, name, given) if found.done else None
        return {**answer, "question": asdict(following)} if isinstance(following, PageQuestion) else answer
    if isinstance(found, Question) and found.kind == "replan":
        found = _replan(day, {})
        if isinstance(found, Said):
            return {"said": found.words, "done": False}
    return {"question": asdict(_as_asked(day, found, name) if isinstance(found, Question) else found)}


def _following(day: PressDay, name: str, given: Fields) -> Said | PageQuestion | None:
    """Return what is asked once a tap was logged: after a lost batch how to go on, of a note when it is met again."""
    asked = given.get("question")
    if name in ("act", "more") and given.get("kind") in REPLAN_AFTER and asked == "laid":
        return _replan(day, {})
    if name == "note" and asked == "note":
        return when_met_again(day, given)
    if name == "checklist":
        return checklist(day, {"about": given.get("about")})
    if name == "outcome" or (given.get("kind") == "end" and not day.mark and day.state.closed_s is not None):
        return outcome(day, {})
    return None


def _about(given: Fields) -> str:
    """Return what somebody said yes to; empty where nobody did."""
    about = given.get("about")
    return about if given.get("answer") is True and isinstance(about, str) else ""


def _as_asked(day: PressDay, found: Question, name: str) -> PageQuestion:
    """Return a question of the bench as the page shows it."""
    usual = mass.digits(found.usual_g) if found.most_g else ""
    title = f"{found.title} (of {mass(found.most_g)})" if found.most_g else found.title
    asked = PageQuestion(found.kind, title, _choices(day, found, name), about=found.about, usual=usual)
    if found.kind == "scale" and found.act.batch is not None:
        readings = day.readings(found.act.batch)
        title = f"Batch {readings.batch}: {readings.pouring}, {found.act.of_number.lower()}"
        return replace(asked, title=title, number=mass(readings.next_g, "g"))
    return asked


def _choices(day: PressDay, asked: Question, name: str) -> Choices:
    """Return what a question of the bench may be answered with."""
    if asked.kind in ("temperature", "core"):
        return [*((words, words) for words in _around(day)), ("AS TYPED", TYPED), LEAVE]
    if asked.kind == "moisture":
        return [*((words, words) for words in MOISTURES), LEAVE]
    if asked.kind == "looks":
        return [*((word, word) for word in LOOKS), LEAVE]
    known: dict[str, Choices] = {
        "scale": [("AS SHOWN", ""), ("AS TYPED", TYPED), LEAVE],
        "laid": [("AS TYPED", TYPED), LEAVE],
        "clock": [("YES", True), ("NO: say it on the bench computer", None)],
        "undo": [("YES, UNDO", True), LEAVE],
    }
    return known.get(asked.kind, [("YES", True), LEAVE if name == "looks" else ("NO", False)])


def _around(day: PressDay) -> list[str]:
    """Return the temperatures that one tap logs."""
    first, *near = (day.air_K + nudge_K for nudge_K in NUDGES_K)
    plan_K = day.state.air[0][1] if day.state.air else first  # what the day was begun with
    far = first if any(abs(plan_K - each) < SAME_K for each in near) else plan_K
    return [temperature(each, ".1f") for each in sorted((far, *near))]


def _act(day: PressDay, given: Fields) -> Said | Question:
    """Do the act that was drawn, if it still stands."""
    view = bench_view(day)
    standing = (view.act, *view.others, *dues(day, view.now_s).standing)
    drawn = tuple(given.get(key) for key in ("kind", "words", "batch", "step"))
    act = next((each for each in standing if each.is_same_as == drawn), None)
    if act is None:
        raise ChangedError
    if act.kind == "look" and act.batch is not None and _about(given) in LOOKS:
        return looks(day, act.batch, _about(given), sure=True)
    if act.kind in AT_SCALE and act.batch is not None and _about(given) and given.get("question") == "sure":
        return day.read_scale(act.batch, _about(given))
    return do(day, replace(act, person=""), _answer(given))


def _answer(given: Fields) -> Answer:
    """Return what was answered to a question, as `do` takes it."""
    answer, kind = given.get("answer"), given.get("question")
    if answer is None or isinstance(answer, bool):
        return answer
    if not isinstance(answer, str) or len(answer) > 40:
        raise InputError("answer", "cannot be read", allowed="yes, no, or a few words")
    if kind == "laid":
        return parse(with_unit(answer, mass.unit), "mass", where="what stays on the part")
    if kind in ("temperature", "core"):
        return _kelvin(answer)
    if kind == "moisture":
        return parse(with_unit(answer, "%"), "fraction", where="moisture of the core")
    if kind == "scale" and given.get("typed") is True and not answer.strip():
        raise InputError("scale reading", "is empty", todo="type what the scale shows, or tap AS SHOWN")
    if kind == "looks" and answer not in LOOKS:
        raise InputError("looks", "is no word for it", value=answer, allowed=", ".join(LOOKS))
    return answer


def _kelvin(text: str) -> float:
    """Return the temperature of a shop that somebody says; InputError for one that no shop has."""
    kelvin = parse(with_unit(text, temperature.unit), "temperature", where="temperature")
    low_K, high_K = PLAUSIBLE_K["air"]
    if not low_K <= kelvin <= high_K:
        raise InputError("temperature", "is out of range", value=text, allowed=temperature_limits(low_K, high_K, ""))
    return kelvin


def _people(day: PressDay, given: Fields) -> Said | PageQuestion:
    """Say what somebody who comes or leaves does, and log it once somebody said yes to that."""
    by = given.get("by")
    if by not in (1, -1):
        raise InputError("people", "come or leave one by one", value=str(by)[:20], allowed="1, -1")
    title, change = people_changed(day, 1 if by == 1 else -1)
    if isinstance(change, str):
        return Said(f"not now: {change}", False)
    if _about(given) == title:
        return take(day, change)
    words = "\n".join([title, *change_words(day, change)])
    return PageQuestion("people", words, [("YES, LOG IT", True), LEAVE], about=title)


def _replan(day: PressDay, given: Fields) -> Said | PageQuestion:
    """Ask how the rest of the day goes on, then whether that is sure; what is gone meanwhile is asked anew."""
    rest = rest_or_why(day)
    if isinstance(rest, str):
        return Said(rest, False)
    asked, answer = given.get("question"), given.get("answer")
    ways = {way.words: way for way in rest.ways}
    if asked == "take" and (way := ways.get(_about(given))) is not None:
        return take(day, way.change)
    if asked == "replan" and answer is False:
        act = next((act for act in dues(day, day.now_s()).standing if act.kind == "replan" and not act.seen), None)
        return Said("batches stay as they are", False) if act is None else seen(day, act)
    if asked == "replan" and isinstance(answer, str) and (way := ways.get(answer)) is not None:
        words = "\n".join([way.words, *change_words(day, way.change)])
        return PageQuestion("take", words, [("YES, TAKE IT", True), LEAVE], way.words, "replan")
    return PageQuestion("replan", "\n".join(rest_brief(day, rest)), _ways_on(day, rest), tap="replan")


def _ways_on(day: PressDay, rest: Rest) -> Choices:
    """Return the ways on as the app names them, the columns of its list joined."""
    offered = choices(day, rest) if rest.ways else []
    named = [(re.sub(" {3,}", " · ", words), way) for _, way, words in offered]
    found: Choices = [(words, False if way == "no" else rest.ways[int(way)].words) for words, way in named]
    return [*found, LEAVE]


def _looks(day: PressDay, given: Fields) -> Said | Question:
    batch, word = given.get("batch"), given.get("word")
    if not isinstance(batch, int) or isinstance(batch, bool) or day.state.batch(batch) is None:
        raise InputError("batch", "is not in this session", value=batch)
    if not isinstance(word, str) or word not in LOOKS:
        raise InputError("looks", "is no word for it", value=str(word)[:20], allowed=", ".join(LOOKS))
    return looks(day, batch, word, sure=given.get("answer") is True)


def _temperature(day: PressDay, given: Fields) -> Said:
    said = given.get("value")
    if not isinstance(said, str) or len(said) > 20:
        raise InputError("temperature", "cannot be read", allowed=temperature_hint())
    return temperature_read(day, "air", _kelvin(said))


# -- beside the acts -----------------------------------------------------------------------------------------------


def note(day: PressDay, given: Fields) -> Said | PageQuestion:
    """Ask for a note and keep it, once; then log when it is met again."""
    asked, answer, about = (given.get(key) for key in ("question", "answer", "about"))
    if not isinstance(answer, str):
        keep: Choices = [("KEEP IT", TYPED), LEAVE]
        return PageQuestion("note", "Note: what is worth knowing next time", keep, typed_words=True)
    if asked == "again" and isinstance(about, str):
        return met_again(day, about, answer)
    if day.state.notes and day.state.notes[-1].text == note_of(answer).text:
        return Said("noted already", False)
    return noted(day, answer)


def outcome(day: PressDay, given: Fields) -> Said | PageQuestion:
    """Ask how the part turned out, word by word, and keep each once."""
    answer, before = given.get("answer"), day.state.outcome
    if isinstance(answer, str):
        event = outcome_with(day.state, answer)
        return Said(f"{answer}: noted already", False) if event is None else day.log(event, event.describe())
    tags = () if before is None else before.tags
    words: Choices = [(word, word) for word in (GOOD, *DEFECTS) if word not in tags]
    title = ": ".join(filter(None, (FIELDS[0].title, ", ".join(tags))))
    return PageQuestion("outcome", title, [*words, ("DONE", None)], tap="outcome")


def earlier(day: PressDay, given: Fields) -> Said | PageQuestion:
    """Ask when the last entry by hand happened, and give that entry, once, the time that is said."""
    seq, answer, about = last_told(day), given.get("answer"), given.get("about")
    if isinstance(answer, str) and len(answer) <= 40 and isinstance(about, str) and about.isdecimal():
        return that_was(day, when_s(day, answer), int(about))
    if seq is None:
        return Said("not now: there is no entry yet", False)
    ago: Choices = [(f"{each} min ago", f"{each}") for each in AGO_MIN if 60.0 * each <= day.now_s()]
    return PageQuestion("earlier", when_question(day, seq), [*ago, ("AS TYPED", TYPED), LEAVE], about=f"{seq}")


def when_met_again(day: PressDay, given: Fields) -> PageQuestion:
    """Ask when a note that was just kept is met again."""
    times: Choices = [(words, step) for step, words in times_to_meet(day)]
    return PageQuestion("again", "Meet this note again next time?", times, about=str(given.get("answer")))


def checklist(day: PressDay, given: Fields) -> Said | PageQuestion:
    """Show the first item that is open, or the next one after what it is about; tick one, once, measured where it is.

    LayupError where the plan cannot be worked out, or a number cannot be read.
    """
    items, answer, about = items_of_day(day), given.get("answer"), given.get("about")
    here = next((place for place, item in enumerate(items) if item.key == about), -1)
    if here >= 0 and answer is not None and answer != NEXT:
        item = items[here]
        if item.key in day.state.ticks:
            return Said(f"{item.short}: ticked already", False)
        if item.key not in MEASURED:
            return tick_item(day, item) if answer is True else Said("not ticked", False)
        share = parse(with_unit(str(answer)[:20], "%"), "fraction", where=MEASURED[item.key])
        return tick_item(day, item, share)
    ahead = [item for item in (*items[here + 1 :], *items[: here + 1]) if item.key not in day.state.ticks]
    if not ahead:
        return Said(f"CHECKLIST {len(items)}/{len(items)}", False)
    item, done = ahead[0], sum(item.key in day.state.ticks for item in items)
    tick: tuple[str, object] = ("AS TYPED", TYPED) if item.key in MEASURED else ("TICK", True)
    asked = f"\n{MEASURED[item.key]}, %" if item.key in MEASURED else ""
    title = f"CHECKLIST {done}/{len(items)}\n{item.group}\n{item.words}{asked}"
    return PageQuestion("checklist", title, [tick, (NEXT, NEXT), LEAVE], item.key, "checklist")


TAPS: dict[str, Callable[[PressDay, Fields], Said | Question | PageQuestion]] = {
    "act": _act,
    "seen": lambda day, _: seen(day),
    "undo": lambda day, given: undo(day, surface_of(given), _about(given)),
    "people": _people,
    "replan": _replan,
    "note": note,
    "earlier": earlier,
    "outcome": outcome,
    "checklist": checklist,
    "looks": _looks,
    "temperature": _temperature,
    "more": _of_more,
}
"""Every button of the page."""
