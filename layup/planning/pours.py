"""The pours of one casting: how many leave their cups in time, when each follows the last, what helps, what is left."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from math import ceil, floor, inf

from layup.chemistry.calibration import calibrate
from layup.chemistry.datasheet import Datasheet
from layup.chemistry.demould import Demould, demould, setting_of
from layup.chemistry.life_band import predict_band
from layup.chemistry.mixing import parts_by_mass
from layup.chemistry.numerics import require_positive
from layup.chemistry.prediction import Vessel
from layup.chemistry.stages import Stage, follow_band, gel_in_channel_s
from layup.chemistry.uncertainty import Band
from layup.planning.budget import Casting, cast_loss_g
from layup.planning.channel import USUAL_WALL, Channel
from layup.planning.clocks import empty_by_s
from layup.planning.crew import pace_of
from layup.planning.plan import CastStep, Scale, Shop
from layup.planning.planner import PlanResult
from layup.units import countdown, in_minutes, mass

CUP = Vessel.cup()
URETHANE_STIRRING_S = 60.0
"""A urethane that lives for minutes is stirred for one (common practice, no source)."""
POURED_g_s = 4.0
"""What leaves a cup in a second into a narrow channel (our own judgement, no source)."""
SCRAPING_S = 20.0
"""To scrape a cup out into the channel (our own judgement, no source)."""
COLOURING_S = 20.0
"""To stir a pigment into mix that was divided (our own judgement, no source)."""
FINER_G = (0.5, 0.1, 0.01)
"""Kitchen and pocket scales that can be bought (common practice, no source)."""


MOST_POURS = 200


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
        require_positive("mixing time", self.stirring_s, unit="s")


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


def split_pours(
    mass_g: float,
    due_s: Callable[[float], float],
    pace: PourPace,
    *,
    at_least: int = 1,
    multiple: int = 1,
    wait_s: Callable[[float], tuple[float, float]] = lambda _: (0.0, inf),
    smallest_g: float = 0.0,
) -> tuple[Pour, ...]:
    """Find the fewest equal pours of which each leaves its cup in time, and when each is weighed, mixed and poured.

    The pours in order; empty where none that can be weighed leaves its cup in time. A smaller pour lives longer and is
    out sooner, so the first number of pours that works is the fewest. A pour waits until the one before takes it; one
    that comes too late for that has less than nothing in `join_spare_s`.

    >>> pace = PourPace(60.0, 60.0, 600.0, 20.0)
    >>> [(round(pour.mass_g), pour.weigh_s, pour.poured_s) for pour in split_pours(600.0, lambda mass_g: 280.0, pace)]
    [(200, 0.0, 320.0), (200, 340.0, 660.0), (200, 680.0, 1000.0)]
    """
    for count in range(multiple * ceil(at_least / multiple), MOST_POURS + 1, multiple):
        each_g = mass_g / count
        if each_g < smallest_g:
            return ()
        allowed_s = due_s(each_g)
        if pace.stirring_s + pace.pouring_s / count <= allowed_s:
            return tuple(_in_order(count, each_g, allowed_s, pace, wait_s(each_g)))
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


@dataclass(frozen=True, slots=True)
class JoinWindow:
    """From when and until when after an empty cup the next pour may follow [s]."""

    begin_s: float
    end_s: float
    stated: bool
    """As the plan has it; else an estimate."""
    taken: str = ""
    """The channel's section, where the plan states only what it holds."""


@dataclass(frozen=True, slots=True)
class Cast:
    """Everything that decides the pours of one casting."""

    step: CastStep
    net_g: float
    """What is cast in all, without what stays in the cups."""
    loss_g: float
    datasheet: Datasheet
    shop: Shop
    scale: Scale
    largest_g: float
    pace: PourPace
    """For the whole casting; its time to pour is that of `net_g`."""

    @property
    def smallest_g(self) -> float:
        """Return the least that the scale weighs on ratio [g]."""
        return self.scale.smallest_batch_g(parts_by_mass(self.datasheet))

    def due_s(self, mass_g: float) -> float:
        """Return by when a cup of it must be empty, from first contact [s]."""
        return _due_s(self.datasheet, self.shop, mass_g)

    def pours(self, *, weighable: bool = True) -> tuple[Pour, ...]:
        """Return the fewest pours that leave their cups in time, each with its own loss; () where none do."""
        return _poured(self, weighable)

    def join(self, mass_g: float) -> JoinWindow:
        """Return when the next pour may follow one of a mass."""
        if self.step.join_s is not None:
            return JoinWindow(*self.step.join_s, stated=True)
        held_s = self.pace.stirring_s + mass_g / POURED_g_s
        gel_s = _gel_s(self.datasheet, self.shop, self.step.channel or USUAL_WALL, mass_g, held_s)
        begin_s, end_s = 0.0, gel_s.low
        if self.step.join == "firm":
            begin_s = gel_s.high
            end_s = max(hardens(self.datasheet, self.shop.surface_K).out_s.low, gel_s.high)
        taken = "" if self.step.channel else USUAL_WALL.section_words
        return JoinWindow(max(begin_s - held_s, 0.0), max(end_s - held_s, 0.0), stated=False, taken=taken)

    def trouble(self, pours: tuple[Pour, ...]) -> str:
        """Say why it cannot be poured so; an empty text where it can."""
        if not pours:
            lighter = self.pours(weighable=False)
            if not lighter:
                return f"{self.step.name}: no pour leaves its cup in time."
            each_g = self.net_g / self.step.stated_pours + self.loss_g
            if each_g >= self.smallest_g:
                return f"{self.step.name}: no pour of {mass(self.smallest_g)} or more leaves its cup in time."
            least = f"the scale weighs {mass(self.smallest_g)} or more on ratio"
            return f"{self.step.name}: {least}, a pour is {mass(each_g)}."
        late = next((pour for pour in pours if pour.join_spare_s < 0.0), None)
        if late is None:
            return ""
        return f"{self.step.name}: pour {late.number} comes {countdown(-late.join_spare_s)} after the last has set."

    def helps(self, pours: tuple[Pour, ...]) -> Iterator[str]:
        """Yield what can be done about trouble, with its numbers."""
        if pours:
            sooner = _poured(replace(self, pace=replace(self.pace, minutes_s=0.0)), True)
            if sooner and not self.trouble(sooner):
                least_s = len(sooner) * (sooner[0].poured_s + self.pace.scraping_s)
                yield f"Give it {in_minutes(least_s, '.0f')}: pours that follow so closely join."
            yield "A helper weighs the next cup while you pour; or weigh all cups before the first is mixed."
            yield 'Or let each pour get firm enough to stand: next pour "firm".'
            return
        lighter = self.pours(weighable=False)
        if not lighter:
            yield "Cool the cans, take a slower resin, or let a helper pour with you."
            return
        yield from self._bigger(len(lighter))
        each_g = lighter[0].mass_g
        finer = [reads_g for reads_g in FINER_G if self.smallest_g * reads_g / self.scale.readability_g <= each_g]
        if finer:
            least_g = self.smallest_g * finer[0] / self.scale.readability_g
            yield f"A finer scale: one that reads {mass(finer[0], 'g')} weighs from {mass(least_g)} on."
        yield from self._divided(lighter)

    def _bigger(self, count: int) -> Iterator[str]:
        """Yield fewer and bigger pours, or as many that are bigger, where the resin lives long enough in them."""
        each_of = 1 if self.step.fade else max(len(self.step.pigments), 1)
        most = floor(self.net_g / max(self.smallest_g - self.loss_g, 1e-9)) // each_of * each_of
        fewer = min(most, count) if most >= max(len(self.step.pigments), 1) else 0
        each_g = self.net_g / fewer + self.loss_g if fewer else self.smallest_g
        takes_s = self.pace.stirring_s + each_g / POURED_g_s
        if each_g > self.largest_g or takes_s > self.due_s(each_g):
            return
        more = "" if fewer else f", {mass(count * (each_g - self.loss_g) - self.net_g)} more in all"
        times = f"empty after {countdown(takes_s)}, due {countdown(self.due_s(each_g))} (min:s)"
        yield f"A bigger pour: {fewer or count} of {mass(each_g)}{more}; {times}."

    def _divided(self, lighter: tuple[Pour, ...]) -> Iterator[str]:
        """Yield one batch for all pours, divided before the colour, where all of it is poured in its life."""
        whole_g, count = sum(pour.mass_g for pour in lighter), len(lighter)
        takes_s = self.pace.stirring_s + count * COLOURING_S + whole_g / POURED_g_s
        if self.smallest_g <= whole_g <= self.largest_g and self.step.join == "soft" and self.step.join_s is None:
            due_s = self.due_s(whole_g)
            words = f"One batch of {mass(whole_g)}, divided into {count} cups before the colour: "
            if takes_s <= due_s:
                yield f"{words}all poured after {countdown(takes_s)}, due {countdown(due_s)}."
            else:
                yield f"Not {words[0].lower()}{words[1:]}poured after {countdown(takes_s)}, due {countdown(due_s)}."


def cast_of(result: PlanResult, step: CastStep, casting: Casting, datasheet: Datasheet) -> Cast:
    """Return what decides the pours of a casting."""
    plan, pace = result.plan, pace_of(result.plan.crew)
    net_g = casting.mix_g - casting.losses_g
    return Cast(
        step=step,
        net_g=net_g,
        loss_g=cast_loss_g(plan, step),
        datasheet=datasheet,
        shop=replace(result.shop, relative_humidity=None),
        scale=plan.scale,
        largest_g=min(plan.scale.capacity_g, plan.largest_cup_g or inf),
        pace=PourPace(
            weighing_s=pace.mixing_s - pace.stirring_s,
            stirring_s=URETHANE_STIRRING_S if datasheet.chemistry == "urethane" else pace.stirring_s,
            pouring_s=net_g / POURED_g_s,
            scraping_s=SCRAPING_S,
            minutes_s=step.bench_s / pace.full,
            alone=plan.crew.people == 1,
        ),
    )


@lru_cache(maxsize=256)
def _due_s(datasheet: Datasheet, shop: Shop, mass_g: float) -> float:
    band = predict_band(calibrate(datasheet), CUP, mass_g=mass_g, start_K=shop.cans_K, ambient=shop.temperature_K)
    return empty_by_s(band.working_s.low, band.heat_class_high)


@lru_cache(maxsize=256)
def _gel_s(datasheet: Datasheet, shop: Shop, channel: Channel, mass_g: float, held_s: float) -> Band:
    """Return when a pour that is held in its cup for a time gels in its channel, from first contact [s].

    Soft, the next joins it until the early edge; firm, it stands from the late edge on, and bonds until it is hard
    enough to plane (common practice, no source).
    """
    law = calibrate(datasheet)
    stages = Stage(CUP, 0.0, shop.temperature_K), Stage(Vessel.film(), held_s, shop.surface_K)
    band = follow_band(law, stages, mass_g=mass_g, start_K=shop.cans_K)
    return gel_in_channel_s(band, channel.skin(law.kinetics.density_g_cm3))


def hardens(datasheet: Datasheet, part_K: float) -> Demould:
    """Find when mix in a channel is hard enough to plane, from first contact.

    Raises RangeError for a temperature that the model does not reach.

    Parameters
    ----------
    part_K : The part's temperature [K]
    """
    calibration = calibrate(datasheet)
    setting, _ = setting_of(datasheet, calibration.kinetics)
    return demould(setting, calibration, part_K)


@lru_cache(maxsize=256)
def _poured(cast: Cast, weighable: bool) -> tuple[Pour, ...]:
    count, step = cast.step.stated_pours, cast.step

    def wait(mass_g: float) -> tuple[float, float]:
        window = cast.join(mass_g)
        return window.begin_s, window.end_s

    while True:
        mass_g = cast.net_g + count * cast.loss_g
        if mass_g > MOST_POURS * cast.largest_g:
            return ()
        pours = split_pours(
            mass_g,
            cast.due_s,
            replace(cast.pace, pouring_s=mass_g / POURED_g_s),
            at_least=max(count, ceil(mass_g / cast.largest_g)),
            multiple=1 if step.fade else max(len(step.pigments), 1),
            wait_s=wait,
            smallest_g=cast.smallest_g if weighable else 0.0,
        )
        if len(pours) <= count:
            return pours
        count = len(pours)


NONE_LEFT = 0.005
"""A share of a casting that is nothing any more."""


SIDES = {"both": ("left", "right"), "one": ("",), "around": ("",)}
"""The channels of one piece, as it lies on the bench."""


def place_words(step: CastStep, pieces: int, begin: float, share: float) -> str:
    """Say where a pour goes: the next layer in all channels where colours change, else one channel after the other.

    As "piece 1 left", or "layer 1 of 3, in all 4"; empty where there is one place alone.

    >>> from layup.planning.channel import Channel
    >>> wall = CastStep("walls", 60.0, "resin", None, 4, channel=Channel(0.008, 0.012))
    >>> [place_words(wall, 2, at / 4, 1 / 4) for at in range(4)]
    ['piece 1 left', 'piece 1 right', 'piece 2 left', 'piece 2 right']

    Parameters
    ----------
    pieces : How many pieces are cast [-]
    begin : How much of it is filled before, 0 to 1 [-]
    share : How much of it the pour fills, above 0 to 1 [-]
    """
    sides = SIDES[step.channel.sides] if step.channel else ("",)
    names = [
        " ".join(filter(None, (f"piece {piece}" if pieces > 1 else "", side)))
        for piece in range(1, pieces + 1)
        for side in sides
    ]
    if len(step.pigments) > 1:
        layer, of = round(begin / share) + 1, max(round(1.0 / share), 1)
        return f"layer {layer} of {of}{f', in all {len(names)}' if len(names) > 1 else ''}"
    first = floor(begin * len(names) + NONE_LEFT)
    last = max(ceil((begin + share) * len(names) - NONE_LEFT), first + 1)
    if last - first >= len(names):
        return f"all {len(names)}" if len(names) > 1 else ""
    return names[first] if last - first == 1 else f"{names[first]} to {names[last - 1]}"


def pours_left(done: float, each: float, fits: Callable[[float], bool], weighs: Callable[[float], bool]) -> list[float]:
    """Return the shares of a whole casting that are still to pour, in order [-].

    They end where the pours planned before did, so that colours stay where they were; one that would go off in its cup
    is halved, and one that the scale cannot weigh goes with the next.

    Parameters
    ----------
    done : How much of it is filled, 0 to 1 [-]
    each : How much of it each pour was planned to fill, above 0 to 1 [-]
    fits : Whether a pour of a share leaves its cup in time [-]
    weighs : Whether the scale weighs a pour of a share [-]
    """
    shares: list[float] = []
    begin, carried = done, 0.0
    for end in _edges(done, each):
        share, carried = end - begin + carried, 0.0
        begin = end
        if not weighs(share) and end < 1.0 - NONE_LEFT:
            carried = share
            continue
        if shares and not weighs(share):
            share += shares.pop()
        shares += _halved(share, fits, weighs)
    return shares


def _edges(done: float, each: float) -> Iterator[float]:
    """Yield where the pours planned before end, from `done` on, the whole last."""
    count = max(round(1.0 / each), 1)
    yield from (at / count for at in range(1, count) if at / count > done + NONE_LEFT)
    if done < 1.0 - NONE_LEFT:
        yield 1.0


def _halved(share: float, fits: Callable[[float], bool], weighs: Callable[[float], bool]) -> list[float]:
    count = 1
    while not fits(share / count) and weighs(share / (2 * count)):
        count *= 2
    return [share / count] * count
