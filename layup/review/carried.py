"""Notes for next time: what sessions carry forward, what of it is still open, and what a review proposes.

A note stands in the journal of the session that it comes from. What became of it stands in the journal of the session
that met it or, where none did, in that of the note; both are read from all sessions each time, so that nothing is kept
twice. A note is known by the digits that prove its line, not by its folder's name: renamed, it stays settled; copied,
it stands once. Of a folder that was deleted its notes are gone; of one that settled a note, the note is open again.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from layup.chemistry.datasheet import Datasheet
from layup.errors import StorageError
from layup.files.workshop import Workshop
from layup.review.changed_days import changed_days
from layup.review.evidence import Cause, Finding
from layup.review.review import Review
from layup.session.archive import Sessions, Summary
from layup.session.clock import Clock
from layup.session.day_events import NEXT_TIME, CarriedForward, CarrySettled
from layup.session.journal import Journal
from layup.session.records import require_all
from layup.session.state import Event, SessionState
from layup.session.state_parts import Carried, Settled, Settling
from layup.session.text import NAME_LIMIT, clean, shortened
from layup.units import minutes, parse

# -- open notes ------------------------------------------------------------------------------------------------------

MOST_TRIED = 20
"""So many sessions are tried for what became of a note, where its own cannot be written."""


class Source(NamedTuple):
    """A session, and a note that it carries forward."""

    session: str
    note: Carried


@dataclass(frozen=True, slots=True)
class NextTime:
    """A note for next time that is open, with all entries that say the same, the first one first."""

    text: str
    step: str
    resin: str
    sources: tuple[Source, ...]

    @property
    def key(self) -> str:
        """Its item on the list "before you start"."""
        return f"{NEXT_TIME}{self.sources[0].note.line}"

    @property
    def words(self) -> str:
        """The note with where it belongs and when it was made."""
        at = f"{self.step}: " if self.step else ""
        many = f", {len(self.sources)} sessions" if len(self.sources) > 1 else ""
        return f"{at}{self.text} ({self.sources[0].session[:10]}{many})"

    def is_at(self, step: str) -> bool:
        """Return whether it belongs to a step of this name."""
        return bool(self.step) and one_line(self.step).casefold() == one_line(step).casefold()

    def is_open_in(self, state: SessionState) -> bool:
        """Return whether a session that meets it has not settled it."""
        lines = {each.note.line for each in self.sources}
        return next((each.how for each in reversed(state.settled) if each.line in lines), "open") == "open"

    def settled(self, how: Settling) -> tuple[CarrySettled, ...]:
        """Return what is logged once it is done or dropped, or open again."""
        return tuple(
            CarrySettled(session=session, carried_seq=note.seq, line=note.line, how=how, text=self.text)
            for session, note in self.sources
        )


def one_line(text: str) -> str:
    """Return typed text as a note for next time keeps it: one line, without what a terminal would obey."""
    return clean(" ".join(clean(text, 10 * NAME_LIMIT).split()))


def open_notes(sessions: Iterable[Summary], *, until: str = "") -> tuple[NextTime, ...]:
    """Return the notes for next time that are open, the newest first; those of `until` (UTC, ISO 8601), if given."""
    known = list(sessions)
    last = _last(settled for each in known for settled in each.settled if not until or settled.at <= until)
    found: dict[tuple[str, str, str], dict[str, Source]] = {}
    for session in known:
        for note in session.carried:
            if (note.line in last and last[note.line].how != "open") or (until and note.at > until):
                continue
            same = one_line(note.text).casefold(), one_line(note.step).casefold(), note.resin
            found.setdefault(same, {}).setdefault(note.line, Source(session.name, note))
    newest = sorted((tuple(each.values()) for each in found.values()), key=lambda each: each[0].note.at, reverse=True)
    return tuple(NextTime(of[0].note.text, of[0].note.step, of[0].note.resin, of) for of in newest)


def _last(settled: Iterable[Settled]) -> dict[str, Settled]:
    """Return the last that was said of each note, by the digits of its line."""
    return {each.line: each for each in sorted(settled, key=lambda each: each.at)}


def carriers(
    workshop: Workshop, *, keep: bool = False, progress: Callable[[int, int], None] | None = None
) -> tuple[Summary, ...]:
    """Return the sessions that carry or settle notes; `keep` is whether the index of all may be written."""
    if not workshop.sessions_folder.is_dir():
        return ()  # a session or a plan is looked at by its path
    found = Sessions(workshop, keep=keep).all(progress=progress)
    return tuple(session for session in found if session.carried or session.settled)


def met_by(sessions: Iterable[Summary], name: str, resin_id: str, *, until: str = "") -> tuple[NextTime, ...]:
    """Return the notes that a session of this name meets: what others carry, less what others settled.

    What it settled itself its own state tells, at each of its moments.
    """
    return for_resin(open_notes((each for each in sessions if each.name != name), until=until), resin_id)


def for_resin(notes: Iterable[NextTime], resin_id: str) -> tuple[NextTime, ...]:
    """Return the notes that a plan with this resin meets."""
    return tuple(note for note in notes if note.resin in ("", resin_id))


def at_no_step(notes: Iterable[NextTime], steps: Iterable[str]) -> tuple[NextTime, ...]:
    """Return the notes that belong to none of these steps: before the day, or to a step that has another name now."""
    names = list(steps)
    return tuple(note for note in notes if not any(note.is_at(name) for name in names))


def note_data(note: NextTime) -> dict[str, object]:
    """Return a note for next time as data, with every entry that says it."""
    return {
        "text": note.text,
        "step_name": note.step,
        "resin": note.resin,
        "sources": [{"session": session, "seq": one.seq, "at": one.at} for session, one in note.sources],
    }


# -- writing ---------------------------------------------------------------------------------------------------------


def append_to(folder: Path, events: Sequence[Event], clock: Clock) -> None:
    """Log events in a session that no program holds open: all of them or, where one cannot be, none."""
    with Journal.open(folder, clock) as journal:
        require_all(journal.state, events)
        for event in events:
            journal.append(event)


def settle(workshop: Workshop, note: NextTime, how: Settling, clock: Clock, *, into: Path | None = None) -> str:
    """Log what became of a note, and return the name of the session where it now stands.

    That is `into`, the session that met it, else the one that the note comes from; one that cannot be written, as on a
    disk that only reads, leaves it to the newest of the others. Raises StorageError where none can be written.
    """
    own = [workshop.sessions_folder / source.session for source in note.sources]
    others = [folder for folder in reversed(workshop.begun()) if folder not in own][:MOST_TRIED]
    failed: StorageError | None = None
    for folder in [into] if into is not None else [*own, *others]:
        try:
            append_to(folder, note.settled(how), clock)
        except StorageError as error:
            failed = failed or error
        else:
            return folder.name
    assert failed is not None  # every note comes from a session
    raise failed


# -- proposals -------------------------------------------------------------------------------------------------------

OF_THE_RESIN: frozenset[Cause] = frozenset({"past thickening", "cup too large", "cup too hot"})
"""What is said of one resin's cups only."""
SAYS: dict[Cause, str] = {"off ratio": "Read the scale's verdict before you stir"}
"""The line of a finding whose change does not begin with what to do."""
FIRST_CLAUSE = re.compile(r"[.;:](\s|$)")


@dataclass(frozen=True, slots=True)
class Proposal:
    """What a session could carry forward: from a finding, a note, or the words of its outcome."""

    of: str
    """Where it comes from: "finding 1", "note at 38 min", "outcome"."""
    event: CarriedForward


def proposals(found: Review, resins: Mapping[str, Datasheet]) -> tuple[Proposal, ...]:
    """Return a line for each finding, note and outcome, and for what would have saved the day, of `resins` by id."""
    state = found.stored.state
    lines = []
    for number, finding in enumerate(found.findings, 1):
        text = SAYS.get(finding.cause, FIRST_CLAUSE.split(finding.change, maxsplit=1)[0])
        of_resin = state.start.resin if state.start and finding.cause in OF_THE_RESIN else ""
        step = _step_of(state, finding)
        event = CarriedForward(text=shortened(one_line(text), NAME_LIMIT), step_name=step, resin=of_resin)
        lines.append(Proposal(f"finding {number}", event))
    for note in state.notes:
        if (words := one_line(note.text)) and not note.marks_play:
            event = CarriedForward(text=words, step_name=step_at(state, note.at_s))
            after = state.ended_s is not None and note.at_s >= state.ended_s
            lines.append(Proposal("note afterwards" if after else f"note at {minutes(note.at_s)}", event))
    words = one_line(state.outcome.notes) if state.outcome else ""
    lines += [Proposal("outcome", CarriedForward(text=words))] if words else []
    changed = changed_days(found.stored, found.track, resins) if found.findings else None
    if changed is not None and changed.saves is not None:
        words = f"{changed.saves.words[:1].upper()}{changed.saves.words[1:]}"
        lines.append(Proposal("what if", CarriedForward(text=shortened(one_line(words), NAME_LIMIT))))
    return tuple(lines)


MOST = r"(\d[\d.]* ?(?:g|kg|oz|lb))\b"
CUP_OF = re.compile(rf"\bcups? ≤ {MOST}|\bno more than {MOST} in a cup", re.IGNORECASE)
"""How a largest cup stands in what is proposed: by a changed day, and by a finding."""


def cup_in(text: str) -> float | None:
    """Return the most mix in a cup that a note for next time asks for [g]; None where it asks for none."""
    found = CUP_OF.search(text)
    return None if found is None else parse(found[1] or found[2], "mass")


def _step_of(state: SessionState, finding: Finding) -> str:
    """Return the step that a finding names; empty where it names none, and where it is about more than that step."""
    if finding.cause != "slow step":
        return ""
    names = [step.plan.name for step in state.steps if f"'{step.plan.name}'" in finding.words]
    return max(names, key=len, default="")


def step_at(state: SessionState, at_s: float) -> str:
    """Return the name of the step that was on the bench at a time; empty before the first mix and once all is over."""
    begun_s = state.contact_s
    over_s = min((end_s for end_s in (state.closed_s, state.ended_s) if end_s is not None), default=None)
    if begun_s is None or at_s < begun_s or (over_s is not None and at_s >= over_s):
        return ""
    left = (step for step in state.steps if step.skipped_s is None and step.merged_into is None)
    return next((step.plan.name for step in left if step.done_s is None or step.done_s > at_s), "")


def carried_words(state: SessionState, sessions: Iterable[Summary]) -> Iterator[str]:
    """Yield what a session carries forward, each with what became of it by itself or by the session that met it."""
    became = _last((*state.settled, *(settled for each in sessions for settled in each.settled)))
    for note in state.carried:
        at = f"{note.step}: " if note.step else ""
        last = became.get(note.line)
        yield f"{at}{note.text}" + ("" if last is None or last.how == "open" else f" ({last.how} {last.at[:10]})")
