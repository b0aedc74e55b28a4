"""Published times of real resins, each predicted from each other row of its set: what the model is compared with."""

import csv
from dataclasses import dataclass
from math import exp, log
from pathlib import Path

from potlife_cases import sheet

from layup.chemistry.calibration import calibrate
from layup.chemistry.datasheet import PotLifePoint
from layup.chemistry.life_band import predict_band
from layup.chemistry.prediction import Vessel

TABLE = Path(__file__).parent / "reference" / "measured_times.csv"
COMPARED_ON = "2026-11-28"
"""The day of this comparison; change it with the model."""
MIDDLE_ROW = {"A1": 21.11, "A2": 21.11, "A3": 22.0}
"""The temperature of the row that the rest of a set is foretold from where one must do; of A3, the cup's."""


@dataclass(frozen=True)
class Measured:
    """One row: a time of one resin."""

    set: str
    mass_g: float | None
    vessel: str
    endpoint: str
    temperature_C: float
    minutes_low: float
    minutes_high: float

    @property
    def minutes(self) -> float:
        """The middle of the stated range."""
        return (self.minutes_low * self.minutes_high) ** 0.5

    @property
    def point(self) -> PotLifePoint:
        """The same as a datasheet's point."""
        return PotLifePoint(
            self.minutes * 60.0,
            self.mass_g or 1.0,
            self.temperature_C + 273.15,
            self.endpoint,
            film=self.vessel == "film",
        )

    @property
    def words(self) -> str:
        """The row, as people read it."""
        mass = f"{self.mass_g:g} g, " if self.mass_g else ""
        return f"{self.vessel}, {mass}{self.temperature_C:.0f} °C, {self.endpoint}"


@dataclass(frozen=True)
class Compared:
    """A row, foretold from another."""

    stated: Measured
    asked: Measured
    likely_min: float
    low_min: float
    high_min: float

    @property
    def ratio(self) -> float:
        """The foretold time over the measured one."""
        return self.likely_min / self.asked.minutes

    @property
    def held(self) -> bool:
        """Whether the measured range reaches into the 80 % band."""
        return self.low_min <= self.asked.minutes_high and self.asked.minutes_low <= self.high_min

    @property
    def blind(self) -> bool:
        """Whether no default was taken from it: the usual open conversion is A3's film time."""
        return self.stated.set != "A3"


def measured() -> list[Measured]:
    """Return the rows of the table."""
    lines = [line for line in TABLE.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    return [
        Measured(
            row["set"],
            float(row["mass_g"]) if row["mass_g"] else None,
            row["vessel"],
            row["endpoint"],
            float(row["temperature_C"]),
            float(row["minutes_low"]),
            float(row["minutes_high"]),
        )
        for row in csv.DictReader(lines)
    ]


def foretell(stated: tuple[PotLifePoint, ...], asked: PotLifePoint) -> tuple[float, float, float]:
    """Return likely, low and high minutes of a point from a datasheet that states others."""
    vessel = Vessel.film() if asked.film else Vessel.cup()
    band = predict_band(
        calibrate(sheet(*stated)),
        vessel,
        mass_g=asked.mass_g,
        start_K=asked.temperature_K,
        ambient=asked.temperature_K,
    )
    found = {"thickening": band.working_s, "gel": band.gel_s, "open": band.open_s}[asked.endpoint]
    return found.likely / 60.0, found.low / 60.0, found.high / 60.0


def comparisons() -> list[Compared]:
    """Return every row of each set foretold from every other row of it."""
    rows = measured()
    return [
        Compared(stated, asked, *foretell((stated.point,), asked.point))
        for stated in rows
        for asked in rows
        if stated.set == asked.set and stated != asked
    ]


def from_the_middle(found: list[Compared]) -> list[Compared]:
    """Return those foretold from the middle row of their set."""
    return [
        one
        for one in found
        if one.stated.temperature_C == MIDDLE_ROW[one.stated.set]
        and (one.stated.set != "A3" or one.stated.vessel == "cup")
    ]


def log_error(found: list[Compared]) -> float:
    """Return the root mean square of ln(foretold/measured), as a factor."""
    return exp((sum(log(one.ratio) ** 2 for one in found) / len(found)) ** 0.5)


NEVER_COMPARED = (
    "how a cup's mass moves its pot life, and trays",
    "the peak (an upper one: a specific heat that grows with warmth would make the 218 °C of 50 g at 20 °C 170 to 185)",
    "glass transition and demoulding, but for one maker's hardness chart (`tests/reference`), which the model "
    "misses in the cold",
    "a film on cold wood, a pour in its channel, a resin taught by several press days",
    "how soon cans, cores and moulds follow a shop, what a heater holds",
    "squeeze-out and fibre fraction after pressing; the strength of a foam mould (from memory)",
    "a builder's minutes: guesses by kind and size are common practice, no source, until a dry run",
    "how often a review names the true cause of a real failure: only of days made by seeded simulation",
)


def table_markdown() -> str:
    """Return what the model was compared with, as DEVELOPERS.md shows it."""
    found = comparisons()
    middle = from_the_middle(found)
    rows = [
        f"| {one.stated.set} | {one.stated.words}: {one.stated.minutes:.0f} min | {one.asked.words} "
        f"| {one.asked.minutes:.0f} min | {one.ratio:.2f} | {'yes' if one.held else 'no'} |"
        for one in middle
    ]
    lines = [
        f"On {COMPARED_ON}, each set foretold from one row of it alone:",
        "",
        "| set | from | foretold | measured | foretold over measured | in the 80 % band |",
        "|---|---|---|---|---|---|",
        *rows,
        "",
        f"{sum(one.held for one in middle)} of {len(middle)} are in the band; every row from each other of its set: "
        f"{sum(one.held for one in found)} of {len(found)}. A1 and A2 are blind, A3's film set a film's usual limit; "
        "sources in `tests/reference/measured_times.csv`.",
        "",
        "Never compared with a real resin, shop or board:",
        "",
        *(f"- {each};" for each in NEVER_COMPARED[:-1]),
        f"- {NEVER_COMPARED[-1]}.",
    ]
    return "\n".join(lines)
