"""What goes wrong at the bench: slow steps, a late press, resin too little or too much, gaps, steps without mix."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from layup.planning.crew import evened_s, pace_of
from layup.review.as_built import AsBuilt, MeasuredLaminate
from layup.review.evidence import FIRST, QUIET_S, Certainty, Entry, Finding, Scene, evidence
from layup.review.pace import SLOWEST, worked_in
from layup.review.timeline import BatchTrack, StepTrack, Stretch, is_running, looked, passed
from layup.session.batch_events import BatchLost, BatchMixed, BatchPouredOut, Observation, PressClosed, StepDone
from layup.session.day_events import PeopleChanged
from layup.session.mass_balance import mass_balance, mix_by_step_g, wants_mix
from layup.session.state import CouponBurnt, Event, PartWeighed, SessionStarted, ThicknessMeasured
from layup.units import mass, minutes

# -- causes bench ----------------------------------------------------------------------------------------------------

SLOW, SLOW_S = 0.5, 180.0
"""A step is slow that took half as long again as planned, and three minutes more."""
KEY_LATE_S = 300.0
"""By so much a key may come late: a slow step is one after which the bench stayed late by more (common practice, no
source)."""
SLOW_DAY, SLOW_DAY_S = 0.3, 480.0
"""The bench as a whole is slow at a third over its plan, and eight minutes."""
SURELY_SLOW_S = 600.0
"""A step over by ten minutes was slow; one over by less may have been logged some minutes late."""
ADDED_S = 30.0
"""What a step's time holds beside its own is told from half a minute on."""
STARVED, RICH = 0.08, 0.12
"""Mix short of, or beyond, what the plan lays, that a part shows (common practice, no source)."""
FINEST = 0.001
"""No fibre fraction is told to be surer than the tenth of a per cent that is printed."""

NO_BOND = "plies do not sink together and do not bond"
CLOSE_IN_TIME = "Mix the first batch later, lay faster, or take a slower resin; go by the press-by time on top."


def slow_steps(scene: Scene) -> Iterator[Finding]:
    """Find the steps that took much longer than planned; where none stands out, the bench as a whole."""
    done = [step for step in scene.track.steps if step.real is not None and not scene.unsure(step.real.end_s)]
    timed = [step for step in done if step.planned.took_s > 0.0]
    planned_s = sum(step.planned.took_s for step in timed)
    over_s = sum(step.over_s or 0.0 for step in timed)
    slow = [step for step in timed if _stayed_s(scene, step) > max(KEY_LATE_S, SLOW * step.planned.took_s)]
    slow.sort(key=lambda step: -(step.over_s or 0.0))
    yield from (_slow_step(scene, step, planned_s) for step in slow[:2])
    rest_s = over_s - sum(step.over_s or 0.0 for step in slow[:2])
    if rest_s > max(SLOW_DAY_S, SLOW_DAY * planned_s):
        done_at = scene.all(StepDone)
        yield Finding(
            cause="slow step",
            words=f"The bench took {minutes(rest_s)} more than planned, spread over {len(timed)} steps.",
            effect=f"That is {100 * rest_s / planned_s:.0f} % over the plan.",
            change="Plan with the pace that this crew has (layup learn), with one more pair of hands, or smaller "
            "batches.",
            size=rest_s / max(600.0, 0.3 * planned_s),
            certainty="certain",
            brief=f"every step was slow, {minutes(rest_s)} in all",
            lost_s=rest_s,
            evidence=evidence(*done_at[:1], *done_at[-1:]),
        )


def _slow_step(scene: Scene, step: StepTrack, planned_s: float) -> Finding:
    assert step.real is not None
    over_s, real = step.over_s or 0.0, step.real
    alone_min = evened_s(scene.plan.crew, scene.state.hands, *real) * pace_of(scene.plan.crew).full / 60.0
    before = [entry for entry in scene.all(StepDone) if entry.at_s <= real.begin_s][-1:]
    done = [entry for entry in scene.all(StepDone) if entry.event.step == step.number]
    fewer = [entry for entry in scene.all(PeopleChanged) if entry.at_s <= real.end_s]
    struck = _struck(scene, real)
    meanwhile = f" Meanwhile: {', '.join(one.event.describe() for one in struck)}." if struck else ""
    beside = ", ".join(one.event.describe().partition(":")[0] for one in struck)
    took = f"took {minutes(real.took_s)}"
    return Finding(
        cause="slow step",
        words=(
            f"'{step.name}' {took}, where {minutes(step.planned.took_s)} were planned"
            f"{_made_of(scene, step)}.{meanwhile}"
        ),
        effect=f"{minutes(over_s)} late from there on, for every cup in use and for the closing.",
        change=f"Lay out dry what it needs before mixing, or mix a batch for it alone. {_learnt(scene, step)}; to plan "
        f"all of it, give its step {alone_min:.0f} minutes, for one pair of hands, and plan without lessons.",
        size=over_s / max(300.0, 0.15 * planned_s),
        certainty="certain" if over_s >= SURELY_SLOW_S and _stayed_s(scene, step) >= 0.6 * over_s else "possible",
        brief=f"{step.name.lower()} {took}, not {minutes(step.planned.took_s)}" + (f" ({beside})" if beside else ""),
        lost_s=over_s,
        evidence=evidence(*before, *fewer, *struck, *done),
    )


def _struck(scene: Scene, real: Stretch) -> list[Entry[Event]]:
    """Return the batches lost during a step, and who left: what its crew would name for its minutes."""
    hands = [people for at_s, people in scene.state.hands if at_s <= real.begin_s]
    left = [one for one in scene.all(PeopleChanged) if one.event.people < (hands or [1])[-1]]
    both: list[Entry[Event]] = [*scene.all(BatchLost), *left]
    return [one for one in both if real.begin_s <= one.at_s <= real.end_s]


def _stayed_s(scene: Scene, step: StepTrack) -> float:
    """Return by how much the bench was still late after the step behind it: what that made up was a late key."""
    after = [one for one in scene.track.steps if one.real and step.real and one.real.begin_s >= step.real.end_s]
    later = min(after, key=lambda one: one.real or one.planned, default=None)
    return (step.over_s or 0.0) + min(later.over_s or 0.0 if later else 0.0, 0.0)


def _made_of(scene: Scene, step: StepTrack) -> str:
    """Say what a step's planned time holds beside its own minutes, as this crew works them."""
    planned_s = next(one.planned_s for one in scene.state.steps if one.number == step.number)
    by_lessons = scene.state.start is not None and scene.state.start.lessons_used
    written = scene.plan.steps[step.number - 1 : step.number] if by_lessons else ()
    written_s = written[0].bench_s / pace_of(scene.plan.crew).full if written else planned_s
    by_lessons_s, waiting_s = planned_s - written_s, step.planned.took_s - planned_s
    added = [
        f"{minutes(abs(more_s))} {'more' if more_s > 0.0 else 'less'} {why}"
        for more_s, why in ((by_lessons_s, "by lessons"), (waiting_s, "for mixing and waiting"))
        if abs(more_s) >= ADDED_S
    ]
    return f": {minutes(written_s)} as the plan has it, {', '.join(added)}" if added else ""


def _learnt(scene: Scene, step: StepTrack) -> str:
    """Say what the next plan takes over of a slow step by itself."""
    worked = worked_in(scene.state, scene.plan)
    if worked is None or step.kind not in worked.log_ratios:
        return "The next plan counts none of it: too little of this day was logged as it was worked"
    return f"The next plan counts some of it by itself, as at most {SLOWEST:.0f} times its minutes (layup learn)"


def closed_late(scene: Scene) -> Iterator[Finding]:
    """Find the batch that was closing on the part before the press was shut."""
    for batch in scene.track.batches:
        if batch.part_seen is not None and batch.part_seen.not_later:
            yield _gelled_open(scene, batch)
    closed_s = scene.track.closed_s
    late = [batch for batch in scene.track.batches if (batch.part_left_s or 0.0) < 0.0 and batch.used]
    if closed_s is None or not late:
        return
    worst = min(late, key=lambda batch: batch.part_left_s or 0.0)
    part = worst.part
    if part is None or worst.contact_s is None:
        return
    surely_s = 0.5 * (part.likely + part.high)
    certainty: Certainty = "certain" if closed_s > part.high else "likely" if closed_s > surely_s else "possible"
    if scene.unsure(worst.contact_s) or scene.unsure(worst.left_cup_s):
        if closed_s < part.high:
            return  # laid at a time that nobody logged, it may have been open longer: the gap says so
        certainty = "possible"
    others = f" So did {len(late) - 1} more." if len(late) > 1 else ""
    seen_s = worst.part_seen.at_s if worst.part_seen else None
    sooner_s = closed_s - (scene.track.planned_closed_s or closed_s)
    beside = f" The plan closed it {minutes(sooner_s)} sooner." if sooner_s > 0.0 else ""
    yield Finding(
        cause="closed late",
        words=(
            f"The press was closed {minutes(closed_s - worst.contact_s)} after batch {worst.number} was mixed, "
            f"{minutes(closed_s - part.low)} past its limit on the part{_because(worst)}.{others}"
        ),
        effect=(
            f"It stays open {minutes(part.low - worst.contact_s)} to {minutes(part.high - worst.contact_s)} from "
            f"first contact: closed later, {NO_BOND}.{beside}"
        ),
        change=CLOSE_IN_TIME,
        size=passed(part, closed_s),
        certainty=scene.foretold("closed late", certainty),
        brief=f"batch {worst.number} had closed on the part",
        lost_s=closed_s - part.low,
        evidence=evidence(
            *scene.last(BatchMixed, worst.number),
            *scene.last(BatchPouredOut, worst.number),
            *(entry for entry in scene.all(Observation, worst.number) if entry.at_s == seen_s),
            *scene.last(PressClosed),
        ),
    )


def _because(batch: BatchTrack) -> str:
    """Say by which look a batch on the part was over, where that was sooner than foretold."""
    return f", {looked(batch.part_seen, batch.contact_s or 0.0)}" if batch.part_seen else ""


def _gelled_open(scene: Scene, batch: BatchTrack) -> Finding:
    """Return the finding of a batch that went off on the part before the press was shut, and was given up."""
    life_s = (batch.lost_s or 0.0) - (batch.contact_s or 0.0)
    return Finding(
        cause="closed late",
        words=f"Batch {batch.number} was lost on the part, {minutes(life_s)} after it was mixed{_because(batch)}.",
        effect="It went off before the press was shut: what lies on it does not bond to it.",
        change="Close sooner after the first batch: smaller batches, more hands, or a slower resin.",
        size=3.0,
        certainty="certain",
        brief=f"batch {batch.number} went off on the part",
        lost_g=batch.mass_g,
        evidence=evidence(*scene.of_cup(batch)),
    )


def wrong_grams(scene: Scene) -> Iterator[Finding]:
    """Find a part with clearly less or more resin than its plan: as measured, or else by what was mixed for it."""
    built = scene.as_built
    if built is not None and built.best is not None:
        yield from _as_measured(scene, built, built.best)
        return
    if is_running(scene.state) or scene.state.start is None or not any(batch.used for batch in scene.track.batches):
        return  # what is not on the part yet may still come
    used = [batch for batch in scene.track.batches if batch.used]
    laid_g, planned_g = _laid_and_planned_g(scene)
    off = laid_g / planned_g - 1.0 if planned_g > 0.0 else 0.0
    if -STARVED <= off <= RICH:
        return
    short, off_g = off < 0.0, abs(laid_g - planned_g)
    yield Finding(
        cause="starved" if short else "resin-rich",
        words=(
            f"{mass(laid_g)} of mix went onto the part, {100 * abs(off):.0f} % {'less' if short else 'more'} than "
            "planned."
        ),
        effect=GRAMS_EFFECT[short],
        change=_grams_change(scene, used, planned_g - laid_g),
        size=-off / STARVED if short else off / RICH,
        certainty="likely",
        brief=f"{mass(off_g)} of mix too {'little' if short else 'much'}",
        lost_g=off_g,
        evidence=evidence(
            *scene.all(SessionStarted),
            *(entry for batch in used for entry in scene.last(BatchMixed, batch.number)),
            *scene.all(BatchLost),
        ),
    )


def _laid_and_planned_g(scene: Scene) -> tuple[float, float]:
    """Return the mix that went on the part and what was planned for it, without what stays in cups and brushes."""
    loss_g, begun = scene.plan.losses.per_batch_g, scene.state.begun_with
    # steps that were added on the day, less those left out
    mix_g, steps = mix_by_step_g(scene.plan, scene.sheet, scene.state), scene.state.steps
    added_g = sum(step.mix_g or 0.0 for step in steps if step.skipped_s is None)
    out_g = sum(mix_g.get(step.number, 0.0) for step in steps if step.skipped_s is not None and step.mix_g is None)
    planned_g = sum(batch.mass_g - loss_g for batch in begun) + added_g - out_g
    used = (batch for batch in scene.track.batches if batch.used)
    return sum(batch.laid_g * (1.0 - loss_g / batch.mass_g) for batch in used), planned_g


GRAMS_EFFECT = {
    True: "Cloth without enough resin stays dry inside, whitish and weak.",
    False: "Resin beyond what the cloth holds is weight, and brittle where it pools.",
}
"""Of too little resin, and of too much."""


def _grams_change(scene: Scene, used: list[BatchTrack], short_g: float) -> str:
    lost = [batch for batch in scene.track.batches if batch.lost_s is not None and batch.contact_s is not None]
    if short_g <= 0.0:
        return f"Mix {mass(-short_g)} less; what is too much is better left in the cup than pressed out."
    if lost:
        return f"Have a batch in reserve: {mass(lost[0].mass_g - lost[0].laid_g)} lost were not replaced in full."
    return f"Mix {mass(short_g)} more, and see that each of {len(used)} cups is scraped out onto the part."


def _as_measured(scene: Scene, built: AsBuilt, best: MeasuredLaminate) -> Iterator[Finding]:
    off, short = built.off_target, built.off_target > 0.0
    if off == 0.0:
        return
    by_coupon, off_by = best.way == "burnt off", max(best.by_mass.sd, FINEST)
    measured: list[Entry[Event]] = [
        *(scene.all(CouponBurnt) if by_coupon else scene.last(PartWeighed)),
        *(scene.all(ThicknessMeasured) if best.way == "thickness" else []),
    ]
    yield Finding(
        cause="starved" if short else "resin-rich",
        words=(
            f"{'A coupon of the' if by_coupon else 'The'} laminate holds {100 * best.by_mass.value:.0f} % fibre by "
            f"weight (± {100 * off_by:.1f} %), where {100 * built.target_by_mass:.0f} % were aimed at."
        ),
        effect=GRAMS_EFFECT[short],
        change=(
            "Wet the cloth out further before it is pressed, or press less."
            if short
            else "Wipe off what stands on the cloth, press harder, or aim at less resin."
        ),
        size=abs(off) / 0.05,
        certainty="likely" if by_coupon else "certain",  # it is one place of the part
        brief=f"the part holds too {'little' if short else 'much'} resin",
        evidence=evidence(*measured),
    )


def gaps(scene: Scene) -> Iterator[Finding]:
    """Find times in which the log is silent while resin was wet, and batches whose end it does not tell."""
    if scene.silences:
        longest = max(scene.silences, key=lambda silence: silence.took_s)
        yield Finding(
            cause="gap in the log",
            words=f"Nothing was logged for {minutes(longest.took_s)} while resin was wet.",
            effect="What happened in that time cannot be told; the steps around it look slower than they were.",
            change="Log each step when it is done, a cup when it is empty, and a temperature every quarter of an hour.",
            size=2.0 * longest.took_s / QUIET_S,
            certainty="likely",
            brief=f"nothing was logged for {minutes(longest.took_s)}",
            evidence=evidence(longest.before, *longest.jumps, longest.burst[0], longest.burst[-1]),
        )
    open_ended = [b for b in scene.track.batches if b.contact_s is not None and b.left_cup_s is None]
    if is_running(scene.state) or not open_ended:
        return
    names = ", ".join(str(batch.number) for batch in open_ended)
    yield Finding(
        cause="gap in the log",
        words=f"Nothing says what became of batch {names} after it was mixed.",
        brief=f"nothing says where batch {names} went",
        effect="Whether it was used in time, or how much resin the part got, cannot be told.",
        change="Log each cup when it is empty, or lost.",
        size=1.2,
        certainty="likely",
        evidence=evidence(
            *(entry for batch in open_ended for entry in scene.last(BatchMixed, batch.number)),
            *scene.last(PressClosed),
        ),
    )


# -- left open -------------------------------------------------------------------------------------------------------


def left_open(scene: Scene) -> Iterator[Finding]:
    """Find the steps without their mix, and those not logged as done, when the press was closed."""
    closed_s = scene.state.closed_s
    if closed_s is None:
        return
    balance = mass_balance(scene.state, mix_by_step_g(scene.plan, scene.sheet, scene.state))
    unmixed = {step for step in wants_mix(scene.state) if balance.of_step(step).laid_share <= 0.0}
    dry = [step.name for step in scene.track.steps if step.number in unmixed]
    laid_g, planned_g = _laid_and_planned_g(scene)
    as_much, built = planned_g > 0.0 and laid_g >= (1.0 - STARVED) * planned_g, scene.as_built
    # then the steps without a batch of their own were laid from another
    holds = as_much or (built is not None and built.best is not None and built.off_target <= 0.0)
    own = [step for step in scene.track.steps if not step.instead]
    undone = [step.name for step in own if step.real is None or step.real.end_s > closed_s]
    nor_done = ", nor were they logged as done" if set(dry) <= set(undone) else ""
    no_mix = f"By the log no mix was laid for {_names(dry)} before the press was closed{nor_done}." if dry else ""
    rest = undone if not nor_done else [name for name in undone if name not in dry]
    not_done = f"Not logged as done before the press was closed: {_names(rest)}." if rest else ""
    closed = scene.last(PressClosed)
    if dry and not holds:
        mixed = [batch for batch in scene.track.batches if batch.contact_s is not None and batch.left_cup_s is None]
        yield Finding(
            cause="starved",
            words=f"{no_mix} {not_done}".strip(),
            effect="Cloth and faces without resin stay dry and bond to nothing.",
            change="Close only when every batch is on the part and every step done; Bench lists what is left.",
            size=FIRST,
            certainty="likely" if mixed else "certain",
            brief=f"{dry[0].lower()} got no mix" if len(dry) == 1 else f"{len(dry)} steps got no mix",
            evidence=evidence(*scene.all(SessionStarted), *scene.all(BatchLost), *closed),
        )
    elif undone or (dry and not as_much):
        weighed = "The part holds its resin all the same." if dry else ""
        yield Finding(
            cause="gap in the log",
            words=" ".join(filter(None, (no_mix, weighed, not_done))),
            brief="some steps were not logged",
            effect="Whether they were left out, or how long they took, cannot be told.",
            change="Log each step when it is done and each cup when it is empty, before you close.",
            size=1.2,
            certainty="likely",
            evidence=evidence(*scene.last(StepDone), *closed),
        )


def _names(steps: Iterable[str]) -> str:
    return ", ".join(f"'{name}'" for name in steps)


DETECTORS = (left_open, slow_steps, closed_late, wrong_grams, gaps)
