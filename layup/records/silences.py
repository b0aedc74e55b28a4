"""Silences of the log while resin was wet, after which several steps were logged at once: no time of them holds.

One long step that ends in its own entry is no silence: it was slow, and the log says so.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from layup.records.events import ClockJumped, Event, MachineRestarted, StepDone
from layup.records.findings import Scene
from layup.records.ledger import Entry
from layup.records.rules import ANY_TIME

QUIET_S = 900.0
"""A quarter of an hour without an entry while resin is wet is long."""
BURST_S = 60.0
"""What is logged within so short a time after a silence was caught up on."""


@dataclass(frozen=True, slots=True)
class Silence:
    """A stretch without an entry, and what was caught up on after it."""

    before: Entry[Event]
    burst: tuple[Entry[Event], ...]
    jumps: tuple[Entry[Event], ...]

    @property
    def took_s(self) -> float:
        """How long it was."""
        return self.burst[0].at_s - self.before.at_s

    def covers(self, at_s: float) -> bool:
        """Return whether something logged at a time may have happened any time in the silence."""
        return self.burst[0].at_s <= at_s <= self.burst[-1].at_s


def silences(scene: Scene) -> list[Silence]:
    """Return the silences between first contact and the closing."""
    if scene.wet is None:
        return []
    begin_s, end_s = scene.wet
    entries = [e for e in scene.ledger.entries if e.event.event not in ANY_TIME and begin_s <= e.at_s <= end_s]
    jumps = [*scene.ledger.all(ClockJumped), *scene.ledger.all(MachineRestarted)]
    found = []
    for before, after in pairwise(entries):
        if after.at_s - before.at_s <= QUIET_S:
            continue
        burst = tuple(e for e in entries if after.at_s <= e.at_s <= after.at_s + BURST_S)
        within = tuple(jump for jump in jumps if before.at_s < jump.at_s <= after.at_s)
        if within or sum(isinstance(entry.event, StepDone) for entry in burst) > 1:
            found.append(Silence(before, burst, within))
    return found
