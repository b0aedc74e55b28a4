"""The castings of a plan: grams and pigment of each pour, when it is poured, and from when on it can be planed."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from math import floor, isfinite

from layup.chemistry.climate import moisture_warnings
from layup.chemistry.datasheet import Datasheet
from layup.chemistry.demould import Demould
from layup.chemistry.mixing import resin_and_hardener_g, stoichiometry_gap
from layup.planning.budget import Budget, Casting
from layup.planning.crew import pace_of
from layup.planning.cuts import casts_of
from layup.planning.plan import CastStep, PlaceStep, Plan
from layup.planning.planner import COLDEST_K, HOTTEST_K, PlanResult, cold_limits
from layup.planning.pours import FINER_G, SCRAPING_S, JoinWindow, Pour, cast_of, hardens, place_words
from layup.planning.schedule import Timeline
from layup.units import countdown, in_minutes, mass

TIGHT_POUR = 0.10
"""A pour with less than this share of its time to spare is tight (common practice, no source)."""
ISOCYANATE_CAUTIONS = (
    "The safety data sheet comes first.",
    "Isocyanates can make you allergic for life, by skin or breath: gloves, goggles, long sleeves, moving fresh air.",
    "Never heat, spray or sand it uncured without the breathing protection that its safety data sheet names.",
    "Once you are allergic, stop for good: the next breath may be an emergency.",
    "Keep water out of the cans: a closed wet can of isocyanate builds pressure.",
    "A thick pour heats itself: pour in steps, and never leave a full cup standing.",
)
LAST_POUR = "the last pour"
WARM, SEAL, TAPE = "Warm and dry the core", "Seal the channel", "Tape and level"


@dataclass(frozen=True, slots=True)
class PourGrams(Pour):
    """One pour with its grams and its pigments by name; times count from when its casting's first is weighed [s]."""

    parts_g: tuple[float, float]
    pigments_g: tuple[tuple[str, float], ...]
    place: str
    """Which channels it goes into; empty where there is one alone."""


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
    join: JoinWindow | None
    """None for a single pour."""
    trouble: str
    """Why it cannot be poured so; empty where it can."""
    tight: str
    """What leaves too little room; empty where nothing does."""
    helps: tuple[str, ...]
    """What can be done about trouble."""
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]

    @property
    def mass_g(self) -> float:
        """Return the mix of all pours [g]."""
        return sum(pour.mass_g for pour in self.pours)

    @property
    def takes_s(self) -> float:
        """Return the time from the first weighing to the last empty cup [s]."""
        return self.pours[-1].poured_s if self.pours else 0.0

    @property
    def fits(self) -> bool:
        """Return whether each pour leaves its cup in time, and joins the one before."""
        return not self.trouble


def casting_plan(plan: Plan, resin_id: str = "") -> Plan:
    """Return the casting day of a plan: the core made ready, then the castings of one resin, in bench order.

    A plan that lays nothing; of a plan without castings of that resin itself.

    Parameters
    ----------
    resin_id : Which casting resin; empty takes that of the first casting [-]
    """
    casts = casts_of(plan).values()
    resin_id = resin_id or next((step.resin_id for step in casts), "")
    own = [step for step in casts if step.resin_id == resin_id]
    if not own:
        return plan
    kept = own if plan.lays else [step for step in plan.steps if not isinstance(step, CastStep) or step in own]
    work = plan.casting
    ready = (PlaceStep(WARM, work.warm_s), PlaceStep(SEAL, work.seal_s), PlaceStep(TAPE, work.tape_s))
    missing = tuple(step for step in ready if step not in kept)
    others = tuple(f"{step.name} ({step.resin_id})" for step in casts if step not in own)
    return replace(
        plan, resin_id=resin_id, steps=(*missing, *kept), casting=replace(work, another_day=others or work.another_day)
    )


def pourings(result: PlanResult, day: Timeline | None, *, wood_moisture: float | None = None) -> tuple[Pouring, ...]:
    """Schedule the castings of a plan, each in as few pours as its resin's life in the cup allows.

    One for each casting step whose resin is at hand, in bench order.

    Each pour leaves its own loss in its cup. Its clock runs while it is stirred and poured, and its cup is empty by the
    one rule for a cup. Weighing takes what the crew's mixing takes without its stirring; a urethane is stirred for one
    minute, 4 g flow out in a second, and the cup is scraped for 20 s. The step's minutes are shared out: pours never
    follow each other more closely than that. Alone, nobody weighs while a cup is stirred and poured.

    Parameters
    ----------
    wood_moisture : Water over dry mass of the wood that is cast against, 0 to 1; None where it was not measured [-]
    """
    casts = casts_of(result.plan)
    rows = {row.step: row.spans[0].begin_s for row in day.steps if row.spans} if day else {}
    found: list[Pouring] = []
    after_s = 0.0
    for casting in result.budget.castings:
        step, datasheet = casts[casting.step], result.casting_resins.get(casting.resin_id)
        if datasheet is not None:
            begins_s = None if step.before_press_day else rows.get(casting.step)
            if not result.plan.lays:
                begins_s = after_s
            pouring = _pouring(result, step, casting, datasheet, begins_s, wood_moisture)
            after_s += pouring.takes_s + SCRAPING_S
            found.append(pouring)
    return tuple(found)


def numbered(castings: Iterable[Pouring]) -> Iterator[tuple[int, Pouring, PourGrams]]:
    """Yield each pour with its number through the whole day [-], and with its casting."""
    pours = ((casting, pour) for casting in castings for pour in casting.pours)
    return ((number, *each) for number, each in enumerate(pours, 1))


def casting_troubles(plan: Plan, pours: Sequence[Pouring]) -> tuple[str, ...]:
    """Say which castings cannot be poured, of those made before the press day, whose own verdict leaves them out."""
    own = [each for each in pours if each.trouble and plan.lays and not plan.pours_today(each.step)]
    return tuple(f"CASTING DOES NOT FIT · {each.trouble}" for each in own)


def as_poured(result: PlanResult, pours: Sequence[Pouring] | None = None) -> Budget:
    """Return the budget of a plan with its castings in as many pours as it takes, each with its loss.

    Its castings sum to the pours; one that cannot be poured in time stays as the plan states it.
    """
    grams = result.budget
    if not grams.castings:
        return grams
    by_step = {each.step: each.pours for each in (pourings(result, None) if pours is None else pours)}

    def poured(casting: Casting) -> Casting:
        cups = by_step.get(casting.step)
        if not cups:
            return casting
        resin_g, hardener_g = (sum(cup.parts_g[at] for cup in cups) for at in (0, 1))
        mix_g = sum(cup.mass_g for cup in cups)
        lost_g = casting.losses_g + mix_g - casting.mix_g
        return replace(casting, pours=len(cups), mix_g=mix_g, losses_g=lost_g, parts_g=(resin_g, hardener_g))

    return replace(grams, castings=tuple(poured(casting) for casting in grams.castings))


def casting_window_K(result: PlanResult) -> tuple[float | None, float | None]:
    """Find between which shop temperatures the castings of a plan are poured in time, to 1 K.

    Lowest, what its resins and its air need, and highest; None where no shop is warm or cool enough.
    """
    low_K = max((limit.temperature_K for limit in cold_limits(result)), default=COLDEST_K)

    def fails(step: int) -> bool:
        shop = replace(result.shop, temperature_K=low_K + step, resin_K=None, part_K=None)
        return any(each.trouble for each in pourings(replace(result, shop=shop), None))

    steps = range(max(int(HOTTEST_K - low_K), 0) + 1)
    good = bisect_left(steps, True, key=fails)
    return (low_K, low_K + good - 1) if good else (None, None)


def _pouring(
    result: PlanResult,
    step: CastStep,
    casting: Casting,
    datasheet: Datasheet,
    begins_s: float | None,
    wood_moisture: float | None,
) -> Pouring:
    made = cast_of(result, step, casting, datasheet)
    pours, urethane = made.pours(), datasheet.chemistry == "urethane"
    gap = stoichiometry_gap(datasheet) if urethane else None
    takes_s = pours[-1].poured_s + SCRAPING_S if pours else 0.0
    trouble = made.trouble(pours)
    return Pouring(
        step=casting.step,
        name=step.name,
        resin_id=datasheet.id,
        pours=_with_grams(step, datasheet, pours, result.plan.pieces),
        starts_s=begins_s,
        planable=hardens(datasheet, result.shop.surface_K),
        index=None if gap is None else 1.0 + gap,
        join=made.join(pours[0].mass_g) if len(pours) > 1 else None,
        trouble=trouble,
        tight="" if trouble else _tight(pours),
        helps=tuple(made.helps(pours)) if trouble else (),
        warnings=(
            *(f"One casting resin a day: pour {other} another day." for other in result.plan.casting.another_day),
            *_time_warnings(step, takes_s, result),
            *pigment_warnings(step, [pour.mass_g for pour in pours], result.plan.scale.readability_g),
            *(moisture_warnings(wood_moisture, result.shop.relative_humidity) if urethane else ()),
        ),
        cautions=ISOCYANATE_CAUTIONS if urethane else datasheet.cautions,
    )


def _tight(pours: tuple[Pour, ...]) -> str:
    first = pours[0]
    if first.margin_s < TIGHT_POUR * (first.due_s - first.mix_s):
        return f"{countdown(first.margin_s)} spare for each cup."
    for one in pours[1:]:
        if one.join_spare_s < TIGHT_POUR * (one.closes_s - one.opens_s):
            return f"Pour {one.number} joins with {countdown(one.join_spare_s)} spare."
    return ""


def _with_grams(step: CastStep, datasheet: Datasheet, pours: tuple[Pour, ...], pieces: int) -> tuple[PourGrams, ...]:
    each = 1.0 / max(len(pours), 1)

    def pigments(pour: Pour) -> Iterator[tuple[str, float]]:
        """Yield the grams of each pigment: the loading stays the same, so that hardness and cure do."""
        shares = colour_weights(len(step.pigments), (pour.number - 1) * each, each, fade=step.fade)
        for name, share in zip(step.pigments, shares, strict=True):
            if share > 0.0 and step.loading is not None:
                yield name, step.loading * pour.mass_g * share

    return tuple(
        PourGrams(
            **asdict(pour),
            parts_g=resin_and_hardener_g(datasheet, pour.mass_g),
            pigments_g=tuple(pigments(pour)),
            place=place_words(step, pieces, (pour.number - 1) * each, each),
        )
        for pour in pours
    )


def _time_warnings(step: CastStep, takes_s: float, result: PlanResult) -> Iterator[str]:
    given_s = step.bench_s / pace_of(result.plan.crew).full
    if takes_s > given_s:
        yield f"Pouring takes {in_minutes(takes_s)}, and the plan gives it {in_minutes(given_s)}."
    if result.plan.lays and not step.before_press_day and result.plan.crew.people == 1:
        yield "Alone, nobody lays while you pour: pour before the first batch is mixed."


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


PIGMENT_OFF = 0.10
"""Pigment that may be off by more than this is seen from pour to pour (common practice, no source)."""


def weighs_pigment(mass_g: float, readability_g: float) -> bool:
    """Return whether a scale weighs a pigment well enough to match from pour to pour.

    Whether half its last digit is at most `PIGMENT_OFF` of it.

    Parameters
    ----------
    mass_g : Pigment [g]
    readability_g : The scale's last digit [g]
    """
    return readability_g / 2.0 <= PIGMENT_OFF * mass_g


def pigment_warnings(step: CastStep, masses_g: Sequence[float], readability_g: float) -> Iterator[str]:
    """Yield what can be done about pigment too little for the scale, with its numbers."""
    if step.loading is None or not masses_g:
        return
    least_g = step.loading * min(masses_g)
    if weighs_pigment(least_g, readability_g):
        return
    off = f"{100 * readability_g / 2.0 / least_g:.0f} %"
    finer = next((reads_g for reads_g in FINER_G if reads_g < readability_g and weighs_pigment(least_g, reads_g)), None)
    ways = [] if finer is None else [f"weigh it on a scale that reads {mass(finer, 'g')}"]
    if len(step.pigments) == 1 and len(masses_g) > 1:
        ways.append(f"stir {mass(step.loading * sum(masses_g), '.1f')} into the resin of all pours at once")
    ways.append("thin it first with nine times its mass of resin, and count that as resin")
    what = f"Pigment of {mass(least_g, '.1f')} on a scale that reads {mass(readability_g, 'g')} is up to {off} off"
    yield f"{what}: {', or '.join(ways)}."


def planed_words(pouring: Pouring) -> str:
    """Return from when on a casting can be planed.

    A clause without its full stop, hours from the last pour with the 80 % band.
    """
    if not isfinite(pouring.planable.out_s.likely):
        return "not hard enough to plane within two weeks in this shop"
    return f"planed {pouring.planable.after(LAST_POUR, '.1f')}"


def join_words(pouring: Pouring) -> str:
    """Return when the next pour of a casting may follow the last; nothing for a single pour."""
    join = pouring.join
    if join is None:
        return ""
    known = "as stated" if join.stated else f"an estimate, {join.taken} taken" if join.taken else "an estimate"
    return f"The next pour follows {countdown(join.begin_s)} to {countdown(join.end_s)} after an empty cup ({known})."
