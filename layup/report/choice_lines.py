"""Which resin for which day, as lines: one sentence, one picture of resin by temperature, and tonight's figures."""

from __future__ import annotations

from collections.abc import Iterator
from math import isfinite
from textwrap import fill

from layup.planning.choosing import Choice, ResinTable
from layup.planning.fit import Word
from layup.report.tables import table_lines
from layup.session.text import shortened
from layup.units import mass, minutes, temperature, viscosity

LETTERS: dict[Word, str] = {"fits": "F", "tight": "T", "does not fit": "-"}
KEY = "F fits   T tight   - does not fit"
LEAST_NAME, MOST_NAME = 10, 34
"""Columns of a resin's name beside the picture."""
OF_FIGURES = 61
"""Columns of tonight's figures beside the name."""
WITH_CREWS = 72
"""Columns from which on a cell shows each crew, and tonight's figures stand as a table."""


def sentence(table: ResinTable) -> str:
    """Say which resin to take tonight; where none fits, which comes nearest, and where one does."""
    best = next(iter(table.tonight), None)
    people = "1 person" if table.people == 1 else f"{table.people} people"
    where = f"{temperature(table.tonight_K)}, {people}"
    if best is None:
        return f"{where}: no resin can be judged."
    title = best.result.datasheet.title
    if best.verdict == "fits":
        return f"{where}: take {title}, {_spare(best)}."
    if best.verdict == "tight":
        return f"{where}: nothing fits with room; {title} is tight, {_spare(best)}."
    near = table.nearest()
    if near is None:
        return f"{where}: no resin fits, nor at any temperature here with {table.crews[-1]} people or fewer."
    return (
        f"{where}: no resin fits. Nearest: {near.result.datasheet.title} at {temperature(near.temperature_K)} "
        f"with {near.people}, {_spare(near)}."
    )


def _spare(row: Choice) -> str:
    slack_s, odds = row.result.split.slack_s, row.result.odds if row.fit.works else None
    words = [] if slack_s is None else [f"{minutes(abs(slack_s))} {'spare' if slack_s >= 0.0 else 'short'}"]
    return ", ".join([*words, *([f"{odds.words} in time"] if odds else [])])


def picture(table: ResinTable, *, width: int) -> list[str]:
    """Draw each resin by temperature, the best for tonight first, each crew a letter where there is room."""
    crews = table.crews if width >= WITH_CREWS else (table.people,)
    heads = [temperature.digits(kelvin) for kelvin in table.shops_K]
    cell = max(len(crews), *map(len, heads)) + 1
    name = max(min(width - cell * len(heads) - len(temperature.sign) - 2, MOST_NAME), LEAST_NAME)
    here = table.shops_K.index(table.tonight_K) if table.tonight_K in table.shops_K else 0
    told = "" if len(crews) == 1 else f"   each letter a crew: {', '.join(map(str, crews))} people"
    lines = [f"{KEY}{told}", " " * (name + 1 + cell * here) + "tonight".rjust(cell)[-(name + cell * (here + 1)) :]]
    lines.append(" " * (name + 1) + "".join(f"{head:>{cell}}" for head in heads) + f" {temperature.sign}")
    by_place = {(row.result.datasheet.id, row.temperature_K, row.people): row for row in table.rows}
    for row in table.tonight:
        sheet = row.result.datasheet
        words = [
            "".join(LETTERS[by_place[sheet.id, kelvin, crew].verdict] for crew in crews) for kelvin in table.shops_K
        ]
        lines.append(f"{_title(row, name):<{name}} " + "".join(f"{letters:>{cell}}" for letters in words))
    return lines


def figures(table: ResinTable, *, width: int) -> list[str]:
    """Return what tonight comes to with each resin: as a table, or where there is no room some lines each."""
    if width < WITH_CREWS:
        return [line for row in table.tonight for line in _short(row, width)]
    name = max(width - OF_FIGURES, LEAST_NAME)
    heads = (
        *("tonight", "spare", "in time", f"mix {mass.sign}", "price", viscosity.sign, "out h"),
        f"Tg {temperature.sign}",
    )
    rows = [(f"{LETTERS[row.verdict]} {_title(row, name)}", *_numbers(row)) for row in table.tonight]
    return table_lines(heads, rows, left="l", width=width)


def _title(row: Choice, width: int) -> str:
    """Return a resin's name, without what stands in brackets where it would be cut."""
    title = row.result.datasheet.title
    return title if len(title) <= width else shortened(title.partition(" (")[0], width)


def _numbers(row: Choice) -> tuple[str, ...]:
    """Return tonight's figures of one resin, each without its unit but times of the day."""
    slack_s, odds, out_s = row.result.split.slack_s, row.result.odds if row.fit.works else None, row.night.ready.out_s
    thick, ends = row.viscosity_Pa_s, [format(end_s / 3600.0, ".0f") for end_s in out_s]
    return (
        "" if slack_s is None else f"{'' if slack_s >= 0.0 else '-'}{minutes(abs(slack_s))}",
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
    told.append(f"Tg {glass} {temperature.sign}")
    yield from fill(", ".join(filter(None, told)), width, initial_indent="  ", subsequent_indent="  ").splitlines()


def why_lines(table: ResinTable) -> list[str]:
    """Say what speaks against tonight's resins, the first thing of each."""
    found = []
    for row in table.tonight:
        if said := (*row.fit.against, *row.fit.tight):
            found.append(f"{row.result.datasheet.title.partition(' (')[0]}: {said[0]}")
    return found
