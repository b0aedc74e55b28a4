"""The command line as a whole: help, exit codes, which stream says what, and words from files that stay words."""

import argparse
import os
import re
import shlex
import shutil
import subprocess
import sys
from importlib import import_module
from itertools import chain

import pytest
from command_line import ESCAPE, ask_in, assert_no_wider, unruly
from hypothesis import example, given, settings
from hypothesis import strategies as st

from layup import __version__, cli
from layup.cli import COMMANDS
from layup.commands.command import answer
from layup.errors import printable
from layup.files.workshop import demo_root, new_workshop
from layup.report.bars import Paper

HEAVY = {"numpy", "pint", "pydantic", "rich", "scipy", "textual"}
PLAN = "sessions/touring-skis/plan.toml"
RESIN = "resins/slow-laminating.toml"
IN_A_TERMINAL = ("demo", "press", "rehearse", "serve")
"""Commands that go on until they are left."""
RECORDING = ("outcome", "enter")
"""Commands whose options are things to record: what is not given is not recorded."""
WITH_UNITS = {
    "MASS",
    "TEMPERATURE",
    "LENGTH",
    "TIME",
    "PRESSURE",
    "FORCE",
    "VOLUME",
    "SHARE",
    "RH",
    "DEPTH",
    "DIAMETER",
}
COMPUTING = {
    "fabric": ("fabric", "6 oz/yd^2"),
    "mix": ("mix", "slow-laminating", "250 g"),
    "potlife": ("potlife", "slow-laminating", "--mass", "250 g", "--temp", "20 degC"),
    "plan": ("plan", "touring-skis"),
    "close": ("close", "touring-skis"),
    "cure": ("cure", "slow-laminating", "--temps", "20 degC:12 h, 45 degC:6 h"),
    "check": ("check",),
}


def start(*words, cwd, stdout=subprocess.PIPE, **environment):
    """Start the command line in a process of its own, which buffers what it prints as usual."""
    usual = {name: value for name, value in os.environ.items() if name != "PYTHONUNBUFFERED"}
    return subprocess.Popen(
        [sys.executable, "-m", "layup", *words],
        cwd=cwd,
        env=usual | {"COLUMNS": "80"} | environment,
        stdin=subprocess.DEVNULL,
        stdout=stdout,
        stderr=subprocess.PIPE,
    )


def run(*words, **how):
    """Run the command line in a process of its own; return its exit code and both its streams."""
    process = start(*words, **how)
    out, err = process.communicate(timeout=60)
    return process.returncode, out, err


# --- Every command


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_is_a_module_with_its_words_and_an_example(name):
    module = import_module(f"layup.commands.{name}")
    module.add_arguments(argparse.ArgumentParser())
    assert module.__doc__
    assert callable(module.run)
    assert all(example.startswith(f"layup {name}") for example in cli.EXAMPLE_GAP.split(module.EXAMPLE))


@pytest.mark.parametrize("name", COMMANDS)
def test_the_help_of_every_command_explains_it_and_shows_an_example(say, name):
    said = say(name, "--help")
    module = import_module(f"layup.commands.{name}")
    assert said.code == 0
    assert " ".join(module.__doc__.split()) in said.words
    text, examples = said.out.split("example:\n")
    assert [line.strip() for line in examples.splitlines()] == cli.EXAMPLE_GAP.split(module.EXAMPLE)
    assert_no_wider(text, 80)


@pytest.mark.parametrize("name", COMMANDS)
def test_the_help_of_every_option_tells_its_unit_and_what_holds_without_it(name):
    parser = argparse.ArgumentParser()
    import_module(f"layup.commands.{name}").add_arguments(parser)
    for action in parser._actions:
        assert action.help, action.dest
        metavars = {action.metavar} if isinstance(action.metavar, str | None) else set(action.metavar)
        if metavars & WITH_UNITS and not (action.option_strings and action.default):
            assert re.search(r"\d ?(%%|[a-zA-Z]+)", action.help), f"{action.dest}: how is it written?"
        if action.option_strings and action.nargs != 0 and not action.required and name not in RECORDING:
            assert "default" in action.help or action.nargs in (2, "+") or "needs" in action.help, action.dest
        if action.option_strings and isinstance(action.default, str | int | float) and action.nargs != 0:
            told = action.help.replace("this folder", ".").replace("%%", "%")
            assert f"(default {action.default})" in told or f"(default: {action.default})" in told, action.dest


@pytest.mark.parametrize("name", [name for name in COMMANDS if name not in IN_A_TERMINAL])
def test_every_example_runs_as_it_stands_in_a_new_workshop(say, workshop, name):
    for session in demo_root().glob("sessions/*/journal.jsonl"):
        shutil.copytree(session.parent, workshop / "sessions" / session.parent.name)
    for line in cli.EXAMPLE_GAP.split(import_module(f"layup.commands.{name}").EXAMPLE):
        answered = say(*shlex.split(line)[1:])
        assert (answered.code in (0, 1), answered.err) == (True, ""), line
        assert answered.out


@pytest.mark.parametrize("name", ["demo", "press"])
def test_the_examples_of_the_app_want_nothing_but_a_terminal(say, name):
    for line in cli.EXAMPLE_GAP.split(import_module(f"layup.commands.{name}").EXAMPLE):
        assert "the app needs a terminal" in say(*shlex.split(line)[1:]).complaint


def test_the_examples_of_serving_are_understood():
    module = import_module("layup.commands.serve")
    parser = argparse.ArgumentParser()
    module.add_arguments(parser)
    for line in cli.EXAMPLE_GAP.split(module.EXAMPLE):
        assert parser.parse_args(shlex.split(line)[2:]).port > 0


def test_the_help_on_top_names_every_command(say):
    said = say("--help")
    assert said.code == 0
    assert_no_wider(said.out, 80)
    for name, what in COMMANDS.items():
        assert f"{name} {what}" in said.words


@pytest.mark.parametrize("words", [["--help"], ["--version"], ["fabric", "6 oz/yd^2", "--json"], ["nonsense"]])
def test_what_needs_no_heavy_module_loads_none(tmp_path, words):
    look = f"import sys\nfrom layup.cli import main\ntry:\n    main({words!r})\nexcept SystemExit:\n    pass\n"
    look += f"print('LOADED', sorted(set(sys.modules) & {HEAVY!r}))"
    done = subprocess.run([sys.executable, "-c", look], cwd=tmp_path, capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "LOADED []"


def test_the_version_is_told(say):
    said = say("--version")
    assert (said.code, said.out) == (0, f"layup {__version__}\n")


# --- Exit codes and streams


@pytest.mark.parametrize(
    ("words", "code", "complaint"),
    [
        (("fabrik",), 2, "layup: no command 'fabrik', did you mean 'fabric'? - see 'layup --help'"),
        (("gibberish",), 2, "layup: no command 'gibberish' (there are: demo, new, check"),
        (("--colour",), 2, "layup: unrecognized arguments: --colour - see 'layup --help'"),
        (("mix", "slow-laminating", "250 g", "--gluten"), 2, "layup mix: unrecognized arguments: --gluten - see"),
        ((), 2, "layup: the app needs a terminal - run it in one, or use the commands: layup --help"),
        (("demo",), 2, "layup: the app needs a terminal"),
        (("press", "touring-skis"), 2, "layup: the app needs a terminal"),
        (
            ("press", "touring-ski"),
            2,
            "plan or session: is not in sessions (touring-ski) - did you mean touring-skis?\n",
        ),
        (("plan", "zzz"), 2, "plan: is not in sessions (zzz) - there are touring-skis\n"),
        (("close", "nowhere/skis"), 3, "plan: is no folder with a plan or a journal (nowhere/skis) - check the path"),
        (("press", "nowhere/skis"), 3, "is no folder with a plan or a journal (nowhere/skis) - check the path"),
        (("--workshop", "resins"), 3, "is not a workshop - a workshop is a folder with resins/ and sessions/ - go to"),
        (("mix", "nowhere.toml", "250 g"), 3, "resin: is not there (nowhere.toml) - check the path"),
        (("plan", "x" * 300), 3, "cannot be read or written (File name too long)"),
    ],
)
def test_what_goes_wrong_is_said_on_stderr_with_its_exit_code(say, words, code, complaint):
    answered = say(*words)
    assert answered.code == code
    assert complaint in answered.complaint


CUP = ("potlife", "slow-laminating", "--mass", "250 g", "--temp", "20 degC")
FITS, DOES_NOT_FIT, BAD_INPUT, FILES = 0, 1, 2, 3


@pytest.mark.parametrize(
    ("code", "words"),
    [
        (FITS, ("plan", "touring-skis")),
        (DOES_NOT_FIT, ("plan", "touring-skis", "--temp", "35 degC")),
        (BAD_INPUT, ("plan", "touring-skis", "--temp", "20 g")),
        (BAD_INPUT, ("plan", "tourers")),
        (FILES, ("plan", "nowhere.toml")),
        (FILES, ("plan", "touring-skis", "--workshop", "nowhere")),
        (FITS, ("mix", "slow-laminating", "250 g")),
        (DOES_NOT_FIT, ("mix", "slow-laminating", "6 kg")),
        (DOES_NOT_FIT, ("mix", "slow-laminating", "500 g", "--cup", "400 g")),
        (BAD_INPUT, ("mix", "slow-laminating", "250 ml")),
        (FILES, ("mix", "nowhere/resin.toml", "250 g")),
        (FITS, CUP),
        (BAD_INPUT, (*CUP, "--depth", "0 mm")),
        (FILES, (*CUP, "--workshop", "nowhere")),
        (FITS, ("close", "touring-skis")),
        (DOES_NOT_FIT, ("close", "touring-skis", "--method", "clamps", "--clamps", "2")),
        (BAD_INPUT, ("close", "touring-skis", "--method", "clamps", "--clamps", "two")),
        (BAD_INPUT, ("close", "touring-skis", "--clamps", "4")),  # a bladder takes none
        (FILES, ("close", "nowhere.toml")),
        (FITS, ("cure", "slow-laminating", "--temps", "25 degC:24 h", "--by", "2 d")),
        (DOES_NOT_FIT, ("cure", "slow-laminating", "--temps", "18 degC to 6 degC:8 h", "--by", "16 h")),
        (BAD_INPUT, ("cure", "slow-laminating", "--temps", "25 degC")),
        (FILES, ("cure", "slow-laminating", "--temps", "nowhere.csv")),
        (FITS, ("sheet", "touring-skis")),
        (BAD_INPUT, ("sheet", "touring-skis", "--batch", "9")),
        (FILES, ("sheet", "touring-skis", "--html", "nowhere/sheet.html")),
        (FITS, ("check",)),
        (FILES, ("check", "nowhere.toml")),
        (FITS, ("learn",)),
        (FILES, ("learn", "--workshop", "nowhere")),
        (FITS, ("review",)),
        (BAD_INPUT, ("review", "tourers")),
        (FILES, ("review", "touring-skis")),  # not pressed yet: it has no journal
        (FITS, ("compare", "touring-skis", "touring-skis")),
        (BAD_INPUT, ("compare", "touring-skis", "tourers")),
        (BAD_INPUT, ("export", "touring-skis", "skis.txt")),
        (FILES, ("export", "touring-skis", "skis.html")),
        (BAD_INPUT, ("outcome", "touring-skis")),
        (FILES, ("outcome", "touring-skis", "good")),
        (FITS, ("new", "another")),
        (FILES, ("new", ".")),
        (BAD_INPUT, ("serve", "--port", "0")),
        (FILES, ("serve", "--workshop", "nowhere")),
        (FITS, ("fabric", "6 oz/yd^2")),
        (BAD_INPUT, ("fabric", "6 oz")),
    ],
)
def test_the_exit_code_tells_what_kind_of_answer_it_is(say, code, words):
    answered = say(*words)
    assert answered.code == code
    assert (answered.complaint if code in (BAD_INPUT, FILES) else answered.words).strip()


def test_a_workshop_may_be_named_before_the_command(say, workshop, tmp_path, monkeypatch):
    after = say("plan", "touring-skis", "--workshop", str(workshop), "--json").out
    monkeypatch.chdir(tmp_path)
    assert say("--workshop", str(workshop), "plan", "touring-skis", "--json").out == after
    assert say(f"--workshop={workshop}", "plan", "touring-skis", "--json").out == after
    assert say("--workshop", "nowhere", "plan", "touring-skis", "--workshop", str(workshop), "--json").out == after


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (("--workshop", "x", "new", "y"), "layup new: takes no --workshop - see 'layup new --help'"),
        (("--workshop", "x", "fabrik"), "layup: no command 'fabrik', did you mean 'fabric'? - see 'layup --help'"),
        (
            ("--watch", "plan", "y"),
            "layup: --watch, --thermometer, --aloud, --page and --lan go after 'plan' - see 'layup --help'",
        ),
        (
            ("--thermometer", "f", "press", "y"),
            "layup: --watch, --thermometer, --aloud, --page and --lan go after 'press'",
        ),
    ],
)
def test_words_before_a_command_that_it_does_not_take_are_refused(say, words, complaint):
    answered = say(*words)
    assert answered.code == 2
    assert complaint in answered.complaint


def test_a_demo_that_nobody_could_see_leaves_nothing_behind(say, workshop):
    assert say("demo", "--keep", "kept").code == 2
    assert not (workshop / "kept").exists()


def test_an_interrupted_command_says_so(say, monkeypatch):
    def interrupt(_words):
        raise KeyboardInterrupt

    monkeypatch.setattr(cli, "_run", interrupt)
    answered = say("plan", "touring-skis")
    assert (answered.code, answered.complaint) == (130, "layup: stopped\n")


@pytest.mark.parametrize("name", ["fabric", "mix"])
def test_a_process_answers_in_json_on_stdout_and_nothing_on_stderr(workshop, name):
    code, out, err = run(*COMPUTING[name], "--json", cwd=workshop)
    assert (code, err) == (0, b"")
    assert out.isascii()
    assert out.startswith(b"{\n")


def test_a_process_fails_on_stderr_without_a_traceback(workshop):
    code, out, err = run("fabric", "200 g", cwd=workshop)
    assert (code, out) == (2, b"")
    assert err == (
        b"areal weight: is a mass, not an areal weight (200 g) - write an areal weight such as 200 g/m^2 or 6 oz/yd^2\n"
    )


@pytest.mark.parametrize("more", [(), ("--json",)])
def test_an_answer_that_cannot_be_printed_is_a_matter_of_files(workshop, more):
    with (workshop / PLAN).open("rb") as not_to_be_written:
        code, _, err = run("fabric", "6 oz/yd^2", *more, cwd=workshop, stdout=not_to_be_written)
    assert code == 3
    assert err == b"layup: cannot print its answer (Bad file descriptor) - see where it goes\n"


def test_a_terminal_without_our_letters_still_gets_the_answer(workshop):
    code, out, _ = run("fabric", "6 oz/yd^2", cwd=workshop, PYTHONIOENCODING="ascii")
    assert (code, out) == (0, b"203.4 g/m2   6.00 oz/yd2   0.667 oz/ft2\n")


def test_a_complaint_on_such_a_terminal_is_in_its_letters_too(workshop):
    code, _, err = run("fabric", "200 °C", cwd=workshop, PYTHONIOENCODING="ascii")
    assert code == 2
    assert err.startswith(b"areal weight: is a temperature, not an areal weight (200 degC) - ")


def test_a_picture_on_such_a_terminal_keeps_its_textures(workshop, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    plain, ours = (ask_in(workshop, *COMPUTING["plan"], encoding=encoding) for encoding in ("ascii", "utf-8"))
    assert plain.code == 0
    bars = [line for line in zip(plain.out.splitlines(), ours.out.splitlines(), strict=True) if "part" in line[0]]
    textures = {pair for line in bars for pair in zip(*line, strict=False) if not pair[1].isascii()}
    assert len(textures) >= 3
    assert len({mark for mark, _ in textures}) == len(textures), "what is another texture stays another"
    assert "20 degC" in plain.out
    assert {each for each in ours.out if not each.isascii()} <= set(cli.PLAIN)


@pytest.mark.parametrize("environment", [{}, {"NO_COLOR": "1"}, {"TERM": "dumb"}])
def test_text_in_a_pipe_has_no_escape_codes(workshop, environment):
    code, out, _ = run(*COMPUTING["mix"], cwd=workshop, **environment)
    assert code == 0
    assert ESCAPE.encode() not in out


# --- JSON


@pytest.mark.parametrize("name", COMPUTING)
def test_every_json_answer_names_its_numbers_with_their_units(say, name):
    answered = say(*COMPUTING[name], "--json")
    assert answered.code == 0
    assert answered.out.isascii()
    assert answered.out.startswith("{\n")
    assert list(unruly(answered.data)) == []


def test_a_name_without_a_unit_would_be_found():
    fine = {"resin_g": 1.0, "low": 0.5, "chance": 0.5, "fits": True, "rows": [[1, 2.0]], "window_fraction_low": 0.1}
    assert list(unruly(fine | {"mass": 1, "deep": [{"Kg_g": 2, "x-y_m": 3}]})) == [
        "rows",
        "rows",
        "mass",
        "Kg_g",
        "x-y_m",
    ]


def test_no_number_that_json_lacks_is_ever_printed(capsys):
    endless = {"low_min": float("-inf"), "rows": [(float("nan"), 1.0)], "deep": {"high_min": float("inf")}}
    assert answer(True, endless, print, assumptions=["b", "a", "b"]) == 0
    assert "".join(capsys.readouterr().out.split()) == (
        '{"low_min":null,"rows":[[null,1.0]],"deep":{"high_min":null},"assumptions":["b","a"]}'
    )


# --- Words from files stay words


@pytest.mark.parametrize("words", [COMPUTING["mix"], COMPUTING["potlife"], COMPUTING["plan"]])
def test_markup_in_a_file_is_printed_as_it_stands(say, edit, words):
    odd = "[red]odd[/red] :boom: [link=file:x]here[/link]"
    edit(RESIN, 'title = "Slow laminating epoxy (demo)"', f'title = "{odd}"')
    edit(RESIN, '"May cause an allergic', f'"{odd}", "May cause an allergic')
    edit(PLAN, 'title = "', f'title = "{odd} ')
    assert odd in say(*words).words


@pytest.mark.parametrize(("name", "key"), [(RESIN, "title"), (PLAN, "title"), (PLAN, "name"), (RESIN, "name")])
def test_control_codes_in_a_file_are_refused_where_they_stand(say, edit, name, key):
    line = edit(name, f'{key} = "', f'{key} = "\\u001b[2Jgone\\u0007')
    answered = say("plan", "touring-skis")
    assert answered.code == 2
    assert not {ESCAPE, "\x07"} & set(answered.complaint)
    said = say("check").out
    assert f"{name}:{line}: " in said
    assert "holds control characters (\\x1b[2Jgone\\x07" in said


@pytest.mark.parametrize(
    "words",
    [
        (f"{ESCAPE}[31mred",),
        ("fabric", f"{ESCAPE}[31mred"),
        ("mix", f"{ESCAPE}[31mred", "250 g"),
        ("mix", "slow-laminating", f"250 {ESCAPE}[31mred"),
        ("plan", f"{ESCAPE}[31mred"),
        ("plan", f"{ESCAPE}[31mred.toml"),
        ("press", f"{ESCAPE}[31mred"),
        ("check", f"{ESCAPE}[31mred"),
        ("check", f"--{ESCAPE}[31mred"),
        ("potlife", "slow-laminating", "--temp", "20 degC", "--vessel", f"{ESCAPE}[31mred"),
    ],
)
def test_control_codes_in_a_word_come_back_as_what_they_are(say, words):
    answered = say(*words)
    assert answered.code in (2, 3)
    assert ESCAPE not in answered.complaint
    assert "\\x1b[31mred" in answered.complaint


class Screen(Paper):
    """Paper that stands for a terminal in colour."""

    is_terminal = True


def test_on_a_terminal_too_text_can_neither_style_nor_steer(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "40")
    Screen().print(f"[bold]caution[/bold] :boom: {ESCAPE}[31m 'x' 123 \x9b2J\x07")
    assert capsys.readouterr().out == "[bold]caution[/bold] :boom: \\x1b[31m 'x'\n123 \\x9b2J\\x07\n"


@pytest.mark.parametrize("mark", ["- ", "! ", "  ", ""])
def test_a_long_line_goes_on_below_its_own_words(capsys, monkeypatch, mark):
    monkeypatch.setenv("COLUMNS", "24")
    Paper().print(f"{mark}wear goggles when you pour, and gloves")
    assert capsys.readouterr().out.splitlines() == [
        f"{mark}wear goggles when you",
        f"{' ' * len(mark)}pour, and gloves",
    ]


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=80), st.integers(1, 60), st.sampled_from(["", "- ", "! ", "  - ", " " * 30]))
@example("木" * 30, 7, "- ")
@example("x" * 80, 1, "- ")
def test_no_line_is_wider_than_the_console_and_no_letter_is_lost(text, width, mark):
    paper = Paper()
    paper.width = max(width, 2)  # a wide letter takes two cells
    with paper.capture() as printed:
        paper.print(mark + text)
    assert_no_wider(printed.get(), paper.width)
    assert "".join(printed.get().split()) == "".join(printable(mark + text).split())


# --- Whatever is typed

BYTES = st.characters(min_codepoint=0xDC80, max_codepoint=0xDCFF, categories=["Cs"])
"""What a byte in no encoding comes in as."""
ODD = st.text(st.one_of(st.characters(exclude_characters="/\x00", exclude_categories=["Cs"]), BYTES), max_size=12)
VALUES = [
    *("0", "-1", "3", "250", "1e999", "nan", "inf", "-inf", "1,5", "1,000", "٣", "0x10", "1_000", "", " "),
    *("250 g", "0.01 g", "-0 g", "1e30 kg", "9 oz", "250 g nan", "10 mm", "5 ft 6 in", "3 ml", "1 fl oz", "1 US fl oz"),
    *("20 degC", "-15 degC", "55 degC", "-300 degC", "85 %", "0.5", "120 %", "2 h", "1 h 30 min", "40 d", "0 min"),
    *("56/in", "68 tex", "G75", "D0", "2 m^2", "0 m^2", "6 oz/yd^2", "3 kN", "8 mm", "15 psi", "1500 m", "inf kPa"),
    *("cup", "tray", "film", "bolts", "bag", "bladder", "steel", "woven", "casting-urethane", RESIN, PLAN, "mould.csv"),
    *("20 degC:12 h", "20 degC to 5 degC:9 h, 45 degC:1 h", "20 degC:0 h", ":", "nan:nan"),
]
SMALL_PLAN = """
title = "A board"
resin = "slow-laminating"
pieces = 1
people = 1
target_fibre_fraction = { by = "weight", value = 0.6 }
steps = [{ name = "Glass", kind = "fabric", areal_weight = "750 g/m^2", fibre = "E-glass", layers = 2, minutes = 10 }]
[outline]
length = "1.7 m"
stations = [{ at = "0 mm", width = "100 mm" }, { at = "1700 mm", width = "100 mm" }]
[closing]
method = "clamps"
target_pressure = "100 kPa"
"""
STARTS = {
    "fabric": [[], ["6 oz/yd^2"], ["--weave", "56/in", "56/in", "--yarn", "G75"], ["--coupon", "2 g", "1 m^2"]],
    "mix": [["slow-laminating", "250 g"], ["casting-urethane", "9 oz"]],
    "potlife": [
        ["slow-laminating", "--mass", "250 g", "--temp", "20 degC"],
        ["casting-urethane", "--vessel", "film", "--temp", "5 degC"],
    ],
    "plan": [["touring-skis"], [PLAN]],
    "close": [["touring-skis"], ["touring-skis", "--method", "bolts"]],
    "cure": [["slow-laminating", "--temps", "20 degC:12 h, 45 degC:6 h"]],
    "check": [[], [RESIN], ["sessions"]],
    "press": [["touring-skis"], [PLAN], ["sessions"]],
    "demo": [[]],
}
"""Words that make sense, to which the others are added, so that many of them get past the first check."""


def words_for(command):
    """Return a strategy of words for a command: a start or none, then its options with values, and odd words."""
    parser = argparse.ArgumentParser()
    import_module(f"layup.commands.{command}").add_arguments(parser)
    options = sorted(set(parser._option_string_actions))
    value = st.one_of(st.sampled_from(VALUES), ODD)
    chunk = st.one_of(st.tuples(st.sampled_from(options), value), st.tuples(st.sampled_from(options)), st.tuples(value))
    starts = st.sampled_from([[], *STARTS[command], *STARTS[command]])
    return st.builds(lambda start, chunks: [*start, *chain(*chunks)], starts, st.lists(chunk, max_size=4))


@pytest.fixture(scope="module")
def fuzzed(tmp_path_factory):
    """Make a small workshop that nothing typed at it may change."""
    folder = tmp_path_factory.mktemp("fuzzed") / "workshop"
    new_workshop(folder)
    for spare in ("dgeba-ipda", "dgeba-teta", "fast-laminating"):
        (folder / "resins" / f"{spare}.toml").unlink()
    (folder / PLAN).write_text(SMALL_PLAN, encoding="utf-8")
    return folder, sorted(path for path in folder.parent.rglob("*"))


@pytest.mark.parametrize("command", sorted(STARTS))
def test_whatever_is_typed_ends_in_an_answer_or_in_words(fuzzed, command):
    folder, before = fuzzed

    @settings(max_examples=100, deadline=None, database=None)
    @given(words_for(command))
    @example(["slow-laminating", "250 g", "nan"])
    def typed(words):
        answered = ask_in(folder, command, *words)
        assert answered.code in (0, 1, 2, 3)
        assert "Traceback" not in answered.out + answered.err
        assert not [each for each in answered.out + answered.err if not each.isprintable() and each != "\n"]
        if answered.code in (0, 1) and "--json" in words and not answered.out.startswith("usage:"):
            assert answered.data
        if answered.code == 3 or (answered.code == 2 and command != "check"):
            assert answered.complaint.strip()

    typed()
    assert sorted(path for path in folder.parent.rglob("*")) == before


@settings(max_examples=100, deadline=None)
@given(st.lists(st.one_of(ODD, st.sampled_from(["--workshop", "--json", "-h"])), max_size=3))
def test_whatever_is_typed_without_a_command_ends_in_words(tmp_path_factory, words):
    answered = ask_in(tmp_path_factory.getbasetemp(), *(word for word in words if word not in COMMANDS))
    assert answered.code in (0, 2, 3)
    assert answered.out if answered.code == 0 else answered.complaint


def test_a_new_workshop_of_any_name_is_made_or_refused(tmp_path):
    @settings(max_examples=60, deadline=None, database=None)
    @given(ODD.filter(lambda name: name not in (".", "..")))
    def made(name):
        answered = ask_in(tmp_path, "new", "--", name)
        assert answered.code in (0, 2, 3)
        assert answered.out if answered.code == 0 else answered.complaint

    made()
