"""Cast sidewalls and tips: how much, in how many pours, in which colours, when; and what water and isocyanate do."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from math import ceil, floor, inf

from layup.chemistry.numerics import require_between, require_positive
from layup.errors import RangeError

# -- foam ------------------------------------------------------------------------------------------------------------


DRY_WOOD, DAMP_AIR = 0.10, 0.65
"""Wood moisture and humidity from which on a urethane is likely to foam (common practice, no source)."""

ISOCYANATE_CAUTIONS = (
    "The safety data sheet comes first.",
    "Isocyanates can make you allergic for life, by skin or breath: gloves, goggles, long sleeves, moving fresh air.",
    "Never heat, spray or sand it uncured without the breathing protection that its safety data sheet names.",
    "Once you are allergic, stop for good: the next breath may be an emergency.",
    "Keep water out of the cans: a closed wet can of isocyanate builds pressure.",
    "A thick pour heats itself: pour in steps, and never leave a full cup standing.",
)


def moisture_warnings(wood_moisture: float | None, relative_humidity: float | None) -> tuple[str, ...]:
    """Say what in the shop may foam a urethane.

    Wood above 10 % and air above 65 % are likely to foam a urethane (common practice, no source).

    >>> moisture_warnings(0.08, 0.5)
    ()

    Parameters
    ----------
    wood_moisture : Water in the wood over its dry mass, 0 to 1; None where it was not measured [-]
    relative_humidity : Relative humidity of the air, 0 to 1; None where it was not measured [-]
    """
    warnings = []
    if wood_moisture is None:
        warnings.append("Measure the wood: water in it foams a urethane. Dry it to 10 % or less, and seal the channel.")
    elif require_between("wood moisture", wood_moisture, 0.0, 1.0, todo="a share, 0.08 for 8 %") > DRY_WOOD:
        warnings.append(
            f"The wood holds {100 * wood_moisture:.0f} % water: dry it to 10 % or less, or seal the channel first."
        )
    if relative_humidity is not None:
        humidity = require_between("relative humidity", relative_humidity, 0.0, 1.0, todo="a share, 0.5 for 50 %")
        if humidity > DAMP_AIR:
            warnings.append(
                f"The air is damp ({100 * humidity:.0f} %): open cans and pigments briefly, and pour at once."
            )
    return tuple(warnings)


# -- casting ---------------------------------------------------------------------------------------------------------

MOST_POURS = 200
Due = Callable[[float], float]
"""By when a cup of a mass [g] must be empty, from first contact [s]: what `planning.clocks` says."""
Wait = Callable[[float], tuple[float, float]]
"""From when and until when the next pour may go on one of a mass [g], counted from its empty cup [s]."""


@dataclass(frozen=True, slots=True)
class PourPace:
    """How long one pour takes those who pour, whatever its mass, but for `pouring_s`, which is for the whole casting.

    Alone, the next pour is weighed once the last cup is scraped out; with a helper while it is stirred and poured.
    """

    weighing_s: float
    stirring_s: float
    pouring_s: float
    scraping_s: float = 0.0
    minutes_s: float = 0.0
    """What all pours together are given: their beginnings are never closer than their share of it."""
    alone: bool = True

    def __post_init__(self) -> None:
        require_between("weighing time", self.weighing_s, 0.0, float("inf"), unit="s", open_high=True)
        require_positive("mixing time", self.stirring_s, unit="s")
        require_positive("time to pour it all", self.pouring_s, unit="s")
        require_between("scraping time", self.scraping_s, 0.0, float("inf"), unit="s", open_high=True)
        require_between("minutes given", self.minutes_s, 0.0, float("inf"), unit="s", open_high=True)


@dataclass(frozen=True, slots=True)
class Pour:
    """One pour, in seconds from when its casting's first pour is weighed."""

    number: int
    mass_g: float
    weigh_s: float
    """When its weighing begins."""
    mix_s: float
    """First contact: its clock starts."""
    pour_s: float
    """When it begins to leave its cup."""
    poured_s: float
    """When it is out of the cup."""
    due_s: float
    """When it must be out of the cup."""
    opens_s: float
    """From when on it may be poured onto the one before it; its own weighing where it is the first."""
    closes_s: float
    """Until when; inf for the first."""

    @property
    def margin_s(self) -> float:
        """Return the time to spare before it is due [s]."""
        return self.due_s - self.poured_s

    @property
    def join_spare_s(self) -> float:
        """Return the time to spare before the one before it no longer takes it [s]; inf for the first."""
        return self.closes_s - self.pour_s


def trapezium_m2(top_m: float, bottom_m: float, depth_m: float) -> float:
    """Find the section of a channel with sloping walls.

    >>> round(trapezium_m2(0.010, 0.006, 0.012) * 1e6)
    96

    Parameters
    ----------
    top_m : Width at the top, above 0 [m]
    bottom_m : Width at the bottom, 0 or more [m]
    depth_m : Depth, above 0 [m]
    """
    require_positive("width at the top", top_m, unit="m")
    require_between("width at the bottom", bottom_m, 0.0, float("inf"), unit="m", open_high=True)
    require_positive("depth of the channel", depth_m, unit="m")
    return 0.5 * (top_m + bottom_m) * depth_m


def cast_mass_g(volume_m3: float, density_g_cm3: float, waste: float = 0.1) -> float:
    """Find how much to mix for a casting.

    >>> round(cast_mass_g(153.6e-6, 1.08), 1)
    182.5

    Parameters
    ----------
    volume_m3 : Volume to fill, above 0 [m^3]
    density_g_cm3 : Density of the mix, 0.3 to 5 [g/cm^3]
    waste : Share poured beyond it, 0 to 1 [-]
    """
    require_positive("volume of the casting", volume_m3, unit="m^3")
    require_between("density of the mix", density_g_cm3, 0.3, 5.0, unit="g/cm^3")
    require_between("waste", waste, 0.0, 1.0, todo="a share, 0.1 for 10 %")
    return volume_m3 * 1e6 * density_g_cm3 * (1.0 + waste)


def split_pours(
    mass_g: float,
    due: Due,
    pace: PourPace,
    *,
    at_least: int = 1,
    multiple: int = 1,
    wait: Wait = lambda _: (0.0, inf),
    smallest_g: float = 0.0,
) -> tuple[Pour, ...]:
    """Find the fewest equal pours of which each leaves its cup in time, and when each is weighed, mixed and poured.

    The pours in order; empty where none that can be weighed leaves its cup in time. A smaller pour lives longer and is
    out sooner, so the first number of pours that works is the fewest. A pour waits until the one before takes it; one
    that comes too late for that has less than nothing in `join_spare_s`.

    >>> pace = PourPace(60.0, 60.0, 600.0, 20.0)
    >>> [(round(pour.mass_g), pour.weigh_s, pour.poured_s) for pour in split_pours(600.0, lambda mass_g: 280.0, pace)]
    [(200, 0.0, 320.0), (200, 340.0, 660.0), (200, 680.0, 1000.0)]

    Parameters
    ----------
    mass_g : Mass of the whole casting, above 0 [g]
    at_least : Fewest pours wanted, for colours or depth, 1 to 200 [-]
    multiple : The number of pours is a multiple of this, as of colours that take an equal share each, 1 to 200 [-]
    smallest_g : Least mass that the scale can weigh on ratio, 0 or more [g]
    """
    require_positive("mass of the casting", mass_g, unit="g")
    require_between("number of pours", at_least, 1, MOST_POURS)
    require_between("colours", multiple, 1, MOST_POURS)
    require_between("smallest pour", smallest_g, 0.0, float("inf"), unit="g", open_high=True)
    for count in range(multiple * ceil(at_least / multiple), MOST_POURS + 1, multiple):
        each_g = mass_g / count
        if each_g < smallest_g:
            return ()
        allowed_s = due(each_g)
        if pace.stirring_s + pace.pouring_s / count <= allowed_s:
            return tuple(_in_order(count, each_g, allowed_s, pace, wait(each_g)))
    return ()


def _in_order(
    count: int, each_g: float, allowed_s: float, pace: PourPace, wait_s: tuple[float, float]
) -> Iterator[Pour]:
    """Yield equal pours, each weighed as soon as hands, minutes and the pour before it allow."""
    weigh_s, opens_s, closes_s = 0.0, 0.0, inf
    for number in range(1, count + 1):
        mix_s = weigh_s + pace.weighing_s
        pour_s = mix_s + pace.stirring_s
        poured_s = pour_s + pace.pouring_s / count
        yield Pour(number, each_g, weigh_s, mix_s, pour_s, poured_s, mix_s + allowed_s, opens_s, closes_s)
        opens_s, closes_s = poured_s + wait_s[0], poured_s + wait_s[1]
        free_s = poured_s + pace.scraping_s
        by_hands_s = free_s if pace.alone else max(weigh_s + pace.weighing_s, free_s - pace.weighing_s)
        weigh_s = max(by_hands_s, weigh_s + pace.minutes_s / count, opens_s - pace.stirring_s - pace.weighing_s)


def colour_weights(colours: int, begin: float, share: float, *, fade: bool) -> tuple[float, ...]:
    """Find the share of each colour in a pour [-]: from one to the next in even steps, or pure in equal runs.

    So a pour that is made anew after a loss has the colours of the stretch that it fills. The shares sum to 1.

    >>> [colour_weights(2, at / 3, 1 / 3, fade=True) for at in range(3)]
    [(1.0, 0.0), (0.5, 0.5), (0.0, 1.0)]

    Parameters
    ----------
    colours : How many, 1 or more [-]
    begin : How much of the casting is filled before, 0 to 1 [-]
    share : How much of it the pour fills, above 0 to 1 [-]
    fade : Whether each goes over into the next [-]
    """
    last = colours - 1
    if not fade or share >= 1.0:
        place = float(min(floor((begin + share / 2.0) * colours), last))
    else:
        place = min(begin / (1.0 - share), 1.0) * last
    return tuple(round(max(1.0 - abs(place - at), 0.0), 9) for at in range(colours))


def colour_steps(
    masses_g: Sequence[float], loading: float, limit: float, *, colours: int = 2, fade: bool = True
) -> tuple[tuple[float, ...], ...]:
    """Find the grams of each pigment in each pour [g], pure or fading from one to the next.

    Raises RangeError for fewer pours than colours, or a loading beyond the maker's limit. The loading stays the same,
    so that hardness and cure do. The pigment comes on top of the mix.

    >>> colour_steps([100.0, 100.0, 100.0], 0.03, 0.05)
    ((3.0, 0.0), (1.5, 1.5), (0.0, 3.0))

    Parameters
    ----------
    masses_g : Mix in each pour, in order, no fewer than colours, each above 0 [g]
    loading : Pigment paste in all over the mix it goes into, above 0 to the limit [-]
    limit : The maker's limit for that, above 0 to 0.5 [-]
    colours : How many pigments, 1 or more [-]
    fade : As of `colour_weights` [-]
    """
    for mass_g in masses_g:
        require_positive("mass of a pour", mass_g, unit="g")
    require_between("the maker's limit for pigment", limit, 0.0, 0.5, open_low=True, todo="a share, 0.05 for 5 %")
    require_between(
        "pigment loading",
        loading,
        0.0,
        limit,
        open_low=True,
        source="the pigment maker's limit",
        todo="more pigment spoils the cure; take a stronger paste",
    )
    pours = len(masses_g)
    if colours < 1 or pours < colours:
        raise RangeError("pours", "are fewer than colours", value=pours, allowed=f"{max(colours, 1)} or more")
    if not fade and pours % colours:
        raise RangeError("pours", "cannot be shared by the colours", value=pours, allowed=f"a multiple of {colours}")
    weights = (colour_weights(colours, number / pours, 1.0 / pours, fade=fade) for number in range(pours))
    return tuple(
        tuple(loading * mass_g * share for share in row) for mass_g, row in zip(masses_g, weights, strict=True)
    )
