"""The layers: who imports what, where printing is done. The table itself is read from DEVELOPERS.md."""

import ast
import re
from collections.abc import Iterable, Iterator
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SOURCES = sorted(p for top in ("fem", "geometries") for p in (ROOT / top).rglob("*.py"))
WORDS = {
    "fem": "fem",
    "geometries": "geometries",
    "skfem": "skfem",
    "gmsh": "gmsh",
    "matplotlib": "matplotlib",
    "field": "fem.field",
    "characteristics": "fem.characteristics",
}
"""What the table's words stand for; "any arithmetic" and "private names" have tests of their own."""
ABOVE_ALL = {"fem/__init__.py", "fem/cli.py", "fem/__main__.py", "fem/threads.py"}
"""Files of the top that stand above the folders, or beside all of them."""


@cache
def table() -> dict[str, set[str]]:
    """Return for each place in the table, in its order, the modules that it never imports."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    rules: dict[str, set[str]] = {}
    for place, last in re.findall(r"^\| `((?:fem|geometries)/[^`|]*)` \|[^|]*\|([^|]*)\|$", text, flags=re.MULTILINE):
        words = (w.strip() for w in last.split(","))
        rules[place] = {WORDS[w] for w in words if w and w not in ("any arithmetic", "private names")}
    return rules


def place_of(file: str, places: Iterable[str]) -> str:
    """Return the place a file belongs to: the longest that its path begins with."""
    return max((place for place in places if file.startswith(place)), key=len)


def imported(tree: ast.AST, package: str) -> Iterator[str]:
    """Yield every module imported anywhere in a file, inside functions too, and every name taken from one."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            parts = package.split(".")[: len(package.split(".")) + 1 - node.level] if node.level else []
            base = ".".join([*parts, node.module or ""]).strip(".")
            yield base
            yield from (f"{base}.{alias.name}" for alias in node.names)
        elif isinstance(node, ast.Call) and ast.unparse(node.func) in ("__import__", "importlib.import_module"):
            yield from (arg.value for arg in node.args[:1] if isinstance(arg, ast.Constant))


@cache
def parsed(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def imports_of(path: Path) -> set[str]:
    return set(imported(parsed(path), ".".join(path.relative_to(ROOT).parent.parts)))


def within(module: str, package: str) -> bool:
    return module == package or module.startswith(package + ".")


def test_table_is_complete() -> None:
    rules = table()
    assert rules["geometries/cores/"] == {"fem"}
    assert rules["fem/circuit/"] == {"skfem", "gmsh", "matplotlib", "geometries", "fem.field", "fem.characteristics"}
    folders = {p.relative_to(ROOT).as_posix() for p in (*(ROOT / "fem").iterdir(), *(ROOT / "geometries").iterdir())}
    folders = {f"{folder}/" for folder in folders if (ROOT / folder / "__init__.py").exists()}
    assert folders == set(rules) - {"fem/"}, "a folder without a row in DEVELOPERS.md, or a row without its folder"


@pytest.mark.parametrize(("place", "never"), sorted(table().items()))
def test_no_layer_imports_what_it_must_not(place: str, never: set[str]) -> None:
    files = [p for p in SOURCES if place_of(p.relative_to(ROOT).as_posix(), (*table(), "geometries/")) == place]
    faults = [
        f"{path.relative_to(ROOT)} imports {module}"
        for path in files
        for module in sorted(imports_of(path))
        if any(within(module, bad) for bad in never)
    ]
    assert not faults, "\n".join(faults)


def test_imports_run_up_the_table() -> None:
    order = {place: row for row, place in enumerate(table())}
    faults = []
    for path in SOURCES:
        file = path.relative_to(ROOT).as_posix()
        if file in ABOVE_ALL or file == "geometries/__init__.py":
            continue
        here = place_of(file, order)
        for module in sorted(imports_of(path)):
            target = module.replace(".", "/")
            found = next((f for f in (f"{target}.py", f"{target}/__init__.py") if (ROOT / f).exists()), None)
            if found is None or found in ABOVE_ALL or found in ("fem/__init__.py", "geometries/__init__.py"):
                continue
            there = place_of(found, order)
            if order[there] > order[here]:
                faults.append(f"{file} imports {module}: {there} stands below {here}")
    assert not faults, "\n".join(faults)


@pytest.mark.parametrize(
    ("module", "allowed"),
    [("gmsh", ("geometries/assembly/mesh.py",)), ("matplotlib", ("fem/report/", "fem/examples/"))],
)
def test_heavy_libraries_have_one_place(module: str, allowed: tuple[str, ...]) -> None:
    users = [p.relative_to(ROOT).as_posix() for p in SOURCES if any(within(m, module) for m in imports_of(p))]
    assert [u for u in users if not u.startswith(allowed)] == []


def test_only_the_command_line_prints() -> None:
    # Example scripts stand above the command line: they are what a user would write.
    printing = [
        p.relative_to(ROOT).as_posix()
        for p in SOURCES
        for node in ast.walk(parsed(p))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "print"
    ]
    allowed = ("fem/commands/terminal.py", "fem/examples/")
    assert [p for p in printing if not p.startswith(allowed)] == []


def test_command_line_does_no_arithmetic() -> None:
    for path in (ROOT / "fem/cli.py", ROOT / "fem/__main__.py", *(ROOT / "fem/commands").glob("*.py")):
        operators = [n for n in ast.walk(parsed(path)) if isinstance(n, ast.BinOp)]
        found = [ast.unparse(n) for n in operators if isinstance(n.op, ast.Sub | ast.Mult | ast.Div | ast.Pow)]
        assert found == []


def test_examples_use_no_private_names() -> None:
    for path in (p for p in SOURCES if "examples" in p.parts):
        names = {part for module in imports_of(path) for part in module.split(".")}
        names |= {n.attr for n in ast.walk(parsed(path)) if isinstance(n, ast.Attribute)}
        assert [n for n in names if re.match(r"_[^_]", n)] == []


def test_the_walk_sees_imports_inside_functions() -> None:
    tree = ast.parse("def f():\n    from ..field import space\n    import gmsh as g\n    __import__('matplotlib')\n")
    assert {"fem.field", "fem.field.space", "gmsh", "matplotlib"} <= set(imported(tree, "fem.circuit"))
