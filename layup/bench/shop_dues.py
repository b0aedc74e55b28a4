"""What is due beside the work at the bench: the clock, the files, how warm the shop and the part are."""

from __future__ import annotations

from collections.abc import Iterator

from layup.bench.acts import Act
from layup.bench.day import PressDay
from layup.bench.opening import plan_now
from layup.dimensions import ZERO_CELSIUS_K
from layup.errors import LayupError
from layup.planning.fit import doubts_of_cold
from layup.planning.planner import cold_limits
from layup.units import minutes, temperature

SHOP_BACK_K = 0.5
"""How far back within its window the shop must be before it counts as back (common practice, no source)."""


def shop_acts(day: PressDay, now_s: float) -> list[Act]:
    """Return what can be done about clock, files, thermometer and warmth."""
    return [*_clock(day), *_files(day), *_temperatures(day, now_s)]


def _clock(day: PressDay) -> Iterator[Act]:
    """The machine was off, and nobody has said what time it is: every age may be too young."""
    if day.state.clock_unsure:
        since_s = day.state.sure.elapsed_s if day.state.sure else 0.0
        why = "the machine was off: all is older than it says"
        yield Act("answer clock", "SAY WHAT TIME IT IS", "clock", urgency="now", why=why, since_s=since_s, alarm=True)


def _files(day: PressDay) -> Iterator[Act]:
    """Events are in memory only, or another program meddles with the files."""
    if day.fault and not day.watching:
        why = day.fault.partition(" - ")[0]
        yield Act("save", "MEND THE DISK", "journal", urgency="now", why=why, alarm=True)
    if day.mended:
        yield Act("mend files", "STOP WHAT SYNCS THIS FOLDER", "files", urgency="soon", why=day.mended, alarm=True)


def _temperatures(day: PressDay, now_s: float) -> Iterator[Act]:
    """The thermometer is silent; the shop has left the temperatures that the plan works in."""
    if day.thermometer_silent_s is not None:
        why = f"thermometer silent for {minutes(day.thermometer_silent_s)}"
        since_s = now_s - day.thermometer_silent_s
        yield Act("temperature", "READ THE TEMPERATURE", "thermometer", why=why, since_s=since_s, alarm=True)
    state = day.state
    mixing = state.closed_s is None and any(batch.status in ("to mix", "weighed") for batch in state.batches)
    cold = next(_cold(day, mixing=mixing), None)
    if cold is not None:
        yield cold
        return
    if not mixing:
        return
    gone, (low_K, high_K) = shop_gone(state.air, day.window_K), day.window_K
    if gone is None:
        return
    warm, since_s = gone
    here = f"shop {temperature(state.air[-1][1], '.1f')}"
    if warm and high_K is not None:
        why = f"{here}: plan works to {temperature(high_K, '.1f')}"
        yield Act("cool shop", "COOL THE SHOP", "shop", urgency="soon", why=why, since_s=since_s, alarm=True)
    elif not warm and low_K is not None:
        why = f"{here}: plan works from {temperature(low_K, '.1f')}"
        yield Act("warm shop", "WARM THE SHOP", "shop", urgency="soon", why=why, since_s=since_s, alarm=True)


def _cold(day: PressDay, *, mixing: bool) -> Iterator[Act]:
    """What the shop, or the part, is too cold for, by the rule of the page before the day; what is not known last."""
    state = day.state
    if not day.is_known or not state.air or state.demoulded_s is not None:
        return
    try:
        now = plan_now(day)
        limits = [(limit, True) for limit in sorted(cold_limits(now), key=lambda limit: -limit.temperature_K)]
        limits += [(limit, False) for limit in doubts_of_cold(now, at_K=ZERO_CELSIUS_K)]
    except LayupError:
        return  # beyond the model nobody can say
    for limit, sure in limits:
        if limit.kind != "minimum" and not mixing:
            continue
        part = "core" if state.is_casting else "part"
        own, name = (state.resin, "cans") if limit.kind == "thick" else (state.mould, part)
        history, where = (own, name) if own else (state.air, "shop")
        gone = shop_gone(history, (limit.temperature_K, None))
        if gone is None:
            continue
        yield Act(
            kind="warm shop",
            words="WARM THE SHOP" if mixing and where != "core" else f"WARM THE {part.upper()}",
            key="shop" if mixing else "cold part",
            urgency="soon" if sure and (mixing or state.closed_s is not None) else "fresh",
            why=f"{where} {temperature(history[-1][1], '.1f')}: {limit.short} below {temperature(limit.temperature_K)}",
            since_s=gone[1],
            alarm=True,
        )


def shop_gone(
    air: tuple[tuple[float, float], ...], window_K: tuple[float | None, float | None]
) -> tuple[bool, float] | None:
    """Return whether the shop is too warm (else too cold) for the plan and since when; None where it is within.

    One that is out counts as back only once it is `SHOP_BACK_K` within, so that a thermometer that flickers around
    the limit is one matter and not many.
    """
    low_K, high_K = window_K
    found: tuple[bool, float] | None = None
    for at_s, kelvin in reversed(air):
        over = high_K is not None and kelvin > high_K
        under = low_K is not None and kelvin < low_K
        if over or under:
            if found is not None and found[0] != over:
                return found
            found = over, at_s
        elif (high_K is None or kelvin <= high_K - SHOP_BACK_K) and (low_K is None or kelvin >= low_K + SHOP_BACK_K):
            return found
    return found
