"""Temperature against time, as logged or forecast, and the age that it gives a resin."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from itertools import pairwise
from math import ceil, cos, floor, pi
from typing import NamedTuple

from layup.chemistry.kinetics import REFERENCE_K, speed_up
from layup.chemistry.numerics import first_at_or_above, integral, require_between
from layup.errors import InputError, RangeError

History = tuple[tuple[float, float], ...]
"""(time_s, temperature_K) points: piecewise linear, held before the first and after the last."""

COLDEST_K = 233.15
HOTTEST_K = 523.15
"""The ends of what the model is asked about: -40 to 250 C, a cold shed to an oven."""

_PANEL_K = 10.0
"""Widest temperature change over which the five-point rule integrates an Arrhenius rate to 1e-11."""


class Ramp(NamedTuple):
    """One straight piece of a history: temperature = base_K + slope_K_s * t for start_s <= t <= end_s."""

    start_s: float
    end_s: float
    base_K: float
    slope_K_s: float

    def at(self, time_s: float) -> float:
        """Return the temperature [K] at `time_s` [s]."""
        return self.base_K + self.slope_K_s * time_s


def ramps(ambient: float | History, *, from_s: float = 0.0) -> tuple[Ramp, ...]:
    """Return the straight pieces of a history; the last one never ends.

    Raises RangeError if the history is empty, runs backwards or leaves -40 to 250 C.

    Parameters
    ----------
    ambient : One temperature, or (time_s, temperature_K) points, 233 to 523 [K]
    from_s : Where the first one starts [s]
    """
    if isinstance(ambient, float | int):
        require_between("temperature", ambient, COLDEST_K, HOTTEST_K, unit="K")
        return (Ramp(from_s, float("inf"), float(ambient), 0.0),)
    if not ambient:
        raise RangeError("temperature history", "is empty", allowed="needs at least one (time, temperature) point")
    for before, after in pairwise(ambient):
        if not after[0] > before[0]:
            raise RangeError(
                "temperature history", "does not run forward", value=f"{after[0]:g} s", allowed="times must increase"
            )
    for _, temperature_K in ambient:
        require_between("temperature", temperature_K, COLDEST_K, HOTTEST_K, unit="K")
    return tuple(_pieces(ambient, from_s))


def _pieces(history: History, from_s: float) -> Iterator[Ramp]:
    """Yield the ramps of a checked history, cut at `from_s`."""
    if history[0][0] > from_s:
        yield Ramp(from_s, history[0][0], history[0][1], 0.0)
    for (start_s, start_K), (end_s, end_K) in pairwise(history):
        if end_s > from_s:
            slope_K_s = (end_K - start_K) / (end_s - start_s)
            yield Ramp(max(start_s, from_s), end_s, start_K - slope_K_s * start_s, slope_K_s)
    yield Ramp(max(history[-1][0], from_s), float("inf"), history[-1][1], 0.0)


def temperature_at_K(ambient: float | History, time_s: float) -> float:
    """Return the temperature of a history at a time.

    >>> temperature_at_K(((0.0, 290.0), (100.0, 300.0)), 25.0)
    292.5

    Parameters
    ----------
    ambient : One temperature, or (time_s, temperature_K) points [K]
    time_s : The time asked about [s]
    """
    if isinstance(ambient, float | int):
        return float(ambient)
    after = bisect_right(ambient, time_s, key=lambda point: point[0])
    if after == 0 or after == len(ambient):
        return ambient[0 if after == 0 else -1][1]
    (start_s, start_K), (end_s, end_K) = ambient[after - 1], ambient[after]
    return start_K + (end_K - start_K) * (time_s - start_s) / (end_s - start_s)


def corners(ambient: float | History, *, from_s: float, until_s: float) -> History:
    """Return the points between which a history is straight, among them its hottest and its coldest.

    >>> corners(((0.0, 290.0), (100.0, 300.0), (900.0, 280.0)), from_s=0.0, until_s=500.0)
    ((0.0, 290.0), (100.0, 300.0), (500.0, 290.0))
    """
    inside = () if isinstance(ambient, float | int) else (time_s for time_s, _ in ambient if from_s < time_s < until_s)
    return tuple((time_s, temperature_at_K(ambient, time_s)) for time_s in (from_s, *inside, until_s))


def dose_s(
    history: float | History,
    activation_energy_J_mol: float,
    *,
    until_s: float,
    from_s: float = 0.0,
    reference_K: float = REFERENCE_K,
) -> float:
    """Return the equivalent age [s]: the time at the reference temperature that ages a resin as much as a history does.

    Raises RangeError if the history is empty or runs backwards, or if `until_s` comes before `from_s`.

    t_e = integral of exp(-(Ea/R)(1/T - 1/T_ref)) dt, by Gauss-Legendre quadrature on every straight piece. Source: ASTM
    C1074, equivalent age.

    >>> round(dose_s(303.15, 55000.0, until_s=100.0, reference_K=293.15), 2)
    210.51

    Parameters
    ----------
    history : One temperature, or (time_s, temperature_K) points of the resin itself [K]
    activation_energy_J_mol : Apparent activation energy, 0 or more [J/mol]
    until_s : End of the time counted, at or after `from_s` [s]
    from_s : Start of the time counted [s]
    reference_K : Temperature at which one second counts as one second [K]
    """
    require_between("end of the history", until_s, from_s, float("inf"), unit="s")
    require_between("activation energy", activation_energy_J_mol, 0.0, 300_000.0, unit="J/mol")
    pieces = ramps(history, from_s=from_s)
    return sum(
        ramp_dose_s(ramp, min(ramp.end_s, until_s), activation_energy_J_mol, reference_K)
        for ramp in pieces
        if ramp.start_s < until_s
    )


def ramp_dose_s(ramp: Ramp, until_s: float, activation_energy_J_mol: float, reference_K: float = REFERENCE_K) -> float:
    """Return the equivalent age that one straight piece adds."""
    span_s = until_s - ramp.start_s
    if ramp.slope_K_s == 0.0:
        return span_s * speed_up(ramp.base_K, activation_energy_J_mol, reference_K=reference_K)
    panels = max(1, ceil(abs(ramp.slope_K_s) * span_s / _PANEL_K))

    def faster(time_s: float) -> float:
        return speed_up(ramp.at(time_s), activation_energy_J_mol, reference_K=reference_K)

    return integral(faster, ramp.start_s, until_s, panels)


def time_of_dose_s(
    ambient: float | History, activation_energy_J_mol: float, wanted_s: float, *, from_s: float = 0.0
) -> float:
    """Return when the equivalent age reaches a wanted one, the inverse of `dose_s`."""
    left_s = wanted_s
    for ramp in ramps(ambient, from_s=from_s):
        if ramp.slope_K_s == 0.0:
            end_s = ramp.start_s + left_s / speed_up(ramp.base_K, activation_energy_J_mol)
            if end_s <= ramp.end_s:
                return end_s
        whole_s = ramp_dose_s(ramp, ramp.end_s, activation_energy_J_mol)
        if whole_s >= left_s:
            return _time_on_ramp_s(ramp, activation_energy_J_mol, left_s, whole_s)
        left_s -= whole_s
    raise AssertionError("the last piece of a history never ends")


def _time_on_ramp_s(ramp: Ramp, activation_energy_J_mol: float, wanted_s: float, whole_s: float) -> float:
    """Return when one sloping piece has added `wanted_s` of the `whole_s` that it adds."""
    return first_at_or_above(
        lambda time_s: ramp_dose_s(ramp, time_s, activation_energy_J_mol) - wanted_s,
        ramp.start_s,
        ramp.end_s,
        1e-13 * (ramp.end_s - ramp.start_s),
        at_low=-wanted_s,
        at_high=whole_s - wanted_s,
    )


# -- a day that comes again ------------------------------------------------------------------------------------------

DAY_S = 86_400.0
COLDEST_S, WARMEST_S = 6 * 3600.0, 15 * 3600.0
"""When an unheated shop is coldest and warmest (common practice, no source)."""
AHEAD_S = 4 * DAY_S
"""So far a day's course is repeated, day by day (our own judgement)."""


def swing(coldest_K: float, warmest_K: float) -> History:
    """Make a day's course from its coldest and its warmest. (time_s from midnight, temperature_K), each hour.

    Half a cosine up in nine hours, half a cosine down in fifteen.

    Parameters
    ----------
    coldest_K : At 6 o'clock, 233.15 to 333.15 [K]
    warmest_K : At 15 o'clock, at least the coldest, at most 333.15 [K]
    """
    require_between("coldest", coldest_K, 233.15, warmest_K, unit="K")
    require_between("warmest", warmest_K, coldest_K, 333.15, unit="K")

    def share(hour: int) -> float:
        since = (hour * 3600.0 - COLDEST_S) % DAY_S
        rises_s = WARMEST_S - COLDEST_S
        if since <= rises_s:
            return 0.5 - 0.5 * cos(pi * since / rises_s)
        return 0.5 + 0.5 * cos(pi * (since - rises_s) / (DAY_S - rises_s))

    return tuple((hour * 3600.0, coldest_K + share(hour) * (warmest_K - coldest_K)) for hour in range(24))


def course_K(course: History, at_s: float) -> float:
    """Find the shop's temperature at a time of a day that comes again. Raises InputError for a course without points.

    Straight between the points, over midnight too.

    Parameters
    ----------
    at_s : From midnight, of this day or a later one [s]
    """
    if not course:
        raise InputError("forecast", "has no temperature", allowed="at least one time with its temperature")
    (first_s, first_K), (last_s, last_K) = course[0], course[-1]
    return temperature_at_K(((last_s - DAY_S, last_K), *course, (first_s + DAY_S, first_K)), at_s % DAY_S)


def stretch(course: History, from_s: float, until_s: float) -> History:
    """Cut a stretch out of a day's course that comes again.

    Its corners, both ends included, counted from the first. Raises InputError for a course without points.

    Parameters
    ----------
    from_s : From midnight, of this day or another [s]
    until_s : After `from_s` [s]
    """
    days = range(floor(from_s / DAY_S), floor(until_s / DAY_S) + 1)
    points = ((day * DAY_S + time_s, kelvin) for day in days for time_s, kelvin in course)
    inside = ((time_s - from_s, kelvin) for time_s, kelvin in points if from_s < time_s < until_s)
    return (0.0, course_K(course, from_s)), *inside, (until_s - from_s, course_K(course, until_s))


def carried_on(readings: History, course: History, *, midnight_s: float, ahead_s: float = AHEAD_S) -> History:
    """Carry readings on by the day's course that was foretold.

    The readings, then the course; after it the day's mean counts. Raises InputError for a course without points.

    T(t) = T_last + course(t) - course(t_last): a forecast tells how a shop changes better than how warm it is, so the
    last reading sets the level, and the difference is kept. It does not fade: how fast it would is known of no shop,
    and the next reading sets the level anew.

    >>> carried_on(((0.0, 291.0),), ((0.0, 283.0), (43200.0, 295.0)), midnight_s=-7200.0)[:3]
    ((0.0, 291.0), (36000.0, 301.0), (79200.0, 289.0))

    Parameters
    ----------
    midnight_s : Midnight on the clock of the readings [s]
    ahead_s : How far the course is followed, above 0 [s]
    """
    last_s, last_K = readings[-1]
    (_, begin_K), *inside, (_, _) = stretch(course, last_s - midnight_s, last_s - midnight_s + ahead_s)
    day = stretch(course, 0.0, DAY_S)
    mean_K = sum((end_s - at_s) * (kelvin + end_K) for (at_s, kelvin), (end_s, end_K) in pairwise(day)) / (2 * DAY_S)
    ahead = (*inside, (ahead_s, mean_K))
    return (*readings, *((last_s + time_s, last_K + kelvin - begin_K) for time_s, kelvin in ahead))
