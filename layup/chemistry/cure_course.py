"""The glass transition of a setting resin, and its course on the part through the mould's temperature.

Time is the integration variable here, for a glassy resin all but stops; conversion is carried as y = ln((a0 + a)/(a0 (1
- a))), so that it cannot leave 0 to 1.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import exp, inf, log
from operator import attrgetter
from typing import NamedTuple

from layup.chemistry.datasheet import NOTHING_STATED, Chemistry, Datasheet, MakersClock
from layup.chemistry.film import GEL_MARGIN
from layup.chemistry.kinetics import FULLY_CURED, GAS_CONSTANT_J_MOL_K, REFERENCE_K, Kinetics, stretch, unstretch
from layup.chemistry.numerics import cubic, first_at_or_above, require_between
from layup.chemistry.ode import COARSE, TOLERANCE, Slopes, march, step
from layup.chemistry.temperature import History, Ramp, ramps
from layup.units import temperature, temperature_change

# -- glass -----------------------------------------------------------------------------------------------------------

WLF_SLOPE = 42.5
WLF_SPAN_K = 51.6
"""Constants of the modified WLF equation (Simon and Gillham 1993, from memory)."""

UNCURED_K: dict[Chemistry, float] = {"epoxy-amine": 243.15, "urethane": 223.15, "other": 243.15}
"""Glass transition of a fresh mix, from memory: about -30 degC for an epoxy with its amine, -50 degC for a urethane."""
CURED_K = 348.15
"""Glass transition of a fully cured cold-setting resin whose datasheet gives none, 75 degC (from memory)."""


@dataclass(frozen=True, slots=True)
class Glass:
    """One resin's glass transition against conversion, and where it stops its own reaction."""

    cured_K: float
    uncured_K: float = 243.15
    shape: float = 0.4
    """DiBenedetto's lambda; 0.3 to 0.5 for epoxy-amines (from memory)."""
    half_rate_lead_K: float = 10.0
    """How far the glass transition has passed the resin's own temperature when the reaction runs at half its rate.

    Cold-cured resins end 10 to 25 K ahead (from memory); 10 K here makes it so.
    """

    def __post_init__(self) -> None:
        require_between("glass transition of the fresh mix", self.uncured_K, 150.0, 350.0, unit="K")
        require_between(
            "glass transition of the cured resin", self.cured_K, self.uncured_K, 600.0, unit="K", open_low=True
        )
        require_between("shape (lambda)", self.shape, 0.0, 1.0, open_low=True)
        require_between("lead at half rate", self.half_rate_lead_K, 0.0, 40.0, unit="ΔK")

    def transition_K(self, conversion: float) -> float:
        """Return the glass transition [K] at `conversion` [-]; see `cure.glass_transition_K`."""
        return self.uncured_K + (self.cured_K - self.uncured_K) * self.shape * conversion / (
            1.0 - (1.0 - self.shape) * conversion
        )

    def conversion_at(self, transition_K: float) -> float:
        """Return the conversion [-] that gives a glass transition [K] between the fresh mix's and the cured resin's."""
        require_between("glass transition", transition_K, self.uncured_K, self.cured_K, unit="K")
        share = (transition_K - self.uncured_K) / (self.cured_K - self.uncured_K)
        return share / (self.shape + (1.0 - self.shape) * share)

    def mobility(self) -> Callable[[float, float], float]:
        """Return what tells the share of the chemical rate that is left at a conversion [-] and a temperature [K] [-].

        Molecules that are a glass cannot meet: 1/k = 1/k_chem + 1/k_diff (Rabinowitch 1937), ln(k_diff/k_chem) =
        C (L/(S + L) - x/(S + |x|)) with x = Tg - T, C = 42.5, S = 51.6 K (modified WLF; S. L. Simon and J. K. Gillham,
        J. Appl. Polym. Sci. 47 (1993) 461, from memory) and L = `half_rate_lead_K`; diffusion is taken to have the
        activation energy of the reaction.
        """
        uncured_K, rise_K, less = self.uncured_K, (self.cured_K - self.uncured_K) * self.shape, 1.0 - self.shape
        half_rate_share = self.half_rate_lead_K / (WLF_SPAN_K + self.half_rate_lead_K)

        def share(conversion: float, temperature_K: float) -> float:
            lead_K = uncured_K + rise_K * conversion / (1.0 - less * conversion) - temperature_K
            return 1.0 / (1.0 + exp(WLF_SLOPE * (lead_K / (WLF_SPAN_K + abs(lead_K)) - half_rate_share)))

        return share


def glass_of(datasheet: Datasheet) -> tuple[Glass, tuple[str, ...]]:
    """Find a resin's glass from its datasheet, and say in words what had to be assumed."""
    uncured_K = UNCURED_K[datasheet.chemistry]
    stated_K = datasheet.glass_transition_K
    cured_K = CURED_K if stated_K is None else stated_K
    glass = Glass(cured_K, uncured_K)
    source = "typical, from memory: the datasheet states none" if stated_K is None else "from the datasheet"
    return glass, (
        f"fully cured the resin softens at {temperature(cured_K)} ({source}), fresh it would at "
        f"{temperature(uncured_K)} (typical, from memory)",
        "the reaction runs at half its rate once the glass transition is "
        f"{temperature_change(glass.half_rate_lead_K)} above the mould (from memory; cold-cured resins end "
        f"{temperature_change.digits(10.0)} to {temperature_change(25.0)} ahead)",
    )


# -- film course -----------------------------------------------------------------------------------------------------

GLASS_LEAD_K = 10.0
"""How far the glass transition must be above the mould at demoulding (common practice, no source).

Strength and stiffness grow from vitrification on: O. Moussa et al., Int. J. Adhesion & Adhesives 35 (2012) 9.
"""
ROUGH_TURN_SHARE = 1e-4
TURN_SHARE, TURN_S = 1e-9, 1e-6
"""How closely a moment is found: a share of the step that it is in, and so much more."""
FULL_CURE_SHORT_K = 10.0
"""A part counts as fully cured with its glass transition this close to the best (common practice, no source)."""
LONGEST_WARMING_STEP_S, LONGEST_COOLING_STEP_S = 900.0, 1800.0
"""So that in a mould that warms no condition turns true and false again inside one step, and a cubic between two nodes
of one that cools is good to 0.01 %."""


@dataclass(frozen=True, slots=True)
class Setting:
    """What sets on the part: the rate law, the glass that slows it, and what its maker says of demoulding."""

    kinetics: Kinetics
    glass: Glass
    clock: MakersClock = NOTHING_STATED

    def firm(self, lead_K: float = GLASS_LEAD_K) -> Condition:
        """Return the condition that the resin is past its gel, and a glass by `lead_K`: a liquid may be glass too."""
        gelled = self.kinetics.conversion_gel + GEL_MARGIN
        return lambda moment: min((moment.lead_K - lead_K) / 10.0, moment.conversion - gelled)

    def ready(self, lead_K: float = GLASS_LEAD_K) -> Condition:
        """Return the condition that a part may leave the mould: old enough for its maker, and firm."""
        firm = self.firm(lead_K)
        if not self.clock.points:
            return firm
        return lambda moment: min(firm(moment), moment.age - 1.0)


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
    """A point of the course, with the slopes there."""

    time_s: float
    y: float
    age: float
    y_slope: float
    age_slope: float


@dataclass(frozen=True, slots=True)
class MouldRun:
    """One straight piece of the mould's temperature, with the nodes on it."""

    setting: Setting
    ramp: Ramp
    slopes: Slopes[float]
    nodes: list[CureNode]
    rough: bool
    """Whether what lies between two nodes is read off a cubic, and not stepped to."""

    def moment(self, node: CureNode) -> CureMoment:
        conversion = unstretch(node.y, self.setting.kinetics.a0)
        return CureMoment(
            node.time_s,
            conversion,
            self.ramp.at(node.time_s),
            self.setting.glass.transition_K(conversion),
            node.age,
        )

    def node_at(self, time_s: float) -> CureNode:
        after = bisect_right(self.nodes, time_s, key=attrgetter("time_s"))
        left = self.nodes[max(0, after - 1)]
        if time_s <= left.time_s or after == len(self.nodes):
            return left
        ahead_s = time_s - left.time_s
        return between(left, self.nodes[after], ahead_s) if self.rough else self.ahead(left, ahead_s)

    def first_index(self, condition: Condition, *, grows: bool) -> int:
        """Return which node is the first at which a condition holds; their number where none is.

        In a mould that does not warm, conversion, age and the lead of the glass only grow, and so do all conditions.
        """
        if grows or self.ramp.slope_K_s <= 0.0:
            return bisect_left(self.nodes, True, key=lambda node: condition(self.moment(node)) >= 0.0)
        holds = (at for at, node in enumerate(self.nodes) if condition(self.moment(node)) >= 0.0)
        return next(holds, len(self.nodes))

    def ahead(self, left: CureNode, ahead_s: float) -> CureNode:
        """Return the node some time [s] after another, by a step from there."""
        return CureNode._make(step(self.slopes, left, ahead_s)[0])


def between(left: CureNode, right: CureNode, ahead_s: float) -> CureNode:
    """Return about the node some time [s] after the first of two, off the cubic through both."""
    time_s, h = left.time_s + ahead_s, right.time_s - left.time_s
    y = cubic(ahead_s / h, h, left.y, right.y, left.y_slope, right.y_slope)
    age = cubic(ahead_s / h, h, left.age, right.age, left.age_slope, right.age_slope)
    return CureNode(time_s, y, age, left.y_slope, left.age_slope)


def cure_slopes(setting: Setting, ramp: Ramp) -> Slopes[float]:
    """Return dy/dt and how fast the maker's time passes; a resin at `FULLY_CURED` has nothing left to do."""
    kinetics, base_K, slope_K_s = setting.kinetics, ramp.base_K, ramp.slope_K_s
    a0, order, mobility = kinetics.a0, kinetics.n - 1.0, setting.glass.mobility()
    y_end, plain, m = stretch(FULLY_CURED, a0), kinetics.is_default_order, kinetics.m
    over_T = kinetics.activation_energy_J_mol / GAS_CONSTANT_J_MOL_K
    # f(a) dy/da, with dy/da = (1 + a0)/((a0 + a)(1 - a))
    rate_log = log(kinetics.k_ref_per_s * (1.0 + a0)) + over_T / REFERENCE_K
    middle_K = ramp.at(0.5 * (ramp.start_s + ramp.end_s)) if slope_K_s != 0.0 else base_K
    passing_log, passing_over_T = setting.clock.line(middle_K)

    def at_K(temperature_K: float) -> tuple[float, float]:
        return exp(rate_log - over_T / temperature_K), exp(passing_log - passing_over_T / temperature_K)

    steady = (0.0, 0.0) if slope_K_s else at_K(base_K)  # of a slope, what it was at time 0 may be no temperature

    def slopes(time_s: float, y: float, _age: float) -> tuple[float, float]:
        temperature_K = base_K + slope_K_s * time_s
        rate, passes = at_K(temperature_K) if slope_K_s else steady
        if y >= y_end:
            return 0.0, passes
        growth = exp(y)
        conversion = a0 * (growth - 1.0) / (1.0 + a0 * growth)
        rate *= 1.0 - conversion if plain else (1.0 - conversion) ** order * (a0 + conversion**m) / (a0 + conversion)
        return rate * mobility(conversion, temperature_K), passes

    return slopes


@dataclass(frozen=True, slots=True)
class CureCourse:
    """The whole course from its start to `until_s`."""

    setting: Setting
    runs: tuple[MouldRun, ...]
    """Of this resin, or of one that sets alike."""

    @property
    def start(self) -> CureMoment:
        return self.runs[0].moment(self.runs[0].nodes[0])

    @property
    def end(self) -> CureMoment:
        return self.runs[-1].moment(self.runs[-1].nodes[-1])

    def at(self, time_s: float) -> CureMoment:
        """Return the moment at `time_s` [s], within the course."""
        require_between("time on the part", time_s, self.start.time_s, self.end.time_s, unit="s")
        run = self._run(time_s)
        return run.moment(run.node_at(time_s))

    def conversion_at(self, time_s: float) -> float:
        """Return the conversion at a time [s] from the course's start on; after its end the last one."""
        run = self._run(time_s)
        return unstretch(run.node_at(time_s).y, run.setting.kinetics.a0)

    def _run(self, time_s: float) -> MouldRun:
        after = bisect_right(self.runs, time_s, key=lambda run: run.nodes[0].time_s)
        return self.runs[max(0, after - 1)]

    def first_s(self, condition: Condition, *, grows: bool = False) -> float:
        """Return when a condition is first at or above zero [s], inf where never; one that `grows` stays there."""
        for run in self.runs:
            at = run.first_index(condition, grows=grows)
            if at == 0:
                return run.nodes[0].time_s
            if at < len(run.nodes):
                return _turn_s(run, run.nodes[at - 1], run.nodes[at], condition)
        return inf

    def glass_s(self, lead_K: float = GLASS_LEAD_K) -> float:
        """Return when the glass transition is first `lead_K` above the mould [s]; inf where it never is."""
        return self.first_s(lambda moment: moment.lead_K - lead_K)

    def gel_s(self) -> float:
        """Return when the resin is first past its gel by `GEL_MARGIN` [s]; inf where it never is."""
        gelled = self.setting.kinetics.conversion_gel + GEL_MARGIN
        return self.first_s(lambda moment: moment.conversion - gelled, grows=True)

    def firm_s(self) -> float:
        """Return when the resin is first gelled and a glass by the margin [s]; inf where it never is."""
        return self.first_s(self.setting.firm())

    def stated_s(self) -> float:
        """Return when the maker's demould time is up [s]: the start where none is stated, inf where it never is."""
        stated = self.setting.clock.points
        return self.first_s(lambda moment: moment.age - 1.0, grows=True) if stated else self.start.time_s

    def ready_s(self, lead_K: float = GLASS_LEAD_K) -> float:
        """Return when all first hold at once [s]; inf where they never do."""
        return self.first_s(self.setting.ready(lead_K))

    def reacted_at_K(self) -> float:
        """Return the temperature at which the resin reacted, the mean over its conversion [K]."""
        moments = [run.moment(node) for run in self.runs for node in run.nodes]
        gained = [(after.conversion - before.conversion, before, after) for before, after in pairwise(moments)]
        total = sum(share for share, _, _ in gained)
        if total <= 0.0:
            return self.start.temperature_K
        return sum(share * 0.5 * (one.temperature_K + two.temperature_K) for share, one, two in gained) / total

    def fully_cured_s(self) -> float:
        """Return when the glass transition is first within 10 K of the best [s]; inf where it never is."""
        best_K = self.setting.glass.cured_K
        return self.first_s(lambda moment: moment.glass_transition_K - (best_K - FULL_CURE_SHORT_K))


def _turn_s(run: MouldRun, left: CureNode, right: CureNode, condition: Condition) -> float:
    """Return when a condition turns true within one step [s].

    Looked for on the cubic between the ends, and again, unless rough, by as much higher or lower as a step to the place
    found is.
    """
    length_s, off = right.time_s - left.time_s, 0.0

    def about(ahead_s: float) -> float:
        return condition(run.moment(between(left, right, ahead_s))) + off

    ahead_s = first_at_or_above(about, 0.0, length_s, ROUGH_TURN_SHARE * length_s)
    if not run.rough:
        off = condition(run.moment(run.ahead(left, ahead_s) if ahead_s > 0.0 else left)) - about(ahead_s)
        ahead_s = first_at_or_above(about, 0.0, length_s, TURN_SHARE * length_s + TURN_S)
    return left.time_s + ahead_s


# -- setting ---------------------------------------------------------------------------------------------------------


def set_on_part(
    setting: Setting,
    mould: float | History,
    *,
    until_s: float,
    from_s: float = 0.0,
    conversion_start: float = 0.0,
    enough: Condition | None = None,
    rough: bool = False,
) -> CureCourse:
    """Follow a resin on the part through the mould's temperature.

    Raises RangeError for a history that is empty or runs backwards.

    da/dt = k(T) f(a) m(Tg(a) - T) with the pot life's own k and f, and m the share that a glass leaves; the film has
    the mould's temperature. The age is the integral of dt over the maker's time at that temperature.

    >>> from layup.chemistry.kinetics import Kinetics
    >>> course = set_on_part(Setting(Kinetics(3e-4), Glass(355.15)), 293.15, until_s=86400.0)
    >>> round(course.end.conversion, 3), round(course.end.lead_K, 1)
    (0.786, 16.7)

    Parameters
    ----------
    mould : One temperature, or (time_s, temperature_K) points of the mould, straight between them, held after the last
        [K]
    until_s : End of the course, after `from_s` [s]
    from_s : Start of the course [s]
    conversion_start : Conversion the resin has at the start, from its time in the cup, 0 to below 0.999 [-]
    rough : Whether four digits do, as for the spread of a time [-]
    """
    require_between("end of the course", until_s, from_s, float("inf"), unit="s", open_low=True, open_high=True)
    require_between("conversion at the start", conversion_start, 0.0, FULLY_CURED, open_high=True)
    pieces = ramps(mould, from_s=from_s)
    y, age = stretch(conversion_start, setting.kinetics.a0), 0.0
    h = 0.01 / setting.kinetics.rate_constant_per_s(pieces[0].at(from_s))
    runs: list[MouldRun] = []
    tolerance = COARSE if rough else TOLERANCE
    for ramp in _cut(pieces, setting.clock.kinks_K, until_s):
        slopes = cure_slopes(setting, ramp)
        start = CureNode(ramp.start_s, y, age, *slopes(ramp.start_s, y, age))
        sloping_s = LONGEST_WARMING_STEP_S if ramp.slope_K_s > 0.0 else LONGEST_COOLING_STEP_S

        def longest(_: CureNode, longest_s: float = inf if ramp.slope_K_s == 0.0 else sloping_s) -> float:
            return longest_s

        nodes, h = march(
            slopes,
            start,
            CureNode._make,
            end=ramp.end_s,
            strain=lambda _, off_y, off_age: max(abs(off_y), abs(off_age)) / tolerance,
            longest=longest,
            first_step=h,
        )
        runs.append(MouldRun(setting, ramp, slopes, nodes, rough))
        y, age = nodes[-1].y, nodes[-1].age
        if enough is not None and enough(runs[-1].moment(nodes[-1])) >= 0.0:
            break
    return CureCourse(setting, tuple(runs))


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
