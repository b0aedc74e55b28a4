"""What to do another time, as lines: which resin for which day, and what all sessions teach.

Of a choice one sentence, one picture of resin by temperature, and tonight's figures; a past day with each resin. Of the
lessons eight lines that somebody acts on, with small bars, and every number with its spread.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, exp, inf, isfinite
from statistics import median
from textwrap import fill, wrap
from typing import Literal

from layup.bench.planner import hanging
from layup.chemistry.datasheet import Datasheet
from layup.chemistry.uncertainty import EIGHTY_PERCENT
from layup.planning.choosing import Choice, ResinTable
from layup.planning.fit import FitWord
from layup.planning.schedule import TIGHT_S
from layup.report.bars import bar, table_lines
from layup.report.hindsight import SIMULATED
from layup.review.lessons import TEACHES, Judged, Lessons
from layup.review.pace import CrewLesson, PooledMean
from layup.review.timeline import signed_minutes
from layup.review.worked_day import ResinsOnDay
from layup.session.archive import Summary
from layup.session.text import shortened
from layup.units import day_and_month, mass, minutes, spare_of, temperature, viscosity

# -- which resin ----------------------------------------------------------------------------------------------------

LETTERS: dict[FitWord, str] = {"fits": "F", "tight": "T", "does not fit": "-"}
KEY = "F fits  T tight  - does not fit"
LEAST_NAME, MOST_NAME = 8, 34
"""Columns of a resin's name beside the picture."""
OF_FIGURES = 66
"""Columns of tonight's figures beside the name."""
OF_PAST_FIGURES = 31
"""The same of a past day's."""
WITH_CREWS, AS_TABLE = 56, 76
"""Columns from which on a cell shows each crew, and from which on tonight's figures stand as a table."""


def choice_lines(table: ResinTable, *, width: int, chosen: int | None = None) -> list[str]:
    """Return all of it; with one `chosen`, the place among tonight's that is pointed at, and why of that one alone."""
    rows = table.tonight if chosen is None else table.tonight[chosen : chosen + 1]
    gap = [""] if width >= WITH_CREWS else []
    lines = [*hanging("", sentence(table), width), *gap, *picture(table, width=width, chosen=chosen), *gap]
    lines += figures(table.tonight if width >= AS_TABLE else rows, width=width)
    odd = [f"! {_plain(row)}: {row.odd}" for row in table.tonight if row.odd]
    for words in (*why_lines(rows), *crew_lines(table), *odd, *(f"Left out: {words}" for words in table.left_out)):
        lines += hanging("  ", words, width)
    return lines


def sentence(table: ResinTable) -> str:
    """Say which resin to take tonight; where none fits, which comes nearest, and where one does."""
    best = next(iter(table.tonight), None)
    where = f"{temperature(table.tonight_K)}, {_people(table.people)}"
    if best is None:
        return f"{where}: no resin can be judged."
    title = _plain(best)
    if best.verdict == "fits":
        return f"{where}: take {title}, {_spare(best)}."
    if best.verdict == "tight":
        return f"{where}: nothing fits with room; {title} is tight, {_spare(best)}."
    near = table.nearest()
    if near is None:
        return f"{where}: no resin fits, nor at any temperature here with {table.crews[-1]} people or fewer."
    return (
        f"{where}: no resin fits. Nearest: {_plain(near)} at {temperature(near.temperature_K)} "
        f"with {_people(near.people)}, {_spare(near)}."
    )


def _people(count: int) -> str:
    return "1 person" if count == 1 else f"{count} people"


def _plain(row: Choice) -> str:
    """Return a resin's name without what stands in brackets."""
    return row.result.datasheet.title.partition(" (")[0]


def _spare(row: Choice) -> str:
    slack_s, odds = row.result.split.slack_s, row.result.odds if row.fit.works else None
    words = [] if slack_s is None else [spare_of(slack_s, "short")]
    words += [f"{odds.words} in time"] if odds else []
    return ", ".join([*words, *(["if its file is right"] if row.odd else [])])


def picture(table: ResinTable, *, width: int, chosen: int | None = None) -> list[str]:
    """Draw each resin by temperature, as many around tonight's as have room, the best for tonight first."""
    crews = table.crews if width >= WITH_CREWS else (table.people,)
    heads = [f"{'▶' if kelvin == table.tonight_K else ''}{temperature.digits(kelvin)}" for kelvin in table.shops_K]
    cell = max(len(crews) + 1, 3, *map(len, heads))
    room = max((width - LEAST_NAME - 2) // cell, 1)
    nearest_K = sorted(table.shops_K, key=lambda kelvin: abs(kelvin - table.tonight_K))[:room]
    shops_K = [kelvin for kelvin in table.shops_K if kelvin in nearest_K]
    heads = [head for kelvin, head in zip(table.shops_K, heads, strict=True) if kelvin in nearest_K]
    name = min(max(width - cell * len(heads) - 2, LEAST_NAME), MOST_NAME)
    told = "" if len(crews) == 1 else f"   a letter each for {', '.join(map(str, crews))} people"
    corner = f"▶ tonight  {temperature.sign}" if name > LEAST_NAME + 6 else temperature.sign
    key = f"{KEY}  ! odd" if any(row.odd for row in table.tonight) else KEY
    lines = [f"{key}{told}", f"{corner:>{name + 1}} {''.join(f'{head:>{cell}}' for head in heads)}"]
    by_place = {(row.result.datasheet.id, row.temperature_K, row.people): row for row in table.rows}
    for place, row in enumerate(table.tonight):
        sheet = row.result.datasheet
        words = ["".join(LETTERS[by_place[sheet.id, kelvin, crew].verdict] for crew in crews) for kelvin in shops_K]
        lines.append(
            f"{'▸' if place == chosen else ' '}{_title(row, name):<{name}} "
            + "".join(f"{letters:>{cell}}" for letters in words)
        )
    return lines


def figures(rows: Sequence[Choice], *, width: int) -> list[str]:
    """Return what tonight comes to with some resins: as a table, or where there is no room some lines each."""
    if width < AS_TABLE:
        return [line for row in rows for line in _short(row, width)]
    name = max(width - OF_FIGURES, LEAST_NAME)
    heads = (
        *("tonight", "spare", "in time", f"mix {mass.sign}", "price", viscosity.sign, "out h"),
        f"Tg then {temperature.sign}",
    )
    cells = [(f"{LETTERS[row.verdict]} {_title(row, name)}", *_numbers(row)) for row in rows]
    return table_lines(heads, cells, left="l", width=width)


def _title(row: Choice, width: int) -> str:
    """Return a resin's name, marked where its file is odd."""
    mark = "! " if row.odd else ""
    return mark + _fitted(row.result.datasheet.title, width - len(mark))


def _fitted(title: str, width: int) -> str:
    """Return a resin's name, without what stands in brackets where it would be cut."""
    return title if len(title) <= width else shortened(title.partition(" (")[0], width)


def _numbers(row: Choice) -> tuple[str, ...]:
    """Return tonight's figures of one resin, each without its unit but times of the day."""
    slack_s, odds, out_s = row.result.split.slack_s, row.result.odds if row.fit.works else None, row.night.ready.out_s
    thick, ends = row.viscosity_Pa_s, [format(end_s / 3600.0, ".0f") for end_s in out_s]
    return (
        "" if slack_s is None else signed_minutes(slack_s),
        odds.words if odds else "",
        mass.digits(row.result.budget.mix_g),
        "" if row.price is None else f"{row.price:.2f}",
        "?" if thick is None else viscosity.digits(thick),
        f"{ends[1]} ({ends[0]}-{ends[2]})".replace("inf", "?") if isfinite(out_s.likely) else "never",
        temperature.digits(row.night.ready.softens_K),
    )


def _short(row: Choice, width: int) -> Iterator[str]:
    """Yield one resin for a narrow screen: its name, then its figures."""
    spare, chance, grams, price, thick, out, glass = _numbers(row)
    yield f"{LETTERS[row.verdict]} {_title(row, width - 2)}"
    spare = f"{spare[1:]} short" if spare.startswith("-") else f"{spare} spare" if spare else ""
    told = [spare, f"{chance} in time" if chance else "", f"{grams} {mass.sign} mix"]
    told += [f"price {price}" if price else "", f"{thick} {viscosity.sign}", f"out {out} h"]
    told.append(f"Tg at demoulding {glass} {temperature.sign}")
    yield from fill(", ".join(filter(None, told)), width, initial_indent="  ", subsequent_indent="  ").splitlines()


def why_lines(rows: Sequence[Choice]) -> list[str]:
    """Say what speaks against some resins, the first thing of each."""
    told = ((_plain(row), (*row.fit.against, *row.fit.tight)) for row in rows)
    return [f"{title}: {said[0]}" for title, said in told if said]


def crew_lines(table: ResinTable) -> Iterator[str]:
    """Say with which resins more people have less to spare tonight than fewer, for their cups are fewer and larger."""
    for best in table.tonight:
        place = best.result.datasheet.id, best.temperature_K
        rows = [row for row in table.rows if (row.result.datasheet.id, row.temperature_K) == place]
        for fewer, more in pairwise(sorted(rows, key=lambda row: row.people)):
            few, many = (len(row.result.split.batches) for row in (more, fewer))
            if (fewer.verdict, more.verdict) == ("fits", "tight") and few < many:
                yield (
                    f"{_plain(more)}: {more.people} people lay it in {_many(few, 'cup')} and have less to spare than "
                    f"{fewer.people} in {many}: take smaller cups."
                )


# -- a past day ------------------------------------------------------------------------------------------------------


def past_day_lines(day: ResinsOnDay, name: str, *, width: int) -> list[str]:
    """Return a past day with each resin: what the old one did, and what each other would have had to spare."""
    name_room = max(width - OF_PAST_FIGURES, LEAST_NAME)
    cells = []
    for row in day.rows:
        out_s = inf if row.ready is None else row.ready.out_s.likely
        out = format(out_s / 3600.0, ".0f") if isfinite(out_s) else "?"
        title = _fitted(f"{row.sheet.title} (used)" if row is day.own else row.sheet.title, name_room)
        cells.append((f"{LETTERS[row.fit.word]} {title}", signed_minutes(row.spare_s), row.tightest, out))
    lines = [*hanging("", past_sentence(day, name), width), "", KEY]
    lines += table_lines(("that day", "spare", "tightest", "out h"), cells, left="lrlr", width=width)
    for row in day.rows:
        if row.spare_s >= TIGHT_S and (said := (*row.fit.against, *row.fit.tight)):
            lines += hanging("  ", f"{row.sheet.title.partition(' (')[0]}: {said[0]}", width)
    return [*lines, *hanging("", SIMULATED, width)]


def past_sentence(day: ResinsOnDay, name: str) -> str:
    """Say what the old resin did on a past day, and which would have had most to spare."""
    low, high = temperature.digits(day.shop_K[0]), temperature(day.shop_K[1])
    shop = high if high.startswith(f"{low} ") else f"{low} to {high}"
    where = f"{name}, {shop}, {_people(day.people)}"
    did = f"{day.own.sheet.title} {'fitted' if day.own.fit.works else 'failed'}, {spare_of(day.own.spare_s)}"
    best = day.rows[0]
    if not best.fit.works:
        return f"{where}: {did}, and so would every other resin here."
    better = "" if best is day.own else f"; {best.sheet.title} would have fitted, {spare_of(best.spare_s)}"
    return f"{where}: {did}{better}."


# -- in short ----------------------------------------------------------------------------------------------------------

Topic = Literal["resin", "pace", "step", "wrong", "since"]
MOST: dict[Topic, int] = {"resin": 2, "pace": 1, "step": 2, "wrong": 2, "since": 1}
"""So many lines of each at most: eight in all."""
ABOUT = 0.03
"""A resin or a crew within this of what was stated is as stated."""
STEP_OVER, STEP_OVER_S = 1.2, 120.0
"""From when on a step is said to be slow: so many times its plan, and by so much (common practice, no source)."""
LATEST = 5
"""So many days on each side of a change are compared, the nearest ones."""


@dataclass(frozen=True, slots=True)
class ShortLesson:
    """One line: what it is about, its words, and what its bar shows, on how many days it rests."""

    topic: Topic
    words: str
    days: int
    ratio: float | None = None
    """Real over stated; None where nothing was stated."""
    share: float | None = None
    """Of all days; None where nothing is counted."""


def in_short(
    lessons: Lessons,
    judged: Iterable[Judged],
    sheets: Mapping[str, Datasheet],
    sessions: Iterable[Summary] = (),
) -> tuple[ShortLesson, ...]:
    """Return the lessons of a workshop in short; `sessions` are asked for the notes that were done."""
    told = [one for one in judged if "faults" in TEACHES[one.kind]]
    days = sorted(told, key=lambda one: (one.started_at, one.name))
    found = [*_resins(lessons, sheets), *_pace(lessons), *_steps(days)]
    for cause, count in Counter(cause for day in days for cause in day.causes).most_common():  # what goes wrong most
        words = f"{cause}: {count} of {_many(len(days), 'day')}"
        found.append(ShortLesson("wrong", words, count, share=count / len(days)))
    found += _since(days, _done(sessions))
    by_topic = {topic: [each for each in found if each.topic == topic][:most] for topic, most in MOST.items()}
    return tuple(each for kept in by_topic.values() for each in kept)


def _many(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"


def _resins(lessons: Lessons, sheets: Mapping[str, Datasheet]) -> Iterator[ShortLesson]:
    """Yield what each can does beside its sheet, the one that was seen most first."""
    for one in sorted(lessons.resins.values(), key=lambda one: -one.observations):
        if one.observations:
            title = sheets[one.resin_id].title if one.resin_id in sheets else one.resin_id
            off, perhaps = one.life_factor - 1.0, "perhaps " if one.low < 1.0 < one.high else ""
            words = f"{perhaps}{100 * abs(off):.0f} % {'later' if off > 0.0 else 'sooner'} than its sheet"
            words = "as its sheet says" if abs(off) < ABOUT else words
            yield ShortLesson("resin", f"{title}: {words}", one.sessions, ratio=one.life_factor)


def _pace(lessons: Lessons) -> Iterator[ShortLesson]:
    """Yield how fast each crew is, the one that worked most first."""
    for crew in sorted(lessons.crews.values(), key=lambda crew: -crew.sessions):
        known = [one.mean for one in crew.kinds.values() if one.sessions]
        if known:
            ratio = exp(sum(known) / len(known))
            off = ratio - 1.0
            words = "as planned" if abs(off) < ABOUT else f"{100 * abs(off):.0f} % {'slower' if off > 0 else 'faster'}"
            yield ShortLesson("pace", f"{crew.people} at the bench: {words}", crew.sessions, ratio=ratio)


def _steps(days: Sequence[Judged]) -> Iterator[ShortLesson]:
    """Yield the steps that take longer than planned, those first that cost most."""
    times: dict[tuple[str, int], list[tuple[float, float]]] = {}
    for day in (day for day in days if "pace" in TEACHES[day.kind]):
        for step in (step for step in day.steps if step.planned_s > 0.0):
            times.setdefault((step.name, day.people), []).append((step.planned_s, step.took_s))
    slow = []
    for (name, people), known in times.items():
        planned_s, took_s = (median(values) for values in zip(*known, strict=True))
        if took_s > STEP_OVER * planned_s and took_s - planned_s > STEP_OVER_S:
            words = f"{name}, {people} at it: {minutes(took_s)}, planned {minutes(planned_s)}"
            slow.append((took_s - planned_s, ShortLesson("step", words, len(known), ratio=took_s / planned_s)))
    yield from (lesson for _, lesson in sorted(slow, key=lambda each: -each[0]))


def _done(sessions: Iterable[Summary]) -> dict[str, list[str]]:
    """Return the notes for next time that were done, by the name of the session that met them."""
    known = list(sessions)
    notes = {note.line: (note.text, session.name) for session in known for note in session.carried}
    done = {session.name: [each.line for each in session.settled if each.how == "done"] for session in known}
    return {
        name: [notes[line][0] for line in lines if line in notes and notes[line][1] != name]
        for name, lines in done.items()
    }


def _since(days: Sequence[Judged], done: Mapping[str, list[str]]) -> Iterator[ShortLesson]:
    """Yield the last changes, each with what was to spare and what failed before it and since, of the same board."""
    changes = []
    for title in dict.fromkeys(day.title for day in days):
        same = [day for day in days if day.title == title]
        what = {n: _changed(same[n - 1], same[n], done.get(same[n].name, [])) for n in range(1, len(same))}
        runs = [0, *(place for place, words in what.items() if words), len(same)]
        for begin, place, end in zip(runs, runs[1:], runs[2:], strict=False):  # from one change to the next
            before, after = same[begin:place][-LATEST:], same[place:end][:LATEST]
            changes.append((same[place].started_at, what[place], before, after))
    for at, words, before, after in sorted(changes, key=lambda each: each[0], reverse=True):
        told = ", ".join(_before_and_after(before, after))
        if told:
            yield ShortLesson("since", f"{words} ({at[:10]}): {told}", len(after))


def _changed(before: Judged, after: Judged, done: Sequence[str]) -> str:
    """Return what a day did differently from the one before it, as it was set; empty where nothing."""
    told = [f"'{text}'" for text in done[:1]]
    told += [after.resin] if after.resin != before.resin else []
    told += [f"{after.people} at the bench"] if after.people != before.people else []
    if after.largest_cup_g != before.largest_cup_g and after.largest_cup_g is not None:
        told.append(f"cups of {mass(after.largest_cup_g)}")
    return ", ".join(told)


def _before_and_after(*sides: Sequence[Judged]) -> Iterator[str]:
    """Yield what was to spare and what failed on some days and on later ones, where both tell."""
    spares_s = [[day.spare_s for day in days if day.spare_s is not None] for days in sides]
    if all(spares_s):
        yield f"spare {' → '.join(map(_middle, spares_s))}"
    failed = [[day.failed for day in days if day.tags] for days in sides]
    if all(failed):
        yield "failed " + " → ".join(f"{sum(side)} of {len(side)}" for side in failed)


def _middle(values: Sequence[float]) -> str:
    """Return the middle of some days' times, with the least and the most where they differ."""
    least, most = signed_minutes(min(values)), signed_minutes(max(values))
    return signed_minutes(median(values)) + (f" ({least} to {most})" if least != most else "")


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
        days = "" if each.topic == "wrong" else f"   {_many(each.days, 'day')}"
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
    yield f"{_many(lessons.sessions, 'session')} read"
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
            f"{_many(losses.per_batch.sessions, 'session')}"
        )
        squeeze = losses.squeeze
        counted = _many(squeeze.sessions, "session")
        yield f"driven out, more than planned: {100 * squeeze.mean:+.1f} % of what is laid, {counted}"
    yield from (f"{run.title}, {day_and_month(run.day)}: {run.counted}" for run in lessons.dry_runs)
    yield from (f"! {problem}" for problem in lessons.problems)


def next_band(one: PooledMean) -> tuple[float, float]:
    reach = EIGHTY_PERCENT * one.next_sd
    return exp(one.mean - reach), exp(one.mean + reach)


def _crew_lines(crew: CrewLesson) -> Iterator[str]:
    yield f"{crew.people} at the bench, over the plan's minutes ({_many(crew.sessions, 'session')}):"
    rows = []
    for kind, one in crew.kinds.items():
        low, high = next_band(one)
        told = _many(one.sessions, "session") if one.sessions else "from the other kinds"
        rows.append((kind, f"{exp(one.mean):.2f} times ({low:.2f} to {high:.2f}), {told}"))
    yield from table_lines(("", ""), rows, left="ll", indent=2)
    if crew.left_out_words:
        yield f"  {crew.left_out_words}"
