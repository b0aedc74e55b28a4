"""Press days played to their end by a crew that does what the bench says: one act at every look, and it can be done."""

from collections.abc import Callable
from dataclasses import dataclass

import pytest
from scripted_days import Player, air, day_of, left_with, loses, machine_off, mixes, with_window
from view_checks import check_fan, check_it_can_be_done, check_nothing_due_is_silent, check_one_act

from layup.bench.day import PressDay
from layup.bench.view import BenchView
from layup.review.timeline import track
from layup.session.batch_events import Observation


@dataclass(frozen=True)
class Scripted:
    """A day: what goes wrong, and what the bench must have said by its end."""

    says: tuple[str, ...]
    script: tuple[tuple[float, Callable[[PressDay], object]], ...] = ()
    pace: float = 1.0
    deaf_min: tuple[float, float] = (-1.0, -1.0)
    grams_off: float = 0.0
    celsius: float = 20.0
    window_C: tuple[float | None, float | None] = (None, None)
    calm: bool = False


def looks(number: int, word: str) -> Callable[[PressDay], object]:
    """Return a look at a cup."""
    return lambda day: day.log(Observation(batch=number, word=word), "")


DAYS = {
    "calm": Scripted(says=("CLOSE THE PRESS",), calm=True),
    "late": Scripted(says=("EMPTY CUP 1",), pace=1.9),
    "far too late": Scripted(says=("REPLAN THE REST",), pace=3.2),
    "batch lost": Scripted(says=("REPLAN THE REST",), script=((20, loses(1)),)),
    "helper leaves": Scripted(says=("CLOSE THE PRESS",), script=((15, left_with(1)),)),
    "helper comes": Scripted(says=("CLOSE THE PRESS",), script=((15, left_with(2)),)),
    "cup past its time": Scripted(says=("EMPTY CUP 1", "LOOK AT CUP 1", "CUP 1 OUTSIDE NOW"), deaf_min=(12.0, 130.0)),
    "two cups at once": Scripted(says=("EMPTY CUP 1", "EMPTY CUP 2"), script=((10, mixes(2)),), pace=1.2),
    "cold": Scripted(says=("WARM THE SHOP",), celsius=15.0, window_C=(16.0, 24.0)),
    "cold from the start": Scripted(says=("WARM THE SHOP",), script=((2, air(9.0)),)),
    "shop warms": Scripted(says=("COOL THE SHOP",), script=((8, air(26.0)), (12, air(21.0))), window_C=(16.0, 24.0)),
    "off ratio": Scripted(says=("ADD HARDENER",), grams_off=-20.0),
    "machine off": Scripted(says=("SAY WHAT TIME IT IS",), script=((17, machine_off),)),
    "seen thickening too soon": Scripted(says=("CLOSE THE PRESS",), script=((21, looks(1, "thickening")),)),
    "seen runny": Scripted(says=("CLOSE THE PRESS",), script=((20, looks(1, "runny")),)),
}


class Watcher:
    """Looks at every view of a day."""

    def __init__(self) -> None:
        self.said: dict[str, None] = {}
        self.calm = True
        self.low_s: dict[int, float] = {}
        """When each batch on the part stops being open at its low edge, as last shown before the press closed."""
        self._last: object = None

    def __call__(self, day: PressDay, view: BenchView) -> None:
        check_one_act(view)
        check_nothing_due_is_silent(view)
        for fan in (*view.cups, *view.parts):
            check_fan(fan, view.now_s, day.closing_s)
        now = [(act.is_same_as, act.seen) for act in (view.act, *view.others)]
        if now != self._last:
            self._last = now
            check_it_can_be_done(day, view)
        self.said.update(dict.fromkeys(act.words for act in (view.act, *view.others)))
        self.calm = self.calm and view.act.level < 2
        if day.state.closed_s is None:
            self.low_s = {fan.batch: fan.low_s for fan in view.parts if fan.low_s is not None}


ALONE = ("calm", "batch lost", "helper comes", "two cups at once")


@pytest.mark.parametrize(
    ("name", "people"), [*((name, 2) for name in DAYS if name != "helper comes"), *((name, 1) for name in ALONE)]
)
def test_a_scripted_day_has_one_act_at_every_look_is_never_silent_and_its_review_shows_the_limit_that_the_bench_showed(
    name: str, people: int
) -> None:
    scripted = DAYS[name]
    watcher = Watcher()
    day = with_window(day_of(people, scripted.celsius), *scripted.window_C)
    begin_s, end_s = (60.0 * minute for minute in scripted.deaf_min)
    player = Player(day, scripted.pace, (begin_s, end_s), scripted.grams_off, seen=watcher)
    player.play(scripted.script, until_min=330.0)
    assert set(scripted.says) <= set(watcher.said), list(watcher.said)
    assert day.state.closed_s is not None
    assert watcher.calm or not scripted.calm or people == 1
    found = track(day.state, day.plan, day.sheet, day.calibration)
    assert watcher.low_s
    for number, low_s in watcher.low_s.items():
        part = next(each for each in found.batches if each.number == number).part
        assert part is not None
        assert part.low == pytest.approx(low_s, abs=1.0), number
