"""What alarms are made of, and everything that their causes look at."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from layup.planning.rescue import Rescue
from layup.records.event_fields import AlarmRank
from layup.records.lifetimes import Lifetime
from layup.records.state import SessionState

RANKS: tuple[AlarmRank, ...] = ("when free", "soon", "now")
"""Three, the least first; as many as people tell apart under stress (after IEC 60601-1-8)."""

Kind = Literal[
    "not saved", "not known", "clock not started", "off ratio", "stirred", "cup", "cup heats", "cup hot", "late",
    "closing", "shut", "thermometer", "shop", "clock unsure",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Alarm:
    """One thing that is wrong and can be helped. `key` names the problem: worse turns of it keep the key."""

    key: str
    kind: Kind
    rank: AlarmRank
    words: str
    action: str
    batch: int | None = None
    danger: bool = False
    """Somebody could get hurt."""
    since_s: float = 0.0
    """Since when it stands without a break, at any rank."""
    acknowledged: bool = False
    """Somebody has seen it at this rank or a higher one: it is quiet."""

    @property
    def level(self) -> int:
        """The rank as a number, 0 the least."""
        return RANKS.index(self.rank)


@dataclass(frozen=True, slots=True)
class Outlook:
    """What alarms need to know beyond the session itself."""

    now_s: float
    parts: tuple[float, float]
    """Resin and hardener by mass, as the datasheet has them."""
    closing_s: float
    """How long closing the press takes."""
    stir_s: float
    rescue: Rescue
    """What saves most of the part if it cannot be closed in time."""
    cup_g: float | None = None
    """The most that a cup may hold."""
    ready_s: float | None = None
    """When the press will be closed at today's pace."""
    window_K: tuple[float | None, float | None] = (None, None)
    """The shop temperatures between which the plan works."""
    fault: str = ""
    """Why the journal is not on the disk."""
    mended: str = ""
    """What another program did to the session's files, and what was done about it."""
    unknown: Mapping[int, str] = field(default_factory=dict)
    """Batches that are mixed and of which nobody can say how long they last, with the reason."""
    thermometer_silent_s: float | None = None
    """For how long the thermometer that is followed has not spoken; None where it has, or none is followed."""


@dataclass(frozen=True, slots=True)
class Scene:
    """Everything the causes look at."""

    state: SessionState
    alive: Mapping[int, Lifetime]
    outlook: Outlook
    stood: Mapping[str, AlarmRank]
    """The alarms that stood before, by key."""

    @property
    def now_s(self) -> float:
        """The session's age."""
        return self.outlook.now_s

    def stands(self, key: str, rank: AlarmRank = "when free") -> bool:
        """Return whether a problem stood before, at `rank` or a higher one."""
        before = self.stood.get(key)
        return before is not None and RANKS.index(before) >= RANKS.index(rank)

    def rank_of(self, key: str, left_s: float, limits_s: Mapping[AlarmRank, float], back_s: float) -> AlarmRank | None:
        """Return the highest rank whose limit the time left has reached; one that stood holds on for `back_s` more."""
        for rank in reversed(RANKS):
            if rank in limits_s and left_s <= limits_s[rank] + (back_s if self.stands(key, rank) else 0.0):
                return rank
        return None


def minutes(seconds: float) -> str:
    """Return a time in whole minutes, or seconds where that is short."""
    return f"{seconds / 60:.0f} min" if seconds >= 90 else f"{max(seconds, 0.0):.0f} s"
