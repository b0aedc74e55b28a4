"""The alarms that stand: ranked, paced, quiet once acknowledged, and slow to flap.

After alarm-management practice (EEMUA 191: few, each asks for an action, ranked; IEC 60601-1-8: three priorities, an
acknowledged alarm is quiet), in our own words. Pure: `look` takes what stood before and returns what stands now.

The watch over a press day: the alarms that stand, and the thermometer that is followed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from layup.bench.alarm_causes import (
    RANKS,
    Alarm,
    AlarmContext,
    AlarmScene,
    clock_not_started,
    clock_unsure,
    cups,
    not_known,
    not_saved,
    off_ratio,
    part,
    shop,
    stirred,
    thermometer,
)
from layup.bench.day import PressDay, Said
from layup.bench.forecast import ready_s
from layup.bench.opening import rescue_now
from layup.bench.scale_readings import STIR_S
from layup.session.day_events import AlarmAcknowledged
from layup.session.fields import AlarmRank
from layup.session.lifetimes import Lifetime
from layup.session.state import SessionState
from layup.session.state_parts import AlarmSeen
from layup.session.thermometer import Poll, Source, Thermometer

# -- alarms ----------------------------------------------------------------------------------------------------------

PACE_S = 60.0
"""At most one alarm comes up, or up a rank, in this time, nor does the bell ring twice; only danger does not wait."""
REPEAT_S = 60.0
"""An alarm that asks to act now rings again after this time, until it is acknowledged."""


CAUSES: tuple[Callable[[AlarmScene], Iterator[Alarm]], ...] = (
    *(not_saved, clock_unsure, clock_not_started, off_ratio, stirred, cups, not_known, part, thermometer, shop),
)
"""Every problem that is looked for. A key comes from one cause only, and at most once."""


@dataclass(frozen=True, slots=True)
class Voice:
    """How loud a rank is: its word, where it stands on the screen, and how often the bell is struck."""

    word: str
    place: Literal["list", "banner", "top line"]
    strokes: int


VOICES: dict[AlarmRank, Voice] = {
    "when free": Voice("WHEN FREE", "list", 0),
    "soon": Voice("SOON", "banner", 1),
    "now": Voice("NOW", "top line", 3),
}


@dataclass(frozen=True, slots=True)
class Board:
    """The alarms that stand, the loudest first, those acknowledged last; and what the pace has to remember."""

    alarms: tuple[Alarm, ...] = ()
    strokes: int = 0
    """How often to strike the bell now."""
    news: tuple[Alarm, ...] = ()
    """What came up, or up a rank, at this look."""
    looked: bool = False
    """Whether anything was looked at before: what stands when a day is opened again is no news."""
    came_s: float = float("-inf")
    rang_s: float = float("-inf")

    @property
    def loudest(self) -> Alarm | None:
        """The first alarm that nobody has acknowledged: the one that the acknowledge key is for."""
        return next((alarm for alarm in self.alarms if not alarm.acknowledged), None)

    def at(self, place: str) -> Alarm | None:
        """Return the alarm to show at a place of the screen: the loudest, where its rank stands there."""
        loudest = self.loudest
        return loudest if loudest is not None and VOICES[loudest.rank].place == place else None


def what_is_wrong(scene: AlarmScene) -> tuple[Alarm, ...]:
    """Return everything that is wrong now and can be helped; nothing before the session starts or after it ended."""
    if not scene.state.started or scene.state.ended_s is not None:
        return ()
    return tuple(alarm for cause in CAUSES for alarm in cause(scene))


def acknowledgement(alarm: Alarm) -> AlarmAcknowledged:
    """Return the event that makes an alarm quiet."""
    return AlarmAcknowledged(alarm=alarm.key, rank=alarm.rank)


def look(state: SessionState, alive: Mapping[int, Lifetime], outlook: AlarmContext, before: Board) -> Board:
    """Return the alarms that stand now, after those that stood `before`. To be called about once a second.

    A first look, with an empty board, takes all that stands: it is shown at once and rings once.
    """
    now_s = outlook.now_s
    old = {alarm.key: alarm for alarm in before.alarms}
    wrong = what_is_wrong(AlarmScene(state, alive, outlook, {key: alarm.rank for key, alarm in old.items()}))
    first = not before.looked
    found = [_dated(alarm, old.get(alarm.key), 0.0 if first else now_s) for alarm in wrong]
    seen = state.acknowledged
    risen = sorted((alarm for alarm in found if _rises(alarm, old.get(alarm.key))), key=_urgency)
    news = risen if first else _in_turn(risen, seen, now_s - max(before.came_s, before.rang_s))
    held = {alarm.key for alarm in risen} - {alarm.key for alarm in news}
    standing = [_held(alarm, old.get(alarm.key)) if alarm.key in held else alarm for alarm in found]
    shown = [_heard(alarm, seen) for alarm in standing if alarm is not None]
    shown.sort(key=lambda alarm: (alarm.acknowledged, _urgency(alarm)))
    loud = tuple(alarm for alarm in shown if alarm.key in {new.key for new in news} and not alarm.acknowledged)
    strokes = _strokes(loud, shown, now_s - before.rang_s)
    return Board(
        alarms=tuple(shown),
        strokes=strokes,
        news=loud,
        looked=True,
        came_s=now_s if loud else before.came_s,
        rang_s=now_s if strokes else before.rang_s,
    )


def _dated(alarm: Alarm, old: Alarm | None, new_since_s: float) -> Alarm:
    """Return an alarm with the time since which its problem stands."""
    return replace(alarm, since_s=new_since_s if old is None else old.since_s)


def _rises(alarm: Alarm, old: Alarm | None) -> bool:
    """Return whether an alarm is new, or of a higher rank than before, or becomes a danger."""
    return old is None or alarm.level > old.level or (alarm.danger and not old.danger)


def _urgency(alarm: Alarm) -> tuple[int, bool, float]:
    """Return what alarms are ordered by: rank, then danger, then what stands longest."""
    return -alarm.level, not alarm.danger, alarm.since_s


def _in_turn(risen: Iterable[Alarm], seen: Mapping[str, AlarmSeen], since_last_s: float) -> list[Alarm]:
    """Return which of the risen alarms come up now: dangers and acknowledged ones all, of the others one at a time."""
    news: list[Alarm] = []
    free = since_last_s >= PACE_S
    for alarm in risen:
        quiet = _heard(alarm, seen).acknowledged
        if alarm.danger or quiet or free:
            news.append(alarm)
            free = free and quiet
    return news


def _held(alarm: Alarm, old: Alarm | None) -> Alarm | None:
    """Return an alarm that waits its turn: as it is now at its old rank, or not yet at all."""
    return None if old is None else replace(alarm, rank=old.rank, danger=old.danger)


def _heard(alarm: Alarm, seen: Mapping[str, AlarmSeen]) -> Alarm:
    """Return an alarm as acknowledged, if that was done since it stands and at its rank or a higher one."""
    ack = seen.get(alarm.key)
    quiet = ack is not None and ack.at_s >= alarm.since_s and RANKS.index(ack.rank) >= alarm.level
    return replace(alarm, acknowledged=quiet)


def _strokes(news: tuple[Alarm, ...], shown: list[Alarm], since_rung_s: float) -> int:
    """Return how often to strike the bell: for the loudest news, or again for what must be done now."""
    strokes = max((VOICES[alarm.rank].strokes for alarm in news), default=0)
    again = any(alarm.rank == "now" and not alarm.acknowledged for alarm in shown)
    return VOICES["now"].strokes if again and since_rung_s >= REPEAT_S else strokes


# -- alarm monitor ---------------------------------------------------------------------------------------------------


@dataclass(slots=True)
class AlarmMonitor:
    """Looks at one press day about once a second; pure but for what it remembers."""

    day: PressDay
    source: Source | None = None
    board: Board = field(default_factory=Board)
    thermometer: Thermometer = field(init=False)
    clock_asked: bool = False
    """Whether the question about the clock was put by itself."""

    def __post_init__(self) -> None:
        self.thermometer = Thermometer(since_s=self.day.now_s())

    def look(self) -> Board:
        """Return the alarms that stand now."""
        day = self.day
        now_s = day.now_s()
        self.board = look(
            day.state,
            day.alive,
            AlarmContext(
                now_s=now_s,
                parts=day.parts,
                closing_s=day.closing_s,
                stir_s=STIR_S,
                rescue=rescue_now(day),
                cup_g=day.cup_g,
                ready_s=ready_s(day, now_s) if day.state.steps and day.state.closed_s is None else None,
                window_K=day.window_K,
                unknown=day.unknown,
                fault="" if day.watching else day.fault,
                mended=day.mended,
                thermometer_silent_s=self.thermometer.silent_s(now_s) if self.source else None,
            ),
            self.board,
        )
        return self.board

    def asks_clock(self) -> bool:
        """Return, once, whether it is time to ask what time it is."""
        asks = self.day.state.clock_unsure and not self.day.watching and not self.clock_asked
        self.clock_asked = self.clock_asked or asks
        return asks

    def seen(self) -> Said:
        """Acknowledge the loudest alarm: it is quiet until it gets worse."""
        alarm = self.board.loudest
        if alarm is None:
            return Said("not now: no alarm stands that nobody has seen", False)
        said = self.day.log(acknowledgement(alarm), f"seen: {alarm.words}")
        self.look()
        return said

    def take(self, poll: Poll) -> bool:
        """Take one look at the thermometer; return whether it was worth an entry in the journal."""
        self.thermometer, event = self.thermometer.take(poll, self.day.now_s())
        return event is not None and self.day.log(event, "").done
