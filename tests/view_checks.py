"""What holds of the bench view at every moment of any day."""

from scripted_days import beside, done

from layup.bench.acts import MIXING
from layup.bench.day import PressDay
from layup.bench.view import BenchView, Fan

ACT_NOW = ("now", "may be over", "past")


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
        assert act.kind == "retighten" or words_count(act.why) <= 10, act.why


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
