"""The rate law of a setting resin: how fast conversion grows, and the time that takes at a fixed temperature."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log, sqrt

from layup.chemistry.numerics import first_at_or_above, integral, require_between, require_positive
from layup.errors import RangeError

GAS_CONSTANT_J_MOL_K = 8.314462618
REFERENCE_K = 298.15
"""The temperature that `k_ref_per_s` and equivalent ages refer to: 25 C."""

FULLY_CURED = 0.999
"""Conversion at which a course ends: the peak of a runaway sits near 0.99."""

MOST_STRETCHED = 60.0
"""As far as the stretched variable goes: all but one in 1e25 has reacted."""
GAUSS_PANEL = 0.4
"""Longest panel, in units of the stretched variable, that the five-point rule integrates to 1e-10."""


EPOXY_J_g_K = 1.9
"""Specific heat of resin, hardener and their mix (liquid epoxies 1.7 to 2.1, from memory; a cured casting has 1.4 by EN
ISO 10456); its spread of 8 % is in every band."""


@dataclass(frozen=True, slots=True)
class Kinetics:
    """One resin system's rate law, heat and limits; all but `k_ref_per_s` have the model's defaults.

    The law is da/dt = k(T) (a0 + a^m) (1 - a)^n with k(T) = k_ref exp(-(Ea/R)(1/T - 1/298.15)).
    """

    k_ref_per_s: float
    activation_energy_J_mol: float = 56000.0
    heat_J_g: float = 430.0
    specific_heat_J_g_K: float = EPOXY_J_g_K
    film_coefficient_W_m2_K: float = 11.0
    """Heat passed to still air, by convection and radiation, from a wall 20 K above it."""
    film_growth_per_K: float = 0.0057
    """Share by which that grows with each further degree of the wall; 0 for a loss that does not."""
    conductivity_W_m_K: float = 0.2
    density_g_cm3: float = 1.10
    bottom_loss: float = 0.5
    """Share of the bottom's area that loses heat as freely as the sides: it stands on a bench."""
    depth_share: float = 0.5
    """Share of volume over area that heat crosses inside the mix before it reaches the wall."""
    a0: float = 0.05
    """What the reaction starts with before its own product speeds it up."""
    m: float = 1.0
    n: float = 2.0
    conversion_working: float = 0.35
    """Thickening: the mix stops wetting out."""
    conversion_gel: float = 1.0 / sqrt(3.0)
    conversion_open: float = 0.52
    """A film's own limit; makers' working times of films imply 0.49 to 0.63. It counts up to the gel."""

    def __post_init__(self) -> None:
        require_positive("rate constant", self.k_ref_per_s, unit="1/s")
        require_between("activation energy", self.activation_energy_J_mol, 0.0, 300_000.0, unit="J/mol")
        require_between("heat of reaction", self.heat_J_g, 0.0, 2000.0, unit="J/g")
        require_positive("specific heat", self.specific_heat_J_g_K, unit="J/(g K)")
        require_positive("film coefficient", self.film_coefficient_W_m2_K, unit="W/(m2 K)")
        require_between("film coefficient's growth", self.film_growth_per_K, 0.0, 0.04, unit="1/K")
        require_positive("conductivity", self.conductivity_W_m_K, unit="W/(m K)")
        require_positive("density", self.density_g_cm3, unit="g/cm3")
        require_between("bottom loss", self.bottom_loss, 0.0, 1.0)
        require_between("depth share", self.depth_share, 0.0, 1.0)
        require_between("a0", self.a0, 0.0, 1.0, open_low=True)
        require_between("m", self.m, 0.0, 4.0)
        require_between("n", self.n, 0.0, 4.0, open_low=True)
        require_between("working conversion", self.conversion_working, 0.0, FULLY_CURED, open_low=True, open_high=True)
        require_between("gel conversion", self.conversion_gel, 0.0, FULLY_CURED, open_low=True, open_high=True)
        if self.conversion_gel < self.conversion_working:
            raise RangeError(
                "gel conversion",
                "comes before the working limit",
                value=f"{self.conversion_gel:g}",
                allowed=f"must be at least {self.conversion_working:g}, the conversion at thickening",
            )
        require_between("open conversion", self.conversion_open, 0.0, FULLY_CURED, open_low=True, open_high=True)

    @property
    def is_default_order(self) -> bool:
        """Say whether the law is the default m = 1, n = 2, which has a closed form."""
        return self.m == 1.0 and self.n == 2.0

    @property
    def conversion_film(self) -> float:
        """Return the conversion at which a film stops being open [-]: its own limit, for no gel wets or bonds."""
        return min(self.conversion_open, self.conversion_gel)

    @property
    def adiabatic_rise_K(self) -> float:
        """Return how much the mix would warm if no heat escaped, dH/cp [K]."""
        return self.heat_J_g / self.specific_heat_J_g_K

    def rate_constant_per_s(self, temperature_K: float) -> float:
        """Return k(T) = k_ref exp(-(Ea/R)(1/T - 1/T_ref)) [1/s], T_ref = 298.15 K.

        >>> round(Kinetics(4.8e-4).rate_constant_per_s(308.15) / 4.8e-4, 3)
        2.082
        """
        return self.k_ref_per_s * speed_up(temperature_K, self.activation_energy_J_mol)

    def shape(self, conversion: float) -> float:
        """Return f(a) = (a0 + a^m)(1 - a)^n [-], the rate at conversion `conversion` over k(T)."""
        return float((self.a0 + conversion**self.m) * (1.0 - conversion) ** self.n)

    def rate_per_s(self, conversion: float, temperature_K: float) -> float:
        """Return da/dt [1/s] at `conversion` [-] and `temperature_K` [K]."""
        return self.rate_constant_per_s(temperature_K) * self.shape(conversion)

    def fastest_conversion(self) -> float:
        """Return the conversion at which f(a) is greatest [-]."""
        if self.m == 1.0:
            return max(0.0, (1.0 - self.n * self.a0) / (1.0 + self.n))
        low, high = 0.0, 1.0
        for _ in range(60):  # golden-section search; f has one maximum
            left, right = high - (high - low) * 0.6180339887498949, low + (high - low) * 0.6180339887498949
            low, high = (low, right) if self.shape(left) >= self.shape(right) else (left, high)
        return 0.5 * (low + high)


def speed_up(temperature_K: float, activation_energy_J_mol: float, *, reference_K: float = REFERENCE_K) -> float:
    """Return how many times faster the reaction runs at a temperature than at the reference.

    exp(-(Ea/R)(1/T - 1/T_ref)). Source: ASTM C1074, the Arrhenius form of the age conversion factor.

    >>> round(speed_up(303.15, 55000.0, reference_K=293.15), 4)
    2.1051
    """
    return exp(activation_energy_J_mol / GAS_CONSTANT_J_MOL_K * (1.0 / reference_K - 1.0 / temperature_K))


def stretch(conversion: float, a0: float) -> float:
    """Return the integration variable, in which every course is smooth."""
    return log((a0 + conversion) / (a0 * (1.0 - conversion)))


def unstretch(y: float, a0: float) -> float:
    """Return the conversion at a value of the integration variable, the inverse of `stretch`."""
    growth = exp(y)
    return a0 * (growth - 1.0) / (1.0 + a0 * growth)


def reduced_time(kinetics: Kinetics, conversion: float) -> float:
    """Return G(a), the integral of da/f(a) from 0: the time to a conversion at one temperature, in units of 1/k(T) [-].

    For m = 1, n = 2: G(a) = a/((1-a)(1+a0)) + ln((a0+a)/(a0(1-a)))/(1+a0)^2; otherwise by Gauss-Legendre
    quadrature in the stretched variable.

    >>> round(reduced_time(Kinetics(1.0), 0.35), 6)
    2.789668

    Parameters
    ----------
    conversion : Conversion reached, 0 to below 1 [-]
    """
    require_between("conversion", conversion, 0.0, 1.0, open_high=True)
    return _reduced_between(kinetics, 0.0, stretch(conversion, kinetics.a0))


def conversion_after(kinetics: Kinetics, reduced: float, *, conversion_start: float = 0.0) -> float:
    """Return the conversion reached after a reduced time [-], the inverse of `reduced_time`.

    >>> round(conversion_after(Kinetics(1.0), 2.789668), 6)
    0.35

    Parameters
    ----------
    reduced : Time in units of 1/k(T), 0 or more [-]
    conversion_start : Conversion it starts from, 0 to below 1 [-]
    """
    require_between("reduced time", reduced, 0.0, float("inf"))
    require_between("conversion", conversion_start, 0.0, 1.0, open_high=True)
    start = stretch(conversion_start, kinetics.a0)

    def ahead(y: float) -> float:
        return _reduced_between(kinetics, start, y) - reduced

    high = start + 1.0
    while ahead(high) < 0.0 and high < MOST_STRETCHED:
        high += 1.0
    return unstretch(first_at_or_above(ahead, max(start, high - 1.0), high, 1e-13), kinetics.a0)


def reduced_slope(kinetics: Kinetics, y: float) -> float:
    """Return dG/dy = (da/dy)/f(a)."""
    a0, growth = kinetics.a0, exp(y)
    below = 1.0 + a0 * growth
    per_y = a0 * (1.0 + a0) * growth / (below * below)
    return per_y / kinetics.shape(a0 * (growth - 1.0) / below)


def _reduced_between(kinetics: Kinetics, start: float, end: float) -> float:
    """Return G between two values of the stretched variable."""
    if kinetics.is_default_order:
        a0 = kinetics.a0
        return (end - start + a0 * (exp(end) - exp(start))) / (1.0 + a0) ** 2
    return integral(lambda y: reduced_slope(kinetics, y), start, end, max(1, int((end - start) / GAUSS_PANEL) + 1))


def gel_conversion(f: float, g: float, r: float = 1.0) -> float:
    """Find the conversion at which a step-growth mix turns from a liquid into a network.

    Of the scarcer groups, at most 1 [-]. Raises RangeError for a value outside its range, or a mix so far off ratio, or
    so little branched, that it never gels.

    a_gel = 1/sqrt(r (f-1)(g-1)), with all groups of a kind equally reactive and no rings. Real mixes gel later, at
    0.55 to 0.65 for a diepoxide and a diamine. Source: P. J. Flory, Principles of Polymer Chemistry, 1953, chapter 9.

    >>> round(gel_conversion(2, 4), 5)
    0.57735
    >>> round(gel_conversion(2, 5), 5)
    0.5

    Parameters
    ----------
    f : Reactive groups a molecule of one kind carries, 2 to 100 (2 for a diepoxide; a mean for a blend) [-]
    g : Reactive groups a molecule of the other kind carries, 2 to 100 (4 for a diamine's hydrogens) [-]
    r : Groups of the scarcer kind over those of the other, above 0 to 1 [-]
    """
    for where, groups in (("groups a molecule (f)", f), ("groups a molecule (g)", g)):
        require_between(where, groups, 2, 100)
    require_between("ratio of groups (r)", r, 0.0, 1.0, open_low=True, todo="scarcer groups over the others")
    branching = r * (f - 1) * (g - 1)
    if branching < 1.0:
        raise RangeError(
            "ratio of groups (r)",
            f"is too far off for groups of {f} and {g}: the mix never gels",
            value=f"{r:g}",
            allowed=f"needs r (f-1)(g-1) of 1 or more, here {branching:.3g}",
            todo="check the mix ratio",
        )
    return 1.0 / sqrt(branching)
