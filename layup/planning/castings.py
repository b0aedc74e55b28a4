"""The castings of a plan: grams and pigment of each pour, when it is poured, and from when on it can be planed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, isfinite

from layup.chemistry.calibration import Calibration, calibrate
from layup.chemistry.casting import (
    ISOCYANATE_CAUTIONS,
    SHARE_OF_LIFE,
    Pour,
    colour_steps,
    moisture_warnings,
    split_pours,
)
from layup.chemistry.datasheet import Datasheet
from layup.chemistry.demould import Demould, demould, setting_of
from layup.chemistry.life_band import predict_band
from layup.chemistry.mixing import parts_by_mass, stoichiometry_gap
from layup.chemistry.ratio import split_mass
from layup.chemistry.vessel import Vessel
from layup.planning.batches import Timeline
from layup.planning.budget import Casting
from layup.planning.plan import LOADING_LIMIT, CastStep
from layup.planning.planner import PlanResult
from layup.units import in_hours, in_minutes

CUP = Vessel.cup()
URETHANE_STIRRING_S = 60.0
"""A urethane that lives for minutes is stirred for one (common practice, no source)."""
POURED_g_s = 4.0
"""What leaves a cup in a second into a narrow channel (our own judgement, no source)."""


@dataclass(frozen=True, slots=True)
class PourGrams:
    """One pour: its grams, its pigments by name, and its times [s] from the start of the casting."""

    number: int
    mass_g: float
    parts_g: tuple[float, float]
    pigments_g: tuple[tuple[str, float], ...]
    mix_s: float
    poured_s: float
    due_s: float
    """When it must be out of its cup."""


@dataclass(frozen=True, slots=True)
class Pouring:
    """One casting step: its pours, when they begin in the day, and when the last of them can be planed."""

    step: int
    name: str
    resin_id: str
    pours: tuple[PourGrams, ...]
    starts_s: float | None
    """On the plan's clock, from the first weighing; None for a casting made before press day."""
    planable: Demould
    """From the last pour."""
    index: float | None
    """Isocyanate over polyol in equivalents, for a urethane whose datasheet states both."""
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]

    @property
    def mass_g(self) -> float:
        """Return the mix of all pours [g]."""
        return sum(pour.mass_g for pour in self.pours)

    @property
    def takes_s(self) -> float:
        """Return the time from the first mixing to the last empty cup [s]."""
        return self.pours[-1].poured_s if self.pours else 0.0

    @property
    def fits(self) -> bool:
        """Return whether each pour leaves its cup in time."""
        return bool(self.pours)


def pourings(result: PlanResult, day: Timeline | None, *, wood_moisture: float | None = None) -> tuple[Pouring, ...]:
    """Schedule the castings of a plan, each in as few pours as its resin's life in the cup allows.

    Parameters
    ----------
    result : PlanResult
        Part, resin and shop, with its grams and batches [-]
    day : Timeline or None
        The day's rows, for castings made in it [-]
    wood_moisture : float or None
        Water over dry mass of the wood that is cast against, 0 to 1; None where it was not measured [-]

    Returns
    -------
    tuple[Pouring, ...]
        One for each casting step whose resin is at hand, in bench order [g, s]

    Raises
    ------
    RangeError
        For a value outside its range.

    Notes
    -----
    Each pour leaves its own loss in its cup. Its clock runs while it is stirred and poured; it is out by 0.7 of the low
    end of its life. Stirring takes as long as the crew's, one minute for a urethane; 4 g flow out in a second.
    """
    rows = {row.step: row.spans[0].begin_s for row in day.steps if row.spans} if day else {}
    found = []
    for casting in result.budget.castings:
        step = result.plan.steps[casting.step]
        datasheet = result.casting_resins.get(casting.resin_id)
        if datasheet is not None and isinstance(step, CastStep):
            begins_s = None if step.before_press_day else rows.get(casting.step)
            found.append(_pouring(result, step, casting, datasheet, begins_s, wood_moisture))
    return tuple(found)


def pours_in_time(result: PlanResult, casting: Casting) -> bool:
    """Say whether the pours of a casting leave their cups in time."""
    step, datasheet = result.plan.steps[casting.step], result.casting_resins.get(casting.resin_id)
    if datasheet is None or not isinstance(step, CastStep):
        return True
    return bool(_split(result, step, casting, datasheet, calibrate(datasheet), _stirring_s(result, datasheet)))


def _stirring_s(result: PlanResult, datasheet: Datasheet) -> float:
    return URETHANE_STIRRING_S if datasheet.chemistry == "urethane" else result.job.pace.stirring_s


def _pouring(
    result: PlanResult,
    step: CastStep,
    casting: Casting,
    datasheet: Datasheet,
    begins_s: float | None,
    wood_moisture: float | None,
) -> Pouring:
    calibration = calibrate(datasheet)
    pours = _split(result, step, casting, datasheet, calibration, _stirring_s(result, datasheet))
    setting, _ = setting_of(datasheet, calibration.kinetics)
    gap = stoichiometry_gap(datasheet) if datasheet.chemistry == "urethane" else None
    urethane = datasheet.chemistry == "urethane"
    humidity = result.shop.relative_humidity
    takes_s = pours[-1].poured_s if pours else 0.0
    return Pouring(
        step=casting.step,
        name=step.name,
        resin_id=datasheet.id,
        pours=_with_grams(step, datasheet, pours),
        starts_s=begins_s,
        planable=demould(setting, calibration, result.shop.part_K or result.shop.temperature_K),
        index=None if gap is None else 1.0 + gap,
        warnings=(
            *_time_warnings(step, bool(pours), takes_s, result),
            *(moisture_warnings(wood_moisture, humidity) if urethane else ()),
        ),
        cautions=ISOCYANATE_CAUTIONS if urethane else datasheet.cautions,
    )


def _split(
    result: PlanResult,
    step: CastStep,
    casting: Casting,
    datasheet: Datasheet,
    calibration: Calibration,
    stirring_s: float,
) -> tuple[Pour, ...]:
    """Return the fewest pours that leave their cups in time, each with its own loss in its cup; () where none do."""
    plan, shop = result.plan, result.shop
    net_g = casting.mix_g - casting.losses_g
    largest_g = min(plan.scale.capacity_g, plan.largest_cup_g or float("inf"))
    start_K = shop.resin_K or shop.temperature_K

    def low_s(mass_g: float) -> float:
        band = predict_band(calibration, CUP, mass_g=mass_g, start_K=start_K, ambient=shop.temperature_K)
        return band.working_s.low

    count = step.pours
    while True:
        mass_g = net_g + count * plan.losses.per_batch_g
        pours = split_pours(
            mass_g,
            low_s,
            mixing_s=stirring_s,
            pouring_s=mass_g / POURED_g_s,
            at_least=max(count, ceil(mass_g / largest_g)),
            smallest_g=plan.scale.smallest_batch_g(parts_by_mass(datasheet)),
        )
        if len(pours) <= count:
            return pours
        count = len(pours)


def _with_grams(step: CastStep, datasheet: Datasheet, pours: tuple[Pour, ...]) -> tuple[PourGrams, ...]:
    masses_g = [pour.mass_g for pour in pours]
    pigments: list[tuple[tuple[str, float], ...]] = [()] * len(pours)
    if step.loading is not None and step.pigment_to and len(pours) > 1:
        limit = LOADING_LIMIT if step.loading_limit is None else step.loading_limit
        pairs = colour_steps(masses_g, step.loading, limit)
        pigments = [((step.pigment, first_g), (step.pigment_to, second_g)) for first_g, second_g in pairs]
    elif step.loading is not None:
        pigments = [((step.pigment, step.loading * mass_g),) for mass_g in masses_g]
    return tuple(
        PourGrams(
            pour.number, pour.mass_g, _two(pour.mass_g, datasheet), colours, pour.mix_s, pour.poured_s, pour.due_s
        )
        for pour, colours in zip(pours, pigments, strict=True)
    )


def _two(mass_g: float, datasheet: Datasheet) -> tuple[float, float]:
    resin_g, hardener_g = split_mass(mass_g, parts_by_mass(datasheet))
    return resin_g, hardener_g


def _time_warnings(step: CastStep, fits: bool, takes_s: float, result: PlanResult) -> Iterator[str]:
    if not fits:
        yield (
            f"No pour of it leaves its cup in {100 * SHARE_OF_LIFE:.0f} % of its life that the scale can still "
            "weigh: cool the cans, take a finer scale or a slower resin."
        )
    elif not step.before_press_day and takes_s > step.bench_s:
        yield f"Pouring takes {in_minutes(takes_s)}, and the plan gives it {in_minutes(step.bench_s)}."
    if not step.before_press_day and result.plan.crew.people == 1:
        yield "Alone, nobody lays while you pour: pour before the first batch is mixed."


def planed_words(pouring: Pouring) -> str:
    """Return from when on a casting can be planed.

    Parameters
    ----------
    pouring : Pouring
        The casting [-]

    Returns
    -------
    str
        A clause without its full stop, hours from the last pour with the 80 % band [-]
    """
    ready = pouring.planable
    if not isfinite(ready.out_s.likely):
        return "not hard enough to plane within two weeks in this shop"
    high = f"{ready.out_s.high / 3600.0:.1f}" if isfinite(ready.out_s.high) else "never"
    band = f"80 %: {ready.out_s.low / 3600.0:.1f} to {high}"
    return f"planed {in_hours(ready.out_s.likely, '.1f')} after the last pour ({band}), {ready.softens_words}"
