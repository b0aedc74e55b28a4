"""Every public function of the core says what its numbers mean, and its names agree with its units."""

import importlib
import inspect
import pkgutil
import re

import pytest

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
}


def public_functions():
    for package in (layup.chemistry, layup.planning):
        for info in pkgutil.iter_modules(package.__path__, package.__name__ + "."):
            module = importlib.import_module(info.name)
            for name, function in inspect.getmembers(module, inspect.isfunction):
                if function.__module__ == info.name and not name.startswith("_"):
                    yield pytest.param(function, id=f"{info.name}.{name}")


def section(doc: str, title: str) -> str:
    match = re.search(rf"^{title}\n-+\n(.*?)(?=^\w[\w ]*\n-+\n|\Z)", doc, re.S | re.M)
    return match.group(1) if match else ""


@pytest.mark.parametrize("function", list(public_functions()))
def test_a_public_core_function_documents_each_parameter_with_its_unit(function):
    doc = inspect.getdoc(function) or ""
    assert doc, "no docstring"
    parameters = [p for p in inspect.signature(function).parameters if p not in ("self", "cls")]
    if function.__module__ == "layup.chemistry.ranges":
        return
    text = section(doc, "Parameters")
    entries = dict(re.findall(r"^(\w+) :[^\n]*\n(.*?)(?=^\w+ :|\Z)", text, re.S | re.M))
    assert list(entries) == parameters, "the docstring's parameters are not the signature's"
    for name, entry in entries.items():
        suffix = max((s for s in SUFFIX_UNIT if name.endswith(s)), key=len, default=None)
        if suffix:
            said = entry.replace("^", "")
            assert f"[{SUFFIX_UNIT[suffix]}]" in said, f"{name} says {entry.strip()!r}"
    if inspect.signature(function).return_annotation not in (None, "None"):
        assert section(doc, "Returns").strip(), "no Returns section"


def test_the_suffix_check_can_fail():
    assert section(
        "One.\n\nParameters\n----------\na_g : float\n    Mass [g].\n\nReturns\n-------\nfloat\n", "Parameters"
    )
    assert "[g]" not in "a_g : float\n    Mass."
