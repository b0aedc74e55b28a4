"""Open the app; not a command of its own."""

from __future__ import annotations

import argparse
import gc
import sys
from typing import TYPE_CHECKING

from layup.errors import LayupError, StorageError

if TYPE_CHECKING:
    from pathlib import Path

COLLECTOR = (700, 10, 100)
"""When the garbage collector looks: its third number is ten times the usual one. With a long journal in memory, a look
at everything holds the keys for 50 ms and more, and finds nothing."""


def add_app_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what can be asked of the app wherever it is opened."""
    parser.add_argument("--watch", action="store_true", help="look on only: nothing is written")
    parser.add_argument(
        "--thermometer",
        metavar="SOURCE",
        help="follow a file that holds the shop's temperature, or a command that prints it (default: none)",
    )


def open_app(
    root: str,
    *,
    plan: str | None = None,
    session: Path | None = None,
    banner: str = "",
    watch: bool = False,
    thermometer: str | None = None,
) -> int:
    """Run the app in a workshop until it is left; return its exit code."""
    from pathlib import Path

    folder = Path(root)
    if not all((folder / name).is_dir() for name in ("resins", "sessions")):
        raise StorageError(
            str(folder.resolve()),
            "is not a workshop",
            allowed="a workshop is a folder with resins/ and sessions/",
            todo="go to one, make one with 'layup new DIR', or look around with 'layup demo'",
        )
    require_terminal()
    gc.set_threshold(*COLLECTOR)
    from layup.screens.app import LayupApp

    source = None
    if thermometer is not None:
        from layup.records.clock import SystemClock
        from layup.records.thermometer import source_of

        source = source_of(thermometer, SystemClock())
    app = LayupApp(folder, plan=plan, session=session, banner=banner, watch=watch, thermometer=source)
    app.run()
    if app.farewell:
        print(app.farewell)
    return app.return_code or 0


def require_terminal() -> None:
    """Raise where the app could not be seen or typed to; a stream that is closed is None."""
    if not all(stream is not None and stream.isatty() for stream in (sys.stdin, sys.stdout)):
        raise LayupError("layup", "the app needs a terminal", todo="run it in one, or use the commands: layup --help")
