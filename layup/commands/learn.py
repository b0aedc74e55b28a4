"""Tell what the sessions teach: how each resin differs from its datasheet, the crew's pace, what the workshop loses.

The next plan uses it by default; no datasheet is changed.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from math import exp
from pathlib import Path
from typing import TYPE_CHECKING

from layup.chemistry.uncertainty import EIGHTY_PERCENT
from layup.commands.answer import add_json_argument, answer
from layup.commands.reading import add_workshop_argument, counted
from layup.files.workshop import Workshop
from layup.report.tables import table_lines
from layup.review.lessons import Lessons, workshop_lessons
from layup.review.pace import BOUNDS, CrewLesson, PooledMean
from layup.review.resin_lessons import Seen

if TYPE_CHECKING:
    from rich.console import Console

EXAMPLE = "layup learn"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the words of `layup learn`."""
    add_workshop_argument(parser)
    add_json_argument(parser)


def run(args: argparse.Namespace) -> int:
    """Answer with every lesson, its counts and its spread."""
    with counted("reading sessions") as progress:
        lessons = workshop_lessons(Workshop(Path(args.workshop)), progress=progress)

    def text(console: Console) -> None:
        for line in lesson_lines(lessons):
            console.print(line)

    return answer(
        args.json,
        _data(lessons),
        text,
        assumptions=[
            "few sessions count little: every number is pulled to the datasheet, the plan, or what is usual",
            "a low and a high are the 80 % band of the next session",
            f"{BOUNDS}, so that one slow step never makes the next plan faster",
        ],
    )


def _data(lessons: Lessons) -> dict[str, object]:
    losses = lessons.losses
    return {
        "sessions": lessons.sessions,
        "resins": [
            {
                "resin": one.resin_id,
                "sessions": one.sessions,
                "observations": one.observations,
                "set_aside": one.set_aside,
                "pot_life_factor": one.life_factor,
                "low": one.low,
                "high": one.high,
                "session_log_sd": one.session_log_sd,
                "seen": [_look(seen, counts) for seen, counts in one.looks],
            }
            for one in lessons.resins.values()
        ],
        "crews": [
            {
                "people": crew.people,
                "sessions": crew.sessions,
                "left_out": crew.left_out,
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


def _look(seen: Seen, counts: bool) -> dict[str, object]:
    when = "not before" if seen.word == "runny" else "not later than" if seen.not_later else "at"
    return {
        "word": seen.word,
        "when": when,
        "after_min": seen.after_s / 60.0,
        "mass_g": seen.mass_g,
        "counted": counts,
    }


def _factor(one: PooledMean) -> dict[str, float]:
    low, high = _band(one)
    return {"factor": exp(one.mean), "low": low, "high": high, "sessions": one.sessions}


def _band(one: PooledMean) -> tuple[float, float]:
    reach = EIGHTY_PERCENT * one.next_sd
    return exp(one.mean - reach), exp(one.mean + reach)


def _more(one: PooledMean) -> dict[str, float]:
    reach = EIGHTY_PERCENT * one.next_sd
    return {"more": one.mean, "low": one.mean - reach, "high": one.mean + reach, "sessions": one.sessions}


def lesson_lines(lessons: Lessons) -> Iterator[str]:
    """Yield what was learnt, one line a thing."""
    yield f"{_sessions(lessons.sessions)} read"
    if not lessons.resins:
        yield "no session tells how long a resin lives: log how a batch looks (thickening, stringy, gelled)"
    for resin in lessons.resins.values():
        yield f"{resin.words}; sessions differ by {100 * resin.session_log_sd:.0f} %"
        yield from (f"  a batch lost: {seen.words}" for seen, counts in resin.looks if counts and seen.not_later)
        yield from (f"  left out, too far off to be the resin's doing: {s.words}" for s, c in resin.looks if not c)
    for crew in lessons.crews.values():
        yield from _crew_lines(crew)
    if lessons.losses is not None:
        losses = lessons.losses
        low, high = _band(losses.per_batch)
        yield (
            f"left in cup and brush, over the plan: {exp(losses.per_batch.mean):.2f} times ({low:.2f} to {high:.2f}), "
            f"{_sessions(losses.per_batch.sessions)}"
        )
        squeeze = losses.squeeze
        yield (
            f"driven out, more than planned: {100 * squeeze.mean:+.1f} % of what is laid, {_sessions(squeeze.sessions)}"
        )
    yield from (f"! {problem}" for problem in lessons.problems)


def _sessions(count: int) -> str:
    return f"{count} session{'' if count == 1 else 's'}"


def _crew_lines(crew: CrewLesson) -> Iterator[str]:
    yield f"{crew.people} at the bench, over the plan's minutes ({_sessions(crew.sessions)}):"
    rows = []
    for kind, one in crew.kinds.items():
        low, high = _band(one)
        told = _sessions(one.sessions) if one.sessions else "from the other kinds"
        rows.append((kind, f"{exp(one.mean):.2f} times ({low:.2f} to {high:.2f}), {told}"))
    yield from table_lines(("", ""), rows, left="ll", indent=2)
    if crew.left_out_words:
        yield f"  {crew.left_out_words}"
