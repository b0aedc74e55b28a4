"""The one stepper: march two things that change together along a third, and look anything up on the way they took.

Steps are Dormand and Prince's fifth-order pair with error control, of floats for one course or of arrays for many. A
value between two nodes is found by a shorter step from the first of them, so it is as good as the nodes.

A mix that heats itself is marched over y = ln((a0 + a)/(a0 (1 - a))): as conversion is then known at every y, what
remains to be found is when it gets there and how hot it is, t(y) and T(y). Both are smooth even where a runaway is
vertical in time. No step crosses a kink: neither one of the surroundings, nor the moment at which the mix is as warm as
they are, where a loss that grows with the excess has one.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import inf
from operator import attrgetter
from typing import Generic, NamedTuple, TypeVar

from layup.chemistry.numerics import Real, first_at_or_above
from layup.chemistry.temperature import Ramp
from layup.errors import RangeError

# -- stepper ---------------------------------------------------------------------------------------------------------

Slopes = Callable[[Real, Real, Real], tuple[Real, Real]]
"""(x, u, v) -> (du/dx, dv/dx); of a mix that heats itself (y, time_s, temperature_K) -> (dt/dy, dT/dy)."""
State = tuple[Real, Real, Real, Real, Real]
"""x, u, v and the slopes of u and v there."""
At = TypeVar("At", bound=tuple[float, float, float, float, float])
"""A state whose members have names."""

TOLERANCE = 1e-7
"""Error allowed in one step: relative in time, and in temperature as a share of 100 K."""
COARSE = 1e-5
"""The same for what only a band or a first guess rests on."""
WORST_STRAIN = 1e6
"""Times the error allowed: what a step counts as that left all sense."""
LANDING = 1e-13
"""How closely a node is met between two others, as a share of their distance."""
STEP_CAP = 20_000
"""More steps than this mean a mix so thin that it has no temperature of its own: a film."""


def step(slopes: Slopes[Real], state: State[Real], h: Real) -> tuple[State[Real], Real, Real]:
    """Return the state `h` further on, and the errors of its u and v.

    Source: Dormand and Prince, J. Comput. Appl. Math. 6 (1980) 19.
    """
    x, u, v, p1, q1 = state
    p2, q2 = slopes(x + 0.2 * h, u + h * 0.2 * p1, v + h * 0.2 * q1)
    p3, q3 = slopes(x + 0.3 * h, u + h * (0.075 * p1 + 0.225 * p2), v + h * (0.075 * q1 + 0.225 * q2))
    p4, q4 = slopes(
        x + 0.8 * h,
        u + h * (44 / 45 * p1 - 56 / 15 * p2 + 32 / 9 * p3),
        v + h * (44 / 45 * q1 - 56 / 15 * q2 + 32 / 9 * q3),
    )
    p5, q5 = slopes(
        x + 8 / 9 * h,
        u + h * (19372 / 6561 * p1 - 25360 / 2187 * p2 + 64448 / 6561 * p3 - 212 / 729 * p4),
        v + h * (19372 / 6561 * q1 - 25360 / 2187 * q2 + 64448 / 6561 * q3 - 212 / 729 * q4),
    )
    there = x + h
    p6, q6 = slopes(
        there,
        u + h * (9017 / 3168 * p1 - 355 / 33 * p2 + 46732 / 5247 * p3 + 49 / 176 * p4 - 5103 / 18656 * p5),
        v + h * (9017 / 3168 * q1 - 355 / 33 * q2 + 46732 / 5247 * q3 + 49 / 176 * q4 - 5103 / 18656 * q5),
    )
    u_new = u + h * (35 / 384 * p1 + 500 / 1113 * p3 + 125 / 192 * p4 - 2187 / 6784 * p5 + 11 / 84 * p6)
    v_new = v + h * (35 / 384 * q1 + 500 / 1113 * q3 + 125 / 192 * q4 - 2187 / 6784 * q5 + 11 / 84 * q6)
    p7, q7 = slopes(there, u_new, v_new)
    off_u = 71 / 57600 * p1 - 71 / 16695 * p3 + 71 / 1920 * p4 - 17253 / 339200 * p5 + 22 / 525 * p6 - p7 / 40
    off_v = 71 / 57600 * q1 - 71 / 16695 * q3 + 71 / 1920 * q4 - 17253 / 339200 * q5 + 22 / 525 * q6 - q7 / 40
    return (there, u_new, v_new, p7, q7), h * off_u, h * off_v


def resized(h: Real, strain: Real) -> Real:
    """Return the length for the next step after one of length `h`, its error `strain` times what is allowed.

    The one rule for it: at most 6.7 times as long, as long again at 0.44 of the error allowed.
    """
    shorter: Real = h / (0.15 + strain**0.2)
    return shorter


def march(
    slopes: Slopes[float],
    start: At,
    named: Callable[[Iterable[float]], At],
    *,
    end: float,
    strain: Callable[[State[float], float, float], float],
    longest: Callable[[At], float],
    first_step: float,
    meet: Callable[[At, At], At] | None = None,
    done: Callable[[At], bool] | None = None,
) -> tuple[list[At], float]:
    """March from `start` until x is at its `end`, or until `done`; return the nodes, and the step to go on with.

    `strain` makes of a state and its errors how many times the error allowed they are, `longest` is the longest step
    from a node, and `meet` puts what is found after a node where something must be met in between.
    """
    nodes, node, h = [start], start, first_step
    for _ in range(STEP_CAP):
        left = end - node[0]
        if left <= 0.0 or (done is not None and done(node)):
            return nodes, h
        reach = min(h, longest(node))
        reach = left if reach > 0.999 * left else reach
        try:
            state, off_u, off_v = step(slopes, node, reach)
            strained = min(strain(state, off_u, off_v), WORST_STRAIN)
        except ArithmeticError:  # the surroundings fell so fast that a stage left all sense: far too long a step
            state, strained = node, WORST_STRAIN
        if strained <= 1.0:
            ahead = named((end, *state[1:]) if reach == left else state)
            node = ahead if meet is None else meet(node, ahead)
            nodes.append(node)
        grown = resized(reach, strained)
        h = grown if strained > 1.0 or reach >= h else max(h, grown)
    raise too_thin()


def too_thin() -> RangeError:
    """Return the refusal of a mix that has no temperature of its own."""
    return RangeError(
        "mix",
        "is too thin to have a temperature of its own",
        todo="treat it as a film on the part",
    )


def land(
    slopes: Slopes[float],
    left: At,
    right: At,
    named: Callable[[Iterable[float]], At],
    value: Callable[[At], float],
) -> At:
    """Return the node between two nodes where `value` crosses zero upwards, each trial a step from the first."""
    length = right[0] - left[0]

    def ahead(h: float) -> At:
        return named(step(slopes, left, h)[0]) if h > 0.0 else left

    return ahead(first_at_or_above(lambda h: value(ahead(h)), 0.0, length, LANDING * length))


# -- a mix that heats itself -----------------------------------------------------------------------------------------

FIRST_STEP = 0.05
LONGEST_STEP = 1.0
STABLE = 3.0
"""Longest step in units of the cooling time: beyond 3.3 the pair is unstable, and wrong in silence without control."""
LEVEL_K = 1e-9
"""A mix no further from its surroundings is as warm as they are."""


class Node(NamedTuple, Generic[Real]):
    """A point on the course, with the slopes there; one, or many."""

    y: Real
    time_s: Real
    temperature_K: Real
    time_slope: Real
    temperature_slope: Real


@dataclass(slots=True)
class Piece:
    """The nodes of one stretch in which the slopes are smooth: between two kinks of the surroundings."""

    slopes: Slopes[float]
    nodes: list[Node[float]]


@dataclass(slots=True)
class Trajectory:
    """The whole course, as far as it was marched."""

    pieces: list[Piece] = field(default_factory=list)

    @property
    def last(self) -> Node[float]:
        return self.pieces[-1].nodes[-1]

    def at_y(self, y: float) -> Node[float]:
        """Return the state where the integration variable is `y`, within the course."""
        piece = self._piece(0, y)
        left = piece.nodes[max(0, bisect_right(piece.nodes, y, key=attrgetter("y")) - 1)]
        return left if y <= left.y else Node._make(step(piece.slopes, left, y - left.y)[0])

    def at_time(self, time_s: float) -> Node[float]:
        """Return the state at `time_s`, within the course."""
        piece = self._piece(1, time_s)
        index = max(0, bisect_right(piece.nodes, time_s, key=attrgetter("time_s")) - 1)
        left = piece.nodes[index]
        if time_s <= left.time_s or index + 1 == len(piece.nodes):
            return left
        return _land_on_time(piece.slopes, left, piece.nodes[index + 1], time_s)

    def peak(self) -> Node[float]:
        """Return the hottest state, the start included."""
        best, warmth = self.pieces[0].nodes[0], attrgetter("temperature_K")
        for piece in self.pieces:
            for left, right in pairwise(piece.nodes):
                if left.temperature_slope > 0.0 > right.temperature_slope:
                    turn = land(piece.slopes, left, right, Node._make, lambda node: -node.temperature_slope)
                    best = max(best, turn, key=warmth)
                best = max(best, right, key=warmth)
        return best

    def at_temperature(self, temperature_K: float) -> Node[float] | None:
        """Return the first state at least so warm, or None where the mix never is, as far as the course goes."""
        for piece in self.pieces:
            if piece.nodes[0].temperature_K >= temperature_K:
                return piece.nodes[0]
            for left, right in pairwise(piece.nodes):
                if right.temperature_K >= temperature_K:
                    return land(piece.slopes, left, right, Node._make, lambda node: node.temperature_K - temperature_K)
        return None

    def _piece(self, key: int, value: float) -> Piece:
        """Return the stretch that holds a value of y (key 0) or time (key 1)."""
        after = bisect_right(self.pieces, value, key=lambda piece: piece.nodes[0][key])
        return self.pieces[max(0, after - 1)]


def _land_on_time(slopes: Slopes[float], left: Node[float], right: Node[float], time_s: float) -> Node[float]:
    """Return the node between two nodes at exactly `time_s`."""
    node = land(slopes, left, right, Node._make, lambda node: node.time_s - time_s)
    return node._replace(time_s=time_s)


def _meeting(slopes: Slopes[float], ramp: Ramp, time_end_s: float) -> Callable[[Node[float], Node[float]], Node[float]]:
    """Return what meets the end of the time, and the moment at which the mix is as warm as its surroundings."""
    base_K, slope_K_s = ramp.base_K, ramp.slope_K_s

    def above_K(node: Node[float]) -> float:
        return node.temperature_K - base_K - slope_K_s * node.time_s

    def met(left: Node[float], right: Node[float]) -> Node[float]:
        before_K, after_K = above_K(left), above_K(right)
        if before_K * after_K < 0.0 and abs(before_K) > LEVEL_K:
            sign = 1.0 if after_K > 0.0 else -1.0
            right = land(slopes, left, right, Node._make, lambda node: sign * above_K(node))
        return _land_on_time(slopes, left, right, time_end_s) if right.time_s > time_end_s else right

    return met


def trajectory(
    slopes_for: Callable[[Ramp], Slopes[float]],
    surroundings: Sequence[Ramp],
    *,
    y_start: float,
    y_end: float,
    start_K: float,
    time_end_s: float = inf,
    done: Callable[[Node[float]], bool] | None = None,
    cooling_per_s: float = 0.0,
    tolerance: float = TOLERANCE,
) -> Trajectory:
    """March through every straight piece of the surroundings, so that no kink falls inside a step."""
    course, per_tolerance, per_kelvin = Trajectory(), 1.0 / tolerance, 0.01 / tolerance
    y, time_s, temperature_K, first_step = y_start, surroundings[0].start_s, start_K, FIRST_STEP

    def strain(state: State[float], off_s: float, off_K: float) -> float:
        return max(abs(off_s / state[1]) * per_tolerance, abs(off_K) * per_kelvin)

    def longest(node: Node[float]) -> float:
        return min(LONGEST_STEP, STABLE / (cooling_per_s * node.time_slope + 1e-300))

    for ramp in surroundings:
        slopes, until_s, settled = slopes_for(ramp), min(ramp.end_s, time_end_s), ramp.end_s == inf

        def over(node: Node[float], until_s: float = until_s, settled: bool = settled) -> bool:
            return node.time_s >= until_s or (settled and done is not None and done(node))

        nodes, first_step = march(
            slopes,
            Node(y, time_s, temperature_K, *slopes(y, time_s, temperature_K)),
            Node._make,
            end=y_end,
            strain=strain,
            longest=longest,
            first_step=first_step,
            meet=_meeting(slopes, ramp, until_s),
            done=over,
        )
        course.pieces.append(Piece(slopes, nodes))
        y, time_s, temperature_K, *_ = nodes[-1]
        if y >= y_end or time_s >= time_end_s:
            break
    return course
