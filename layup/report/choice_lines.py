"""Which resin for which day, as lines: one sentence, one picture of resin by temperature, and tonight's figures."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from math import inf, isfinite
from textwrap import fill

from layup.bench.planner import hanging
from layup.planning.choosing import Choice, ResinTable
from layup.planning.fit import FitWord
from layup.planning.schedule import TIGHT_S
from layup.report.bars import table_lines
from layup.report.hindsight import SIMULATED
from layup.review.timeline import signed_minutes
from layup.review.worked_day import ResinsOnDay
from layup.session.text import shortened
from layup.units import mass, spare_of, temperature, viscosity

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
    return (
        f"! {_fitted(row.result.datasheet.title, width - 2)}" if row.odd else _fitted(row.result.datasheet.title, width)
    )


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
                    f"{_plain(more)}: {more.people} people lay it in {_cups(few)} and have less to spare than "
                    f"{fewer.people} in {many}: take smaller cups."
                )


def _cups(count: int) -> str:
    return "1 cup" if count == 1 else f"{count} cups"


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
