"""Notes for next time in the app: the question after a note, and what a session on Logbook carries forward."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layup.app.prompts import Choose
from layup.review.carried import one_line, step_at
from layup.session.day_events import CarriedForward
from layup.session.text import shortened

if TYPE_CHECKING:
    from layup.app.place import Host
    from layup.bench.day import PressDay

NAME_WIDTH = 26
"""So many letters of a step's name stand in a question."""


def ask_next_time(app: Host, day: PressDay, text: str) -> None:
    """Ask whether a note that was just written is to be met again; left without an answer it is a note only."""
    words = one_line(text)
    if not words:
        return
    step = step_at(day.state, day.now_s())
    choices = [("n", "no", "no"), ("y", "", "yes: before the day")]
    choices += [("s", step, f"yes: at {shortened(step, NAME_WIDTH).upper()}")] if step else []

    def chosen(answer: str) -> None:
        if answer != "no":
            event = CarriedForward(text=words, step_name=answer)
            app.heard(day.log(event, f"next time{f', at {answer}' if answer else ''}: it comes back"))

    app.ask(Choose("Meet this note again next time?", choices), chosen)
