"""Where there is no plan yet: the first resin, the first board, or a look around in the demo."""

from __future__ import annotations

from layup.app.place import Host
from layup.app.prompts import Choose
from layup.errors import LayupError
from layup.files.drafts import Draft
from layup.files.workshop import make_folders

DEMO = "demo"
"""What the app is left with where somebody wants to look around."""


def offer_at_start(app: Host, *, play: bool) -> None:
    """Ask what there is to ask as the app begins without a day: in the demo what to see, without a plan what first."""
    if play and app.planner.figures is not None:
        from layup.app.opening import offer_play

        offer_play(app)
    elif app.planner.workshop.is_bare:
        offer_first(app)


def offer_first(app: Host, said: str = "") -> None:
    """Ask what to begin with. Nothing is written before the answer; a folder that is left empty is left alone."""
    workshop = app.planner.workshop
    resins = workshop.resin_ids() if workshop.resins_folder.is_dir() else []
    app.planner.load()
    app.redraw()
    app.say("")
    where = str(workshop.root.resolve())
    drafts = [at for at, kind in enumerate(("resin", "plan")) if Draft(workshop.root, kind, None).resumed]
    title = f"No plan yet in {where}." if resins else f"Nothing yet in {where}."
    choices = [
        ("1", "resin", "another resin, from its datasheet" if resins else "first resin, from its datasheet"),
        ("2", "board", "first board: outline, cloth, core"),
        ("3", DEMO, "the demo: look around, nothing kept"),
    ]

    def answered(answer: str | None) -> None:
        if answer == DEMO:
            app.wants_demo = True
            app.exit()
        elif answer is not None:
            _write_down(app, answer)
        elif not workshop.resins_folder.is_dir():
            app.exit()
        elif drafts:
            app.say(f"draft kept: {' or '.join(('7', 'F')[at] for at in drafts)} goes on")

    kept = [f"Draft kept: {' or '.join(' '.join(choices[at][:2]) for at in drafts)} goes on."] if drafts else []
    lines = [*([f"Written: {said}."] if said else []), *kept, title, "Begin with what?"]
    app.push_screen(Choose("\n".join(lines), choices, at=drafts[-1] if drafts else 1 if resins else 0), answered)


def _write_down(app: Host, what: str) -> None:
    """Open the form of a resin or a board; after a resin, or a form that was left, the question comes again."""
    root = app.planner.workshop.root

    def left(name: str | None) -> None:
        if what == "board" and name is not None:
            app.planner.choose(name)
            app.redraw()
            app.say(f"written: {name}")
        else:
            offer_first(app, name or "")

    try:
        make_folders(root)
        if what == "resin":
            from layup.app.resin_form import ResinForm

            app.push_screen(ResinForm(root), left)
        else:
            from layup.app.board_form import BoardForm

            app.push_screen(BoardForm(root), left)
    except LayupError as error:
        app.say(str(error))
