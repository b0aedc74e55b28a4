"""Show the app in a browser, to look on from a phone or a tablet; on this machine only, unless --lan is given."""

from __future__ import annotations

import argparse
import os
import shlex
import socket
import subprocess
import sys
from pathlib import Path

from layup.commands.reading import add_workshop_argument
from layup.commands.served_app import LOOPBACK
from layup.errors import InputError, LayupError, StorageError

EXAMPLE = "layup serve     layup serve --lan --port 8080"

USUAL_PORT = 8737
_NOWHERE = ("192.0.2.1", 9)
"""An address kept for documentation (RFC 5737): nothing is sent there, it only tells which of ours would be used."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the words of `layup serve`."""
    parser.add_argument(
        "--port", metavar="N", type=int, default=USUAL_PORT, help=f"where to listen (default {USUAL_PORT})"
    )
    parser.add_argument("--lan", action="store_true", help="let other devices of this network in, each with a word")
    parser.add_argument("--writer", action="store_true", help="let the browser log too, not only look on")
    add_workshop_argument(parser)


def run(args: argparse.Namespace) -> int:
    """Serve the app until it is stopped."""
    if not 1 <= args.port <= 65535:
        raise InputError("--port", "is no port", value=args.port, allowed="1 to 65535; above 1023 needs no rights")
    root = Path(args.workshop).resolve()
    if not all((root / name).is_dir() for name in ("resins", "sessions")):
        raise StorageError(str(root), "is not a workshop", todo="go to one, or make one with 'layup new DIR'")
    try:
        from layup.commands.serving import BenchServer, Door
    except ImportError as error:
        raise LayupError(
            "layup serve",
            "needs a part that is not installed",
            value=error.name,
            todo="install it with: pip install 'layup[serve]'",
        ) from error
    door = Door(lan=args.lan, port=args.port, say=print)
    server = BenchServer(command(root, writer=args.writer), door, looking_on=not args.writer)
    print(opening_words(args.port, lan=args.lan, writer=args.writer))
    door.show_word()
    try:
        server.serve()
    except OSError as error:
        raise LayupError(
            f"port {args.port}", "cannot be used", value=error.strerror, todo="choose another with --port"
        ) from error
    return 0


def command(root: Path, *, writer: bool) -> str:
    """Return the command line that shows the app to one browser; no shell stays between it and the server."""
    words = [sys.executable, "-m", "layup.commands.served_app", str(root), *([] if writer else ["--watch"])]
    return subprocess.list2cmdline(words) if os.name == "nt" else f"exec {shlex.join(words)}"


def opening_words(port: int, *, lan: bool, writer: bool) -> str:
    """Return where the app is, for whom, and what to mind."""
    where = f"http://{lan_address() if lan else LOOPBACK}:{port}/"
    who = "for every device of this network that knows the word" if lan else "on this machine only"
    lines = [f"the app is at {where}  ({who}, {'it may log' if writer else 'looking on only'})", "Ctrl+C stops it"]
    if lan:
        lines.insert(1, "nothing is encrypted on the way: do this only in a network whose users you trust")
    return "\n".join(lines)


def lan_address() -> str:
    """Return this machine's address in its network, or its name where that is not known."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(_NOWHERE)
        except OSError:
            return socket.gethostname()
        return str(probe.getsockname()[0])
