"""What goes wrong in the cup: mix used too late, too much or too warm in one cup, the ratio; and from pour to pour."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from math import inf

from layup.chemistry.cure import off_ratio_cure
from layup.chemistry.mixing import parts_by_mass, smallest_batch_g, split_mass, worst_case_off_ratio
from layup.errors import LayupError
from layup.planning.clocks import Due, hot_cup
from layup.planning.crew import pace_of
from layup.planning.mix_sheet import OFF_RATIO, ON_RATIO
from layup.planning.plan import CastStep
from layup.planning.pours import URETHANE_STIRRING_S, hardens
from layup.review.evidence import Certainty, Entry, Finding, Scene, evidence, usual_causes
from layup.review.timeline import BatchTrack, looked, passed
from layup.session.batch_events import (
    BatchMixed,
    BatchPouredOut,
    CupTemperatureRead,
    Observation,
    Replanned,
    StepDone,
)
from layup.session.lifetimes import careful, first_K
from layup.session.state import Event
from layup.session.state_parts import BatchState, Sight, in_effect
from layup.units import countdown, mass, minutes, temperature, temperature_change

TOO_LARGE = 1.15
"""A batch this much above its plan is another batch."""
WARM_CANS_K = 4.0
"""Mix that starts this much above the shop was warm in the can."""
RISE_K = 15.0
"""A cup this much further above its start is as bad again (common practice, no source)."""
AT_ONCE_S = 60.0
"""A cup that is emptied so soon after it was seen to thicken was emptied at once."""
HARDLY = 0.5
"""Laid after less than this share of the stirring that was planned, it was hardly stirred (our own judgement)."""


def past_thickening(scene: Scene) -> Iterator[Finding]:
    """Find each batch that left its cup later than it should have."""
    for batch in scene.track.batches:
        left_s, due, seen, by = batch.left_cup_s, batch.cup_due, batch.cup_seen, batch.cup_by
        if batch.contact_s is None or left_s is None or due is None or by is None:
            continue
        stage, unsure = by.stage(left_s), scene.unsure(left_s)
        certainty: Certainty = "possible" if unsure else "certain"
        # seen runny no more than a minute before it left its cup: that beats the model
        runny = any(word == "runny" and left_s - 60.0 <= at_s <= left_s for at_s, word in batch.observations)
        if seen is not None and (seen.word != "thickening" or seen.not_later or left_s - seen.at_s > AT_ONCE_S):
            thick_s = seen.at_s
            size = 2.0 + (left_s - thick_s) / max(0.1 * (due.likely - batch.contact_s), 60.0)
        elif unsure and left_s < due.high:
            continue  # logged after a silence, it may have been empty long before: the gap says so
        elif stage in ("may be over", "past") and seen is None and not runny:
            thick_s = due.low
            foretold: Certainty = "certain" if stage == "past" else "likely" if left_s > due.likely else "possible"
            certainty = "possible" if unsure else scene.foretold("past thickening", foretold, on_part=batch.used)
            size = passed(due, left_s)
        else:
            continue
        # the look at which it was no longer runny; a loss stands in its own entry
        look = [one for one in scene.all(Observation, batch.number) if seen and (one.at_s, one.event.word) == seen[:2]]
        yield Finding(
            cause="past thickening",
            words=(
                f"Batch {batch.number} was in its cup for {minutes(left_s - batch.contact_s)}, "
                f"{_past(left_s - thick_s, seen, batch.contact_s)}{_what_was_lost(batch)}."
            ),
            effect=(
                f"{_late(batch, by)}"
                f"Thickening was due {minutes(due.low - batch.contact_s)} to {minutes(due.high - batch.contact_s)} "
                f"after first contact{' and came sooner' if thick_s < due.low else ''}: thick mix no longer wets "
                "cloth, and shuts air in."
            ),
            change=(
                f"Empty a cup of {mass(batch.mass_g)} within "
                f"{minutes(_careful_s(by, batch.contact_s, min(thick_s, due.low)))} of first contact: mix less at a "
                "time, or spread it on the part at once."
            ),
            size=size,
            certainty=certainty,
            brief=f"batch {batch.number} thickened in its cup",
            lost_s=max(left_s - thick_s, 0.0),
            lost_g=batch.mass_g - (0.0 if batch.lost_s is None else batch.laid_g),
            evidence=evidence(*look[:1], *scene.of_cup(batch)),
        )


def _past(over_s: float, seen: Sight | None, contact_s: float) -> str:
    """Say how long it was past thickening, and by which look."""
    past = "past thickening" if over_s < 30.0 else f"{minutes(over_s)} past thickening"
    by_look = looked(seen, contact_s) if seen else ""
    return by_look if seen and seen.not_later else f"{past} {by_look}".rstrip()


def _late(batch: BatchTrack, by: Due) -> str:
    """Say by when its cup had to be empty, well before it thickens, and how late it was."""
    left_s, contact_s = batch.cup_left_s, batch.contact_s
    if left_s is None or contact_s is None or left_s > -30.0:
        return ""
    return f"Its cup had to be empty at {minutes(by.by_s - contact_s)}, {minutes(-left_s)} before it was. "


def _what_was_lost(batch: BatchTrack) -> str:
    if batch.lost_s is None:
        return ""
    lost_g = batch.mass_g - batch.laid_g
    in_part = batch.used and lost_g > 0.5
    return f", and {lost_g:.0f} of its {mass(batch.mass_g)} were lost" if in_part else ", and was lost"


def _careful_s(by: Due, contact_s: float, thick_s: float) -> float:
    """Return how long after first contact to empty such a cup, had it been known when it would thicken."""
    if by.low_s <= contact_s:  # lost as thick within the second in which it was mixed
        return 0.0
    return (by.by_s - contact_s) / (by.low_s - contact_s) * (thick_s - contact_s)


def cup_too_large(scene: Scene) -> Iterator[Finding]:
    """Find each batch that was mixed larger than planned, or than the largest cup may hold."""
    most_g = scene.plan.largest_cup_g
    for batch in scene.track.batches:
        if batch.contact_s is None or batch.planned_g <= 0.0:
            continue
        allowed_g = min(batch.planned_g, most_g or batch.planned_g)
        in_time = batch.cup_left_s is not None and batch.cup_left_s >= 0.0 and batch.cup_seen is None
        browned = "cup too large" in usual_causes(scene.defects) or _measured_hot(scene, batch) is not None
        if batch.mass_g <= TOO_LARGE * allowed_g or (in_time and not browned):
            continue  # no harm was done by a cup that was empty in time, seen neither thick nor hot
        times, mixed = batch.mass_g / allowed_g, scene.last(BatchMixed, batch.number)
        logged = scene.state.batch(batch.number)
        righted_g = (logged.resin_g or 0.0) - mixed[0].event.resin_g if logged and mixed else 0.0
        start_K, air_K = batch.start_K or first_K(scene.state.air), scene.air_K(batch.contact_s)
        planned_s, real_s = (scene.cup_life_s(mass_g, start_K, air_K) for mass_g in (allowed_g, batch.mass_g))
        shorter = ""
        if planned_s is not None and real_s is not None and planned_s >= 1.05 * real_s:
            shorter = f"Such a cup thickens after {minutes(real_s)}, not {minutes(planned_s)}. "
        yield Finding(
            cause="cup too large",
            words=f"Batch {batch.number} was {mass(batch.mass_g)} in one cup, where {mass(allowed_g)} were planned.",
            effect=f"{shorter}It takes {times:.1f} times as long to lay, and heats itself more.",
            change=(
                f"Pour the last of the hardener slowly: {mass(righted_g)} of resin had to put its ratio right."
                if righted_g > 0.5
                else f"Weigh what is planned for a cup, here {mass(allowed_g)}; what the part needs beyond that is a "
                "batch of its own."
            ),
            size=(times - 1.0) / (TOO_LARGE - 1.0),
            certainty="certain",
            brief=f"batch {batch.number} was {mass(batch.mass_g)} in one cup",
            evidence=evidence(*scene.last(Replanned), *scene.of_cup(batch)),
        )


def cup_too_hot(scene: Scene) -> Iterator[Finding]:
    """Find each cup that started warm from the can, or was measured hot."""
    for batch in scene.track.batches:
        if batch.contact_s is None or batch.start_K is None:
            continue
        found = _warm_cans(scene, batch), _measured_hot(scene, batch)
        yield from (finding for finding in found if finding is not None)


def _warm_cans(scene: Scene, batch: BatchTrack) -> Finding | None:
    air_K, start_K = scene.air_K(batch.contact_s or 0.0), batch.start_K or 0.0
    if start_K - air_K <= WARM_CANS_K:
        return None
    cool_s, warm_s = (scene.cup_life_s(batch.mass_g, kelvin, air_K) for kelvin in (air_K, start_K))
    if cool_s is None or warm_s is None:
        return None
    return Finding(
        cause="cup too hot",
        words=(
            f"Batch {batch.number} started at {temperature(start_K)} in a shop at {temperature(air_K)}: the cans "
            "were warm."
        ),
        effect=f"It thickened after about {minutes(warm_s)} instead of {minutes(cool_s)}.",
        change=f"Let the cans come to the shop's temperature, or plan with the resin at {temperature(start_K)}.",
        size=(cool_s / warm_s - 1.0) / 0.12,
        certainty="certain",
        brief=f"the cans were at {temperature(start_K)}",
        lost_s=cool_s - warm_s,
        evidence=evidence(*scene.of_cup(batch)),
    )


def _measured_hot(scene: Scene, batch: BatchTrack) -> Finding | None:
    start_K = batch.start_K or 0.0
    left_s = scene.track.end_s if batch.left_cup_s is None else batch.left_cup_s
    hot = [
        entry
        for entry in scene.all(CupTemperatureRead, batch.number)
        if entry.at_s <= left_s and hot_cup(entry.event.temperature_K) is not None
    ]
    if not hot:
        return None
    top = max(hot, key=lambda entry: entry.event.temperature_K)
    rise_K = top.event.temperature_K - start_K
    return Finding(
        cause="cup too hot",
        words=(
            f"Batch {batch.number} was measured at {temperature(top.event.temperature_K)} in its cup, "
            f"{temperature_change(rise_K)} above its start."
        ),
        effect="A cup that warm thickens within minutes, and browns or foams what it is used for.",
        change=(
            f"Pour a cup of {mass(batch.mass_g)} out before it warms, or mix less: a wide tray 3 mm deep stays cool. "
            "A hot cup goes outside, away from anything that burns."
        ),
        size=max(rise_K / RISE_K, 1.0),
        certainty="certain",
        brief=f"cup {batch.number} reached {temperature(top.event.temperature_K)}",
        lost_g=batch.mass_g,
        evidence=evidence(hot[0], top, *scene.of_cup(batch)),
    )


def off_ratio(scene: Scene) -> Iterator[Finding]:
    """Find each batch used that was poured further off ratio than its scale could hide."""
    parts = parts_by_mass(scene.sheet)
    for batch in scene.track.batches:
        off = batch.off_ratio
        if off is None or not batch.used or abs(off) <= max(ON_RATIO, min(_hidden(scene, batch), OFF_RATIO)):
            continue
        resin_g, hardener_g = split_mass(batch.mass_g, parts)
        wrong = f"batch {batch.number} had {100 * abs(off):.0f} % too {'much' if off > 0 else 'little'} hardener"
        yield Finding(
            cause="off ratio",
            words=f"{wrong.capitalize()}.",
            effect=(
                "Hardener in excess stays in the part unbound: soft, tacky or brittle. "
                if off > 0
                else "Resin without its hardener never sets: soft and tacky. "
            )
            + off_ratio_cure(scene.sheet, off).words,
            change=(
                f"{mass(batch.mass_g)} are {mass(resin_g)} resin and {mass(hardener_g)} hardener: read the scale's "
                "verdict before you stir, and put it right while it still pours."
            ),
            size=abs(off) / OFF_RATIO,
            certainty="certain" if abs(off) > OFF_RATIO else "possible",
            brief=wrong,
            lost_g=batch.mass_g,
            evidence=evidence(*scene.last(BatchMixed, batch.number), *scene.all(BatchPouredOut, batch.number)),
        )


def ratio_unread(scene: Scene) -> Iterator[Finding]:
    """Find each batch used whose scale nobody read: its ratio is not known."""
    for batch in scene.track.batches:
        if not batch.used or not batch.unread:
            continue
        yield Finding(
            cause="ratio unread",
            words=f"Batch {batch.number} went onto the part with its {' and '.join(batch.unread)} unread.",
            effect="Its ratio is not known; beyond 5 % off an epoxy sets soft or tacky (common practice, no source).",
            change="Read the scale before the hardener goes in and after it, while the cup can still be put right.",
            size=1.0,
            certainty="possible",
            brief=f"nobody read the scale of batch {batch.number}",
            lost_g=batch.mass_g,
            evidence=evidence(*scene.of_cup(batch)),
        )


def hardly_stirred(scene: Scene) -> Iterator[Finding]:
    """Find each batch that was laid, by the log, before it can have been stirred as planned."""
    most_s = URETHANE_STIRRING_S if scene.sheet.chemistry == "urethane" else inf
    stir_s = min(pace_of(scene.plan.crew).stirring_s, most_s)
    for batch in scene.track.batches:
        first = _first_laid(scene, batch) if batch.used else None
        if first is None or batch.contact_s is None or scene.unsure(first.at_s):
            continue
        held_s = first.at_s - batch.contact_s
        if held_s >= HARDLY * stir_s:
            continue
        yield Finding(
            cause="hardly stirred",
            words=(
                f"Batch {batch.number}, {mass(batch.mass_g)}, was laid {countdown(held_s)} after its hardener went in; "
                f"{countdown(stir_s)} of stirring were planned."
            ),
            effect="Streaks of resin and of hardener stay soft or tacky where they lie (common practice, no source).",
            change="Stir for the whole time: scrape the sides and the bottom, change the stick, stir again.",
            size=2.0 - held_s / (HARDLY * stir_s),
            certainty="possible",
            brief=f"batch {batch.number} was hardly stirred",
            evidence=evidence(*scene.last(BatchMixed, batch.number), first),
        )


def _first_laid(scene: Scene, batch: BatchTrack) -> Entry[Event] | None:
    """Return the entry by which a batch was surely laid: its cup was empty, or a step was done that it alone lays."""
    own = set(getattr(scene.state.batch(batch.number), "steps", ()))
    others = (one for one in scene.state.batches if one.number != batch.number and (one.lost_s is None or one.stays))
    own -= {step for one in others for step in one.steps}
    done = [one for one in scene.all(StepDone) if one.event.step in own and one.at_s >= (batch.contact_s or 0)]
    laid: list[Entry[Event]] = [*scene.all(BatchPouredOut, batch.number), *done]
    return min(laid, key=lambda entry: entry.at_s, default=None)


def _hidden(scene: Scene, batch: BatchTrack) -> float:
    """Return how far off ratio the scale's last digit can leave a batch of this mass; 1 where it tells nothing."""
    try:
        return worst_case_off_ratio(batch.mass_g, parts_by_mass(scene.sheet), scene.plan.scale.readability_g)
    except LayupError:
        return 1.0


def scale_too_coarse(scene: Scene) -> Iterator[Finding]:
    """Find each batch used that was too small for the scale: its ratio may be off though the readings are right."""
    parts, digit_g = parts_by_mass(scene.sheet), scene.plan.scale.readability_g
    for batch in scene.track.batches:
        if batch.contact_s is None or not batch.used or (hidden := _hidden(scene, batch)) <= 1.5 * ON_RATIO:
            continue
        yield Finding(
            cause="scale too coarse",
            words=(
                f"Batch {batch.number} was only {mass(batch.mass_g)} on a scale that shows {mass(digit_g, 'g')}: it "
                f"may be {100 * hidden:.0f} % off ratio with the right readings."
            ),
            effect="Beyond 5 % an epoxy sets soft or tacky (common practice, no source).",
            change=(
                f"Use a scale that shows {mass(digit_g / 10, 'g')} for such a batch, or mix at least "
                f"{mass(smallest_batch_g(parts, digit_g))}."
            ),
            size=hidden / OFF_RATIO,
            certainty="likely" if hidden > 2.0 * OFF_RATIO else "possible",
            brief=f"batch {batch.number} was too small for its scale",
            lost_g=batch.mass_g,
            evidence=evidence(*scene.last(BatchMixed, batch.number)),
        )


# -- pours -----------------------------------------------------------------------------------------------------------

A_POUR_S = 10.0
"""A pour this little late was in time: nobody logs a poured cup more exactly (common practice, no source)."""


def poured_late(scene: Scene) -> Iterator[Finding]:
    """Find each pour that left its cup after it had to be empty."""
    for batch in scene.track.batches:
        if batch.contact_s is None or batch.left_cup_s is None or batch.cup_by is None or batch.cup is None:
            continue
        late_s = batch.left_cup_s - batch.cup_by.by_s
        if late_s < A_POUR_S:
            continue
        thick = batch.left_cup_s >= batch.cup_by.low_s
        held_s, allowed_s = batch.left_cup_s - batch.contact_s, batch.cup_by.by_s - batch.contact_s
        yield Finding(
            cause="poured late",
            words=f"Pour {batch.number} was {countdown(held_s)} in its cup, to be empty after {countdown(allowed_s)}.",
            effect=(
                "Mix that thickens holds its bubbles, does not level, and joins the pour before badly."
                if thick
                else "It was near thickening: bubbles stay in it, and it levels slowly."
            ),
            change="Pour smaller cups, tape and level before the hardener, cool the cans, or get help.",
            size=1.0 + late_s / max(0.1 * allowed_s, A_POUR_S),
            certainty=scene.foretold("poured late", "certain" if thick else "likely", on_part=batch.used),
            lost_s=late_s,
            lost_g=batch.mass_g if thick else None,
            evidence=evidence(*scene.of_cup(batch)),
        )


def joined_badly(scene: Scene) -> Iterator[Finding]:
    """Find each pour that came when the one before it no longer took it, and each that came before it stood."""
    for number, step in enumerate(scene.plan.steps, 1):
        out = [one for one in scene.state.batches if number in one.steps and one.poured_out_s is not None]
        for before, after in pairwise(sorted(out, key=lambda one: one.poured_out_s or 0.0)):
            window = _window(scene, step, before) if isinstance(step, CastStep) else None
            if window is None or after.poured_out_s is None:
                continue
            late_s, early_s = after.poured_out_s - window[1], window[0] - after.poured_out_s
            off_s, late = max(late_s, early_s), late_s > 0.0
            if off_s < A_POUR_S:
                continue
            yield Finding(
                cause="joined late" if late else "joined early",
                words=f"Pour {after.number} came {countdown(off_s)} {'after' if late else 'before'} pour "
                f"{before.number} {'had set' if late else 'was firm enough to stand'}.",
                effect="The two hold by adhesion alone: a line that opens."
                if late
                else "The colours run into each other.",
                change="Weigh the next cup before the last is mixed, or roughen what has set."
                if late
                else "Wait until the last is firm: the Bench counts it down.",
                size=1.0 + off_s / max(0.2 * (window[1] - window[0]), 60.0),
                certainty="certain" if isinstance(step, CastStep) and step.join_s is not None else "likely",
                lost_s=off_s,
                evidence=evidence(*scene.all(BatchPouredOut, before.number), *scene.all(BatchPouredOut, after.number)),
            )


def _window(scene: Scene, step: CastStep, before: BatchState) -> tuple[float, float] | None:
    """Return from when and until when a pour took the next; None where nobody can say."""
    poured_s = before.poured_out_s or 0.0
    if step.join_s is not None:
        return poured_s + step.join_s[0], poured_s + step.join_s[1]
    try:
        gel_s = careful(before, scene.state, scene.calibration).gel_s
        if step.join == "soft":
            return poured_s, gel_s.low
        part = in_effect(scene.state.mould or scene.state.air, poured_s, poured_s)
        hard_s = (before.mixed_s or 0.0) + hardens(scene.sheet, part[0][1]).out_s.low if part else gel_s.high
    except LayupError:
        return None
    return gel_s.high, max(hard_s, gel_s.high)


OF_THE_MIX = (off_ratio, ratio_unread, hardly_stirred, scale_too_coarse)
"""What goes wrong as a batch is weighed and mixed, whatever it is for."""
OF_POURS = (poured_late, joined_badly)
DETECTORS = (past_thickening, cup_too_large, cup_too_hot, *OF_THE_MIX)
