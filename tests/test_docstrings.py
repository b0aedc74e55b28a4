"""What other packages use of the core says what its numbers mean; everything public says in a sentence what it does."""

import ast
import builtins
import importlib
import inspect
import pkgutil
import re
from pathlib import Path

import pytest
from source import imports_in

import layup
import layup.chemistry
import layup.planning

SUFFIX_UNIT = {
    "_g": "g",
    "_m": "m",
    "_m2": "m2",
    "_m3": "m3",
    "_s": "s",
    "_K": "K",
    "_J_mol": "J/mol",
    "_J_g": "J/g",
    "_J_g_K": "J/(g K)",
    "_g_m2": "g/m2",
    "_g_cm3": "g/cm3",
    "_g_eq": "g/eq",
    "_Pa": "Pa",
    "_Pa_s": "Pa s",
    "_N": "N",
    "_tex": "tex",
    "_per_m": "1/m",
    "_per_s": "1/s",
    "_per_K": "1/K",
    "_W_m2_K": "W/(m2 K)",
    "_W_m_K": "W/(m K)",
    "_W": "W",
    "_J_K": "J/K",
}


PACKAGE = Path(layup.__file__).parent
CONTRACT = {
    "areal_weight_from_label_g_m2",
    "areal_weight_from_coupon_g_m2",
    "areal_weight_from_weave_g_m2",
    "tex_from_yield",
    "fibre_volume_fraction",
    "fibre_mass_fraction",
    "resin_areal_weight_g_m2",
    "ply_thickness_m",
    "void_fraction",
    "phr",
    "blend_equivalent_weight",
    "isocyanate_equivalent_weight",
    "polyol_equivalent_weight",
    "ratio_by_weight_to_volume",
    "ratio_by_volume_to_weight",
    "split_mass",
    "off_ratio",
    "correction",
    "worst_case_off_ratio",
    "calibrate",
    "predict",
    "predict_band",
    "dose_s",
    "remaining_s",
    "assimilate",
    "gel_conversion",
    "glass_transition_K",
    "demould_time_s",
    "dew_point_K",
    "surface_margin_K",
    "blush_risk",
    "area_m2",
    "budget",
    "split_batches",
    "timeline",
    "temperature_window",
    "odds",
}
"""Names that whoever uses the core as a library may count on."""


COLLECTIONS = {"tuple", "list", "dict", "Sequence", "Iterable", "Collection", "Iterator", "Mapping"}
PLAIN = {"Array", "NDArray", "Real", "Callable", "date", "datetime", "Path", "Any"}
"""Types that hold numbers, texts or functions without saying which."""
NUMBERS = {"float", "int", "Array", "NDArray", "Real"}
"""What an answer needs a section of its own for, with its unit, unless the function's name has that; of other answers
the text says what they are."""


def taken_from_outside() -> set[tuple[str, str]]:
    """Return (module, name) of all that a package imports from another."""
    taken = set()
    for path in PACKAGE.rglob("*.py"):
        own = path.relative_to(PACKAGE).parts[0]
        for node, _ in imports_in(path):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("layup."):
                module = node.module or ""
                if module.split(".")[1] != own:
                    taken |= {(module, alias.name) for alias in node.names}
    return taken


def public_functions(*, taken: set[tuple[str, str]] | None = None):
    """Yield the public functions of the core; of `taken` only those that are in it or in the contract."""
    for package in (layup.chemistry, layup.planning):
        for info in pkgutil.iter_modules(package.__path__, package.__name__ + "."):
            module = importlib.import_module(info.name)
            for name, function in inspect.getmembers(module, inspect.isfunction):
                if function.__module__ != info.name or name.startswith("_"):
                    continue
                if taken is None or (info.name, name) in taken or name in CONTRACT:
                    yield pytest.param(function, id=f"{info.name}.{name}")


def is_ours(annotation: str | None) -> bool:
    """Whether a type is made of nothing but our classes, which say themselves what they hold and in which units."""
    words = set(re.findall(r"\w+", annotation or "")) - COLLECTIONS
    return not any(hasattr(builtins, word) or word in PLAIN for word in words - {"None"})


def explains_itself(parameter: inspect.Parameter) -> bool:
    """Whether a parameter needs no words: its type is ours, and its name carries no unit."""
    return is_ours(parameter.annotation) and not any(parameter.name.endswith(suffix) for suffix in SUFFIX_UNIT)


def section(doc: str, title: str) -> str:
    match = re.search(rf"^{title}\n-+\n(.*?)(?=^\w[\w ]*\n-+\n|\Z)", doc, re.S | re.M)
    return match.group(1) if match else ""


@pytest.mark.parametrize("function", list(public_functions()))
def test_a_public_core_function_says_in_a_sentence_what_it_does(function):
    doc = inspect.getdoc(function) or ""
    assert doc.splitlines()[0].endswith(".")


@pytest.mark.parametrize("function", list(public_functions(taken=taken_from_outside())))
def test_what_other_packages_use_documents_each_parameter_with_its_unit(function):
    doc = inspect.getdoc(function) or ""
    assert doc, "no docstring"
    parameters = [p for p in inspect.signature(function).parameters if p not in ("self", "cls")]
    if function.__name__ in ("require_between", "require_positive"):
        return
    text = section(doc, "Parameters")
    entries = dict(
        re.findall(r"^(\w+) :(.*?)(?=^\w+ :|\Z)", text, re.S | re.M)
    )  # a line each: types are in the signature
    said = [name for name in parameters if name in entries]
    assert list(entries) == said, "the docstring's parameters are not the signature's"
    signature = inspect.signature(function)
    unsaid = [name for name in parameters if name not in entries and not explains_itself(signature.parameters[name])]
    assert not unsaid, "says nothing of parameters that are no class of ours"
    for name, entry in entries.items():
        assert entry.strip(), f"says nothing of {name}"
        suffix = max((s for s in SUFFIX_UNIT if name.endswith(s)), key=len, default=None)
        if suffix:
            unit = f"[{SUFFIX_UNIT[suffix]}]"
            assert unit in entry.replace("^", ""), f"{name} says {entry.strip()!r}"
    named = function.__name__ not in CONTRACT and any(function.__name__.endswith(suffix) for suffix in SUFFIX_UNIT)
    if NUMBERS & set(re.findall(r"\w+", signature.return_annotation)) and not named:
        assert section(doc, "Returns").strip(), "no Returns section"


def test_the_suffix_check_can_fail():
    assert section("One.\n\nParameters\n----------\na_g : Mass [g].\n\nReturns\n-------\nMass [g].\n", "Parameters")
    assert "[g]" not in "a_g : Mass."


def test_only_what_is_made_of_our_classes_explains_itself():
    assert is_ours("tuple[Batch, ...]")
    assert is_ours("Sequence[PressAct] | None")
    assert is_ours(None)
    assert not is_ours("tuple[float, float]")
    assert not is_ours("Callable[[Plan], Plan]")
    assert not is_ours("Mapping[str, Datasheet]")
