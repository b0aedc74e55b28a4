"""The pot-life engine's public names, from the modules beside it."""

from __future__ import annotations

from layup.chemistry.assimilation import Learnt, Posterior, assimilate, learn
from layup.chemistry.bands import Band, predict_band
from layup.chemistry.calibration import Calibration, calibrate
from layup.chemistry.course import Course, CourseBand, follow, follow_band
from layup.chemistry.ensemble import Lives, draw_kinetics, ensemble
from layup.chemistry.film import film_life_s, remaining_s
from layup.chemistry.heat import HeatClass, semenov
from layup.chemistry.history import History, dose_s
from layup.chemistry.kinetics import Kinetics
from layup.chemistry.legs import Stage
from layup.chemistry.observation import Word, with_readings, word_conversion
from layup.chemistry.prediction import Life, predict
from layup.chemistry.spread import Uncertainty
from layup.chemistry.stated_point import calibrate_point
from layup.chemistry.vessel import Vessel, heat_loss_of

__all__ = [
    "Band",
    "Calibration",
    "Course",
    "CourseBand",
    "HeatClass",
    "History",
    "Kinetics",
    "Learnt",
    "Life",
    "Lives",
    "Posterior",
    "Stage",
    "Uncertainty",
    "Vessel",
    "Word",
    "assimilate",
    "calibrate",
    "calibrate_point",
    "dose_s",
    "draw_kinetics",
    "ensemble",
    "film_life_s",
    "follow",
    "follow_band",
    "heat_loss_of",
    "learn",
    "predict",
    "predict_band",
    "remaining_s",
    "semenov",
    "with_readings",
    "word_conversion",
]
