"""What sessions teach of a resin: how fast it is, how sure, how it differs from day to day; and what is lost of it.

Every observation of a batch moves the rate law by the pot-life engine's own assimilation, starting from the datasheet.
The observations of one session share its lot, its thermometer and its weather: how much faster that makes all of them
is one more unsure thing of the session, with t from session to session beside s of the eye, so that n alike count as a
mean of s^2/n + t^2 and two cups of different mass still tell the heat they lose. It is dropped after the session. Trial
cups of one day are one session. t is estimated from how far off each session's first observation is foretold, and
pulled to what is usual while they are few.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import pairwise
from math import exp, hypot, inf, log, sqrt

from layup.chemistry.calibration import LOSS, Calibration, calibrate
from layup.chemistry.kinetics import Kinetics
from layup.chemistry.life_band import LifeBand, predict_band
from layup.chemistry.looks import LOOKS, PAST, LookWord, word_conversion
from layup.chemistry.mixing import parts_by_mass
from layup.chemistry.observation import LEAST_RISE_K, OBSERVED_LOG_SD, Learnt, learn, learn_cooling, learn_rise
from layup.chemistry.prediction import SEMENOV_RUNAWAY, Vessel, predict
from layup.chemistry.stages import Stage, follow
from layup.chemistry.uncertainty import EIGHTY_PERCENT
from layup.errors import LayupError
from layup.planning.mix_sheet import OFF_RATIO
from layup.planning.plan import Plan
from layup.review.as_built import ResinBalance
from layup.review.pace import PooledMean, posterior_mean, spread_of
from layup.session.archive import StoredSession
from layup.session.fields import ToldDay
from layup.session.lifetimes import first_K, stages_of, telling
from layup.session.recall import said
from layup.session.state import SessionState
from layup.session.state_parts import BatchState
from layup.session.told import CUP, TIME
from layup.units import in_minutes, mass, temperature, temperature_change

NO_NEWS = -0.7
"""A mix still runny this long before it is due to thicken, as a logarithm, says nothing; nor one found over so late."""
FAR_OFF = 4.0
"""Standard deviations beyond which an observation tells of something else than the resin."""
USUAL_SHOP_K = 293.15


@dataclass(frozen=True, slots=True)
class Sighting:
    """One observation of one batch: what it looked like, when after first contact, and where it had been."""

    word: LookWord
    after_s: float
    stages: tuple[Stage, ...]
    mass_g: float
    start_K: float
    rise_K: float | None = None
    """Of a reading of a trial cup's own thermometer: how much warmer it was than at first contact."""
    cooled_K: tuple[float, float] | None = None
    """Of two readings past its hottest: how much warmer than the shop it was then, and how long before [K, s]."""
    not_later: bool = False
    """It was so by then; nobody saw when it became so, as of a batch that was lost."""
    told: ToldDay | None = None
    """How vague it is, where it was told from memory."""

    @property
    def words(self) -> str:
        """What was seen, when, and how that is read."""
        if self.told is not None:
            look, cup = self.told.look or self.word, said(self.told.cup_g, CUP)
            return f"{look} {said(self.told.thick_s, TIME)} after mixing, {cup}, recalled"
        if self.rise_K is not None:
            return f"{temperature_change(self.rise_K)} warmer at {in_minutes(self.after_s)}, {mass(self.mass_g)}"
        when = "not later than" if self.not_later else "at"
        still = "still " if self.word == "runny" else ""
        return f"{still}{self.word} {when} {in_minutes(self.after_s)}, {mass(self.mass_g)}"


@dataclass(frozen=True, slots=True)
class ResinLesson:
    """What sessions taught of one resin; `calibration` is for the next session, as wide as sessions differ."""

    resin_id: str
    sessions: int
    life_factor: float
    """How long a usual cup lives, over what its datasheet says."""
    low: float
    high: float
    """The 80 % band of that for the next session."""
    session_log_sd: float
    calibration: Calibration
    looks: tuple[tuple[Sighting, bool], ...] = ()
    """Each observation, and whether it counted."""

    @property
    def observations(self) -> int:
        """How many counted; the others were too far off to be the resin's doing."""
        return sum(counts for _, counts in self.looks)

    @property
    def words(self) -> str:
        """What was learnt, in a sentence."""
        if not self.observations:
            return f"{self.resin_id} is taken as its datasheet says: all that was seen is too far off to be its doing"
        off = abs(self.life_factor - 1.0)
        longer = "longer" if self.life_factor >= 1.0 else "shorter"
        many = f"{self.observations} observation{'' if self.observations == 1 else 's'} in {self.sessions} session"
        return (
            f"{self.resin_id} lives {100 * off:.0f} % {longer} than its datasheet says (80 % of sessions: "
            f"{self.low:.2f} to {self.high:.2f} times), from {many}{'' if self.sessions == 1 else 's'}"
        )

    @property
    def assumption(self) -> str:
        """What a calculation says that takes over what was learnt."""
        return f"learnt: {self.words}"


def seen_in(state: SessionState, parts: Sequence[float]) -> tuple[Sighting, ...]:
    """Return what a session saw of its batches; those mixed off ratio tell nothing of the resin.

    What was seen in the cup is set against a batch that stays in its cup, whenever it was poured out after that.
    """
    found: list[Sighting] = []
    told = state.recalled
    if told is not None and (told.thick_s is None or told.shop_K is None or told.cup_g is None):
        return ()  # what is not known moves nothing
    batches = state.batches if told is None else [one for one in state.batches if one.mixed_s is not None][-1:]
    for batch in batches:  # of several cups that were told of, one answer says how one of them looked
        if batch.mixed_s is None or not batch.resin_g or not batch.hardener_g:
            continue
        if abs(batch.hardener_g / batch.resin_g * parts[0] / parts[1] - 1.0) > OFF_RATIO:
            continue
        start_K = first_K(state.air) if batch.start_K is None else batch.start_K
        if state.kind == "trial":
            found += _trial_seen(batch, state, start_K)
            continue
        for at_s, word, not_later in sorted(telling(batch, state)):
            after_s = at_s - batch.mixed_s
            until_then = tuple(stage for stage in stages_of(batch, state) if stage.from_s < after_s)
            if until_then:
                found.append(Sighting(word, after_s, until_then, batch.mass_g, start_K, not_later=not_later, told=told))
    return tuple(found)


def _trial_seen(batch: BatchState, state: SessionState, start_K: float) -> list[Sighting]:
    """Return what a trial cup showed; its thermometer is no history of the mix, but tells what heat the cup loses."""
    mixed_s, told = batch.mixed_s or 0.0, telling(batch, state)
    stages = (Stage(Vessel.cup(), 0.0, first_K(state.air)),)
    gone_s = min((at_s for at_s, word, _ in told if word == "gelled"), default=inf)
    seen = [Sighting(word, at_s - mixed_s, stages, batch.mass_g, start_K) for at_s, word, _ in sorted(told)]
    read = [(at_s, kelvin - start_K) for at_s, kelvin in batch.temperatures if mixed_s < at_s < gone_s]
    warmed = [(at_s, rise_K) for at_s, rise_K in read if rise_K >= LEAST_RISE_K]
    shop_K = first_K(state.air)
    late = [(at_s, kelvin - shop_K) for at_s, kelvin in batch.temperatures if at_s >= gone_s]
    for (at_s, excess_K), (later_s, later_K) in pairwise(late):
        if LEAST_RISE_K <= later_K < excess_K - LEAST_RISE_K:
            cooled = excess_K, later_s - at_s
            seen.append(Sighting("runny", later_s - mixed_s, stages, batch.mass_g, start_K, later_K, cooled))
    return seen + [Sighting("runny", at_s - mixed_s, stages, batch.mass_g, start_K, rise_K) for at_s, rise_K in warmed]


def log_sd(law: Kinetics, seen: Sighting) -> float:
    """Return how vague an observation is: the eye's own standard deviation of ln t and, of one that was told from
    memory, what time, warmth and mass are unsure by, each as it moves ln t."""
    told = seen.told
    if told is None or told.thick_s is None or told.shop_K is None or told.cup_g is None:
        return OBSERVED_LOG_SD

    def late(shop_K: float, mass_g: float) -> float:
        stages = tuple(replace(stage, ambient=shop_K) for stage in seen.stages)
        course = follow(law, stages, mass_g=mass_g, start_K=shop_K)
        return log(max(course.reaches_s(word_conversion(law, seen.word)), 1.0))

    shop, cup, thick = told.shop_K, told.cup_g, told.thick_s
    ends = (
        log(thick.high / thick.low),
        0.0 if shop.exact else late(shop.low, cup.likely) - late(shop.high, cup.likely),
        0.0 if cup.exact else late(shop.likely, cup.low) - late(shop.likely, cup.high),
    )
    return hypot(OBSERVED_LOG_SD, *(end / (2.0 * EIGHTY_PERCENT) for end in ends))


def _learn_reading(law: Calibration, seen: Sighting, rise_K: float) -> Learnt:
    """Return what a trial cup's thermometer teaches: of a warming cup, or of one that cools."""
    if seen.cooled_K is None:
        return learn_rise(law, rise_K, seen.after_s, seen.stages, mass_g=seen.mass_g, start_K=seen.start_K)
    excess_K, within_s = seen.cooled_K
    return learn_cooling(law, excess_K, rise_K, within_s, Vessel.cup(), mass_g=seen.mass_g)


SESSION_LOG_SD = 0.06
"""How far one session's rate usually is from the next one's: lots, scale, thermometer (common practice, no source)."""
SESSION_LOG_SD_LOG_SD = 0.4
"""How sure that is: up to half as much again, or as little."""
_GRID = tuple(0.01 * 1.2**i for i in range(20))


class Between:
    """What is known of how the rate differs from session to session: a weight for each standard deviation."""

    def __init__(self) -> None:
        self._weights = [exp(-0.5 * (log(sd / SESSION_LOG_SD) / SESSION_LOG_SD_LOG_SD) ** 2) for sd in _GRID]

    @property
    def sd(self) -> float:
        """The root mean square: what is unsure about it widens it."""
        return sqrt(sum(w * sd**2 for w, sd in zip(self._weights, _GRID, strict=True)) / sum(self._weights))

    def learn(self, late: float, other_variance: float) -> None:
        """Take in how late a session's first observation was, with what else it may be late by."""
        for i, sd in enumerate(_GRID):
            variance = other_variance + sd**2
            self._weights[i] *= exp(-0.5 * late**2 / variance) / sqrt(variance)


def resin_lesson(
    resin_id: str,
    calibration: Calibration,
    sessions: Sequence[Sequence[Sighting]],
    *,
    progress: Callable[[int, int], None] | None = None,
) -> ResinLesson:
    """Return what sessions, each with what it saw, teach of a resin that its datasheet calibrates."""
    between, after = Between(), calibration
    looks: list[tuple[Sighting, bool]] = []
    told = set()
    for number, session in enumerate(sessions, 1):
        after, faster, fresh = after.with_faster(between.sd), 0.0, True
        for seen in session:
            if seen.rise_K is not None:
                found = _learn_reading(after, seen, seen.rise_K)
                looks.append((seen, abs(found.surprise) <= FAR_OFF))
                if looks[-1][1]:
                    after, faster = found.calibration, faster + found.moved[-1]
                continue
            course = follow(after.kinetics, seen.stages, mass_g=seen.mass_g, start_K=seen.start_K)
            # how much later than the rate law says it was seen, as a logarithm
            late = log(seen.after_s / max(course.reaches_s(word_conversion(after.kinetics, seen.word)), 1.0))
            # everybody knew: still runny long before it was due, or over long after
            if late < NO_NEWS if seen.word == "runny" else seen.not_later and late > -NO_NEWS:
                continue
            found = learn(
                after,
                seen.word,
                seen.after_s,
                seen.stages,
                mass_g=seen.mass_g,
                start_K=seen.start_K,
                observed_log_sd=log_sd(after.kinetics, seen),
                not_later=seen.not_later,
            )
            # a bound says something only on the side that it cuts off, however far off it is on the other
            timed = seen.word != "runny" and not seen.not_later  # seen when it happened, not still to come, or over
            news = timed or (found.surprise > 0.0) == (seen.word == "runny")
            far_off = news and abs(found.surprise) > FAR_OFF
            looks.append((seen, not far_off))
            if far_off:
                continue
            if fresh and timed and found.surprise:
                between.learn(late, max((late / found.surprise) ** 2 - between.sd**2, OBSERVED_LOG_SD**2))
                fresh = False
            told.add(number)
            after, faster = found.calibration, faster + found.moved[-1]
        after = after.without_last(faster)
        if progress is not None:
            progress(number, len(sessions))
    return _lesson(resin_id, calibration, after.with_faster(between.sd), between.sd, len(told), tuple(looks))


def _lesson(
    resin_id: str,
    stated: Calibration,
    after: Calibration,
    between: float,
    sessions: int,
    looks: tuple[tuple[Sighting, bool], ...],
) -> ResinLesson:
    """Say what was learnt, by the life of a usual cup."""
    mass_g, band = stated.masses_g[0], usual_life(after, stated)
    usual = predict(stated.kinetics, Vessel.cup(), mass_g=mass_g, start_K=USUAL_SHOP_K, ambient=USUAL_SHOP_K)
    stated_s = usual.working_s  # its band would take as long again
    lesson = ResinLesson(
        resin_id=resin_id,
        sessions=sessions,
        life_factor=band.life.working_s / stated_s,
        low=band.working_s.low / stated_s,
        high=band.working_s.high / stated_s,
        session_log_sd=between,
        calibration=after,
        looks=looks,
    )
    return replace(lesson, calibration=replace(after, assumptions=(*stated.assumptions, lesson.assumption)))


def usual_life(law: Calibration, stated: Calibration) -> LifeBand:
    """Return how long a usual cup lives by a law: the mass of the datasheet, at 20 C."""
    return predict_band(law, Vessel.cup(), mass_g=stated.masses_g[0], start_K=USUAL_SHOP_K, ambient=USUAL_SHOP_K)


# -- losses ------------------------------------------------------------------------------------------------------------

LOSS_LOG_SD, LOSS_DAY_LOG_SD = 0.50, 0.30
SQUEEZE_SD, SQUEEZE_DAY_SD = 0.08, 0.05


@dataclass(frozen=True, slots=True)
class LossLesson:
    """What a workshop loses, beside its plans: grams a batch as a logarithm of the ratio, and the share driven out."""

    per_batch: PooledMean
    squeeze: PooledMean


LossSample = tuple[float | None, float | None]
"""What one session says of its workshop, beside its plan: grams a batch as the logarithm of the ratio, and the share
driven out, less the plan's; None where it was not weighed, or not planned."""


def lost_in(resin: ResinBalance, batches: int, plan: Plan) -> LossSample:
    """Return what a session's weighing says of its workshop's losses."""
    per_batch = None
    if resin.left is not None and resin.left.value > 0.0 and batches and plan.losses.per_batch_g > 0.0:
        per_batch = log(resin.left.value / batches / plan.losses.per_batch_g)
    share, planned = resin.squeezed_share, plan.losses.squeeze_out
    return per_batch, None if share is None or planned is None else share.value - planned


def loss_lesson(losses: Iterable[LossSample]) -> LossLesson:
    """Return what sessions teach of a workshop's losses, pulled to its plans."""
    per_batch, squeeze = ([one for one in told if one is not None] for told in zip(*losses, strict=True))
    return LossLesson(
        posterior_mean(0.0, LOSS_LOG_SD, per_batch, spread_of([per_batch], LOSS_DAY_LOG_SD)),
        posterior_mean(0.0, SQUEEZE_SD, squeeze, spread_of([squeeze], SQUEEZE_DAY_SD)),
    )


# -- a trial cup -------------------------------------------------------------------------------------------------------

SETTLED = 0.75
"""The heat loss counts as settled once its spread is this share of what it was, or less."""
TOLD_IN_PART = 0.85
"""And told in part at this one: what two masses of a slow resin come to."""


@dataclass(frozen=True, slots=True)
class TrialPoint:
    """One thing that was seen of a trial cup, beside what the datasheet foretells; a stringy mix has no time there."""

    word: LookWord
    observed_s: float
    foretold_s: float | None
    low_s: float | None
    high_s: float | None

    @property
    def words(self) -> str:
        """What was seen and what was foretold, in one line."""
        said = f"{self.word} at {in_minutes(self.observed_s)}"
        if self.foretold_s is None or self.low_s is None or self.high_s is None:
            return said
        band = f"{self.low_s / 60:.0f} to {self.high_s / 60:.0f}"
        return f"{said}, by the datasheet {in_minutes(self.foretold_s)} (80 %: {band})"


def trial_points(stored: StoredSession, stated: Calibration) -> tuple[TrialPoint, ...]:
    """Return what was seen of a trial cup beside the datasheet's band, in the order of time."""
    points = []
    for seen in () if stored.sheet is None else seen_in(stored.state, parts_by_mass(stored.sheet)):
        if seen.rise_K is not None:
            continue
        around = seen.stages[0].ambient
        band = predict_band(stated, Vessel.cup(), mass_g=seen.mass_g, start_K=seen.start_K, ambient=around)
        foretold: dict[LookWord, tuple[float, float, float]] = {
            "thickening": (band.life.working_s, band.working_s.low, band.working_s.high),
            "gelled": (band.life.gel_s, band.gel_s.low, band.gel_s.high),
        }
        points.append(TrialPoint(seen.word, seen.after_s, *foretold.get(seen.word, (None, None, None))))
    return tuple(points)


def trial_words(stored: StoredSession, stated: Calibration, lesson: ResinLesson | None) -> tuple[str, ...]:
    """Say what a trial saw beside its datasheet, what it did not note, and what it and all before it teach."""
    points = trial_points(stored, stated)
    read = any(batch.temperatures for batch in stored.state.batches)
    missing = [LOOKS[word].noted for word in PAST if word not in {point.word for point in points}]
    missing += [] if read else ["temperature in the cup"]
    said = [point.words for point in points]
    said += [f"not noted: {', '.join(missing)}"] if missing else []
    if lesson is None or not lesson.observations:
        return (*said, "it teaches nothing yet")
    return (*said, lesson.words, change_words(stated, lesson), _loss_words(stated, lesson, read=read))


def change_words(stated: Calibration, lesson: ResinLesson) -> str:
    """Say what a usual cup lives by the datasheet and by what was learnt."""

    def lives(law: Calibration) -> str:
        band = usual_life(law, stated)
        ends = f"{band.working_s.low / 60:.0f} to {band.working_s.high / 60:.0f}"
        return f"{in_minutes(band.life.working_s)} (80 %: {ends})"

    cup = f"{mass(stated.masses_g[0])} in a cup at {temperature(USUAL_SHOP_K)}"
    return f"{cup} thickens after {lives(stated)} by the datasheet, {lives(lesson.calibration)} in the next plan"


def alone(stored: StoredSession) -> tuple[Calibration, ResinLesson | None] | None:
    """Return what a trial teaches by itself, and the resin as its datasheet has it; None without a datasheet."""
    sheet = stored.sheet
    if sheet is None:
        return None
    stated, seen = calibrate(sheet), seen_in(stored.state, parts_by_mass(sheet))
    with suppress(LayupError):
        lesson = resin_lesson(sheet.id, stated, [seen])
        return stated, lesson if lesson.looks else None
    return stated, None


def _loss_words(stated: Calibration, lesson: ResinLesson, *, read: bool) -> str:
    """Say whether it is settled how much heat a cup loses, and what would settle it."""
    share, left = loss_share(stated, lesson), f"{100 * loss_within(stated, lesson):.0f} %"
    cups = {round(seen.mass_g): seen for seen, counts in lesson.looks if counts}
    if share <= SETTLED:
        return f"heat lost by a cup: settled to within {left}"
    todo = "read it twice as it cools" if read else "put a thermometer in the cup, to read as it cools"
    if len(cups) < 2:
        return f"heat lost by a cup: not told yet (within {left}); {todo}"
    if share <= TOLD_IN_PART:
        return f"heat lost by a cup: told in part by two masses (within {left}); {todo}"
    light_g = min(cups)
    start_K = cups[light_g].start_K
    psi = predict_band(stated, Vessel.cup(), mass_g=light_g, start_K=start_K, ambient=start_K).psi_high
    what = "the resin is too fast for that" if psi > SEMENOV_RUNAWAY else "it hardly warms itself"
    return f"heat lost by a cup: these masses cannot tell it, {what} (within {left}); {todo}"


def loss_within(stated: Calibration, lesson: ResinLesson) -> float:
    """Return how far off the heat loss may still be, at the high edge of its 80 % band, as a share."""
    return exp(EIGHTY_PERCENT * stated.uncertainty.film_coefficient_log * loss_share(stated, lesson)) - 1.0


def loss_share(stated: Calibration, lesson: ResinLesson) -> float:
    """Return what is left of the heat loss's spread, as a share of what the datasheet leaves."""
    return sqrt(lesson.calibration.covariance[LOSS][LOSS] / stated.covariance[LOSS][LOSS])
