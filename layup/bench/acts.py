"""The acts of a press day: what somebody at the bench can do next, in words, with a number, a deadline, an urgency.

An alarm is no other thing: it is an act whose deadline has come, and which rings.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import inf
from typing import Literal, get_args

from layup.bench.scale_readings import SCALE_TO
from layup.planning.clocks import STAGES, LifeStage
from layup.session.fields import AlarmRank
from layup.session.state import SessionState
from layup.session.state_parts import StepState
from layup.session.text import shortened

Kind = Literal[
    "answer clock", "spread outside", "look", "read scale", "empty cup", "add", "start clock", "pour hardener",
    "pour resin", "colour", "stir", "scrape", "core", "moisture", "rescue", "retighten", "close", "step", "weigh",
    "replan", "cool shop", "warm shop", "demould", "leave closed", "temperature", "save", "mend files", "end", "wait",
    "over",
]  # fmt: skip
"""What is done. Of acts as urgent as each other the earlier kind comes first."""
KINDS: tuple[Kind, ...] = get_args(Kind)
TAKES_TIME: frozenset[Kind] = frozenset(("stir", "wait", "leave closed", "over"))
"""Acts that only take time: nothing is logged of them. One that logs nothing else is logged as seen."""
MIXING: frozenset[Kind] = frozenset(
    ("add", "start clock", "read scale", "pour hardener", "pour resin", "colour", "stir", "weigh")
)
"""What the one who mixes does, where two work."""
Person = Literal["", "mixing", "laying"]
AT_SCALE: dict[Kind, str] = {
    "weigh": SCALE_TO, "pour resin": SCALE_TO, "pour hardener": SCALE_TO, "add": SCALE_TO, "read scale": "SHOULD BE"
}  # fmt: skip
"""Acts at the scale, and what goes before their number."""
FIRST = "first cup"
"""What goes before a cup that is poured onto what is laid already, before the step on the bench."""
NOTED = "last time:"
"""What goes before what an earlier session carried forward, on every surface."""

DUE: tuple[LifeStage, ...] = STAGES[STAGES.index("now") :]
"""The stages at which something has to be done."""
NAME_WIDTH = 26
"""So many letters of a step's name stand in an act, and in a question."""
RANKS: tuple[AlarmRank, ...] = ("when free", "soon", "now")
"""Three, the least first; as many as people tell apart under stress (after IEC 60601-1-8)."""


@dataclass(frozen=True, slots=True)
class Act:
    """One thing to do. `key` names the matter through all turns of it: what was seen of it, and when, goes by that."""

    kind: Kind
    words: str
    """Verb and object, as they are read from two metres away: "EMPTY CUP 1"."""
    key: str
    urgency: LifeStage = "fresh"
    """Of a cup and a part the stage of `planning.clocks`; of all else as these name it."""
    number: str = ""
    """A quantity with its unit, where the act has one: what the scale is to show."""
    why: str = ""
    """One short line; empty where nothing needs to be said."""
    note: str = ""
    """What an earlier session carried forward to it."""
    deadline_s: float | None = None
    at_s: float | None = None
    """When it comes, at today's pace."""
    since_s: float = 0.0
    """Since when it is as urgent as it is: who has seen it later has seen it."""
    person: Person = ""
    """For whom it is, where two have something of their own to do."""
    batch: int | None = None
    step: int | None = None
    alarm: bool = False
    """Whether it rings, as loud as its rank."""
    closes: bool = False
    """Whether the press is closed by it, whatever its words are."""
    danger: bool = False
    """Somebody could get hurt."""
    seen: bool = False
    """Somebody has seen it and it waits: another act comes first."""

    @property
    def level(self) -> int:
        """The urgency as a number, 0 the calm one."""
        return STAGES.index(self.urgency)

    @property
    def is_due(self) -> bool:
        return self.urgency in DUE

    @property
    def of_number(self) -> str:
        """What goes before the number, so that nobody pours what the scale is to show."""
        return AT_SCALE.get(self.kind, "") if self.number else ""

    @property
    def amount(self) -> str:
        """The number with what it is."""
        return f"{self.of_number} {self.number}".lstrip()

    @property
    def told(self) -> str:
        """The number with what it is, amid a sentence."""
        return f"{self.of_number.lower()} {self.number}".lstrip()

    @property
    def beside_bar(self) -> str:
        """The reason, but for a step's pace: its bar shows that."""
        return self.why if self.kind != "step" or self.why.startswith(FIRST) else ""

    @property
    def aloud(self) -> str:
        """The act as it is spoken."""
        return ", ".join(filter(None, (self.words.lower(), self.told, self.why)))

    @property
    def rank(self) -> AlarmRank:
        """How loud it is if it rings, and how it is acknowledged."""
        return RANKS[min(self.level, len(RANKS) - 1)]

    @property
    def is_same_as(self) -> tuple[str, str, int | None, int | None]:
        """What makes it the same act for somebody who reads the screen, whatever its digits count."""
        return self.kind, self.words, self.batch, self.step


Acts = tuple[list[Act], list[Act]]
"""What can be done at a moment, and what comes."""


def is_seen(act: Act, state: SessionState) -> bool:
    """Return whether somebody acknowledged an act since it is as urgent as it is."""
    if act.key not in state.acknowledged:
        return False
    at_s, rank = state.acknowledged[act.key]
    return at_s >= act.since_s and RANKS.index(rank) >= RANKS.index(act.rank)


def step_act(step: StepState, at_s: float | None = None, why: str = "") -> Act:
    """Return the work on a step, maybe with when it comes."""
    words = shortened(step.plan.name, NAME_WIDTH).upper()
    return Act("step", words, f"step {step.number}", why=why, at_s=at_s, step=step.number)


def ranked(acts: Iterable[Act]) -> list[Act]:
    """Return acts in the order in which they are done: the one ranking. What was seen and waits comes last."""
    return sorted(acts, key=_order)


def _order(act: Act) -> tuple[bool, bool, int, bool, int, float]:
    """Return what an act is ranked by; a pour that stands unread on the scale waits only for what is due now."""
    by_s = inf if act.deadline_s is None else act.deadline_s
    level = max(act.level, STAGES.index("soon")) if act.kind == "read scale" else act.level
    return act.kind == "wait", act.seen, -level, not act.danger, KINDS.index(act.kind), by_s
