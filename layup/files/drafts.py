"""A file in the making: what it was, what it is to say, each step back; kept beside the workshop until it is written.

Beside them, the dials that were turned over a plan. The draft outlives the program however that ends: each change is on
the disk before the next one.
"""

from __future__ import annotations

import json
import os
import tomllib
from contextlib import suppress
from dataclasses import asdict, replace
from pathlib import Path

from pydantic import TypeAdapter

from layup.errors import InputError, StorageError
from layup.files.durable import JOURNAL, RESIN_COPY, put
from layup.files.fields import printable
from layup.files.toml import LARGEST_FILE_BYTES, read_plain
from layup.planning.planner import Settings

DRAFTS = ".drafts"
"""In the workshop's folder."""
MOST_STEPS_BACK = 40
MARK = "\ufeff"
"""What some editors begin a file with."""


class Draft:
    """The text of a resin or plan file as it is being changed.

    `path` is the file it is of; one that is not there yet has none, and says `start` at first.
    """

    def __init__(self, root: Path, kind: str, path: Path | None, start: str = "") -> None:
        self.path = path
        self.base = None if path is None else read_text(path)
        """What the file holds; None of a new one."""
        name = "new" if path is None else path.stem if kind == "resin" else path.parent.name
        self.kept_at = root / DRAFTS / f"{kind}-{name}.json"
        self.first = start if self.base is None else _plain(self.base)
        self.texts = [self.first]
        """What was to be written after each change; the last one stands."""
        self.resumed = self._read()

    @property
    def text(self) -> str:
        """What is to be written, as it stands."""
        return self.texts[-1]

    @property
    def changed(self) -> bool:
        """Whether it differs from the file, or from how a new one starts."""
        return self.text != self.first

    def change(self, text: str, *, same_step: bool = False) -> None:
        """Take what is to be written now; in the `same_step` as the last change it takes its place."""
        if text == self.text:
            return
        kept = self.texts[:-1] if same_step and len(self.texts) > 1 else self.texts[-MOST_STEPS_BACK:]
        self.texts = [*kept, text]

    def undo(self) -> bool:
        """Go one step back; False where there is none."""
        if len(self.texts) < 2:
            return False
        self.texts = self.texts[:-1]
        return True

    def keep(self) -> None:
        """Write the draft to the disk. Raises StorageError where that cannot be."""
        if not self.changed and len(self.texts) == 1:
            self.forget()
            return
        _keep(self.kept_at, {"base": self.base, "texts": self.texts})

    def _read(self) -> bool:
        """Take up what was kept; False where nothing was. One of a file that has changed since is set aside."""
        base, texts = _kept(self.kept_at)
        if texts and base == self.base:
            self.texts = texts
            return True
        if texts:
            with suppress(OSError):
                self.kept_at.replace(self.kept_at.with_suffix(".old"))
        return False

    @property
    def older(self) -> str:
        """The text of a draft that was set aside, for its file had changed; empty where there is none."""
        return next(reversed(_kept(self.kept_at.with_suffix(".old"))[1]), "")

    def save(self, path: Path) -> None:
        """Write the file, and let the draft go. Raises StorageError, and InputError where the name is taken."""
        if self.changed or self.base is None:
            save(path, _like(self.base or "", self.text), before=self.base)
        self.forget()
        self.path, self.base, self.first, self.texts = path, read_text(path), self.text, [self.text]

    def forget(self) -> None:
        """Let go of what was kept."""
        with suppress(OSError):
            self.kept_at.unlink(missing_ok=True)
            self.kept_at.parent.rmdir()


def _kept(kept_at: Path) -> tuple[object, list[str]]:
    """Return what the file of a draft held, and the texts of the draft as it was left, first to last; or none."""
    with suppress(OSError, ValueError, TypeError, LookupError, RecursionError):
        kept = json.loads(read_plain(kept_at, most=(MOST_STEPS_BACK + 3) * LARGEST_FILE_BYTES))
        return kept["base"], [str(text) for text in kept["texts"]]
    return None, []


def _keep(kept_at: Path, data: object) -> None:
    """Write what is to outlive the program; of None nothing is kept. Raises StorageError."""
    try:
        if data is None:
            kept_at.unlink(missing_ok=True)
            return
        kept_at.parent.mkdir(exist_ok=True)
        put(kept_at, json.dumps(data).encode())
    except OSError as error:
        raise _not_written(kept_at, error) from None


def draft_words(root: Path, kind: str, name: str = "new") -> str:
    """Name the draft that waits of a file, or of a new one, by its title: ": draft Powder board"; empty without one."""
    texts = _kept(root / DRAFTS / f"{kind}-{name}.json")[1]
    with suppress(ValueError, RecursionError):
        if texts and texts[-1] != texts[0]:
            return f": draft {printable(tomllib.loads(texts[-1]).get('title', 'without a name'))}"
    return ""


def waiting(root: Path) -> list[str]:
    """Return the drafts that were left in a workshop, as "board touring-skis"."""
    kinds = {"plan": "board", "resin": "resin"}
    found = (path.stem.partition("-") for path in sorted((root / DRAFTS).glob("*-*.json")))
    return [f"{kinds[kind]} {name}" for kind, _, name in found if kind in kinds]


def _plain(text: str) -> str:
    """Return a file's text with line ends as TOML has them, where it has others throughout."""
    plain = text.removeprefix(MARK)
    return plain.replace("\r\n", "\n") if plain.count("\n") == plain.count("\r\n") else plain


def _like(old: str, text: str) -> str:
    """Return a text with the line ends and the mark of an old one."""
    ends = text.replace("\n", "\r\n") if "\r\n" in old and _plain(old) != old.removeprefix(MARK) else text
    return MARK + ends if old.startswith(MARK) else ends


def read_text(path: Path) -> str:
    """Return a file's text as it is to be changed. Raises StorageError where it cannot be read."""
    try:
        return read_plain(path, most=LARGEST_FILE_BYTES).decode("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        value = getattr(error, "strerror", None) or "it is not UTF-8 text"
        raise StorageError(str(path), "cannot be read", value=value, todo="check the file") from None


def save(path: Path, text: str, *, before: str | None) -> None:
    """Write a resin or plan file at one go, if it still says what it did `before`; None means that it is new.

    Raises StorageError: the copies of a session that was begun are never touched, and nothing is ever overwritten
    that was not read.
    """
    if os.path.lexists(path.parent / JOURNAL) or path.name == RESIN_COPY:
        raise StorageError(str(path), "is kept by a session as it was used", todo="change the workshop's own file")
    try:
        if before is None:
            path.parent.mkdir(parents=True, exist_ok=True)
            put(path, text.encode(), new=True)
            return
        if read_text(path) != before:
            raise StorageError(str(path), "was changed by another program meanwhile", todo="leave, then open it again")
        put(path.resolve(), text.encode())
    except FileExistsError:
        raise InputError(str(path), "is there already", todo="choose another name") from None
    except OSError as error:
        raise _not_written(path, error) from None


def _not_written(path: Path, error: OSError) -> StorageError:
    return StorageError(str(path), "cannot be written", value=error.strerror, todo="check the disk and its permissions")


# -- dials -----------------------------------------------------------------------------------------------------------


def dials_at(root: Path, plan_name: str) -> Path:
    """Return where the dials of a plan are kept in a workshop."""
    return root / DRAFTS / f"dials-{plan_name}.json"


def keep_dials(root: Path, plan_name: str, stated: Settings, turned: Settings) -> None:
    """Keep the dials that were turned over a plan; nothing where they stand as its file has `stated`.

    Raises StorageError where that cannot be.
    """
    _keep(dials_at(root, plan_name), None if turned == stated else [asdict(stated), asdict(turned)])


def kept_dials(root: Path, plan_name: str, stated: Settings) -> Settings:
    """Return the dials of a plan as they were kept, each that its file says no other of since; else as `stated`."""
    try:
        kept = read_plain(dials_at(root, plan_name), most=LARGEST_FILE_BYTES)
        before, turned = TypeAdapter(tuple[Settings, Settings]).validate_json(kept)
    except (OSError, ValueError):
        return stated
    now = asdict(stated)
    return replace(turned, **{key: now[key] for key, value in asdict(before).items() if now[key] != value})
