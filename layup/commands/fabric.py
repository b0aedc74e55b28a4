"""Find the areal weight of a fabric from its label, a weighed coupon or its weave, in both unit systems.

`--list` shows the fabrics and faces that a plan may name.
"""

from __future__ import annotations

import argparse
from dataclasses import asdict

from layup.chemistry import fabric
from layup.commands.command import answer, quantity, takes
from layup.errors import InputError
from layup.files.tables import FABRICS, SURFACES, Fabric, Surface, find
from layup.units import areal_weight, parse

EXAMPLE = 'layup fabric "6 oz/yd^2"     layup fabric --weave 56/in 56/in --yarn D900     layup fabric --list tri 75'


WORDS = """
[TEXT...]  what the roll says, with its unit: "200 g/m^2"
--coupon MASS AREA  a dry piece: "2.03 g" "100 cm^2"
--weave ENDS PICKS  warp and weft count: 56/in 56/in
--crimp SHARE  extra yarn length for its waves: "3 %%" (default: none)
--list  fabrics and faces of the tables; TEXT finds: tri 75
--json
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the words of `layup fabric`."""
    yarn = 'warp and weft yarn: "68 tex", "7500 yd/lb", D900 or "ECG 150 1/2"'
    parser.add_argument("--yarn", nargs="+", metavar="YARN", help=yarn)
    takes(WORDS)(parser)


def run(args: argparse.Namespace) -> int:
    """Answer with the areal weight in g/m^2, oz/yd^2 and oz/ft^2."""
    assumptions: list[str] = []
    if args.list:
        return _list(" ".join(args.text), args)
    _require_one_way(args)
    if args.text:
        method, weight = "label", parse(" ".join(args.text), "areal_weight", where="areal weight")
        fabric.areal_weight_from_label_g_m2(weight, "g/m^2")
    elif args.coupon is not None:
        mass_g = quantity(args.coupon[0], "mass", assumptions, where="coupon mass")
        area_m2 = parse(args.coupon[1], "area", where="coupon area")
        method, weight = "coupon", fabric.areal_weight_from_coupon_g_m2(mass_g, area_m2)
    else:
        method, weight = "weave", _from_weave(args, assumptions)
    data = {
        "areal_weight_g_m2": weight,
        "areal_weight_oz_yd2": weight / fabric.OZ_PER_YD2_G_M2,
        "areal_weight_oz_ft2": weight / fabric.OZ_PER_FT2_G_M2,
        "method": method,
    }

    line = f"{weight:.1f} g/m²   {data['areal_weight_oz_yd2']:.2f} oz/yd²   {data['areal_weight_oz_ft2']:.3f} oz/ft²"
    return answer(args.json, data, lambda _: [line], assumptions=assumptions)


def _list(text: str, args: argparse.Namespace) -> int:
    """List the rows of the tables that hold a text, each with its source."""
    from layup.report.bars import table_lines  # here, because a label is converted without rich

    if args.coupon or args.weave or args.yarn or args.crimp:
        raise InputError("layup fabric", "--list takes words alone", todo="such as --list tri 75")
    fabrics, faces = find(text, FABRICS), find(text, SURFACES)
    if not fabrics and not faces:
        raise InputError("layup fabric", "is in no table", value=text, todo="'layup fabric --list' shows all")
    data = {"fabrics": [asdict(row) for row in fabrics], "faces": [asdict(row) for row in faces]}
    sources = list(dict.fromkeys([*(row.source for row in fabrics), *(row.source for row in faces)]))

    def marked(row: Fabric | Surface) -> str:
        return f"[{sources.index(row.source) + 1}]"

    def lines(_width: int) -> list[str]:
        unit = areal_weight.sign
        cloths = [(row.name, areal_weight.digits(row.areal_weight_g_m2), row.fibre, marked(row)) for row in fabrics]
        drinks = [(row.name, *_uptakes(row), marked(row)) for row in faces]
        heads = "face", "at least", "likely", "at most", "sealed", "sp. gravity", "from"
        shown = table_lines(("fabric", unit, "fibre", "from"), cloths, left="l l") if cloths else []
        shown += [f"resin that a face drinks, {unit}", *table_lines(heads, drinks, left="l")] if drinks else []
        return [*shown, *(f"[{place}] {source}" for place, source in enumerate(sources, 1))]

    return answer(args.json, data, lines, assumptions=[], whole=True)


def _uptakes(row: Surface) -> list[str]:
    uptakes = [areal_weight.digits(each) for each in (row.low_g_m2, row.uptake_g_m2, row.high_g_m2)]
    sealed = "" if row.presealed_g_m2 is None else areal_weight.digits(row.presealed_g_m2)
    return [*uptakes, sealed, "" if row.specific_gravity is None else f"{row.specific_gravity:.2f}"]


def _require_one_way(args: argparse.Namespace) -> None:
    """Refuse words that say nothing, or two things at once."""
    if [bool(args.text), args.coupon is not None, args.weave is not None].count(True) != 1:
        raise InputError(
            "layup fabric",
            "needs one of a label, --coupon or --weave",
            allowed='a label is a number and a unit such as "200 g/m^2"',
            todo="see 'layup fabric --help'",
        )
    if args.weave is None and (args.yarn or args.crimp):
        raise InputError("layup fabric", "--yarn and --crimp describe a weave", todo="add --weave ENDS PICKS")


def _from_weave(args: argparse.Namespace, assumptions: list[str]) -> float:
    if not args.yarn or len(args.yarn) > 2:
        raise InputError("layup fabric", "--weave needs --yarn WARP [WEFT]", todo='for instance --yarn "68 tex"')
    warp_tex = _yarn_tex(args.yarn[0])
    weft_tex = _yarn_tex(args.yarn[-1])
    crimp = 0.0 if args.crimp is None else parse(args.crimp, "fraction", where="crimp")
    if not crimp:
        assumptions.append("no crimp and no size on the yarn: the real cloth is up to 5 % heavier")
    return fabric.areal_weight_from_weave_g_m2(
        parse(args.weave[0], "count", where="ends"),
        parse(args.weave[1], "count", where="picks"),
        warp_tex,
        weft_tex,
        crimp=crimp,
    )


def _yarn_tex(text: str) -> float:
    """Read a yarn's code, or its linear density."""
    if text.strip()[:1].isalpha():
        return fabric.tex_from_yarn_code(text)
    return parse(text, "linear_density", where="yarn")
