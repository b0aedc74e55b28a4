"""In what order to close a press, and what to mind."""

from __future__ import annotations

from layup.chemistry.ranges import require_between

_CLAMP_CAUTIONS = (
    "Clamps hold energy: stand beside the line of a clamp, never over it, and keep fingers out from under the caul.",
    "Never go beyond the clamp maker's rating, and never use a pipe on a clamp's handle.",
    "Snug all clamps first, then tighten in two or three rounds: a part pressed at one end first slides or wrinkles.",
    "Go round once more after five minutes: resin flows out and the force falls.",
)
_TRAPPED = "Let excess resin out at both long edges: a closed edge holds the pressure in the resin, not in the cloth."
CAUTIONS: dict[str, tuple[str, ...]] = {
    "clamps": (*_CLAMP_CAUTIONS, _TRAPPED),
    "bolts": (
        *_CLAMP_CAUTIONS,
        "The same torque gives forces 30 % apart, and oil on the thread doubles them: keep threads alike.",
        _TRAPPED,
    ),
    "bladder": (
        "A bladder is a pressure vessel: never beyond its maker's rating; set a regulator and a relief valve to that.",
        "Close and bolt the press before any air goes in; open the valve and read zero before you undo the first bolt.",
        "Air stores its energy: raise the pressure in steps from beside the press, never in front of its open end.",
        "The press frame carries the whole force: check that it was built for it.",
        _TRAPPED,
    ),
    "bag": (
        "Shut the pump off and watch the gauge for ten minutes: a bag that leaks draws air through the laminate.",
        "A bag presses on the mould from all sides: a hollow mould or a light core may collapse.",
        "Full vacuum makes some resins foam while they are thin: ask the datasheet.",
        "A resin trap keeps the pump alive; a running pump needs someone near it.",
    ),
}
"""What to mind for each way of closing (common practice, no source)."""


def clamp_order(count: int) -> tuple[int, ...]:
    """Find the order in which to tighten a row of clamps.

    Parameters
    ----------
    count : int
        How many stand in the row, 1 to 1000 [-]

    Returns
    -------
    order : tuple of int
        Their numbers from one end, 1 to `count`: from the middle outwards, to and fro [-]

    Raises
    ------
    RangeError
        For a count outside its range.

    References
    ----------
    From the middle outwards, so that resin and air have a way out: common practice, no source.

    Examples
    --------
    >>> clamp_order(6)
    (3, 4, 2, 5, 1, 6)
    """
    require_between("number of clamps", count, 1, 1000)
    middle = (count + 1) / 2.0
    return tuple(sorted(range(1, count + 1), key=lambda number: (abs(number - middle), number)))
