"""Press days played to their end by a crew that does what the bench says: one act at every look, and it can be done."""

from collections.abc import Callable
from dataclasses import dataclass, field

import pytest
from scripted_days import Player, air, beside, day_of, done, left_with, loses, machine_off, mixes, with_window

from layup.bench.acts import MIXING
from layup.bench.day import PressDay
from layup.bench.view import BenchView, Fan

ACT_NOW = ("now", "may be over", "past")


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
    closes: bool = True
    calm: bool = False
    kinds: tuple[str, ...] = field(default=())


DAYS = {
    "calm": Scripted(says=("CLOSE THE PRESS",), calm=True),
    "late": Scripted(says=("EMPTY CUP 1",), pace=1.9),
    "far too late": Scripted(says=("REPLAN THE REST",), pace=3.2),
    "batch lost": Scripted(says=("REPLAN THE REST",), script=((20, loses(1)),)),
    "helper leaves": Scripted(says=("CLOSE THE PRESS",), script=((15, left_with(1)),)),
    "helper comes": Scripted(says=("CLOSE THE PRESS",), script=((15, left_with(2)),)),
    "cup past its time": Scripted(says=("EMPTY CUP 1", "CUP 1 OUTSIDE NOW"), deaf_min=(12.0, 130.0)),
    "nobody hears": Scripted(says=("EMPTY CUP 1", "LOOK AT CUP 1"), deaf_min=(12.0, 75.0)),
    "two cups at once": Scripted(says=("EMPTY CUP 1", "EMPTY CUP 2"), script=((10, mixes(2)),), pace=1.2),
    "cold": Scripted(says=("WARM THE SHOP",), celsius=15.0, window_C=(16.0, 24.0)),
    "shop warms": Scripted(says=("COOL THE SHOP",), script=((8, air(26.0)), (12, air(21.0))), window_C=(16.0, 24.0)),
    "off ratio": Scripted(says=("ADD HARDENER",), grams_off=-20.0),
    "machine off": Scripted(says=("SAY WHAT TIME IT IS",), script=((17, machine_off),)),
}


def words_count(words: str) -> int:
    return len(words.replace(",", " ").split())


def check_one_act(view: BenchView) -> None:
    acts = (view.act, *view.others)
    assert len(view.others) <= 1
    assert len({act.person for act in acts}) == len(acts)
    assert (view.act.person == "") == (not view.others)
    assert len(view.then) <= 2
    assert "\n" not in view.notice
    for act in acts:
        assert act.words
        assert act.words == act.words.upper()
        assert act.kind == "step" or words_count(act.words) <= 5, act.words
        assert act.person == "" or (act.person == "mixing") == (act.kind in MIXING)
        assert words_count(act.why) <= 10, act.why


def check_it_can_be_done(day: PressDay, view: BenchView) -> None:
    """Nothing that is over, nothing that waits for something else."""
    for act in (view.act, *view.others):
        batch = None if act.batch is None else day.state.batch(act.batch)
        if act.kind in ("empty cup", "stir", "add", "read scale"):
            assert batch is not None
            assert batch.status == "in the cup", act
        if act.kind in ("weigh", "pour hardener", "start clock"):
            assert batch is not None
            assert batch.status in ("to mix", "weighed"), act
        if act.kind == "step":
            serving = [each for each in day.state.batches if act.step in each.plan.steps and each.lost_s is None]
            assert all(each.mixed_s is not None for each in serving), act
        if act.kind == "close":
            assert all(step.done_s is not None for step in day.state.steps), act
        done(beside(day), act)


def check_nothing_due_is_silent(view: BenchView) -> None:
    """A cup or a part whose deadline has come is the act, or somebody has seen that it is."""
    known = {act.key for act in view.alarms}
    for fan in (*view.cups, *view.parts):
        if fan.urgency not in ACT_NOW or fan.by_s is None:
            continue
        key = f"cup {fan.batch}" if fan in view.cups else "part"
        assert key in known or fan in view.parts, (key, view.now_s)
        unseen = any(act.key == key and not act.seen for act in view.alarms)
        if unseen:
            assert view.act.level >= 2, (view.now_s, view.act)
            assert not view.act.seen


def check_fan(fan: Fan, now_s: float, closing_s: float) -> None:
    """The stage worked out from scratch, from the edges and by the words of common practice."""
    assert fan.by_s is not None
    assert fan.low_s is not None
    assert fan.high_s is not None
    assert fan.likely_s is not None
    assert fan.low_s <= fan.likely_s <= fan.high_s
    by_s = fan.by_s if fan.where == "in the cup" else fan.low_s - closing_s - 300.0
    stage = "fresh"
    if now_s >= by_s - min(600.0, 0.2 * (fan.low_s - fan.mixed_s)):
        stage = "soon"
    for name, edge_s in (("now", by_s), ("may be over", fan.low_s), ("past", fan.high_s)):
        if now_s >= edge_s:
            stage = name
    assert fan.urgency == stage


class Watcher:
    """Looks at every view of a day."""

    def __init__(self) -> None:
        self.said: dict[str, None] = {}
        self.calm = True
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


ALONE = ("calm", "late", "batch lost", "helper comes", "two cups at once", "machine off")


@pytest.mark.parametrize(
    ("name", "people"), [*((name, 2) for name in DAYS if name != "helper comes"), *((name, 1) for name in ALONE)]
)
def test_a_scripted_day_has_one_act_at_every_look_which_can_be_done_and_is_never_silent(name: str, people: int) -> None:
    scripted = DAYS[name]
    watcher = Watcher()
    day = with_window(day_of(people, scripted.celsius), *scripted.window_C)
    begin_s, end_s = (60.0 * minute for minute in scripted.deaf_min)
    player = Player(day, scripted.pace, (begin_s, end_s), scripted.grams_off, seen=watcher)
    player.play(scripted.script, until_min=330.0)
    assert set(scripted.says) <= set(watcher.said), list(watcher.said)
    assert (day.state.closed_s is not None) == scripted.closes
    assert watcher.calm or not scripted.calm or people == 1
