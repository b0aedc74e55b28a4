"""What goes wrong around the part: the shop, the mould or core, damp air, and a cure that was cut short."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from math import inf, isfinite

from layup.chemistry.climate import (
    DAMP_AIR,
    DRY_MARGIN_K,
    FOAMING_AIR,
    Blush,
    blush_risk,
    saturation_pressure_Pa,
    surface_margin_K,
)
from layup.chemistry.datasheet import Datasheet, least_warmth
from layup.chemistry.demould import demould, setting_of
from layup.chemistry.film import film_life_s
from layup.chemistry.temperature import History
from layup.errors import LayupError
from layup.planning.night import forecast
from layup.planning.planner import PlanResult, cold_limits
from layup.review.evidence import FIRST, LARGEST, Certainty, Finding, Scene, evidence
from layup.session.batch_events import BatchMixed, Demoulded, PressClosed
from layup.session.day_events import HumidityRead, WoodMoistureRead
from layup.session.lifetimes import conversion_at, first_K, lifetime, mould_since
from layup.session.state import NightExpected
from layup.session.state_parts import BatchState, in_effect
from layup.units import in_hours, minutes, temperature, temperature_change

OUTSIDE_K = 1.0
"""Less than a thermometer is off does not count, and whole degrees would not show it (common practice, no source)."""
SET_S = 2.0
"""What is logged so soon after the start was set on Stack, and not measured at the bench."""
DRIFT_K = 2.5
"""A shop this much warmer than the plan took it shortens every life by a fifth or so."""
LIFE_SHARE = 0.2
"""A life shortened by this share is felt at the bench (common practice, no source)."""

COLD_RESIN = "Cold resin is thick and wets cloth slowly, and may never set as its maker states."


def warm_up(low_K: float) -> str:
    return f"Warm shop, cans and mould to {temperature(low_K)} and more, and hold it through the cure."


def shop_outside(scene: Scene) -> Iterator[Finding]:
    """Find a shop that was hotter or colder than the plan works in, or much warmer than it was planned for."""
    extremes = _extremes(scene, scene.state.air)
    if extremes is None:
        return
    coldest, hottest = extremes
    low_K, planned_K = coldest_working_K(scene.result, scene.sheet), scene.track.shop.temperature_K
    mass_g = max((batch.mass_g for batch in scene.track.batches if batch.contact_s is not None), default=100.0)
    planned_s, real_s = (scene.cup_life_s(mass_g, kelvin, kelvin) for kelvin in (planned_K, hottest[1]))
    shorter = 1.0 if planned_s is None or real_s is None else planned_s / real_s
    warmer = hottest[1] > planned_K + OUTSIDE_K
    high_K = hottest_working_K(scene.result) if warmer else inf
    too_hot = (hottest[1] - high_K) / 2.0 if hottest[1] > high_K + OUTSIDE_K else 0.0
    drifted = (shorter - 1.0) / LIFE_SHARE if hottest[1] > planned_K + DRIFT_K else 0.0
    if max(too_hot, drifted) > 0.0:
        share = f"{100 * (1.0 - 1.0 / shorter):.0f} % " if shorter > 1.0 else ""
        limit = f" The plan works up to {temperature(high_K)}." if isfinite(high_K) else ""
        yield Finding(
            cause="shop outside the window",
            words=(
                f"The shop reached {temperature(hottest[1])}, where the plan was made for "
                f"{temperature(planned_K)}.{limit}"
            ),
            effect=f"A full cup lives {share}shorter there, and mix on the part closes sooner, too.",
            change=(
                "Plan again at the temperature that the thermometer shows, with smaller batches or a slower resin; "
                "log the temperature when it changes: every countdown follows it."
            ),
            size=max(too_hot, drifted),
            certainty="certain",
            brief=f"the shop reached {temperature(hottest[1])}",
            evidence=evidence(*scene.read("air", scene.state.air[0][0]), *scene.read("air", hottest[0])),
        )
    if coldest[1] < low_K - OUTSIDE_K:
        yield Finding(
            cause="shop outside the window",
            words=f"The shop was at {temperature(coldest[1])}; this plan works from {temperature(low_K)}.",
            effect=COLD_RESIN,
            change=warm_up(low_K),
            size=(low_K - coldest[1]) / 2.0,
            certainty="certain",
            brief=f"the shop was at {temperature(coldest[1])}",
            evidence=evidence(*scene.read("air", coldest[0])),
        )


def _extremes(scene: Scene, history: History) -> tuple[tuple[float, float], tuple[float, float]] | None:
    """Return the coldest and the hottest reading that counted while resin was wet; None without one."""
    readings = in_effect(history, *scene.wet) if scene.wet else ()
    if not readings:
        return None
    return min(readings, key=lambda r: r[1]), max(readings, key=lambda r: r[1])


def coldest_working_K(result: PlanResult | None, sheet: Datasheet) -> float:
    """Return the coldest shop in which a plan works; damp air is judged by `dew_or_blush`."""
    limits_K = [sheet.minimum_temperature_K or -inf]
    with suppress(LayupError):
        cold = cold_limits(result) if result is not None else ()
        limits_K = [limit.temperature_K for limit in cold if limit.kind != "dew"] or limits_K
    return max(limits_K)


def hottest_working_K(result: PlanResult | None) -> float:
    """Return the hottest shop in which a plan works; its whole window is worked out for that."""
    with suppress(LayupError):
        return (result.window.high_K if result is not None else None) or inf
    return inf


def mould_outside(scene: Scene) -> Iterator[Finding]:
    """Find a mould so warm that the film on it closed early, or so cold that resin does not flow and set on it."""
    extremes = _extremes(scene, scene.state.mould)
    if extremes is None:
        return
    coldest, hottest = extremes
    air_K = scene.air_K(hottest[0])
    kinetics = scene.calibration.kinetics
    try:
        limit = kinetics.conversion_film
        lives_s = [film_life_s(kinetics, kelvin, conversion_end=limit) for kelvin in (air_K, hottest[1])]
    except LayupError:
        lives_s = [1.0, 1.0]
    size = (lives_s[0] / lives_s[1] - 1.0) / (2.0 * LIFE_SHARE)
    if size > 1.0:
        yield Finding(
            cause="mould outside the window",
            words=(
                f"The mould was at {temperature(hottest[1])} while the layup was open, in a shop at "
                f"{temperature(air_K)}."
            ),
            effect=f"A film on it stays open {minutes(lives_s[1])}, not {minutes(lives_s[0])}.",
            change="Start the mould's heat once the press is closed, or plan with the part at its own temperature.",
            size=size,
            certainty="certain",
            brief=f"the open mould was at {temperature(hottest[1])}",
            lost_s=lives_s[0] - lives_s[1],
            evidence=evidence(*scene.read("air", hottest[0]), *scene.read("mould", hottest[0])),
        )
    least_K = scene.sets_from_K
    if coldest[1] < least_K - OUTSIDE_K:
        yield Finding(
            cause="mould outside the window",
            words=f"The mould was at {temperature(coldest[1])}; this resin sets from {temperature(least_K)}.",
            effect="Resin on it stays thick, wets cloth badly, and sets slowly or not at all.",
            change=f"Warm the mould to {temperature(least_K)} or more before the first batch, and hold it there.",
            size=(least_K - coldest[1]) / 2.0,
            certainty="certain",
            brief=f"the mould was at {temperature(coldest[1])}",
            evidence=evidence(*scene.read("mould", coldest[0])),
        )


def dew_or_blush(scene: Scene) -> Iterator[Finding]:
    """Find air so damp, or a surface so near its dew point, that water or blush came between the plies."""
    if scene.wet is None:
        return
    begin_s, end_s = scene.wet
    histories = scene.state.air, scene.state.mould, scene.state.humidity
    moments = sorted({begin_s} | {t for history in histories for t, _ in history if begin_s < t <= end_s})
    known = (_damp(scene, time_s) for time_s in moments)
    worst = max((one for one in known if one is not None), key=lambda one: one[0], default=None)
    if worst is None:
        return
    size, time_s, blush = worst
    suspected = {"tacky", "delamination"} & set(scene.defects)
    if blush.risk == "low" or (blush.risk == "raised" and (not suspected or _only_cold(scene, time_s))):
        return
    humid = [e for e in scene.all(HumidityRead) if e.at_s <= time_s][-1:]
    measured = any(e.at_s > SET_S for e in humid)
    yield Finding(
        cause="dew or blush",
        words=" ".join((*blush.reasons, *(() if measured else ("The humidity was set on Stack, and not measured.",)))),
        effect="Amine at the surface takes up water and carbon dioxide: a waxy skin that no ply bonds to.",
        change=(
            f"Warm mould and core to {temperature_change(DRY_MARGIN_K)} above the dew point, dry the air, and use no "
            "unvented flame; wash and scuff a surface that blushed."
        ),
        size=size,
        certainty=scene.foretold("dew or blush", "certain" if measured and blush.risk == "high" else "possible"),
        brief="the surface was near its dew point",
        evidence=evidence(*humid, *scene.read("air", time_s), *scene.read("mould", time_s)),
    )


def _only_cold(scene: Scene, time_s: float) -> bool:
    """Return whether a mould too cold for its resin is all that raises the risk: then that is the cause."""
    air, mould, humidity = _then(scene, time_s)
    if not mould or mould[0][1] >= scene.sets_from_K - OUTSIDE_K:
        return False
    return blush_risk(air[0][1], _damp_now(scene, humidity[0], air[0][1])).risk == "low"


def _then(scene: Scene, time_s: float) -> Iterator[History]:
    """Yield what was last read of shop, mould and humidity by a time."""
    for history in (scene.state.air, scene.state.mould, scene.state.humidity):
        yield in_effect(history, time_s, time_s)


def _damp(scene: Scene, time_s: float) -> tuple[float, float, Blush] | None:
    """Return how damp it was at a time, as a size, with what that risks; None where it is not known."""
    air, mould, humidity = _then(scene, time_s)
    if not humidity or not air:
        return None
    air_K = air[0][1]
    surface_K = min(air_K, mould[0][1]) if mould else air_K
    try:
        damp = _damp_now(scene, humidity[0], air_K)
        blush = blush_risk(air_K, damp, surface_K)
        margin_K = surface_margin_K(surface_K, air_K, damp)
    except LayupError:
        return None
    near = (DRY_MARGIN_K - margin_K) / (0.5 * DRY_MARGIN_K)
    over = 1.0 + (damp - DAMP_AIR) / 0.05
    size = max(near, over) if blush.risk == "high" else 0.8 if blush.risk == "raised" else 0.0
    return size, time_s, blush


def _damp_now(scene: Scene, read: tuple[float, float], air_K: float) -> float:
    """Return the relative humidity of air that was warmed or cooled, and not dried, since it was read."""
    read_K = first_K(in_effect(scene.state.air, read[0], read[0]) or scene.state.air)
    return min(read[1] * saturation_pressure_Pa(read_K) / saturation_pressure_Pa(air_K), 1.0)


def cure_cut_short(scene: Scene) -> Iterator[Finding]:
    """Find a part that left the mould before it was set."""
    closed_s, out_s = scene.state.closed_s, scene.state.demoulded_s
    if closed_s is None or out_s is None:
        return
    held_s, night, moulds = out_s - closed_s, scene.state.night, scene.state.mould
    known = tuple(point for point in mould_since(scene.state, closed_s) if point[0] <= held_s) or ((0.0, first_K(())),)
    mould = forecast(known, now_s=held_s, night_K=night.coldest_K if night else None)
    warmest_K = max(first_K(in_effect(scene.state.air, closed_s, closed_s) or known[-1:]), known[-1][1])
    try:
        setting, _ = setting_of(scene.sheet, scene.calibration.kinetics)
        pressed = [conversion_at(batch, scene.state, scene.calibration, closed_s) for batch in _pressed(scene)]
        begun = min(pressed, default=0.0)
        ready = demould(setting, scene.calibration, mould, conversion_start=begun)
        followed = night is not None or any(at_s > 0.0 for at_s, _ in known)
        warmed = ready if followed else demould(setting, scene.calibration, warmest_K, conversion_start=begun)
    except LayupError:
        return
    if held_s >= ready.out_s.likely:
        return
    certainty: Certainty = "possible"  # no surer where a mould as warm as the shop set it
    if held_s < warmed.out_s.likely:
        certainty = scene.foretold("cure cut short", "certain" if held_s < ready.out_s.low else "likely")
    kelvins = [kelvin for _, kelvin in in_effect(known, 0.0, held_s)]
    to = f" to {temperature(max(kelvins))}" if max(kelvins) - min(kelvins) > 1.0 else ""
    due_s, ends = ready.out_s.likely, isfinite(ready.out_s.likely)
    shop = not moulds or moulds[0][0] > closed_s  # until the mould was read, the shop's temperature stood in
    cold = f", with the night at {temperature(night.coldest_K)} that was expected" if night else ""
    liquid = any(lifetime(batch, scene.state, scene.calibration).gel_s.low > out_s for batch in _pressed(scene))
    yield Finding(
        cause="cure cut short",
        words=(
            f"The part left the mould {minutes(held_s)} after closing, at {temperature(min(kelvins))}{to}; it was due "
            f"after {minutes(due_s) if ends else 'more than two weeks'}{cold}."
            f"{' Its mix had not gelled.' if liquid else ''}"
        ),
        effect=(
            "Mix that still flows holds nothing together: plies and core part and slide."
            if liquid
            else "A part that is not a glass yet bends, creeps and springs back, and sticks to its mould."
        ),
        change="Leave it shut until the cure place says so, or warm it: the colder the mould, the longer.",
        size=FIRST if liquid else 1.0 + (LARGEST - 1.0) * (1.0 - held_s / due_s),
        certainty=certainty,
        brief=f"the part came out after {minutes(held_s)}",
        lost_s=due_s - held_s if ends else None,
        evidence=evidence(
            *scene.last(PressClosed),
            *scene.read("mould", closed_s, out_s),
            *(scene.read("air", closed_s, out_s) if shop else ()),
            *scene.last(NightExpected),
            *scene.last(Demoulded),
        ),
    )


def _pressed(scene: Scene) -> list[BatchState]:
    return [batch for batch in scene.state.batches if batch.pressed_s is not None and batch.mixed_s is not None]


# -- the core of a casting -------------------------------------------------------------------------------------------

COLD_K = 2.0
"""So much colder than it has to be is as bad again (common practice, no source)."""
WET = 0.02
"""So much more water in the wood is as bad again, and so on (common practice, no source)."""


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
        kelvin = read[0][1]
        entries = scene.read("mould" if place == "core" else "air", contact_s)
        yield Finding(
            cause="core cold",
            words=f"The {place} had {temperature(kelvin, '.1f')} at the first pour, {temperature(low_K)} wanted.",
            effect="Cold mix is thick, holds its bubbles, and sets soft or not at all.",
            change=f"Warm core, shop and cans to {temperature(low_K)} and measure at the channel before you mix.",
            size=1.0 + (low_K - kelvin) / COLD_K,
            certainty="certain",
            evidence=evidence(*entries, *scene.all(BatchMixed)[:1]),
        )


def foamed(scene: Scene) -> Iterator[Finding]:
    """Find what of wood and air may have foamed a urethane."""
    if scene.sheet.chemistry != "urethane" or scene.track.contact_s is None:
        return
    moisture, most = scene.state.wood_moisture, scene.plan.casting.core_moisture
    mixed = scene.all(BatchMixed)[:1]
    if moisture is None or moisture > most:
        held = "was not measured" if moisture is None else f"held {100 * moisture:.0f} % water"
        yield Finding(
            cause="core wet",
            words=f"The core {held}; {100 * most:.0f} % or less was wanted.",
            effect="Water makes gas of isocyanate: bubbles along the wood, a wall that is light and soft.",
            change="Dry the core, seal its channel, and pour a test into a scrap of the same wood.",
            size=1.0 if moisture is None else 1.0 + (moisture - most) / WET,
            certainty="possible" if moisture is None else "certain",
            evidence=evidence(*scene.last(WoodMoistureRead), *mixed),
        )
    damp = [one for one in scene.all(HumidityRead) if one.event.relative_humidity > FOAMING_AIR]
    if damp:
        share = damp[0].event.relative_humidity
        yield Finding(
            cause="core wet",
            words=f"The air held {100 * share:.0f} % humidity; up to {100 * FOAMING_AIR:.0f} % is usual.",
            effect="Damp air wets pigment, cups and cans: small bubbles all through.",
            change="Open cans and pigments briefly, and pour on a drier day.",
            size=1.0 + (share - FOAMING_AIR) / 0.1,
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
        evidence=evidence(*scene.last(PressClosed), *scene.last(Demoulded)),
    )


DETECTORS = (shop_outside, mould_outside, dew_or_blush, cure_cut_short)
OF_A_CORE = (core_cold, foamed, planed_early)
