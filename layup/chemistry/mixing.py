"""Mixing a resin system: its ratio by mass, how that fits its chemistry, a scale's error and the least batch for it."""

from __future__ import annotations

from collections.abc import Sequence

from layup.chemistry.datasheet import Chemistry, Datasheet
from layup.chemistry.laminate import CURED_DENSITY_G_CM3
from layup.chemistry.numerics import require_between
from layup.chemistry.ratio import blend_equivalent_weight as blend_equivalent_weight
from layup.chemistry.ratio import correction as correction
from layup.chemistry.ratio import isocyanate_equivalent_weight as isocyanate_equivalent_weight
from layup.chemistry.ratio import off_ratio, phr, ratio_by_volume_to_weight, require_parts, require_poured, split_mass
from layup.chemistry.ratio import polyol_equivalent_weight as polyol_equivalent_weight
from layup.chemistry.ratio import ratio_by_weight_to_volume as ratio_by_weight_to_volume
from layup.errors import InputError, RangeError
from layup.units import mass

# -- weighing --------------------------------------------------------------------------------------------------------

WEIGHING_LIMIT = 0.02
"""How far off ratio weighing may leave an amine epoxy (common practice, no source)."""


def require_readability(readability_g: float) -> float:
    """Return the last digit of a scale if a scale can have it [g].

    Parameters
    ----------
    readability_g : The last digit of the scale, 0.0001 to 1000 [g]
    """
    return require_between("scale readability", readability_g, 0.0001, 1000.0, unit="g")


def reading_off_ratio(
    shown_g: Sequence[float], parts: Sequence[float], readability_g: float, *, one_tare: bool = True
) -> float:
    """Find how far off ratio a mix may truly be when the scale shows these masses.

    The largest deviation, either way, that the readings allow [-]. Raises RangeError for so little resin that the scale
    cannot tell it from none. A display rounds, so each reading is wrong by up to half a digit d; the zero after taring
    is taken as exact. On a tare of its own each mass is wrong by d/2. On one tare the hardener is the *difference* of
    two readings and wrong by up to d, while the resin, the first of them, is wrong by d/2 the other way. The worst is

        rich:  (h + e) / (r - d/2) / (H/R) - 1        lean:  (h - e) / (r + d/2) / (H/R) - 1

    with e = d on one tare and d/2 otherwise. A scale's linearity and drift come on top.

    >>> round(reading_off_ratio((200.0, 60.0), (100, 30), 1.0), 4)
    0.0192

    Parameters
    ----------
    shown_g : Mass of each component by the readings, resin first [g]
    parts : Parts by mass, in the same order, 0.001 to 100 000 each [-]
    readability_g : The last digit of the scale, 0.0001 to 1000 [g]
    one_tare : True where one cup is tared once and the components follow one another into it; False where each
        component is weighed on a tare of its own [-]
    """
    require_poured(shown_g, parts)
    require_readability(readability_g)
    resin_error_g = readability_g / 2
    other_error_g = readability_g if one_tare else readability_g / 2
    if shown_g[0] <= resin_error_g:
        raise RangeError(
            "resin reading",
            "is lost in the scale's last digit",
            value=f"{mass(shown_g[0], 'g')}",
            allowed=f"must be above {mass(resin_error_g, 'g')} on this scale",
            todo="mix a larger batch, or use a finer scale",
        )
    rich = shown_g[0] - resin_error_g, *(mass_g + other_error_g for mass_g in shown_g[1:])
    lean = shown_g[0] + resin_error_g, *(max(0.0, mass_g - other_error_g) for mass_g in shown_g[1:])
    return max(abs(off_ratio(rich, parts)), abs(off_ratio(lean, parts)))


def worst_case_off_ratio(
    batch_g: float, parts: Sequence[float], readability_g: float, *, one_tare: bool = True
) -> float:
    """Find how far off ratio the scale's last digit alone can leave a batch.

    The largest deviation, either way [-]. Raises RangeError for a value outside its range, or so little resin that the
    scale cannot tell it from none. It is `reading_off_ratio` at the exact masses: with x = e/h and y = d/(2 r) it is
    (x + y)/(1 - y): too much hardener is always the larger side. The default is the usual way to weigh, and the larger
    error.

    >>> round(worst_case_off_ratio(260.0, (100, 30), 1.0), 4)
    0.0192
    >>> round(worst_case_off_ratio(260.0, (100, 30), 1.0, one_tare=False), 4)
    0.0109

    Parameters
    ----------
    batch_g : Mass of the batch, above 0, at most 1 000 000 [g]
    parts : Parts by mass, resin first, 0.001 to 100 000 each [-]
    readability_g : The last digit of the scale, 0.0001 to 1000 [g]
    one_tare : True for one cup on one tare, False for a tare of its own for each component [-]
    """
    return reading_off_ratio(split_mass(batch_g, parts), parts, readability_g, one_tare=one_tare)


def smallest_batch_g(
    parts: Sequence[float], readability_g: float, limit: float = WEIGHING_LIMIT, *, one_tare: bool = True
) -> float:
    """Find the smallest batch that the scale keeps within a limit of its ratio.

    M = (1/L) (e/f_h + (1 + L) d/(2 f_r)), with f the mass fractions and f_h the smallest but the resin's; e = d on
    one tare and d/2 otherwise.

    >>> round(smallest_batch_g((100, 30), 1.0), 1)
    249.8

    Parameters
    ----------
    parts : Parts by mass, resin first, 0.001 to 100 000 each [-]
    readability_g : The last digit of the scale, 0.0001 to 1000 [g]
    limit : Deviation allowed, above 0, at most 1 [-]
    one_tare : True for one cup on one tare, False for a tare of its own for each component [-]
    """
    require_parts(parts)
    require_readability(readability_g)
    require_between("deviation allowed", limit, 0.0, 1.0, todo="0.02 for 2 %", open_low=True)
    whole = sum(parts)
    other_error_g = readability_g if one_tare else readability_g / 2
    other_g = other_error_g * whole / min(parts[1:])
    resin_g = readability_g / 2 * whole / parts[0]
    return (other_g + (1.0 + limit) * resin_g) / limit


# -- mixing ----------------------------------------------------------------------------------------------------------

STOICHIOMETRY_LIMIT = 0.10
"""A stated ratio further than this from its equivalents is reported (common practice, no source)."""


def parts_by_mass(datasheet: Datasheet) -> tuple[float, float]:
    """Return a resin's mix ratio as parts by mass, resin first [-], converting a ratio by volume with the densities.

    Raises RangeError for a part or a density outside its range; InputError for a ratio by volume without both
    densities.
    """
    require_parts(datasheet.ratio)
    if datasheet.ratio_by == "weight":
        return datasheet.ratio
    if datasheet.densities_g_cm3 is None:
        missing = "resin" if datasheet.resin.density_g_cm3 is None else "hardener"
        raise InputError(
            f"{datasheet.id} ratio",
            f"is by volume, and the {missing} has no density",
            allowed="grams need the density of both components",
            todo=f"give [{missing}] density from its safety data sheet, or the ratio by weight",
        )
    resin, hardener = ratio_by_volume_to_weight(datasheet.ratio, datasheet.densities_g_cm3)
    return resin, hardener


def resin_and_hardener_g(datasheet: Datasheet, mix_g: float) -> tuple[float, float]:
    """Return what a mass of mix holds of each component.

    Parameters
    ----------
    mix_g : Above 0, at most 1 000 000 [g]
    """
    resin_g, hardener_g = split_mass(mix_g, parts_by_mass(datasheet))
    return resin_g, hardener_g


def mix_density_g_cm3(datasheet: Datasheet | None, unknown_g_cm3: float = CURED_DENSITY_G_CM3) -> float:
    """Return the density of the mix before it cures: from both components, or a usual one where one is not known.

    Volumes add: (m1 + m2)/(m1/r1 + m2/r2).

    Parameters
    ----------
    unknown_g_cm3 : What is taken then; usually that of cured epoxy, a few per cent denser [g/cm^3]
    """
    if datasheet is None or datasheet.densities_g_cm3 is None:
        return unknown_g_cm3
    parts = parts_by_mass(datasheet)
    return sum(parts) / sum(part / density for part, density in zip(parts, datasheet.densities_g_cm3, strict=True))


def stoichiometry_gap(datasheet: Datasheet) -> float | None:
    """Find how far a stated ratio is from the one that the equivalent weights call for.

    +0.10 for 10 % more hardener than they call for [-]; None where an equivalent weight, or a density that a ratio by
    volume needs, is not stated, or the chemistry is neither epoxy-amine nor urethane.

    gap = (h/E_h) / (r/E_r) - 1: hardener equivalents over resin equivalents. For an epoxy-amine this is the stated
    ratio over phr = 100 AHEW/EEW; for a urethane whose hardener is the isocyanate it is the index less one.
    """
    resin_g_eq, hardener_g_eq = datasheet.resin.equivalent_weight_g_eq, datasheet.hardener.equivalent_weight_g_eq
    if datasheet.chemistry == "other" or resin_g_eq is None or hardener_g_eq is None:
        return None
    if datasheet.ratio_by == "volume" and datasheet.densities_g_cm3 is None:
        return None
    resin, hardener = parts_by_mass(datasheet)
    return 100.0 * hardener / resin / phr(hardener_g_eq, resin_g_eq) - 1.0


def stoichiometry_warning(datasheet: Datasheet) -> str | None:
    """Return the sentence to show where a stated ratio is more than 10 % from its equivalents.

    One sentence, or None where nothing is to report.
    """
    gap = stoichiometry_gap(datasheet)
    if gap is None or abs(gap) <= STOICHIOMETRY_LIMIT:
        return None
    side = "more" if gap > 0 else "less"
    kind = "AHEW and EEW" if datasheet.chemistry == "epoxy-amine" else "NCO and OH equivalents"
    return (
        f"The stated ratio has {100 * abs(gap):.0f} % {side} hardener than {kind} call for; "
        "check the ratio, by weight or by volume, and both equivalent weights against the datasheet."
    )


GROUPS: dict[Chemistry, tuple[float, float]] = {"epoxy-amine": (2.0, 4.0), "urethane": (2.0, 3.0), "other": (2.0, 4.0)}
"""Reactive groups of a molecule of each kind: a diepoxide and a diamine, a diisocyanate and a triol (typical)."""
UNLIKELY = 2.0
"""A stated ratio that many times off its equivalents has not those of these two cans."""


def stated_network(datasheet: Datasheet) -> tuple[float, float, float]:
    """Return the hardener's groups over the resin's at the stated ratio, and the groups of a molecule of each."""
    gap = stoichiometry_gap(datasheet)
    balance = 1.0 if gap is None or not 1.0 / UNLIKELY <= 1.0 + gap <= UNLIKELY else 1.0 + gap
    resin, hardener = GROUPS[datasheet.chemistry]
    return balance, datasheet.resin.functionality or resin, datasheet.hardener.functionality or hardener


def network_words(datasheet: Datasheet) -> tuple[str, str]:
    """Return in words what `stated_network` rests on."""
    gap = stoichiometry_gap(datasheet)
    balance, f, g = stated_network(datasheet)
    whole = "the datasheet's ratio counts as balanced, group for group"
    if gap is not None and balance == 1.0 + gap:
        whole = f"the datasheet's ratio has {balance:.2f} groups of hardener to one of resin"
    stated = "as stated" if datasheet.hardener.functionality else "typical"
    return whole, f"molecules of {f:g} and {g:g} groups ({stated}): real mixes gel a little later"
