"""Many cures at one mould temperature at once: how long a resin takes to a conversion is then one integral.

dt = dy / (k(T) f(a) m(Tg(a) - T)) da/dy over y = ln((a0 + a)/(a0 (1 - a))), by the five-point Gauss-Legendre rule.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import ceil, inf, log
from typing import TYPE_CHECKING

from layup.chemistry.cure_course import Setting, cure_slopes
from layup.chemistry.film import GEL_MARGIN
from layup.chemistry.glass import WLF_SLOPE, WLF_SPAN_K, Glass
from layup.chemistry.kinetics import FULLY_CURED, stretch, unstretch
from layup.chemistry.numerics import GAUSS, cubic, integral, require_between
from layup.chemistry.temperature import Ramp

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

PANEL = 0.06
"""Between two nodes of y, so that a cubic between them is good to five digits of conversion."""

Law = tuple[Glass, float, float, float]
"""What shapes a course at one temperature, whatever the rate constant: the glass, a0, m and n."""
Nodes = tuple[list[float], list[float], float, list[float], list[float]]
"""The last five fields of a `SteadyCourse`."""


@dataclass(frozen=True, slots=True)
class SteadyCourse:
    """One resin at one mould temperature."""

    setting: Setting
    ramp: Ramp
    until_s: float
    per_s: float
    """k at the mould's temperature."""
    y: Sequence[float]
    reduced: Sequence[float]
    """The time to each y, in units of 1/k."""
    ahead: float
    """So much later y bends little against the logarithm of that time, also where a glass all but stops it."""
    late: Sequence[float]
    """That logarithm."""
    slope: Sequence[float]
    """Of y against it."""

    def conversion_at(self, time_s: float) -> float:
        """Return the conversion at a time [s] from the course's start on; after its end the last one."""
        a0, late = self.setting.kinetics.a0, self.late
        at = log(max(min(time_s, self.until_s) - self.ramp.start_s, 0.0) * self.per_s + self.ahead)
        i = bisect_right(late, at)
        if i >= len(late):
            return unstretch(self.y[-1], a0)
        h = late[i] - late[i - 1]
        y = cubic((at - late[i - 1]) / h, h, self.y[i - 1], self.y[i], self.slope[i - 1], self.slope[i])
        return unstretch(y, a0)

    def glass_s(self, lead_K: float) -> float:
        """Return when the glass transition is first `lead_K` above the mould [s]; inf where it never is."""
        glass, need_K = self.setting.glass, self.ramp.base_K + lead_K
        if need_K >= glass.cured_K:
            return inf
        return self._reached_s(glass.conversion_at(max(need_K, glass.uncured_K)))

    def gel_s(self) -> float:
        """Return when the resin is past its gel by `GEL_MARGIN` [s]; inf where it never is."""
        return self._reached_s(self.setting.kinetics.conversion_gel + GEL_MARGIN)

    def stated_s(self) -> float:
        """Return when the maker's demould time is up [s]: the start where none is stated, inf where it never is."""
        clock = self.setting.clock
        return self._within(1.0 / clock.rate_per_s(self.ramp.base_K) if clock.points else 0.0)

    def ready_s(self, lead_K: float) -> float:
        """Return when all hold at once [s]; inf where they never do: none that holds ceases to."""
        return max(self.stated_s(), self.glass_s(lead_K), self.gel_s())

    def _within(self, waited_s: float) -> float:
        return self.ramp.start_s + waited_s if self.ramp.start_s + waited_s <= self.until_s else inf

    def _reached_s(self, conversion: float) -> float:
        """Return when a conversion is reached [s]; inf where it never is."""
        law = self.setting.kinetics
        end = stretch(conversion, law.a0) if conversion < FULLY_CURED else inf
        if end >= self.y[-1]:
            return inf
        if end <= self.y[0]:
            return self.ramp.start_s
        i = bisect_right(self.y, end) - 1
        slopes = cure_slopes(self.setting, self.ramp)
        rest_s = integral(lambda y: 1.0 / slopes(0.0, y, 0.0)[0], self.y[i], end, 1)
        return self._within(self.reduced[i] / self.per_s + rest_s)


def steady_courses(
    settings: Sequence[Setting], ramp: Ramp, *, from_s: float, until_s: float, conversion_start: float
) -> list[SteadyCourse]:
    """Follow many resins at one mould temperature: those that only react faster or slower share their nodes."""
    require_between("end of the course", until_s, from_s, inf, unit="s", open_low=True, open_high=True)
    require_between("conversion at the start", conversion_start, 0.0, FULLY_CURED, open_high=True)
    shapes = [(one.glass, one.kinetics.a0, one.kinetics.m, one.kinetics.n) for one in settings]
    laws = list(dict.fromkeys(shapes))
    nodes = dict(zip(laws, _nodes(tuple(laws), ramp.base_K, conversion_start), strict=True))
    begun = ramp._replace(start_s=from_s)
    return [
        SteadyCourse(one, begun, until_s, one.kinetics.rate_constant_per_s(ramp.base_K), *nodes[law])
        for one, law in zip(settings, shapes, strict=True)
    ]


@lru_cache(maxsize=16)
def _nodes(laws: tuple[Law, ...], mould_K: float, conversion_start: float) -> list[Nodes]:
    """Return the nodes of each law: of all resins that only react faster or slower."""
    import numpy as np

    start, end = (np.array([[stretch(a, a0)] for _, a0, _, _ in laws]) for a in (conversion_start, FULLY_CURED))
    panels = ceil(float(np.max(end - start)) / PANEL)
    y = start + (end - start) * np.arange(panels + 1) / panels
    half = 0.5 * (end - start) / panels
    middle = y[:, :-1] + half
    spent = sum(weight / _slope(laws, middle + half * x, mould_K) for x, weight in GAUSS) * half
    reduced = np.concatenate([np.zeros_like(start), np.cumsum(spent, axis=1)], axis=1)
    slope = _slope(laws, y, mould_K)
    ahead = 1.0 / slope[:, :1]
    later = reduced + ahead
    found = y, reduced, ahead[:, 0], np.log(later), slope * later
    return list(zip(*(each.tolist() for each in found), strict=True))


def _slope(laws: Sequence[Law], y: Array, mould_K: float) -> Array:
    """Return dy/dt over k of each law (rows), as `cure_slopes` does for one."""
    import numpy as np

    a0, m, n = (np.array([[law[i]] for law in laws]) for i in (1, 2, 3))
    cured_K, uncured_K, shape, lead_at_half_K = (
        np.array([[getattr(law[0], name)] for law in laws])
        for name in ("cured_K", "uncured_K", "shape", "half_rate_lead_K")
    )
    growth = np.exp(y)
    below = 1.0 + a0 * growth
    conversion = a0 * (growth - 1.0) / below
    per_k = (1.0 + a0) ** 2 / below
    if (m != 1.0).any() or (n != 2.0).any():
        per_k = per_k * ((1.0 + a0) / below) ** (n - 2.0) * (a0 + conversion**m) / (a0 + conversion)
    lead_K = uncured_K + (cured_K - uncured_K) * shape * conversion / (1.0 - (1.0 - shape) * conversion) - mould_K
    share = lead_K / (WLF_SPAN_K + np.abs(lead_K)) - lead_at_half_K / (WLF_SPAN_K + lead_at_half_K)
    slope: Array = per_k / (1.0 + np.exp(WLF_SLOPE * share))
    return slope
