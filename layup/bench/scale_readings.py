"""The mix station: what the scale should show next for one batch, and what to make of what it showed.

Pure: each entry returns a new station. One cup on one tare: the readings are the sum so far; where the scale is tared
before each component, they are what was poured since.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from itertools import accumulate
from typing import Literal

from layup.errors import InputError
from layup.planning.scale import COMPONENTS, Verdict, verdict
from layup.units import mass

STIR_S = 180.0
"""How long to stir a batch before it is used: 3 minutes (common practice, no source)."""
ODD = 0.25
"""A reading this far from the expected one may be a slip of the finger (common practice, no source)."""
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
    poured_g: tuple[float, ...] = ()
    """Resin, then hardener, as the readings tell; empty before the first."""
    clock_runs: bool = False
    """Whether hardener is in: without a reading of the resin, the resin is then taken as planned."""
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
    def targets_g(self) -> tuple[float, float]:
        """The readings to pour to: resin, then the sum or, tared again, the hardener.

        The hardener follows the resin that is really in the cup.
        """
        resin_g = self.poured_g[0] if self.poured_g else self.planned_g[0]
        hardener_g = resin_g * self.parts[1] / self.parts[0]
        return self._shown(resin_g), self._shown(hardener_g if self.tare_each else resin_g + hardener_g)

    @property
    def tared_g(self) -> float:
        """What is in the cup and not in the next reading."""
        return sum(self.poured_g) if self.tare_each else 0.0

    @property
    def shown_g(self) -> tuple[float, ...]:
        """What the scale showed of each component that is in."""
        return self.poured_g if self.tare_each else tuple(accumulate(self.poured_g))

    @property
    def next_g(self) -> float:
        """What the scale should show when the next pour is right; after both, when the addition is in."""
        if len(self.poured_g) < 2:
            return self.targets_g[len(self.poured_g)]
        judged = self.verdict
        return self._shown((judged.batch_g if judged else sum(self.poured_g)) - self.tared_g)

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
        """Return resin and hardener: as poured, and as the sheet says where not yet poured."""
        resin_g = self.poured_g[0] if self.poured_g else self.planned_g[0]
        hardener_g = self.poured_g[1] if len(self.poured_g) > 1 else resin_g * self.parts[1] / self.parts[0]
        return resin_g, hardener_g

    def odd(self, text: str) -> str:
        """Return what to ask of a reading that is far from what is expected, or an empty text."""
        if not text.strip():
            return ""
        shown_g = _grams(text)
        if abs(shown_g - self.next_g) <= ODD * self.next_g:
            return ""
        return f"{mass(shown_g, 'g')}? About {mass(self.next_g, 'g')} was expected here."

    def read(self, text: str) -> ScaleReadings:
        """Return the station after one reading; an empty text means the scale shows what it should."""
        shown_g = _grams(text) if text.strip() else self.next_g
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
                value=f"{mass(shown_g, 'g')}",
                allowed=f"the cup holds {mass(so_far_g, 'g')}, and the reading is the sum",
                todo="if you tared in between, add the two, or take the reading before back with u",
            )
        if len(self.poured_g) < 2:
            return replace(self, poured_g=(*self.poured_g, shown_g - so_far_g))
        resin_g, hardener_g = self.poured_g
        added_g = shown_g - so_far_g
        poured = (resin_g, hardener_g + added_g) if self.adding == 1 else (resin_g + added_g, hardener_g)
        return replace(self, poured_g=poured)

    def next_words(self) -> str:
        """Say what to do now."""
        if self.stage == "resin":
            return f"Tare the cup to 0. Pour RESIN until the scale shows {mass(self.next_g, 'g')}."
        again = "Tare again. " if self.tare_each else ""
        start = "" if self.clock_runs else "Press h as the hardener goes in. "
        if self.stage == "hardener":
            in_all_g = self.next_g + self.tared_g
            if self.cup_g is not None and in_all_g > self.cup_g:
                return (
                    f"{mass(in_all_g, 'g')} is more than the cup takes ({mass(self.cup_g, 'g')}): "
                    f"move it to a larger one first. {again}{start}Pour to {mass(self.next_g, 'g')}."
                )
            return f"{again}{start}Pour HARDENER until the scale shows {mass(self.next_g, 'g')}."
        if self.stage == "addition" and self.adding is not None:
            return f"{again}Add {COMPONENTS[self.adding].upper()} until the scale shows {mass(self.next_g, 'g')}."
        return "On ratio. Stir, scrape the sides and the bottom, stir again."

    def doubt_words(self) -> str:
        """Return what stands against laying this batch, and what would put it right."""
        judged = self.verdict
        if judged is None or judged.word != "off ratio":
            missing = "resin" if self.resin_assumed else "hardener"
            todo = "" if judged else f"\nRead it first: the scale should show {mass(self.next_g, 'g')}."
            return f"Batch {self.batch} is UNREAD: its {missing} was not read.{todo}"
        much = "much" if judged.off_ratio > 0 else "little"
        words = f"Batch {self.batch} is OFF RATIO: {100 * abs(judged.off_ratio):.1f} % too {much} hardener."
        if self.adding is None:
            return words
        words += f"\nAdd {mass(judged.add_g[self.adding], '.1f')} of {COMPONENTS[self.adding]}, "
        words += f"scale to {mass(self.next_g, 'g')}."
        if judged.fits is False and self.cup_g is not None:
            words += f"\nThe cup takes {mass(self.cup_g, 'g')}: move it to a larger one first."
        return words

    def _shown(self, mass_g: float) -> float:
        """Return a mass as the scale can show it."""
        return round(round(mass_g / self.readability_g) * self.readability_g, 6)


def _grams(text: str) -> float:
    plain = text.strip().removesuffix(mass.sign).strip()
    in_grams = plain.endswith("g")
    plain = plain.removesuffix("g").strip()
    if not NUMBER.fullmatch(plain):
        raise InputError("scale reading", "is not a number of grams", value=text, allowed="write 192 or 192.5")
    number = float(plain.replace(",", "."))
    return number if in_grams else mass.value(number)
