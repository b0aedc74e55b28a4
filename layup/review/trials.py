"""What a trial cup taught: its own point beside the datasheet's, how sure that is, and what it changes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, sqrt

from layup.chemistry.calibration import LOSS, Calibration, calibrate
from layup.chemistry.kinetics import Word
from layup.chemistry.life_band import predict_band
from layup.chemistry.mixing import parts_by_mass
from layup.chemistry.uncertainty import EIGHTY_PERCENT
from layup.chemistry.vessel import SEMENOV_RUNAWAY, Vessel
from layup.review.lessons import lessons_of
from layup.review.resin_lessons import USUAL_SHOP_K, ResinLesson, Sighting, seen_in
from layup.session.archive import StoredSession
from layup.units import in_minutes, mass, temperature

SETTLED = 0.75
"""The heat loss counts as settled once its spread is this share of what it was, or less."""
TOLD_IN_PART = 0.85
"""And told in part at this one: what two masses of a slow resin come to."""
TOOK_NOTE: dict[Word, str] = {"thickening": "thickening", "stringy": "stringy", "gelled": "gel"}


@dataclass(frozen=True, slots=True)
class TrialPoint:
    """One thing that was seen of a trial cup, beside what the datasheet foretells; a stringy mix has no time there."""

    word: Word
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


def trial_points(kept: StoredSession, stated: Calibration) -> tuple[TrialPoint, ...]:
    """Return what was seen of a trial cup beside the datasheet's band, in the order of time."""
    points = []
    for seen in _seen(kept):
        if seen.rise_K is not None:
            continue
        around = seen.stages[0].ambient
        band = predict_band(stated, Vessel.cup(), mass_g=seen.mass_g, start_K=seen.start_K, ambient=around)
        foretold: dict[Word, tuple[float, float, float]] = {
            "thickening": (band.life.working_s, band.working_s.low, band.working_s.high),
            "gelled": (band.life.gel_s, band.gel_s.low, band.gel_s.high),
        }
        points.append(TrialPoint(seen.word, seen.after_s, *foretold.get(seen.word, (None, None, None))))
    return tuple(points)


def trial_words(kept: StoredSession, stated: Calibration, lesson: ResinLesson | None) -> tuple[str, ...]:
    """Say what a trial saw, what it did not note, and what it and all before it teach.

    Parameters
    ----------
    kept : StoredSession
        The trial [-]
    stated : Calibration
        As the datasheet has it [-]
    lesson : ResinLesson | None
        What was learnt of the resin with it [-]

    Returns
    -------
    tuple[str, ...]
        Lines [-]
    """
    points = trial_points(kept, stated)
    read = any(batch.temperatures for batch in kept.state.batches)
    missing = [name for word, name in TOOK_NOTE.items() if word not in {point.word for point in points}]
    missing += [] if read else ["temperature in the cup"]
    said = [point.words for point in points]
    said += [f"not noted: {', '.join(missing)}"] if missing else []
    if lesson is None or not lesson.observations:
        return (*said, "it teaches nothing yet")
    return (*said, lesson.words, change_words(stated, lesson), _loss_words(stated, lesson, read=read))


def change_words(stated: Calibration, lesson: ResinLesson) -> str:
    """Say what a usual cup lives by the datasheet and by what was learnt."""
    mass_g = stated.masses_g[0]

    def lives(law: Calibration) -> str:
        band = predict_band(law, Vessel.cup(), mass_g=mass_g, start_K=USUAL_SHOP_K, ambient=USUAL_SHOP_K)
        ends = f"{band.working_s.low / 60:.0f} to {band.working_s.high / 60:.0f}"
        return f"{in_minutes(band.life.working_s)} (80 %: {ends})"

    cup = f"{mass(mass_g)} in a cup at {temperature(USUAL_SHOP_K)}"
    return f"{cup} thickens after {lives(stated)} by the datasheet, {lives(lesson.calibration)} in the next plan"


def alone(kept: StoredSession) -> tuple[Calibration, ResinLesson | None] | None:
    """Return what a trial teaches by itself, and the resin as its datasheet has it; None without a datasheet."""
    if kept.sheet is None:
        return None
    return calibrate(kept.sheet), lessons_of([kept]).resins.get(kept.sheet.id)


def _seen(kept: StoredSession) -> Sequence[Sighting]:
    return () if kept.sheet is None else seen_in(kept.state, parts_by_mass(kept.sheet))


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
