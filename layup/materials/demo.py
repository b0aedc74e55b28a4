"""The demo workshop that comes with the program: find it, copy it, make a new workshop from it."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from shlex import quote

from layup.errors import StorageError
from layup.materials.names import JOURNAL, PLAN

_PACKAGE = Path(__file__).resolve().parent.parent
_FOLDERS = ("resins", "sessions")


def demo_root() -> Path:
    """Return the folder that holds the demo's resins and sessions: in the package, or beside it in a checkout."""
    for root in (_PACKAGE / "demo", _PACKAGE.parent):
        if all((root / folder).is_dir() for folder in _FOLDERS):
            return root
    raise StorageError(str(_PACKAGE), "has no demo workshop with it", todo="install the program again")


def new_workshop(folder: Path, *, whole: bool = False) -> None:
    """Make a workshop in `folder` with the demo's resins and draft plans; nothing that is there is overwritten.

    The `whole` demo has its sessions too. It is made whole or not at all: beside its place first, then moved.
    """
    source = demo_root()
    taken = [name for name in _FOLDERS if (folder / name).exists()]
    if taken:
        todo = f"open it with 'layup --workshop {quote(str(folder))}', or choose another folder"
        raise StorageError(str(folder), "is a workshop already", value=", ".join(taken), todo=todo)
    with ExitStack() as undo:
        try:
            for missing in [path for path in (*reversed(folder.parents), folder) if not path.exists()]:
                undo.callback(_remove_if_empty, missing)
            folder.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryDirectory(prefix=".layup-", dir=folder) as half:
                _copy_demo(source, Path(half), whole=whole)
                for name in _FOLDERS:
                    (Path(half) / name).rename(folder / name)
                    undo.callback(shutil.rmtree, folder / name, ignore_errors=True)
                undo.pop_all()
        except OSError as error:
            raise _cannot_write(folder, error) from None


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
        try:
            for name in _FOLDERS:
                shutil.copytree(source / name, Path(folder) / name)
        except OSError as error:
            raise _cannot_write(Path(folder), error) from None
        yield Path(folder)


def _cannot_write(folder: Path, error: OSError) -> StorageError:
    return StorageError(str(folder), "cannot be written", value=error.strerror, todo="choose a folder of your own")
