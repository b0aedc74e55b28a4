"""What the benchmarks find: one row a measurement, ours beside a rival's in the same run, and the table of all rows."""

from collections.abc import Iterable
from dataclasses import dataclass
from math import floor, log10
from typing import Literal

HEADS = ("what", "ours", "rival's", "ours is", "target", "met", "clock", "the rival")


@dataclass(frozen=True)
class Row:
    """One measurement: two times [s], or two shares of a core, and what is asked of ours."""

    what: str
    ours: float
    rival: float
    against: str
    clock: Literal["CPU", "wall"]
    unit: Literal["s", "of a core"] = "s"
    most: float | None = None
    """The most that ours may be, in the unit."""
    most_ratio: float | None = None
    """The most that ours may be over the rival's."""

    @property
    def ratio(self) -> float:
        """Ours over the rival's."""
        return self.ours / self.rival

    @property
    def met(self) -> bool | None:
        """Whether ours is as quick as was asked; None where nothing was."""
        asked = [(self.ours, self.most), (self.ratio, self.most_ratio)]
        answers = [is_now <= most for is_now, most in asked if most is not None]
        return all(answers) if answers else None

    @property
    def cells(self) -> tuple[str, ...]:
        """The row as text, in the order of HEADS."""
        asked = [
            f"<= {amount_words(self.most, self.unit)}" if self.most is not None else "",
            f"<= {ratio_words(self.most_ratio)}" if self.most_ratio is not None else "",
        ]
        met = {True: "yes", False: "NO", None: ""}[self.met]
        return (
            self.what,
            amount_words(self.ours, self.unit),
            amount_words(self.rival, self.unit),
            ratio_words(self.ratio),
            " and ".join(filter(None, asked)),
            met,
            self.clock,
            self.against,
        )


def amount_words(value: float, unit: str) -> str:
    """Write a time or a share in its handiest unit, to three digits and none below a thousandth of its unit."""
    if unit == "of a core":
        return f"{value:.2%}"
    for limit_s, scale, name in ((1e-3, 1e6, "us"), (1.0, 1e3, "ms")):
        if value < limit_s:
            return f"{_three_digits(value * scale)} {name}"
    return f"{_three_digits(value)} s"


def ratio_words(ratio: float) -> str:
    """Write a ratio as a factor, or as a part where ours is many times quicker."""
    return f"{_three_digits(ratio)} x" if ratio > 0.1 else f"1/{_three_digits(1 / ratio)}"


def _three_digits(value: float) -> str:
    digits = 2 - floor(log10(value))
    return f"{round(value, digits):.{max(digits, 0)}f}".removesuffix(".00")


def table(rows: Iterable[Row]) -> str:
    """Return all rows as one table, and how many targets are met."""
    found = list(rows)
    lines = [HEADS, *(row.cells for row in found)]
    widths = [max(len(cells[column]) for cells in lines) for column in range(len(HEADS))]
    drawn = [
        "  ".join(f"{cell:<{width}}" for cell, width in zip(cells, widths, strict=True)).rstrip() for cells in lines
    ]
    asked = [row.met for row in found if row.met is not None]
    return "\n".join([*drawn, "", f"{sum(asked)} of {len(asked)} targets are met"])
