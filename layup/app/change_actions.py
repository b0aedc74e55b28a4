"""Keys that change a running day, its crew, steps and mix; what that does to the closing is shown before."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from layup.app.day_actions import running_day
from layup.app.place import LOOKS_ON
from layup.app.prompts import Ask, Choose, ask_part_of, if_yes, nothing_written
from layup.bench.day import PressDay
from layup.errors import LayupError
from layup.files.drafts import draft_words
from layup.session.day_events import StepAdded, StepMerged, StepSkipped, next_left
from layup.session.state_parts import StepState
from layup.session.text import clean
from layup.units import in_minutes, mass, parse, usual_unit, with_unit

if TYPE_CHECKING:
    from layup.app.place import Host
    from layup.bench.changes import DayChange

NAME_LIMIT = 60
PER_PAGE = "123456789abcdefghijklmopqrstuvwxyz"
"""The keys of a list of steps, or of plans."""


def came(app: Host) -> None:
    """Somebody came."""
    _people(app, 1)


def went(app: Host) -> None:
    """Somebody left."""
    _people(app, -1)


def _people(app: Host, by: int) -> None:
    from layup.bench.changes import people_changed

    day = running_day(app)
    if day is not None:
        _take(app, day, *people_changed(day, by))


def _take(app: Host, day: PressDay, title: str, change: DayChange | str) -> None:
    """Show what a change does, and log it where it is wanted."""
    from layup.bench.changes import change_words, take

    if isinstance(change, str):
        app.say(f"not now: {change}")
        return
    words = "\n".join([title, *change_words(day, change)])
    wanted = Choose(words, [("y", "yes", "yes, log it"), ("n", "no", "no, leave it as it is")])
    app.ask(wanted, if_yes(lambda: app.heard(take(day, change))))


def change_work(app: Host) -> None:
    """Choose what to change of the work: a step left out, laid with the next, or added; mix left in a cup."""
    from layup.session.batch_events import CLOSED

    day = running_day(app)
    if day is None:
        return
    if day.state.closed_s is not None:
        app.say(f"not now: {CLOSED}")
        return
    choices = [
        ("1", "skip", "leave a step out"),
        ("2", "merge", "lay a step with the next"),
        ("3", "add", "add a step"),
        *([("4", "left", "mix is left in a cup")] if day.in_cup() else []),
    ]
    does: dict[str, Callable[[], None]] = {
        "skip": lambda: _which_step(app, day, "Leave out which step?", lambda step: _skip(app, day, step)),
        "merge": lambda: _which_step(app, day, "Lay which step with the next?", lambda step: _merge(app, day, step)),
        "add": lambda: _which_step(app, day, "Add a step before which?", lambda step: _add(app, day, step)),
        "left": lambda: mix_left(app),
    }
    app.ask(Choose("Change the work", choices), lambda answer: does[answer]())


def _which_step(app: Host, day: PressDay, title: str, then: Callable[[StepState], None]) -> None:
    left = [step for step in day.state.steps if step.left][: len(PER_PAGE)]
    if not left:
        app.say("not now: no step is left")
        return
    choices = [(key, str(step.number), step.plan.name) for key, step in zip(PER_PAGE, left, strict=False)]
    by_number = {str(step.number): step for step in left}
    app.ask(Choose(title, choices), lambda answer: then(by_number[answer]))


def _skip(app: Host, day: PressDay, step: StepState) -> None:
    from layup.bench.changes import change_of

    _take(app, day, f"Leave out: {step.plan.name}", change_of(day, StepSkipped(step=step.number)))


def _merge(app: Host, day: PressDay, step: StepState) -> None:
    from layup.bench.changes import change_of

    following = next_left(day.state, step.number)
    if following is None:
        app.say(f"not now: no step comes after {step.plan.name}")
        return
    event = StepMerged(step=step.number, into_step=following.number)
    _take(app, day, f"{step.plan.name} together with {following.plan.name}", change_of(day, event))


def _add(app: Host, day: PressDay, before: StepState) -> None:
    """Ask for the name, the minutes and the mix of a step, one after the other."""
    from layup.bench.changes import change_of

    def named(name: str) -> None:
        def timed(minutes: str) -> None:
            def wet(grams: str) -> None:
                mix_g = _read(grams, "mass") if grams.strip() else 0.0
                event = StepAdded(
                    step=max(step.number for step in day.state.steps) + 1,
                    name=clean(name),
                    kind="bond" if mix_g else "place",
                    planned_s=day.as_begun_s(_read(minutes, "time")),
                    mix_g=mix_g,
                    before_step=before.number,
                )
                _take(app, day, f"Add: {event.name}, {in_minutes(_read(minutes, 'time'))}", change_of(day, event))

            hint = f"{mass.sign}, or nothing"
            app.ask(Ask("Mix it lays", hint, check=lambda text: _wrong(text, "mass", empty=True), max_length=20), wet)

        app.ask(Ask("Minutes it takes", "min", check=lambda text: _wrong(text, "time"), max_length=20), timed)

    app.ask(
        Ask("Name of the new step", f"before {before.plan.name}", check=nothing_written, max_length=NAME_LIMIT), named
    )


def _read(text: str, dimension: str) -> float:
    """Read a mass or a time; a bare number takes the usual unit."""
    return parse(with_unit(text, usual_unit(dimension)), dimension)


def _wrong(text: str, dimension: str, *, empty: bool = False) -> str | None:
    if empty and not text.strip():
        return None
    try:
        value = _read(text, dimension)
    except LayupError as error:
        return str(error)
    return None if 0.0 <= value <= 7200.0 else "no more than 120 min or 7200 g"


def mix_left(app: Host) -> None:
    """Say what is left in a cup once its steps are laid: the next batch is so much lighter, or why not."""
    from layup.bench.changes import left_over

    day = running_day(app)
    if day is None:
        return
    cups = day.in_cup()
    if not cups:
        app.say("not now: no batch is in its cup")
        return

    def which(number: int) -> None:
        batch = day.state.batch(number)
        if batch is None:
            return
        title = f"Batch {number}: how much is left in its cup?"
        usual_g = day.balance.of_batch(number).left_g
        ask_part_of(app, title, batch.poured_g, usual_g, lambda left_g: weighed(number, left_g))

    def weighed(number: int, left_g: float) -> None:
        _take(app, day, f"Batch {number}: {mass(left_g)} left", left_over(day, number, left_g))

    if len(cups) == 1:
        which(cups[0].number)
        return
    choices = [(str(cup.number % 10), str(cup.number), f"batch {cup.number}: {mass(cup.mass_g)}") for cup in cups]
    app.ask(Choose("Left in which cup?", choices), lambda answer: which(int(answer)))


# -- the plan on Stack ------------------------------------------------------------------------------------------------


def variant(app: Host) -> None:
    """Keep the present figures beside the next ones, or drop those kept."""
    planner = app.planner
    planner.kept = None if planner.kept is not None else planner.figures
    app.redraw()
    app.say("kept: change a setting, compare" if planner.kept else "one plan again")


def choose_plan(app: Host) -> None:
    """Ask which of the workshop's plans is to stand on Stack, and say so where one is broken."""
    planner = app.planner
    if app.place.id != "stack":
        app.say("not now: nothing is asked - on Stack (s) y chooses a plan")
        return
    if not planner.place_among_plans:
        app.say("not now: there is one plan in this workshop")
        return
    listed = planner.listed()[: len(PER_PAGE)]
    names = [name for name, _ in listed]
    here = planner.plan_path.parent.name if planner.plan_path else ""
    choices = [(key, name, f"{name}  {words}") for key, (name, words) in zip(PER_PAGE, listed, strict=False)]

    def chosen(name: str) -> None:
        planner.choose(name)
        if app.place.id != "stack":
            app.action_go("stack")
        app.redraw()
        app.say("")

    app.ask(Choose("Which plan?", choices, at=names.index(here) if here in names else 0), chosen)


def board_form(app: Host) -> None:
    """Change the plan on Stack line by line, or write a new one down."""
    path = app.planner.plan_path
    if not _may_write(app):
        return

    def opened(answer: str) -> None:
        from layup.app.board_form import BoardForm

        stem = path.parent.name if path is not None and answer == "this" else None
        _ask_form(app, lambda: BoardForm(app.planner.workshop.root, stem), app.planner.reread)

    if path is None:
        opened("new")
        return
    kept, new = (draft_words(app.planner.workshop.root, "plan", name) for name in (path.parent.name, "new"))
    choices = [("t", "this", f"this one: {path.parent.name}{kept}"), ("n", "new", f"a new one{new}")]
    app.ask(Choose("Which board?", choices, at=1 if new and not kept else 0), opened)


def resin_form(app: Host) -> None:
    """Change a resin of the workshop line by line, or write a new one down from its datasheet."""
    if not _may_write(app):
        return
    known, names = app.planner.resins, app.planner.workshop.resin_ids()[:9]
    titles = [known[name].title if name in known else f"{name} (to mend)" for name in names]
    *kept, new = (draft_words(app.planner.workshop.root, "resin", name) for name in (*names, "new"))
    choices = [
        (f"{at}", name, f"{title}{draft}")
        for at, (name, title, draft) in enumerate(zip(names, titles, kept, strict=True), 1)
    ]

    def opened(answer: str) -> None:
        from layup.app.resin_form import ResinForm

        stem = answer if answer in names else None
        _ask_form(app, lambda: ResinForm(app.planner.workshop.root, stem), lambda _: app.planner.reread())

    here = app.planner.plan.resin_id if app.planner.plan is not None else ""
    at = names.index(here) if here in names and not new else len(names)
    choices.append(("n", "new resin", f"a new one, from its datasheet{new}"))
    app.ask(Choose("Which resin?", choices, at=at), opened)


def _may_write(app: Host) -> bool:
    """Return whether files may be changed here, or say why not."""
    if app.watch_only or app.place.id != "stack":
        app.say(LOOKS_ON if app.watch_only else "not now: press S, the plan, first")
        return False
    return True


def _ask_form(app: Host, form: Callable[[], object], then: Callable[[str], None]) -> None:
    """Open a form; what it wrote is read, and Stack shows it."""

    def written(name: str) -> None:
        then(name)
        app.redraw()
        app.say(f"written: {name}")

    try:
        app.ask(form(), written)
    except LayupError as error:
        app.say(str(error))


def read_again(app: Host) -> None:
    """Read the plan and the resins again, after they were edited."""
    app.planner.reread()
    app.redraw()
    app.say(app.planner.problem.splitlines()[0] if app.planner.problem else "read again")


def casting_day(app: Host) -> None:
    """Put the next casting day of the plan on Stack, or go back to its press day."""
    planner = app.planner
    if app.place.id != "stack" or len(planner.days) < 2:
        app.say("not now: it is for a plan with castings, on Stack")
        return
    now = planner.cast_resin or next(day for day in planner.days if day or not planner.casting)
    planner.cast_resin = planner.days[(planner.days.index(now) + 1) % len(planner.days)]
    planner.casting = bool(planner.cast_resin)
    planner.choose(planner.plan_name or (planner.plan_path.parent.name if planner.plan_path else ""))
    app.redraw()
    of = f", {planner.cast_resin}" if len(planner.days) > 2 and planner.casting else ""
    what = "casting" if planner.casting else "press"
    app.say(planner.problem.splitlines()[0] if planner.problem else f"the {what} day of this plan{of}")
