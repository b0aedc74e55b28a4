"""A board as it is written down in a form: its rows, what typing in one changes, and the plan that stands so far."""

from __future__ import annotations

import os
import re
import shutil
import tomllib
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from copy import deepcopy
from dataclasses import replace
from pathlib import Path
from typing import Any

from layup.bench import stack_line, typed
from layup.bench.board_rows import (
    CASTING,
    GUESS,
    INSTEAD,
    SECTIONS,
    SHAPES,
    WAIT,
    WRITE,
    FormRow,
    field_at,
    has_shape,
    is_guess,
    lacking,
    marked,
    row_of,
    settled,
    sides,
    step_rows,
    step_words,
    unmarked,
    wants_fibre,
)
from layup.bench.planner import USUAL_SHOP_K, Planner, shop_stated_K
from layup.bench.stack_line import act_words, with_acts
from layup.bench.typed import Offer
from layup.chemistry.datasheet import Datasheet
from layup.chemistry.mixing import mix_density_g_cm3
from layup.errors import InputError, LayupError, Problem, StorageError
from layup.files.drafts import Draft, read_text
from layup.files.durable import JOURNAL, PLAN, free_path, slug
from layup.files.plan_file import PlanFile, plan_in
from layup.files.tables import FABRICS, FIBRES, SURFACES, find
from layup.files.toml import Document, KeyPath, key_lines
from layup.files.workshop import Workshop
from layup.files.writing import arranged, found, written
from layup.planning.budget import bonded_area_m2
from layup.planning.channel import channel_words
from layup.planning.crew import usual_bench_s
from layup.planning.plan import BondStep, CastStep, Plan
from layup.planning.planner import PlanResult
from layup.review.lessons import Lessons
from layup.units import area, areal_weight, in_minutes, parse, spelled

STAND_INS: Mapping[str, object] = {"title": "New board", "resin": "?", "pieces": 1, "people": 1}
"""What the live figures take where the form is still empty; no file ever gets them."""
BEFORE_ALL = -1
WHOLE = 3
"""So many stations in one line are a whole outline, and take the place of those that are there."""
TAIL = "tail"
"""What stations are measured from where a file does not say."""
OFFERS: dict[str | int, Callable[[str], list[Offer]]] = {
    **dict.fromkeys(("caul", "backing"), typed.board_offers),
    "target_fibre_fraction": typed.fraction_offers,
    "fibre": lambda text: [Offer(fibre.name, fibre.source, fibre.name) for fibre in find(text, FIBRES)],
    "fabric": lambda text: stack_line.row_offers(find(text, FABRICS)),
    "surface": lambda text: stack_line.row_offers(find(text, SURFACES)),
}
"""What may be picked on a line, as far as something is typed, by the key that it fills."""
OTHER_SHAPE = r".*\d\s*(?:mm|cm|m|in|ft)\^?[2²]|.*\.(?:dxf|svg|csv)"
"""What is typed for widths and is no width: an area, or a drawing."""


# -- board -----------------------------------------------------------------------------------------------------------


class BoardDraft:
    """A plan file in the making, and the rows of the form that makes it."""

    def __init__(self, root: Path, name: str | None = None) -> None:
        self.workshop = Workshop(root)
        self.resins: dict[str, Datasheet] = {}
        self.resin_ids: list[str] = []
        self.read_resins()
        path = None if name is None else self.workshop.sessions_folder / name / PLAN
        begun = path is not None and os.path.lexists(path.parent / JOURNAL)
        self.draft = Draft(root, "plan", None if begun else path, read_text(path) if begun and path else "")
        require_editable(self.text, str(path))
        self.opened: int | None = None
        """The step whose own lines are shown."""
        self.add_after: int | None = None
        """The step after which the next one is put in, below 0 before all; None for the end."""
        self._read: tuple[str, Plan | None] | None = None

    def read_resins(self) -> None:
        """Read the workshop's resins, at first or once one of them was written."""
        with suppress(StorageError):  # an empty folder has none yet
            self.resins, self.resin_ids = self.workshop.resins(), self.workshop.resin_ids()

    @property
    def text(self) -> str:
        return self.draft.text

    @property
    def data(self) -> dict[str, Any]:
        """What the file says by now."""
        return tomllib.loads(self.text)

    @property
    def folder(self) -> Path:
        """Where drawings and forecasts are looked for."""
        return self.workshop.root if self.draft.path is None else self.draft.path.parent

    # what stands

    def plan(self) -> Plan | None:
        """Return the plan as far as the form goes, what is not known left out and minutes guessed."""
        if self._read is None or self._read[0] != self.text:
            self._read = self.text, self.plan_of(self.text)
        return self._read[1]

    def plan_of(self, text: str) -> Plan | None:
        """Return the plan of a text, with something in the place of what it cannot do without; None without a shape."""
        return self._as_far(text)[0] if tomllib.loads(text).get("outline") else None

    def _as_far(self, text: str) -> tuple[Plan | None, list[Problem]]:
        data = tomllib.loads(text)
        whole = {**STAND_INS, "steps": [{"name": "-", "kind": "place", "minutes": 0}], **data}
        ids = [*self.resin_ids, *([] if "resin" in data else [STAND_INS["resin"]])]
        return self._read_as(text, whole, ids)

    def problems_of(self, text: str) -> list[Problem]:
        """Return every problem that a text has as a plan file, those of its outline while the rest is not there yet."""
        data = tomllib.loads(text)
        problems = self._read_as(text, data, self.resin_ids)[1]
        if not data.get("outline"):
            return problems
        of_outline = [each for each in self._as_far(text)[1] if each.key.startswith("outline")]
        return [*dict.fromkeys([*problems, *of_outline])]

    def _read_as(self, text: str, data: dict[str, Any], ids: Sequence[object]) -> tuple[Plan | None, list[Problem]]:
        lines, whole = key_lines(text), deepcopy(data)
        guessed = [number for number, _ in enumerate(whole.get("steps", ())) if is_guess(text, lines, number)]
        for number in guessed:
            whole["steps"][number].setdefault("minutes", 0)
        plan, problems = plan_in(Document("", whole, lines), self.folder, resin_ids=[str(each) for each in ids])
        if plan is None:
            return None, problems
        steps = [
            replace(step, bench_s=usual_bench_s(plan, step)) if number in guessed else step
            for number, step in enumerate(plan.steps)
        ]
        return replace(plan, steps=tuple(steps)), problems

    # the lines

    def rows(self) -> list[FormRow]:
        data, plan = self.data, self.plan()
        rows: list[FormRow] = []
        casts = "casting" in data or any(each.get("kind") == "cast" for each in data.get("steps", []))
        for title, fields in SECTIONS.items():
            if title == CASTING and not casts:
                continue
            rows += [FormRow((), "head", title)] if title != WAIT else []
            for field in fields:
                if field.key == "outline.stations":
                    path, needed = ("outline", "stations"), not has_shape(data)
                    words = "how wide there, or left/right of the centre line; empty: not measured here"
                    rows += [
                        FormRow((*path, number), "item", f"at {each.get('at', '?')}", sides(each), words)
                        for number, each in enumerate(found(data, path) or ())
                    ]
                    shapes = SHAPES if needed else ""
                    rows.append(FormRow(path, "add", field.label, "", shapes, field.example, needed=needed))
                elif field.key == "steps":
                    rows += self._steps(data.get("steps", []), plan)
                elif field.key == "before":
                    there, words = data.get("before", []), "how long; alone: no hands; after what; empty: gone"
                    rows += [
                        FormRow(("before", number), "item", f"{number + 1}", act_words(each), words)
                        for number, each in enumerate(there)
                    ]
                    rows.append(FormRow(("before",), "add", field.label, "", "", field.example))
                elif field.label == WRITE:
                    rows.append(FormRow((), "write", WRITE, meaning=field.example))
                elif not field.beside or found(data, tuple(field.beside.split("."))) is not None:
                    row = row_of(tuple(field.key.split(".")), field, data)
                    if field.key == "outline.measured_from":
                        row = replace(row, value=row.value or TAIL)
                    elif field.key == "target_fibre_fraction":
                        row = replace(row, needed=wants_fibre(data))
                    elif field.key == "cups.largest":
                        row = replace(row, value=typed.cup_words(row.value, self._mix_g_cm3))
                    rows.append(row)
        return rows

    def _steps(self, there: Sequence[Mapping[str, Any]], plan: Plan | None) -> list[FormRow]:
        field = field_at(("steps",))
        add = FormRow(("steps",), "add", field.label, example=field.example, needed=not there)
        rows = [replace(add, label="before 1")] if self.add_after == BEFORE_ALL else []
        lines = key_lines(self.text)
        for number, step in enumerate(there):
            guess, minutes = is_guess(self.text, lines, number), step.get("minutes")
            spent = in_minutes(60.0 * minutes, "g") if isinstance(minutes, int | float) else f"{minutes}"
            why = held = ""
            if guess:
                spent = GUESS if plan is None else f"{in_minutes(plan.steps[number].bench_s)} {GUESS}"
            if plan is not None and isinstance(built := plan.steps[number], BondStep):
                face_m2 = plan.pieces * bonded_area_m2(plan.outline, built)
                why = f"drinks {areal_weight(built.uptake_g_m2)} on {area(face_m2, '.2f')}"
            elif plan is not None and isinstance(built, CastStep) and built.channel is not None:
                held = channel_words(plan.outline, built.channel)
            rows.append(FormRow(("steps", number), "step", f"{number + 1}", f"{step_words(step)} · {spent}", why))
            if self.opened == number:
                rows += step_rows(number, self.data, spent if guess else "", held)
            if self.add_after == number:
                rows.append(replace(add, label=f"after {number + 1}"))
        return rows if self.add_after is not None else [*rows, add]

    def offers(self, row: FormRow, text: str) -> list[Offer]:
        """Return what may be picked on a line, as far as something is typed."""
        key = row.path[-1] if row.path else ""
        if row.path == ("steps",):
            return stack_line.step_offers(text, [(name, sheet.title) for name, sheet in self._casting()])
        if key == "resin":
            return _resin_offers(text, self._casting() if len(row.path) > 1 else self._laminating())
        if key == "largest":
            return typed.cup_offers(text, self._mix_g_cm3)
        return OFFERS[key](text) if key in OFFERS else []

    @property
    def _mix_g_cm3(self) -> float:
        return mix_density_g_cm3(self.resins.get(str(self.data.get("resin"))))

    def _laminating(self) -> list[tuple[str, Datasheet]]:
        return [each for each in self.resins.items() if each[1].chemistry == "epoxy-amine"] or [*self.resins.items()]

    def _casting(self) -> list[tuple[str, Datasheet]]:
        return sorted(self.resins.items(), key=lambda each: each[1].chemistry == "epoxy-amine")

    # changes

    def take(self, row: FormRow, text: str, offer: Offer | None = None) -> str:
        """Take what is typed or picked on a line; return what is wrong with it, and then nothing is changed."""
        try:
            self.draft.change(settled(self._with(row, text, offer)))
        except LayupError as error:
            return error.words
        steps = stack_line.steps_of(offer) if offer is not None and row.path == ("steps",) else []
        self.add_after = self.add_after if self.add_after is None else self.add_after + len(steps)
        if steps and lacking(steps[-1]):
            self.opened = len(self.data["steps"]) - 1 if self.add_after is None else self.add_after
            self.add_after = None
        return ""

    def _with(self, row: FormRow, text: str, offer: Offer | None) -> str:
        """Return the file's text with one line changed."""
        if row.path == ("outline", "stations") and re.fullmatch(OTHER_SHAPE, text.strip().lower()):
            key = "area" if text.strip()[-1:] in "2²" else "file"
            return self._with(next(each for each in self.rows() if each.path == ("outline", key)), text, None)
        if row.path == ("steps",):
            if offer is None:
                todo = "type a cloth or a face, with g/m2 where it drinks; or pick dry with ↓"
                raise InputError("step", "is not picked", value=text.strip() or None, todo=todo)
            count = len(self.data.get("steps", []))
            at = count if self.add_after is None else self.add_after + 1
            order: list[int | Mapping[str, object]] = [*range(count)]
            order[at:at] = stack_line.steps_of(offer)
            return arranged(self.text, ("steps",), order, PlanFile)
        if row.path[:2] == ("outline", "stations"):
            return self._with_stations(row, text)
        if row.path[0] == "before":
            return with_acts(self.text, row.path[1:], text)
        return self._put(row, offer.value if offer is not None else self._value(row, text))

    def typed(self, row: FormRow, text: str) -> str:
        """Return the file's text with what is typed so far on a line; what cannot be read goes there as it is."""
        try:
            value = self._value(row, text)
        except InputError:
            value = text.strip()
        return self._put(row, value)

    def _put(self, row: FormRow, value: object) -> str:
        """Return the file's text with a key filled or emptied, and without what that takes the place of."""
        name = row.name if row.path[0] == "outline" else str(row.path[-1])
        changes: dict[KeyPath, object] = {row.path: value}
        if row.path[-1] == "pigments":
            told = value if isinstance(value, Mapping) else typed.colours("")
            changes = {(*row.path[:-1], key): each for key, each in told.items()}
        elif row.path[-1] == "channel" and isinstance(value, Mapping):
            changes = {(*row.path, key): each for key, each in value.items()}
        for other in INSTEAD.get(name, ()) if value is not None else ():
            changes[tuple(other.split(".")) if "." in other else (*row.path[:-1], other)] = None
        after = written(self.text, changes, PlanFile)
        return unmarked(after, int(row.path[1])) if row.path[0] == "steps" and row.path[-1] == "minutes" else after

    def _value(self, row: FormRow, text: str) -> object:
        """Return what is typed on a line as the file has it; None where it was emptied."""
        if not text.strip():
            return None
        if row.path == ("outline", "file"):
            return typed.drawing(text, self.folder, self.workshop.root)
        field = field_at(row.path)
        if isinstance(field.read, str):
            offers = [] if field.at_once else self.offers(row, text)
            return offers[0].value if offers else spelled(text, field.read)
        if not field.at_once and row.path[-1] not in ("target_fibre_fraction", "foam", "channel", "pigments"):
            offers = self.offers(row, text)
            if not offers and row.path[-1] not in ("fabric", "surface", "fibre"):
                wrong = "names no board" if row.path[-1] in ("caul", "backing") else "is not there"
                raise InputError(field.label.lower(), wrong, value=text.strip(), todo=f"such as {field.example}")
            if offers and not offers[0].sure:
                raise InputError(field.label.lower(), "is not all said", value=text.strip(), todo="pick one with ↓")
            return offers[0].value if offers else text.strip()
        return field.read(text)

    def _with_stations(self, row: FormRow, text: str) -> str:
        outline = self.data.get("outline", {})
        there, length = list(outline.get("stations", [])), outline.get("length")
        own = there.pop(int(row.path[2])) if len(row.path) == 3 else {}
        told = typed.stations(
            text, parse(length, "length") if isinstance(length, str) else None, here=str(own.get("at", ""))
        )
        stations = typed.with_stations(there if len(told) < WHOLE or own else [], told) or None
        text_now = self._put(FormRow(("outline", "stations"), "add", ""), stations)
        end = typed.measured_from(text) or ("" if there or own else "tip")
        changes: dict[KeyPath, object] = {("outline", "measured_from"): end} if end else {}
        if stations is None:
            changes = {("outline", key): None for key in ("measured_from", "ends")}
        return written(text_now, changes, PlanFile) if changes else text_now

    def remove(self, row: FormRow) -> None:
        """Take a step away."""
        order = [*range(len(self.data["steps"]))]
        order.remove(int(row.path[1]))
        self.opened = self.add_after = None
        self._arrange(order)

    def move(self, row: FormRow, by: int) -> FormRow:
        """Move a step up or down the list; return its line there."""
        order = [*range(len(self.data["steps"]))]
        at = int(row.path[1])
        to = min(max(at + by, 0), len(order) - 1)
        order.insert(to, order.pop(at))
        self.opened = to if self.opened == at else None
        self.add_after = None
        self._arrange(order)
        return replace(row, path=("steps", to))

    def copy(self, row: FormRow) -> None:
        """Put the same step in once more, after itself."""
        at = int(row.path[1])
        order: list[int | Mapping[str, object]] = [*range(len(self.data["steps"]))]
        order.insert(at + 1, self.data["steps"][at])
        self._arrange(order)

    def _arrange(self, order: Sequence[int | Mapping[str, object]]) -> None:
        """Put the steps in another order."""
        self.draft.change(arranged(self.text, ("steps",), order, PlanFile))

    # the file

    def finished(self, text: str) -> str:
        """Return a text with each guess of its minutes written as one."""
        plan = self.plan_of(text)
        for number, step in enumerate(plan.steps if plan and tomllib.loads(text).get("steps") else ()):
            if is_guess(text, key_lines(text), number):
                text = marked(text, number, step.bench_s)
        return text

    def place(self) -> Path:
        """Return where the plan is to be written: where it stands, or in a folder of its title that is not there."""
        if self.draft.path is not None:
            return self.draft.path
        return free_path(self.workshop.sessions_folder / slug(str(self.data.get("title", "")), "board")) / PLAN

    def save(self) -> str:
        """Write the plan; return its name. Raises InputError or StorageError where that cannot be."""
        path = self.place()
        self.draft.change(self._with_files(self.finished(self.text), path.parent), same_step=True)
        self.draft.save(path)
        return path.parent.name

    def _with_files(self, text: str, folder: Path) -> str:
        """Return the text with its drawing and its forecast beside it, copied there where they lie elsewhere."""
        for path in (("outline", "file"), ("shop", "forecast")):
            name = found(tomllib.loads(text), path)
            source = self.folder / str(name)
            target = folder / source.name
            if name is None or not source.is_file() or source.resolve() == target.resolve():
                continue
            try:
                folder.mkdir(parents=True, exist_ok=True)
                if target.exists() and target.read_bytes() != source.read_bytes():
                    raise InputError(str(target), "is there already, and is another one", todo="rename yours")
                shutil.copyfile(source, target)
            except OSError as error:
                raise StorageError(str(source), "cannot be copied", value=error.strerror, todo="check it") from None
            text = written(text, {path: target.name}, PlanFile)
        return text


# -- files -----------------------------------------------------------------------------------------------------------


def require_editable(text: str, where: str) -> None:
    """Refuse a file that was written by hand in a way that a form has no lines for."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(where, f"is not valid TOML: {error}", todo="mend it with an editor") from None
    tables = [data.get(key, {}) for key in ("outline", "losses", "closing", "scale", "cups", "crew", "shop", "casting")]
    stations = found(data, ("outline", "stations"))
    lists = [data.get("steps", []), data.get("before", []), [] if stations is None else stations]
    items = [item for each in lists if isinstance(each, list) for item in each]
    if not all(isinstance(each, list) for each in lists) or any(not isinstance(each, dict) for each in tables + items):
        raise InputError(where, "is not laid out as a plan", todo="see 'layup check', and mend it with an editor")


def _resin_offers(text: str, resins: Sequence[tuple[str, Datasheet]]) -> list[Offer]:
    words = text.lower().split()
    known = [each for each in resins if all(word in f"{each[0]} {each[1].title}".lower() for word in words)]
    known.sort(key=lambda each: each[1].is_demo)
    return [Offer(sheet.title, "invented, for the demo" if sheet.is_demo else name, name) for name, sheet in known]


# -- verdict ---------------------------------------------------------------------------------------------------------


def judged(board: BoardDraft, plan: Plan, lessons: Lessons, shop_K: float = USUAL_SHOP_K) -> tuple[Planner, PlanResult]:
    """Work a plan out as Stack does, at a desk of its own: safe beside the screen."""
    planner = Planner(board.workshop.root)
    planner.resins, planner.lessons = board.resins, lessons
    planner.settings = replace(planner.take(plan), temperature_K=shop_stated_K(plan) or shop_K)
    planner.figures = planner.work_out(planner.settings)
    _ = planner.figures.odds
    return planner, planner.figures
