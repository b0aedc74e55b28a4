"""One batch from first contact on, stage by stage: in the cup, then on the part, keeping its conversion when poured."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import exp, inf

from layup.chemistry.calibration import Calibration
from layup.chemistry.film import Skin, film_time_s, open_life_share
from layup.chemistry.kinetics import Kinetics, conversion_after, stretch, unstretch
from layup.chemistry.numerics import require_between
from layup.chemistry.ode import COARSE, TOLERANCE, Trajectory
from layup.chemistry.prediction import HeatLoss, Vessel, heat_loss_of, heated_course
from layup.chemistry.temperature import History, corners, dose_s, temperature_at_K
from layup.chemistry.uncertainty import Band, Use
from layup.errors import RangeError

# -- runs ------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Stage:
    """Where the mix is from `from_s` on (counted from first contact), and the temperature around it.

    Times in `ambient` count from first contact too; a film's `ambient` is the part's own temperature.
    """

    vessel: Vessel
    from_s: float
    ambient: float | History


@dataclass(frozen=True, slots=True)
class StageRun:
    """One stage as it was followed, up to `end_s`."""

    stage: Stage
    end_s: float
    conversion_start: float
    loss: HeatLoss[float] | None
    heated: Trajectory | None
    """None for a film, as its loss."""


def follow_stage(
    kinetics: Kinetics,
    stage: Stage,
    leaves_s: float | None,
    until_s: float,
    mass_g: float,
    conversion: float,
    temperature_K: float,
    tolerance: float,
    limits_only: bool,
) -> StageRun:
    """Follow one stage until the mix leaves it; as the last one until no limit, or nothing at all, is left to see."""
    limit = max(kinetics.conversion_working, kinetics.conversion_gel, kinetics.conversion_film)
    if stage.vessel.kind == "film":
        if leaves_s is None:
            last_s = film_time_s(kinetics, stage.ambient, limit, conversion_start=conversion, from_s=stage.from_s)
            leaves_s = max(until_s, last_s)
        return StageRun(stage, leaves_s, conversion, None, None)
    heated = heated_course(
        kinetics,
        stage.vessel,
        mass_g=mass_g,
        start_K=temperature_K,
        ambient=stage.ambient,
        conversion_start=conversion,
        conversion_end=limit if limits_only and leaves_s is None else None,
        from_s=stage.from_s,
        until_s=until_s if leaves_s is None else None,
        time_end_s=inf if leaves_s is None else leaves_s,
        tolerance=tolerance,
    )
    end_s = max(until_s, heated.last.time_s) if leaves_s is None else leaves_s
    return StageRun(stage, end_s, conversion, heat_loss_of(kinetics, stage.vessel, mass_g), heated)


def state_at(kinetics: Kinetics, run: StageRun, time_s: float) -> tuple[float, float]:
    """Return the state in one run; once fully cured, the mix only cools."""
    if run.heated is None or run.loss is None:
        age_s = dose_s(run.stage.ambient, kinetics.activation_energy_J_mol, from_s=run.stage.from_s, until_s=time_s)
        conversion = conversion_after(kinetics, kinetics.k_ref_per_s * age_s, conversion_start=run.conversion_start)
        return conversion, temperature_at_K(run.stage.ambient, time_s)
    last = run.heated.last
    if time_s <= last.time_s:
        node = run.heated.at_time(time_s)
        return unstretch(node.y, kinetics.a0), node.temperature_K
    above_K = last.temperature_K - temperature_at_K(run.stage.ambient, last.time_s)
    # dx/dt = -x (1 + g |x|)/tau, a Bernoulli equation
    left = exp(-(time_s - last.time_s) / run.loss.tau_s)
    left /= 1.0 + run.loss.growth_per_K * abs(above_K) * (1.0 - left)
    return unstretch(last.y, kinetics.a0), temperature_at_K(run.stage.ambient, time_s) + above_K * left


def reached_s(kinetics: Kinetics, runs: Sequence[StageRun], conversion: float) -> float:
    """Return when the runs reach a conversion: their start if they began beyond it, their end if they never do."""
    for run in runs:
        if conversion <= run.conversion_start:
            return run.stage.from_s
        if run.heated is None:
            reached_s = film_time_s(
                kinetics,
                run.stage.ambient,
                conversion,
                conversion_start=run.conversion_start,
                from_s=run.stage.from_s,
            )
            if reached_s <= run.end_s:
                return reached_s
        elif stretch(conversion, kinetics.a0) <= run.heated.last.y:
            return run.heated.at_y(stretch(conversion, kinetics.a0)).time_s
    return runs[-1].end_s


# -- course ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Course:
    """What happens to one batch: when it thickens, gels and stops being open, and its state at any time between."""

    kinetics: Kinetics
    runs: tuple[StageRun, ...]
    working_s: float
    gel_s: float
    open_s: float | None
    """When the film on the part closes; None while no stage is a film."""

    @property
    def peak_K(self) -> float:
        heated_K = [run.heated.peak().temperature_K for run in self.runs if run.heated is not None]
        films = (run for run in self.runs if run.heated is None)
        around = (corners(run.stage.ambient, from_s=run.stage.from_s, until_s=run.end_s) for run in films)
        return max([*heated_K, *(kelvin for points in around for _, kelvin in points)])

    @property
    def end_s(self) -> float:
        """Return how far the course was followed [s]."""
        return self.runs[-1].end_s

    def at(self, time_s: float) -> tuple[float, float]:
        """Return (conversion [-], temperature [K]) at `time_s` [s] from first contact, within the course."""
        require_between(
            "time on the course",
            time_s,
            self.runs[0].stage.from_s,
            self.end_s,
            unit="s",
            todo="follow the batch further with until_s",
        )
        run = next(run for run in reversed(self.runs) if run.stage.from_s <= time_s)
        return state_at(self.kinetics, run, time_s)

    def reaches_s(self, conversion: float) -> float:
        """Return when the mix reaches a conversion [-] of at most its gel's or open limit's, from first contact [s]."""
        return reached_s(self.kinetics, self.runs, conversion)

    def samples(self, count: int) -> tuple[tuple[float, float, float], ...]:
        """Return `count` points (time [s], conversion [-], temperature [K]), even in time, to draw the course."""
        first_s = self.runs[0].stage.from_s
        times_s = [first_s + (self.end_s - first_s) * i / (count - 1) for i in range(count)]
        return tuple((time_s, *self.at(min(time_s, self.end_s))) for time_s in times_s)


@dataclass(frozen=True, slots=True)
class CourseBand:
    """A course with the bands of its times."""

    course: Course
    working_s: Band
    gel_s: Band
    open_s: Band | None


def follow(
    kinetics: Kinetics,
    stages: Sequence[Stage],
    *,
    mass_g: float,
    start_K: float,
    until_s: float | None = None,
    tolerance: float = TOLERANCE,
    limits_only: bool = False,
) -> Course:
    """Follow one batch through its stages, as from the cup onto the part.

    Raises RangeError if there is no stage, if stages do not come one after the other, or if a value is out of range. At
    a change of stage the conversion stays. A film takes the part's temperature at once; a cup or tray starts from the
    temperature the mix has. A batch whose own temperature is measured is a film at that temperature.

    >>> from layup.chemistry.prediction import Vessel
    >>> poured = (Stage(Vessel.cup(), 0.0, 295.15), Stage(Vessel.film(), 900.0, 293.15))
    >>> course = follow(Kinetics(4.80015e-4), poured, mass_g=300.0, start_K=295.15)
    >>> round(course.working_s / 60), round(course.gel_s / 60)
    (136, 217)

    Parameters
    ----------
    stages : Where the mix is and from when, in order; the first starts the course [-]
    mass_g : Mass of mix, above 0; a film's does not matter [g]
    start_K : Temperature of the mix at first contact, 233 to 523 [K]
    until_s : How far to follow it at least; None stops past the gel and the peak [s]
    tolerance : Error allowed in one step, relative in time [-]
    limits_only : Stop once it has thickened, gelled and closed [-]
    """
    if not stages:
        raise RangeError("course", "has no stage", allowed="needs at least the cup or the part that the mix is in")
    runs: list[StageRun] = []
    conversion, temperature_K = 0.0, start_K
    for index, stage in enumerate(stages):
        leaves_s = stages[index + 1].from_s if index + 1 < len(stages) else None
        if leaves_s is not None and not leaves_s >= stage.from_s:
            raise RangeError(
                "course", "goes back in time", value=f"{leaves_s:g} s", allowed=f"must not be before {stage.from_s:g} s"
            )
        how = leaves_s, until_s or 0.0, mass_g, conversion, temperature_K, tolerance, limits_only
        runs.append(follow_stage(kinetics, stage, *how))
        if leaves_s is not None:
            conversion, temperature_K = state_at(kinetics, runs[-1], leaves_s)
    working_s, gel_s = (
        reached_s(kinetics, runs, end) for end in (kinetics.conversion_working, kinetics.conversion_gel)
    )
    films = [run for run in runs if run.heated is None]
    open_s = reached_s(kinetics, films, kinetics.conversion_film) if runs[-1].heated is None else None
    return Course(kinetics, tuple(runs), working_s, gel_s, open_s)


@lru_cache(maxsize=256)
def follow_band(
    calibration: Calibration,
    stages: tuple[Stage, ...],
    *,
    mass_g: float,
    start_K: float,
) -> CourseBand:
    """Follow one batch through its stages, with the 80 % band of its times.

    Raises RangeError if there is no stage, if stages do not come one after the other, or if a value is out of range. As
    `predict_band`: each unsure thing changes the whole way, in the cup and on the part. The last few hundred are kept:
    a review, a replay and a day with one thing changed ask for the same batches in turn.

    Parameters
    ----------
    mass_g : Mass of mix, above 0; a film's does not matter [g]
    start_K : Temperature of the mix at first contact, 233 to 523 [K]
    """

    def times_s(kinetics: Kinetics, use: Use) -> tuple[float, ...]:
        at = {"mass_g": use.mass_g(mass_g), "start_K": use.start_K(start_K)}
        course = follow(kinetics, stages, **at, tolerance=COARSE, limits_only=True)
        return course.working_s, course.gel_s, course.gel_s if course.open_s is None else course.open_s

    course = follow(calibration.kinetics, stages, mass_g=mass_g, start_K=start_K)
    working, gel, film = calibration.log_sds(times_s)
    working_s = Band.around(course.working_s, working)
    return CourseBand(
        course=course,
        working_s=working_s,
        gel_s=Band.around(course.gel_s, gel).no_sooner(working_s),
        open_s=None if course.open_s is None else Band.around(course.open_s, film),
    )


def gel_in_channel_s(band: CourseBand, skin: Skin) -> Band:
    """Return when a pour gels in its channel. From first contact, never before it is poured.

    It begins with the conversion and the warmth that it left its cup with. The ends of the band move as its middle.
    """
    kinetics, (cup, film) = band.course.kinetics, band.course.runs[-2:]
    poured_s = film.stage.from_s
    conversion, temperature_K = state_at(kinetics, cup, poured_s)
    part_K = temperature_at_K(film.stage.ambient, poured_s)
    share = open_life_share(kinetics, skin, part_K, conversion, kinetics.conversion_gel, temperature_K - part_K)
    return Band(*(edge_s if edge_s <= poured_s else poured_s + share * (edge_s - poured_s) for edge_s in band.gel_s))
