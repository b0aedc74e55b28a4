"""Write the mix sheet of one batch: scale readings in pouring order, how exact they are, and what to mind."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from math import ceil

from layup.chemistry.cure import OffRatioCure, off_ratio_cure
from layup.commands.command import answer, facts, panel_lines, quantity, takes
from layup.files.workshop import Workshop
from layup.planning.mix_sheet import COMPONENTS, MixSheet, Reading, Verdict, mix_sheet, verdict
from layup.planning.plan import Scale
from layup.units import mass, volume

EXAMPLE = 'layup mix slow-laminating "250 g"     layup mix slow-laminating 250 --poured 192 61'


add_arguments = takes("""
RESIN
MASS...  the whole batch: "250 g"
--readability MASS  the scale's last digit (default 1 g)
--capacity MASS  what the scale takes (default 5 kg)
--cup MASS  the most mix that your largest cup may hold: "400 g" (default: no limit)
--measure VOLUME  also by measuring cup or pump: its step, "5 ml" (default: by weight only)
--poured RESIN HARDENER  what is in the cup of each, "192 g" "61 g": adds the verdict; off ratio exits 1 (default: none)
--workshop DIR
--json
""")


def run(args: argparse.Namespace) -> int:
    """Answer with the mix sheet, and with the verdict where readings are given."""
    assumed: list[str] = []

    def grams(text: str, where: str) -> float:
        return quantity(text, "mass", assumed, where=where)

    cup_g = None if args.cup is None else grams(args.cup, "largest cup")
    datasheet = Workshop(args.workshop).resin(args.resin)
    sheet = mix_sheet(
        datasheet,
        grams(" ".join(args.mass), "batch mass"),
        Scale(grams(args.readability, "scale readability"), grams(args.capacity, "scale capacity")),
        cup_g=cup_g,
        measure_step_ml=None
        if args.measure is None
        else 1e6 * quantity(args.measure, "volume", assumed, where="measure"),
    )
    data = _data(sheet)
    judged, left = None, None
    if args.poured:
        poured_g = [grams(text, f"{name} poured") for text, name in zip(args.poured, COMPONENTS, strict=True)]
        judged = verdict(poured_g, sheet.parts, cup_g=cup_g)
        left = off_ratio_cure(datasheet, judged.off_ratio)
        data["verdict"] = {
            **asdict(judged),
            "add_resin_g": judged.add_g[0],
            "add_hardener_g": judged.add_g[1],
            **facts(left, "gel_conversion on_ratio_gel_conversion"),
            **facts(left, "glass_transition_K on_ratio_glass_transition_K"),
        }

    said = [*assumed, *sheet.assumptions, *(left.assumptions if left else ())]
    usable = judged is None or judged.word != "off ratio"
    return answer(
        args.json,
        data,
        lambda width: [*(verdict_lines(judged, left) if judged and left else ()), *sheet_lines(sheet, width=width)],
        assumptions=said,
        code=0 if sheet.fits and usable else 1,
    )


def _data(sheet: MixSheet) -> dict[str, object]:
    resin_g, hardener_g = sheet.masses_g
    best = sheet.one_tare
    return {
        "resin": sheet.resin_id,
        "mass_g": sheet.batch_g,
        "parts_by_mass": sheet.parts,
        "parts": {"resin_g": resin_g, "hardener_g": hardener_g},
        "resin_g": resin_g,
        "hardener_g": hardener_g,
        "readings": [asdict(reading) for reading in best.readings],
        "separate_readings": [asdict(reading) for reading in sheet.separate_cups.readings],
        "volume": asdict(sheet.by_volume) if sheet.by_volume else None,
        **facts(best.accuracy, "worst_case_off_ratio rounding_off_ratio total_off_ratio"),
        "separate_worst_case_off_ratio": sheet.separate_cups.accuracy.worst_case_off_ratio,
        "separate_total_off_ratio": sheet.separate_cups.accuracy.total_off_ratio,
        "smallest_batch_g": best.accuracy.smallest_batch_g,
        **facts(sheet, "cup_ml fits warnings cautions"),
    }


def verdict_lines(judged: Verdict, left: OffRatioCure) -> list[str]:
    """Return the verdict on what was poured, which is what somebody with a cup in hand reads first."""
    return [
        f"Poured: {judged.word.upper()} ({100 * judged.off_ratio:+.1f} % hardener)",
        *panel_lines((*judged.advice, *([] if judged.word == "on ratio" else [left.words]))),
        "",
    ]


def sheet_lines(sheet: MixSheet, *, width: int) -> list[str]:
    """Return a mix sheet as lines of text, its two ways to weigh side by side where `width` has room for them."""
    resin_g, hardener_g = sheet.masses_g
    ratio = f"100 : {100 * sheet.parts[1] / sheet.parts[0]:.4g}"
    lines = [
        f"{sheet.resin_id}: {mass(sheet.batch_g, 'g')} = "
        f"{mass(resin_g, '.1f')} resin + {mass(hardener_g, '.1f')} hardener",
        f"({ratio} by weight)",
        "",
        *_ways_to_weigh(sheet, width),
    ]
    if sheet.by_volume:
        lines += ["", "Measured"]
        for measure in sheet.by_volume.measures:
            shows = volume(measure.shows_ml * 1e-6, "g")
            lines.append(f"  {measure.component:<9} {shows}  ({measure.steps} marks or strokes)")
        lines.append(f"  at worst {100 * sheet.by_volume.accuracy.total_off_ratio:.1f} % off ratio")
    smallest = mass(ceil(sheet.one_tare.accuracy.smallest_batch_g))
    lines += ["", f"Smallest batch that the last digit of this scale leaves within 2 %: {smallest}"]
    if sheet.cup_ml:
        lines.append(f"Cup: {sheet.cup_words}, so that it is half to two-thirds full")
    lines += [f"! {warning}" for warning in sheet.warnings]
    return [*lines, "", *panel_lines(sheet.cautions)]


def _ways_to_weigh(sheet: MixSheet, width: int) -> list[str]:
    """Return the readings on one tare and on a tare each."""
    joint, apart = (
        [
            title,
            *(f"  {_reading(reading, to)}" for reading in way.readings),
            f"  at worst {100 * way.accuracy.total_off_ratio:.1f} % off ratio",
        ]
        for title, to, way in (
            ("One cup, tared once", "to ", sheet.one_tare),
            ("Each on its own tare", "", sheet.separate_cups),
        )
    )
    column = max(map(len, joint)) + 3
    if column + max(map(len, apart)) > width:
        return [*joint, "", *apart]
    return [f"{left:<{column}}{right}" for left, right in zip(joint, apart, strict=True)]


def _reading(reading: Reading, to: str) -> str:
    within = f"{reading.within_g[0]:g} to {reading.within_g[1]:g}" if reading.within_g else "none within 2 %"
    return f"{reading.component:<9} {to}{mass(reading.shows_g, 'g')}  ({within})"
