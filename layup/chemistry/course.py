"""One batch from first contact on: in the cup, then on the part, keeping its conversion when it is poured."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp

from layup.chemistry.bands import log_sds
from layup.chemistry.calibration import Calibration
from layup.chemistry.fitting import COARSE
from layup.chemistry.integrate import TOLERANCE
from layup.chemistry.kinetics import Kinetics
from layup.chemistry.legs import Leg, Stage, follow_stage, peak_of, reached_s, state_at
from layup.chemistry.ranges import require_between
from layup.chemistry.spread import AS_SAID, EIGHTY_PERCENT, Use
from layup.errors import RangeError


@dataclass(frozen=True, slots=True)
class Course:
    """What happens to one batch: when it thickens, gels and stops being open, and its state at any time between."""

    kinetics: Kinetics
    legs: tuple[Leg, ...]
    working_s: float
    gel_s: float
    open_s: float | None
    """When the film on the part closes; None while no stage is a film."""
    peak_K: float
    peak_s: float

    @property
    def end_s(self) -> float:
        """Return how far the course was followed [s]."""
        return self.legs[-1].end_s

    def at(self, time_s: float) -> tuple[float, float]:
        """Return (conversion [-], temperature [K]) at `time_s` [s] from first contact, within the course."""
        require_between(
            "time on the course",
            time_s,
            self.legs[0].stage.from_s,
            self.end_s,
            unit="s",
            todo="follow the batch further with until_s",
        )
        leg = next(leg for leg in reversed(self.legs) if leg.stage.from_s <= time_s)
        return state_at(self.kinetics, leg, time_s)

    def reaches_s(self, conversion: float) -> float:
        """Return when the mix reaches a conversion [-] of at most its gel's or open limit's, from first contact [s]."""
        return reached_s(self.kinetics, self.legs, conversion)

    def samples(self, count: int) -> tuple[tuple[float, float, float], ...]:
        """Return `count` points (time [s], conversion [-], temperature [K]), even in time, to draw the course."""
        require_between("samples", count, 2, 100_000)
        first_s = self.legs[0].stage.from_s
        times_s = [first_s + (self.end_s - first_s) * i / (count - 1) for i in range(count)]
        return tuple((time_s, *self.at(min(time_s, self.end_s))) for time_s in times_s)


@dataclass(frozen=True, slots=True)
class CourseBand:
    """A course with the ends of the 80 % band of its times [s]."""

    course: Course
    working_low_s: float
    working_high_s: float
    gel_low_s: float
    gel_high_s: float
    open_low_s: float | None
    open_high_s: float | None


def follow(
    kinetics: Kinetics,
    stages: Sequence[Stage],
    *,
    mass_g: float,
    start_K: float,
    until_s: float | None = None,
    conversion_start: float = 0.0,
    tolerance: float = TOLERANCE,
) -> Course:
    """Follow one batch through its stages, as from the cup onto the part.

    Parameters
    ----------
    kinetics : Kinetics
        The calibrated resin [-].
    stages : Sequence[Stage]
        Where the mix is and from when, in order; the first starts the course [-].
    mass_g : float
        Mass of mix, above 0; a film's does not matter [g].
    start_K : float
        Temperature of the mix at first contact, 233 to 523 [K].
    until_s : float | None
        How far to follow it at least; None stops past the gel and the peak [s].
    conversion_start : float
        Conversion at the start, 0 for a fresh mix, below 0.999 [-].
    tolerance : float
        Error allowed in one step, relative in time [-].

    Returns
    -------
    Course
        Its limits [s], and its state at any time.

    Raises
    ------
    RangeError
        If there is no stage, if stages do not come one after the other, or if a value is out of range.

    Notes
    -----
    At a change of stage the conversion stays. A film takes the part's temperature at once; a cup or tray starts from
    the temperature the mix has. A batch whose own temperature is measured is a film at that temperature.

    Examples
    --------
    >>> from layup.chemistry.vessel import Vessel
    >>> poured = (Stage(Vessel.cup(), 0.0, 295.15), Stage(Vessel.film(), 900.0, 293.15))
    >>> course = follow(Kinetics(4.80015e-4), poured, mass_g=300.0, start_K=295.15)
    >>> round(course.working_s / 60), round(course.gel_s / 60)
    (136, 216)
    """
    if not stages:
        raise RangeError("course", "has no stage", allowed="needs at least the cup or the part that the mix is in")
    legs: list[Leg] = []
    conversion, temperature_K = conversion_start, start_K
    for index, stage in enumerate(stages):
        leaves_s = stages[index + 1].from_s if index + 1 < len(stages) else None
        if leaves_s is not None and not leaves_s >= stage.from_s:
            raise RangeError(
                "course", "goes back in time", value=f"{leaves_s:g} s", allowed=f"must not be before {stage.from_s:g} s"
            )
        legs.append(
            follow_stage(kinetics, stage, leaves_s, until_s or 0.0, mass_g, conversion, temperature_K, tolerance)
        )
        conversion, temperature_K = state_at(kinetics, legs[-1], legs[-1].end_s)
    peak_K, peak_s = max((peak_of(leg) for leg in legs), key=lambda peak: peak[0])
    working_s, gel_s = (
        reached_s(kinetics, legs, end) for end in (kinetics.conversion_working, kinetics.conversion_gel)
    )
    films = [leg for leg in legs if leg.heated is None]
    open_s = reached_s(kinetics, films, kinetics.conversion_film) if legs[-1].heated is None else None
    return Course(kinetics, tuple(legs), working_s, gel_s, open_s, peak_K, peak_s)


def follow_band(
    calibration: Calibration,
    stages: Sequence[Stage],
    *,
    mass_g: float,
    start_K: float,
    until_s: float | None = None,
    conversion_start: float = 0.0,
) -> CourseBand:
    """Follow one batch through its stages, with the 80 % band of its times.

    Parameters
    ----------
    calibration : Calibration
        The calibrated resin [-].
    stages : Sequence[Stage]
        Where the mix is and from when, in order; the first starts the course [-].
    mass_g : float
        Mass of mix, above 0; a film's does not matter [g].
    start_K : float
        Temperature of the mix at first contact, 233 to 523 [K].
    until_s : float | None
        How far to follow it at least; None stops past the gel and the peak [s].
    conversion_start : float
        Conversion at the start, 0 for a fresh mix, below 0.999 [-].

    Returns
    -------
    CourseBand
        The course and the ends of the band [s].

    Raises
    ------
    RangeError
        If there is no stage, if stages do not come one after the other, or if a value is out of range.

    Notes
    -----
    As `predict_band`: each unsure thing changes the whole way, in the cup and on the part.
    """

    def along(kinetics: Kinetics, use: Use, far_s: float | None, tolerance: float) -> Course:
        return follow(
            kinetics,
            stages,
            mass_g=use.mass_g(mass_g),
            start_K=use.start_K(start_K),
            until_s=far_s,
            conversion_start=conversion_start,
            tolerance=tolerance,
        )

    def times_s(kinetics: Kinetics, use: Use) -> tuple[float, ...]:
        course = along(kinetics, use, None, COARSE)
        return course.working_s, course.gel_s, course.gel_s if course.open_s is None else course.open_s

    course = along(calibration.kinetics, AS_SAID, until_s, TOLERANCE)
    working, gel, film = (exp(EIGHTY_PERCENT * sd) for sd in log_sds(calibration, times_s))
    return CourseBand(
        course=course,
        working_low_s=course.working_s / working,
        working_high_s=course.working_s * working,
        gel_low_s=max(course.gel_s / gel, course.working_s / working),
        gel_high_s=max(course.gel_s * gel, course.working_s * working),
        open_low_s=None if course.open_s is None else course.open_s / film,
        open_high_s=None if course.open_s is None else course.open_s * film,
    )
