"""The mix station: what the scale should show next for one batch, and what to make of what it showed.

Pure: each entry returns a new station. One cup on one tare: the readings are the sum so far; where the scale is tared
before each component, they are what was poured since.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from math import ceil, floor
from statistics import median
from typing import Literal

from layup.errors import InputError
from layup.planning.mix_sheet import COMPONENTS, ON_RATIO, Verdict, verdict
from layup.session.batch_events import BatchMixed, PourRead
from layup.session.state import SessionState
from layup.units import mass

STIR_S = 180.0
"""How long to stir a batch before it is used: 3 minutes (common practice, no source)."""
POUR_S, POUR_AT_MOST_S = 60.0, 300.0
"""From first contact to the hardener's reading: a minute, and never beyond five (common practice, no source)."""
ODD = 0.25
"""A pour this far from the one that is due may be a slip of the finger (common practice, no source)."""
SCALE_TO = "SCALE TO"
"""What goes before what the scale is to show as the pour is right: it is the sum in the cup, not what is poured."""
RESIN_FIRST = "resin first"
"""What goes beside the first pour."""
Stage = Literal["resin", "hardener", "addition", "done"]
NUMBER = re.compile(r"\d{1,6}([.,]\d{1,3})?\Z", re.ASCII)


@dataclass(frozen=True, slots=True)
class ScaleReadings:
    """One batch on the scale: the masses to weigh, the parts, and what is in the cup so far."""

    batch: int
    planned_g: tuple[float, float]
    parts: tuple[float, float]
    readability_g: float = 1.0
    cup_g: float | None = None
    tare_each: bool = False
    """Whether the scale is tared again before each pour."""
    zero_g: float = 0.0
    """What was in the cup as the scale was last zeroed with the cup on it: more than nothing once it switched off."""
    poured_g: tuple[float, ...] = ()
    """Resin, then hardener, as the readings tell; empty before the first."""
    clock_runs: bool = False
    """Whether hardener is in: without a reading of the resin, the resin is then taken as planned."""
    stir_s: float = STIR_S
    """How long it is stirred."""
    resin_assumed: bool = False
    """Whether it was so: the resin was never read."""

    @property
    def stage(self) -> Stage:
        """What is weighed next."""
        if len(self.poured_g) < 2:
            return "hardener" if self.poured_g else "resin"
        judged = self.verdict
        return "addition" if judged is not None and judged.word != "on ratio" else "done"

    @property
    def aims_g(self) -> tuple[float, float]:
        """What should be in the cup of each component: the hardener follows the resin that is really in it."""
        resin_g = self.poured_g[0] if self.poured_g else self.planned_g[0]
        judged = self.verdict
        if judged is not None:
            return self.poured_g[0] + judged.add_g[0], self.poured_g[1] + judged.add_g[1]
        return resin_g, resin_g * self.parts[1] / self.parts[0]

    @property
    def tared_g(self) -> float:
        """What is in the cup and not in the next reading."""
        return sum(self.poured_g) if self.tare_each else self.zero_g

    @property
    def now_g(self) -> float:
        """What the scale shows before the next pour."""
        return sum(self.poured_g) - self.tared_g

    @property
    def next_g(self) -> float:
        """What the scale should show when the next pour is right; after both, when the addition is in."""
        return self._shown((sum(self.aims_g) if self.poured_g else self.aims_g[0]) - self.tared_g)

    @property
    def pour_g(self) -> float:
        """How much that is of what is poured next."""
        return round(max(self.next_g - self.now_g, 0.0), 6)

    @property
    def pouring(self) -> str:
        """What is poured next; empty where nothing is."""
        stage = self.stage
        return COMPONENTS[self.adding or 0] if stage == "addition" else "" if stage == "done" else stage

    @property
    def tare_words(self) -> str:
        """Say whether to tare before the pour; empty where nothing is poured."""
        if self.stage == "done":
            return ""
        if not self.poured_g:
            return "TARE CUP"
        pours = self.clock_runs and self.stage == "hardener"
        return "TARE AGAIN" if self.tare_each and not pours else "DO NOT TARE"

    @property
    def pour_words(self) -> str:
        """Say how much is poured for what the scale is to show, unless it is in, and whether to tare."""
        poured = self.clock_runs and self.stage == "hardener"
        pours = ["" if poured else f"+{mass(self.pour_g, '.4g')}", self.tare_words]
        return ", ".join(filter(None, pours if self.poured_g else [self.tare_words, RESIN_FIRST]))

    @property
    def good_g(self) -> tuple[float, float] | None:
        """The lowest and the highest reading at which the mix is on ratio; None of the resin, which hardener follows,
        and where the scale is too coarse for it.
        """
        if self.stage in ("resin", "done"):
            return None
        resin_g, ratio = self.poured_g[0], self.parts[1] / self.parts[0]
        if self.adding == 0:
            hardener_g = self.poured_g[1]
            ends = (hardener_g * (1.0 + 1.0 / (ratio * (1.0 + sign * ON_RATIO))) for sign in (1.0, -1.0))
        else:
            ends = (resin_g * (1.0 + ratio * (1.0 + sign * ON_RATIO)) for sign in (-1.0, 1.0))
        low, high = ((end_g - self.tared_g) / self.readability_g for end_g in ends)
        first, last = ceil(low - 1e-9), floor(high + 1e-9)
        return (round(first * self.readability_g, 6), round(last * self.readability_g, 6)) if first <= last else None

    @property
    def room_words(self) -> str:
        """Say that the cup is too small for what comes next; empty where it is not."""
        whole_g = self.next_g + self.tared_g
        if self.cup_g is None or self.stage == "done" or whole_g <= self.cup_g:
            return ""
        return f"{mass.digits(whole_g, 'g')} > {mass(self.cup_g, 'g')} cup: use a larger"

    @property
    def adding(self) -> int | None:
        """Which component an addition is of (0 resin, 1 hardener), or None."""
        judged = self.verdict
        if judged is None or judged.word == "on ratio":
            return None
        return 0 if judged.add_g[0] > 0 else 1

    @property
    def verdict(self) -> Verdict | None:
        """What to make of the mix once both parts are in."""
        return verdict(self.poured_g, self.parts, cup_g=self.cup_g) if len(self.poured_g) == 2 else None

    def masses_g(self) -> tuple[float, float]:
        """Return resin and hardener: as poured, and as they should be where not yet poured."""
        aims_g = self.aims_g
        return (self.poured_g or aims_g)[0], self.poured_g[1] if len(self.poured_g) > 1 else aims_g[1]

    def odd(self, text: str) -> str:
        """Return what to ask of a reading that is far from what is expected, or an empty text."""
        if not text.strip():
            return ""
        shown_g, good_g = grams(text), self.good_g or (self.next_g, self.next_g)
        near = abs(shown_g - self.next_g) <= max(ODD * self.pour_g, 2.0 * self.readability_g)
        if near or good_g[0] <= shown_g <= good_g[1] or shown_g < self.now_g or shown_g <= 0.0:
            return ""
        judged = self.read(text).verdict
        off = "" if judged is None else f", {100 * abs(judged.off_ratio):.0f} % too {judged.much} hardener"
        return f"{mass(shown_g, 'g')}, not {mass(self.next_g, 'g')}{off}: typed right?"

    def restarted(self, text: str) -> str:
        """Return what to ask of a reading below what is in the cup, or an empty text."""
        if not self.poured_g or not text.strip() or grams(text) >= self.now_g:
            return ""
        return f"{mass(grams(text), 'g')}? The cup holds {mass(self.now_g, 'g')}. Did the scale switch off?"

    def zeroed(self) -> ScaleReadings:
        """Return the station after the scale was zeroed with the cup on it: it counts on from what is in."""
        return replace(self, zero_g=sum(self.poured_g))

    def read(self, text: str) -> ScaleReadings:
        """Return the station after one reading; an empty text means the scale shows what it should."""
        shown_g = grams(text) if text.strip() else self.next_g
        so_far_g = sum(self.poured_g)
        shown_g += self.tared_g
        if not self.poured_g and shown_g <= 0:
            raise InputError(
                "resin", "nothing is in the cup", value=f"{mass(shown_g, 'g')}", todo="tare the cup, pour, read"
            )
        if shown_g < so_far_g:
            raise InputError(
                "scale reading",
                "is less than what is in the cup already",
                value=f"{mass(shown_g - self.tared_g, 'g')}",
                allowed=f"{mass(self.now_g, 'g')} or more",
                todo="read again, or take the reading before back with u",
            )
        if len(self.poured_g) < 2:
            return replace(self, poured_g=(*self.poured_g, shown_g - so_far_g))
        resin_g, hardener_g = self.poured_g
        added_g = shown_g - so_far_g
        poured = (resin_g, hardener_g + added_g) if self.adding == 1 else (resin_g + added_g, hardener_g)
        return replace(self, poured_g=poured)

    def doubt_words(self) -> str:
        """Return what stands against laying this batch, and what would put it right."""
        judged = self.verdict
        if judged is None or judged.word != "off ratio":
            missing = "resin" if self.resin_assumed else "hardener"
            todo = "" if judged else f"\nRead it first: the scale should show {mass(self.next_g, 'g')}."
            return f"Batch {self.batch} is UNREAD: its {missing} was not read.{todo}"
        words = f"Batch {self.batch} is OFF RATIO: {100 * abs(judged.off_ratio):.1f} % too {judged.much} hardener."
        return "\n".join(filter(None, [words, self.add_words(), self.room_words]))

    def minds(self) -> tuple[str, ...]:
        """Return what to mind of an addition."""
        soft = "no more hardener than that: it stays soft" if self.adding == 1 else ""
        doubles = self.adding is not None and sum(self.aims_g) > 2 * sum(self.poured_g)
        return tuple(filter(None, [soft, "that doubles the batch: a fresh one wastes less" if doubles else ""]))

    def add_words(self) -> str:
        """Say what puts the mix right; empty where nothing has to."""
        if self.adding is None:
            return ""
        return f"ADD {mass(self.pour_g, '.3g')} {self.pouring.upper()} → {SCALE_TO} {mass.digits(self.next_g, 'g')}"

    def _shown(self, mass_g: float) -> float:
        """Return a mass as the scale can show it."""
        return round(round(mass_g / self.readability_g) * self.readability_g, 6)


def grams(text: str) -> float:
    """Read what the scale shows; a bare number is in the unit that people see."""
    plain = text.strip().removesuffix(mass.sign).strip()
    in_grams = plain.endswith("g")
    plain = plain.removesuffix("g").strip()
    if not NUMBER.fullmatch(plain):
        raise InputError("scale reading", "is not a number of grams", value=text, allowed="write 192 or 192.5")
    number = float(plain.replace(",", "."))
    return number if in_grams else mass.value(number)


def usual_pour_s(state: SessionState) -> float:
    """Return how long after first contact today's hardener was read, or what is usual where nothing tells yet."""
    mixed_s: dict[int, float] = {}
    took_s = []
    for record in state.records:
        if isinstance(record, BatchMixed):
            mixed_s[record.batch] = record.when_s
        elif isinstance(record, PourRead) and record.hardener_g > 0.0 and record.batch in mixed_s:
            took_s.append(record.when_s - mixed_s.pop(record.batch))
    return median([time_s for time_s in took_s if 0.0 < time_s <= POUR_AT_MOST_S] or [POUR_S])
