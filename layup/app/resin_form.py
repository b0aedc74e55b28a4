"""A resin's datasheet, typed in its own order; beside it how long the mix would live, so that a slip is seen."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from textwrap import wrap
from typing import Any, get_args

from rich.text import Text

from layup.app.form import Form
from layup.app.form_fields import MISSING, WRITE, Asked, FormJudgement
from layup.bench.typed import number, told
from layup.chemistry.calibration import calibrate
from layup.chemistry.datasheet import Chemistry, CupEndpoint, Datasheet, FilmEndpoint
from layup.chemistry.statements import NEAREST_MASS
from layup.errors import LayupError, Problem
from layup.files.drafts import Draft
from layup.files.durable import free_path, slug
from layup.files.resin_file import ResinFile, check_document
from layup.files.toml import KeyPath, key_name, parse_toml
from layup.files.workshop import Workshop
from layup.files.writing import found, written
from layup.report.pictures import LifeCurves, curves_picture, life_curves
from layup.units import minutes, temperature

KIND = "resin"
START: dict[KeyPath, object] = {
    ("chemistry",): "epoxy-amine",
    ("resin", "name"): "Resin",
    ("hardener", "name"): "Hardener",
    ("source", "document"): "not known",
}
"""How a new file starts: what has to stand in it and is seldom known otherwise."""
EQUIVALENT = "equivalent_weight"
BESIDE = {
    "pot_life": ("mass", "temperature", "endpoint", "reaches"),
    "film": ("temperature", "endpoint"),
    "viscosity": ("temperature",),
    "cure": ("time", "temperature"),
}
"""What a line of a datasheet may say beside the first number of a table."""
ENDS = "Ended by", "Not said? Take gel: the careful reading", "choice", get_args(CupEndpoint)
FILM_ENDS = "Ended by", "Not said? Take open: it no longer bonds", "choice", get_args(FilmEndpoint)
SIGNAL_WORD = "Signal word", "From the safety data sheet", "choice", ("Warning", "Danger")
NEAR = 0.05
"""So near, as a share, the curve goes through what the sheet says, and a ratio by volume fits the one by weight."""
RATIO = re.compile(r"\s*([0-9.,]+)\s*(?:[:/ ]|to)\s*([0-9.,]+)\s*(?:parts\s*)?(?:by\s*)?(w|v)?[a-z]*\s*", re.IGNORECASE)


def _ratios(text: str) -> tuple[re.Match[str] | None, re.Match[str] | None]:
    """Return the ratio that is typed, and the one by volume that stands beside one by weight."""
    found = [RATIO.fullmatch(part) for part in re.split(r"\s*(?:[;\n]|,\s|\band\b|\bor\b)\s*", text.strip(" ,;"))]
    ways = {(each[3] or "").lower(): each for each in found if each is not None}
    if len(found) == 2 and set(ways) == {"w", "v"}:
        return ways["w"], ways["v"]
    return RATIO.fullmatch(text), None


@dataclass(frozen=True, slots=True)
class _Name(Asked):
    """The name, of which the file has its own."""

    @property
    def keys(self) -> tuple[str, ...]:
        return key_name(self.path), "id"


@dataclass(frozen=True, slots=True)
class _Ratio(Asked):
    """The ratio as a datasheet has it, 100:30; two keys of the file."""

    @property
    def keys(self) -> tuple[str, ...]:
        return tuple(key_name((*self.path, part)) for part in ("resin", "hardener"))

    def shown(self, data: Mapping[str, Any]) -> str:
        """Return both parts."""
        parts = [found(data, (*self.path, part)) for part in ("resin", "hardener")]
        return ":".join("" if part is None else str(part) for part in parts).strip(":")

    def changes(self, text: str) -> dict[KeyPath, object]:
        """Return both parts, those by weight of both ways; what is no ratio stands as the resin's, called wrong."""
        match, _ = _ratios(text)
        try:
            parts = (number(match[1]), number(match[2])) if match else (text.strip() or None, None)
        except ValueError:
            parts = (text.strip(), None)
        by = {"w": "weight", "v": "volume"}.get((match[3] or "").lower()) if match else None
        own: dict[KeyPath, object] = {} if by is None else {(*self.path, "by"): by}
        return own | {(*self.path, key): part for key, part in zip(("resin", "hardener"), parts, strict=True)}


@dataclass(frozen=True, slots=True)
class _Point(Asked):
    """The first number, or the end, of a point; a whole line may be typed: "42 min (150 g at 23 degC, to 50 degC)"."""

    def changes(self, text: str) -> dict[KeyPath, object]:
        """Return its own number, and what is said beside it."""
        said, of_tg = told(text), self.path[-1] == "glass_transition"
        own = said.pop("first" if of_tg else str(self.path[-1]), None)
        table = ("cure", "post_cure", 0) if of_tg else self.path[:-1]
        more: dict[KeyPath, object] = {(*table, key): said[key] for key in BESIDE[str(self.path[0])] if key in said}
        return _with_end({self.path: own, **more} if own is not None and more else Asked.changes(self, text))


def _with_end(changes: dict[KeyPath, object]) -> dict[KeyPath, object]:
    """Return what a file is to say, without the heat that ended a pot life where another end is told."""
    ends = [path for path, end in changes.items() if path[::2] == ("pot_life", "endpoint") and end != "temperature"]
    return changes | {(*path[:2], "reaches"): None for path in ends}


def _by_volume(data: Mapping[str, Any]) -> bool:
    return bool(found(data, ("ratio", "by")) == "volume")


def _points(data: Mapping[str, Any], table: str, *, least: int) -> int:
    """Return how many points a table shows: those it has, or some empty ones."""
    return max(len(found(data, tuple(table.split("."))) or []), least)


def _pot_lives(data: Mapping[str, Any]) -> list[Asked]:
    asked: list[Asked] = []
    for at in range(_points(data, "pot_life", least=2)):
        path, first = ("pot_life", at), at == 0

        def by_heat(data: Mapping[str, Any], path: KeyPath = path) -> bool:
            return found(data, (*path, "endpoint")) == "temperature" or found(data, (*path, "reaches")) is not None

        heading = "Pot life" if first else "Pot life, other mass or warmth"
        whys = (
            ("How long: fixes all clocks", "Of how much: more heats itself", "At what warmth it was timed")
            if first
            else ("A second one narrows the band", "More mass: shows how it heats", "Other warmth: shows cold and hot")
        )
        asked += [
            _Point((*path, "time"), "Time", whys[0], "time", heading=heading, needed=first),
            Asked((*path, "mass"), "Mass", whys[1], "mass", needed=first),
            Asked((*path, "temperature"), "Temperature", whys[2], "temperature", needed=first),
            _Point((*path, "endpoint"), *ENDS, needed=first),
            Asked((*path, "reaches"), "Mix reached", "The heat that ended it", "temperature", when=by_heat),
        ]
    return asked


def _cure(data: Mapping[str, Any]) -> list[Asked]:
    asked = [
        Asked(("cure", "minimum_temperature"), "Coldest", "Colder, it never cures well", "temperature", heading="Cure")
    ]
    for at in range(_points(data, "cure.demould", least=2)):
        path = ("cure", "demould", at)
        asked += [
            _Point((*path, "time"), "Out after", "When the part may come out", "time", bare_unit="h"),
            Asked((*path, "temperature"), " at", "The warmth that this time holds for", "temperature"),
        ]
    path = ("cure", "post_cure", 0)
    return [
        *asked,
        _Point((*path, "time"), "Post-cure", "Raises the heat it stands", "time", bare_unit="h"),
        Asked((*path, "temperature"), " at", "How warm the post-cure is", "temperature"),
        _Point(("cure", "glass_transition"), "Tg", "Warmer than this, the part softens", "temperature"),
    ]


def _films(data: Mapping[str, Any]) -> list[Asked]:
    asked: list[Asked] = []
    for at in range(_points(data, "film", least=1)):
        path, heading = ("film", at), "" if at else "Film on the part (working time)"
        timed = found(data, (*path, "time")) is not None
        asked += [
            _Point((*path, "time"), "Time", "Best second number: when to close", "time", heading=heading),
            Asked((*path, "temperature"), "Temperature", "At what warmth it was timed", "temperature", needed=timed),
            Asked((*path, "endpoint"), *FILM_ENDS, needed=timed),
        ]
    for at in range(_points(data, "viscosity", least=2)):
        path, heading = ("viscosity", at), "" if at else "Viscosity of the mix"
        asked += [
            _Point((*path, "value"), "Viscosity", "Tells if it wets cloth", "viscosity", heading=heading),
            Asked((*path, "temperature"), " at", "Thinner when warm", "temperature"),
        ]
    return asked


class ResinForm(Form):
    """A resin file in the making; `stem` names the one to change, None makes a new one."""

    model, opened_by = ResinFile, "7"

    def __init__(self, root: Path, stem: str | None = None) -> None:
        self.workshop = Workshop(root)
        self.folder = self.workshop.resins_folder
        path = None if stem is None else self.folder / f"{stem}.toml"
        super().__init__(Draft(root, KIND, path, written("", START, ResinFile) if path is None else ""))
        self.heading = "NEW RESIN" if path is None else f"RESIN {path.stem}"
        self._by_volume: tuple[float, float] | None = None
        """What the sheet says by volume too, where the file has the weight: it is checked, and not kept."""

    def asked(self, data: Mapping[str, Any]) -> Sequence[Asked]:
        """Return the fields in the order of a datasheet, those first that nothing can do without."""
        by_volume, lives = _by_volume(data), [each for each in _pot_lives(data) if each.when(data)]
        wait, why = "" if by_volume else "THESE CAN WAIT: densities", "Makes volume of weight"
        densities = [
            Asked(("resin", "density"), "Resin weighs", why, "density", heading=wait, needed=by_volume),
            Asked(("hardener", "density"), "Hardener weighs", why, "density", needed=by_volume),
        ]
        return [
            _Name(("title",), "Name", "As plans and cups will name it", needed=True),
            _Ratio(("ratio",), "Ratio", "Such as 100:30; swapped, it never cures", heading="Mixing", needed=True),
            Asked(
                ("ratio", "by"), "Ratio by", "Volume needs both densities", "choice", ("weight", "volume"), needed=True
            ),
            *(densities if by_volume else []),
            *(each for each in lives if each.path[1] == 0),
            Asked((WRITE,), "WRITE IT", "Or go on: what follows can wait", WRITE),
            *([] if by_volume else densities),
            *(each for each in lives if each.path[1] != 0),
            *_films(data),
            *_cure(data),
            Asked(("chemistry",), "Chemistry", "Chooses the law it cures by", "choice", get_args(Chemistry)),
            Asked(("resin", "name"), "Resin, can", "As on the can", heading="Cans"),
            Asked(("resin", EQUIVALENT), "EEW", "Epoxide equivalent weight: grams per epoxy group", EQUIVALENT),
            Asked(("hardener", "name"), "Hardener, can", "As on the can"),
            Asked(("hardener", EQUIVALENT), "AHEW", "Amine hydrogen equivalent: grams per active hydrogen", EQUIVALENT),
            Asked(("hazards", "signal_word"), *SIGNAL_WORD, heading="Hazards"),
            Asked(("hazards", "cautions"), "Cautions", "Shown before you mix; part with ;", "list"),
            Asked(("source", "document"), "Document", "Where the numbers are from", heading="Source"),
            Asked(("source", "revision"), "Revision", "Makers change numbers"),
            Asked(("source", "date"), "Date", "When that revision was issued", "date"),
            Asked(("price_per_kg",), "Price per kg", "Gives the cost of a plan", "number"),
        ]

    def _text_with(self, here: Asked, typed: str) -> str:
        """Return the file's text with what is typed in a field."""
        if isinstance(here, _Ratio):
            both = _ratios(typed)[1]
            self._by_volume = None if both is None else (float(number(both[1])), float(number(both[2])))
        return super()._text_with(here, typed)

    def settled(self, text: str) -> str:
        """Name the file as the resin, and fill in of a further point what it has in common with the first."""
        document = parse_toml(text, "")
        if isinstance(document, Problem):
            return text
        data, changes = document.data, dict[KeyPath, object]()
        if self.draft.path is None and found(data, ("title",)):
            changes["id",] = self._free(str(data["title"])).stem
        first = found(data, ("pot_life", 0)) or {}
        for at in range(1, len(found(data, ("pot_life",)) or [])):
            own = found(data, ("pot_life", at)) or {}
            same_end = own.get("endpoint", first.get("endpoint")) == first.get("endpoint")
            for key in ("mass", "temperature", "endpoint", *(["reaches"] if same_end else [])):
                if key in first and key not in own:
                    changes["pot_life", at, key] = first[key]
        news = {path: value for path, value in changes.items() if found(data, path) != value}
        return written(text, news, ResinFile) if news else text

    def _free(self, title: str) -> Path:
        return free_path(self.folder / f"{slug(title, 'resin')}.toml")

    def _placed(self) -> dict[int, Problem]:
        """Return the problem of each field; what pot lives do to each other stands at every one of them."""
        places = super()._placed()
        for at, problem in list(places.items()):
            if problem.key == "pot_life" and at >= 0:
                others = {
                    number: one.path
                    for number, one in enumerate(self.fields)
                    if one.path[1:2] != self.fields[at].path[1:2]
                }
                places |= {
                    number: problem
                    for number, path in others.items()
                    if path[::2] == ("pot_life", "time") and found(self.data, path) is not None
                }
        return places

    def place(self) -> Path:
        """Return where the file is to be written."""
        return self.draft.path or self._free(str(found(self.data, ("title",)) or ""))

    def judge(self, text: str) -> FormJudgement:
        """Return what `layup check` says of it, and how long the mix would live."""
        document = parse_toml(text, str(self.draft.path or ""))
        if isinstance(document, Problem):
            return FormJudgement(text, (document,))
        path = self.draft.path or self.folder / f"{found(document.data, ('id',))}.toml"
        sheet, problems = check_document(document, path)
        if sheet is None:
            import_module("numpy")  # meanwhile, so that the first curve is not late
            wrong = [each for each in problems if not each.warning and not each.message.endswith(MISSING)]
            return FormJudgement(
                text, tuple(problems), _no_curve(wrong[0], self.asked(document.data)) if wrong else None
            )
        point = sheet.pot_lives[0]
        odd, by_volume = _volume_checked(sheet, self._by_volume)
        problems += odd
        try:
            curves = life_curves(calibrate(sheet), point.mass_g, point.temperature_K)
        except LayupError as error:
            return FormJudgement(text, tuple(problems), str(error))
        beyond = (f"{each.message}; {each.hint}" for each in problems if each.hint == NEAREST_MASS)
        words = filter(None, (_sheet_words(sheet, curves), by_volume, *beyond))
        return FormJudgement(text, tuple(problems), (curves, " · ".join(words)))

    def beside(self, judged: FormJudgement, width: int, rows: int) -> Text:
        """Draw how long it lives, or say what that needs."""
        if isinstance(judged.figures, tuple):
            curves, words = judged.figures
            said = wrap(words, width)
            return Text("\n".join([*said, *curves_picture(curves, width=width, rows=rows - len(said))]))
        waits = "Ratio and one pot life give the curve here." if judged.text else "working it out ..."
        return Text("\n".join(wrap(str(judged.figures or waits), width)))


def _volume_checked(sheet: Datasheet, told: tuple[float, float] | None) -> tuple[list[Problem], str]:
    """Return what is odd with a ratio by volume beside the one by weight and its densities, and what to say of it."""
    if told is None or sheet.ratio_by != "weight":
        return [], ""
    said = f"{told[0]:g}:{told[1]:g} by volume"
    if (densities := sheet.densities_g_cm3) is None:
        return [], f"{said}: checked once both densities stand; the weight is kept"
    parts = told[0] * (sheet.ratio[1] / densities[1]) / (sheet.ratio[0] / densities[0])
    if abs(parts / told[1] - 1.0) <= NEAR:
        return [], f"{said} fits weight and densities; the weight is kept"
    words = f"{said}? weight and densities give {told[0]:g}:{parts:.3g}"
    return [Problem("", 0, "ratio.hardener", words, "check both ratios and both densities", warning=True)], ""


def _sheet_words(sheet: Datasheet, curves: LifeCurves) -> str:
    """Say why the curve does not go through the first pot life of the sheet; empty where it does."""
    point, likely_s = sheet.pot_lives[0], dict(curves.by_mass)[curves.mass_g].likely
    near = abs(likely_s / point.time_s - 1.0) < NEAR
    if near and point.endpoint == "thickening":
        return ""
    ends = f"to {temperature(point.reaches_K)}" if point.reaches_K is not None else f"to {point.endpoint}"
    between = "" if len(sheet.pot_lives) == 1 or near else ", between the sheet's pot lives"
    return f"sheet: {minutes(point.time_s)} {ends}; curve: {minutes(likely_s)} until thick{between}"


def _no_curve(problem: Problem, fields: Sequence[Asked]) -> str:
    """Say why there is no curve, with the name of what is wrong once: its field's, or its table's."""
    table = re.sub(r"\[\d+\]", "", problem.key.rpartition(".")[2]).replace("_", " ")
    name = next((each.called for each in fields if problem.key in each.keys), table)
    said = problem.message if problem.message.startswith(name.partition(" ")[0]) else f"{name} {problem.message}"
    return f"No curve: {said}"
