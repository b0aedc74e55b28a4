"""What a scale can tell: the ratio error hidden in its last digit, and the batch large enough for it."""

from __future__ import annotations

from collections.abc import Sequence

from layup.chemistry.ranges import require_between
from layup.chemistry.ratio import off_ratio, require_parts, require_poured, split_mass
from layup.errors import RangeError

WEIGHING_LIMIT = 0.02
"""How far off ratio weighing may leave an amine epoxy (common practice, no source)."""


def require_readability(readability_g: float) -> float:
    """Return the last digit of a scale if a scale can have it.

    Parameters
    ----------
    readability_g : float
        The last digit of the scale, 0.0001 to 1000 [g]

    Returns
    -------
    readability_g : float
        The same number [g]

    Raises
    ------
    RangeError
        For a readability outside its range.
    """
    return require_between("scale readability", readability_g, 0.0001, 1000.0, unit="g")


def reading_off_ratio(
    shown_g: Sequence[float], parts: Sequence[float], readability_g: float, *, one_tare: bool = True
) -> float:
    """Find how far off ratio a mix may truly be when the scale shows these masses.

    Parameters
    ----------
    shown_g : sequence of float
        Mass of each component by the readings, resin first [g]
    parts : sequence of float
        Parts by mass, in the same order, 0.001 to 100 000 each [-]
    readability_g : float
        The last digit of the scale, 0.0001 to 1000 [g]
    one_tare : bool
        True where one cup is tared once and the components follow one another into it; False where each component
        is weighed on a tare of its own [-]

    Returns
    -------
    off_ratio : float
        The largest deviation, either way, that the readings allow [-]

    Raises
    ------
    RangeError
        For a value outside its range, or so little resin that the scale cannot tell it from none.

    Notes
    -----
    A display rounds, so each reading is wrong by up to half a digit d; the zero after taring is taken as exact. On a
    tare of its own each mass is wrong by d/2. On one tare the hardener is the *difference* of two readings and wrong
    by up to d, while the resin, the first of them, is wrong by d/2 the other way. The worst is

        rich:  (h + e) / (r - d/2) / (H/R) - 1        lean:  (h - e) / (r + d/2) / (H/R) - 1

    with e = d on one tare and d/2 otherwise. A scale's linearity and drift come on top.

    Examples
    --------
    >>> round(reading_off_ratio((200.0, 60.0), (100, 30), 1.0), 4)
    0.0192
    """
    require_poured(shown_g, parts)
    require_readability(readability_g)
    resin_error_g = readability_g / 2
    other_error_g = readability_g if one_tare else readability_g / 2
    if shown_g[0] <= resin_error_g:
        raise RangeError(
            "resin reading",
            "is lost in the scale's last digit",
            value=f"{shown_g[0]:g} g",
            allowed=f"must be above {resin_error_g:g} g on this scale",
            todo="mix a larger batch, or use a finer scale",
        )
    rich = shown_g[0] - resin_error_g, *(mass_g + other_error_g for mass_g in shown_g[1:])
    lean = shown_g[0] + resin_error_g, *(max(0.0, mass_g - other_error_g) for mass_g in shown_g[1:])
    return max(abs(off_ratio(rich, parts)), abs(off_ratio(lean, parts)))


def worst_case_off_ratio(
    batch_g: float, parts: Sequence[float], readability_g: float, *, one_tare: bool = True
) -> float:
    """Find how far off ratio the scale's last digit alone can leave a batch.

    Parameters
    ----------
    batch_g : float
        Mass of the batch, above 0, at most 1 000 000 [g]
    parts : sequence of float
        Parts by mass, resin first, 0.001 to 100 000 each [-]
    readability_g : float
        The last digit of the scale, 0.0001 to 1000 [g]
    one_tare : bool
        True for one cup on one tare, False for a tare of its own for each component [-]

    Returns
    -------
    off_ratio : float
        The largest deviation, either way [-]

    Raises
    ------
    RangeError
        For a value outside its range, or so little resin that the scale cannot tell it from none.

    Notes
    -----
    `reading_off_ratio` at the exact masses. With x = e/h and y = d/(2 r) it is (x + y)/(1 - y): too much hardener
    is always the larger side. The default is the usual way to weigh, and the larger error.

    Examples
    --------
    >>> round(worst_case_off_ratio(260.0, (100, 30), 1.0), 4)
    0.0192
    >>> round(worst_case_off_ratio(260.0, (100, 30), 1.0, one_tare=False), 4)
    0.0109
    """
    return reading_off_ratio(split_mass(batch_g, parts), parts, readability_g, one_tare=one_tare)


def smallest_batch_g(
    parts: Sequence[float], readability_g: float, limit: float = WEIGHING_LIMIT, *, one_tare: bool = True
) -> float:
    """Find the smallest batch that the scale keeps within a limit of its ratio.

    Parameters
    ----------
    parts : sequence of float
        Parts by mass, resin first, 0.001 to 100 000 each [-]
    readability_g : float
        The last digit of the scale, 0.0001 to 1000 [g]
    limit : float
        Deviation allowed, above 0, at most 1 [-]
    one_tare : bool
        True for one cup on one tare, False for a tare of its own for each component [-]

    Returns
    -------
    batch_g : float
        Mass at which `worst_case_off_ratio` equals the limit [g]

    Raises
    ------
    RangeError
        For a value outside its range.

    Notes
    -----
    M = (1/L) (e/f_h + (1 + L) d/(2 f_r)), with f the mass fractions and f_h the smallest but the resin's; e = d on
    one tare and d/2 otherwise.

    Examples
    --------
    >>> round(smallest_batch_g((100, 30), 1.0), 1)
    249.8
    """
    require_parts(parts)
    require_readability(readability_g)
    require_between("deviation allowed", limit, 0.0, 1.0, todo="0.02 for 2 %", open_low=True)
    whole = sum(parts)
    other_error_g = readability_g if one_tare else readability_g / 2
    other_g = other_error_g * whole / min(parts[1:])
    resin_g = readability_g / 2 * whole / parts[0]
    return (other_g + (1.0 + limit) * resin_g) / limit
