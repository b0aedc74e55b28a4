"""Enter afterwards what happened on a press day: what was forgotten, or a day that was kept on paper."""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import timedelta
from math import inf
from pathlib import Path
from shutil import rmtree

from pydantic import ValidationError

from layup.bench.changes import as_of, left_over
from layup.bench.day import PressDay
from layup.bench.opening import as_kept, begin
from layup.bench.planner import Planner
from layup.chemistry.looks import ONE_LOOK
from layup.commands.command import SESSION_HELP, quantity, said_back, takes, temperature_K, whole_number
from layup.errors import InputError, LayupError
from layup.files.workshop import Workshop
from layup.planning.crew import MOST_PEOPLE
from layup.session.archive import stored_session
from layup.session.batch_events import (
    BatchLost,
    BatchMixed,
    BatchPouredOut,
    CupTemperatureRead,
    Demoulded,
    MixLeft,
    Observation,
    PourRead,
    PressClosed,
    Retightened,
    StepDone,
    Tightened,
)
from layup.session.clock import TOLD, EarlierClock, SystemClock, told_s
from layup.session.day_events import (
    HumidityRead,
    Note,
    PeopleChanged,
    SessionEnded,
    StepAdded,
    StepMerged,
    StepSkipped,
    TemperatureRead,
    next_left,
)
from layup.session.journal import Journal
from layup.session.lifetimes import UNLOGGED_K
from layup.session.mass_balance import doubt
from layup.session.records import as_logged, extend, refusal
from layup.session.state import Event, SessionState
from layup.session.state_parts import BatchState, in_effect, last_read
from layup.session.text import NOTE_LIMIT, clean
from layup.units import clock_time

EXAMPLE = (
    'layup enter 2026-03-07-touring-skis-168 "note left off the log: the second roller was dry"   '
    'layup enter touring-skis --began "20 min ago" "2 min scale 1 200 g 60 g" "3 min hardener 1" "12 min done"'
)
YEAR_S = 366 * 86_400.0
"""No day that is entered began longer ago."""
_MASSES = re.compile(r"\d[\d.,]* ?[a-zA-Z]+")
_ADDED = re.compile(r"(\d[\d.,]* ?(?:min|s)) (?:(\d[\d.,]* ?(?:g|oz)) )?(.+)")


@dataclass(frozen=True, slots=True)
class EntryWords:
    """What one entry says after its verb, with the state of the day at that time."""

    verb: str
    words: list[str]
    state: SessionState
    at_s: float

    @property
    def rest(self) -> str:
        """All words behind the verb, or behind its number."""
        return " ".join(self.words)

    def number(self, of: str) -> int:
        """Take the number that comes first."""
        if not self.words:
            raise InputError(self.verb, f"says no {of}", allowed=FORMS[self.verb][0])
        return whole_number(self.words.pop(0), where=of, high=1_000_000)

    def batch(self) -> BatchState:
        """Take the batch that comes first."""
        number = self.number("batch")
        batch = self.state.batch(number)
        if batch is None:
            known = ", ".join(str(each.number) for each in self.state.batches)
            raise InputError(self.verb, "names no batch of this day", value=number, allowed=known)
        return batch

    def masses_g(self, least: int, most: int) -> list[float]:
        """Take the masses that follow."""
        found = [quantity(mass, "mass", [], where=self.verb) for mass in _MASSES.findall(self.rest)]
        if not least <= len(found) <= most or _MASSES.sub("", self.rest).strip():
            raise InputError(self.verb, "is not understood", value=self.rest, allowed=FORMS[self.verb][0])
        return found

    def warmth_K(self, high_C: float = 60.0) -> float:
        """Take the temperature that follows."""
        return temperature_K(self.rest, [], where=self.verb, within_C=(-30.0, high_C))


def _scale(said: EntryWords) -> Event:
    number = said.batch().number
    resin_g, hardener_g = (*said.masses_g(1, 2), 0.0)[:2]
    return PourRead(batch=number, resin_g=resin_g, hardener_g=hardener_g)


def _hardener(said: EntryWords) -> Event:
    batch, plan = (one := said.batch()), one.plan
    given = said.masses_g(0, 2)
    resin_g = given[0] if given else batch.resin_g or plan.resin_g
    read_g = given[1] if len(given) == 2 else batch.hardener_g
    hardener_g = read_g or resin_g * plan.hardener_g / plan.resin_g
    return BatchMixed(batch=batch.number, resin_g=resin_g, hardener_g=hardener_g, start_K=_mix_K(said.state, said.at_s))


def _mix_K(state: SessionState, at_s: float) -> float:
    """Return how warm a mix was as it was stirred: the cans as last read by then, or the shop."""
    return last_read(in_effect(state.resin, at_s, at_s) or in_effect(state.air, at_s, at_s)) or UNLOGGED_K


def _done(said: EntryWords) -> Event:
    step = said.state.step_now
    if said.words:
        return StepDone(step=said.number("step"))
    if step is None:
        raise InputError(said.verb, "names no step, and every one is done", allowed=FORMS[said.verb][0])
    return StepDone(step=step.number)


def _merge(said: EntryWords) -> Event:
    step = said.number("step")
    following = next_left(said.state, step)
    return StepMerged(step=step, into_step=step if following is None else following.number)


def _add(said: EntryWords) -> Event:
    before = said.number("step")
    found = _ADDED.fullmatch(said.rest)
    if found is None:
        raise InputError(said.verb, "is not understood", value=said.rest, allowed=FORMS[said.verb][0])
    mix_g = quantity(found[2], "mass", [], where="mix") if found[2] else 0.0
    return StepAdded(
        step=max((step.number for step in said.state.steps), default=0) + 1,
        name=found[3],
        kind="bond" if mix_g else "place",
        planned_s=quantity(found[1], "time", [], where="minutes"),
        mix_g=mix_g,
        before_step=before,
    )


def _lost(said: EntryWords) -> Event:
    number = said.batch().number
    laid = _MASSES.search(said.rest)
    laid_g = quantity(laid[0], "mass", [], where="on the part") if laid else None
    return BatchLost(batch=number, why=" ".join(_MASSES.sub("", said.rest).split()), laid_g=laid_g)


def _reading(said: EntryWords) -> Event:
    return TemperatureRead.model_validate({"place": said.verb, "temperature_K": said.warmth_K()})


FORMS: dict[str, tuple[str, Callable[[EntryWords], Event]]] = {
    "scale": ("scale BATCH RESIN [HARDENER], each as poured: scale 1 200 g 60 g", _scale),
    "hardener": ("hardener BATCH [RESIN HARDENER], as it touched the resin: hardener 1", _hardener),
    "empty": ("empty BATCH, its cup: empty 1", lambda said: BatchPouredOut(batch=said.batch().number)),
    "done": ("done [STEP], the next one where none is named: done 4", _done),
    "skip": (
        "skip STEP [WHY], left out: skip 12 veneer broke",
        lambda said: StepSkipped(step=said.number("step"), why=said.rest),
    ),
    "merge": ("merge STEP, laid together with the next: merge 5", _merge),
    "add": ("add STEP MINUTES [MIX] NAME, before a step: add 8 3 min 20 g a patch", _add),
    "lost": ("lost BATCH [ON THE PART] WHY: lost 2 40 g gelled", _lost),
    "looks": (
        f"looks BATCH {ONE_LOOK}: looks 1 runny",
        lambda said: Observation.model_validate({"batch": said.batch().number, "word": said.rest}),
    ),
    "air": ("air TEMPERATURE: air 19.5 C", _reading),
    "resin": ("resin TEMPERATURE, of the cans: resin 20 C", _reading),
    "mould": ("mould TEMPERATURE: mould 22 C", _reading),
    "cup": (
        "cup BATCH TEMPERATURE, of the mix: cup 1 38 C",
        lambda said: CupTemperatureRead(batch=said.batch().number, temperature_K=said.warmth_K(250.0)),
    ),
    "humidity": (
        "humidity SHARE: humidity 55 %",
        lambda said: HumidityRead(relative_humidity=quantity(said.rest, "fraction", [], where=said.verb)),
    ),
    "people": ("people NUMBER, from then on: people 1", lambda said: PeopleChanged(people=said.number("people"))),
    "closed": ("closed, the press", lambda _: PressClosed()),
    "tightened": ("tightened, a round of clamps or a step of pressure", lambda _: Tightened()),
    "retightened": ("retightened, gone round again or the gauge read", lambda _: Retightened()),
    "left": (
        "left BATCH MASS, in its cup once its steps are laid: left 1 40 g",
        lambda said: MixLeft(batch=said.batch().number, left_in_cup_g=said.masses_g(1, 1)[0]),
    ),
    "out": ("out, the part", lambda _: Demoulded()),
    "ended": ("ended, the session", lambda _: SessionEnded()),
    "note": ("note TEXT", lambda said: Note(text=clean(said.rest, NOTE_LIMIT))),
}
"""Verb -> how an entry with it is written, and what event it is."""


_SAID = "; ".join(form for form, _ in FORMS.values()).replace("%", "%%")
add_arguments = takes(f"""
SESSION  {SESSION_HELP}; with --began a plan
--began WHEN  begin a session of the plan then: "2026-03-07 08:00" (default: it has begun)
--temp TEMPERATURE  of the shop at the start: "19 degC" (default: as on Stack, else 20 degC)
--people N  how many began it (default: as on Stack, else the plan's)
--workshop DIR
ENTRY...  when and what: {TOLD}, then one of: {_SAID}. Without a time it is now; - reads one a line
""")


def run(args: argparse.Namespace) -> int:
    """Append all entries to the session's journal or, where one cannot be, none; say each back with its time."""
    return said_back(_entered, args, "entered")


def _entered(args: argparse.Namespace) -> list[str]:
    """Enter what was said into a session, or into one begun for it; return what to say."""
    texts = [line for text in args.entry for line in (sys.stdin.read().splitlines() if text == "-" else [text])]
    texts = [text for text in texts if text.strip()]
    workshop, clock = Workshop(args.workshop), SystemClock()
    unused = [f"--{name}" for name in ("temp", "people") if getattr(args, name) is not None and args.began is None]
    if unused:
        raise InputError("enter", f"takes {' and '.join(unused)} only with --began", todo="leave it out")
    if args.began is None:
        return _logged_in(workshop.session_path(args.session), texts, workshop, clock)
    folder = _begun(args, workshop, clock)
    try:
        return [f"begun: {folder.name}", *_logged_in(folder, texts, workshop, clock)]
    except LayupError:
        rmtree(folder, ignore_errors=True)  # nothing but its beginning is in it
        raise


def _logged_in(folder: Path, texts: list[str], workshop: Workshop, clock: SystemClock) -> list[str]:
    with Journal.open(folder, clock) as journal:
        plan, sheet, _ = as_kept(stored_session(folder), workshop)
        return _log(PressDay(journal, folder, plan, sheet, clock), journal, texts, clock)


def _begun(args: argparse.Namespace, workshop: Workshop, clock: SystemClock) -> Path:
    """Begin a session of a plan at the time that was said; return its folder."""
    planner = Planner(workshop.root, plan=args.session)
    settings = planner.turned(planner.read())
    if args.temp is not None:
        kelvin = temperature_K(args.temp, [], where="temperature", within_C=(-30.0, 60.0))
        settings = replace(settings, temperature_K=kelvin, cans_K=None)
    if args.people is not None:
        settings = replace(settings, people=whole_number(args.people, where="people", high=MOST_PEOPLE))
    figures = planner.work_out(replace(settings, relative_humidity=None))
    if ":" not in args.began and not args.began.endswith(" ago"):
        raise InputError("began", "is no time", value=args.began, allowed='"2026-03-07 08:00" or "3 h ago"')
    ago_s = YEAR_S - told_s(args.began, YEAR_S, clock.utc().astimezone())
    day = begin(planner, figures, EarlierClock(clock, ago_s), cautions_shown=False)
    day.close()
    return day.folder


def _log(day: PressDay, journal: Journal, texts: list[str], clock: SystemClock) -> list[str]:
    """Log entries in the order of time, once all of them are known to fit; return each as it stands in the log.

    Mix that is left in a cup goes to what it can still be laid on, and so much less is to be mixed.
    """
    state, now_s, now = journal.state, journal.now_s(), clock.utc().astimezone()
    timed = [
        (told_s(when, now_s, now, first=True) if when else None, verb, words)
        for when, verb, words in map(_parts, texts)
    ]
    found: list[tuple[float | None, Event]] = []
    for at_s, verb, words in sorted(timed, key=lambda entry: inf if entry[0] is None else entry[0]):
        said_s = now_s if at_s is None else at_s
        event = _event(EntryWords(verb, words, state, said_s))
        if why := refusal(state, event, at_s):
            when = "now" if at_s is None else clock_time(now - timedelta(seconds=now_s - at_s))
            raise InputError(f"{when} {event.describe_in(state)}", "cannot be entered", value=why)
        for each in _with_credit(as_of(day, state, said_s), event) if isinstance(event, MixLeft) else (event,):
            state = extend(state, [as_logged(state, each, at_s)])
            found.append((at_s, each))
    said = []
    for at_s, event in found:
        record = journal.append(event, at_s)
        said.append(
            f"{clock_time(now - timedelta(seconds=now_s - record.when_s))}  {record.describe_in(journal.state)}"
        )
    return [*said, *_doubts(journal.state)]


def _with_credit(day: PressDay, event: MixLeft) -> tuple[Event, ...]:
    """Return what is left in a cup with the steps that it goes to and the batches that are lighter for it."""
    try:
        change = left_over(day, event.batch, event.left_in_cup_g)
    except LayupError:
        return (event,)  # without a plan nobody can say what it is enough for
    return (event,) if isinstance(change, str) else change.events


def _parts(text: str) -> tuple[str, str, list[str]]:
    """Return when, the verb, and the words behind it."""
    words = clean(text, NOTE_LIMIT).split()
    place = next((at for at, word in enumerate(words) if word.casefold() in FORMS), None)
    if place is None:
        known = f"a time and one of {', '.join(FORMS)}"
        raise InputError("entry", "is not understood", value=text, allowed=known, todo="layup enter --help")
    return " ".join(words[:place]), words[place].casefold(), words[place + 1 :]


def _event(said: EntryWords) -> Event:
    try:
        return FORMS[said.verb][1](said)
    except ValidationError as error:
        first = error.errors(include_url=False, include_context=False)[0]
        allowed = FORMS[said.verb][0]
        raise InputError(said.verb, "cannot be right", value=first["input"], allowed=allowed) from None


def _doubts(state: SessionState) -> Iterator[str]:
    """Yield the batches on the part that something stands against, which nobody was asked about."""
    for batch in state.batches:
        stands = doubt(batch, (batch.plan.resin_g, batch.plan.hardener_g)) if batch.stays else None
        if stands is not None and not batch.doubt_accepted:
            yield f"! batch {batch.number} is on the part, {stands.upper()}: its mark stays"
