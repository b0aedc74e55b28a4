"""Tell what the sessions teach: how each resin differs from its datasheet, the crew's pace, what the workshop loses.

The next plan uses it by default; no datasheet is changed.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import asdict
from math import exp

from layup.chemistry.uncertainty import EIGHTY_PERCENT
from layup.commands.command import answer, counted, facts, takes
from layup.files.workshop import Workshop
from layup.report.advice import NOTHING, ShortLesson, detail_lines, in_short, next_band, short_lines
from layup.review.lessons import Lessons, judge, workshop_lessons
from layup.review.pace import BOUNDS, PooledMean
from layup.review.resin_lessons import Sighting
from layup.session.archive import Sessions

EXAMPLE = "layup learn     layup learn --detail"


add_arguments = takes("--detail  every number with its spread, too\n--workshop DIR\n--json")


def run(args: argparse.Namespace) -> int:
    """Answer with the lessons in short; with every number, its counts and its spread, where that is asked for."""
    workshop = Workshop(args.workshop)
    with counted("reading sessions") as progress:
        lessons = workshop_lessons(workshop, progress=progress)
        sessions = Sessions(workshop).all()
        names = [one.name for one in sessions if one.over or one.closed_s is not None]
        judged = judge(workshop, names, progress=lambda done, of: progress("judging sessions", done, of))
    short = in_short(lessons, judged.values(), workshop.resins(), sessions)

    def text(width: int) -> Iterator[str]:
        yield from short_lines(short, width=min(width, WIDEST)) if short else (NOTHING,)
        yield from ("", *detail_lines(lessons)) if args.detail else ()

    return answer(args.json, _data(lessons, short), text, assumptions=ASSUMED if args.json or args.detail else [])


ASSUMED = [
    "few sessions count little: every number is pulled to the datasheet, the plan, or what is usual",
    "a low and a high are the 80 % band of the next session",
    f"{BOUNDS}, so that one slow step never makes the next plan faster",
]
WIDEST = 100
"""Columns of a line that is still read at a glance."""


def _data(lessons: Lessons, short: tuple[ShortLesson, ...]) -> dict[str, object]:
    losses = lessons.losses
    return {
        "in_short": [asdict(each) for each in short],
        "sessions": lessons.sessions,
        "resins": [
            {
                "resin": one.resin_id,
                **facts(one, "sessions observations"),
                "set_aside": len(one.looks) - one.observations,
                "pot_life_factor": one.life_factor,
                **facts(one, "low high session_log_sd"),
                "seen": [_look(seen, counts) for seen, counts in one.looks],
            }
            for one in lessons.resins.values()
        ],
        "crews": [
            {
                **facts(crew, "people sessions left_out"),
                "counted_in_part": crew.bounded,
                "kinds": {k: _factor(v) for k, v in crew.kinds.items()},
            }
            for crew in lessons.crews.values()
        ],
        "losses": None
        if losses is None
        else {"per_batch": _factor(losses.per_batch), "squeeze_out": _more(losses.squeeze)},
        "problems": [str(problem) for problem in lessons.problems],
    }


def _look(seen: Sighting, counts: bool) -> dict[str, object]:
    when = "not before" if seen.word == "runny" else "not later than" if seen.not_later else "at"
    return {"word": seen.word, "when": when, **facts(seen, "after_s mass_g"), "counted": counts}


def _factor(one: PooledMean) -> dict[str, float]:
    low, high = next_band(one)
    return {"factor": exp(one.mean), "low": low, "high": high, "sessions": one.sessions}


def _more(one: PooledMean) -> dict[str, float]:
    reach = EIGHTY_PERCENT * one.next_sd
    return {"more": one.mean, "low": one.mean - reach, "high": one.mean + reach, "sessions": one.sessions}
