"""What tests of the command line share: asking in process, and the rules that hold for every answer."""

import io
import json
import re
from collections.abc import Iterator
from contextlib import chdir, redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

from rich.cells import cell_len

from layup.cli import main

ESCAPE = "\x1b"
HOTTER_AND_LONGER = """[[pot_life]]
time = "90 min"
mass = "150 g"
temperature = "35 degC"
endpoint = "thickening"

[[film]]"""
"""A second pot life that contradicts the first, to put in place of the next table's head."""
UNITS = (
    *("_g", "_ml", "_m", "_m2", "_K", "_Pa", "_N", "_N_m", "_min", "_g_m2", "_oz_yd2", "_oz_ft2", "_Pa_s"),
    *("_W", "_kWh", "_J_K", "_W_K", "_W_mK", "_m2_s", "_W_m2K"),
)
"""What the name of a number with a dimension ends in."""
BAND = {"low", "likely", "high"}
"""The edges of the 80 % band, in the unit of the number beside them, as the contract has it."""
NO_DIMENSION = {
    *BAND,
    *("batch", "batches", "step", "begin", "end", "line", "count", "people", "share", "steps"),
    *("pour", "pours", "pours_planned", "across", "beside", "waste"),
    *("biot", "moisture", "price"),
    *("chance", "relative_humidity", "parts_by_mass", "total", "conversion", "order", "lowest_share", "highest_share"),
}
"""Names of counts, shares and money."""


@dataclass(frozen=True)
class Answer:
    """What a command said and its exit code."""

    code: int
    out: str
    err: str

    @property
    def data(self) -> dict:
        """The one JSON object on stdout, with its list of assumptions."""
        assert self.err == ""
        data = json.loads(self.out, parse_constant=_no_constant)
        assert isinstance(data, dict)
        assert isinstance(data["assumptions"], list)
        assert all(isinstance(words, str) and words for words in data["assumptions"])
        assert len(set(data["assumptions"])) == len(data["assumptions"])
        return data

    @property
    def words(self) -> str:
        """The text on stdout with every run of blanks as one, so that it can be searched however it is broken."""
        assert self.err == ""
        return " ".join(self.out.split())

    @property
    def complaint(self) -> str:
        """The text on stderr of a command that said nothing else."""
        assert self.out == ""
        assert "Traceback" not in self.err
        return self.err


def _no_constant(name: str) -> None:
    raise AssertionError(f"{name} is no JSON")


def unruly(value: object, name: str = "") -> Iterator[str]:
    """Yield each key that is not snake_case, and each number whose name tells no unit."""
    if isinstance(value, dict):
        for key, item in value.items():
            if not re.fullmatch(r"[a-z][A-Za-z0-9]*(_[A-Za-z0-9]+)*", key):
                yield key
            yield from unruly(item, key)
    elif isinstance(value, list):
        for item in value:
            yield from unruly(item, name)
    elif isinstance(value, int | float) and not isinstance(value, bool) and not _tells_its_unit(name):
        yield name


def _tells_its_unit(name: str) -> bool:
    name = name.removesuffix("_low").removesuffix("_high")
    return name in NO_DIMENSION or name.endswith((*UNITS, "_ratio", "_fraction", "_index"))


def ask_in(folder: Path, *words: str, encoding: str = "utf-8") -> Answer:
    """Run a command in `folder` on streams that refuse what no terminal takes, as real ones do."""
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding=encoding) for _ in range(2))
    with chdir(folder), redirect_stdout(out), redirect_stderr(err):
        try:
            code = main(list(words))
        except SystemExit as stop:
            code = stop.code
    for stream in (out, err):
        stream.seek(0)
    return Answer(code, out.read(), err.read())


def assert_no_wider(text: str, width: int) -> None:
    """Check that no line takes more cells than the console has."""
    assert [line for line in text.splitlines() if cell_len(line) > width] == []
