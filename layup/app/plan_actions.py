"""What the keys of Stack do to the plan on it: compare, choose another, read it again, its casting day."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layup.app.prompts import Choose

if TYPE_CHECKING:
    from layup.app.place import Host


def variant(app: Host) -> None:
    """Keep the present figures beside the next ones, or drop those kept."""
    planner = app.planner
    planner.kept = None if planner.kept is not None else planner.figures
    app.redraw()
    app.say("kept: change a setting, compare" if planner.kept else "one plan again")


def choose_plan(app: Host) -> None:
    """Ask which of the workshop's plans is to stand on Stack, and say so where one is broken."""
    planner = app.planner
    if not planner.place_among_plans:
        app.say("not now: there is one plan in this workshop")
        return
    keys = "123456789abcdefghijklm"
    listed = planner.listed()[: len(keys)]
    names = [name for name, _ in listed]
    here = planner.plan_path.parent.name if planner.plan_path else ""
    choices = [(key, name, f"{name}  {words}") for key, (name, words) in zip(keys, listed, strict=False)]

    def chosen(name: str) -> None:
        planner.choose(name)
        if app.place.id != "stack":
            app.action_go("stack")
        app.redraw()
        app.say("")

    app.ask(Choose("Which plan?", choices, at=names.index(here) if here in names else 0), chosen)


def read_again(app: Host) -> None:
    """Read the plan and the resins again, after they were edited."""
    app.planner.load()
    app.redraw()
    app.say(app.planner.problem.splitlines()[0] if app.planner.problem else "read again")


def casting_day(app: Host) -> None:
    """Put the casting day of the plan on Stack, or go back to its press day."""
    planner = app.planner
    if app.place.id != "stack" or not planner.has_castings:
        app.say("not now: it is for a plan with castings, on Stack")
        return
    planner.casting = not planner.casting
    planner.choose(planner.plan_name or (planner.plan_path.parent.name if planner.plan_path else ""))
    app.redraw()
    what = "casting" if planner.casting else "press"
    app.say(planner.problem.splitlines()[0] if planner.problem else f"the {what} day of this plan")
