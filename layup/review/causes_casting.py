"""What goes wrong with a casting: poured or joined too late, a core too cold, foam, and planed too early."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from math import isfinite

from layup.chemistry.casting import DAMP_AIR
from layup.chemistry.demould import demould, least_warmth, setting_of
from layup.errors import LayupError
from layup.planning.plan import CastStep
from layup.planning.pours import hardens_s
from layup.review.causes_cup import OF_THE_MIX, left_cup
from layup.review.evidence import Finding, Scene, evidence
from layup.session.batch_events import BatchMixed, BatchPouredOut, Demoulded, PressClosed
from layup.session.day_events import HumidityRead, TemperatureRead, WoodMoistureRead
from layup.session.lifetimes import careful, mould_since
from layup.session.state_parts import BatchState, in_effect
from layup.units import countdown, in_hours, minutes, temperature

A_POUR_S = 10.0
"""A pour this little late was in time: nobody logs a poured cup more exactly (common practice, no source)."""
COLD_K = 2.0
"""So much colder than it has to be is as bad again (common practice, no source)."""
WET = 0.02
"""So much more water in the wood is as bad again, and so on (common practice, no source)."""


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
            evidence=evidence(*scene.ledger.of_batch(BatchMixed, batch.number), *left_cup(scene, batch)),
        )


def joined_late(scene: Scene) -> Iterator[Finding]:
    """Find each pour that came when the one before it no longer took it, and each that came before it stood."""
    for number, step in enumerate(scene.plan.steps, 1):
        if not isinstance(step, CastStep):
            continue
        out = [one for one in scene.state.batches if number in one.steps and one.poured_out_s is not None]
        for before, after in pairwise(sorted(out, key=lambda one: one.poured_out_s or 0.0)):
            window = _window(scene, step, before)
            if window is None or after.poured_out_s is None:
                continue
            late_s, early_s = after.poured_out_s - window[1], window[0] - after.poured_out_s
            if max(late_s, early_s) < A_POUR_S:
                continue
            stated = step.join_s is not None
            past = countdown(max(late_s, early_s))
            yield Finding(
                cause="joined late" if late_s > 0.0 else "joined early",
                words=f"Pour {after.number} came {past} {'after' if late_s > 0.0 else 'before'} pour {before.number} "
                f"{'had set' if late_s > 0.0 else 'was firm enough to stand'}.",
                effect="The two hold by adhesion alone: a line that opens."
                if late_s > 0.0
                else "The colours run into each other.",
                change="Weigh the next cup before the last is mixed, or roughen what has set."
                if late_s > 0.0
                else "Wait until the last is firm: the Bench counts it down.",
                size=1.0 + max(late_s, early_s) / max(0.2 * (window[1] - window[0]), 60.0),
                certainty="certain" if stated else "likely",
                lost_s=max(late_s, early_s),
                evidence=evidence(
                    *scene.ledger.of_batch(BatchPouredOut, before.number),
                    *scene.ledger.of_batch(BatchPouredOut, after.number),
                ),
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
        hard_s = (before.mixed_s or 0.0) + hardens_s(scene.sheet, part[0][1]) if part else gel_s.high
    except LayupError:
        return None
    return gel_s.high, max(hard_s, gel_s.high)


def core_cold(scene: Scene) -> Iterator[Finding]:
    """Find a core, or a shop, that was too cold for its resin as the first pour went in."""
    contact_s = scene.track.contact_s
    if contact_s is None:
        return
    least_K = least_warmth(scene.sheet)[0]
    wanted_K = max(scene.plan.casting.core_K or least_K, least_K)
    for place, history, low_K in (("core", scene.state.mould, wanted_K), ("shop", scene.state.air, least_K)):
        read = in_effect(history, contact_s, contact_s)[:1]
        if not read or read[0][1] >= low_K - 0.5:
            continue
        at_s, kelvin = read[0]
        name = "mould" if place == "core" else "air"
        entries = [one for one in scene.ledger.all(TemperatureRead) if one.event.place == name and one.at_s == at_s]
        yield Finding(
            cause="core cold",
            words=f"The {place} had {temperature(kelvin, '.1f')} at the first pour, {temperature(low_K)} wanted.",
            effect="Cold mix is thick, holds its bubbles, and sets soft or not at all.",
            change=f"Warm core, shop and cans to {temperature(low_K)} and measure at the channel before you mix.",
            size=1.0 + (low_K - kelvin) / COLD_K,
            certainty="certain",
            evidence=evidence(*entries, *scene.ledger.all(BatchMixed)[:1]),
        )


def foamed(scene: Scene) -> Iterator[Finding]:
    """Find what of wood and air may have foamed a urethane."""
    if scene.sheet.chemistry != "urethane" or scene.track.contact_s is None:
        return
    moisture, most = scene.state.wood_moisture, scene.plan.casting.core_moisture
    mixed = scene.ledger.all(BatchMixed)[:1]
    if moisture is None or moisture > most:
        held = "was not measured" if moisture is None else f"held {100 * moisture:.0f} % water"
        yield Finding(
            cause="core wet",
            words=f"The core {held}; {100 * most:.0f} % or less was wanted.",
            effect="Water makes gas of isocyanate: bubbles along the wood, a wall that is light and soft.",
            change="Dry the core, seal its channel, and pour a test into a scrap of the same wood.",
            size=1.0 if moisture is None else 1.0 + (moisture - most) / WET,
            certainty="possible" if moisture is None else "certain",
            evidence=evidence(*scene.ledger.all(WoodMoistureRead)[-1:], *mixed),
        )
    damp = [one for one in scene.ledger.all(HumidityRead) if one.event.relative_humidity > DAMP_AIR]
    if damp:
        share = damp[0].event.relative_humidity
        yield Finding(
            cause="core wet",
            words=f"The air held {100 * share:.0f} % humidity; up to {100 * DAMP_AIR:.0f} % is usual.",
            effect="Damp air wets pigment, cups and cans: small bubbles all through.",
            change="Open cans and pigments briefly, and pour on a drier day.",
            size=1.0 + (share - DAMP_AIR) / 0.1,
            certainty="possible",
            evidence=evidence(damp[0], *mixed),
        )


def planed_early(scene: Scene) -> Iterator[Finding]:
    """Find a wall that was planed before it was hard."""
    closed_s, planed_s = scene.state.closed_s, scene.state.demoulded_s
    if closed_s is None or planed_s is None:
        return
    history = mould_since(scene.state, closed_s) or scene.track.shop.temperature_K
    setting, _ = setting_of(scene.sheet, scene.calibration.kinetics)
    out_s = demould(setting, scene.calibration, history).out_s
    waited_s = planed_s - closed_s
    if waited_s >= out_s.likely:
        return
    yield Finding(
        cause="planed early",
        words=f"Planed {minutes(waited_s)} after the last pour; hard enough after {in_hours(out_s.likely, '.1f')}.",
        effect="A wall that is not hard tears, smears, and moves under the plane.",
        change=f"Leave it for {in_hours(out_s.likely, '.1f')} at that warmth, or keep it warmer.",
        size=1.0 + (out_s.likely - waited_s) / max(0.2 * out_s.likely, 600.0),
        certainty="certain" if waited_s < out_s.low else "likely",
        lost_s=out_s.likely - waited_s if isfinite(out_s.likely) else None,
        evidence=evidence(*scene.ledger.all(PressClosed)[-1:], *scene.ledger.all(Demoulded)[-1:]),
    )


DETECTORS = (
    poured_late,
    joined_late,
    core_cold,
    foamed,
    planed_early,
    *OF_THE_MIX,
)
