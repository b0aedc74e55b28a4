"""A day told from memory, judged as honestly as it was told: over many days that all fit the answers.

Each day within the widths is laid on its axis beside what this program would have planned for it, and looked at as a
logged one is. A cause that holds in at least half of them is likely, in one of ten possible; certain only where nothing
that was told is vague. The words quote what was told, and foretell no time more exactly than to five minutes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from math import exp, inf, log
from statistics import NormalDist, median

from layup.chemistry.calibration import Calibration
from layup.chemistry.datasheet import Datasheet
from layup.chemistry.life_band import predict_band
from layup.chemistry.looks import FELT
from layup.chemistry.numerics import first_at_or_above
from layup.chemistry.prediction import Vessel, predict
from layup.chemistry.uncertainty import EIGHTY_PERCENT
from layup.errors import LayupError
from layup.planning.plan import Plan
from layup.planning.planner import PlanResult
from layup.review.causes_air import COLD_RESIN, coldest_working_K, hottest_working_K, warm_up
from layup.review.causes_bench import CLOSE_IN_TIME, NO_BOND, SLOW_DAY, SLOW_S, closed_late
from layup.review.causes_cup import cup_too_large, past_thickening
from layup.review.evidence import Cause, Certainty, Evidence, Finding, Scene, effective_records, rank
from layup.review.timeline import BatchTrack, Track, track
from layup.session.archive import StoredSession
from layup.session.fields import ToldDay, Width
from layup.session.recall import Point, as_planned, likeliest, needs_of, plan_beside, said, told_day, told_start
from layup.session.records import fold, record_of
from layup.session.told import CUP, SHOP, TIME
from layup.units import mass, minutes, temperature

DAYS, WARMTHS = 30, 5
"""So many days within the answers are tried, in so many warmths of the shop, for each of which a plan is worked out."""
LIKELY, POSSIBLE = 0.5, 0.1
"""Of the days, from which share on a cause is likely, and possible."""
COUNTS: dict[Certainty, float] = {"certain": 1.0, "likely": 0.75, "possible": 0.3}
"""How much of a day counts in which a cause holds as surely."""
ANY_SHOP = Width(low=278.15, likely=288.15, high=298.15)
"""The shops that people press in, where nobody knows how warm it was (common practice, no source)."""
OUTSIDE_K = 1.0
GRAIN_S, GRAIN_G = 300.0, 10.0
MOST_TIMES, MOST_K = 10.0, 25.0
"""What is tried for a cup that thickened sooner than it can: so many times its mass, so much warmer."""
MEMORY = "told from memory: a cause is judged over all days that fit what was told"
PLANNED = "'planned' is what this program plans for that part, resin and shop; nothing was planned on the day"


# -- days that fit ---------------------------------------------------------------------------------------------------


def drawn(told: ToldDay) -> Iterator[Point]:
    """Yield days that fit what was told, spread evenly over its widths: the same every time, one where all is exact.

    By the sequence of Halton (1960), a base for each answer; a width is the 80 % of what is meant.
    """
    shop, done = told.shop_K or ANY_SHOP, told.steps_done
    widths = (shop, told.cup_g, told.thick_s, done, told.closed_s)
    vague = any(width is not None and not width.exact for width in widths)
    for number in range(1, DAYS + 1 if vague else 2):
        steps = _at(done, halton(number, 7))
        yield Point(
            shop_K=_at(shop, (int(halton(number, 2) * WARMTHS) + 0.5) / WARMTHS),
            cup_g=_at(told.cup_g, halton(number, 3), least=1.0),
            thick_s=_at(told.thick_s, halton(number, 5), least=1.0),
            steps_done=None if done is None or steps is None else round(min(max(steps, done.low), done.high)),
            closed_s=_at(told.closed_s, halton(number, 11), least=1.0),
        )


def halton(number: int, base: int) -> float:
    """Return one number of van der Corput's sequence in a base, above 0 and below 1."""
    share, value = 1.0, 0.0
    while number:
        share /= base
        number, digit = divmod(number, base)
        value += share * digit
    return value


def _at(width: Width | None, share: float, *, least: float = -inf) -> float | None:
    """Return the value that a share of what is meant lies below, each side with its own standard deviation."""
    if width is None or width.exact:
        return None if width is None else width.likely
    z = NormalDist().inv_cdf(share) / EIGHTY_PERCENT
    side = width.high - width.likely if z > 0.0 else width.likely - width.low
    return max(width.likely + z * side, least)


@dataclass(frozen=True, slots=True)
class _Story:
    """One session that was told, its plan and resin, and the plans worked out beside it so far."""

    stored: StoredSession
    plan: Plan
    sheet: Datasheet
    law: Calibration
    told: ToldDay
    defects: tuple[str, ...]
    results: dict[float, PlanResult] = field(default_factory=dict)

    def beside(self, shop_K: float | None) -> PlanResult:
        key = round(shop_K or 0.0, 2)
        if key not in self.results:
            self.results[key] = plan_beside(self.plan, self.sheet, self.law, self.told, shop_K)
        return self.results[key]

    def scene(self, point: Point) -> Scene:
        """Lay one day on its axis, beside the plan for its shop."""
        result = self.beside(point.shop_K)
        start = told_start(self.told, self.plan, None, self.sheet, as_planned(result))
        at = self.stored.state.records[0].at
        events = [(0.0, start), *told_day(self.told, start, self.sheet, point, needs_of(result), spread=True)]
        records = [
            record_of(event, {"seq": seq, "at": at, "elapsed_s": at_s, "happened_s": None})
            for seq, (at_s, event) in enumerate(events, 1)
        ]
        state = fold(records)
        day = track(state, result.plan, self.sheet, self.law, result)
        likeliest_shop = self.beside(likeliest(self.told).shop_K)
        return Scene(state, day, result.plan, self.sheet, self.law, likeliest_shop, None, self.defects)


# -- causes of one day -----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Held:
    """One cause in one day: how far it went, how surely, and the day."""

    size: float
    certainty: Certainty
    scene: Scene
    point: Point


def _causes(scene: Scene, told: ToldDay, point: Point) -> Iterator[tuple[Cause, _Held]]:
    for detector in (past_thickening, cup_too_large, closed_late):
        worst = max(detector(scene), key=lambda finding: finding.size, default=None)
        acquitted = detector is cup_too_large and told.look == "runny"  # somebody saw that it had not thickened
        if worst is not None and not acquitted:
            yield worst.cause, _Held(worst.size, worst.certainty, scene, point)
    if told.look in FELT:
        yield "cup too hot", _Held(FELT[told.look].size, "certain", scene, point)
    due_s = _step_due_s(scene, point)
    if due_s is not None and point.thick_s is not None:
        over_s = point.thick_s - due_s
        if over_s > max(SLOW_S, SLOW_DAY * due_s):
            yield "slow step", _Held(over_s / max(600.0, SLOW_DAY * due_s), "certain", scene, point)
    if point.shop_K is not None and told.shop_K is not None:
        low_K, high_K = coldest_working_K(scene.result, scene.sheet), hottest_working_K(scene.result)
        off_K = max(point.shop_K - high_K, low_K - point.shop_K)
        if off_K > OUTSIDE_K:
            yield "shop outside the window", _Held(off_K / 2.0, "certain", scene, point)


def _step_due_s(scene: Scene, point: Point) -> float | None:
    """Return when the plan has done the first step that was not done by the look, from first contact."""
    steps = scene.track.steps
    if point.steps_done is None or point.steps_done >= len(steps):
        return None
    return steps[point.steps_done].planned.end_s - (scene.track.contact_s or 0.0)


def told_findings(
    stored: StoredSession, plan: Plan, sheet: Datasheet, law: Calibration, defects: Sequence[str]
) -> tuple[Track, tuple[Finding, ...], tuple[str, ...]]:
    """Return the likeliest day on its axis, the causes over all days that fit, and what was taken for granted."""
    told = stored.state.recalled
    if told is None:
        raise ValueError(f"{stored.name} was not told from memory")
    story, points = _Story(stored, plan, sheet, law, told, tuple(defects)), list(drawn(told))
    held: dict[Cause, list[_Held]] = {}
    for point in points:
        for cause, one in _causes(story.scene(point), told, point):
            held.setdefault(cause, []).append(one)
    found = []
    for cause, days in held.items():
        share = sum(COUNTS[one.certainty] for one in days) / len(points)
        sure = days[0].certainty if len(points) == 1 else "likely" if share >= LIKELY else "possible"
        if len(points) == 1 or share >= POSSIBLE:
            tell = _cup_words if cause in OF_A_CUP else _day_words
            words, effect, change = tell(cause, told, days)
            size = median(one.size for one in days)
            found.append(Finding(cause, words, effect, change, size, sure, _evidence(stored, cause)))
    assumed = [MEMORY, PLANNED]
    if told.cups > 1:
        assumed.append(f"when each of {told.cups} cups was mixed was not told: they are taken as mixed at once")
    if told.shop_K is None:
        shops = f"{temperature.digits(ANY_SHOP.low)} to {temperature(ANY_SHOP.high)}"
        assumed.append(f"how warm the shop was is not known: {shops} was tried")
    own = story.scene(likeliest(told)).track
    nowhere = replace(
        own,
        steps=tuple(replace(step, real=None) for step in own.steps),
        batches=tuple(replace(batch, cup_left_s=None, part_left_s=None) for batch in own.batches),
    )  # nobody told when each step was done, nor so exactly what was to spare
    first, *others = rank(found, tuple(defects)) or (None,)
    why = _takes(told, law) if first is not None and "cup" in RESTS_ON[first.cause] else ""
    first = replace(first, effect=f"{first.effect} {why}") if first is not None and why else first
    return nowhere, () if first is None else (first, *others), tuple(assumed)


def _takes(told: ToldDay, law: Calibration) -> str:
    """Say what it takes for a cup to thicken as soon as was told; empty where such a cup may do it."""
    thick_s, cup_g, shop_K = told.thick_s, told.cup_g, told.shop_K
    if thick_s is None or cup_g is None or shop_K is None or told.look == "runny":
        return ""

    def early(mass_g: float, kelvin: float) -> float:
        life_s = predict(law.kinetics, Vessel.cup(), mass_g=mass_g, start_K=kelvin, ambient=kelvin).working_s
        return log(thick_s.likely / life_s)

    try:
        band = predict_band(law, Vessel.cup(), mass_g=cup_g.high, start_K=shop_K.high, ambient=shop_K.high)
        if band.working_s.low <= thick_s.high:
            return ""
        most_g, most_K = MOST_TIMES * cup_g.likely, shop_K.likely + MOST_K
        warm_K = first_at_or_above(partial(early, cup_g.likely), shop_K.likely, most_K, 0.1)
        large_g = exp(first_at_or_above(lambda x: early(exp(x), shop_K.likely), log(cup_g.likely), log(most_g), 0.01))
        ways = [f"mix at {temperature(warm_K)}"] if early(cup_g.likely, warm_K) >= 0.0 else []
        ways += [f"{mass(round(large_g, -1))} in one cup"] if early(large_g, shop_K.likely) >= 0.0 else []
    except LayupError:
        return ""  # beyond the model
    more = "" if len(ways) > 1 else "; no larger cup does it" if ways else "another resin: no warmth or mass does it"
    return f"So soon takes {' or '.join(ways)}{more}."


def _evidence(stored: StoredSession, cause: Cause) -> tuple[Evidence, ...]:
    """Return what was told that a cause rests on, in the entry that holds all of it."""
    told = stored.state.recalled
    entry = next((entry for entry in effective_records(stored.state) if entry.event.event == "recalled"), None)
    if told is None or entry is None:
        return ()
    words = {
        "shop": f"shop {said(told.shop_K, SHOP)}",
        "cup": f"{f'{told.cups} cups' if told.cups > 1 else 'a cup'} of {said(told.cup_g, CUP)}",
        "thick": f"{told.look or 'thick'} {said(told.thick_s, TIME)} after mixing",
        "closed": f"closed {said(told.closed_s, TIME)} after mixing",
        "people": "alone" if told.people == 1 else f"{told.people or 'not known how many'} people",
    }
    return (Evidence(entry.seq, entry.at_s, "told: " + ", ".join(words[key] for key in RESTS_ON[cause])),)


RESTS_ON: dict[Cause, tuple[str, ...]] = {
    "past thickening": ("cup", "thick"),
    "cup too large": ("cup", "shop", "people"),
    "cup too hot": ("cup", "thick"),
    "slow step": ("thick", "people"),
    "closed late": ("closed", "shop"),
    "shop outside the window": ("shop", "people"),
}
"""The answers that each cause rests on."""


# -- words -----------------------------------------------------------------------------------------------------------

OF_A_CUP: frozenset[Cause] = frozenset({"past thickening", "cup too large", "cup too hot"})
Three = tuple[str, str, str]
"""What happened, what it did, what to change."""


def _span(low_s: Sequence[float], high_s: Sequence[float]) -> str:
    """Say a time that is foretold differently for each day, to five minutes."""
    begin, end = (GRAIN_S * max(round(median(ends) / GRAIN_S), 1) for ends in (low_s, high_s))
    if begin == end:
        return f"about {minutes(begin)}"
    first = minutes(begin)
    return f"{first.removesuffix(' min') if end < 7200.0 else first} to {minutes(end)}"


def _cup(told: ToldDay) -> str:
    return "A cup" if told.cup_g is None else f"A cup of {said(told.cup_g, CUP)}"


def _worst(days: Sequence[_Held]) -> list[BatchTrack]:
    """Return of each day the cup that was seen, or else the first."""
    days_mixed = ([one for one in day.scene.track.batches if one.contact_s is not None] for day in days)
    return [next((batch for batch in mixed if batch.cup_seen is not None), mixed[0]) for mixed in days_mixed]


def _lives(days: Sequence[_Held]) -> str:
    """Say when such a cup thickens, over all days."""
    due = [batch.cup_due for batch in _worst(days) if batch.cup_due is not None]
    return _span([band.low for band in due], [band.high for band in due]) if due else "sooner than thought"


def _steps_left(told: ToldDay, days: Sequence[_Held]) -> str:
    done, whole = told.steps_done, len(days[0].scene.track.steps)
    if done is None or done.low >= whole:
        return "little"
    most, least = whole - round(done.low), whole - round(done.high)
    about = "about " if done.about else ""
    many = f"{about}{most}" if most == least or done.about else f"{least} to {most}"
    return f"{many} of {whole} steps"


def _cup_words(cause: Cause, told: ToldDay, days: Sequence[_Held]) -> Three:
    """Say what happened in a cup."""
    cup, at = _cup(told), f"{said(told.thick_s, TIME)} after mixing"
    if cause == "cup too hot":
        return (
            f"{cup} was {told.look} {at}.",
            "A cup that heats itself thickens within minutes, and browns or foams what it is used for.",
            "Mix less in a cup, or use a wide tray 3 mm deep, which stays cool. A hot cup goes outside, away from "
            "anything that burns.",
        )
    if cause == "cup too large":
        planned = [max(batch.planned_g for batch in one.scene.track.batches) for one in days]
        least, most = min(planned), max(planned)
        many = mass(least) if most - least < GRAIN_G else f"{mass.digits(least)} to {mass(most)}"
        at_once = f", {told.cups} at once" if told.cups > 1 else ""
        return (
            f"{cup}{at_once}, where this plan mixes at most {many} in one.",
            f"Such a cup thickens {_lives(days)} after mixing. More takes longer to lay, and heats itself more.",
            f"Mix no more than {mass(least)} in a cup; what the part needs beyond that is a batch of its own.",
        )
    left = f", with {_steps_left(told, days)} still to lay" if told.steps_done is not None else ""
    words = f"{cup} was {'thick' if told.look in (None, 'thickening') else told.look} {at}{left}."
    if told.thick_s is None:
        words = f"{cup} stood until the press was closed, {said(told.closed_s, TIME)} after mixing."
    by_s = [batch.cup_by.by_s for batch in _worst(days) if batch.cup_by is not None]
    return (
        words,
        f"Such a cup thickens {_lives(days)} after mixing: thick mix no longer wets cloth, and shuts air in.",
        f"Empty such a cup within {_span(by_s, by_s)} of mixing: mix less at a time, or spread it on the part at once.",
    )


def _day_words(cause: Cause, told: ToldDay, days: Sequence[_Held]) -> Three:
    """Say what happened at the bench, and in the shop."""
    scene = days[0].scene
    if cause == "slow step":
        steps = scene.track.steps
        due_s = [due for one in days if (due := _step_due_s(one.scene, one.point)) is not None]
        name = steps[min(round(told.steps_done.likely) if told.steps_done else 0, len(steps) - 1)].name
        return (
            f"{_steps_left(told, days).capitalize()} were left {said(told.thick_s, TIME)} after mixing; this plan "
            f"has '{name}' done by {_span(due_s, due_s)}.",
            "Every cup waits longer, and so does the closing.",
            "Lay out dry what each step needs before mixing, take a helper, or mix a small batch for each few steps.",
        )
    if cause == "closed late":
        parts = [(batch.part, batch.contact_s or 0.0) for batch in _worst(days) if batch.part is not None]
        opened = _span([part.low - at_s for part, at_s in parts], [part.high - at_s for part, at_s in parts])
        return (
            f"The press was closed {said(told.closed_s, TIME)} after mixing; such mix stays open {opened} on the part.",
            f"Closed later, {NO_BOND}.",
            CLOSE_IN_TIME,
        )
    low_K, high_K = coldest_working_K(scene.result, scene.sheet), hottest_working_K(scene.result)
    shop = f"The shop was at {said(told.shop_K, SHOP)}; this plan works"
    if median(one.point.shop_K or low_K for one in days) < low_K:
        return (
            f"{shop} from {temperature(low_K)} on.",
            COLD_RESIN,
            warm_up(low_K),
        )
    by = f"with {scene.state.people} people" if scene.state.people > 1 else "for one alone"
    return (
        f"{shop} up to {temperature(high_K)} {by}.",
        "Every cup thickens sooner, and mix on the part closes sooner, too.",
        "Press in the cool of the day, with smaller batches, or take a slower resin.",
    )
