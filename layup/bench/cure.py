"""How far a part under press has cured and when it may come out, worked out from what was logged."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import Literal

from layup.bench.day import PressDay
from layup.chemistry.cure import HeatingPlan
from layup.chemistry.cure_course import CureCourse, CureMoment, set_on_part
from layup.chemistry.demould import HORIZON_S, least_warmth, setting_of
from layup.planning.night import OUT_BY_S, Night, NightOutlook, PartUnderPress, heatings, overnight
from layup.session.lifetimes import mould_since

State = Literal["leave it closed", "perhaps", "may come out"]
SHAPES: dict[State, str] = {"leave it closed": "■", "perhaps": "◆", "may come out": "●"}

CASTING_BY_S = 6 * 3600.0
"""How far a casting is followed at least, which most days is planed by then (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Cure:
    """A part under press: its course since closing, the night to come, and heatings where the night is too cold."""

    part: PartUnderPress
    night: Night
    course: CureCourse
    heatings: tuple[HeatingPlan, ...]
    glass_s: float
    """From when on the mould holds a glass; inf where it never does in the course."""
    gel_s: float

    def at(self, since_s: float) -> CureMoment:
        """Return the resin at a time since closing, or at the end of what was followed."""
        return self.course.at(min(max(since_s, self.course.start.time_s), self.course.end.time_s))

    def state(self, since_s: float) -> State:
        """Say whether the part may leave the mould at a time since closing."""
        ready = self.night.ready
        if since_s >= ready.out_s.likely:
            return "may come out"
        return "perhaps" if since_s >= ready.out_s.low else "leave it closed"


def part_under_press(day: PressDay) -> PartUnderPress | None:
    """Return the part since closing, from what was logged; None while the press is open."""
    state, now_s = day.state, day.now_s()
    if state.closed_s is None:
        return None
    closed_s = state.closed_s
    alive = [life for life in day.alive.values() if _pressed(day, life.batch)]
    resin = day.calibration_for_cure
    setting, _ = setting_of(day.sheet, resin.kinetics)
    return PartUnderPress(
        setting=setting,
        calibration=resin,
        so_far=mould_since(state, closed_s) or day.air_K,
        now_s=(state.demoulded_s or now_s) - closed_s,
        conversion_start=min((life.state_at(closed_s)[0] for life in alive), default=0.0),
        minimum_K=least_warmth(day.sheet)[0],
        bears_K=day.plan.closing.hottest_K,
    )


def _pressed(day: PressDay, number: int) -> bool:
    batch = day.state.batch(number)
    return batch is not None and batch.pressed_s is not None


def outlook_of(day: PressDay) -> NightOutlook:
    """Return what was logged of the night to come."""
    night = day.state.night
    if night is None:
        return NightOutlook(out_by_s=CASTING_BY_S) if day.state.is_casting else NightOutlook()
    return NightOutlook(night_K=night.coldest_K, out_by_s=night.out_by_s or OUT_BY_S)


def work_out(part: PartUnderPress, outlook: NightOutlook, *, out: bool = False) -> Cure:
    """Work the cure out; it may take half a second, so off the screen. `out` means the part has left the mould."""
    night = overnight(part, NightOutlook() if out else outlook)
    ends = [part.now_s, night.out_by_s, night.ready.out_s.high, night.ready.out_s.likely]
    end_s = min(1.05 * max(time_s for time_s in ends if isfinite(time_s)), HORIZON_S)
    course = set_on_part(part.setting, night.mould, until_s=end_s, conversion_start=part.conversion_start)
    gel = part.setting.kinetics.conversion_gel
    gelled = course.first(lambda moment: moment.conversion - gel)
    return Cure(
        part=part,
        night=night,
        course=course,
        heatings=() if out or night.makes_it else heatings(part, outlook),
        glass_s=course.glass_s(0.0),
        gel_s=end_s if gelled is None else gelled.time_s,
    )


def out_of(cure: Cure, closed_s: float) -> tuple[float, float, float]:
    """Return when the part may come out: low edge, likely and high edge on the session's clock; inf for never."""
    ready = cure.night.ready
    return closed_s + ready.out_s.low, closed_s + ready.out_s.likely, closed_s + ready.out_s.high
