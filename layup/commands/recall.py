"""Tell a layup that failed before this program, from memory: nine answers give its likely cause and a next plan.

Each answer may be exact, "about ...", a range, or "not known". Without any among the words they are asked one by one.
"""

from __future__ import annotations

import argparse
import sys

from layup.commands.command import answer, takes
from layup.commands.review import review_data
from layup.errors import InputError, LayupError, printable
from layup.files.workshop import Workshop
from layup.report.hindsight import looked_back
from layup.report.report_blocks import told_lines
from layup.review.recalled import MEMORY, PLANNED
from layup.session.clock import SystemClock
from layup.session.told import KEYS, Interview

EXAMPLE = (
    'layup recall --resin slow-laminating --shop "about 12 C" --cup "about 400 g" '
    '--thick "about 25 min, hot" --on-part 4 --closed no --people 1 --wrong "gelled in the cup"'
)
UNDO = ("back", "undo", "u")
STOP = ("stop", "quit", "q")


add_arguments = takes("""
[PLAN]  the part, by its plan (default: the first plan here)
--resin RESIN  its id, its number in the list, or part of its title (no default: needed)
--shop TEMPERATURE  how warm: "18 C", "about 12", "10-14" (default: not known)
--cup MASS  mix in a cup: "about 400 g"; two mixed at once: "2 x 300 g" (default: not known)
--thick TIME  how long after mixing, and how it looked: "about 25 min, hot" (default: not known)
--on-part STEP  the last step on the part by then: its number, "2-4", "nothing", "all" (default: not known)
--closed TIME  when the press was closed: "about 60 min", "no" (default: not known)
--people N  how many worked: 2, "alone" (default: not known)
--wrong TEXT  what went wrong, in your words (default: not known)
--when DAY  when that was: "2025-02-14", "last winter" (default: not known)
--workshop DIR
--json
""")


def run(args: argparse.Namespace) -> int:
    """Take the answers, keep them as a session, and answer with its cause and what the next plan makes of it."""
    workshop = Workshop(args.workshop)
    given = {key: getattr(args, key) for key in KEYS if getattr(args, key) is not None}
    talk = Interview(workshop, SystemClock().utc(), args.plan, keep=not given)
    if given:
        talk.give(given)
    elif args.json:
        flags = ", ".join(f"--{key.replace('_', '-')}" for key in KEYS)
        raise InputError("recall", "has no answer", allowed=flags, todo="leave --json out to be asked")
    elif not _asked(talk):
        return 0
    story = talk.story()
    found, plan = looked_back(workshop, story)
    talk.forget()
    data = {"session": found.stored.name, "review": review_data(found), "next_plan": plan.data() if plan else None}

    return answer(
        args.json,
        data,
        lambda width: told_lines(found, plan, width=min(width, 100)),
        assumptions=list(found.assumptions),
        telling={MEMORY, PLANNED},
    )


def _asked(talk: Interview) -> bool:
    """Ask one question after the other on the terminal; return whether all were answered."""
    part = talk.plan.title if talk.plan else "a part without a plan"
    print(printable(f"A layup told from memory: {part}. Exact, about ..., a range, or ? for not known."))
    print("back undoes the last answer, stop keeps them for later.")
    if talk.resumed:
        print(f"{len(talk.answers)} answers were kept; type new to begin anew.")
    while (question := talk.question) is not None:
        print()
        for line in talk.choices():
            print(printable(f"  {line}"))
        before = talk.answers.get(question.key)
        now = f" [{before}]" if before else ""
        print(printable(f"{talk.at + 1}/{len(KEYS)} {question.title}  ({question.hint}){now}"))
        try:
            text = input("> ").strip()
        except EOFError:
            text = "stop"
        if text.casefold() in STOP:
            print("Your answers are kept: layup recall goes on with them.")
            return False
        if text.casefold() in UNDO:
            talk.back()
        elif text.casefold() == "new" and talk.resumed:
            talk.forget()
        else:
            _take(talk, text or before or "")
    return True


def _take(talk: Interview, text: str) -> None:
    try:
        talk.answer(text)
    except LayupError as error:
        print(printable(f"! {error}"), file=sys.stderr)
