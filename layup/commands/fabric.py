"""Find the areal weight of a fabric from its label, a weighed coupon or its weave, in both unit systems."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from layup.chemistry import fabric
from layup.commands.answer import add_json_argument, answer
from layup.commands.reading import quantity
from layup.errors import InputError
from layup.units import parse

if TYPE_CHECKING:
    from rich.console import Console

EXAMPLE = 'layup fabric "6 oz/yd^2"     layup fabric --weave 56/in 56/in --yarn D900'


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the words of `layup fabric`."""
    parser.add_argument("label", nargs="*", metavar="TEXT", help='what the roll says, with its unit: "200 g/m^2"')
    parser.add_argument("--coupon", nargs=2, metavar=("MASS", "AREA"), help='a dry piece: "2.03 g" "100 cm^2"')
    parser.add_argument("--weave", nargs=2, metavar=("ENDS", "PICKS"), help="warp and weft count: 56/in 56/in")
    parser.add_argument(
        "--yarn", nargs="+", metavar="YARN", help='warp and weft yarn: "68 tex", "7500 yd/lb", D900 or "ECG 150 1/2"'
    )
    parser.add_argument("--crimp", metavar="SHARE", help='extra yarn length for its waves: "3 %%" (default none)')
    add_json_argument(parser)


def run(args: argparse.Namespace) -> int:
    """Answer with the areal weight in g/m^2, oz/yd^2 and oz/ft^2."""
    assumptions: list[str] = []
    _require_one_way(args)
    if args.label:
        method, weight = "label", parse(" ".join(args.label), "areal_weight", where="areal weight")
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

    def text(console: Console) -> None:
        console.print(
            f"{weight:.1f} g/m²   {data['areal_weight_oz_yd2']:.2f} oz/yd²   {data['areal_weight_oz_ft2']:.3f} oz/ft²"
        )

    return answer(args.json, data, text, assumptions=assumptions)


def _require_one_way(args: argparse.Namespace) -> None:
    """Refuse words that say nothing, or two things at once."""
    if [bool(args.label), args.coupon is not None, args.weave is not None].count(True) != 1:
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
