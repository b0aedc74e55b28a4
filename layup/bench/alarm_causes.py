"""What alarms are made of, and everything that their causes look at.

What can be wrong with a batch until it is on the part, and what to do about it.

What can be wrong with the part, the shop and what watches over them, and what to do about it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Literal

from layup.planning.clocks import HOT_FOR_S, LifeStage, hot_cup
from layup.planning.replan import Rescue
from layup.planning.scale import verdict
from layup.session.fields import AlarmRank
from layup.session.lifetimes import Lifetime
from layup.session.state import SessionState
from layup.session.state_parts import BatchState
from layup.units import minutes, temperature

# -- alarm scene -----------------------------------------------------------------------------------------------------

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
class AlarmContext:
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
class AlarmScene:
    """Everything the causes look at."""

    state: SessionState
    alive: Mapping[int, Lifetime]
    outlook: AlarmContext
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


# -- alarm cups ------------------------------------------------------------------------------------------------------

# How late or how long to say it, and how far back before it clears. Common practice, no source.
SETTLE_S = 60.0
"""How long a key may be late before its absence is an alarm."""
STIRRED_FOR_S = 180.0
"""How long it is worth saying that a batch is stirred; after that its cup's own clock says it."""
BACK_SHARE, BACK_S = 0.05, 60.0
OUTSIDE = "Don't use. Cup outside now, clear of anything that burns"


def clock_not_started(scene: AlarmScene) -> Iterator[Alarm]:
    """The scale says that hardener is in the cup, and nobody started the batch's clock."""
    for batch in scene.state.batches:
        if batch.status == "weighed" and batch.hardener_g and scene.now_s - (batch.weighed_s or 0.0) >= SETTLE_S:
            words = f"batch {batch.number} has hardener in it and its clock does not run"
            yield Alarm(f"clock {batch.number}", "clock not started", "soon", words, "log hardener in", batch.number)


def off_ratio(scene: AlarmScene) -> Iterator[Alarm]:
    """A mix that is off ratio can be put right until it is on the part."""
    for batch in scene.state.batches:
        known = batch.status in ("weighed", "in the cup") and batch.resin_g and batch.hardener_g
        settled = scene.now_s - max(batch.weighed_s or 0.0, batch.mixed_s or 0.0) >= SETTLE_S
        if not (known and settled) or scene.state.closed_s is not None:
            continue
        poured = (batch.resin_g or 0.0, batch.hardener_g or 0.0)
        judged = verdict(poured, scene.outlook.parts, cup_g=scene.outlook.cup_g)
        if judged.word != "on ratio":
            much = "too much" if judged.off_ratio > 0 else "too little"
            words = f"batch {batch.number} has {100 * abs(judged.off_ratio):.0f} % {much} hardener"
            rank: AlarmRank = "now" if judged.word == "off ratio" else "when free"
            action = next(line for line in judged.advice if line.startswith("Add "))
            yield Alarm(f"ratio {batch.number}", "off ratio", rank, words, action, batch.number)


def stirred(scene: AlarmScene) -> Iterator[Alarm]:
    """A batch that was stirred for long enough waits in its cup."""
    for batch in scene.state.batches:
        if batch.status != "in the cup" or batch.mixed_s is None or scene.state.closed_s is not None:
            continue
        over_s = scene.now_s - batch.mixed_s - scene.outlook.stir_s
        if 0.0 <= over_s <= STIRRED_FOR_S:
            words = f"batch {batch.number} has been stirred for {minutes(scene.outlook.stir_s)}"
            action = "scrape the sides and the bottom once more, then pour it out"
            yield Alarm(f"stir {batch.number}", "stirred", "when free", words, action, batch.number)


def cups(scene: AlarmScene) -> Iterator[Alarm]:
    """Each cup that goes off: first a bell, then at once; a measured temperature counts where it says more."""
    for batch in scene.state.batches:
        life = scene.alive.get(batch.number)
        if batch.status == "in the cup" and life is not None:
            read_K = life.read_K[1] if life.read_K and life.hot(scene.now_s) else None
            stage = life.stage(scene.now_s, 0.0)
            found = _cup(scene, life) if read_K is None else _measured(batch.number, read_K, stage)
        else:
            found = _lost_and_hot(scene, batch)
        if found is not None:
            yield found


def not_known(scene: AlarmScene) -> Iterator[Alarm]:
    """A batch is in its cup or on the part, and nothing can be said of how long it lasts."""
    for number, why in scene.outlook.unknown.items():
        batch = scene.state.batch(number)
        if batch is not None and batch.status in ("in the cup", "on the part") and scene.state.closed_s is None:
            words = f"batch {number}: how long it lasts is {why}"
            action = "go by how it looks: test it every few minutes, and work without a break"
            yield Alarm(f"life {number}", "not known", "soon", words, action, number)


def _lost_and_hot(scene: AlarmScene, batch: BatchState) -> Alarm | None:
    """Return the alarm of a lost cup that was measured hot since."""
    if not batch.temperatures or batch.poured_out_s is not None or batch.lost_s is None:
        return None
    at_s, kelvin = batch.temperatures[-1]
    hot = hot_cup(kelvin) if batch.lost_s < at_s and scene.now_s - at_s <= HOT_FOR_S else None
    return None if hot is None else _measured(batch.number, kelvin, "past")


def _measured(number: int, kelvin: float, stage: LifeStage) -> Alarm:
    """Return the alarm of a cup that was measured hot, which counts for more than its clock."""
    words = f"batch {number} measured at {temperature(kelvin)}: it heats itself"
    action = "empty the cup onto the part, or spread it out flat"
    if stage == "past":
        action = f"{OUTSIDE}; gloves on, keep out of the fumes"
    elif stage == "may be over":
        action = "look at it: if it drags lay no more of it, and spread the rest out flat"
    return Alarm(f"cup {number}", "cup hot", "now", words, action, number, danger=True)


def _cup(scene: AlarmScene, life: Lifetime) -> Alarm | None:
    """Return the alarm of one cup by its clock. With the press closed only one that heats itself still matters."""
    key, number, due = f"cup {life.batch}", life.batch, life.due(0.0)
    leftover = scene.state.closed_s is not None
    if leftover and life.heat == "warm":
        return None
    limits_s: dict[AlarmRank, float] = {"soon": due.by_s - due.soon_s, "now": 0.0}
    rank = scene.rank_of(key, due.by_s - scene.now_s, limits_s, max(BACK_SHARE * (due.low_s - life.mixed_s), BACK_S))
    if rank is None:
        return None
    heats = life.heat == "runaway"
    words, action = _leftover(number) if leftover else _cup_words(life, scene.now_s)
    return Alarm(key, "cup heats" if heats else "cup", rank, words, action, number, danger=heats and rank == "now")


def _cup_words(life: Lifetime, now_s: float) -> tuple[str, str]:
    """Return what is wrong with a cup by its clock, and what to do."""
    stage, number, left_s = life.stage(now_s, 0.0), life.batch, life.empty_by_s - now_s
    heats = life.heat == "runaway"
    if stage == "past":
        words = f"batch {number} is past its time in the cup" + " and heats itself" * heats
        return words, f"{OUTSIDE}, and log it lost"
    if stage == "may be over":
        words = f"batch {number} may be thick: past the early end of its life in the cup"
        return words + ", and will heat itself" * heats, (
            "look at it: if it drags lay no more of it, and spread the rest out flat"
        )
    if stage == "now":
        words = f"empty cup {number} now: due {minutes(-left_s)} ago (an estimate)"
    else:
        words = f"empty cup {number} soon: {minutes(left_s)} left (an estimate)"
    return words + ", then it heats itself" * heats, "empty the cup onto the part, or spread it out flat"


def _leftover(number: int) -> tuple[str, str]:
    """Return what is wrong with mix that stands in its cup after the press was closed, and what to do."""
    words = f"batch {number} is left over in its cup and heats itself as it sets"
    return words, "spread it out flat, clear of anything that burns, and log it lost"


# -- alarm bench -----------------------------------------------------------------------------------------------------

# How early to say it, and how far back before it clears. Common practice, no source.
CLOSING_BACK_S, LATE_BACK_S, SHOP_BACK_K = 120.0, 120.0, 0.5


def not_saved(scene: AlarmScene) -> Iterator[Alarm]:
    """Events are in memory only, or another program meddles with the files."""
    if scene.outlook.fault:
        words, _, action = scene.outlook.fault.partition(" - ")
        yield Alarm("journal", "not saved", "now", words, action or "mend the disk, keep this running")
    if scene.outlook.mended:
        action = "stop whatever syncs this folder until the press is closed"
        yield Alarm("files", "not saved", "when free", scene.outlook.mended, action)


def clock_unsure(scene: AlarmScene) -> Iterator[Alarm]:
    """The machine was off, and nobody has said what time it is: every age may be too young."""
    if scene.state.clock_unsure:
        words = "the machine was off: every batch is at least as old as it says"
        yield Alarm("clock", "clock unsure", "now", words, "look at another clock and say what time it is")


def part(scene: AlarmScene) -> Iterator[Alarm]:
    """The first batch on the part decides when the press must be closed; once it has gelled nothing helps any more."""
    on_part = [life for life in scene.alive.values() if life.where == "on the part"]
    if not on_part or scene.state.closed_s is not None:
        return
    first, closing_s = min(on_part, key=lambda life: life.low_s), scene.outlook.closing_s
    due, stage, ready_s = first.due(closing_s), first.stage(scene.now_s, closing_s), scene.outlook.ready_s
    in_time = ready_s is not None and ready_s <= first.low_s and scene.state.step_now is None
    if scene.now_s >= first.gel_s or in_time:
        return
    action = scene.outlook.rescue.words
    if stage == "past":
        words = f"batch {first.batch} on the part is past its open time"
        yield Alarm("part", "shut", "now", words, action, first.batch)
    elif stage == "may be over":
        words = f"batch {first.batch} on the part may be shut: past the early end of its open time"
        yield Alarm("part", "shut", "now", words, action, first.batch)
    elif scene.rank_of("part", due.by_s - scene.now_s, {"now": 0.0}, CLOSING_BACK_S):
        words = f"{minutes(first.low_s - scene.now_s)} until the press must be closed (an estimate)"
        yield Alarm("part", "closing", "now", words, action, first.batch)
    elif ready_s is not None:
        late_s = ready_s - first.low_s
        if late_s > (-LATE_BACK_S if scene.stands("part", "soon") else 0.0):
            words = f"at today's pace the press closes {minutes(late_s)} too late"
            if late_s <= 0.0:
                words = "at today's pace the press closes with nothing to spare"
            action = "get more hands or leave out what can wait, and plan the rest anew"
            yield Alarm("part", "late", "soon", words, action, first.batch)


def thermometer(scene: AlarmScene) -> Iterator[Alarm]:
    """The thermometer that is followed does not speak."""
    silent_s = scene.outlook.thermometer_silent_s
    if silent_s is not None:
        words = f"the thermometer has not spoken for {minutes(silent_s)}: the countdowns go by its last reading"
        action = "look at it, or read another and type the temperature"
        yield Alarm("thermometer", "thermometer", "when free", words, action)


def shop(scene: AlarmScene) -> Iterator[Alarm]:
    """The shop has left the temperatures that the plan works in, and something is still to be mixed."""
    state = scene.state
    waiting = any(batch.status in ("to mix", "weighed") for batch in state.batches)
    if not state.air or not waiting or state.closed_s is not None:
        return
    kelvin, (low_K, high_K) = state.air[-1][1], scene.outlook.window_K
    back_K = SHOP_BACK_K if scene.stands("shop") else 0.0
    here = f"shop at {temperature(kelvin, '.1f')}"
    if high_K is not None and kelvin > high_K - back_K:
        words = f"{here}: the plan works up to {temperature(high_K, '.1f')}"
        action = "cool the shop or the cans, or mix smaller batches: plan the rest anew"
        yield Alarm("shop", "shop", "soon", words, action)
    elif low_K is not None and kelvin < low_K + back_K:
        words = f"{here}: the plan works from {temperature(low_K, '.1f')} up"
        yield Alarm("shop", "shop", "soon", words, "warm the shop and the cans before the next batch is mixed")
