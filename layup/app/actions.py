"""What each action of the table does: of the plan, the app and the batches; the press day's in the modules beside."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from rich.text import Text

from layup.app.change_actions import (
    board_form,
    came,
    casting_day,
    change_work,
    choose_plan,
    read_again,
    resin_form,
    variant,
    went,
)
from layup.app.checklist import ask_wanted
from layup.app.day_actions import (
    before_you_start,
    can_be,
    demoulded,
    end_session,
    finish,
    lot,
    note,
    read_temperature,
    running_day,
    seen,
    that_was,
    undo,
)
from layup.app.help import HelpPage, look, sound, tablet
from layup.app.keys import works
from layup.app.mix import MixPlace
from layup.app.opening import dry_run
from layup.app.place import LOOKS_ON
from layup.app.prompts import WOOD_HINT, Choose, Page, ask_part_of, ask_share, ask_temperature, if_yes, sure
from layup.bench.acts import Act
from layup.bench.day import Said
from layup.bench.doing import REPLAN_AFTER, Answer, Question, do, gelled_early, laid_question, looks
from layup.chemistry.looks import LOOKS
from layup.planning.castings import pourings
from layup.planning.fit import fit_of
from layup.session.batch_events import PressClosed
from layup.session.state_parts import BatchState
from layup.units import mass

if TYPE_CHECKING:
    from layup.app.place import Host
    from layup.bench.day import PressDay


def _mix(app: Host) -> MixPlace:
    return app.at(MixPlace)


AT_THE_SCALE = ("weigh", "pour resin", "pour hardener", "read scale", "add")
"""Acts that are done on Mix: the numbers stand there."""


def accept(app: Host) -> None:
    app.place.accept()


def do_act(app: Host) -> None:
    """Do the act that is shown, if it was meant: if it has stood there long enough to be read."""
    day, act = running_day(app), app.place.act_of_enter()
    if day is None or act is None:
        said = None if day is None or app.view is None else do(day, app.view.act)
        if isinstance(said, Said):
            app.heard(said)  # until when it goes on
        return
    meant = app.on_screen.meant(app.clock.monotonic_s())
    if meant is None or meant.is_same_as != act.is_same_as:
        app.say(f"new: {act.words} - Enter again")
    else:
        carry_out(app, day, act)


def carry_out(app: Host, day: PressDay, act: Act, answer: Answer = None) -> None:
    """Do an act, after what has to be asked first."""
    if act.kind in AT_THE_SCALE and act.batch is not None:
        _mix(app).number = act.batch
        app.action_go("mix")
        return
    asked = do(day, act, answer)
    if isinstance(asked, Question):
        _ask(app, day, asked)
        return
    app.heard(asked)
    if asked.done and day.state.closed_s is not None and act.kind in ("close", "rescue"):
        app.action_go("bench" if day.is_dry else "cure")
        app.say(asked.words)
    elif asked.done and isinstance(answer, float) and act.kind in REPLAN_AFTER:
        plan_anew(app)


def _ask(app: Host, day: PressDay, asked: Question) -> None:
    """Ask what an act has to know first; the answer does it."""
    from layup.app.opening import ask_clock

    act = asked.act

    def then(answer: Answer) -> None:
        if asked.about and act.batch is not None and answer:
            _seen_as(app, day, act.batch, asked.about, sure=True)
        elif not asked.about:
            carry_out(app, day, act, answer)

    yes_or_no = {
        "lay anyway": ("yes, lay it: it keeps its mark", "no, keep it in its cup"),
        "close anyway": ("closed", "no"),
        "sure": ("yes", "no"),
    }
    if asked.kind in yes_or_no:
        app.ask(sure(asked.title, *yes_or_no[asked.kind]), lambda answer: then(answer == "yes"))
    elif asked.kind == "looks" and act.batch is not None:
        looks_of(app, day, act.batch)
    elif asked.kind == "laid":
        ask_part_of(app, asked.title, asked.most_g, asked.usual_g, then)
    elif asked.kind in ("temperature", "core"):
        ask_temperature(app, asked.title, then)
    elif asked.kind == "moisture":
        ask_share(app, asked.title, WOOD_HINT, then)
    elif asked.kind == "clock":
        ask_clock(app, day)
    elif asked.kind == "replan":
        plan_anew(app)
    elif asked.kind == "out":
        demoulded(app)
    elif asked.kind == "end":
        end_session(app, day)


def weigh(app: Host) -> None:
    """Go to the scale with the next batch."""
    day = running_day(app)
    if day is None:
        return
    if day.next_to_mix() is None:
        app.say("not now: every batch is mixed")
        return
    _mix(app).follow_day()
    app.action_go("mix")


def hardener_in(app: Host) -> None:
    """Start the clock of the batch on the scale."""
    day = running_day(app)
    if day is None:
        return
    if app.place.id == "mix" and (number := _mix(app).batch_number()) is not None:
        if _mix(app).typed:
            _mix(app).take(_mix(app).typed, certain=True)
        app.heard(day.hardener_in(number))
        return
    following = day.next_to_mix()
    if following is None:
        app.say("not now: every batch is mixed")
    elif following.status == "weighed":
        app.heard(day.hardener_in(following.number))
    else:
        title = f"Batch {following.number} is not weighed. Did its hardener go in just now?"
        app.ask(sure(title, "yes, start its clock"), if_yes(lambda: app.heard(day.hardener_in(following.number))))


def _which(app: Host, title: str, batches: list[BatchState], none: str, then: Callable[[int], None]) -> None:
    """Ask which batch is meant, where more than one could be."""
    if not batches:
        app.say(f"not now: {none}")
    elif len(batches) == 1:
        then(batches[0].number)
    else:
        choices = [
            (_batch_key(batch.number), str(batch.number), f"batch {batch.number}: {mass(batch.mass_g)}, {batch.status}")
            for batch in batches
        ]
        app.ask(Choose(title, choices), lambda answer: then(int(answer)))


def _batch_key(number: int) -> str:
    """Return the key of a batch in a question: its number, and letters from ten on."""
    return str(number) if number < 10 else chr(ord("a") + number - 10)


def poured_out(app: Host) -> None:
    """The oldest cup is empty: its batch is on the part."""
    day = running_day(app)
    if day is not None:

        def empty(number: int) -> None:
            carry_out(app, day, Act("empty cup", "", f"cup {number}", batch=number))

        _which(app, "Which cup is empty?", day.in_cup(), "no batch is in its cup", empty)


def step_done(app: Host) -> None:
    """Finish the step on the bench."""
    day = running_day(app)
    if day is not None:
        step = day.state.step_now
        carry_out(app, day, Act("step", "", "", step=None if step is None else step.number))


def press_closed(app: Host) -> None:
    """Log that the press is closed."""
    day = running_day(app)
    if day is not None and can_be(app, day, PressClosed()):
        carry_out(app, day, Act("close", "", "part"))


def observe(app: Host) -> None:
    """Log how a batch looks."""
    day = running_day(app)
    if day is None:
        return
    mixed = [batch for batch in day.state.batches if batch.status in ("in the cup", "on the part", "under press")]

    _which(app, "Which batch?", mixed, "no batch is mixed yet", lambda number: looks_of(app, day, number))


def looks_of(app: Host, day: PressDay, number: int) -> None:
    """Ask how a batch looks, and log it."""
    words = [(str(key), word, f"{word}: {look.seen}") for key, (word, look) in enumerate(LOOKS.items(), 1)]
    app.ask(Choose(f"Batch {number} looks", words), lambda word: _seen_as(app, day, number, word))


def _seen_as(app: Host, day: PressDay, number: int, word: str, *, sure: bool = False) -> None:
    """Log how a batch looks, once it is sure."""
    said = looks(day, number, word, sure=sure)
    if isinstance(said, Question):
        _ask(app, day, said)
    else:
        app.heard(said)


def lost(app: Host) -> None:
    """Log a lost batch."""
    day = running_day(app)
    if day is None:
        return
    order = () if day.state.closed_s is not None else ("in the cup", "weighed", "on the part")
    alive = sorted(
        (batch for batch in day.state.batches if batch.status in order), key=lambda batch: order.index(batch.status)
    )
    kept_it = ("n", "no", "it is not lost")
    reasons = [
        ("2", "spilt", "spilt"),
        ("3", "off ratio", "off ratio"),
        ("4", "other", "other"),
    ]

    def kept(batch: BatchState, why: str, laid_g: float) -> None:
        said = day.lost(batch, why, laid_g)
        app.heard(said)
        if said.done:
            plan_anew(app)

    def how_much(batch: BatchState, why: str) -> None:
        if batch.mixed_s is None:
            kept(batch, why, 0.0)
            return
        usual_g = day.laid_so_far_g(batch)
        ask_part_of(app, laid_question(batch), batch.poured_g, usual_g, lambda laid_g: kept(batch, why, laid_g))

    def which(number: int) -> None:
        batch = day.state.batch(number)
        if batch is None:
            return
        first = "gelled on the part" if batch.poured_out_s is not None else "gelled in the cup"

        def because(why: str) -> None:
            early = gelled_early(day, batch) if why == first else ""
            if early:
                app.ask(sure(early, "yes, it gelled"), if_yes(lambda: how_much(batch, why)))
            elif why != "no":
                how_much(batch, why)

        app.ask(Choose(f"Batch {number} is lost because", [kept_it, ("1", first, first), *reasons]), because)

    _which(app, "Which batch is lost?", alive, "no batch is weighed or mixed", which)


def plan_anew(app: Host) -> None:
    """Plan what is left of the day, and take the way on that is wanted: Enter takes the best that can be done now."""
    from layup.bench.changes import take
    from layup.bench.rest import choices, rest_brief, rest_lines, rest_or_why

    day = running_day(app)
    if day is None:
        return
    rest = rest_or_why(day)
    if isinstance(rest, str):
        app.say(rest)
        return
    whole = "\n".join(rest_lines(day, rest))
    if not rest.ways:
        app.push_screen(Page("REPLAN", Text(whole)))
        return
    title, more = "\n".join(rest_brief(day, rest)), "" if day.state.is_casting else whole

    planned = [batch.plan for batch in day.state.batches]

    def taken(answer: str) -> None:
        if answer == "no":
            return
        if planned != [batch.plan for batch in day.state.batches]:
            app.say("planned anew on a page: A shows it")
            return
        said = take(day, rest.ways[int(answer)].change)
        app.heard(said)
        if said.done:
            _mix(app).follow_day()
            app.action_go("mix")

    app.ask(Choose(title, choices(day, rest), more=more), taken)


# -- actions ---------------------------------------------------------------------------------------------------------


def begin(app: Host, *, list_first: bool = False) -> None:
    """Ask whether to begin the press day: go, wait or no, with the reasons; after the list, where it is unopened."""
    if app.watch_only:
        app.say(f"{LOOKS_ON} - start the app without --watch to begin a press day")
        return
    figures = app.planner.figures
    if app.day is not None and app.day.state.ended_s is None:
        where = "press b for the bench" if app.day.state.closed_s is None else "press p, and f there to end it"
        app.say(f"not now: the session of {app.day.folder.name} is not ended - {where}")
        return
    if figures is None:
        app.say(f"not now: {app.planner.problem}")
        return
    if app.planner.settings is not figures.settings:
        app.say("one moment: the plan is being worked out")
        return
    pours = not figures.plan.lays and any(each.pours for each in pourings(figures, None))
    if not pours and not figures.split.batches:
        limit = figures.split.limit
        words = limit.words if limit else " ".join(fit_of(figures).against) or "there is nothing to mix"
        app.say(f"not now: {words}")
        return
    from layup.app.begin import open_begin_page

    open_begin_page(app, figures, list_first=list_first)


def show_help(app: Host) -> None:
    """Show the keys that work now and what the place is for."""
    app.push_screen(HelpPage(app.place.id or "stack", works(app), app.place.details()))


def search(app: Host) -> None:
    """List the sessions in which some words occur."""
    from layup.app.logbook import search

    search(app)


def leave(app: Host) -> None:
    """Quit; everything confirmed is on the disk. Asked first while a press day runs."""
    day = app.day
    if day is not None and day.fault and not day.watching:
        app.say(day.fault)
        return
    if day is None or day.watching or day.state.closed_s is not None or day.state.ended_s is not None:
        app.exit()
        return

    def answered(answer: str) -> None:
        if answer == "end":
            end_session(app, day, asked=day.is_dry)
        elif answer == "leave":
            if app.way_back:
                app.farewell = f"{runs} kept in {day.folder}; the clocks go on. Back to it: {app.way_back}"
            app.exit()

    played = day.folder == app.played
    leaving = "leave: play, nothing is kept" if played else "leave: every entry is kept"
    runs = "dry run" if day.is_dry else "casting day" if day.state.is_casting else "press day"
    choices = [("n", "stay", "stay"), ("y", "leave", leaving), ("f", "end", "end the session")]
    app.ask(Choose(f"The {runs} runs, its clocks go on. Leave it?", choices), answered)


DOES: dict[str, Callable[[Host], None]] = {
    "begin": begin,
    "variant": variant,
    "board_form": board_form,
    "resin_form": resin_form,
    "choose_plan": choose_plan,
    "read_again": read_again,
    "casting_day": casting_day,
    "days_before": ask_wanted,
    "accept": accept,
    "weigh": weigh,
    "hardener_in": hardener_in,
    "poured_out": poured_out,
    "step_done": step_done,
    "temperature": read_temperature,
    "observe": observe,
    "lost": lost,
    "plan_anew": plan_anew,
    "lot": lot,
    "note": note,
    "press_closed": press_closed,
    "seen": seen,
    "undo": undo,
    "that_was": that_was,
    "came": came,
    "went": went,
    "change_work": change_work,
    "before_you_start": before_you_start,
    "demoulded": demoulded,
    "dry_run": dry_run,
    "finish": finish,
    "search": search,
    "look": look,
    "sound": sound,
    "tablet": tablet,
    "help": show_help,
    "leave": leave,
}
"""Action name -> what it does. A test holds it against the table of actions."""
