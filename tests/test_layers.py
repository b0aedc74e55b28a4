"""The layers hold, strictly: each package imports only those left of it in `CHAIN`, and modules run in no circle."""

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest
from source import imports_in, tree_of

import layup

PACKAGE = Path(layup.__file__).parent
CHAIN = (
    *("errors", "dimensions", "units", "chemistry", "planning", "files", "session", "review", "bench", "report"),
    *("app", "page", "commands", "cli", "__main__"),
)
APART = {("page", "app"), ("app", "page")}
"""Neither imports the other, though they stand side by side in the chain."""
HEAVY = {"textual", "rich", "pydantic", "pint", "numpy", "scipy", "tomllib"}
IMPURE = HEAVY | {"os", "pathlib", "io", "time", "datetime", "random", "socket", "subprocess"}
NO_WIDGETS = {"textual"}
MODULES = sorted(path for path in PACKAGE.rglob("*.py") if path.parent != PACKAGE or path.stem != "__init__")
LONGEST = 450
"""Lines of a module: a chapter, not a book."""


def area_of(path: Path) -> str:
    """Return the top-level part of the package that `path` belongs to."""
    return path.relative_to(PACKAGE).with_suffix("").parts[0]


def name_of(path: Path) -> str:
    """Return the dotted name of a module."""
    parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


NAMES = {name_of(path): path for path in MODULES}


def imports_of(path: Path) -> list[tuple[str, bool]]:
    """Return (module, at top level) for each import in `path`, those for the type checker among them."""
    found = []
    for node, at_top in imports_in(path):
        if isinstance(node, ast.Import):
            found += [(alias.name, at_top) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            module = node.module or ""
            for alias in node.names:
                full = f"{module}.{alias.name}"
                found.append((full if full in NAMES else module, at_top))
    return found


def arrows():
    """Return the modules of the program that each of them imports."""
    return {
        name: {module for module, _ in imports_of(path) if module in NAMES and module != name}
        for name, path in NAMES.items()
    }


def test_no_module_imports_from_its_right():
    for name, modules in arrows().items():
        own = area_of(NAMES[name])
        for module in modules:
            other = module.split(".")[1]
            assert CHAIN.index(other) <= CHAIN.index(own), f"{name} imports {module}"
            assert (own, other) not in APART, f"{name} imports {module}"


def test_modules_run_in_no_circle():
    left = arrows()
    while leaves := [name for name, right in left.items() if not right]:
        for name in leaves:
            del left[name]
        for right in left.values():
            right.difference_update(leaves)
    assert not left, f"in or before a circle: {sorted(left)}"


AREAS = [area for area in CHAIN if (PACKAGE / area).is_dir()]


@pytest.fixture(scope="module")
def loaded_by():
    """Load package after package from the left, in one fresh interpreter; return what is loaded after each.

    What a package loads on its right is then loaded by its turn: nothing left of it may have done so before.
    """
    inside = [[name for name, path in NAMES.items() if area_of(path) == area] for area in AREAS]
    code = "import importlib, sys\nfor area in {}:\n for m in area: importlib.import_module(m)\n print(*sys.modules)"
    words = [sys.executable, "-c", code.format(inside)]
    said = subprocess.run(words, capture_output=True, text=True, check=True).stdout
    return {area: line.split() for area, line in zip(AREAS, said.splitlines(), strict=True)}


@pytest.mark.parametrize("area", AREAS)
def test_loading_a_package_loads_nothing_on_its_right(area, loaded_by):
    loaded = loaded_by[area]
    reached = {name.split(".")[1] for name in loaded if name.startswith("layup.")}
    assert area in reached
    assert not reached & set(CHAIN[CHAIN.index(area) + 1 :])
    if area in ("chemistry", "planning"):
        assert not HEAVY & {name.split(".")[0] for name in loaded}
    if CHAIN.index(area) <= CHAIN.index("report"):
        assert not NO_WIDGETS & {name.split(".")[0] for name in loaded}


def test_the_core_is_pure():
    core = [path for path in MODULES if area_of(path) in ("chemistry", "planning")]
    assert len(core) > 50
    for path in core:
        for module, at_top in imports_of(path):
            root = module.split(".")[0]
            if root == "numpy":
                assert not at_top, f"{path.name} imports numpy on loading"
            else:
                assert root not in IMPURE, f"{path.name} imports {module}"


def test_importing_the_command_line_loads_no_screen_and_no_units():
    code = "import sys, layup.cli\nprint(*sorted(sys.modules))"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()
    assert not HEAVY & {name.split(".")[0] for name in loaded}


def test_the_package_root_re_exports_nothing():
    public = {name for name in vars(layup) if not name.startswith("_")}
    assert public <= {area_of(path) for path in MODULES}


def test_modules_and_functions_stay_small():
    lengths = {path: len(path.read_text(encoding="utf-8").splitlines()) for path in PACKAGE.rglob("*.py")}
    too_long = {str(path.relative_to(PACKAGE)): n for path, n in lengths.items() if n > LONGEST}
    assert not too_long
    for path in lengths:
        for node in ast.walk(tree_of(path)):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                doc = ast.get_docstring(node, clean=False)
                body = (node.end_lineno or 0) - node.lineno + 1 - (len(doc.splitlines()) if doc else 0)
                assert body <= 60, f"{path.name}:{node.lineno} {node.name} has {body} lines"


def test_one_name_stands_for_one_class():
    found = {}
    for path in MODULES:
        for node in tree_of(path).body:
            if isinstance(node, ast.ClassDef):
                found.setdefault(node.name, []).append(str(path.relative_to(PACKAGE)))
    assert {name: places for name, places in found.items() if len(places) > 1} == {}


def test_broad_excepts_stand_only_at_the_top_of_the_app():
    allowed = {"app/app.py"}
    for path in PACKAGE.rglob("*.py"):
        for node in ast.walk(tree_of(path)):
            if isinstance(node, ast.ExceptHandler):
                names = ast.unparse(node.type) if node.type else "everything"
                if names in ("Exception", "BaseException", "everything"):
                    assert str(path.relative_to(PACKAGE)) in allowed, f"{path.name}:{node.lineno} catches {names}"


def test_the_map_for_contributors_names_only_rooms_that_are_there():
    text = (PACKAGE.parent / "DEVELOPERS.md").read_text(encoding="utf-8")
    house = text.partition("## The house on one page")[2].partition("## Words and units")[0]
    named = set(re.findall(r"`(?:layup/)?([a-z_]+/)?([a-z_]+\.(?:py|html|js))`", house))
    there = {path.name for path in PACKAGE.rglob("*.*")} | {path.name for path in Path(__file__).parent.rglob("*.py")}
    assert len(named) > 40
    for folder, name in named:
        assert (PACKAGE / folder / name).exists() if folder and folder != "tests/" else name in there, f"{folder}{name}"
    folders = set(re.findall(r"`layup/([a-z]+)`", house))
    assert folders == {path.name for path in PACKAGE.iterdir() if path.is_dir() and (path / "__init__.py").exists()}
