"""The demo's two press days, a good one and a failed one: `python tests/simulate/demo_days.py` writes them anew.

Both are invented. On the second day the pair mixed up to 400 g in a cup and laid glass at half its planned pace, with a
resin a little faster than its datasheet says, so that the first cup thickened in their hands and was spread all the
same.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from simulate.mishaps import with_events
from simulate.shop import Day, Script, Timed, Truth, press_day, thickens_s, workshop

from layup.session.batch_events import Demoulded, Observation
from layup.session.day_events import Note, TemperatureRead
from layup.session.state import Outcome, PartWeighed

HOUR = 3600.0
SESSIONS = Path(__file__).resolve().parent.parent.parent / "sessions"
CREW = Truth(faster=1.18, pace={"fabric": 1.0, "bond": 1.0, "place": 1.0, "closing": 1.0})
SLOW_CREW = replace(CREW, pace={"fabric": 2.1, "bond": 1.05, "place": 1.05, "closing": 1.1})
GOOD = Day(temperature_K=291.65, humidity=0.48, people=3, cup_g=300.0, start=datetime(2026, 2, 21, 8, 30, tzinfo=UTC))
BAD = Day(temperature_K=297.15, humidity=0.52, start=datetime(2026, 3, 7, 9, 0, tzinfo=UTC))


def _cure(script: Script, out_h: float, kelvins: Iterable[float]) -> list[Timed]:
    """Return the mould's temperature every twelve hours, and when the part came out."""
    readings: list[Timed] = [
        (script.closed_s + 12.0 * HOUR * number, TemperatureRead(place="mould", temperature_K=kelvin))
        for number, kelvin in enumerate(kelvins, 1)
    ]
    return [*readings, (script.closed_s + out_h * HOUR, Demoulded())]


def _weighed(script: Script, *, kept: float, left: float) -> PartWeighed:
    """Return the part on the scale: cloth as cut, two kilograms of core, base and edges, its share of planned resin."""
    grams = script.figures.budget
    cloth_g = round(sum(line.glass_g for line in grams.lines))
    kept_g = round(kept * sum(line.on_part_g + line.offcut_g for line in grams.lines))
    dry_g = cloth_g + 2060.0
    return PartWeighed(part_g=dry_g + kept_g, dry_g=dry_g, cloth_g=cloth_g, left_g=round(left * grams.losses_g))


def good(script: Script) -> Script:
    """A day without haste, its part weighed."""
    out_s = script.closed_s + 60.0 * HOUR
    return with_events(
        script,
        *_cure(script, 60.0, (292.15, 291.65, 292.15, 292.65)),
        (out_s + 60.0, _weighed(script, kept=0.987, left=1.15)),
        (out_s + 120.0, Outcome(tags=("good",), notes="Flat, straight, edges tight. Base needs the usual grind.")),
    )


def bad(script: Script) -> Script:
    """The first cup thickens in their hands, and is spread all the same."""
    thick_s = thickens_s(script, 1, BAD.temperature_K, 365.0)
    begun_s = script.contact_s[1]
    seen_s = begun_s + 0.92 * (thick_s - begun_s)
    out_s = script.closed_s + 62.0 * HOUR
    calm = replace(script, events=tuple(one for one in script.events if one[1].event != "observation"))
    return with_events(
        calm,
        (begun_s + 0.4 * (thick_s - begun_s), Observation(batch=1, word="runny")),
        (seen_s, Observation(batch=1, word="thickening")),
        (seen_s + 30.0, Note(text="glass keeps lifting at the tip, cup getting warm, using it up anyway")),
        *_cure(script, 62.0, (294.15, 293.15, 294.15, 293.15, 294.15)),
        (out_s + 60.0, _weighed(script, kept=0.961, left=1.02)),
        (
            out_s + 120.0,
            Outcome(
                tags=("dry spot", "void"), notes="Whitish under the tip, 12 cm long, left ski; pinholes beside it."
            ),
        ),
    )


def write_demo(root: Path) -> list[Path]:
    """Write both days in a workshop; return their folders."""
    return [
        press_day(root, day=GOOD, truth=CREW, mishap=good, seed=11),
        press_day(root, day=BAD, truth=SLOW_CREW, mishap=bad, seed=12),
    ]


def main() -> None:
    """Replace the demo's sessions by new ones."""
    with tempfile.TemporaryDirectory() as folder:
        for session in write_demo(workshop(Path(folder))):
            target = SESSIONS / session.name
            shutil.rmtree(target, ignore_errors=True)
            shutil.copytree(session, target, ignore=shutil.ignore_patterns("*.lock"))
            print(f"wrote {target.name}")


if __name__ == "__main__":
    main()
