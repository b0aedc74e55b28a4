"""Docstrings have one style: a sentence; text; and for what other packages use of the core, what its numbers mean.

The text says what comes back with its unit, what is raised, equation and source; a doctest stands bare behind it. The
only section is Parameters, a line for each, `name : meaning [unit]`: types are in the signature.
"""

import ast
import builtins
import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable, Iterator
from pathlib import Path

from source import imports_in, tree_of

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
"""What an answer needs its unit said of, unless the function's name has that; of other answers the text says what they
are."""
HEADING = re.compile(
    r"^\s*(\w[\w ]*)\n\s*-{3,}\s*$|^\s*(Args|Arguments|Parameters|Returns|Yields|Raises|Notes):$", re.M
)
TYPE = re.compile(rf"(?:{'|'.join(sorted(COLLECTIONS | PLAIN | NUMBERS | {'str', 'bool', 'bytes', 'None'}))})\b(?!')")


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


def public_functions(*, taken: set[tuple[str, str]] | None = None) -> Iterator[Callable[..., object]]:
    """Yield the public functions of the core; of `taken` only those that are in it or in the contract."""
    for package in (layup.chemistry, layup.planning):
        for info in pkgutil.iter_modules(package.__path__, package.__name__ + "."):
            module = importlib.import_module(info.name)
            for name, function in inspect.getmembers(module, inspect.isfunction):
                if function.__module__ != info.name or name.startswith("_"):
                    continue
                if taken is None or (info.name, name) in taken or name in CONTRACT:
                    yield function


def name_of(function: Callable[..., object]) -> str:
    """Return a function's name with its module's."""
    return f"{function.__module__}.{function.__name__}"


def is_ours(annotation: str | None) -> bool:
    """Whether a type is made of nothing but our classes, which say themselves what they hold and in which units."""
    words = set(re.findall(r"\w+", annotation or "")) - COLLECTIONS
    return not any(hasattr(builtins, word) or word in PLAIN for word in words - {"None"})


def unit_by_name(name: str) -> str | None:
    """Return the unit that a name's suffix stands for."""
    suffix = max((suffix for suffix in SUFFIX_UNIT if name.endswith(suffix)), key=len, default=None)
    return None if suffix is None else SUFFIX_UNIT[suffix]


def explains_itself(parameter: inspect.Parameter) -> bool:
    """Whether a parameter needs no words: its type is ours, and its name carries no unit."""
    return is_ours(parameter.annotation) and unit_by_name(parameter.name) is None


def parameters_of(doc: str) -> str:
    """Return what a docstring says under Parameters, its only and last section."""
    return doc.partition("Parameters\n----------\n")[2]


def entries_of(doc: str) -> dict[str, str]:
    """Return what a docstring says of each parameter."""
    return dict(re.findall(r"^(\w+) :(.*?)(?=^\w+ :|\Z)", parameters_of(doc), re.S | re.M))


def units_of(doc: str) -> list[str]:
    """Return the units in a docstring's text, which are those of the answer."""
    text = doc.partition("Parameters\n----------\n")[0].partition(">>>")[0]
    return [unit.replace("^", "") for unit in re.findall(r"\[([^\[\]]+)\]", text)]


def faults_of_style(doc: str, *, used_elsewhere: bool) -> list[str]:
    """Return what in a docstring is not of the one style."""
    titles = [match.group(1) or match.group(2) for match in HEADING.finditer(doc)]
    faults = [f"has a section {title}" for title in titles if title != "Parameters"]
    if titles and not used_elsewhere:
        faults.append("has a section, and no other package uses it")
    if not re.match(r"(?s)[^\n].*?\.(\s|$)", doc.partition("\n\n")[0]):
        faults.append("does not begin with a sentence")
    for line in parameters_of(doc).splitlines():
        entry = re.match(r"\w+ : (?P<meaning>\S.*)", line)
        if entry is None and not re.match(r" {4}\S", line):
            faults.append(f"has no line 'name : meaning [unit]' but {line!r}")
        if entry is not None and TYPE.match(entry["meaning"]):
            faults.append(f"repeats a type: {line!r}")
    return faults


def docstrings():
    """Yield each docstring of the program, with whether another package imports what has it, or users of the core."""
    taken = taken_from_outside()
    for path in sorted(PACKAGE.rglob("*.py")):
        module = ".".join(("layup", *path.relative_to(PACKAGE).with_suffix("").parts))
        tree = tree_of(path)
        for node in ast.walk(tree):
            if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
                name = getattr(node, "name", "")
                used = node in tree.body and ((module, name) in taken or name in CONTRACT)
                yield f"{module}.{name}", ast.get_docstring(node), used


def test_a_public_core_function_says_in_a_sentence_what_it_does():
    firsts = {name_of(each): (inspect.getdoc(each) or "").partition("\n")[0] for each in public_functions()}
    assert len(firsts) > 200
    assert {name: first for name, first in firsts.items() if not first.endswith(".")} == {}


def test_all_docstrings_have_the_one_style():
    found = {name: faults_of_style(doc, used_elsewhere=used) for name, doc, used in docstrings() if doc}
    assert len(found) > 1000
    assert {name: faults for name, faults in found.items() if faults} == {}


def faults_of_function(function: Callable[..., object]) -> Iterator[str]:
    """Yield what a function that other packages use does not say of its parameters and its answer."""
    doc = inspect.getdoc(function) or ""
    if not doc:
        yield "no docstring"
    signature = inspect.signature(function)
    parameters = [p for p in signature.parameters if p not in ("self", "cls")]
    if function.__name__ in ("require_between", "require_positive", "require_stated"):
        return
    entries = entries_of(doc)
    if list(entries) != [name for name in parameters if name in entries]:
        yield "the docstring's parameters are not the signature's"
    for name in parameters:
        if name not in entries and not explains_itself(signature.parameters[name]):
            yield f"says nothing of {name}, which is no class of ours"
    for name, entry in entries.items():
        if not entry.strip():
            yield f"says nothing of {name}"
        unit = unit_by_name(name)
        if unit and f"[{unit}]" not in entry.replace("^", ""):
            yield f"{name} says {entry.strip()!r}, without [{unit}]"
    own = unit_by_name(function.__name__)
    if NUMBERS & set(re.findall(r"\w+", signature.return_annotation)) and (
        own is None or function.__name__ in CONTRACT
    ):
        units = units_of(doc)
        if not units:
            yield "does not say in which unit the answer is"
        elif own is not None and own not in units:
            yield f"says {units}, not {own}"


def test_what_other_packages_use_documents_each_parameter_with_its_unit():
    faults = {name_of(each): [*faults_of_function(each)] for each in public_functions(taken=taken_from_outside())}
    assert len(faults) > 150
    assert {name: found for name, found in faults.items() if found} == {}


def test_the_checks_of_style_can_fail():
    said = (
        "Find a mass [g].\n\nRaises RangeError if it is none.\n\n>>> 1\n1\n\nParameters\n----------\na_g : Mass [g]\n"
    )
    assert faults_of_style(said, used_elsewhere=True) == []
    assert entries_of(said) == {"a_g": " Mass [g]\n"}
    assert units_of(said) == ["g"]
    assert units_of(said.replace("mass [g]", "mass")) == []
    assert faults_of_style(said, used_elsewhere=False) == ["has a section, and no other package uses it"]
    assert faults_of_style("Find a mass\n\nof something.", used_elsewhere=False) == ["does not begin with a sentence"]
    for title in ("Returns", "Raises", "Notes", "References", "Examples"):
        doc = f"Find a mass.\n\n{title}\n-------\nMass [g].\n"
        assert faults_of_style(doc, used_elsewhere=True) == [f"has a section {title}"]
    assert faults_of_style("Find it.\n\n    Returns:\n        Mass [g].\n", used_elsewhere=True)
    old = said.replace("a_g : Mass [g]\n", "a_g : float\n    Mass [g].\n")
    assert faults_of_style(old, used_elsewhere=True) == ["repeats a type: 'a_g : float'"]


def test_the_unit_of_a_name_is_that_of_its_longest_suffix():
    assert unit_by_name("areal_weight_g_m2") == "g/m2"
    assert unit_by_name("mass_g") == "g"
    assert unit_by_name("share") is None


def test_only_what_is_made_of_our_classes_explains_itself():
    assert is_ours("tuple[Batch, ...]")
    assert is_ours("Sequence[PressAct] | None")
    assert is_ours(None)
    assert not is_ours("tuple[float, float]")
    assert not is_ours("Callable[[Plan], Plan]")
    assert not is_ours("Mapping[str, Datasheet]")
