"""The cloth of a fabric step on one piece: what is cut, and what stays once it is trimmed."""

from __future__ import annotations

from layup.errors import RangeError
from layup.planning.outline import Outline, needed_length_m, offset_area_m2, shape
from layup.planning.stack import FabricStep


def cloth_area_m2(outline: Outline, step: FabricStep) -> float:
    """Return the area of one ply's cloth for one piece, as cut, the overhang included.

    Parameters
    ----------
    outline : Outline
        One piece from above [-]
    step : FabricStep
        The fabric; a width makes it a strip over the whole length [-]

    Returns
    -------
    float
        Area of cloth to wet out [m^2]

    Raises
    ------
    InputError
        A strip or an overhang where the outline has no length.

    Notes
    -----
    The step's overhang goes before the outline's own. A strip hangs over at its two ends only.
    """
    overhang = overhang_m(outline, step)
    if step.width_m is None:
        return offset_area_m2(outline, overhang)
    return step.width_m * (needed_length_m(outline, "a strip") + 2.0 * overhang)


def covered_area_m2(outline: Outline, step: FabricStep) -> float:
    """Return the area of one ply's cloth that stays on one piece once it is trimmed.

    Parameters
    ----------
    outline : Outline
        One piece from above [-]
    step : FabricStep
        The fabric; a width makes it a strip over the whole length [-]

    Returns
    -------
    float
        Area on the piece [m^2]

    Raises
    ------
    InputError
        A strip where the outline has no length.
    RangeError
        A strip wider than the piece.

    Notes
    -----
    A strip counts its whole rectangle, at most the piece's own area: where the ends of the piece are narrower than the
    strip a little too much is counted as staying.
    """
    body = shape(outline)
    if step.width_m is None:
        return body.area_m2
    length = needed_length_m(outline, "a strip")
    if body.widest_m is not None and step.width_m > body.widest_m * (1.0 + 1e-9):
        raise RangeError(
            f"step {step.name!r}",
            "is a strip wider than the piece",
            value=f"{step.width_m:g} m",
            allowed=f"at most {body.widest_m:g} m",
            todo="leave the width out to cover the outline with an overhang",
        )
    return min(step.width_m * length, body.area_m2)


def overhang_m(outline: Outline, step: FabricStep) -> float:
    """Return how far this step's cloth is cut beyond the outline.

    Parameters
    ----------
    outline : Outline
        One piece from above, with the overhang of all its cloth [-]
    step : FabricStep
        The fabric, with its own overhang or None [-]

    Returns
    -------
    float
        Overhang on every side [m]
    """
    return outline.overhang_m if step.overhang_m is None else step.overhang_m
