"""The plan: a part's outline, its steps in bench order, and the shop: plain data, checked when it is made."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, hypot, inf, sqrt
from typing import Literal

from layup.chemistry.caul import BOARD_WARM_K, CAULS, FOAM_WARM_K, BOARDS_m
from layup.chemistry.climate import DRY_WOOD
from layup.chemistry.mixing import smallest_batch_g
from layup.chemistry.numerics import require_between, require_positive, require_stated
from layup.chemistry.temperature import History
from layup.errors import InputError, RangeError
from layup.planning.channel import Channel
from layup.planning.outline import Outline
from layup.units import areal_weight, length

GUESS_PACE, RUN_PACE = 0.20, 0.12
"""How far guessed minutes are from a crew's own, and one run of a plan from its next, as logarithms (common practice,
no source)."""
BATCH_PACE = 0.10
"""How far the pace of each stretch of a day is from that of the day (common practice, no source)."""


def day_pace(passes: int, run_pace: float = RUN_PACE) -> float:
    """Return how far the next run of a plan is from its minutes.

    The standard deviation of the logarithm of the time [-]: each pass makes the mean surer, none one run like the next.

    Parameters
    ----------
    passes : Runs whose mean its minutes are, 0 where they are guessed [-]
    run_pace : How far one run is from the next, as a logarithm [-]
    """
    return hypot(run_pace, run_pace / sqrt(passes) if passes else GUESS_PACE)


DAY_PACE = day_pace(0)
GUESSES, PRESS_DAYS = "guesses", "press days"
"""Where minutes are from that nobody timed, and that earlier days taught."""
FOAMS_g_cm3 = (0.01, 0.8)
"""The lightest and the densest foam of a mould."""
LOADING_LIMIT = 0.05
"""The most pigment paste over mix where its maker says nothing (common practice, no source)."""
ONE_VOLUME = 'write volume = "60 ml", or channel = { width = "8 mm", depth = "12 mm" }'


def _require_bench_time(where: str, bench_s: float) -> None:
    require_between(f"{where}: bench time", bench_s, 0.0, 86400.0, unit="s", todo="for all pieces, one pair of hands")


def _require_count(where: str, count: int) -> None:
    if count < 1:
        raise RangeError(where, "is too few", value=count, allowed="1 or more")


@dataclass(frozen=True, slots=True)
class FabricStep:
    """Lay and wet out `layers` plies of one fabric on every piece.

    `bench_s` is the time for all pieces and layers with one pair of hands. `width_m` None means the cloth follows
    the outline with the overhang; a number means a strip of that width, cut over the part's whole length.
    `fibre_mass_fraction` is the target of this step, 0..1.
    """

    name: str
    bench_s: float
    areal_weight_g_m2: float
    fibre: str
    fibre_density_g_cm3: float
    fibre_mass_fraction: float
    layers: int = 1
    width_m: float | None = None
    overhang_m: float | None = None
    """Cloth beyond the outline on every side; None takes the outline's own."""
    price_per_m2: float | None = None
    kind: Literal["fabric"] = "fabric"

    def __post_init__(self) -> None:
        where = f"step {self.name!r}"
        _require_bench_time(where, self.bench_s)
        require_positive(f"{where}: areal weight", self.areal_weight_g_m2, unit="g/m^2")
        require_positive(f"{where}: fibre density", self.fibre_density_g_cm3, unit="g/cm^3")
        require_between(
            f"{where}: fibre fraction by mass", self.fibre_mass_fraction, 0.0, 1.0, open_low=True, open_high=True
        )
        _require_count(f"{where}: layers", self.layers)
        require_stated(f"{where}: width", self.width_m, unit="m", open_low=True)
        require_stated(f"{where}: overhang", self.overhang_m, 0.0, 1.0, unit="m")


@dataclass(frozen=True, slots=True)
class BondStep:
    """Wet a face that drinks resin: `uptake_g_m2` over `coverage` (0..1) of the outline, on every piece."""

    name: str
    bench_s: float
    surface: str
    uptake_g_m2: float
    coverage: float = 1.0
    area_m2: float | None = None
    """The area of one piece, where it is not a share of the outline."""
    uptake_low_g_m2: float | None = None
    uptake_high_g_m2: float | None = None
    presealed_uptake_g_m2: float | None = None
    """What the same face drinks once sealed the day before; None where sealing is no use."""
    kind: Literal["bond"] = "bond"

    def __post_init__(self) -> None:
        where = f"step {self.name!r}"
        _require_bench_time(where, self.bench_s)
        require_positive(f"{where}: uptake", self.uptake_g_m2, unit="g/m^2")
        require_between(f"{where}: coverage", self.coverage, 0.0, 1.0, open_low=True, todo="a share, 0.4 for 40 %")
        require_stated(f"{where}: area", self.area_m2, unit="m^2", open_low=True)
        low = self.uptake_g_m2 if self.uptake_low_g_m2 is None else self.uptake_low_g_m2
        high = self.uptake_g_m2 if self.uptake_high_g_m2 is None else self.uptake_high_g_m2
        if not 0.0 <= low <= self.uptake_g_m2 <= high:
            stated = areal_weight(self.uptake_g_m2, "g")
            spread = f"between {areal_weight.digits(low, 'g')} and {areal_weight(high, 'g')}"
            raise RangeError(f"{where}: uptake", "is outside its own spread", value=stated, allowed=spread)
        require_stated(f"{where}: uptake once sealed", self.presealed_uptake_g_m2, 0.0, self.uptake_g_m2, unit="g/m^2")


@dataclass(frozen=True, slots=True)
class PlaceStep:
    """Something that takes bench time and no resin; of a core how thick it is, None where that is not stated."""

    name: str
    bench_s: float
    thickness_m: float | None = None
    kind: Literal["place"] = "place"

    def __post_init__(self) -> None:
        _require_bench_time(f"step {self.name!r}", self.bench_s)


@dataclass(frozen=True, slots=True)
class CastStep:
    """Pours of their own resin (sidewalls, tips), done before press day or in it.

    What is cast on every piece is `volume_m3`, or what a `channel` along the outline holds.
    """

    name: str
    bench_s: float
    resin_id: str
    volume_m3: float | None = None
    pours: int = 1
    before_press_day: bool = True
    """True: cast and cured beforehand, on its own clock; its grams are bought but it takes no bench time today."""
    pigments: tuple[str, ...] = ()
    """One for each colour, in the order in which they are poured."""
    fade: bool = False
    """Whether the colour goes from one pigment to the next in even steps; else each takes an equal share, pure."""
    loading: float | None = None
    """Pigment over the mix it goes into, 0..1; None where it is not weighed."""
    loading_limit: float | None = None
    """The most that its maker allows; None takes a usual one."""
    channel: Channel | None = None
    overfill: float = 0.0
    """Poured beyond the volume, to be planed off: a share of it."""
    loss_g: float | None = None
    """Left in the cup of each pour; None takes the plan's loss per batch."""
    join: Literal["soft", "firm"] = "soft"
    """When the next pour follows: on one still soft enough to join, or on one firm enough to stand."""
    join_s: tuple[float, float] | None = None
    """From when and until when after a pour the next may follow; None takes what the model says."""
    kind: Literal["cast"] = "cast"

    def __post_init__(self) -> None:
        where = f"step {self.name!r}"
        _require_bench_time(where, self.bench_s)
        if (self.volume_m3 is None) == (self.channel is None):
            raise InputError(where, "has no volume" if self.channel is None else "has two volumes", todo=ONE_VOLUME)
        require_stated(f"{where}: volume", self.volume_m3, unit="m^3", open_low=True)
        _require_count(f"{where}: pours", self.pours)
        require_between(f"{where}: overfill", self.overfill, 0.0, 1.0, todo="a share, 0.1 for 10 %")
        require_stated(f"{where}: loss", self.loss_g, 0.0, 1000.0, unit="g")
        if self.join_s is not None and not 0.0 <= self.join_s[0] < self.join_s[1]:
            raise RangeError(
                f"{where}: join", "ends before it begins", todo="earliest and latest count from the last pour"
            )
        require_between(f"{where}: pigment limit", self.most_loading, 0.0, 0.5, open_low=True, todo="0.05 for 5 %")
        todo = "more spoils the cure: take a stronger paste, or state what its maker allows"
        require_stated(f"{where}: pigment loading", self.loading, 0.0, self.most_loading, open_low=True, todo=todo)
        if self.loading is not None and not self.pigments:
            raise RangeError(f"{where}: pigment loading", "is given without a pigment", todo="name the pigment")
        if len(self.pigments) > 1 and self.loading is None:
            raise RangeError(f"{where}: second pigment", "needs a loading", todo="such as loading = 0.02")

    @property
    def most_loading(self) -> float:
        """Return the most pigment over mix that is taken: its maker's limit, or a usual one [-]."""
        return LOADING_LIMIT if self.loading_limit is None else self.loading_limit

    @property
    def stated_pours(self) -> int:
        """Return the fewest pours that its file asks for: at least one a colour, and as many of each."""
        colours = max(len(self.pigments), 1)
        return max(self.pours, colours) if self.fade else colours * ceil(self.pours / colours)


@dataclass(frozen=True, slots=True)
class CastingWork:
    """How a core is made ready for its castings; what is not stated is common practice, no source."""

    core_K: float | None = None
    """How warm it is to be; None: as the shop."""
    core_moisture: float = DRY_WOOD
    """Water over dry mass that it may hold, 0..1."""
    warm_s: float = 900.0
    """What each of the three takes one pair of hands: to warm and dry it, to seal its channel, to tape and level it."""
    seal_s: float = 600.0
    tape_s: float = 900.0
    seal_wait_s: float | None = None
    """How long the sealer dries; None: as its maker says, which nobody counts."""
    another_day: tuple[str, ...] = ()
    """The castings of other resins, each with its resin: one casting resin a day."""

    def __post_init__(self) -> None:
        require_stated("core temperature", self.core_K, 263.15, 333.15, unit="K")
        require_between("core moisture", self.core_moisture, 0.0, 0.3, open_low=True, todo="a share, 0.1 for 10 %")
        for where, time_s in (("warming", self.warm_s), ("sealing", self.seal_s), ("taping", self.tape_s)):
            _require_bench_time(where, time_s)
        _require_bench_time("wait for the sealer", self.seal_wait_s or 0.0)


Step = FabricStep | BondStep | PlaceStep | CastStep


@dataclass(frozen=True, slots=True)
class FibreTarget:
    """The fibre fraction aimed at, by weight or by volume, 0..1."""

    by: Literal["weight", "volume"]
    value: float


@dataclass(frozen=True, slots=True)
class Losses:
    """What does not stay on the part: grams left in each batch's cup, brush and roller, and the share squeezed out."""

    per_batch_g: float = 20.0
    squeeze_out: float | None = None
    """Share (0..1) of the resin laid that the press drives out; poured in addition to what stays. None: not given."""

    def __post_init__(self) -> None:
        require_between("loss per batch", self.per_batch_g, 0.0, 1000.0, unit="g", todo="20-50 g is usual")
        require_between("squeeze-out", self.squeezed, 0.0, 0.6, todo="a share, 0.15 for 15 %; 0.1-0.3 is usual")

    @property
    def squeezed(self) -> float:
        """Return the share that is poured for the press to drive out: none where it is not given [-]."""
        return self.squeeze_out or 0.0


@dataclass(frozen=True, slots=True)
class Board:
    """A caul or what the part lies on: the material, a name of `CAULS`, and the thickness."""

    material: str
    thickness_m: float

    def __post_init__(self) -> None:
        if self.material not in CAULS:
            known = ", ".join(CAULS)
            raise InputError("material", "is not in the table", value=self.material, allowed=f"known are {known}")
        require_between("thickness", self.thickness_m, *BOARDS_m, unit="m")

    def __str__(self) -> str:
        return f"of {length(self.thickness_m, '.4g')} {self.material}"


@dataclass(frozen=True, slots=True)
class Foam:
    """The foam of a mould, under what the part lies on."""

    thickness_m: float
    density_g_cm3: float
    strength_Pa: float | None = None
    """Compressive strength at 10 % strain; None takes one by its density."""
    hottest_K: float | None = None
    """The warmest that its maker lets it get under load; None takes 40 degC."""

    def __post_init__(self) -> None:
        require_between("thickness of the foam", self.thickness_m, *BOARDS_m, unit="m")
        require_between("density of the foam", self.density_g_cm3, *FOAMS_g_cm3, unit="g/cm^3")
        require_stated("strength of the foam", self.strength_Pa, 1e3, 1e8, unit="Pa")
        require_stated("warmest of the foam", self.hottest_K, 273.15, 473.15, unit="K")


@dataclass(frozen=True, slots=True)
class Closing:
    """How the press is closed and how long that takes with one pair of hands."""

    method: Literal["clamps", "bolts", "bladder", "bag"] = "clamps"
    bench_s: float = 600.0
    target_pressure_Pa: float | None = None
    area_m2: float | None = None
    clamps: int | None = None
    clamp_rating_N: float | None = None
    """The most that one clamp or bolt may give."""
    caul: Board | None = None
    """What spreads the force of a row of clamps or bolts."""
    backing: Board | None = None
    """What the part lies on; None where it is not given."""
    foam: Foam | None = None
    """What the mould is made of under the backing; None for none."""
    curved_ends_m: float = 0.0
    """How much of each end is curved: a straight caul cannot press there, a block and a clamp of their own do."""

    @property
    def hottest_K(self) -> float:
        """Return the warmest that the mould bears under load, by what it is made of [K]."""
        if self.foam is not None:
            return FOAM_WARM_K if self.foam.hottest_K is None else self.foam.hottest_K
        metal = self.backing is not None and self.backing.material in ("aluminium", "steel")
        return inf if metal else BOARD_WARM_K

    def __post_init__(self) -> None:
        _require_bench_time("closing", self.bench_s)
        require_between("curved ends", self.curved_ends_m, 0.0, 1.0, unit="m")
        require_stated("clamp rating", self.clamp_rating_N, unit="N", open_low=True)


@dataclass(frozen=True, slots=True)
class Scale:
    """The kitchen scale."""

    readability_g: float = 1.0
    capacity_g: float = 5000.0
    tare_each: bool = False
    """Tared again before the hardener, which then loses half as much to the last digit."""

    def __post_init__(self) -> None:
        require_positive("scale readability", self.readability_g, unit="g")
        require_between("scale capacity", self.capacity_g, self.readability_g, 1e6, unit="g", open_low=True)

    def smallest_batch_g(self, parts: Sequence[float]) -> float:
        """Return the least that it weighs within 2 % of a ratio of `parts` by mass [g]."""
        return smallest_batch_g(parts, self.readability_g, one_tare=not self.tare_each)


@dataclass(frozen=True, slots=True)
class Crew:
    """How the people share the work.

    Mixing one batch (weighing and stirring) takes `mixing_s`; its last `stirring_s`, half of it unless given, run on
    the batch's clock, for that starts at first contact. Alone, mixing stops the laying; with two or more, one of them
    mixes the next batch while the others lay. Each pair of hands beyond the first adds `second_pair` (0..1) of a pair
    to the laying.
    """

    people: int = 2
    mixing_s: float = 240.0
    second_pair: float = 0.5
    stirring_s: float | None = None
    day_pace: float = DAY_PACE
    batch_pace: float = BATCH_PACE
    minutes_from: str = GUESSES
    """Where the step minutes are from, in words."""

    def __post_init__(self) -> None:
        _require_count("people", self.people)
        require_positive("mixing time", self.mixing_s, unit="s")
        require_between("second pair of hands", self.second_pair, 0.0, 1.0, todo="0.5 for half as quick again")
        require_stated("stirring time", self.stirring_s, 0.0, self.mixing_s, unit="s")


@dataclass(frozen=True, slots=True)
class Task:
    """One thing to do or to wait for on the days before, as gluing up a core, and the names of what it waits for."""

    name: str
    takes_s: float
    after: tuple[str, ...] = ()
    hands: bool = True
    """Whether it takes people, who work in the shop's hours; else it goes on by itself, at night too."""


@dataclass(frozen=True, slots=True)
class Plan:
    """Everything a plan file states, in the core's units."""

    title: str
    resin_id: str
    pieces: int
    """Laid up together: areas and volumes are of one of them, every bench time is for all of them."""
    crew: Crew
    target: FibreTarget
    outline: Outline
    steps: tuple[Step, ...]
    losses: Losses = Losses()
    closing: Closing = Closing()
    scale: Scale = Scale()
    largest_cup_g: float | None = None
    """The most mix one cup may hold; None for no limit but the chemistry."""
    casting: CastingWork = CastingWork()
    before: tuple[Task, ...] = ()
    """The days before, beyond castings and warming up."""
    forecast: History = ()
    """The shop's day: (seconds from midnight, temperature_K); empty where it is not known."""
    wanted: str = ""
    """When it has to be out of the mould, by the clock of the shop (ISO 8601); empty where the plan does not say."""

    def __post_init__(self) -> None:
        _require_count("pieces", self.pieces)
        if not self.steps:
            raise RangeError(f"plan {self.title!r}", "has no steps", todo="list them in bench order")
        require_stated("largest cup", self.largest_cup_g, unit="g", open_low=True)

    @property
    def lays(self) -> bool:
        """Return whether it lays any of the laminating resin; a plan that does not is a casting plan."""
        return any(isinstance(step, FabricStep | BondStep) for step in self.steps)

    def pours_today(self, number: int) -> bool:
        """Return whether a casting step is poured in the day that is planned: in press day, or in a casting plan."""
        step = self.steps[number]
        return isinstance(step, CastStep) and not (self.lays and step.before_press_day)


@dataclass(frozen=True, slots=True)
class Shop:
    """The shop on press day. None takes its own temperature for the cans, and for the part: mould, core and cloth."""

    temperature_K: float
    relative_humidity: float | None = None
    resin_K: float | None = None
    """The cans when weighed: cooler from a cold corner, warmer from a water bath."""
    part_K: float | None = None

    def __post_init__(self) -> None:
        for where, value in (("shop", self.temperature_K), ("resin", self.resin_K), ("part", self.part_K)):
            require_stated(f"{where} temperature", value, 263.15, 333.15, unit="K")
        require_stated("relative humidity", self.relative_humidity, 0.01, 1.0, todo="0.6 for 60 %")

    @property
    def cans_K(self) -> float:
        """Return what the cans have, and the mix at first contact [K]."""
        return self.temperature_K if self.resin_K is None else self.resin_K

    @property
    def surface_K(self) -> float:
        """Return what mould, core and cloth have [K]."""
        return self.temperature_K if self.part_K is None else self.part_K
