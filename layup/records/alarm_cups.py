"""What can be wrong with a batch until it is on the part, and what to do about it."""

from __future__ import annotations

from collections.abc import Iterator

from layup.planning.clocks import HOT_FOR_S, LifeStage, hot_cup
from layup.planning.verdict import verdict
from layup.records.alarm_scene import Alarm, Scene, minutes
from layup.records.event_fields import AlarmRank
from layup.records.facts import BatchState
from layup.records.lifetimes import Lifetime

# How late or how long to say it, and how far back before it clears. Common practice, no source.
SETTLE_S = 60.0
"""How long a key may be late before its absence is an alarm."""
STIRRED_FOR_S = 180.0
"""How long it is worth saying that a batch is stirred; after that its cup's own clock says it."""
BACK_SHARE, BACK_S = 0.05, 60.0
OUTSIDE = "Don't use. Cup outside now, clear of anything that burns"


def clock_not_started(scene: Scene) -> Iterator[Alarm]:
    """The scale says that hardener is in the cup, and nobody started the batch's clock."""
    for batch in scene.state.batches:
        if batch.status == "weighed" and batch.hardener_g and scene.now_s - (batch.weighed_s or 0.0) >= SETTLE_S:
            words = f"batch {batch.number} has hardener in it and its clock does not run"
            yield Alarm(f"clock {batch.number}", "clock not started", "soon", words, "log hardener in", batch.number)


def off_ratio(scene: Scene) -> Iterator[Alarm]:
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


def stirred(scene: Scene) -> Iterator[Alarm]:
    """A batch that was stirred for long enough waits in its cup."""
    for batch in scene.state.batches:
        if batch.status != "in the cup" or batch.mixed_s is None or scene.state.closed_s is not None:
            continue
        over_s = scene.now_s - batch.mixed_s - scene.outlook.stir_s
        if 0.0 <= over_s <= STIRRED_FOR_S:
            words = f"batch {batch.number} has been stirred for {minutes(scene.outlook.stir_s)}"
            action = "scrape the sides and the bottom once more, then pour it out"
            yield Alarm(f"stir {batch.number}", "stirred", "when free", words, action, batch.number)


def cups(scene: Scene) -> Iterator[Alarm]:
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


def not_known(scene: Scene) -> Iterator[Alarm]:
    """A batch is in its cup or on the part, and nothing can be said of how long it lasts."""
    for number, why in scene.outlook.unknown.items():
        batch = scene.state.batch(number)
        if batch is not None and batch.status in ("in the cup", "on the part") and scene.state.closed_s is None:
            words = f"batch {number}: how long it lasts is {why}"
            action = "go by how it looks: test it every few minutes, and work without a break"
            yield Alarm(f"life {number}", "not known", "soon", words, action, number)


def _lost_and_hot(scene: Scene, batch: BatchState) -> Alarm | None:
    """Return the alarm of a lost cup that was measured hot since."""
    if not batch.temperatures or batch.poured_out_s is not None or batch.lost_s is None:
        return None
    at_s, kelvin = batch.temperatures[-1]
    hot = hot_cup(kelvin) if batch.lost_s < at_s and scene.now_s - at_s <= HOT_FOR_S else None
    return None if hot is None else _measured(batch.number, kelvin, "past")


def _measured(number: int, kelvin: float, stage: LifeStage) -> Alarm:
    """Return the alarm of a cup that was measured hot, which counts for more than its clock."""
    words = f"batch {number} measured at {kelvin - 273.15:.0f} °C: it heats itself"
    action = "empty the cup onto the part, or spread it out flat"
    if stage == "past":
        action = f"{OUTSIDE}; gloves on, keep out of the fumes"
    elif stage == "may be over":
        action = "look at it: if it drags lay no more of it, and spread the rest out flat"
    return Alarm(f"cup {number}", "cup hot", "now", words, action, number, danger=True)


def _cup(scene: Scene, life: Lifetime) -> Alarm | None:
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
