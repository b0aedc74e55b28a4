"""Carry a note forward to next time, or say what became of it: list them, add one, tick one off, drop one.

An open note stands on the next plan: before the day, at its step on the bench, and on the wall sheet.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator

from layup.bench.planner import hanging
from layup.commands.command import SESSION_HELP, answer, counted, facts, takes, whole_number
from layup.errors import InputError
from layup.files.toml import nearest
from layup.files.workshop import Workshop
from layup.review.carried import (
    NextTime,
    Proposal,
    append_to,
    carried_words,
    carriers,
    note_data,
    one_line,
    open_notes,
    proposals,
    settle,
)
from layup.review.review import review
from layup.session.archive import StoredSession, stored_session
from layup.session.clock import SystemClock
from layup.session.day_events import CarriedForward

LOGGED = "logged in SESSION, if given (default: none)"
EXAMPLE = (
    'layup carry 2026-03-07-touring-skis-168 "Second pair of hands here" --step "Lower glass"'
    "     layup carry 2026-03-07-touring-skis-168     layup carry --done 1"
)


WORDS = f"""
[SESSION]  {SESSION_HELP}; alone: what it proposes (default: list all)
[TEXT]  what to do next time, in one line
--step NAME  at which step of that session (default: before the day)
--resin  only for plans with that session's resin
--workshop DIR
--json
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the words of `layup carry`."""
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--take", metavar="N", help="carry forward number N of what SESSION proposes (default: none)")
    what.add_argument("--done", metavar="N", help=f"number N of the list is done; {LOGGED}")
    what.add_argument("--drop", metavar="N", help=f"number N of the list is dropped; {LOGGED}")
    takes(WORDS)(parser)


def run(args: argparse.Namespace) -> int:
    """Do what the words say, and answer with the notes that are open."""
    workshop = Workshop(args.workshop)
    said: list[str] = []
    if args.done is not None or args.drop is not None:
        said.append(_settled(args, workshop))
    elif args.text is not None or args.take is not None:
        said.append(_added(args, workshop))
    elif args.step is not None or args.resin:
        raise InputError("carry", "has nothing to carry", todo="say it after SESSION, or --take N")
    elif args.session is not None:
        return _proposed(args, workshop)
    notes = _notes(workshop)

    data = {"said": said, "next_time": [note_data(note) for note in notes]}
    return answer(args.json, data, lambda width: said or note_lines(notes, width=width), assumptions=[])


def _notes(workshop: Workshop) -> tuple[NextTime, ...]:
    with counted("reading sessions") as progress:
        return open_notes(carriers(workshop, progress=lambda done, of: progress("", done, of)))


def note_lines(notes: tuple[NextTime, ...], *, width: int) -> list[str]:
    lines = []
    for number, note in enumerate(notes, 1):
        lines += hanging(f"{number:>3}  ", note.words, width)
    return lines or ["nothing is carried forward"]


def _settled(args: argparse.Namespace, workshop: Workshop) -> str:
    """Log that a note is done or dropped, and say where that stands."""
    if args.text is not None or args.step is not None or args.resin:
        raise InputError("carry", "settles a note or makes one, not both", todo="leave the text out")
    notes = _notes(workshop)
    if not notes:
        raise InputError("carry", "has no open note to settle", todo="'layup carry' lists them")
    number = whole_number(args.done or args.drop, where="note", high=len(notes))
    note, how = notes[number - 1], "done" if args.done is not None else "dropped"
    into = None if args.session is None else workshop.session_path(args.session)
    where = settle(workshop, note, "done" if how == "done" else "dropped", SystemClock(), into=into)
    return f"{how}: {note.words}; logged in {where}"


def _added(args: argparse.Namespace, workshop: Workshop) -> str:
    """Carry a note forward, and say what was recorded."""
    if args.session is None:
        raise InputError("carry", "does not know from which session", todo="layup carry SESSION TEXT")
    folder = workshop.session_path(args.session)
    stored = stored_session(folder)
    event = _typed(args, stored) if args.take is None else _taken(args, workshop, stored)
    append_to(folder, (event,), SystemClock())
    return f"recorded: {event.describe()}"


def _typed(args: argparse.Namespace, stored: StoredSession) -> CarriedForward:
    text = one_line(args.text)
    if not text:
        raise InputError("note", "says nothing", todo="say what to do next time")
    names = {one_line(step.plan.name).casefold(): step.plan.name for step in stored.state.steps}
    step = "" if args.step is None else names.get(one_line(args.step).casefold())
    if step is None:
        todo = nearest(args.step, list(names.values())) if names else "it has none"
        raise InputError("step", f"is not in {stored.name}", value=args.step, todo=todo)
    resin = stored.state.resin_id if args.resin else ""
    return CarriedForward(text=text, step_name=step, resin=resin)


def _taken(args: argparse.Namespace, workshop: Workshop, stored: StoredSession) -> CarriedForward:
    if args.text is not None or args.step is not None or args.resin:
        raise InputError("carry", "takes what is proposed as it is", todo="leave out --take, or the text")
    found = proposals(review(stored), workshop.resins())
    if not found:
        raise InputError("session", "proposes nothing: no finding, no note", value=stored.name)
    return found[whole_number(args.take, where="proposal", high=len(found)) - 1].event


def _proposed(args: argparse.Namespace, workshop: Workshop) -> int:
    """Answer with what a session could carry forward, and what it does."""
    stored = stored_session(workshop.session_path(args.session))
    found, carries = proposals(review(stored), workshop.resins()), list(carried_words(stored.state, carriers(workshop)))

    def text(width: int) -> Iterator[str]:
        for number, each in enumerate(found, 1):
            yield from hanging(f"{number:>3}  ", f"{_words(each)} ({each.of})", width)
        yield from [f"carried: {words}" for words in carries] or ["carries nothing forward yet"]
        if found:
            yield f"take one: layup carry {args.session} --take 1"

    data = {
        "session": stored.name,
        "proposals": [{"of": each.of, **facts(each.event, "text step_name resin")} for each in found],
        "carries": carries,
    }
    return answer(args.json, data, text, assumptions=[])


def _words(each: Proposal) -> str:
    return f"{each.event.step_name}: {each.event.text}" if each.event.step_name else each.event.text
