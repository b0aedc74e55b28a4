"""Mixing a resin system: its ratio between mass and volume, over a batch and against what was poured; a scale's error.

Stoichiometry: how a stated ratio fits its equivalents.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

from layup.chemistry.datasheet import Chemistry, Datasheet
from layup.chemistry.laminate import CURED_DENSITY_G_CM3
from layup.chemistry.numerics import require_between, require_positive
from layup.errors import InputError, RangeError
from layup.units import mass

LARGEST_MASS_G = 1e6
"""A tonne: far above any cup; what is above it was typed in other units."""


def _require_parts(parts: Sequence[float]) -> None:
    """Check that a ratio has at least two parts, and none of them is nothing."""
    if len(parts) < 2:
        raise RangeError("ratio", "needs a part of resin and a part of hardener", value=f"parts given: {len(parts)}")
    for part in parts:
        require_between("ratio", part, 0.001, 100_000.0, todo="give the datasheet's own numbers, as in 100:30")


def _require_poured(poured_g: Sequence[float], parts: Sequence[float]) -> None:
    """Check that there is one poured mass for each part of a ratio."""
    _require_parts(parts)
    if len(poured_g) != len(parts):
        raise RangeError("poured mass", "every part needs one mass", value=f"{len(poured_g)} for {len(parts)} parts")
    for mass_g in poured_g:
        require_between("poured mass", mass_g, 0.0, LARGEST_MASS_G, unit="g")


def ratio_by_weight_to_volume(parts: Sequence[float], densities: Sequence[float]) -> tuple[float, ...]:
    """Convert a ratio by weight to parts by volume of the same mix [-], with the resin's number unchanged.

    Raises RangeError for a value outside its range, or lists of different lengths.

    v_i = p_i r_resin / r_i

    >>> [round(part, 2) for part in ratio_by_weight_to_volume((100, 30), (1.15, 0.97))]
    [100.0, 35.57]

    Parameters
    ----------
    parts : Parts by mass, resin first, 0.001 to 100 000 each [-]
    densities : Density of each component, 0.3 to 5 [g/cm^3]
    """
    _require_densities(parts, densities)
    return tuple(part * densities[0] / density for part, density in zip(parts, densities, strict=True))


def ratio_by_volume_to_weight(parts: Sequence[float], densities: Sequence[float]) -> tuple[float, ...]:
    """Convert a ratio by volume to parts by mass of the same mix [-], with the resin's number unchanged.

    Raises RangeError for a value outside its range, or lists of different lengths.

    p_i = v_i r_i / r_resin

    >>> [round(part, 2) for part in ratio_by_volume_to_weight((100, 50), (1.15, 0.97))]
    [100.0, 42.17]

    Parameters
    ----------
    parts : Parts by volume, resin first, 0.001 to 100 000 each [-]
    densities : Density of each component, 0.3 to 5 [g/cm^3]
    """
    _require_densities(parts, densities)
    return tuple(part * density / densities[0] for part, density in zip(parts, densities, strict=True))


def split_mass(total_g: float, parts: Sequence[float]) -> tuple[float, ...]:
    """Split a batch over its components, the mass of each [g].

    m_i = M p_i / sum(p)

    >>> split_mass(260.0, (100, 30))
    (200.0, 60.0)

    Parameters
    ----------
    total_g : Mass of the batch, above 0, at most 1 000 000 [g]
    parts : Parts by mass, resin first, 0.001 to 100 000 each [-]
    """
    require_between("batch mass", total_g, 0.0, LARGEST_MASS_G, unit="g", open_low=True)
    _require_parts(parts)
    whole = sum(parts)
    return tuple(total_g * (part / whole) for part in parts)


def off_ratio(poured_g: Sequence[float], parts: Sequence[float]) -> float:
    """Find how far a poured mix is off its stated ratio.

    0 on ratio, +0.05 for 5 % too much hardener for the resin, -1 for none [-]; of more than two components, the one
    furthest off. Raises RangeError for a value outside its range, or lists of different lengths.

    off = (h/r) / (H/R) - 1, with h and r as poured and H and R as stated.

    >>> round(off_ratio((100.0, 33.0), (100, 30)), 6)
    0.1

    Parameters
    ----------
    poured_g : Mass of each component in the cup, resin above 0, the others 0 or more [g]
    parts : Parts by mass, in the same order, 0.001 to 100 000 each [-]
    """
    _require_poured(poured_g, parts)
    require_positive("resin poured", poured_g[0], unit="g")
    return _off(poured_g, parts)


def _off(poured_g: Sequence[float], parts: Sequence[float]) -> float:
    scale = parts[0] / poured_g[0]
    return max((mass * scale / part - 1.0 for mass, part in zip(poured_g[1:], parts[1:], strict=True)), key=abs)


def correction(poured_g: Sequence[float], parts: Sequence[float]) -> tuple[float, ...]:
    """Find what to add of each component to a poured mix to bring it back on ratio [g].

    0 for the one that was over-poured. Raises RangeError for a value outside its range, or lists of different lengths.
    Nothing comes out of a cup, so the component poured most, for its parts, sets the batch: a_i = p_i max(m/p) - m_i.

    >>> correction((100.0, 33.0), (100, 30))
    (10.0, 0.0)

    Parameters
    ----------
    poured_g : Mass of each component in the cup, 0 or more, not all 0 [g]
    parts : Parts by mass, in the same order, 0.001 to 100 000 each [-]
    """
    _require_poured(poured_g, parts)
    require_positive("poured mass", sum(poured_g), unit="g")
    fullest = max(range(len(parts)), key=lambda place: poured_g[place] / parts[place])
    return tuple(
        0.0 if place == fullest else max(0.0, poured_g[fullest] * (parts[place] / parts[fullest]) - poured_g[place])
        for place in range(len(parts))
    )


def _require_densities(parts: Sequence[float], densities: Sequence[float]) -> None:
    """Check one density for each part."""
    _require_parts(parts)
    if len(densities) != len(parts):
        raise RangeError("ratio", "every part needs one density", value=f"{len(densities)} for {len(parts)} parts")
    for density in densities:
        require_between("density", density, 0.3, 5.0, unit="g/cm^3", todo="1150 kg/m^3 is 1.15 g/cm^3")


# -- equivalents -----------------------------------------------------------------------------------------------------

NCO_G_MOL = 42.017
"""Molar mass of the isocyanate group, N=C=O."""
KOH_G_MOL = 56.1056
"""Molar mass of potassium hydroxide, in which OH numbers are counted."""


def phr(ahew_g_eq: float, eew_g_eq: float) -> float:
    """Find the parts of amine hardener for one hundred parts of epoxy resin, both by mass [-].

    phr = 100 AHEW / EEW: one amine hydrogen for each epoxide. The maker's stated ratio always comes first; this
    checks it. Source: H. Lee and K. Neville, Handbook of Epoxy Resins, McGraw-Hill, 1967.

    >>> phr(20.0, 200.0)
    10.0

    Parameters
    ----------
    ahew_g_eq : Amine hydrogen equivalent weight of the hardener, 1 to 1 000 000 [g/eq]
    eew_g_eq : Epoxide equivalent weight of the resin, 1 to 1 000 000 [g/eq]
    """
    _require_equivalent("amine hydrogen equivalent weight", ahew_g_eq)
    _require_equivalent("epoxide equivalent weight", eew_g_eq)
    return 100.0 * ahew_g_eq / eew_g_eq


def blend_equivalent_weight(masses_g: Sequence[float], equivalent_weights: Sequence[float]) -> float:
    """Find the equivalent weight of a blend [g/eq]; inf where every ingredient is inert.

    Raises RangeError for a value outside its range, or lists of different lengths.

    E = sum(m) / sum(m / e): equivalents add, and inert mass adds none. Source: H. Lee and K. Neville, Handbook of Epoxy
    Resins, McGraw-Hill, 1967.

    >>> round(blend_equivalent_weight((80, 10, 10), (189, 183, float("inf"))), 1)
    209.2

    Parameters
    ----------
    masses_g : Mass of each ingredient, 0 or more, not all 0 [g]
    equivalent_weights : Equivalent weight of each, 1 to 1 000 000, or inf for an inert filler or thinner [g/eq]
    """
    if len(masses_g) != len(equivalent_weights) or not masses_g:
        raise RangeError(
            "blend",
            "every ingredient needs one mass and one equivalent weight",
            value=f"{len(masses_g)} masses, {len(equivalent_weights)} equivalent weights",
        )
    for mass_g in masses_g:
        require_between("blend mass", mass_g, 0.0, inf, unit="g")
    total_g = require_positive("blend mass", sum(masses_g), unit="g")
    for weight_g_eq in equivalent_weights:
        if weight_g_eq != inf:
            _require_equivalent("equivalent weight", weight_g_eq)
    equivalents = sum(mass / weight for mass, weight in zip(masses_g, equivalent_weights, strict=True))
    return total_g / equivalents if equivalents > 0.0 else inf


def isocyanate_equivalent_weight(nco_percent: float) -> float:
    """Find the mass of isocyanate that holds one mole of NCO [g/eq], its equivalent weight, from its NCO content.

    E = 4201.7 / %NCO. No isocyanate holds more than 75 %: the lightest, methyl isocyanate, has 73.6 %. Source: ASTM
    D2572, Isocyanate Groups in Urethane Materials or Prepolymers.

    >>> round(isocyanate_equivalent_weight(31.5), 2)
    133.39

    Parameters
    ----------
    nco_percent : Mass of NCO groups per 100 g, above 0, at most 75 [%]
    """
    require_between(
        "NCO content", nco_percent, 0.0, 75.0, unit="%", todo="give percent by mass, 31.5 for 31.5 %", open_low=True
    )
    return 100.0 * NCO_G_MOL / nco_percent


def polyol_equivalent_weight(oh_number: float) -> float:
    """Find the mass of polyol that holds one mole of OH [g/eq], its equivalent weight, from its OH number.

    E = 56 105.6 / OH number. The densest polyols, glycerol and ethylene glycol, reach about 1800. Source: ASTM D4274,
    Determination of Hydroxyl Numbers of Polyols.

    >>> round(polyol_equivalent_weight(56), 1)
    1001.9

    Parameters
    ----------
    oh_number : Hydroxyl number, above 0, at most 2000 [mg KOH/g]
    """
    require_between("OH number", oh_number, 0.0, 2000.0, unit="mg KOH/g", open_low=True)
    return 1000.0 * KOH_G_MOL / oh_number


def _require_equivalent(where: str, value_g_eq: float) -> None:
    """Check that a mass per equivalent is one that a substance can have."""
    require_between(where, value_g_eq, 1.0, 1_000_000.0, unit="g/eq")


WEIGHING_LIMIT = 0.02
"""How far off ratio weighing may leave an amine epoxy (common practice, no source)."""


def _require_readability(readability_g: float) -> None:
    require_between("scale readability", readability_g, 0.0001, 1000.0, unit="g")


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
    _require_poured(shown_g, parts)
    _require_readability(readability_g)
    resin_error_g = readability_g / 2
    other_error_g = readability_g if one_tare else readability_g / 2
    if shown_g[0] <= resin_error_g:
        raise RangeError(
            "resin reading",
            "is lost in the scale's last digit",
            value=mass(shown_g[0], "g"),
            allowed=f"must be above {mass(resin_error_g, 'g')} on this scale",
            todo="mix a larger batch, or use a finer scale",
        )
    rich = shown_g[0] - resin_error_g, *(mass_g + other_error_g for mass_g in shown_g[1:])
    lean = shown_g[0] + resin_error_g, *(max(0.0, mass_g - other_error_g) for mass_g in shown_g[1:])
    return max(abs(_off(rich, parts)), abs(_off(lean, parts)))


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


def smallest_batch_g(parts: Sequence[float], readability_g: float, *, one_tare: bool = True) -> float:
    """Find the smallest batch that the scale keeps within `WEIGHING_LIMIT` of its ratio.

    M = (1/L) (e/f_h + (1 + L) d/(2 f_r)), with f the mass fractions and f_h the smallest but the resin's; e = d on
    one tare and d/2 otherwise.

    >>> round(smallest_batch_g((100, 30), 1.0), 1)
    249.8

    Parameters
    ----------
    parts : Parts by mass, resin first, 0.001 to 100 000 each [-]
    readability_g : The last digit of the scale, 0.0001 to 1000 [g]
    one_tare : True for one cup on one tare, False for a tare of its own for each component [-]
    """
    _require_parts(parts)
    _require_readability(readability_g)
    whole = sum(parts)
    other_error_g = readability_g if one_tare else readability_g / 2
    other_g = other_error_g * whole / min(parts[1:])
    resin_g = readability_g / 2 * whole / parts[0]
    return (other_g + (1.0 + WEIGHING_LIMIT) * resin_g) / WEIGHING_LIMIT


STOICHIOMETRY_LIMIT = 0.10
"""A stated ratio further than this from its equivalents is reported (common practice, no source)."""


def parts_by_mass(datasheet: Datasheet) -> tuple[float, float]:
    """Return a resin's mix ratio as parts by mass, resin first [-], converting a ratio by volume with the densities.

    Raises RangeError for a part or a density outside its range; InputError for a ratio by volume without both
    densities.
    """
    _require_parts(datasheet.ratio)
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
    """Return the sentence to show where a stated ratio is more than 10 % from its equivalents; else None."""
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


def stated_network(datasheet: Datasheet) -> tuple[float, float, float, tuple[str, str]]:
    """Return the hardener's groups over the resin's at the stated ratio, a molecule's groups of each, and why so."""
    gap = stoichiometry_gap(datasheet)
    balance = 1.0 if gap is None or not 1.0 / UNLIKELY <= 1.0 + gap <= UNLIKELY else 1.0 + gap
    resin, hardener = GROUPS[datasheet.chemistry]
    f, g = datasheet.resin.functionality or resin, datasheet.hardener.functionality or hardener
    whole = "the datasheet's ratio counts as balanced, group for group"
    if gap is not None and balance == 1.0 + gap:
        whole = f"the datasheet's ratio has {balance:.2f} groups of hardener to one of resin"
    stated = "as stated" if datasheet.hardener.functionality else "typical"
    return balance, f, g, (whole, f"molecules of {f:g} and {g:g} groups ({stated}): real mixes gel a little later")
