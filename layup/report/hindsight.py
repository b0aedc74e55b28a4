"""What only hindsight knows of a session: the minute that decided it, and the same day with one thing changed.

As data, as lines of text, and as blocks of a report.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from textwrap import wrap

from layup.bench.decided import Decided, decided
from layup.bench.replay import Replay
from layup.errors import LayupError
from layup.files.workshop import Workshop
from layup.report.charts import Block, Heading, Paragraph, Table, spare_of
from layup.review.carried import carriers
from layup.review.changed_days import ChangedDay, ChangedDays, changed_days
from layup.review.review import Review
from layup.session.archive import Summary
from layup.session.clock import Clock

SIMULATED = "Simulated on the logged temperatures and the real step times; an estimate."


@dataclass(frozen=True, slots=True)
class Hindsight:
    """What the replay and the simulation of a session tell; each None where there is nothing to tell."""

    decided: Decided | None
    decided_at: str
    """The clock then."""
    changed: ChangedDays | None
    carriers: tuple[Summary, ...] = ()
    """The sessions that say what became of its notes for next time."""


def hindsight(found: Review, workshop: Workshop, clock: Clock) -> Hindsight:
    """Return what only hindsight knows of a session.

    Parameters
    ----------
    found : Review
        The session looked back on [-]
    workshop : Workshop
        Where it was pressed, with the resins that there are [-]
    clock : Clock
        By which a session that runs is replayed [-]

    Returns
    -------
    Hindsight
        The minute that decided the day, and the same day with one thing changed [-]
    """
    try:
        replay = Replay(Path(found.kept.folder), workshop, clock)
        turned = decided(replay, found)
        at = "" if turned is None else replay.day.clock_time(turned.at_s)
    except LayupError:
        turned, at = None, ""
    try:
        changed = changed_days(found.kept, found.track, workshop.resins())
    except LayupError:
        changed = None
    return Hindsight(turned, at, changed, carriers(workshop) if found.kept.state.carried else ())


def hindsight_data(seen: Hindsight) -> dict[str, object]:
    """Return hindsight as data."""
    turned, changed = seen.decided, seen.changed
    return {
        "decided": None if turned is None else asdict(turned),
        "changed_days": None
        if changed is None
        else {
            "own_spare_s": changed.own_spare_s,
            "own_tightest": changed.own_tightest,
            "rows": [_row(one) for one in changed.rows],
            "pair": None if changed.pair is None else _row(changed.pair),
        },
    }


def _row(one: ChangedDay) -> dict[str, object]:
    return {"changes": list(one.kinds), "words": one.words, "spare_s": one.spare_s, "in_time": one.in_time}


def decided_line(seen: Hindsight) -> str:
    """Return when the day was decided and what would still have helped; empty where nothing decided it."""
    turned = seen.decided
    if turned is None:
        return ""
    way = f"; a minute before, this would have helped: {turned.way}" if turned.way else ""
    return f"Decided at {seen.decided_at}: {turned.why}{way}."


def saving_line(changed: ChangedDays | None) -> str:
    """Return the one change that would have turned a day that was too late; empty where none would."""
    one = None if changed is None else changed.saves
    return "" if one is None else f"In time with {one.words}: {spare_of(one.spare_s)}, by simulation."


def no_changed_day(found: Review) -> str:
    """Say why a day cannot be worked through with one thing changed, and where to look instead."""
    if found.kept.state.recalled is not None:
        return "Told from memory: its minutes are not known. What to change stands in the next plan, on Stack."
    if found.track is None or found.kept.state.is_casting:
        return "Only a press day is tried with one thing changed."
    return "Not tried: no cup was laid and closed over on this day. The next plan, on Stack, knows its lessons."


def changed_rows(changed: ChangedDays) -> list[tuple[str, str]]:
    """Return each changed day with what it had to spare, the day as it went first, the best pair last."""
    rows = [(f"as it went, {changed.own_tightest} the tightest", spare_of(changed.own_spare_s))]
    rows += [(one.words, spare_of(one.spare_s)) for one in changed.rows]
    return rows + ([(changed.pair.words, spare_of(changed.pair.spare_s))] if changed.pair else [])


def changed_lines(changed: ChangedDays, *, width: int) -> list[str]:
    """Return the changed days as a table for people."""
    if not changed.rows:
        return [f"The same day: {spare_of(changed.own_spare_s)}; no single change leaves more."]
    rows = changed_rows(changed)
    room = max(len(spare) for _, spare in rows) + 2  # a number is never cut, words go on in the next line
    lines = [f"{'':{room}}the same day with"]
    for words, spare in rows:
        lines += wrap(words, max(width, 2 * room), initial_indent=f"{spare:<{room}}", subsequent_indent=" " * room)
    return [*lines, SIMULATED]


def hindsight_blocks(seen: Hindsight) -> Iterator[Block]:
    """Yield what a report says of it."""
    for line in filter(None, (saving_line(seen.changed), decided_line(seen))):
        yield Paragraph(line, strong=True)
    if seen.changed is not None and seen.changed.rows:
        yield Heading("The same day with one thing changed")
        yield Table(("change", "then"), tuple(changed_rows(seen.changed)), numbers=frozenset({"then"}))
        yield Paragraph(SIMULATED)
