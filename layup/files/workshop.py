"""A workshop: any folder with resins/ and sessions/. Finds its files by the names that people use.

stock.toml, its cans, if somebody keeps account of them. The demo workshop that comes with the program: find it, copy
it, make a new workshop from it.
"""

from __future__ import annotations

import datetime
import os
import re
import shutil
import tempfile
from collections.abc import Callable, Collection, Iterable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, Annotated, Any

from pydantic import BeforeValidator, ValidationError

from layup.chemistry.datasheet import Datasheet, offered
from layup.errors import FileError, InputError, LayupError, Problem, StorageError
from layup.files.durable import JOURNAL, PLAN, RESIN_COPY, STOCK
from layup.files.fields import CoreTable, FileModel, Mass, Title, items, needed, optional, printable
from layup.files.plan_file import load_plan, named_files
from layup.files.resin_file import check_resin, load_resin
from layup.files.toml import Document, likeliest, nearest, problem_at, problems_from, read_toml
from layup.planning.mix_sheet import Component
from layup.planning.plan import Plan

if TYPE_CHECKING:
    from layup.chemistry.calibration import Calibration


MOST_CANS = 500
OLD_DAYS = 365
"""Longer open, a hardener has drawn damp and carbon dioxide (common practice, no source: its maker's date counts)."""


@dataclass(frozen=True, slots=True)
class Can:
    """One can as it was bought: `mass_g` is what it held when it was new."""

    resin: str
    component: Component
    lot: str
    mass_g: float
    opened: datetime.date | None = None
    expires: datetime.date | None = None

    def expired(self, today: datetime.date) -> bool:
        return self.expires is not None and self.expires < today

    def caution(self, today: datetime.date) -> str:
        """Say what is wrong with its age: expired, or a hardener long open; an empty text where nothing is."""
        if self.expired(today):
            return f"expired {self.expires}"
        if self.component == "hardener" and self.opened is not None and (today - self.opened).days > OLD_DAYS:
            return f"open since {self.opened}, more than a year"
        return ""


def _day(value: Any) -> datetime.date:  # Any: whatever TOML holds
    """Read a day, as TOML has it or in quotes."""
    if isinstance(value, datetime.datetime):
        return value.date()
    if isinstance(value, datetime.date):
        return value
    try:
        return datetime.date.fromisoformat(value)
    except (TypeError, ValueError):
        raise InputError("value", "is not a day", value=printable(value), allowed="write it as 2027-05-31") from None


Day = Annotated[datetime.date, BeforeValidator(_day)]


class _CanTable(CoreTable):
    resin: Title = needed('"slow-laminating"', "the id of the resin file that the can belongs to")
    component: Component = needed('"hardener"', "resin or hardener")
    lot: Title = needed('"H-2207"', "as printed on the can; sessions name it: key k on the day")
    mass: Mass = needed('"1 kg"', "what it held when new; what sessions poured of its lot is taken off")
    opened: Day | None = optional("the day it was opened; left out while it is closed")
    expires: Day | None = optional("the last day that its maker gives")

    def core(self) -> Can:
        return Can(self.resin, self.component, self.lot, self.mass, self.opened, self.expires)


class StockFile(FileModel):
    """A stock file as people write it."""

    can: Annotated[tuple[_CanTable, ...], items(MOST_CANS)] = optional("the cans, one table each", ())


def load_stock(
    path: Path, *, resin_ids: Collection[str], today: datetime.date | None
) -> tuple[tuple[Can, ...] | None, list[Problem]]:
    """Read the cans: None where something is an error, and every problem; a can that is old `today` is a warning.

    Raises StorageError where the file cannot be read.
    """
    document = read_toml(path)
    if isinstance(document, Problem):
        return None, [document]
    try:
        cans = tuple(table.core() for table in StockFile.model_validate(document.data).can)
    except ValidationError as errors:
        return None, problems_from(document, StockFile, errors)
    problems = list(_contradictions(document, cans, resin_ids, today))
    return (cans if all(problem.warning for problem in problems) else None), problems


def _contradictions(
    document: Document, cans: tuple[Can, ...], resin_ids: Collection[str], today: datetime.date | None
) -> Iterator[Problem]:
    for place, can in enumerate(cans):
        if can.resin not in resin_ids:
            wrong = f"is not in resins/ ({printable(can.resin)})"
            yield problem_at(document, ("can", place, "resin"), wrong, nearest(can.resin, resin_ids))
        if today is None:
            continue
        if can.opened is not None and can.opened > today:
            yield problem_at(document, ("can", place, "opened"), f"is still to come ({can.opened})", "check the year")
        if words := can.caution(today):
            key = "expires" if can.expired(today) else "opened"
            hint = "try a trial cup first; take the can out of this file once it is gone"
            yield problem_at(document, ("can", place, key), f"lot {printable(can.lot)} {words}", hint, warning=True)


# -- workshop --------------------------------------------------------------------------------------------------------


class Workshop:
    """The resin systems and sessions under one folder."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.resins_folder = root / "resins"
        self.sessions_folder = root / "sessions"

    def resin_ids(self) -> list[str]:
        """Return the ids of the resin files, usable or not, in alphabetical order."""
        return [path.stem for path in _listed(self.resins_folder) if path.suffix == ".toml" and path.is_file()]

    def resins(self) -> dict[str, Datasheet]:
        """Return the datasheet of each resin file that has no error; `check` tells about the others."""
        sheets: dict[str, Datasheet] = {}
        for resin_id in self.resin_ids():
            with suppress(StorageError):  # it went since it was listed, or may not be read
                sheet = load_resin(self.resins_folder / f"{resin_id}.toml")[0]
                if sheet is not None:
                    sheets[sheet.id] = sheet
        return sheets

    def odd_words(self, resin_id: str) -> str:
        """Return the first thing that is odd in a resin's file, or in a blend's, as `check` has it; empty if none."""
        from layup.chemistry.blending import AND

        files = [self.resins_folder / f"{each}.toml" for each in resin_id.split(AND)]
        with suppress(StorageError):  # it went meanwhile
            odd = (each.message for path in files for each in check_resin(path) if each.warning)
            return re.split("[:;] ", next(odd, ""))[0]
        return ""

    def resin_path(self, name: str) -> Path:
        """Find a resin file by its id or its path."""
        if _is_path(name):
            return _existing(Path(name), "resin")
        if name in self.resin_ids():
            return self.resins_folder / f"{name}.toml"
        near = nearest(name, self.resin_ids())
        hint = near if near.startswith("did you mean") else nearest(name, offered(self.resins()))
        raise InputError("resin", f"is not in {self.resins_folder}", value=name, todo=hint)

    def resin(self, name: str) -> Datasheet:
        """Return the datasheet of a resin by its id or path, or raise all of its file's problems."""
        sheet, problems = load_resin(self.resin_path(name))
        if sheet is None:
            raise FileError(problems)
        return sheet

    def calibration(self, sheet: Datasheet) -> Calibration:
        """Return how a resin cures, or raise the problems in its file that only the model of the pot life sees."""
        from layup.chemistry.calibration import calibrate

        try:
            return calibrate(sheet)
        except LayupError:
            path = self.resins_folder / f"{sheet.id}.toml"
            problems = check_resin(path) if path.is_file() else []
            if all(problem.warning for problem in problems):
                raise  # the sheet is of another file
            raise FileError(problems) from None

    def session_names(self) -> list[str]:
        """Return the names of the session folders, drafts included, in alphabetical order."""
        return [path.name for path in self.sessions()]

    def draft_names(self) -> list[str]:
        """Return the names of the plans that were not pressed yet, in alphabetical order."""
        return [path.name for path in self.sessions() if not os.path.lexists(path / JOURNAL)]

    def sessions(self) -> list[Path]:
        """Return the session folders, drafts included, in alphabetical order."""
        return [path for path in _listed(self.sessions_folder) if _is_session(path)]

    def begun(self) -> list[Path]:
        """Return the folders with something that is named as a journal, whatever it is, in alphabetical order."""
        return [path for path in _listed(self.sessions_folder) if os.path.lexists(path / JOURNAL)]

    @property
    def is_bare(self) -> bool:
        """Whether it has neither plan nor session, or is no workshop yet."""
        return not self.sessions_folder.is_dir() or not self.session_names()

    def session_path(self, name: str, *, what: str = "session") -> Path:
        """Find a session's folder by its name or its path; `what` is what an error calls it."""
        given = Path(name)
        if given.is_dir() and _is_session(given):
            return given
        if name in self.session_names():
            return self.sessions_folder / name
        if _is_path(name):
            raise StorageError(what, "is no folder with a plan or a journal", value=name, todo="check the path")
        hint = likeliest(name, self.session_names())
        raise InputError(what, f"is not in {self.sessions_folder}", value=name, todo=hint)

    def plan_path(self, name: str) -> Path:
        """Find a plan file: a path to it, to the folder that holds it, or the name of a session."""
        if name.endswith(".toml"):
            return _existing(Path(name), "plan")
        return _existing(self.session_path(name, what="plan") / PLAN, "plan")

    def plan(self, name: str) -> Plan:
        """Return a plan, or raise all of its file's problems."""
        plan, problems = load_plan(self.plan_path(name), resin_ids=self.resin_ids())
        if plan is None:
            raise FileError(problems)
        return plan

    def check(
        self,
        paths: Iterable[Path] = (),
        *,
        check_journal: Callable[[Path], list[Problem]] | None = None,
        today: date | None = None,
    ) -> list[Problem]:
        """Return every problem in the given files and folders, or in the whole workshop.

        `check_journal` reads a journal file and tells what is wrong with it; `today` tells how old the cans are. Raises
        StorageError for a file or folder that was asked for and cannot be read; one found on the way is a problem like
        others.
        """
        problems: list[Problem] = []
        asked = list(paths)
        if not asked:
            asked = [self.resins_folder, self.sessions_folder]
            for folder in asked:
                _listed(folder)  # where this is no workshop, that is the problem
            asked += [path for path in [self.root / STOCK] if path.is_file()]
        for path in asked:
            for file in _checkable(path):
                try:
                    problems += self._check_file(file, check_journal, today)
                except StorageError as error:
                    if file == path:
                        raise
                    problems.append(Problem(error.where, 1, "", error.words))
        return problems

    def _check_file(
        self, path: Path, check_journal: Callable[[Path], list[Problem]] | None, today: date | None
    ) -> list[Problem]:
        if path.name == STOCK:
            return load_stock(path, resin_ids=self.resin_ids(), today=today)[1]
        if path.name == JOURNAL:
            return check_journal(path) if check_journal else []
        if path.name == RESIN_COPY or path.parent.name == self.resins_folder.name:
            return check_resin(path)
        return load_plan(path, resin_ids=self.resin_ids())[1]


def _listed(folder: Path) -> list[Path]:
    """List a folder of the workshop, or say what a workshop is."""
    try:
        return sorted(folder.iterdir())
    except OSError as error:
        raise StorageError(
            str(folder),
            "cannot be read",
            value=error.strerror,
            todo="go to a folder with resins and sessions, or make one: layup new DIR",
        ) from None


def _is_session(folder: Path) -> bool:
    return any((folder / name).is_file() for name in (PLAN, JOURNAL))


def _is_path(name: str) -> bool:
    return name.endswith(".toml") or "/" in name or "\\" in name


def _existing(path: Path, what: str) -> Path:
    if not path.is_file():
        raise StorageError(what, "is not there", value=path, todo="check the path")
    return path


def _checkable(path: Path) -> Iterator[Path]:
    """Yield the files to check at `path`: the file itself, or all in and below a folder."""
    if not path.is_dir():
        yield _existing(path, "file")
        return
    for child in _listed(path):
        if child.is_dir():
            if not child.is_symlink():
                yield from _checkable(child)
        elif child.suffix == ".toml" or child.name == JOURNAL:
            yield child


# -- demo ------------------------------------------------------------------------------------------------------------

_PACKAGE = Path(__file__).resolve().parent.parent
_FOLDERS = ("resins", "sessions")


def demo_root() -> Path:
    """Return the folder that holds the demo's resins and sessions: in the package, or beside it in a checkout."""
    for root in (_PACKAGE / "demo", _PACKAGE.parent):
        if all((root / folder).is_dir() for folder in _FOLDERS):
            return root
    raise StorageError(str(_PACKAGE), "has no demo workshop with it", todo="install the program again")


def require_no_workshop(folder: Path) -> None:
    """Raise StorageError where a workshop, or half of one, is already."""
    if taken := [name for name in _FOLDERS if (folder / name).exists()]:
        todo = f"open it with 'layup --workshop {quote(str(folder))}', or choose another folder"
        raise StorageError(str(folder), "is a workshop already", value=", ".join(taken), todo=todo)


def make_folders(folder: Path) -> None:
    """Make what a workshop has at least, where it is not there yet. Raises StorageError where that cannot be done."""
    with _writing(folder):
        for name in _FOLDERS:
            (folder / name).mkdir(exist_ok=True)


def new_workshop(folder: Path, *, whole: bool = False) -> None:
    """Make a workshop in `folder` with the demo's resins and draft plans; nothing that is there is overwritten.

    The `whole` demo has its sessions too. It is made whole or not at all: beside its place first, then moved.
    """
    source = demo_root()
    require_no_workshop(folder)
    with ExitStack() as undo, _writing(folder):
        for missing in [path for path in (*reversed(folder.parents), folder) if not path.exists()]:
            undo.callback(_remove_if_empty, missing)
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".layup-", dir=folder) as half:
            _copy_demo(source, Path(half), whole=whole)
            for name in _FOLDERS:
                (Path(half) / name).rename(folder / name)
                undo.callback(shutil.rmtree, folder / name, ignore_errors=True)
            undo.pop_all()


def _copy_demo(source: Path, target: Path, *, whole: bool) -> None:
    """Copy the resins and the plans that were not pressed, or all sessions."""
    sessions = [path for path in source.glob("sessions/*/*") if path.is_file()]
    if not whole:
        sessions = [path for path in sessions if path.name == PLAN and not (path.parent / JOURNAL).exists()]
    for path in (*source.glob("resins/*.toml"), *sessions):
        copy = target / path.relative_to(source)
        copy.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path, copy)


def _remove_if_empty(folder: Path) -> None:
    with suppress(OSError):
        folder.rmdir()


@contextmanager
def throwaway_workshop() -> Iterator[Path]:
    """Give a copy of the whole demo workshop, sessions included, that is deleted at the end."""
    source = demo_root()
    with tempfile.TemporaryDirectory(prefix="layup-demo-") as folder:
        with _writing(Path(folder)):
            for name in _FOLDERS:
                shutil.copytree(source / name, Path(folder) / name)
        yield Path(folder)


@contextmanager
def plan_alone(workshop: Workshop, plan: Path) -> Iterator[Path]:
    """Give a workshop with the resins of another, one plan of it, what it names and its dials; deleted at the end."""
    from layup.files.drafts import DRAFTS, dials_at  # here, because a workshop is read without it

    with tempfile.TemporaryDirectory(prefix="layup-play-") as folder:
        with _writing(Path(folder)):
            shutil.copytree(workshop.resins_folder, Path(folder) / "resins")
            copy = Path(folder) / "sessions" / plan.parent.name
            copy.mkdir(parents=True)
            for name, data in {**named_files(plan), PLAN: plan.read_bytes()}.items():
                (copy / name).parent.mkdir(parents=True, exist_ok=True)
                (copy / name).write_bytes(data)
            if (dials := dials_at(workshop.root, copy.name)).is_file():
                (Path(folder) / DRAFTS).mkdir()
                shutil.copyfile(dials, dials_at(Path(folder), copy.name))
        yield Path(folder)


@contextmanager
def _writing(folder: Path) -> Iterator[None]:
    """Say of what cannot be written that it is the folder."""
    try:
        yield
    except OSError as error:
        todo = "choose a folder of your own"
        raise StorageError(str(folder), "cannot be written", value=error.strerror, todo=todo) from None
