"""Serve the bench of a running session as a page for tablets and phones: on this machine only, unless --lan."""

from __future__ import annotations

import argparse
import asyncio
import signal
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from layup.commands.app import UNSAFE, add_page_arguments, address, code, page_server, require_port
from layup.commands.command import SESSION_HELP, takes
from layup.errors import InputError, LayupError

if TYPE_CHECKING:
    from layup.bench.day import PressDay
    from layup.files.workshop import Workshop
    from layup.page.server import BenchServer

EXAMPLE = "layup serve     layup serve --lan --port 8080"

TICK_S = 0.5


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the words of `layup serve`."""
    add_page_arguments(parser)
    session = f"[SESSION]  {SESSION_HELP} (default: the one that is running)"
    takes(f"{session}\n--watch  look on only: nothing is written\n--workshop DIR")(parser)


def run(args: argparse.Namespace) -> int:
    """Serve the page until it is stopped."""
    require_port(args.port)
    from layup.bench.view import looks_on_words
    from layup.files.workshop import Workshop

    workshop = Workshop(args.workshop)
    day = _day(workshop, args.session, watch=args.watch)
    alone = Alone(day)
    try:
        server = page_server(alone, port=args.port, lan=args.lan, watch=args.watch or day.watching, say=alone.word)
        alone.where = address(args.port, lan=args.lan)
        if day.watching:
            print(looks_on_words(day))
        if day.greeting:
            print(day.greeting)
        print(opening_words(args.port, lan=args.lan, watch=args.watch or day.watching))
        alone.word(server.door.word)
        asyncio.run(_serve(server, day))
    finally:
        day.close()
    return 0


class Alone:
    """A day that is served without a terminal of its own."""

    def __init__(self, day: PressDay) -> None:
        self.day: PressDay | None = day
        self.where = ""

    def page_logged(self, words: str) -> None:
        """Print what a tap logged."""
        print(words)

    def word(self, word: str) -> None:
        """Print the word for the next device, also as a code that its camera reads."""
        if word and self.where:
            print(f"word for the next device: {word}")
            print(code(self.where, word))


def opening_words(port: int, *, lan: bool, watch: bool) -> str:
    """Return where the page is, for whom, and what to mind."""
    who = "for each device that says its word" if lan else "on this machine only"
    lines = [f"the bench is at {address(port, lan=lan)}  ({who}, {'looking on only' if watch else 'it may log'})"]
    if lan:
        lines.append(UNSAFE)
    return "\n".join([*lines, "Ctrl+C stops it"])


def _day(workshop: Workshop, name: str | None, *, watch: bool) -> PressDay:
    from layup.bench.opening import meet, resume
    from layup.review.carried import carriers
    from layup.session.archive import running_days
    from layup.session.clock import SystemClock

    def opened(folder: Path) -> PressDay:
        day = resume(folder, SystemClock(), workshop=workshop, watch=watch)
        meet(day, carriers(workshop))
        return day

    if name is not None:
        return opened(workshop.session_path(name))
    good = [each for each in running_days(workshop) if not each.trouble]
    if len(good) != 1:
        names = ", ".join(each.folder.name for each in good)
        raise InputError(
            "layup serve",
            "which session?" if good else "no session is running",
            allowed=names,
            todo="name one" if good else "begin one with 'layup press PLAN --page'",
        )
    return opened(good[0].folder)


async def _serve(server: BenchServer, day: PressDay) -> None:
    """Serve until a signal; the day's clocks go on meanwhile."""
    done = asyncio.Event()
    loop = asyncio.get_running_loop()
    for name in ("SIGINT", "SIGTERM", "SIGHUP"):
        with suppress(AttributeError, NotImplementedError):
            loop.add_signal_handler(getattr(signal, name), done.set)
    try:
        await server.start()
    except OSError as error:
        raise LayupError(
            f"port {server.door.port}", "cannot be used", value=error.strerror, todo="choose another with --port"
        ) from error
    try:
        while not done.is_set():
            day.tick()
            with suppress(TimeoutError):
                async with asyncio.timeout(TICK_S):
                    await done.wait()
    finally:
        await server.stop()
