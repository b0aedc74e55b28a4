"""The layers hold: `errors, units <- chemistry <- planning <- records, materials <- report <- screens <- cli`."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import layup

PACKAGE = Path(layup.__file__).parent
RANK = {
    "errors": 0,
    "dimensions": 0,
    "units": 1,
    "chemistry": 2,
    "planning": 3,
    "records": 4,
    "materials": 4,
    "report": 4.5,
    "commands": 5,
    "screens": 5,
    "cli": 6,
    "__main__": 7,
}
HEAVY = {"textual", "rich", "pydantic", "pint", "numpy", "scipy", "tomllib"}
IMPURE = HEAVY | {"os", "pathlib", "io", "time", "datetime", "random", "socket", "subprocess"}
MODULES = sorted(path for path in PACKAGE.rglob("*.py") if path.parent != PACKAGE or path.stem != "__init__")


def area_of(path: Path) -> str:
    """Return the top-level part of the package that `path` belongs to."""
    return path.relative_to(PACKAGE).with_suffix("").parts[0]


def imports_of(path: Path) -> list[tuple[str, bool]]:
    """Return (module, at top level) for each import in `path`."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    top = set(map(id, tree.body))
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found += [(alias.name, id(node) in top) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            found.append((node.module or "", id(node) in top))
    return found


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_no_module_imports_from_a_layer_above_its_own(path):
    rank = RANK[area_of(path)]
    for module, _ in imports_of(path):
        if module == "layup" or not module.startswith("layup."):
            continue
        other = module.split(".")[1]
        assert RANK[other] <= rank, f"{path.name} imports {module}"
        if RANK[other] == rank and other != area_of(path):
            assert {other, area_of(path)} in ({"records", "materials"}, {"commands", "screens"}), (
                f"{path.name}: {module}"
            )


@pytest.mark.parametrize(
    "path", [p for p in MODULES if area_of(p) in ("chemistry", "planning")], ids=lambda p: str(p.relative_to(PACKAGE))
)
def test_the_core_is_pure(path):
    for module, at_top in imports_of(path):
        root = module.split(".")[0]
        if root == "numpy":
            assert not at_top, f"{path.name} imports numpy on loading"
        else:
            assert root not in IMPURE, f"{path.name} imports {module}"


def test_loading_the_whole_core_loads_nothing_heavy():
    core = [
        "layup." + ".".join(p.relative_to(PACKAGE).with_suffix("").parts)
        for p in MODULES
        if area_of(p) in ("chemistry", "planning") and p.stem != "__init__"
    ]
    code = f"import importlib, sys\nfor m in {core!r}: importlib.import_module(m)\nprint(*sorted(sys.modules))"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()
    assert "layup.chemistry.potlife" in loaded
    assert not HEAVY & {name.split(".")[0] for name in loaded}


def test_importing_the_command_line_loads_no_screen_and_no_units():
    code = "import sys, layup.cli\nprint(*sorted(sys.modules))"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()
    assert not HEAVY & {name.split(".")[0] for name in loaded}


def test_the_package_root_re_exports_nothing():
    public = {name for name in vars(layup) if not name.startswith("_")}
    submodules = {area_of(path) for path in MODULES}
    assert public <= submodules


def test_modules_and_functions_stay_small():
    lengths = {path: len(path.read_text(encoding="utf-8").splitlines()) for path in PACKAGE.rglob("*.py")}
    too_long = {path.name: n for path, n in lengths.items() if n > 600}
    assert not too_long
    for path in lengths:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                doc = ast.get_docstring(node, clean=False)
                body = (node.end_lineno or 0) - node.lineno + 1 - (len(doc.splitlines()) if doc else 0)
                assert body <= 60, f"{path.name}:{node.lineno} {node.name} has {body} lines"


def test_broad_excepts_stand_only_at_the_top_of_the_app():
    allowed = {"screens/app.py", "screens/work.py"}
    for path in PACKAGE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ExceptHandler):
                names = ast.unparse(node.type) if node.type else "everything"
                if names in ("Exception", "BaseException", "everything"):
                    assert str(path.relative_to(PACKAGE)) in allowed, f"{path.name}:{node.lineno} catches {names}"
