"""Follow a resin on the part through the mould's temperature."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from layup.chemistry.film_course import Condition, Course, Leg, Node, Setting
from layup.chemistry.history import History, Ramp, ramps
from layup.chemistry.kinetics import FULLY_CURED, speed_up, stretch
from layup.chemistry.ranges import require_between


def set_on_part(
    setting: Setting,
    mould: float | History,
    *,
    until_s: float,
    from_s: float = 0.0,
    conversion_start: float = 0.0,
    enough: Condition | None = None,
) -> Course:
    """Follow a resin on the part through the mould's temperature.

    Parameters
    ----------
    setting : Setting
        The resin [-]
    mould : float or History
        One temperature, or (time_s, temperature_K) points of the mould, straight between them, held after the last [K]
    until_s : float
        End of the course, after `from_s` [s]
    from_s : float
        Start of the course [s]
    conversion_start : float
        Conversion the resin has at the start, from its time in the cup, 0 to below 0.999 [-]
    enough : callable or None
        Condition that ends the course early, looked at where the mould's temperature has a corner; None for never [-]

    Returns
    -------
    course : Course
        Conversion, glass transition and age at any time in it [-]

    Raises
    ------
    RangeError
        For a value outside its range, or a history that is empty or runs backwards.

    Notes
    -----
    da/dt = k(T) f(a) m(Tg(a) - T) with the pot life's own k and f, and m the share that a glass leaves; the film has
    the mould's temperature. The age is the integral of dt over the maker's time at that temperature.

    Examples
    --------
    >>> from layup.chemistry.glass import Glass
    >>> from layup.chemistry.kinetics import Kinetics
    >>> course = set_on_part(Setting(Kinetics(3e-4), Glass(355.15)), 293.15, until_s=86400.0)
    >>> round(course.end.conversion, 3), round(course.end.lead_K, 1)
    (0.787, 16.7)
    """
    require_between("end of the course", until_s, from_s, float("inf"), unit="s", open_low=True, open_high=True)
    require_between("conversion at the start", conversion_start, 0.0, FULLY_CURED, open_high=True)
    node = Node(from_s, stretch(conversion_start, setting.kinetics.a0), 0.0, 0.0)
    h = 0.01 / speed_up(ramps(mould, from_s=from_s)[0].at(from_s), setting.kinetics.activation_energy_J_mol)
    h /= setting.kinetics.k_ref_per_s
    legs = []
    for ramp in _cut(ramps(mould, from_s=from_s), setting.clock.kinks_K, until_s):
        leg = Leg(setting, ramp, node)
        h = leg.march(ramp.end_s, h)
        node = leg.nodes[-1]
        legs.append(leg)
        if enough is not None and enough(leg.moment(node)) >= 0.0:
            break
    return Course(tuple(legs))


def conversion_on_part(
    setting: Setting,
    mould: float | History,
    *,
    until_s: float,
    from_s: float = 0.0,
    conversion_start: float = 0.0,
) -> float:
    """Find the conversion a resin on the part has reached.

    Parameters
    ----------
    setting : Setting
        The resin [-]
    mould : float or History
        One temperature, or (time_s, temperature_K) points of the mould, straight between them, held after the last [K]
    until_s : float
        The time asked about, after `from_s` [s]
    from_s : float
        Start of the course [s]
    conversion_start : float
        Conversion the resin has at the start, 0 to below 0.999 [-]

    Returns
    -------
    conversion : float
        Conversion, at most 0.999 [-]

    Raises
    ------
    RangeError
        For a value outside its range, or a history that is empty or runs backwards.
    """
    course = set_on_part(setting, mould, until_s=until_s, from_s=from_s, conversion_start=conversion_start)
    return course.end.conversion


def _cut(pieces: tuple[Ramp, ...], kinks_K: tuple[float, ...], until_s: float) -> Iterator[Ramp]:
    """Yield the ramps up to `until_s`, cut where they cross a temperature at which the maker's clock has a kink."""
    for ramp in pieces:
        end_s = min(ramp.end_s, until_s)
        if ramp.start_s >= end_s:
            continue
        crossings = ((kink_K - ramp.base_K) / ramp.slope_K_s for kink_K in (kinks_K if ramp.slope_K_s != 0.0 else ()))
        edges = [ramp.start_s, *sorted(time_s for time_s in crossings if ramp.start_s < time_s < end_s), end_s]
        for start_s, stop_s in pairwise(edges):
            yield ramp._replace(start_s=start_s, end_s=stop_s)
