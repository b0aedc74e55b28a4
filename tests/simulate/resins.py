"""Simulated workshops for the learning of pot lives: the truth is drawn, sessions see it through eyes and lots."""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from math import exp

from layup.chemistry.calibration import Calibration
from layup.chemistry.kinetics import Kinetics
from layup.chemistry.looks import word_conversion
from layup.chemistry.prediction import Vessel
from layup.chemistry.stages import Stage, follow
from layup.chemistry.uncertainty import shift_of, shifted
from layup.review.resin_lessons import Sighting

EYE_LOG_SD = 0.10
MIX_SD_K, MASS_LOG_SD = 1.5, 0.05
"""How far a cup's own temperature and mass are from what was said of it."""
LOT_LOG_SD, LOT_LOG_SD_LOG_SD = 0.06, 0.4


@dataclass(frozen=True)
class Batch:
    """A batch in a cup, in a shop."""

    mass_g: float
    kelvin: float

    @property
    def stages(self) -> tuple[Stage, ...]:
        """Where it is."""
        return (Stage(Vessel.cup(), 0.0, self.kelvin),)

    def thickens_s(self, law: Kinetics, rng: random.Random | None = None) -> float:
        """Return when it thickens by a rate law: as said, or with `rng` as it may really be."""
        warmer_K, heavier_log = (rng.gauss(0.0, MIX_SD_K), rng.gauss(0.0, MASS_LOG_SD)) if rng else (0.0, 0.0)
        mass_g = self.mass_g * exp(heavier_log)
        course = follow(law, self.stages, mass_g=mass_g, start_K=self.kelvin + warmer_K)
        return course.reaches_s(word_conversion(law, "thickening"))


def true_resin(calibration: Calibration, rng: random.Random) -> Kinetics:
    """Draw a true rate law from all that the datasheet leaves unsure."""
    amounts = [rng.gauss(0.0, 1.0) for _ in calibration.variants]
    return shifted(calibration.kinetics, shift_of(calibration.variants, amounts))


def lots_of(rng: random.Random) -> float:
    """Draw how far this workshop's lots and days differ."""
    return LOT_LOG_SD * exp(rng.gauss(0.0, LOT_LOG_SD_LOG_SD))


def lot_of(law: Kinetics, rng: random.Random, sd: float) -> Kinetics:
    """Draw one session's resin: a little faster or slower than the last."""
    return replace(law, k_ref_per_s=law.k_ref_per_s * exp(rng.gauss(0.0, sd)))


def any_batch(rng: random.Random) -> Batch:
    """Draw a cup as people mix them."""
    return Batch(rng.uniform(150.0, 450.0), rng.uniform(289.15, 300.15))


def session(law: Kinetics, rng: random.Random, *, batches: int, sd: float) -> tuple[Sighting, ...]:
    """Play one session: a day of one temperature, some cups, each seen to thicken."""
    lot = lot_of(law, rng, sd)
    day = any_batch(rng)
    cups = [Batch(rng.uniform(150.0, 450.0), day.kelvin) for _ in range(batches)]
    return tuple(
        Sighting(
            "thickening", cup.thickens_s(lot, rng) * exp(rng.gauss(0.0, EYE_LOG_SD)), cup.stages, cup.mass_g, cup.kelvin
        )
        for cup in cups
    )
