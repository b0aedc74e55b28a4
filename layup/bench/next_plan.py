"""What a day told from memory changes: the next plan of that part with what it taught, and without."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from layup.bench.planner import Planner, titled
from layup.errors import LayupError
from layup.files.workshop import Workshop
from layup.planning.planner import PlanResult
from layup.planning.remedies import Remedy
from layup.review.evidence import tags_in
from layup.review.lessons import Lessons, workshop_lessons
from layup.review.review import Review, review
from layup.session.archive import stored_session
from layup.session.recall import Story, write_recalled
from layup.units import mass, minutes, spare_of, temperature

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
        if self.by_it.batches != self.without.batches or abs(less_g) > SAME_G:
            more = f"{mass(abs(less_g))} {'less' if less_g > 0.0 else 'more'} per cup"
            return f"{more} by this lesson: {self.by_it.batches} batches, {cups}"
        if self.without.spare_s is not None and self.by_it.spare_s is not None:
            gone_s = self.without.spare_s - self.by_it.spare_s
            moved = (
                f"the plan counts on {minutes(abs(gone_s))} {'less' if gone_s > 0.0 else 'more'}, as this day showed: "
            )
            return f"{moved if abs(gone_s) >= 30.0 else ''}{self.by_it.batches} batches, {cups}"
        return f"{self.by_it.batches} batches, {cups}"

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
        sides = {"without": self.without, "with": self.by_it}
        return {
            **{
                name: {
                    "verdict": side.verdict,
                    "batches": side.batches,
                    "largest_cup_g": side.largest_g,
                    "slack_min": None if side.spare_s is None else side.spare_s / 60,
                }
                for name, side in sides.items()
            },
            "change": self.change,
            "changes": list(self.changes),
        }


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
