"""Log a trial cup: what a small cup did and when becomes this resin's own point beside its datasheet's.

Pour 50 to 200 g, stir, start a watch as the hardener touches the resin, and prod it. ASTM D2471 and EN 14022 name what
to note: mass and vessel, the temperature of mix and room, when it gels, and how hot it gets.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta

from layup.chemistry.looks import LOOKS, PAST, LookWord
from layup.commands.command import answer, facts, in_min, quantity, takes, temperature_K
from layup.errors import InputError
from layup.files.workshop import Workshop
from layup.review.lessons import workshop_lessons
from layup.review.resin_lessons import SETTLED, TrialPoint, loss_share, loss_within, trial_points, trial_words
from layup.session.archive import stored_session
from layup.session.clock import SystemClock
from layup.session.recall import Trial, write_trial
from layup.units import temperature

EXAMPLE = 'layup trial slow-laminating --mass "100 g" --temp "20 degC" --thickening "68 min" --gel "70 min"'

SEEN = "\n".join(f"--{LOOKS[word].noted} TIME  when {LOOKS[word].timed} (default: not seen)" for word in PAST)
add_arguments = takes(f"""
RESIN
--mass MASS!  in the cup, 50 to 200 g: "100 g"
--temp TEMPERATURE!  of the mix as it was poured: "20 degC"
--shop-temp TEMPERATURE  of the shop: "18 degC" (default: --temp)
{SEEN}
--cup-temp TIME:TEMPERATURE...  a thermometer in the mix: "35 min:62 degC" (default: none; may be given again)
--date YYYY-MM-DD  the day it was poured (default: it ended just now)
--workshop DIR
--json
""")


def run(args: argparse.Namespace) -> int:
    """Write the trial, and answer with what it says of the resin."""
    assumed: list[str] = []
    trial = _trial(args, assumed)
    workshop = Workshop(args.workshop)
    sheet = workshop.resin(args.resin)
    stated = workshop.calibration(sheet)
    folder = write_trial(workshop, args.resin, trial, _started(args.date, trial))
    lesson, stored = workshop_lessons(workshop).resins.get(sheet.id), stored_session(folder)
    lines = trial_words(stored, stated, lesson)
    data = {
        "resin": sheet.id,
        "session": folder.name,
        "mass_g": trial.mass_g,
        "temperature_K": trial.start_K,
        "seen": points_data(trial_points(stored, stated)),
        "pot_life_factor": lesson.life_factor if lesson else None,
        "low": lesson.low if lesson else None,
        "high": lesson.high if lesson else None,
        "heat_loss_within": loss_within(stated, lesson) if lesson else None,
        "heat_loss_settled": lesson is not None and loss_share(stated, lesson) <= SETTLED,
        "words": lines,
    }

    title = f"{sheet.title}: trial of {trial.mass_g:g} g at {temperature(trial.start_K)}"
    told = [title, f"  kept in {folder.name}", *(f"  {line}" for line in lines)]
    return answer(
        args.json, data, lambda _: told, assumptions=[*assumed, "plans use it by default; layup learn shows it"]
    )


def points_data(points: Sequence[TrialPoint]) -> list[dict[str, object]]:
    """Return what was seen of a trial cup beside the datasheet's band."""
    return [
        {
            "word": point.word,
            **facts(point, "observed_s"),
            "datasheet_min": in_min(point.foretold_s),
            "low": in_min(point.low_s),
            "high": in_min(point.high_s),
        }
        for point in points
    ]


def _trial(args: argparse.Namespace, assumed: list[str]) -> Trial:
    def warmth(text: str, where: str, high_C: float = 60.0) -> float:
        return temperature_K(text, assumed, where=where, within_C=(0.0, high_C))

    start_K = warmth(args.temp, "temperature")
    words: list[tuple[LookWord, str | None]] = [(word, getattr(args, LOOKS[word].noted)) for word in PAST]
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
