"""What went wrong and why: each cause that the log shows, with its evidence, its size and what to change, ranked.

Detectors stand in the modules `causes_*`. The size of an effect is counted in its own tolerance: 1 is where harm begins
to be likely. A cause outranks what follows from it, and what usually makes the defects that were recorded outranks what
does not. A finding rests on the records that count. After a silence of the log while resin was wet several steps were
logged at once, and no time of them holds; one long step that ends in its own entry is none: it was slow.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from copy import copy
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from math import inf
from typing import Generic, Literal, NamedTuple, TypeVar

from layup.chemistry.calibration import Calibration
from layup.chemistry.climate import COLD_SHOP_K
from layup.chemistry.datasheet import Datasheet
from layup.chemistry.prediction import Vessel, predict
from layup.chemistry.temperature import History
from layup.errors import LayupError
from layup.planning.plan import Plan
from layup.planning.planner import PlanResult
from layup.review.as_built import AsBuilt
from layup.review.timeline import BatchTrack, Track
from layup.session.batch_events import BatchLost, BatchMixed, BatchPouredOut, StepDone
from layup.session.day_events import TemperatureRead
from layup.session.fields import Place
from layup.session.lifetimes import first_K
from layup.session.records import ClockJumped, MachineRestarted
from layup.session.state import Event, SessionState
from layup.session.state_parts import in_effect
from layup.units import mass, minutes

# -- ledger ----------------------------------------------------------------------------------------------------------

E = TypeVar("E", bound=Event)
Said = TypeVar("Said", bound=Event, covariant=True)


class Entry(NamedTuple, Generic[Said]):
    """One record that counts: its number, when it happened, and what it says."""

    seq: int
    at_s: float
    event: Said


@dataclass(frozen=True, slots=True)
class Evidence:
    """One record that a finding rests on."""

    seq: int
    at_s: float
    words: str


def effective_records(state: SessionState) -> tuple[Entry[Event], ...]:
    """Return the records of a session that neither were undone nor failed to apply, in the order of time."""
    void = state.cancelled | {misfit.seq for misfit in state.misfits}
    counting = (Entry(record.seq, record.when_s, record) for record in state.records if record.seq not in void)
    return tuple(sorted(counting, key=lambda entry: (entry.at_s, entry.seq)))


def evidence(*entries: Entry[Event]) -> tuple[Evidence, ...]:
    """Return entries as evidence, in the order of the journal."""
    found = {entry.seq: Evidence(entry.seq, entry.at_s, entry.event.describe()) for entry in entries}
    return tuple(found[seq] for seq in sorted(found))


SLIP_K, SLIP_S = 4.0, 120.0
"""A reading that the next one puts right by so much, so soon after, was a slip: no shop or mould moves so fast."""


def without_slips(state: SessionState) -> SessionState:
    """Return a session without the temperatures of shop and mould that were put right at once."""
    clean = copy(state)
    clean.air, clean.mould = _without_slips(state.air), _without_slips(state.mould)
    return clean


def _without_slips(history: History) -> History:
    slips = {
        one
        for one, (at_s, kelvin) in pairwise(history)
        if at_s - one[0] <= SLIP_S and abs(kelvin - one[1]) > SLIP_K and one is not history[0]
    }
    return tuple(one for one in history if one not in slips)


# -- outcomes --------------------------------------------------------------------------------------------------------

Cause = Literal[
    "past thickening",
    "cup too large",
    "cup too hot",
    "off ratio",
    "ratio unread",
    "hardly stirred",
    "scale too coarse",
    "shop outside the window",
    "mould outside the window",
    "closed late",
    "starved",
    "resin-rich",
    "slow step",
    "dew or blush",
    "cure cut short",
    "gap in the log",
    "poured late",
    "joined late",
    "joined early",
    "core cold",
    "core wet",
    "planed early",
]
GOOD = "good"
"""The tag of a part without a defect."""


@dataclass(frozen=True, slots=True)
class Defect:
    """One way in which a part goes wrong; `comes_from` are its usual causes (common practice, no source)."""

    words: str
    comes_from: frozenset[Cause]


DEFECTS: dict[str, Defect] = {
    "dry spot": Defect(
        "cloth that resin never reached",
        frozenset({"past thickening", "starved", "shop outside the window", "mould outside the window", "slow step"}),
    ),
    "void": Defect(
        "air shut in between plies",
        frozenset({"past thickening", "closed late", "starved", "slow step", "cup too hot", "shop outside the window"}),
    ),
    "delamination": Defect(
        "plies or core that do not hold together",
        frozenset(
            {
                *("closed late", "past thickening", "dew or blush", "off ratio", "ratio unread", "scale too coarse"),
                *("starved", "slow step", "cure cut short", "mould outside the window"),
            }
        ),
    ),
    "starved": Defect("too little resin all over", frozenset({"starved", "past thickening"})),
    "resin-rich": Defect(
        "too much resin, heavy and brittle", frozenset({"resin-rich", "closed late", "past thickening"})
    ),
    "tacky": Defect(
        "does not set hard, or sticks to the finger",
        frozenset(
            {
                *("off ratio", "ratio unread", "hardly stirred", "scale too coarse", "dew or blush", "cure cut short"),
                *("shop outside the window", "mould outside the window", "core cold", "planed early"),
            }
        ),
    ),
    "foam": Defect("bubbles or foam in a cast wall", frozenset({"core wet", "poured late", "core cold"})),
    "open joint": Defect(
        "two pours, or wall and core, that do not hold together", frozenset({"joined late", "poured late", "core wet"})
    ),
    "scorched": Defect("browned or foamed by its own heat", frozenset({"cup too large", "cup too hot", "off ratio"})),
    "twist": Defect(
        "comes out crooked, or moves later",
        frozenset({"cure cut short", "mould outside the window", "closed late", "off ratio"}),
    ),
}


def defects_of(tags: Iterable[str]) -> tuple[str, ...]:
    """Return the tags that name a defect, in their order."""
    return tuple(tag for tag in tags if tag in DEFECTS)


TELL_OF: dict[str, str] = {
    **dict.fromkeys(("dry", "white", "whitish"), "dry spot"),
    **dict.fromkeys(("voids", "bubbles", "air", "blisters"), "void"),
    **dict.fromkeys(("delaminated", "delam", "peeled", "split", "unbonded"), "delamination"),
    **dict.fromkeys(("heavy", "rich"), "resin-rich"),
    **dict.fromkeys(("sticky", "soft", "gummy", "uncured"), "tacky"),
    **dict.fromkeys(("burnt", "burned", "browned", "brown", "foamed"), "scorched"),
    **dict.fromkeys(("twisted", "warped", "crooked"), "twist"),
}
"""What people say of a part, for each the trade's word."""


def tags_in(text: str) -> tuple[str, ...]:
    """Return the defects that free words tell of."""
    plain = text.casefold()
    named = [defect for defect in DEFECTS if defect in plain]
    named += [TELL_OF[word] for word in re.findall(r"[a-z]+", plain) if word in TELL_OF]
    return tuple(dict.fromkeys(named))


def usual_causes(defects: Iterable[str]) -> frozenset[Cause]:
    """Return everything that any of these defects usually comes from."""
    return frozenset(cause for defect in defects for cause in DEFECTS[defect].comes_from)


# -- findings --------------------------------------------------------------------------------------------------------

Certainty = Literal["certain", "likely", "possible"]
MEANS: dict[Certainty, tuple[float, float]] = {"certain": (0.95, 1.0), "likely": (0.70, 0.95), "possible": (0.30, 0.70)}
"""The probability, low and high, that a finding called so was really there: held to on days with a known truth."""
WEIGHT: dict[Certainty, float] = {"certain": 1.0, "likely": 0.8, "possible": 0.5}
LARGEST = 6.0
"""Sizes beyond this are as bad as can be."""
FIRST = 100.0
"""The size of what stands before all else, whatever else went wrong."""
MOST_ALONE: dict[Cause, float] = {"slow step": 1.0, "gap in the log": 0.0}
"""As how large at most counts what does no harm of its own: lost time where all was in time; a silence, last of all."""
FITS_DEFECT, OTHER_DEFECT = 1.5, 0.7
"""How much more, or less, a finding counts that does or does not usually make the defects recorded."""
FOLLOWS_FROM: dict[Cause, frozenset[Cause]] = {
    "past thickening": frozenset({"slow step", "cup too large", "cup too hot", "shop outside the window"}),
    "cup too hot": frozenset({"cup too large", "shop outside the window"}),
    "closed late": frozenset(
        {"slow step", "shop outside the window", "mould outside the window", "cup too hot", "past thickening"}
    ),
    "cure cut short": frozenset({"off ratio", "ratio unread"}),
}
"""What each finding may follow from."""
OF_TIME: frozenset[Cause] = frozenset(
    {"past thickening", "closed late", *FOLLOWS_FROM["past thickening"], *FOLLOWS_FROM["closed late"]}
)
"""What makes a cup or a press late, and that it was."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One cause that a session shows: what happened, how far it went, what it did, and what to change."""

    cause: Cause
    words: str
    effect: str
    change: str
    size: float
    certainty: Certainty
    evidence: tuple[Evidence, ...]
    also: tuple[str, ...] = ()
    """The same again, of other batches or steps, in words."""
    brief: str = ""
    """The cause in a few words with its number, as part of a sentence."""
    lost_s: float | None = None
    """What it took of the time that was there; None where it took none, or nobody can say."""
    lost_g: float | None = None
    """The mix that it spoilt, or that the part lacks or has too much of; None as above."""

    @property
    def harm(self) -> str:
        """What it cost: minutes or grams; empty where neither can be said."""
        said = [minutes(self.lost_s)] if self.lost_s else []
        return " and ".join([*said, *([] if self.lost_g is None else [mass(self.lost_g)])])


@dataclass(frozen=True)
class Scene:
    """Everything that a detector looks at."""

    state: SessionState
    track: Track
    plan: Plan
    sheet: Datasheet
    calibration: Calibration
    result: PlanResult | None
    """The plan by whose temperatures a shop is judged; None where it could not be worked out again."""
    as_built: AsBuilt | None
    defects: tuple[str, ...]

    @cached_property
    def entries(self) -> tuple[Entry[Event], ...]:
        """The records that count."""
        return effective_records(self.state)

    def all(self, kind: type[E], batch: int | None = None) -> list[Entry[E]]:
        """Return the entries of a kind; of one batch, where it is given."""
        found = [Entry(seq, at_s, event) for seq, at_s, event in self.entries if isinstance(event, kind)]
        return found if batch is None else [one for one in found if getattr(one.event, "batch", None) == batch]

    def last(self, kind: type[E], batch: int | None = None) -> list[Entry[E]]:
        """Return the last of them, where there is one."""
        return self.all(kind, batch)[-1:]

    def of_cup(self, batch: BatchTrack) -> list[Entry[Event]]:
        """Return the entries of a batch's begin and end in its cup: mixed, and poured out, lost, or both."""
        kinds = BatchMixed, BatchPouredOut, BatchLost
        return [one for one in self.all(Event, batch.number) if isinstance(one.event, kinds)]

    def read(self, place: Place, begin_s: float, end_s: float | None = None) -> list[Entry[TemperatureRead]]:
        """Return the entries of the readings of a place that counted at a time, or from then until another."""
        counted = in_effect(self.state.history(place), begin_s, begin_s if end_s is None else end_s)
        times = {at_s for at_s, _ in counted}
        return [one for one in self.all(TemperatureRead) if one.event.place == place and one.at_s in times]

    @property
    def sets_from_K(self) -> float:
        """How warm a mould has to be for its resin to set on it."""
        return self.sheet.minimum_temperature_K or COLD_SHOP_K

    def air_K(self, at_s: float) -> float:
        """Return the shop's temperature at a time, as it was last read."""
        return first_K(in_effect(self.state.air, at_s, at_s))

    def cup_life_s(self, mass_g: float, start_K: float, air_K: float) -> float | None:
        """Return how long a cup lives by the model; None where that ends."""
        try:
            life = predict(self.calibration.kinetics, Vessel.cup(), mass_g=mass_g, start_K=start_K, ambient=air_K)
        except LayupError:
            return None
        return life.working_s

    @property
    def wet(self) -> tuple[float, float] | None:
        """From first contact until the press closed, or until the bench went quiet; None before first contact."""
        contact_s = self.track.contact_s
        return None if contact_s is None else (contact_s, max(self.track.end_s, contact_s))

    @cached_property
    def silences(self) -> tuple[LogGap, ...]:
        """The stretches without an entry between first contact and the closing."""
        return tuple(_log_gaps(self, *self.wet)) if self.wet else ()

    def unsure(self, at_s: float | None) -> bool:
        """Return whether something logged at a time may have happened any time in a silence before it."""
        bursts = ((silence.burst[0].at_s, silence.burst[-1].at_s) for silence in self.silences)
        return at_s is not None and any(begin_s <= at_s <= end_s for begin_s, end_s in bursts)

    def foretold(self, cause: Cause, certainty: Certainty, *, on_part: bool = True) -> Certainty:
        """Return how sure a finding is that a model makes: certain only of what is on the part and fits how it is."""
        usual, outcome = usual_causes(self.defects), self.state.outcome
        fits = cause in usual if usual else outcome is None or GOOD not in outcome.tags
        return certainty if certainty != "certain" or (on_part and fits) else "likely"


Detector = Callable[[Scene], Iterator[Finding]]


def find(scene: Scene, detectors: Sequence[Detector]) -> tuple[Finding, ...]:
    """Return what all detectors find, one finding a cause, the most telling first."""
    found: dict[Cause, list[Finding]] = {}
    for detector in detectors:
        for finding in detector(scene):
            found.setdefault(finding.cause, []).append(finding)
    return rank([_together(same) for same in found.values()], scene.defects)


def _together(same: Sequence[Finding]) -> Finding:
    """Return the worst of some findings of one cause, with the others as more of it."""
    worst = max(same, key=lambda finding: (_weight(finding), *_harm(finding)))
    others = [finding for finding in same if finding is not worst]
    records = {one.seq: one for finding in same for one in finding.evidence}
    return replace(
        worst,
        also=tuple(finding.words for finding in others),
        evidence=tuple(records[seq] for seq in sorted(records)),
    )


def _weight(finding: Finding) -> float:
    """Return how much a finding counts before it is known what it explains, and what follows from it."""
    return finding.size if finding.size >= FIRST else min(finding.size, LARGEST) * WEIGHT[finding.certainty]


def _harm(finding: Finding) -> tuple[float, float, float]:
    """Return how much harm a finding did, beside another that counts as much."""
    return finding.size, finding.lost_s or 0.0, finding.lost_g or 0.0


def rank(
    findings: Iterable[Finding], defects: Sequence[str], saves: frozenset[Cause] = frozenset()
) -> tuple[Finding, ...]:
    """Return findings in the order of harm, each cause above what follows from it, whose score it takes over.

    Harm is counted by each one's tolerance, and by how sure it is: a cure's lost minutes are not those of a cup. A
    cause that is none of those whose change alone `saves` the day takes nothing over from one that is. Of two that
    count as much, as all beyond `LARGEST` do, that one stands first, then the larger, what took more minutes, more
    grams.
    """
    found = list(findings)
    usual = usual_causes(defects)

    def score(finding: Finding) -> float:
        fits = 1.0 if not usual else FITS_DEFECT if finding.cause in usual else OTHER_DEFECT
        return min(_weight(finding), MOST_ALONE.get(finding.cause, inf)) * fits

    own = [score(finding) for finding in found]
    behind = list(own)
    for _ in FOLLOWS_FROM:  # as many rounds as the longest chain can have links
        for i, cause in enumerate(found):
            follows = (
                behind[j]
                for j, one in enumerate(found)
                if cause.cause in FOLLOWS_FROM.get(one.cause, ()) and (cause.cause in saves or one.cause not in saves)
            )
            behind[i] = max(own[i], max(follows, default=0.0) * 1.001)
    order = sorted(
        range(len(found)),
        key=lambda i: (
            *(-behind[i], -own[i], found[i].cause not in saves, *(-each for each in _harm(found[i]))),
            found[i].cause,
        ),
    )
    return tuple(found[i] for i in order)


# -- silences --------------------------------------------------------------------------------------------------------

QUIET_S = 900.0
"""A quarter of an hour without an entry while resin is wet is long."""
BURST_S = 60.0
"""What is logged within so short a time after a silence was caught up on."""


@dataclass(frozen=True, slots=True)
class LogGap:
    """A stretch without an entry, and what was caught up on after it."""

    before: Entry[Event]
    burst: tuple[Entry[Event], ...]
    jumps: tuple[Entry[Event], ...]

    @property
    def took_s(self) -> float:
        return self.burst[0].at_s - self.before.at_s


def _log_gaps(scene: Scene, begin_s: float, end_s: float) -> Iterator[LogGap]:
    entries = [e for e in scene.entries if not e.event.any_time and begin_s <= e.at_s <= end_s]
    jumps = [*scene.all(ClockJumped), *scene.all(MachineRestarted)]
    for before, after in pairwise(entries):
        if after.at_s - before.at_s <= QUIET_S:
            continue
        burst = tuple(e for e in entries if after.at_s <= e.at_s <= after.at_s + BURST_S)
        within = tuple(jump for jump in jumps if before.at_s < jump.at_s <= after.at_s)
        if within or sum(isinstance(entry.event, StepDone) for entry in burst) > 1:
            yield LogGap(before, burst, within)
