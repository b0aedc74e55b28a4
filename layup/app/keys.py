"""Every key of the app, defined once: bindings, key bar, help screen and the README's table come from here."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from layup.app.place import Host
    from layup.bench.day import PressDay


@dataclass(frozen=True, slots=True)
class PlaceRow:
    """One place, under its key: `layup/app` has a module and a class of its name."""

    name: str
    title: str
    what: str
    """What it is for."""
    use: str
    """How it is used, as its help says."""
    bar: tuple[str, ...]
    """What its key bar shows, the most wanted first: as many of them as work now and there is room for."""
    without_day: bool = False
    """Whether actions of its own work where no press day runs."""


PLACES = {
    "s": PlaceRow("stack", "Stack", "the plan", "choose ↑↓, change ←→", (
        "accept", "choose", "change", "choose_plan", "board_form", "which_resin", "variant", "casting_day",
        "days_before", "dry_run", "leave", "read_again",
    ), without_day=True),
    "m": PlaceRow("mix", "Mix", "weigh a batch", "pour, type the scale, Enter", (
        "accept", "begin", "choose", "lot", "undo", "note", "leave",
    )),
    "b": PlaceRow("bench", "Bench", "the press day", "Enter when done", (
        "accept", "begin", "seen", "poured_out", "finish", "observe", "temperature", "undo", "note", "leave",
    )),
    "p": PlaceRow("cure", "Press & cure", "the part", "when it may come out", (
        "accept", "begin", "temperature", "observe", "finish", "note", "undo", "leave",
    )),
    "l": PlaceRow("logbook", "Logbook", "past sessions", "Enter opens a day: ←→ minute, ↑↓ entry", (
        "accept", "next_finding", "next_note", "why", "changed", "back", "afterwards", "recall", "next_time",
        "search", "compare", "lessons", "choose", "page", "leave",
    ), without_day=True),
}  # fmt: skip
"""By its key, in the order of the bar."""
PLACE_OF = {row.name: row for row in PLACES.values()}
ARROWS = {"up": (0, -1), "down": (0, 1), "left": (-1, 0), "right": (1, 0)}
PAGES = {"pageup": -1, "pagedown": 1}
ON_THE_BAR = 6
README_COLUMNS = 3
GROUPS = ("Do", "Log", "Plan", "Logbook", "Screen")
"""The headings under which the help lists the keys."""


@dataclass(frozen=True, slots=True)
class Action:
    """One thing a key does, under its heading of the help; it works wherever `works` says so."""

    key: str
    name: str
    label: str
    help: str
    group: str
    shown_as: str = ""
    place: str = ""
    """Where alone it works: there its key means it, whatever that key does elsewhere."""


ACTIONS = (
    Action("enter", "accept", "do it", "do the act", "Do", "Enter"),
    Action("space", "seen", "seen", "quiet until worse", "Do", "Space"),
    Action("g", "begin", "begin", "begin the day", "Do"),
    Action("w", "weigh", "weigh", "weigh next batch", "Do"),
    Action("h", "hardener_in", "hardener in", "hardener in: clock starts", "Do"),
    Action("o", "poured_out", "empty", "cup empty", "Do"),
    Action("d", "step_done", "step done", "step done", "Do"),
    Action("c", "press_closed", "closed", "press closed", "Do"),
    Action("z", "demoulded", "part out", "part out", "Do"),
    Action("f", "finish", "end", "end the session", "Do"),
    Action("e", "observe", "looks", "how a batch looks", "Log"),
    Action("t", "temperature", "temp", "temperature, humidity", "Log"),
    Action("x", "lost", "lost", "batch lost, replan", "Log"),
    Action("n", "note", "note", "note", "Log"),
    Action("k", "lot", "lot", "lot of a can", "Log"),
    Action("u", "undo", "undo", "undo", "Log"),
    Action("apostrophe", "that_was", "earlier", "it was earlier", "Log", "'"),
    Action("plus", "came", "came", "somebody came", "Plan", "+"),
    Action("minus", "went", "left", "somebody left", "Plan", "-"),
    Action("comma", "change_work", "steps", "skip, merge, add steps", "Plan", ","),
    Action("a", "plan_anew", "replan", "replan", "Plan"),
    Action("i", "before_you_start", "checklist", "checklist", "Plan"),
    Action("up,down", "choose", "choose", "choose", "Plan", "↑↓"),
    Action("left,right", "change", "change", "less, more", "Plan", "←→"),
    Action("v", "variant", "compare", "compare changes", "Plan"),
    Action("y", "choose_plan", "plans", "choose a plan", "Plan"),
    Action("6", "days_before", "days", "days before", "Plan"),
    Action("8", "casting_day", "casting", "casting day, or not", "Plan"),
    Action("r", "read_again", "reread", "read files again", "Plan"),
    Action("slash", "search", "search", "find sessions", "Screen", "/"),
    Action("pageup,pagedown", "page", "scroll", "scroll", "Screen", "PgUp PgDn"),
    Action("j", "look", "colours", "colours", "Screen"),
    Action("0", "sound", "bell", "bell off, on", "Screen"),
    Action("9", "tablet", "tablet", "tablet page", "Screen"),
    Action("question_mark", "help", "", "keys, details", "Screen", "?"),
    Action("q", "leave", "quit", "quit, all kept", "Screen"),
    Action("7", "resin_form", "resin", "a resin, line by line", "Plan"),
    Action("1", "way_1", "take", "take change 1", "Plan", place="stack"),
    Action("2", "way_2", "take", "take change 2", "Plan", place="stack"),
    Action("3", "way_3", "take", "take change 3", "Plan", place="stack"),
    Action("k", "which_resin", "resins", "which resin for tonight", "Plan", place="stack"),
    Action("d", "dry_run", "dry run", "dry run, no resin", "Plan", place="stack"),
    Action("f", "board_form", "edit", "the board, line by line", "Plan", place="stack"),
    Action("f", "next_finding", "finding", "next finding, or what decided", "Logbook", place="logbook"),
    Action("o", "next_note", "note", "next note", "Logbook", place="logbook"),
    Action("w", "why", "why", "evidence, and why not", "Logbook", place="logbook"),
    Action("r", "recall", "failed one", "tell a failed layup", "Logbook", place="logbook"),
    Action("e", "afterwards", "add", "outcome, note, photo, weights", "Logbook", place="logbook"),
    Action("a", "next_time", "next time", "carry to next time", "Logbook", place="logbook"),
    Action("c", "compare", "compare", "mark a day, compare two", "Logbook", place="logbook"),
    Action("v", "lessons", "lessons", "lessons of all days", "Logbook", place="logbook"),
    Action("x", "changed", "what if", "the day, one thing changed", "Logbook", place="logbook"),
    Action("escape", "back", "list", "back to the list", "Logbook", "Esc", place="logbook"),
)
HERE = {(one.key, one.place): one.name for one in ACTIONS if one.place}
"""What a key means in a place where it means something of its own."""
AT_FIRST = frozenset({"begin", "before_you_start", "choose", "change", "variant", "leave", "help"})
"""What the bar shows until the workshop is read."""


def key_actions() -> list[tuple[str, str]]:
    """Return each key of the app, by the name that textual gives it, and the action of the app that it runs.

    A letter works as well with Shift or Caps Lock.
    """
    found = [(key, f"go('{row.name}')") for key, row in PLACES.items()]
    first = {action.key: action for action in reversed(ACTIONS)}
    for action in first.values():
        for key in action.key.split(","):
            if key in ARROWS:
                found.append((key, f"arrow('{key}')"))
            elif key in PAGES:
                found.append((key, f"page('{key}')"))
            else:
                found.append((key, f"do('{action.name}')"))
    return found + [(key.upper(), what) for key, what in found if len(key) == 1]


def meant(name: str, place: str) -> str:
    """Return the action that the key of an action means in a place."""
    key = next((action.key for action in ACTIONS if action.name == name), "")
    return HERE.get((key, place), name)


def shown_key(action: Action) -> str:
    """Return the key as people read it."""
    return action.shown_as or action.key.upper()


def works(app: Host) -> frozenset[str]:
    """Return the names of the actions that do something here and now."""
    from layup.bench.doing import to_be_seen

    place, planner, day = app.place.id or "", app.planner, app.day
    names = {"search", "look", "help", "leave"}
    if place != "mix":  # there a digit is typed
        names |= {"sound"} | ({"tablet"} if app.beside is not None else set())
    names |= {"page"} if any(scroll.max_scroll_y for scroll in app.place.query("VerticalScroll")) else set()
    planned = planner.figures is not None
    runs = day is not None and day.state.ended_s is None
    if place == "stack":
        names |= set() if app.watch_only else {"board_form", "resin_form"}
        names |= {"read_again"} | ({"choose", "change", "variant", "days_before"} if planned else set())
        names |= {"choose_plan"} if planner.place_among_plans else set()
        names |= {"casting_day"} if len(planner.days) > 1 else set()
    names |= app.place.able() if PLACE_OF[place].without_day else set()
    names |= {"begin"} if planned and not runs and not app.watch_only else set()
    names |= {"which_resin"} if place == "stack" and planner.figures and planner.figures.plan.lays else set()
    names |= {"dry_run"} if place == "stack" and "begin" in names else set()
    names |= {"accept"} if place == "stack" and "begin" in names else set()
    names |= {"before_you_start"} if planned else set()
    if day is None or day.watching:
        return frozenset(names)
    names |= {"undo"} if day.state.undoable is not None else set()
    if not runs:
        return frozenset(names)
    names |= {"that_was"} if day.state.undoable is not None else set()
    names |= {"seen"} if to_be_seen(day) is not None else set()
    return frozenset((names | _of_the_day(day) | app.place.able()) - app.place.unable())


def _of_the_day(day: PressDay) -> set[str]:
    """Return the actions that a running day takes as it stands."""
    state = day.state
    names = {"temperature", "note", "lot"}
    stands = {batch.status for batch in state.batches}
    names |= {"observe"} if stands & {"in the cup", "on the part", "under press"} else set()
    if state.closed_s is not None:
        return names | {"finish"} | ({"demoulded"} if state.demoulded_s is None else set())
    names |= {"press_closed", "plan_anew", "came", "change_work"}
    names |= {"went"} if state.people > 1 else set()
    names |= {"weigh", "hardener_in"} if day.next_to_mix() is not None else set()
    names |= {"poured_out"} if "in the cup" in stands else set()
    names |= {"lost"} if stands & {"in the cup", "weighed", "on the part"} else set()
    names |= {"step_done"} if not day.step_refusal() else set()
    return names


def bar(place: str, able: frozenset[str]) -> list[Action]:
    """Return the actions that the key bar of a place shows, of those that work: six at most, the help the last."""
    of_name = {action.name: action for action in ACTIONS}
    row = PLACE_OF.get(place)
    first = [of_name[name] for name in (row.bar if row else ()) if name in able]
    return [*first[: ON_THE_BAR - 1], of_name["help"]]


def key_table() -> list[tuple[str, str]]:
    """Return (key, what it does) of every key: places first, then actions, those of one place with its name."""
    places = [(key.upper(), f"{row.title}: {row.what}") for key, row in PLACES.items()]
    of = [f"{PLACE_OF[action.place].title}: " if action.place else "" for action in ACTIONS]
    return places + [(shown_key(action), f"{at}{action.help}") for at, action in zip(of, ACTIONS, strict=True)]


def key_table_markdown() -> str:
    """Return the README's table of keys, three a row."""
    cells = [f"`{key}` | {what}" for key, what in key_table()]
    rows = -(-len(cells) // README_COLUMNS)
    cells += [" | "] * (README_COLUMNS * rows - len(cells))
    lines = ["| " + " | ".join(cells[row::rows]) + " |" for row in range(rows)]
    return "\n".join(["|" + " key | does |" * README_COLUMNS, "|" + "---|---|" * README_COLUMNS, *lines])
