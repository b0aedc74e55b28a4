"""The bell of a press day, and the thermometer that is followed: which acts ring, how often, and when again.

After alarm-management practice, in our own words: EEMUA 191, few, each asks for an action, ranked; IEC 60601-1-8, three
priorities, an acknowledged alarm is quiet. What is due, and what was seen, is told by the acts; here is only the pace.
Pure: `look` takes what rang before.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from layup.bench.acts import Act, ranked
from layup.bench.day import PressDay, Said
from layup.bench.doing import seen
from layup.bench.view import BenchView, bench_view
from layup.session.fields import AlarmRank
from layup.session.thermometer import Poll, ReadingSource, Thermometer

PACE_S = 60.0
"""At most one alarm rings for the first time, or for more urgency, in this time; only danger does not wait."""
REPEAT_S = 60.0
"""What must be done now rings again after this time, until somebody has seen it."""
FLAP_S = 120.0
"""What went away and is back within this time is no news."""
STROKES: dict[AlarmRank, int] = {"when free": 0, "soon": 1, "now": 3}
"""How often the bell is struck for each rank."""


@dataclass(frozen=True, slots=True)
class Heard:
    """How urgent a matter was when it was heard, and when it was last as urgent as that."""

    level: int
    danger: bool
    last_s: float


@dataclass(frozen=True, slots=True)
class AlarmBoard:
    """The alarms that stand, the loudest first, those seen last; and what the pace has to remember."""

    alarms: tuple[Act, ...] = ()
    strokes: int = 0
    """How often to strike the bell now."""
    news: tuple[Act, ...] = ()
    """What rings for the first time, or for more urgency."""
    looked: bool = False
    """Whether anything was looked at before: what stands when a day is opened again rings once, all together."""
    came_s: float = float("-inf")
    rang_s: float = float("-inf")
    heard: Mapping[str, Heard] = field(default_factory=dict)

    @property
    def loudest(self) -> Act | None:
        """The first alarm that nobody has seen."""
        return next((act for act in self.alarms if not act.seen), None)


def look(acts: Iterable[Act], now_s: float, before: AlarmBoard) -> AlarmBoard:
    """Return which alarms stand now and how to ring, after what rang `before`. To be called about once a second."""
    found = ranked(act for act in acts if act.alarm)
    heard = {key: each for key, each in before.heard.items() if now_s - each.last_s <= FLAP_S}
    risen = [act for act in found if _rises(act, heard.get(act.key))]
    news = _in_turn(risen, now_s - max(before.came_s, before.rang_s)) if before.looked else risen
    for act in found:
        heard_of = _heard(act, heard.get(act.key), now_s, news=act in news)
        if heard_of is not None:
            heard[act.key] = heard_of
    loud = tuple(act for act in news if not act.seen)
    strokes = _strokes(loud, found, now_s - before.rang_s)
    return AlarmBoard(
        alarms=tuple(found),
        strokes=strokes,
        news=loud,
        looked=True,
        came_s=now_s if loud else before.came_s,
        rang_s=now_s if strokes else before.rang_s,
        heard=heard,
    )


def _rises(act: Act, heard: Heard | None) -> bool:
    """Return whether an alarm is new, or more urgent than was heard, or becomes a danger."""
    return heard is None or act.level > heard.level or (act.danger and not heard.danger)


def _heard(act: Act, heard: Heard | None, now_s: float, *, news: bool) -> Heard | None:
    """Return what was heard of an alarm after this look; None where it waits its turn to be heard at all."""
    if news or heard is None:
        return Heard(act.level, act.danger, now_s) if news else None
    if act.level >= heard.level:
        return replace(heard, last_s=now_s)
    return Heard(act.level, act.danger, now_s) if now_s - heard.last_s >= FLAP_S else heard


def _in_turn(risen: Iterable[Act], since_last_s: float) -> list[Act]:
    """Return which of the risen alarms come up now: dangers and those seen all, of the others one at a time."""
    news: list[Act] = []
    free = since_last_s >= PACE_S
    for act in risen:
        if act.danger or act.seen or free:
            news.append(act)
            free = free and act.seen
    return news


def _strokes(news: tuple[Act, ...], found: list[Act], since_rung_s: float) -> int:
    """Return how often to strike the bell: for the loudest news, or again for what must be done now."""
    strokes = max((STROKES[act.rank] for act in news), default=0)
    again = any(act.rank == "now" and not act.seen for act in found)
    return STROKES["now"] if again and since_rung_s >= REPEAT_S else strokes


# -- alarm monitor ---------------------------------------------------------------------------------------------------


@dataclass(slots=True)
class AlarmMonitor:
    """Looks at one press day about once a second; pure but for what it remembers."""

    day: PressDay
    source: ReadingSource | None = None
    board: AlarmBoard = field(default_factory=AlarmBoard)
    thermometer: Thermometer = field(init=False)
    clock_asked: bool = False
    """Whether the question about the clock was put by itself."""

    def __post_init__(self) -> None:
        self.thermometer = Thermometer(since_s=self.day.now_s())

    def look(self, view: BenchView | None = None) -> AlarmBoard:
        """Return the alarms that stand now: those of a view that was just drawn, else of one of its own."""
        now_s = self.day.now_s()
        self.day.thermometer_silent_s = self.thermometer.silent_s(now_s) if self.source else None
        self.board = look((view or bench_view(self.day)).alarms, now_s, self.board)
        return self.board

    def asks_clock(self) -> bool:
        """Return, once, whether it is time to ask what time it is."""
        asks = self.day.state.clock_unsure and not self.day.watching and not self.clock_asked
        self.clock_asked = self.clock_asked or asks
        return asks

    def seen(self) -> Said:
        """Log that somebody has seen the act on top, or the loudest alarm: it is quiet until it gets worse."""
        said = seen(self.day)
        self.look()
        return said

    def take(self, poll: Poll) -> bool:
        """Take one look at the thermometer; return whether it was worth an entry in the journal."""
        self.thermometer, event = self.thermometer.take(poll, self.day.now_s())
        return event is not None and self.day.log(event, "").done
