"""The command line: one table of commands; each is imported only when it is called."""

from __future__ import annotations

import argparse
import os
import re
import sys
from codecs import register_error
from importlib import import_module
from io import TextIOWrapper
from typing import NoReturn

from layup import __version__
from layup.errors import LayupError, StorageError, printable

UNITS_KEY = "LAYUP_UNITS"
"""The variable of the environment that chooses the units people see, where no `--units` does."""

COMMANDS = {
    "demo": "the app on a throwaway copy of the demo workshop",
    "new": "make a workshop folder with the demo resins and a sample plan",
    "check": "every problem in resin, plan, stock and session files",
    "fabric": "areal weight of a fabric, in both unit systems",
    "mix": "a mix sheet: readings in order, tolerance, worst-case off-ratio",
    "potlife": "time to thickening for this mass, cup and temperature",
    "plan": "grams, batches, timeline and temperature window of a plan",
    "choose": "each resin by temperature and people: fits, tight or not",
    "warm": "how long cans, core and mould take to follow the shop; the heater",
    "close": "clamps, bolts, bladder or bag: pressure, force, spacing, cautions",
    "cure": "conversion, glass transition, earliest demoulding, heating",
    "sheet": "the list before you start and mix sheets, for the wall",
    "trial": "log a trial cup: this resin's own times beside its datasheet's",
    "view": "the bench now, or as it stood at a minute: the next act",
    "press": "start or resume a press day in the app",
    "rehearse": "a dry run without resin, or a day for play at speed",
    "enter": "enter afterwards what happened on a press day, or a whole day",
    "outcome": "log how a part turned out, and what was weighed or measured on it",
    "recall": "a failed layup told from memory: its cause, and the next plan",
    "review": "what happened in a session, and the likely causes with evidence",
    "carry": "notes for next time: list, add, tick off, drop",
    "compare": "two sessions side by side: what differed first",
    "learn": "what the sessions teach, in eight lines; --detail: with spread",
    "export": "a session as .html, .md, .csv or .jsonl",
    "serve": "the bench as a page for tablets and phones",
    "follow": "each act of a running session as one plain line",
}
"""Command name -> what it does. The module `layup.commands.NAME` holds `add_arguments`, `run` and `EXAMPLE`."""

EXAMPLE_GAP = re.compile(r"\n| {3,}")
"""What parts the examples in an `EXAMPLE` of several."""
WIDEST_HELP = 100
HERE = "."
PLAIN = {
    "°": "deg",
    "²": "2",
    "³": "3",
    "·": ".",
    "−": "-",
    "±": "+-",
    "≠": "!",
    "≤": "<=",
    "≈": "~",
    "×": "x",
    "░": "-",
    "▒": "=",
    "▓": "%",
    "█": "#",
}
PLAIN |= {"┃": "|", "━": "=", "▲": "^", "◀": "<", "▶": ">"} | dict.fromkeys("▁▂▃▄▅▆▇▀", "#")
"""What stands for each of our letters on a terminal that lacks it."""


class Parser(argparse.ArgumentParser):
    """An argument parser whose errors have the same shape as all our others."""

    def error(self, message: str) -> NoReturn:
        self.exit(2, printable(f"{self.prog}: {message} - see '{self.prog} --help'\n"))


def main(argv: list[str] | None = None) -> int:
    """Run one command, or the app; return the exit code (0 fine, 1 does not fit, 2 bad input, 3 files)."""
    words = sys.argv[1:] if argv is None else argv
    register_error("plain", _plain)  # so that a terminal without our letters shows others, and the answer still comes
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="plain")
    try:
        code = _run(words)
        print(end="", flush=True)
        return code
    except LayupError as error:
        return _complain(error)
    except KeyboardInterrupt:
        print("layup: stopped", file=sys.stderr)
        return 130
    except BrokenPipeError:
        _drop_output()
        return 0
    except OSError as error:
        return _complain(_storage(error))


def _plain(error: UnicodeError) -> tuple[str, int]:
    """Return letters that every terminal has for those that one cannot show, so that pictures keep their textures."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return "".join(PLAIN.get(each, "?") for each in error.object[error.start : error.end]), error.end


def _complain(error: LayupError) -> int:
    """Say what is wrong, harmless to the terminal whatever it quotes; return the exit code."""
    print(printable(str(error)), file=sys.stderr)
    return error.exit_code


def _storage(error: OSError) -> StorageError:
    """Return the error to show for a file that failed, or for an answer that could not be printed."""
    if error.filename is None:
        _drop_output()
        return StorageError("layup", "cannot print its answer", value=error.strerror, todo="see where it goes")
    return StorageError(
        str(error.filename), "cannot be read or written", value=error.strerror, todo="check the name and the disk"
    )


def _drop_output() -> None:
    """Let what is still to be printed go nowhere, so that nothing complains again at exit."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _use_units(name: str) -> None:
    from layup.units import use_units  # here, because the version and the help are told without units

    use_units(name)


def _run(words: list[str]) -> int:
    if chosen := os.environ.get(UNITS_KEY):
        _use_units(chosen)
    if words and words[0] in COMMANDS:
        return _run_command(words[0], words[1:])
    parser = _top_parser()
    if words == ["help"]:
        words = ["--help"]
    args = parser.parse_args(words)
    if args.units is not None:
        _use_units(args.units)
        os.environ[UNITS_KEY] = args.units  # for what this program starts
    if args.command:
        name, *rest = args.command
        if name not in COMMANDS:
            parser.error(f"no command {name!r}{_nearest(name)}")
        if args.watch or args.page or args.lan or args.thermometer is not None or args.aloud is not None:
            parser.error(f"--watch, --thermometer, --aloud, --page and --lan go after {name!r}")
        return _run_command(name, rest, args.workshop)
    from layup.commands.app import open_app

    return open_app(args.workshop, args)


def _nearest(word: str) -> str:
    from difflib import get_close_matches

    near = get_close_matches(word, COMMANDS, n=1)
    return f", did you mean {near[0]!r}?" if near else f" (there are: {', '.join(COMMANDS)})"


def _top_parser() -> Parser:
    from layup.commands.app import add_app_arguments

    width = max(map(len, COMMANDS))
    parser = Parser(
        prog="layup",
        description="Plan a wet layup, mix its resin, keep its clocks on press day, learn from it.\n"
        "With no command: the app in this workshop, a folder with resins/ and sessions/.",
        epilog="commands:\n"
        + "\n".join(f"  {name:<{width}}  {what}" for name, what in COMMANDS.items())
        + "\n\n'layup COMMAND --help' explains one, with an example.\nEvery countdown is an estimate.",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        usage="layup [--workshop DIR] [--units metric|us] [COMMAND ...]",
    )
    parser.add_argument("--version", action="version", version=f"layup {__version__}")
    parser.add_argument("--workshop", metavar="DIR", default=HERE, help="the workshop folder (default: this folder)")
    parser.add_argument(
        "--units",
        metavar="metric|us",
        help=f"the units you see: metric, or us for oz, °F, psi (default: {UNITS_KEY}, metric)",
    )
    add_app_arguments(parser)
    parser.add_argument("command", nargs=argparse.REMAINDER, help=argparse.SUPPRESS)
    return parser


def _run_command(name: str, words: list[str], workshop: str = HERE) -> int:
    """Run one command; a workshop named before it counts unless the command names its own."""
    from shutil import get_terminal_size  # here, because the version is told without them
    from textwrap import fill

    module = import_module(f"layup.commands.{name}")
    parser = Parser(
        prog=f"layup {name}",
        description=fill(" ".join((module.__doc__ or "").split()), width=min(get_terminal_size().columns, WIDEST_HELP)),
        epilog="example:\n" + "\n".join(f"  {example}" for example in EXAMPLE_GAP.split(module.EXAMPLE)),
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    module.add_arguments(parser)
    if workshop != HERE:
        if parser.get_default("workshop") is None:
            parser.error("takes no --workshop")
        parser.set_defaults(workshop=workshop)
    code: int = module.run(parser.parse_args(words))
    return code
