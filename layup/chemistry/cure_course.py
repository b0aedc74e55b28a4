"""The course of a resin on the part: conversion, glass and the maker's clock at any time of it.

Time is the integration variable here, for a glassy resin all but stops; conversion is carried as
y = ln((a0 + a)/(a0 (1 - a))), so that it cannot leave 0 to 1. Steps are Dormand and Prince's fifth-order pair with
error control. A value between two nodes is found by a shorter step from the first, so it is as good as the nodes.

Follow a resin on the part through the mould's temperature.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import inf
from typing import NamedTuple

from layup.chemistry.glass import NOTHING_STATED, Glass, MakersClock
from layup.chemistry.kinetics import FULLY_CURED, Kinetics, speed_up, stretch, unstretch
from layup.chemistry.ode import TOLERANCE
from layup.chemistry.ranges import require_between
from layup.chemistry.roots import first_at_or_above
from layup.chemistry.temperature import History, Ramp, ramps

# -- film course -----------------------------------------------------------------------------------------------------

TURN_SHARE, TURN_S = 1e-9, 1e-6
"""How closely a moment is found: a share of the step that it is in, and so much more."""
LONGEST_STEP_S = 86_400.0
FULL_CURE_SHORT_K = 10.0
"""A part counts as fully cured with its glass transition this close to the best (common practice, no source)."""
GEL_LEAD = 0.03
"""Conversion past the gel at which a part holds together: a network that has only begun tears (our own judgement)."""
LONGEST_SLOPING_STEP_S = 900.0
"""While the mould warms or cools, so that no condition turns true and false again inside one step."""


@dataclass(frozen=True, slots=True)
class Setting:
    """What sets on the part: the rate law, the glass that slows it, and what its maker says of demoulding."""

    kinetics: Kinetics
    glass: Glass
    clock: MakersClock = NOTHING_STATED

    def firm(self, lead_K: float) -> Condition:
        """Return the condition that the resin is past its gel, and a glass by `lead_K`: a liquid may be glass too."""
        gelled = self.kinetics.conversion_gel + GEL_LEAD
        return lambda moment: min((moment.lead_K - lead_K) / 10.0, moment.conversion - gelled)

    def ready(self, lead_K: float) -> Condition:
        """Return the condition that a part may leave the mould: old enough for its maker, and firm."""
        firm = self.firm(lead_K)
        if not self.clock.points:
            return firm
        return lambda moment: min(firm(moment), moment.age - 1.0)

    def rate_per_s(self, conversion: float, temperature_K: float) -> float:
        """Return da/dt [1/s] at `conversion` [-] and `temperature_K` [K]: the chemistry's, as far as glass lets it."""
        return self.kinetics.rate_per_s(conversion, temperature_K) * self.glass.mobility(conversion, temperature_K)


class CureMoment(NamedTuple):
    """The resin at one time; `age` is the share of the maker's stated demould time that has gone by."""

    time_s: float
    conversion: float
    temperature_K: float
    glass_transition_K: float
    age: float

    @property
    def lead_K(self) -> float:
        """Return how far the glass transition is above the mould [K]: above 0 a glass, below it a rubber or liquid."""
        return self.glass_transition_K - self.temperature_K


Condition = Callable[[CureMoment], float]
"""At or above zero where it holds."""


class CureNode(NamedTuple):
    time_s: float
    y: float
    slope_per_s: float
    age: float


class MouldLeg:
    """One straight piece of the mould's temperature, with the nodes on it."""

    __slots__ = ("nodes", "ramp", "setting", "y_end")

    def __init__(self, setting: Setting, ramp: Ramp, start: CureNode) -> None:
        self.setting = setting
        self.ramp = ramp
        self.y_end = stretch(FULLY_CURED, setting.kinetics.a0)
        self.nodes = [start._replace(slope_per_s=self.slope_per_s(start.time_s, start.y))]

    def slope_per_s(self, time_s: float, y: float) -> float:
        """Return dy/dt; a resin at `FULLY_CURED` has nothing left to do."""
        if y >= self.y_end:
            return 0.0
        kinetics = self.setting.kinetics
        conversion = unstretch(y, kinetics.a0)
        per_y = (kinetics.a0 + conversion) * (1.0 - conversion) / (1.0 + kinetics.a0)
        return self.setting.rate_per_s(conversion, self.ramp.at(time_s)) / per_y

    def step(self, node: CureNode, h: float) -> tuple[CureNode, float]:
        """Return the node `h` seconds on, and its error in y."""
        t, y, p1, age = node
        slope = self.slope_per_s
        p2 = slope(t + 0.2 * h, y + h * 0.2 * p1)
        p3 = slope(t + 0.3 * h, y + h * (0.075 * p1 + 0.225 * p2))
        p4 = slope(t + 0.8 * h, y + h * (44 / 45 * p1 - 56 / 15 * p2 + 32 / 9 * p3))
        p5 = slope(t + 8 / 9 * h, y + h * (19372 / 6561 * p1 - 25360 / 2187 * p2 + 64448 / 6561 * p3 - 212 / 729 * p4))
        p6 = slope(
            t + h, y + h * (9017 / 3168 * p1 - 355 / 33 * p2 + 46732 / 5247 * p3 + 49 / 176 * p4 - 5103 / 18656 * p5)
        )
        y_new = y + h * (35 / 384 * p1 + 500 / 1113 * p3 + 125 / 192 * p4 - 2187 / 6784 * p5 + 11 / 84 * p6)
        p7 = slope(t + h, y_new)
        off = 71 / 57600 * p1 - 71 / 16695 * p3 + 71 / 1920 * p4 - 17253 / 339200 * p5 + 22 / 525 * p6 - p7 / 40
        return CureNode(t + h, y_new, p7, age + self.aged(t, h)), abs(h * off)

    def aged(self, time_s: float, h: float) -> float:
        """Return the share of the maker's time that passes in `h` seconds (three-point Gauss-Legendre)."""
        rate, at = self.setting.clock.rate_per_s, self.ramp.at
        if self.ramp.slope_K_s == 0.0:
            return h * rate(at(time_s))
        middle_s, reach_s = time_s + 0.5 * h, 0.3872983346207417 * h
        return (
            h
            / 18.0
            * (5.0 * rate(at(middle_s - reach_s)) + 8.0 * rate(at(middle_s)) + 5.0 * rate(at(middle_s + reach_s)))
        )

    def march(self, until_s: float, h: float) -> float:
        """Add nodes up to `until_s`; return the step to go on with."""
        longest_s = LONGEST_STEP_S if self.ramp.slope_K_s == 0.0 else LONGEST_SLOPING_STEP_S
        node = self.nodes[-1]
        while node.time_s < until_s:
            left = until_s - node.time_s
            reach = min(h, longest_s)
            reach = left if reach > 0.999 * left else reach
            ahead, error = self.step(node, reach)
            h = reach * min(5.0, max(0.2, 0.9 * (TOLERANCE / (error + 1e-30)) ** 0.2))
            if error <= TOLERANCE:
                node = ahead._replace(time_s=until_s) if reach == left else ahead
                self.nodes.append(node)
        return h

    def moment(self, node: CureNode) -> CureMoment:
        """Return a node as what it means."""
        conversion = unstretch(node.y, self.setting.kinetics.a0)
        return CureMoment(
            node.time_s,
            conversion,
            self.ramp.at(node.time_s),
            self.setting.glass.transition_K(conversion),
            node.age,
        )


@dataclass(frozen=True, slots=True)
class CureCourse:
    """The whole course from its start to `until_s`."""

    legs: tuple[MouldLeg, ...]

    @property
    def start(self) -> CureMoment:
        """Return the first moment."""
        return self.legs[0].moment(self.legs[0].nodes[0])

    @property
    def end(self) -> CureMoment:
        """Return the last moment."""
        return self.legs[-1].moment(self.legs[-1].nodes[-1])

    def at(self, time_s: float) -> CureMoment:
        """Return the moment at `time_s` [s], within the course."""
        require_between("time on the part", time_s, self.start.time_s, self.end.time_s, unit="s")
        after = bisect_right(self.legs, time_s, key=lambda leg: leg.nodes[0].time_s)
        leg = self.legs[max(0, after - 1)]
        left = leg.nodes[max(0, bisect_right(leg.nodes, time_s, key=lambda node: node.time_s) - 1)]
        return leg.moment(left if time_s <= left.time_s else leg.step(left, time_s - left.time_s)[0])

    def first(self, condition: Condition) -> CureMoment | None:
        """Return the first moment at which `condition` is at or above zero, or None."""
        for leg in self.legs:
            left = leg.nodes[0]
            before = condition(leg.moment(left))
            if before >= 0.0:
                return leg.moment(left)
            for right in leg.nodes[1:]:
                after = condition(leg.moment(right))
                if after >= 0.0:
                    return _turn(leg, left, (right.time_s - left.time_s, before, after), condition)
                left, before = right, after
        return None

    def glass_s(self, lead_K: float) -> float:
        """Return when the glass transition is first `lead_K` above the mould [s]; inf where it never is."""
        return _time_s(self.first(lambda moment: moment.lead_K - lead_K))

    def gel_s(self) -> float:
        """Return when the resin is first past its gel by `GEL_LEAD` [s]; inf where it never is."""
        gelled = self.legs[0].setting.kinetics.conversion_gel + GEL_LEAD
        return _time_s(self.first(lambda moment: moment.conversion - gelled))

    def firm_s(self, lead_K: float) -> float:
        """Return when the resin is first gelled and a glass by `lead_K` [s]; inf where it never is."""
        return _time_s(self.first(self.legs[0].setting.firm(lead_K)))

    def stated_s(self) -> float:
        """Return when the maker's demould time is up [s]: the start where none is stated, inf where it never is."""
        stated = self.legs[0].setting.clock.points
        return _time_s(self.first(lambda moment: moment.age - 1.0)) if stated else self.start.time_s

    def ready_s(self, lead_K: float) -> float:
        """Return when all first hold at once [s]; inf where they never do."""
        return _time_s(self.first(self.legs[0].setting.ready(lead_K)))

    def reacted_at_K(self) -> float:
        """Return the temperature at which the resin reacted, the mean over its conversion [K]."""
        moments = [leg.moment(node) for leg in self.legs for node in leg.nodes]
        gained = [(after.conversion - before.conversion, before, after) for before, after in pairwise(moments)]
        total = sum(share for share, _, _ in gained)
        if total <= 0.0:
            return self.start.temperature_K
        return sum(share * 0.5 * (one.temperature_K + two.temperature_K) for share, one, two in gained) / total

    def fully_cured_s(self) -> float:
        """Return when the glass transition is first within 10 K of the best [s]; inf where it never is."""
        best_K = self.legs[0].setting.glass.cured_K
        return _time_s(self.first(lambda moment: moment.glass_transition_K - (best_K - FULL_CURE_SHORT_K)))


def _time_s(moment: CureMoment | None) -> float:
    return inf if moment is None else moment.time_s


def _turn(leg: MouldLeg, left: CureNode, ends: tuple[float, float, float], condition: Condition) -> CureMoment:
    """Return the moment within one step of known length at which a condition, known at its ends, turns true."""
    length_s, before, after = ends

    def moment(ahead_s: float) -> CureMoment:
        return leg.moment(leg.step(left, ahead_s)[0])

    within_s = TURN_SHARE * length_s + TURN_S
    turn_s = first_at_or_above(
        lambda ahead_s: condition(moment(ahead_s)), 0.0, length_s, within_s, at_low=before, at_high=after
    )
    return moment(turn_s)


# -- setting ---------------------------------------------------------------------------------------------------------


def set_on_part(
    setting: Setting,
    mould: float | History,
    *,
    until_s: float,
    from_s: float = 0.0,
    conversion_start: float = 0.0,
    enough: Condition | None = None,
) -> CureCourse:
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
    (0.786, 16.7)
    """
    require_between("end of the course", until_s, from_s, float("inf"), unit="s", open_low=True, open_high=True)
    require_between("conversion at the start", conversion_start, 0.0, FULLY_CURED, open_high=True)
    node = CureNode(from_s, stretch(conversion_start, setting.kinetics.a0), 0.0, 0.0)
    h = 0.01 / speed_up(ramps(mould, from_s=from_s)[0].at(from_s), setting.kinetics.activation_energy_J_mol)
    h /= setting.kinetics.k_ref_per_s
    legs = []
    for ramp in _cut(ramps(mould, from_s=from_s), setting.clock.kinks_K, until_s):
        leg = MouldLeg(setting, ramp, node)
        h = leg.march(ramp.end_s, h)
        node = leg.nodes[-1]
        legs.append(leg)
        if enough is not None and enough(leg.moment(node)) >= 0.0:
            break
    return CureCourse(tuple(legs))


def conversion_on_part(
    setting: Setting,
    mould: float | History,
    *,
    until_s: float,
    from_s: float = 0.0,
    conversion_start: float = 0.0,
) -> float:
    """Find the conversion a resin on the part has reached."""
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
