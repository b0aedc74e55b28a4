"""What can be wrong with a batch until it is on the part, and what to do about it."""

from __future__ import annotations

from collections.abc import Iterator

from layup.chemistry.heat import HOT_K
from layup.planning.clocks import EMPTY_BY
from layup.planning.verdict import verdict
from layup.records.alarm_scene import Alarm, Kind, Scene, minutes
from layup.records.event_fields import AlarmRank
from layup.records.facts import BatchState
from layup.records.lifetimes import Lifetime

# How early to say it, and how far back before it clears. Common practice, no source.
EARLY_SHARE = 0.25
"""Share of a cup's life left at which it is first said; three quarters are used."""
EARLY_S, SOON_S = 300.0, 180.0
"""The least time before a cup's end at which it is first said, and said again with a bell."""
SETTLE_S = 60.0
"""How long a key may be late before its absence is an alarm."""
STIRRED_FOR_S = 180.0
"""How long it is worth saying that a batch is stirred; after that its cup's own clock says it."""
HOT_FOR_S = 900.0
"""How long a hot reading counts if nobody reads again."""
BACK_SHARE, BACK_S, HOT_BACK_K = 0.05, 60.0, 5.0


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
    """Each cup that goes off: first a word, then a bell, then at once; a measured temperature beats the estimate."""
    for batch in scene.state.batches:
        if hot := _hot(scene, batch):
            yield hot
        elif batch.status == "in the cup" and batch.number in scene.alive:
            life = scene.alive[batch.number]
            if alarm := _cup(scene, batch, life):
                yield alarm


def _hot(scene: Scene, batch: BatchState) -> Alarm | None:
    """Return the alarm of a cup that was measured hot; a lost one only if it was measured since."""
    if not batch.temperatures or batch.poured_out_s is not None:
        return None
    at_s, kelvin = batch.temperatures[-1]
    if batch.lost_s is not None and at_s <= batch.lost_s:
        return None
    key = f"cup {batch.number}"
    back_K = HOT_BACK_K if scene.stands(key, "now") else 0.0
    if kelvin < HOT_K - back_K or scene.now_s - at_s > HOT_FOR_S:
        return None
    words = f"batch {batch.number} measured at {kelvin - 273.15:.0f} °C: it heats itself"
    action = "gloves on, carry the cup outside, clear of anything that burns; keep out of the fumes"
    return Alarm(key, "cup hot", "now", words, action, batch.number, danger=True)


def _cup(scene: Scene, batch: BatchState, life: Lifetime) -> Alarm | None:
    """Return the alarm of one cup by its clock. With the press closed only one that heats itself still matters."""
    key, number, left_s = f"cup {batch.number}", batch.number, life.left_s(scene.now_s)
    span_s = life.low_s - life.mixed_s
    limits_s: dict[AlarmRank, float] = {"soon": max((1.0 - EMPTY_BY["runaway"]) * span_s, SOON_S), "now": 0.0}
    leftover = scene.state.closed_s is not None
    if not leftover:
        limits_s["when free"] = max(EARLY_SHARE * span_s, EARLY_S)
    elif life.heat == "warm":
        return None
    rank = scene.rank_of(key, left_s, limits_s, max(BACK_SHARE * span_s, BACK_S))
    if rank is None:
        return None
    heats = life.heat == "runaway" and rank != "when free"
    kind: Kind = "cup heats" if heats else "cup"
    over = scene.now_s >= life.likely_s
    words, action = _leftover(number) if leftover else _cup_words(number, left_s, rank, over=over, heats=heats)
    return Alarm(key, kind, rank, words, action, number, danger=heats and rank == "now")


def _cup_words(number: int, left_s: float, rank: AlarmRank, *, over: bool, heats: bool) -> tuple[str, str]:
    """Return what is wrong with a cup by its clock, and what to do."""
    if over:
        words = f"batch {number} is past its time in the cup"
        return words + " and heats itself" * heats, (
            "lay no more of it; carry the cup outside, clear of anything that burns, and log it lost"
        )
    if left_s <= 0.0:
        words = f"batch {number} may be thick: past the early end of its life in the cup"
        return words + ", and will heat itself" * heats, (
            "look at it: if it drags lay no more of it, and spread the rest out flat"
        )
    words = f"batch {number}: {minutes(left_s)} left in its cup (an estimate)" + ", then it heats itself" * heats
    if rank == "when free":
        return words, "lay it before anything else"
    return words, "empty the cup onto the part, or spread it out flat"


def _leftover(number: int) -> tuple[str, str]:
    """Return what is wrong with mix that stands in its cup after the press was closed, and what to do."""
    words = f"batch {number} is left over in its cup and heats itself as it sets"
    return words, "spread it out flat, clear of anything that burns, and log it lost"
