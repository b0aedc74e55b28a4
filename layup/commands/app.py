"""Open the app, or the page for tablets beside it; not a command of its own."""

from __future__ import annotations

import argparse
import gc
import sys
from collections.abc import Callable
from typing import TYPE_CHECKING

from layup.errors import InputError, LayupError, StorageError, printable

if TYPE_CHECKING:
    from pathlib import Path

    from layup.app.app import LayupApp
    from layup.chemistry.temperature import History
    from layup.page.server import BenchServer, PageHost

USUAL_PORT = 8737
COLLECTOR = (700, 10, 100)
"""When the garbage collector looks: its third number is ten times the usual one. With a long journal in memory, a look
at everything holds the keys for 50 ms and more, and finds nothing."""
NOT_YET = 1_000_000
"""When it looks until the workshop is open: not, as what is loaded on the way lasts. It was a tenth of the way."""
UNSAFE = "nothing is encrypted on the way: do this only in a network whose users you trust"


def add_app_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what can be asked of the app wherever it is opened."""
    parser.add_argument("--watch", action="store_true", help="look on only: nothing is written")
    parser.add_argument("--page", action="store_true", help="serve the bench as a page for tablets, too")
    add_page_arguments(parser)
    parser.add_argument(
        "--aloud",
        metavar="COMMAND",
        help="run this for each alarm, its words last, such as a program that speaks (default: only the bell)",
    )
    parser.add_argument(
        "--thermometer",
        metavar="SOURCE",
        help="follow a file that holds the shop's temperature, or a command that prints it (default: none)",
    )


def add_page_arguments(parser: argparse.ArgumentParser) -> None:
    """Add where the page is and who may see it."""
    parser.add_argument(
        "--port", metavar="N", type=int, default=USUAL_PORT, help=f"where the page listens (default {USUAL_PORT})"
    )
    parser.add_argument("--lan", action="store_true", help="let other devices of this network in, each with a word")


def require_port(port: int) -> None:
    """Raise InputError for what is no port."""
    if not 1 <= port <= 65535:
        raise InputError("--port", "is no port", value=port, allowed="1 to 65535; above 1023 needs no rights")


def holds_no_session(folder: Path) -> bool:
    """Return whether a folder is empty, or a workshop whose sessions are none yet: the app asks what to begin with."""
    return folder.is_dir() and not any((folder / "sessions").glob("*"))


def open_app(
    root: str | Path,
    args: argparse.Namespace,
    *,
    plan: str | None = None,
    session: Path | None = None,
    banner: str = "",
    play: bool = False,
    casting: bool = False,
    forecast: History = (),
    prepare: Callable[[LayupApp], None] | None = None,
) -> int:
    """Run the app in a workshop until it is left; return its exit code. A `banner` says that nothing is kept.

    `play` offers a press day for play, and is for a workshop that is thrown away; `prepare` says what else the
    app begins with.
    """
    from pathlib import Path

    folder = Path(root)
    there = [(folder / name).is_dir() for name in ("resins", "sessions")]
    asks_first = holds_no_session(folder) and plan is None and session is None and not args.watch
    if not all(there) and not (asks_first and has_terminal()):
        raise StorageError(
            str(folder.resolve()),
            "is not a workshop",
            allowed="a workshop is a folder with resins/ and sessions/",
            todo="go to one, make one with 'layup new DIR', or look around with 'layup demo'",
        )
    require_port(args.port)
    require_terminal()
    gc.set_threshold(NOT_YET)
    from layup.app.app import LayupApp
    from layup.app.sound import Sound, command_of
    from layup.session.clock import SystemClock

    clock, source = SystemClock(), None
    if args.thermometer is not None:
        from layup.bench.alarms import source_of

        source = source_of(args.thermometer, clock)
    app = LayupApp(folder, plan=plan, session=session, banner=banner, watch=args.watch, thermometer=source, play=play)
    beside = Beside(app, port=args.port, watch=args.watch)

    def once_open() -> None:
        _collect()
        app.call_later(beside.show_first)

    app.casting, app.forecast, app.beside, app.once_open = casting, forecast, beside, once_open
    if prepare is not None:
        prepare(app)
    app.sound = Sound(clock, () if args.aloud is None else command_of(args.aloud))
    if args.page or args.lan:
        beside.build(lan=args.lan)
    app.way_back = "" if banner else way_back(root, session)
    app.run()
    if app.wants_demo:
        return open_demo(args)
    if app.farewell:
        print(printable(app.farewell))
    return app.return_code or 0


def _collect() -> None:
    """Let the garbage collector look, but never again at what was loaded until now."""
    gc.freeze()
    gc.set_threshold(*COLLECTOR)


def open_demo(args: argparse.Namespace) -> int:
    """Run the app on a copy of the demo workshop that is deleted at the end."""
    from layup.files.workshop import throwaway_workshop

    with throwaway_workshop() as root:
        return open_app(str(root), args, banner="demo: this copy is deleted when you quit", play=True)


def program() -> str:
    """Return what to type to call this program again from where the user is."""
    from pathlib import Path
    from shlex import quote
    from shutil import which

    called, found = Path(sys.argv[0]), which("layup")
    if not called.is_file() or (found and called.samefile(found)):
        return "layup"
    return f"{quote(sys.executable)} -m layup" if called.name == "__main__.py" else quote(sys.argv[0])


def way_back(root: str | Path, session: Path | None = None) -> str:
    """Return what to type to open a workshop again, or a session that is not in it."""
    from pathlib import Path
    from shlex import quote

    words = [program()]
    if session is not None and session.parent != Path(root) / "sessions":
        words += ["press", quote(str(session))]
    if Path(root) != Path():
        words += ["--workshop", quote(str(root))]
    return " ".join(words)


def has_terminal() -> bool:
    """Return whether the app could be seen and typed to; a stream that is closed is None."""
    return all(stream is not None and stream.isatty() for stream in (sys.stdin, sys.stdout))


def require_terminal() -> None:
    """Raise where the app could not be seen or typed to."""
    if not has_terminal():
        raise LayupError("layup", "the app needs a terminal", todo="run it in one, or use the commands: layup --help")


# -- the page --------------------------------------------------------------------------------------------------------


def page_server(host: PageHost, *, port: int, lan: bool, watch: bool, say: Callable[[str], None]) -> BenchServer:
    """Return the server of the page; LayupError where its libraries are not installed."""
    try:
        from layup.page.door import Door
        from layup.page.server import BenchServer
    except ImportError as error:
        raise LayupError(
            "layup serve",
            "needs a part that is not installed",
            value=error.name,
            todo="install it with: pip install 'layup[serve]'",
        ) from error
    from layup.session.clock import SystemClock

    door = Door(lan=lan, port=port, role="viewer" if watch else "writer", say=say)
    return BenchServer(host, door, SystemClock())


def address(port: int, *, lan: bool) -> str:
    """Return where the page is."""
    from layup.page.door import LOOPBACK, lan_address

    return f"http://{lan_address() if lan else LOOPBACK}{'' if port == 80 else f':{port}'}/"


def code(where: str, word: str) -> str:
    """Return a square code of blocks: the address, with the word where no log and no other site sees it."""
    import io

    import segno

    out = io.StringIO()
    segno.make(f"{where}#{word}", micro=False).terminal(out, compact=True, border=2)
    return out.getvalue()


class Beside:
    """The page of the day that the app shows, in the app's own loop, once it is wanted."""

    where = word = ""
    waits = False
    server: BenchServer | None = None

    def __init__(self, app: LayupApp, *, port: int, watch: bool) -> None:
        self._app, self._port, self._watch = app, port, watch

    def build(self, *, lan: bool) -> None:
        """Make the server, for this machine or for the network; LayupError where its libraries are not installed."""
        self.where = address(self._port, lan=lan)
        self.server = page_server(self._app, port=self._port, lan=lan, watch=self._watch, say=self._say)
        self.word, self.waits = self.server.door.word, lan

    def show_first(self) -> None:
        """Show how the first device comes in, as the app begins; whether to begin the day is asked after it."""
        if not self.waits:
            return
        from layup.app.help import page_of

        app, wanted = self._app, self._app.to_begin
        app.to_begin = False

        def left(_: None) -> None:
            app.to_begin = wanted
            if app.planner.figures is not None:
                app.ask_to_begin()

        app.push_screen(page_of(self), left)

    async def start(self) -> None:
        """Listen, and say where; what is in the way is said too, and the app goes on without a page."""
        if self.server is None:
            return
        try:
            await self.server.start()
        except OSError as error:
            self.server, self.word, self.waits = None, "", False
            self._app.say(f"no page: port {self._port} cannot be used ({error.strerror or error})")
            return
        self._app.say(f"page: {self.where}   9 shows {'its word' if self.word else 'this'} again")

    async def open(self, *, lan: bool) -> bool:
        """Begin anew for this machine or for the network; return whether it listens."""
        await self.stop()
        try:
            self.build(lan=lan)
        except LayupError as error:
            self._app.say(str(error))
        await self.start()
        return self.server is not None

    async def stop(self) -> None:
        if self.server is not None:
            await self.server.stop()
        self.server = None

    def words(self) -> str:
        """Return where the page is, the word for the next device, and both as a code for its camera."""
        if not self.word:
            return f"{self.where}\n\nOn this computer only."
        return f"{self.where}\nword for the next device: {self.word}\n\n{code(self.where, self.word)}\n{UNSAFE}"

    def _say(self, word: str) -> None:
        self.word = word
        if self.server is not None:  # else it is the first word, and nobody is in
            self.waits = False
            self._app.say("a device was let in; 9 shows the word for the next")
