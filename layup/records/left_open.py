"""What was left open, by the log, when the press was closed: steps that got no mix, and steps not logged as done."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from layup.records.events import BatchLost, PressClosed, SessionStarted, StepDone
from layup.records.findings import FIRST, Finding, Scene
from layup.records.ledger import evidence
from layup.records.mass_balance import mass_balance, mix_by_step_g, wants_mix


def left_open(scene: Scene) -> Iterator[Finding]:
    """Find the steps without their mix, and those not logged as done, when the press was closed."""
    closed_s = scene.state.closed_s
    if closed_s is None:
        return
    dry = _without_mix(scene)
    undone = [step.name for step in scene.track.steps if step.real is None or step.real.end_s > closed_s]
    nor_done = ", nor were they logged as done" if set(dry) <= set(undone) else ""
    no_mix = f"By the log no mix was laid for {_names(dry)} before the press was closed{nor_done}." if dry else ""
    rest = undone if not nor_done else [name for name in undone if name not in dry]
    not_done = f"Not logged as done before the press was closed: {_names(rest)}." if rest else ""
    closed = scene.ledger.all(PressClosed)[-1:]
    if dry and not _holds_its_resin(scene):
        mixed = [batch for batch in scene.track.batches if batch.contact_s is not None and batch.left_cup_s is None]
        yield Finding(
            kind="starved",
            words=f"{no_mix} {not_done}".strip(),
            effect="Cloth and faces without resin stay dry and bond to nothing.",
            change="Close only when every batch is on the part and every step done; Bench lists what is left.",
            size=FIRST,
            certainty="likely" if mixed else "certain",
            evidence=evidence(*scene.ledger.all(SessionStarted), *scene.ledger.all(BatchLost), *closed),
        )
    elif dry or undone:
        weighed = "The part holds its resin all the same." if dry else ""
        yield Finding(
            kind="gap in the log",
            words=" ".join(filter(None, (no_mix, weighed, not_done))),
            effect="Whether they were left out, or how long they took, cannot be told.",
            change="Log each step when it is done and each cup when it is empty, before you close.",
            size=1.2,
            certainty="likely",
            evidence=evidence(*scene.ledger.all(StepDone)[-1:], *closed),
        )


def _without_mix(scene: Scene) -> list[str]:
    """Return the names of the steps that some batch was planned for, and no batch on the part."""
    balance = mass_balance(scene.state, mix_by_step_g(scene.plan, scene.sheet))
    dry = {step for step in wants_mix(scene.state) if balance.of_step(step).laid_share <= 0.0}
    return [step.name for step in scene.track.steps if step.number in dry]


def _holds_its_resin(scene: Scene) -> bool:
    """Return whether the part was measured, and clearly holds no less resin than its target."""
    built = scene.as_built
    return built is not None and built.best is not None and built.off_target <= 0.0


def _names(steps: Iterable[str]) -> str:
    return ", ".join(f"'{name}'" for name in steps)


LEFT_OPEN = (left_open,)
