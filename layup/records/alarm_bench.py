"""What can be wrong with the part, the shop and what watches over them, and what to do about it."""

from __future__ import annotations

from collections.abc import Iterator

from layup.records.alarm_scene import Alarm, Scene, minutes

# How early to say it, and how far back before it clears. Common practice, no source.
CLOSING_BACK_S, LATE_BACK_S, SHOP_BACK_K = 120.0, 120.0, 0.5


def not_saved(scene: Scene) -> Iterator[Alarm]:
    """Events are in memory only, or another program meddles with the files."""
    if scene.outlook.fault:
        words, _, action = scene.outlook.fault.partition(" - ")
        yield Alarm("journal", "not saved", "now", words, action or "mend the disk, keep this running")
    if scene.outlook.mended:
        action = "stop whatever syncs this folder until the press is closed"
        yield Alarm("files", "not saved", "when free", scene.outlook.mended, action)


def clock_unsure(scene: Scene) -> Iterator[Alarm]:
    """The machine was off, and nobody has said what time it is: every age may be too young."""
    if scene.state.clock_unsure:
        words = "the machine was off: every batch is at least as old as it says"
        yield Alarm("clock", "clock unsure", "now", words, "look at another clock and say what time it is")


def part(scene: Scene) -> Iterator[Alarm]:
    """The first batch on the part decides when the press must be closed; once it has gelled nothing helps any more."""
    on_part = [life for life in scene.alive.values() if life.where == "on the part"]
    if not on_part or scene.state.closed_s is not None:
        return
    first, closing_s = min(on_part, key=lambda life: life.low_s), scene.outlook.closing_s
    due, stage, ready_s = first.due(closing_s), first.stage(scene.now_s, closing_s), scene.outlook.ready_s
    in_time = ready_s is not None and ready_s <= first.low_s and scene.state.step_now is None
    if scene.now_s >= first.gel_s or in_time:
        return
    action = scene.outlook.rescue.words
    if stage == "past":
        words = f"batch {first.batch} on the part is past its open time"
        yield Alarm("part", "shut", "now", words, action, first.batch)
    elif stage == "may be over":
        words = f"batch {first.batch} on the part may be shut: past the early end of its open time"
        yield Alarm("part", "shut", "now", words, action, first.batch)
    elif scene.rank_of("part", due.by_s - scene.now_s, {"now": 0.0}, CLOSING_BACK_S):
        words = f"{minutes(first.low_s - scene.now_s)} until the press must be closed (an estimate)"
        yield Alarm("part", "closing", "now", words, action, first.batch)
    elif ready_s is not None:
        late_s = ready_s - first.low_s
        if late_s > (-LATE_BACK_S if scene.stands("part", "soon") else 0.0):
            words = f"at today's pace the press closes {minutes(late_s)} too late"
            if late_s <= 0.0:
                words = "at today's pace the press closes with nothing to spare"
            action = "get more hands or leave out what can wait, and plan the rest anew"
            yield Alarm("part", "late", "soon", words, action, first.batch)


def thermometer(scene: Scene) -> Iterator[Alarm]:
    """The thermometer that is followed does not speak."""
    silent_s = scene.outlook.thermometer_silent_s
    if silent_s is not None:
        words = f"the thermometer has not spoken for {minutes(silent_s)}: the countdowns go by its last reading"
        action = "look at it, or read another and type the temperature"
        yield Alarm("thermometer", "thermometer", "when free", words, action)


def shop(scene: Scene) -> Iterator[Alarm]:
    """The shop has left the temperatures that the plan works in, and something is still to be mixed."""
    state = scene.state
    waiting = any(batch.status in ("to mix", "weighed") for batch in state.batches)
    if not state.air or not waiting or state.closed_s is not None:
        return
    kelvin, (low_K, high_K) = state.air[-1][1], scene.outlook.window_K
    back_K = SHOP_BACK_K if scene.stands("shop") else 0.0
    here = f"shop at {kelvin - 273.15:.1f} °C"
    if high_K is not None and kelvin > high_K - back_K:
        words = f"{here}: the plan works up to {high_K - 273.15:.1f} °C"
        action = "cool the shop or the cans, or mix smaller batches: plan the rest anew"
        yield Alarm("shop", "shop", "soon", words, action)
    elif low_K is not None and kelvin < low_K + back_K:
        words = f"{here}: the plan works from {low_K - 273.15:.1f} °C up"
        yield Alarm("shop", "shop", "soon", words, "warm the shop and the cans before the next batch is mixed")
