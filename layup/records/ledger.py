"""The records that count, by kind, each with its number: what a finding rests on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Generic, NamedTuple, TypeVar

from layup.records.event_words import describe
from layup.records.events import Event
from layup.records.state import SessionState

E = TypeVar("E", bound=Event)
Said = TypeVar("Said", bound=Event, covariant=True)


class Entry(NamedTuple, Generic[Said]):
    """One record that counts: its number, when it was logged, and what it says."""

    seq: int
    at_s: float
    event: Said


@dataclass(frozen=True, slots=True)
class Evidence:
    """One record that a finding rests on."""

    seq: int
    at_s: float
    words: str


@dataclass(frozen=True, slots=True)
class Ledger:
    """All records of a session that neither were undone nor failed to apply, in order."""

    entries: tuple[Entry[Event], ...]

    def all(self, kind: type[E]) -> list[Entry[E]]:
        """Return the entries of one kind."""
        return [Entry(seq, at_s, event) for seq, at_s, event in self.entries if isinstance(event, kind)]

    def of_batch(self, kind: type[E], batch: int) -> list[Entry[E]]:
        """Return the entries of one kind that are about one batch."""
        return [entry for entry in self.all(kind) if getattr(entry.event, "batch", None) == batch]


def ledger_of(state: SessionState) -> Ledger:
    """Return the records that count."""
    void = state.cancelled | {misfit.seq for misfit in state.misfits}
    return Ledger(tuple(Entry(r.seq, r.elapsed_s, r) for r in state.records if r.seq not in void))


def evidence(*entries: Entry[Event] | None) -> tuple[Evidence, ...]:
    """Return entries as evidence, in the order of the journal, those that exist."""
    found = {entry.seq: Evidence(entry.seq, entry.at_s, describe(entry.event)) for entry in entries if entry}
    return tuple(found[seq] for seq in sorted(found))
