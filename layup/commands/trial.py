"""Log a trial cup: what a small cup did and when becomes this resin's own point beside its datasheet's.

Pour 50 to 200 g, stir, start a watch as the hardener touches the resin, and prod it. ASTM D2471 and EN 14022 name what
to note: mass and vessel, the temperature of mix and room, when it gels, and how hot it gets.
"""

from __future__ import annotations

import argparse
from datetime import UTC, date, datetime, time, timedelta
from math import exp, sqrt
from pathlib import Path
from typing import TYPE_CHECKING

from layup.chemistry.band import predict_band
from layup.chemistry.calibration import LOSS, Calibration
from layup.chemistry.uncertainty import EIGHTY_PERCENT
from layup.chemistry.vessel import SEMENOV_RUNAWAY, Vessel
from layup.commands.answer import add_json_argument, answer
from layup.commands.reading import add_workshop_argument, quantity, temperature_K
from layup.errors import InputError
from layup.files.workshop import Workshop
from layup.review.lessons import ResinLesson, workshop_lessons
from layup.session.clock import SystemClock
from layup.session.fields import Word
from layup.session.trial import Trial, write_trial
from layup.units import temperature

if TYPE_CHECKING:
    from rich.console import Console

EXAMPLE = 'layup trial slow-laminating --mass "100 g" --temp "20 degC" --thickening "68 min" --gel "70 min"'
SETTLED = 0.75
"""The heat loss counts as settled once its spread is this share of what it was, or less."""
TOLD_IN_PART = 0.85
"""And told in part at this one: what two masses of a slow resin come to."""
TOOK_NOTE: dict[Word, str] = {"thickening": "thickening", "stringy": "stringy", "gelled": "gel"}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the words of `layup trial`."""
    parser.add_argument("resin", metavar="RESIN", help="a resin of this workshop, or the path of its file")
    parser.add_argument("--mass", metavar="MASS", required=True, help='in the cup, 50 to 200 g: "100 g"')
    parser.add_argument("--temp", metavar="TEMPERATURE", required=True, help='of the mix as it was poured: "20 degC"')
    parser.add_argument("--shop-temp", metavar="TEMPERATURE", help='of the shop: "18 degC" (default: --temp)')
    seen = (
        ("--thickening", "when it thickened, from hardener in", "31 min"),
        ("--stringy", "when it pulled threads from the stick", "34 min"),
        ("--gel", "when it no longer flowed", "36 min"),
    )
    for name, what, example in seen:
        parser.add_argument(name, metavar="TIME", help=f'{what}: "{example}" (default: not seen)')
    parser.add_argument(
        "--cup-temp",
        metavar="TIME:TEMPERATURE",
        action="append",
        default=[],
        help='a thermometer in the mix: "35 min:62 degC" (default: none; may be given again)',
    )
    parser.add_argument("--date", metavar="YYYY-MM-DD", help="the day it was poured (default: it ended just now)")
    add_workshop_argument(parser)
    add_json_argument(parser)


def run(args: argparse.Namespace) -> int:
    """Write the trial, and answer with what it says of the resin."""
    assumed: list[str] = []
    trial = _trial(args, assumed)
    workshop = Workshop(Path(args.workshop))
    sheet = workshop.resin(args.resin)
    stated = workshop.calibration(sheet)
    folder = write_trial(workshop, args.resin, trial, _started(args.date, trial))
    lesson = workshop_lessons(workshop).resins.get(sheet.id)
    lines = [*_against_datasheet(trial, stated), *_learnt(stated, lesson, read=bool(trial.read))]
    data = {
        "resin": sheet.id,
        "session": folder.name,
        "mass_g": trial.mass_g,
        "temperature_K": trial.start_K,
        "seen": _seen(trial, stated),
        "pot_life_factor": lesson.life_factor if lesson else None,
        "low": lesson.low if lesson else None,
        "high": lesson.high if lesson else None,
        "heat_loss_within": loss_within(stated, lesson) if lesson else None,
        "heat_loss_settled": lesson is not None and loss_share(stated, lesson) <= SETTLED,
        "words": lines,
    }

    def text(console: Console) -> None:
        console.print(f"{sheet.title}: trial of {trial.mass_g:g} g at {temperature(trial.start_K)}")
        console.print(f"  kept in {folder.name}")
        for line in lines:
            console.print(f"  {line}")

    return answer(args.json, data, text, assumptions=[*assumed, "plans use it by default; layup learn shows it"])


def _trial(args: argparse.Namespace, assumed: list[str]) -> Trial:
    def warmth(text: str, where: str, high_C: float = 60.0) -> float:
        return temperature_K(text, assumed, where=where, low_C=0.0, high_C=high_C)

    start_K = warmth(args.temp, "temperature")
    words: tuple[tuple[Word, str | None], ...]
    words = ("thickening", args.thickening), ("stringy", args.stringy), ("gelled", args.gel)
    read = []
    for said in args.cup_temp:
        when, colon, kelvin = said.rpartition(":")
        if not colon:
            raise InputError("cup temperature", "has no time", value=said, todo='write "35 min:62 degC"')
        at_s = quantity(when, "time", assumed, where="time of the cup temperature")
        read.append((at_s, warmth(kelvin, "cup temperature", 250.0)))
    return Trial(
        mass_g=quantity(args.mass, "mass", assumed, where="mass"),
        start_K=start_K,
        shop_K=start_K if args.shop_temp is None else warmth(args.shop_temp, "shop temperature"),
        seen=tuple((word, quantity(said, "time", assumed, where=word)) for word, said in words if said is not None),
        read=tuple(sorted(read)),
    )


def _started(day: str | None, trial: Trial) -> datetime:
    """Return first contact: so that it ends just now, or at noon of the day that was said."""
    now = SystemClock().utc()
    if day is None:
        return now - timedelta(seconds=trial.ends_s)
    try:
        said = date.fromisoformat(day)
    except ValueError:
        raise InputError("date", "is no day", value=day, allowed="year, month, day", todo="2026-03-07") from None
    started = datetime.combine(said, time(12)).astimezone(UTC)
    if started > now:
        raise InputError("date", "is still to come", value=day, allowed="today or earlier")
    return started


def _seen(trial: Trial, stated: Calibration) -> list[dict[str, object]]:
    """Return what was seen beside the datasheet's band for it; stringy has none."""
    band = predict_band(stated, Vessel.cup(), mass_g=trial.mass_g, start_K=trial.start_K, ambient=trial.shop_K)
    foretold = {
        "thickening": (band.life.working_s, band.working_low_s, band.working_high_s),
        "gelled": (band.life.gel_s, band.gel_low_s, band.gel_high_s),
    }
    rows: list[dict[str, object]] = []
    for word, at_s in trial.seen:
        likely, low, high = foretold.get(word, (None, None, None))
        rows.append(
            {
                "word": word,
                "observed_min": at_s / 60,
                "datasheet_min": None if likely is None else likely / 60,
                "low": None if low is None else low / 60,
                "high": None if high is None else high / 60,
            }
        )
    return rows


def _against_datasheet(trial: Trial, stated: Calibration) -> list[str]:
    lines = []
    for row in _seen(trial, stated):
        said = f"{row['word']} at {row['observed_min']:.0f} min"
        if row["datasheet_min"] is not None:
            said += f", by the datasheet {row['datasheet_min']:.0f} min (80 %: {row['low']:.0f} to {row['high']:.0f})"
        lines.append(said)
    missing = [name for word, name in TOOK_NOTE.items() if word not in dict(trial.seen)]
    missing += [] if trial.read else ["temperature in the cup"]
    return [*lines, *([f"not noted: {', '.join(missing)}"] if missing else [])]


def _learnt(stated: Calibration, lesson: ResinLesson | None, *, read: bool) -> list[str]:
    if lesson is None:
        return ["it teaches nothing yet"]
    share, left = loss_share(stated, lesson), f"{100 * loss_within(stated, lesson):.0f} %"
    cups = {round(seen.mass_g): seen for seen, counts in lesson.looks if counts}
    if share <= SETTLED:
        return [lesson.words, f"heat lost by a cup: settled to within {left}"]
    todo = "read it twice as it cools" if read else "put a thermometer in the cup, to read as it cools"
    if len(cups) < 2:
        return [lesson.words, f"heat lost by a cup: not told yet (within {left}); {todo}"]
    if share <= TOLD_IN_PART:
        return [lesson.words, f"heat lost by a cup: told in part by two masses (within {left}); {todo}"]
    light_g = min(cups)
    start_K = cups[light_g].start_K
    psi = predict_band(stated, Vessel.cup(), mass_g=light_g, start_K=start_K, ambient=start_K).psi_high
    what = "the resin is too fast for that" if psi > SEMENOV_RUNAWAY else "it hardly warms itself"
    return [lesson.words, f"heat lost by a cup: these masses cannot tell it, {what} (within {left}); {todo}"]


def loss_within(stated: Calibration, lesson: ResinLesson) -> float:
    """Return how far off the heat loss may still be, at the high edge of its 80 % band, as a share."""
    return exp(EIGHTY_PERCENT * stated.uncertainty.film_coefficient_log * loss_share(stated, lesson)) - 1.0


def loss_share(stated: Calibration, lesson: ResinLesson) -> float:
    """Return what is left of the heat loss's spread, as a share of what the datasheet leaves."""
    return sqrt(lesson.calibration.covariance[LOSS][LOSS] / stated.covariance[LOSS][LOSS])
