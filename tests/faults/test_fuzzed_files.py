"""Spoilt resin, plan and journal files: never a traceback, always which file and line, and what loads also computes.

A hundred by default, a third of each kind. All ten thousand, in half an hour:
`LAYUP_FUZZ=10000 pytest -s tests/faults/test_fuzzed_files.py`. A number that fails gives its file back:
`mutants.mutant(source, number)`.
"""

from __future__ import annotations

import json
import os
import shutil
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType

import pytest
from command_line import ask_in
from mutants import mutant

from layup.files.durable import JOURNAL
from layup.files.plan_file import load_plan
from layup.files.resin_file import load_resin
from layup.files.workshop import demo_root
from layup.session.clock import ManualClock
from layup.session.day_events import Note
from layup.session.journal import Journal
from layup.session.reader import read_journal
from layup.session.records import fold

FUZZ = int(os.environ.get("LAYUP_FUZZ", "105"))
FIRST = int(os.environ.get("LAYUP_FUZZ_FIRST", "0"))
"""The number of the first mutant of each kind, to go on after an earlier run."""
DAY, OTHER_DAY, DRAFT = "2026-02-21-touring-skis-168", "2026-03-07-touring-skis-168", "touring-skis"
MOST_CALLS = {
    "plan": 12_000_000,
    "compare": 40_000_000,
    "learn": 40_000_000,
    "review": 90_000_000,
    "export": 90_000_000,
}
"""So many functions a command may call on a spoilt file: some thirty times what it calls on the whole one."""
COUNTED = 7
"""Calls are counted for one file in so many: counting takes three times as long as the work itself."""

Asked = tuple[str, ...]


@dataclass(frozen=True)
class Kind:
    """One kind of file: where it stands, and what is asked of it. `{to}` is the file that an export writes."""

    path: str
    load: Callable[[Path], object]
    commands: tuple[Asked, ...]


REVIEWS: tuple[Asked, ...] = (
    ("review", DAY, "--json"),
    ("review", DAY),
    ("export", DAY, "{to}", "--force"),
    ("compare", DAY, OTHER_DAY, "--json"),
    ("learn", "--json"),
)
PLANS: tuple[Asked, ...] = (("plan", DRAFT, "--json"), ("plan", DRAFT))
RESIN = "resins/slow-laminating.toml"
KINDS = {
    "resin": Kind(RESIN, load_resin, PLANS),
    "resin copy": Kind(f"sessions/{DAY}/resin.toml", load_resin, REVIEWS),
    "plan": Kind(f"sessions/{DRAFT}/plan.toml", load_plan, (*PLANS, ("compare", DRAFT, OTHER_DAY, "--json"))),
    "plan copy": Kind(f"sessions/{DAY}/plan.toml", load_plan, REVIEWS),
    "journal": Kind(f"sessions/{DAY}/{JOURNAL}", lambda path: fold(read_journal(path.parent)[0]), REVIEWS),
}
SHARE = {"resin": 4, "resin copy": 1, "plan": 4, "plan copy": 1, "journal": 5}
"""How many of fifteen are of each kind: a third resins, a third plans, a third journals."""


class TooMuchWorkError(Exception):
    """A command works far longer on a spoilt file than on the whole one."""


class Calls:
    """Count the calls of Python functions, and stop at a number of them: work is counted, no clock is read."""

    def __init__(self, most: int) -> None:
        self.most = most
        self.made = 0

    def _look(self, _frame: FrameType, event: str, _arg: object) -> None:
        if event == "call":
            self.made += 1
            if self.made > self.most:
                sys.setprofile(None)
                raise TooMuchWorkError(f"more than {self.most} calls")

    @contextmanager
    def counted(self) -> Iterator[None]:
        """Count while this lasts."""
        sys.setprofile(self._look)
        try:
            yield
        finally:
            sys.setprofile(None)


@dataclass
class Workshop:
    """The demo's files, one of them spoilt at a time, and what came of it."""

    root: Path
    whole: dict[str, str] = field(default_factory=dict)
    counts: Counter[str] = field(default_factory=Counter)

    def __post_init__(self) -> None:
        for name in ("resins", "sessions"):
            shutil.copytree(demo_root() / name, self.root / name)
        self.whole = {kind: (self.root / each.path).read_text(encoding="utf-8") for kind, each in KINDS.items()}

    def judge(self, name: str, number: int) -> None:
        """Spoil one file, ask what it is for, and put it right again."""
        kind = KINDS[name]
        path = self.root / kind.path
        path.write_bytes(mutant(self.whole[name], number))
        try:
            kind.load(path)
            problems = self._problems(path)
            errors = [problem for problem in problems if not problem["warning"]]
            self.counts.update(files=1, spoilt=bool(problems), loads=not errors)
            words = kind.commands[number % len(kind.commands)]
            self._ask(self._named(words, number), Calls(MOST_CALLS[words[0]]) if number % COUNTED == 0 else None)
            if name == "journal" and number % 4 == 0:
                self._go_on(path)
        finally:
            path.write_text(self.whole[name], encoding="utf-8")

    def _named(self, words: Asked, number: int) -> Asked:
        """Return a command with the file that it writes, if it writes one."""
        ending = (".html", ".md", ".csv", ".jsonl")[number % 4]
        return tuple(word.replace("{to}", f"session{ending}") for word in words)

    def _problems(self, path: Path) -> list[dict[str, object]]:
        """Return what `layup check` finds: each names the file, a line of it, and what is wrong."""
        answer = ask_in(self.root, "check", str(path), "--json")
        problems = answer.data["problems"]
        assert answer.code == (2 if problems else 0)
        rows = path.read_bytes().count(b"\n") + 1
        for problem in problems:
            assert problem["file"] == str(path)
            assert problem["message"]
            assert 1 <= problem["line"] <= rows
        self.counts.update(problems=len(problems))
        return problems

    def _ask(self, words: Asked, calls: Calls | None) -> None:
        """Run a command; it answers, or says what is wrong, and its calls are counted where they are asked for."""
        with nullcontext() if calls is None else calls.counted():
            answer = ask_in(self.root, *words)
        self.counts[f"exit {answer.code}"] += 1
        assert answer.code in (0, 1, 2, 3), words
        assert "Traceback" not in answer.err
        assert answer.out or answer.err
        assert (answer.out + answer.err).replace("\n", " ").isprintable()
        if answer.code < 2 and "--json" in words:
            assert json.dumps(answer.data, allow_nan=False)

    def _go_on(self, path: Path) -> None:
        """Go on with the session: nothing that stood in its journal is lost, and what is logged now counts."""
        before = path.read_bytes()
        folder = self.root / "going-on"
        shutil.copytree(path.parent, folder)
        try:
            with Journal.open(folder, ManualClock()) as journal:
                journal.append(Note(text="on we go"))
                assert journal.fault == ""
            torn = b"".join(file.read_bytes() for file in sorted(folder.glob("journal.torn-*.txt")))
            after = (folder / JOURNAL).read_bytes()
            assert after.startswith(before.removesuffix(torn))
            assert isinstance(read_journal(folder)[0][-1], Note)
        finally:
            shutil.rmtree(folder)


@pytest.fixture(scope="module")
def workshop(tmp_path_factory: pytest.TempPathFactory) -> Workshop:
    return Workshop(tmp_path_factory.mktemp("shop"))


@pytest.mark.parametrize("name", KINDS)
def test_no_spoilt_file_makes_a_traceback_and_what_loads_also_computes(
    workshop: Workshop, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    workshop.counts.clear()
    failed = []
    many = FUZZ * SHARE[name] // sum(SHARE.values())
    for number in range(FIRST, FIRST + many):
        try:
            workshop.judge(name, number)
        except Exception as error:  # noqa: BLE001  every failure is wanted with the number that brings it back
            failed.append(f"{name} {number}: {type(error).__name__}: {str(error)[:300]}")
    print(f"{name}: {dict(sorted(workshop.counts.items()))}")
    assert not failed, "\n".join(failed)
    assert workshop.counts["spoilt"] > many // 3, "the spoilers spoil too little"
    assert workshop.counts["loads"] > many // 20, "the spoilers spoil too much for anything to be computed"
