"""What one session tells in hindsight: the minute that decided, and the day with one thing changed.

Of one told from memory the next plan of its part, with what it taught and without. As data, and as lines of text.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from pathlib import Path
from textwrap import wrap

from layup.bench.planner import Planner, titled
from layup.bench.replay import Decided, Replay, decided
from layup.errors import LayupError
from layup.files.workshop import Workshop
from layup.planning.planner import PlanResult
from layup.planning.remedies import Remedy
from layup.review.carried import carriers
from layup.review.changed_days import ChangedDay, ChangedDays, changed_days
from layup.review.evidence import tags_in
from layup.review.lessons import Lessons, workshop_lessons
from layup.review.review import Review, review
from layup.session.archive import Summary, stored_session
from layup.session.clock import Clock
from layup.session.recall import write_recalled
from layup.session.told import Story
from layup.units import mass, minutes, spare_of, temperature

SIMULATED = "Simulated on the logged temperatures and the real step times; an estimate."


@dataclass(frozen=True, slots=True)
class Hindsight:
    """What the replay and the simulation of a session tell; each None where there is nothing to tell."""

    decided: Decided | None
    decided_at: str
    """The clock then."""
    changed: ChangedDays | None
    carriers: tuple[Summary, ...] = ()
    """The sessions that say what became of its notes for next time."""


def hindsight(found: Review, workshop: Workshop, clock: Clock) -> Hindsight:
    """Return what only hindsight knows of a session; one that runs is replayed by the clock."""
    try:
        replay = Replay(Path(found.stored.folder), workshop, clock)
        turned = decided(replay, found)
        at = "" if turned is None else replay.go_to(turned.at_s).clock_time(turned.at_s)
    except LayupError:
        turned, at = None, ""
    try:
        changed = changed_days(found.stored, found.track, workshop.resins())
    except LayupError:
        changed = None
    return Hindsight(turned, at, changed, carriers(workshop) if found.stored.state.carried else ())


def hindsight_data(seen: Hindsight) -> dict[str, object]:
    turned, changed = seen.decided, seen.changed
    return {
        "decided": None if turned is None else asdict(turned),
        "changed_days": None
        if changed is None
        else {
            "own_spare_s": changed.own_spare_s,
            "own_tightest": changed.own_tightest,
            "rows": [_row(one) for one in changed.rows],
            "pair": None if changed.pair is None else _row(changed.pair),
        },
    }


def _row(one: ChangedDay) -> dict[str, object]:
    return {"changes": list(one.kinds), "words": one.words, "spare_s": one.spare_s, "in_time": one.in_time}


def decided_line(seen: Hindsight) -> str:
    """Return when the day was decided and what would still have helped; empty where nothing decided it."""
    turned = seen.decided
    if turned is None:
        return ""
    way = f"; a minute before, this would have helped: {turned.way}" if turned.way else ""
    return f"Decided at {seen.decided_at}: {turned.why}{way}."


def saving_line(changed: ChangedDays | None) -> str:
    """Return the one change that would have turned a day that was too late; empty where none would."""
    one = None if changed is None else changed.saves
    return "" if one is None else f"In time with {one.words}: {spare_of(one.spare_s)}, by simulation."


def no_changed_day(found: Review) -> str:
    """Say why a day cannot be worked through with one thing changed, and where to look instead."""
    if found.stored.state.recalled is not None:
        return "Told from memory: its minutes are not known. What to change stands in the next plan, on Stack."
    if found.track is None or found.stored.state.is_casting:
        return "Only a press day is tried with one thing changed."
    return "Not tried: no cup was laid and closed over on this day. The next plan, on Stack, knows its lessons."


def changed_rows(changed: ChangedDays) -> list[tuple[str, str]]:
    """Return each changed day with what it had to spare, the day as it went first, the best pair last."""
    own = f"as it went, {changed.own_tightest} the tightest", spare_of(changed.own_spare_s)
    return [own, *((one.words, spare_of(one.spare_s)) for one in changed.all)]


def changed_lines(changed: ChangedDays, *, width: int) -> list[str]:
    if not changed.rows:
        return [f"The same day: {spare_of(changed.own_spare_s)}; no single change leaves more."]
    rows = changed_rows(changed)
    room = max(len(spare) for _, spare in rows) + 2  # a number is never cut, words go on in the next line
    lines = [f"{'':{room}}the same day with"]
    for words, spare in rows:
        lines += wrap(words, max(width, 2 * room), initial_indent=f"{spare:<{room}}", subsequent_indent=" " * room)
    return [*lines, SIMULATED]


# -- the next plan -----------------------------------------------------------------------------------------------------

SAME_G = 5.0
"""Cups that differ by less are the same on the bench (common practice, no source)."""
LEAST_LONGER = 0.05
"""A life that a day moves by less is as it was (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Side:
    """One plan: its verdict in a line and in a word, its batches, and the most mix in one cup."""

    words: str
    verdict: str
    batches: int
    largest_g: float
    spare_s: float | None


@dataclass(frozen=True, slots=True)
class NextPlan:
    """The same plan without and with what a day taught; `changes` are what it needs beside smaller cups."""

    head: str
    without: Side
    by_it: Side
    told_g: float | None
    changes: tuple[str, ...]
    longer: float
    """By how much of it the resin lives longer in the largest cup with the lesson; below zero shorter."""

    @property
    def change(self) -> str:
        """What the next plan does about it, in a sentence."""
        less_g, told = self.without.largest_g - self.by_it.largest_g, ""
        if self.told_g is not None and self.told_g - self.by_it.largest_g > SAME_G:
            told = f", {mass(self.told_g - self.by_it.largest_g)} less than you had"
        cups = f"at most {mass(self.by_it.largest_g)} in a cup{told}"
        spares_s, moved = (self.without.spare_s, self.by_it.spare_s), ""
        if self.by_it.batches != self.without.batches or abs(less_g) > SAME_G:
            moved = f"{mass(abs(less_g))} {'less' if less_g > 0.0 else 'more'} per cup by this lesson: "
        elif spares_s[0] is not None and spares_s[1] is not None and abs(gone_s := spares_s[0] - spares_s[1]) >= 30.0:
            moved = (
                f"the plan counts on {minutes(abs(gone_s))} {'less' if gone_s > 0.0 else 'more'}, as this day showed: "
            )
        return f"{moved}{self.by_it.batches} batches, {cups}"

    def lines(self) -> list[str]:
        """Return it for people."""
        why = f"your resin lives {100 * abs(self.longer):.0f} % {'longer' if self.longer > 0.0 else 'shorter'}"
        told = f"{self.by_it.words}: {why}" if abs(self.longer) >= LEAST_LONGER else self.by_it.words
        rows = [("without this lesson", self.without.words), ("with it", told)]
        if self.without.words == self.by_it.words:
            rows = [("with it or without", self.by_it.words)]
        return [
            f"NEXT PLAN  {self.head}",
            *(f"  {name:<20} {words}" for name, words in rows),
            f"→ {self.change}",
            *(f"→ {words}" for words in self.changes),
        ]

    def data(self) -> dict[str, object]:
        """Return it for programs."""
        sides: dict[str, object] = {
            name: {
                "verdict": side.verdict,
                "batches": side.batches,
                "largest_cup_g": side.largest_g,
                "slack_min": None if side.spare_s is None else side.spare_s / 60,
            }
            for name, side in (("without", self.without), ("with", self.by_it))
        }
        return sides | {"change": self.change, "changes": list(self.changes)}


def looked_back(workshop: Workshop, story: Story) -> tuple[Review, NextPlan | None]:
    """Keep a day that was told as a session; return its review and, where there is one, the next plan."""
    folder = write_recalled(workshop, story, tags_in(story.told.wrong))
    return review(stored_session(folder)), next_plan(workshop, folder, story)


def next_plan(workshop: Workshop, folder: Path, story: Story) -> NextPlan | None:
    """Return what a day in `folder` that was told changes for its part; None where there is no plan of it.

    The plan is that in the shop, and with the hands and the resin, of that day.
    """
    if story.plan_name is None:
        return None
    planner = Planner(workshop.root, plan=story.plan_name)
    try:
        settings = planner.read()
        told = story.told
        settings = replace(settings, resin_id=story.sheet.id)
        if told.shop_K is not None:
            settings = replace(settings, temperature_K=told.shop_K.likely)
        if told.people is not None:
            settings = replace(settings, people=told.people)

        def worked_out(lessons: Lessons) -> PlanResult:
            planner.lessons = lessons
            return planner.work_out(settings)

        without, by_it = (
            worked_out(workshop_lessons(workshop, leave_out=folder)),
            worked_out(workshop_lessons(workshop)),
        )
        sides = _side(planner, without), _side(planner, by_it)
        changes = () if sides[1].verdict == "fits" else tuple(_gain(one) for one in planner.remedies(by_it)[:2])
        longer = _longer(without, by_it)
    except LayupError:
        return None
    hands = f"{settings.people} people" if settings.people > 1 else "alone"
    head = f"{titled(by_it.plan)} at {temperature(settings.temperature_K)}, {hands}, {by_it.datasheet.title}"
    return NextPlan(head, *sides, None if told.cup_g is None else told.cup_g.likely, changes, longer)


def _longer(without: PlanResult, by_it: PlanResult) -> float:
    """Return by what share a resin lives longer in the largest cup of the plan by a lesson."""
    largest_g = max((batch.mass_g for batch in by_it.split.batches), default=by_it.job.smallest_g)
    return by_it.clocks.cup(largest_g).life_s.likely / without.clocks.cup(largest_g).life_s.likely - 1.0


def _gain(one: Remedy) -> str:
    """Say what a change is, and what the plan comes to with it."""
    spare = "" if one.slack_s is None or one.slack_s < 0.0 else f", {spare_of(one.slack_s)}"
    return f"{one.words.rstrip('.')}: then {one.verdict.upper()}{spare}."


def _side(planner: Planner, result: PlanResult) -> Side:
    split = result.split
    largest_g = max((batch.mass_g for batch in split.batches), default=0.0)
    _ = result.odds
    return Side(planner.line_of(result), planner.fit(result).word, len(split.batches), largest_g, split.slack_s)
