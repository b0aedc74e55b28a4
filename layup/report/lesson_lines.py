"""What sessions teach, as lines: in short with small bars, and every number with its spread."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import ceil, exp
from textwrap import wrap

from layup.chemistry.uncertainty import EIGHTY_PERCENT
from layup.report.bars import bar, table_lines
from layup.review.judged import ABOUT, ShortLesson, Topic, counted_days
from layup.review.lessons import Lessons
from layup.review.pace import CrewLesson, PooledMean
from layup.units import day_and_month

HEADS: dict[Topic, str] = {
    "resin": "RESIN",
    "pace": "PACE",
    "step": "SLOW STEP",
    "wrong": "GOES WRONG",
    "since": "SINCE",
}
HEAD, CELLS, NARROW = 11, 9, 60
"""Columns of a head, cells of a bar, and the width below which a bar has no room."""
NOTHING = "No day teaches yet: log how a batch looks, and how the part came out."


def short_lines(lessons: Iterable[ShortLesson], *, width: int) -> Iterator[str]:
    """Yield the lessons in short, a head, a small bar and the words a line, on how many days each rests."""
    before: Topic | None = None
    for each in lessons:
        head = f"{HEADS[each.topic] if each.topic != before else '':<{HEAD}}"
        before = each.topic
        days = "" if each.topic == "wrong" else f"   {counted_days(each.days)}"
        if width < NARROW:
            yield from wrap(f"{head}{each.words}", width, subsequent_indent="  ")
            continue
        lead = f"{head}{_bar(each)}  "
        room = width - len(lead) - (len(days) if len(each.words) + len(days) + len(lead) <= width else 0)
        for place, words in enumerate(wrap(each.words, room, break_on_hyphens=False)):
            yield f"{lead if not place else ' ' * len(lead)}{words}{days if len(each.words) <= room else ''}"


def _bar(each: ShortLesson) -> str:
    """Draw a share of the days, or how far a time is from what was stated: the whole bar is half to one and a half."""
    if each.share is not None:
        return f"▕{bar(each.share, CELLS)}▏"
    if each.ratio is None:
        return " " * (CELLS + 2)
    half = CELLS // 2
    off = abs(each.ratio - 1.0)
    filled = 0 if off < ABOUT else min(ceil(off / 0.5 * half), half)
    less, more = (filled, 0) if each.ratio < 1.0 else (0, filled)
    return f"▕{'█' * less:>{half}}│{'█' * more:<{half}}▏"


def detail_lines(lessons: Lessons) -> Iterator[str]:
    """Yield every number that was learnt with its spread, one line a thing."""
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
        low, high = next_band(losses.per_batch)
        yield (
            f"left in cup and brush, over the plan: {exp(losses.per_batch.mean):.2f} times ({low:.2f} to {high:.2f}), "
            f"{_sessions(losses.per_batch.sessions)}"
        )
        squeeze = losses.squeeze
        yield (
            f"driven out, more than planned: {100 * squeeze.mean:+.1f} % of what is laid, {_sessions(squeeze.sessions)}"
        )
    yield from (f"{run.title}, {day_and_month(run.day)}: {run.counted}" for run in lessons.dry_runs)
    yield from (f"! {problem}" for problem in lessons.problems)


def next_band(one: PooledMean) -> tuple[float, float]:
    reach = EIGHTY_PERCENT * one.next_sd
    return exp(one.mean - reach), exp(one.mean + reach)


def _sessions(count: int) -> str:
    return f"{count} session{'' if count == 1 else 's'}"


def _crew_lines(crew: CrewLesson) -> Iterator[str]:
    yield f"{crew.people} at the bench, over the plan's minutes ({_sessions(crew.sessions)}):"
    rows = []
    for kind, one in crew.kinds.items():
        low, high = next_band(one)
        told = _sessions(one.sessions) if one.sessions else "from the other kinds"
        rows.append((kind, f"{exp(one.mean):.2f} times ({low:.2f} to {high:.2f}), {told}"))
    yield from table_lines(("", ""), rows, left="ll", indent=2)
    if crew.left_out_words:
        yield f"  {crew.left_out_words}"
