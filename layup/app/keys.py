"""Every key of the app, defined once: bindings, key bar, help screen and the README's table come from here."""

from __future__ import annotations

from dataclasses import dataclass

PLACES = {
    "s": ("stack", "Stack", "the plan, its grams and when it can close"),
    "m": ("mix", "Mix", "weigh one batch, step by step"),
    "b": ("bench", "Bench", "the press day: clocks, steps, margins"),
    "p": ("cure", "Press & cure", "after closing: how far the resin has cured"),
    "l": ("logbook", "Logbook", "sessions kept in this workshop"),
}
"""Key -> (id, title, what it is for)."""

ARROWS = {"up": (0, -1), "down": (0, 1), "left": (-1, 0), "right": (1, 0)}
PAGES = {"pageup": -1, "pagedown": 1}
BENCH_LIKE = ("bench", "mix", "cure")
WITHOUT_PLAN = ("read_again", "help", "leave")
"""What the keys of Stack can do while the plan cannot be used."""
WITHOUT_DAY = ("begin", "help", "leave")
"""What the keys of a bench-like place can do before there is a press day."""


@dataclass(frozen=True, slots=True)
class Action:
    """One thing a key does. `places` are the places whose key bar shows it; it works wherever it makes sense."""

    key: str
    name: str
    label: str
    help: str
    places: tuple[str, ...]
    shown_as: str = ""


ACTIONS = (
    Action("g", "begin", "begin", "begin the press day with the plan as it stands on Stack", ("stack",)),
    Action("i", "before_you_start", "checklist", "the list before you start: tick what is ready", ("stack",)),
    Action("up,down", "choose", "choose", "choose what to change, or another batch or session", ("stack", "mix"), "↑↓"),
    Action("left,right", "change", "change", "change what is chosen: less, more", ("stack",), "←→"),
    Action("pageup,pagedown", "page", "scroll", "scroll a place that is longer than the screen", (), "PgUp PgDn"),
    Action("v", "variant", "beside", "keep the plan as it stands beside the next changes", ("stack",)),
    Action("r", "read_again", "reread", "read the plan and resin files again, after you edited them", ("stack",)),
    Action("enter", "accept", "ok", "take the reading of the scale", ("mix",), "Enter"),
    Action("w", "weigh", "weigh", "weigh the next batch", ("bench",)),
    Action("h", "hardener_in", "hardener in", "hardener touches resin: the batch's clock starts", BENCH_LIKE[:2]),
    Action("o", "poured_out", "poured out", "the batch is out of its cup and on the part", ("bench",)),
    Action("d", "step_done", "step done", "the step on the bench is done", ("bench", "mix")),
    Action("t", "temperature", "temp", "log a temperature, humidity, wood, or tonight's cold", ("bench", "cure")),
    Action("e", "observe", "looks", "log how a batch looks: runny, thickening, stringy, gelled", ("bench", "cure")),
    Action("x", "lost", "lost", "a batch is lost: plan what is left anew", ("bench",)),
    Action("a", "plan_anew", "plan anew", "plan what is left of the day anew: late, or a batch lost", ("bench",)),
    Action("k", "lot", "lot", "log the lot number of a can", ("mix",)),
    Action("n", "note", "note", "write a note", BENCH_LIKE),
    Action("c", "press_closed", "closed", "the press is closed", ("bench", "cure")),
    Action("space", "seen", "seen", "an alarm is seen: it is quiet until it gets worse", ("bench",), "Space"),
    Action("u", "undo", "undo", "take the last entry back; both stay in the log", BENCH_LIKE),
    Action("z", "demoulded", "part out", "the part is out of the mould", ("cure",)),
    Action("f", "finish", "finish session", "end the session and put it in the logbook", ("cure",)),
    Action("slash", "search", "search", "list the sessions in which some words occur", ("logbook",), "/"),
    Action("j", "look", "look", "another look: dark, light for a bright shed, plain black and white", ()),
    Action(
        "question_mark", "help", "help", "the keys and what the place shows", ("stack", *BENCH_LIKE, "logbook"), "?"
    ),
    Action("q", "leave", "quit", "quit; everything logged is already kept", ("stack", *BENCH_LIKE, "logbook")),
)


def key_actions() -> list[tuple[str, str]]:
    """Return each key of the app, by the name that textual gives it, and the action of the app that it runs."""
    found = [(key, f"go('{name}')") for key, (name, _, _) in PLACES.items()]
    for action in ACTIONS:
        for key in action.key.split(","):
            if key in ARROWS:
                found.append((key, f"arrow('{key}')"))
            elif key in PAGES:
                found.append((key, f"page('{key}')"))
            else:
                found.append((key, f"do('{action.name}')"))
    return found


def shown_key(action: Action) -> str:
    """Return the key as people read it."""
    return action.shown_as or action.key


def actions_of(place: str, *, plan: bool = True, day: bool = True) -> list[Action]:
    """Return the actions that the key bar of `place` shows, in order: of a place without a plan or a press day, only
    those that need none."""
    if place == "stack" and not plan:
        return [action for action in ACTIONS if action.name in WITHOUT_PLAN]
    if place in BENCH_LIKE and not day:
        return [action for action in ACTIONS if action.name in WITHOUT_DAY]
    return [action for action in ACTIONS if place in action.places]


def key_table() -> list[tuple[str, str, str]]:
    """Return (key, label, help) of every key: places first, then actions."""
    places = [(key, title, what) for key, (_, title, what) in PLACES.items()]
    return places + [(shown_key(action), action.label, action.help) for action in ACTIONS]


def key_table_markdown() -> str:
    """Return the README's table of keys, two a row."""
    cells = [f"`{key}` | {what}" for key, _, what in key_table()]
    half = (len(cells) + 1) // 2
    cells += [" | "] * (2 * half - len(cells))
    rows = [f"| {left} | {right} |" for left, right in zip(cells[:half], cells[half:], strict=True)]
    return "\n".join(["| key | does | key | does |", "|---|---|---|---|", *rows])
