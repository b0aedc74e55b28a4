"""How long each mixed batch of a session still lives, by its age at the temperatures it saw; what a mould went through.

Pure: a session's state and a calibrated resin in, times out. Times ending in `_s` count from the session's start.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import accumulate, pairwise
from math import inf
from typing import Literal, NamedTuple

from layup.chemistry.calibration import Calibration
from layup.chemistry.film import skin_share
from layup.chemistry.life_band import predict_band, psi_at_the_edge
from layup.chemistry.looks import LOOKS, LookWord
from layup.chemistry.observation import SURPRISE, learn, with_readings
from layup.chemistry.prediction import HeatClass, Vessel, heat_class
from layup.chemistry.stages import CourseBand, Stage, follow, follow_band, gel_in_channel_s
from layup.chemistry.temperature import AHEAD_S, DAY_S, History, temperature_at_K
from layup.chemistry.uncertainty import Band
from layup.errors import LayupError
from layup.planning.clocks import (
    CUP_WORDS,
    HOT_FOR_S,
    PART_WORDS,
    Due,
    HotCup,
    LifeStage,
    cup_due,
    empty_by_s,
    hot_cup,
    part_due,
    worse,
)
from layup.planning.night import no_warmer
from layup.session.state import SessionState
from layup.session.state_parts import BatchState, Forecast, Sight, in_effect

# -- lifetimes -------------------------------------------------------------------------------------------------------

UNLOGGED_K = 293.15
"""Taken for the shop where no temperature was logged: 20 C."""
HEATED_K = 5.0
"""A mould so much warmer than the shop is heated (our own judgement)."""
MOST_POINTS = 26
"""Readings that a course is integrated through one by one; more of them are averaged over stretches of time."""
IMPOSSIBLE, SET_ASIDE = 10.0, "too far off to be true: no other batch goes by it"
"""From so many standard deviations on a look is of something else than this mix, and in words what becomes of it.

Some eight times sooner or later: a fast hardener is three to six times as quick as a slow one (from memory).
"""
Where = Literal["in the cup", "on the part"]


@dataclass(frozen=True, slots=True)
class Lifetime:
    """When one batch stops being usable where it is: thickening in its cup, or no longer open on the part."""

    batch: int
    where: Where
    mixed_s: float
    over_s: Band
    """Its early end is what a careful person goes by."""
    gel_s: Band
    peak_K: float
    heat: HeatClass
    """How hot it gets if left where it was mixed, at the edge that one case in ten exceeds."""
    course: CourseBand
    seen: Sight | None = None
    """The look that ended it before its band foretold; None where the band stands."""
    read_K: tuple[float, float] | None = None
    """When the mix was last measured in its cup, and how warm it was."""

    def due(self, closing_s: float) -> Due:
        """Return when the batch has to be dealt with where it is, with a press that takes so long to close."""
        if self.where == "in the cup":
            return cup_due(self.mixed_s, self.over_s.low, self.over_s.high, self.heat)
        return part_due(self.mixed_s, self.over_s.low, self.over_s.high, closing_s)

    def hot(self, now_s: float) -> HotCup | None:
        """Return what the last reading of the mix in its cup says, while that counts."""
        if self.where != "in the cup" or self.read_K is None or now_s - self.read_K[0] > HOT_FOR_S:
            return None
        return hot_cup(self.read_K[1])

    def belongs_outside(self, now_s: float) -> bool:
        """Return whether the last reading of the mix in its cup says so, while that counts."""
        hot = self.hot(now_s)
        return hot is not None and hot.stage == "past"

    def stage(self, now_s: float, closing_s: float) -> LifeStage:
        """Return how the batch does: by its clock or, where that is worse, by what was measured."""
        stage, hot = self.due(closing_s).stage(now_s), self.hot(now_s)
        return stage if hot is None else worse(stage, hot.stage)

    def word(self, now_s: float, closing_s: float) -> str:
        """Return the stage in the words that stand on its card."""
        stage, hot = self.stage(now_s, closing_s), self.hot(now_s)
        if hot is not None and hot.stage == stage:
            return hot.word
        return (CUP_WORDS if self.where == "in the cup" else PART_WORDS)[stage]

    @property
    def empty_by_s(self) -> float:
        """By when a cup must be empty; on the part, until when it is open."""
        return self.due(0.0).by_s if self.where == "in the cup" else self.over_s.low

    def state_at(self, now_s: float) -> tuple[float, float]:
        """Return (conversion 0..1, temperature in K) now, or at the end of what was followed."""
        course = self.course.course
        return course.at(min(max(now_s - self.mixed_s, 0.0), course.end_s))


def mixed(state: SessionState) -> list[BatchState]:
    """Return the batches that are in their cups, or of which something is on the part."""
    return [batch for batch in state.batches if batch.stays or batch.status == "in the cup"]


def careful(
    batch: BatchState, state: SessionState, calibration: Calibration, cap: Calibration | None = None
) -> Lifetime:
    """Return the lifetime to go by: no longer than with `cap`, and over where the batch was seen past it.

    A mix that goes off sooner than predicted can fit a model in which its film stays open longer than its datasheet
    says: no one should bet a part on that, so bad news never lengthens a clock.
    """
    life = lifetime(batch, state, calibration)
    if cap is not None:
        other = lifetime(batch, state, cap)
        life = _shortened(life, *other.over_s)
    for sight in batch.sights:
        look = LOOKS[sight.word]
        edges = look.past_in_cup if life.where == "in the cup" else look.past_on_part
        if edges and sight.at_s < life.over_s.low:
            life = replace(life, seen=sight)
        life = _shortened(life, **dict.fromkeys(edges, sight.at_s))
    return life


def _shortened(life: Lifetime, low: float = inf, likely: float = inf, high: float = inf) -> Lifetime:
    over_s, likely = life.over_s, min(life.over_s.likely, likely)
    return replace(life, over_s=Band(min(over_s.low, low, likely), likely, max(min(over_s.high, high), likely)))


def lifetime(batch: BatchState, state: SessionState, calibration: Calibration) -> Lifetime:
    """Return the lifetime of one mixed batch, through its cup and, once poured out, on the part."""
    mixed_s = _mixed_s(batch)
    stages = stages_of(batch, state)
    band = follow_band(calibration, stages, mass_g=batch.mass_g, start_K=_start_K(batch, state))
    peak_K = band.course.peak_K
    over_s, gel_s = band.working_s, band.gel_s
    if band.open_s is not None and state.is_casting and calibration.skin is not None:
        over_s, gel_s = band.open_s, gel_in_channel_s(band, calibration.skin)
    elif band.open_s is not None:
        over_s = Band(*(_warmed_s(edge_s, stages[-1], calibration) for edge_s in band.open_s))
    if batch.poured_out_s is not None:  # a film cannot have been over before there was one
        laid_s = batch.poured_out_s - mixed_s
        over_s = Band(max(over_s.low, min(laid_s, over_s.likely)), over_s.likely, over_s.high)
    return Lifetime(
        batch=batch.number,
        where="in the cup" if batch.poured_out_s is None else "on the part",
        mixed_s=mixed_s,
        over_s=over_s.later(mixed_s),
        gel_s=gel_s.later(mixed_s),
        peak_K=peak_K,
        heat=_heat(batch, state, calibration, peak_K, mixed_s + band.working_s.high),
        course=band,
        read_K=batch.temperatures[-1] if batch.temperatures else None,
    )


def conversion_at(batch: BatchState, state: SessionState, calibration: Calibration, at_s: float) -> float:
    """Return how far a mixed batch had reacted by a time, by its likely course; its band would take twenty more."""
    stages = stages_of(batch, state)
    course = follow(calibration.kinetics, stages, mass_g=batch.mass_g, start_K=_start_K(batch, state))
    return course.at(min(max(at_s - _mixed_s(batch), 0.0), course.end_s))[0]


def _warmed_s(closes_s: float, on_part: Stage, calibration: Calibration) -> float:
    """Return when a film that closes at a time does so in the part's cloth, which warms itself."""
    share = skin_share(calibration.kinetics, calibration.skin, temperature_at_K(on_part.ambient, on_part.from_s))
    return closes_s if closes_s <= on_part.from_s else on_part.from_s + share * (closes_s - on_part.from_s)


def _heat(batch: BatchState, state: SessionState, calibration: Calibration, peak_K: float, over_s: float) -> HeatClass:
    """Return the heat class of a batch in its vessel, in the warmer of its own start and the shop while it stood.

    A forecast counts until the late end of its life in the cup.
    """
    left_s = min((at_s for at_s in (batch.poured_out_s, batch.lost_s) if at_s is not None), default=inf)
    read_s = state.air[-1][0] if state.air else 0.0
    shop = in_effect(shop_of(state), _mixed_s(batch), min(left_s, max(over_s, read_s)))
    warmest_K = max([_start_K(batch, state), *(kelvin for _, kelvin in shop or ((0.0, UNLOGGED_K),))])
    return heat_class(psi_at_the_edge(calibration, _vessel(batch), batch.mass_g, warmest_K), peak_K)


class Today(NamedTuple):
    """What the batches of a day taught: the calibration after it, in words, and what no clock may outlast."""

    calibration: Calibration
    words: tuple[str, ...]
    cap: Calibration | None
    """The calibration before, where a batch went off sooner than predicted."""
    doubted: Calibration | None
    """The calibration before, where one went off so much sooner that the look itself is in doubt."""
    strange: int = 0
    """How many looks are further from what was foretold than the model can explain."""
    aside: int = 0
    """How many of them are so far off that no other batch goes by them."""


def fresh_cup_s(calibration: Calibration, mass_g: float, start_K: float, air_K: float) -> float:
    """Return how long a cup mixed now may stay full: to the early end of its band, and less where it gets hot."""
    band = predict_band(calibration, Vessel.cup(), mass_g=mass_g, start_K=start_K, ambient=air_K)
    return empty_by_s(band.working_s.low, band.heat_class_high)


def learnt_today(state: SessionState, calibration: Calibration) -> Today:
    """Return what was learnt from all that was seen of the batches today."""
    before, cap, doubted, strange, aside = calibration, None, None, 0, 0
    mixed = (batch for batch in state.batches if batch.mixed_s is not None)
    seen = sorted(
        ((sight, batch) for batch in mixed for sight in telling(batch, state)),
        key=lambda one: (one[0].at_s, one[1].number),
    )
    words: list[str] = []
    for (at_s, word, not_later), batch in seen:
        if at_s <= _mixed_s(batch):
            continue
        found = learn(
            calibration,
            word,
            at_s - _mixed_s(batch),
            # where it was until then: a cup seen thickening did not thicken as the film it became afterwards
            tuple(stage for stage in stages_of(batch, state) if stage.from_s < at_s - _mixed_s(batch)),
            mass_g=batch.mass_g,
            start_K=_start_K(batch, state),
            not_later=not_later,
        )
        words += found.words
        as_foretold = found.surprise < 0.0 if word == "runny" else not_later and found.surprise > 0.0
        strange += abs(found.surprise) >= SURPRISE and not as_foretold
        if abs(found.surprise) >= IMPOSSIBLE and not as_foretold:
            words.append(SET_ASIDE)
            aside += 1
            continue
        calibration = found.calibration
        if word != "runny" and found.surprise < 0:
            cap = before
            doubted = before if found.surprise < -SURPRISE else doubted
    return Today(calibration, tuple(words), cap, doubted, strange, aside)


class DayLives(NamedTuple):
    """What is known of a day's batches: what they taught, the lives to go by, and why others cannot be worked out."""

    today: Today | None
    """What they taught; None where the resin cannot be read."""
    alive: dict[int, Lifetime]
    unknown: dict[int, str]
    """Batch number -> why nobody can say how long it lasts."""


def lives_of_day(state: SessionState, calibration: Calibration | LayupError) -> DayLives:
    """Return what is known of each mixed batch by a resin, or why that cannot be read.

    One batch that is beyond the model keeps none of the others from it.
    """
    if isinstance(calibration, LayupError):
        return DayLives(None, {}, {batch.number: calibration.not_known for batch in mixed(state)})
    try:
        today = learnt_today(state, calibration)
    except LayupError as error:
        today = Today(calibration, (f"how they look teaches nothing: {error.not_known}",), None, None)
    lives = DayLives(today, {}, {})
    for batch in mixed(state):
        try:
            lives.alive[batch.number] = careful(batch.on_part(), state, today.calibration, today.cap)
        except LayupError as error:
            lives.unknown[batch.number] = error.not_known
    return lives


def lives_until(state: SessionState, calibration: Calibration, until_s: float) -> dict[int, Lifetime]:
    """Return the lives that the bench went by at a time: with what had been seen and read until then."""
    known = {
        batch.number: replace(batch, observations=tuple(one for one in batch.observations if one[0] <= until_s))
        for batch in state.batches
    }
    return lives_of_day(replace(read_until(state, until_s), batch_by_number=known), calibration).alive


def read_until(state: SessionState, until_s: float) -> SessionState:
    """Return a session with the temperatures read by a time: a mould heated later was not so warm before."""
    air, mould = (tuple(one for one in history if one[0] <= until_s) for history in (state.air, state.mould))
    return replace(state, air=air or state.air[:1], mould=mould)


def telling(batch: BatchState, state: SessionState) -> list[Sight]:
    """Return what tells most of a batch: the last time it was runny, and the first time of each other word.

    Of a casting only what was seen in its cup: in its channel it warms itself, by how much nobody measured.
    """
    first: dict[LookWord, Sight] = {}
    cup_s = batch.poured_out_s if state.is_casting and batch.poured_out_s is not None else inf
    for sight in (sight for sight in batch.sights if sight.at_s <= cup_s):
        if sight.word == "runny" or sight.word not in first:
            first[sight.word] = sight
    return list(first.values())


def stages_of(batch: BatchState, state: SessionState) -> tuple[Stage, ...]:
    """Return where a mixed batch has been: its cup or tray, then the part; readings of its own count for more."""
    mixed_s = _mixed_s(batch)
    vessel = _vessel(batch)
    own = tuple((at_s - mixed_s, kelvin) for at_s, kelvin in batch.temperatures if at_s > mixed_s)
    poured_s = None if batch.poured_out_s is None else batch.poured_out_s - mixed_s
    if poured_s is not None:
        own = tuple(reading for reading in own if reading[0] < poured_s)
    stages = with_readings(vessel, _since(shop_of(state), mixed_s), own, start_K=_start_K(batch, state))
    if poured_s is None:
        return stages
    part = mould_of(state) if state.mould else shop_of(state)
    return *stages, Stage(Vessel.film(), poured_s, _since(part, mixed_s))


def _vessel(batch: BatchState) -> Vessel:
    return Vessel.cup() if batch.depth_m is None else Vessel.tray(batch.depth_m)


def _mixed_s(batch: BatchState) -> float:
    if batch.mixed_s is None:
        raise ValueError(f"batch {batch.number} is not mixed")
    return batch.mixed_s


def _start_K(batch: BatchState, state: SessionState) -> float:
    return first_K(state.air) if batch.start_K is None else batch.start_K


def first_K(history: History) -> float:
    """Return the first temperature of a history, or a usual one where nothing was logged."""
    return history[0][1] if history else UNLOGGED_K


def _since(history: History, zero_s: float) -> float | History:
    """Return a history with its times counted from `zero_s`."""
    return tuple((at_s - zero_s, kelvin) for at_s, kelvin in history) or UNLOGGED_K


def shop_of(state: SessionState, *, ahead_s: float = DAY_S) -> History:
    """Return the shop as read and, after its last reading, as it is expected for so long."""
    return _expected(state.air, state.forecast, ahead_s)


def mould_of(state: SessionState, *, ahead_s: float = DAY_S) -> History:
    """Return the mould as read and, after its last reading, as it is expected: one that is heated stays as warm."""
    heated = bool(state.mould and state.air) and state.mould[-1][1] - state.air[-1][1] > HEATED_K
    return _expected(state.mould, None if heated else state.forecast, ahead_s)


@lru_cache(maxsize=64)
def _expected(history: History, forecast: Forecast | None, ahead_s: float) -> History:
    read = thinned(history)
    return read if forecast is None else forecast.after(read, ahead_s)


@lru_cache(maxsize=64)
def thinned(history: History) -> History:
    """Return a long history as at most `MOST_POINTS` points: the mean over each of equal stretches of time.

    First and last reading stay as they are. The age that a mix gathers in a stretch in which the shop swings by 1 K to
    each side of the mean is kept within 0.2 % (second order of Ea dT/(R T^2), 0.075 for 1 K at 20 C).
    """
    if len(history) <= MOST_POINTS:
        return history
    begin_s, end_s = history[0][0], history[-1][0]
    inner = MOST_POINTS - 2
    span_s = (end_s - begin_s) / inner
    if span_s <= 0:
        return history[-1:]
    points = [history[0]]
    under = ((next_s - at_s) * (kelvin + following) / 2 for (at_s, kelvin), (next_s, following) in pairwise(history))
    degree_seconds = list(accumulate(under, initial=0.0))
    marks = [at_s for at_s, _ in history]
    for place in range(inner):
        left_s, right_s = begin_s + place * span_s, begin_s + (place + 1) * span_s
        area = _area(history, marks, degree_seconds, right_s) - _area(history, marks, degree_seconds, left_s)
        points.append(((left_s + right_s) / 2, area / span_s))
    return (*points, history[-1])


def _area(history: History, marks: list[float], degree_seconds: list[float], until_s: float) -> float:
    """Return the area under the history up to a time."""
    place = min(max(bisect_right(marks, until_s) - 1, 0), len(history) - 2)
    (at_s, kelvin), (next_s, following) = history[place], history[place + 1]
    passed_s = until_s - at_s
    end_K = kelvin + (following - kelvin) * (passed_s / (next_s - at_s) if next_s > at_s else 0.0)
    return degree_seconds[place] + passed_s * (kelvin + end_K) / 2


# -- mould -----------------------------------------------------------------------------------------------------------


def mould_since(state: SessionState, closed_s: float) -> History:
    """Return the mould's temperatures, no warmer than read, over seconds since closing; the shop's until its first.

    After the last it goes on as the forecast has it, where there is one.
    """
    mould = state.mould
    shop = tuple(point for point in state.air if not mould or point[0] < mould[0][0])
    read = no_warmer(tuple((at_s - closed_s, kelvin) for at_s, kelvin in (*shop, *mould)))
    expected = (mould_of if mould else shop_of)(state, ahead_s=AHEAD_S)
    last_s = read[-1][0] if read else 0.0
    return (*read, *((at_s - closed_s, kelvin) for at_s, kelvin in expected if at_s - closed_s > last_s))
