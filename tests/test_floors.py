"""The floors of the house: a file imports only from floors below, or without cycles from its own folder."""

from __future__ import annotations

import ast
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
FLOORS = {"values": 0, "parts": 1, "wire": 1, "core": 2, "shell": 3}
TOP = 4
NEVER = {
    "asyncio",
    "datetime",
    "io",
    "logging",
    "os",
    "pathlib",
    "random",
    "secrets",
    "socket",
    "subprocess",
    "threading",
    "time",
    "uuid",
}
FILES = sorted(path for path in (ROOT / "bridge").rglob("*.py") if "shipped" not in path.parts)


def name_of(path: Path) -> tuple[str, ...]:
    """('bridge', 'core', 'engine') of a file."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    return parts[:-1] if parts[-1] == "__init__" else parts


def folder_of(name: tuple[str, ...]) -> str:
    """The folder that decides the floor; empty for the top one."""
    return name[1] if len(name) > 1 and name[1] in FLOORS else ""


def imports(path: Path) -> list[tuple[int, str]]:
    """(line, whole module name) of every import, those for types only included."""
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found += [(node.lineno, alias.name) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}:{node.lineno}: relative imports hide the floor"
            found.append((node.lineno, node.module or ""))
    return found


def calls(path: Path) -> list[tuple[int, str]]:
    """(line, name) of every call of a plain name."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return [
        (node.lineno, node.func.id)
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
    ]


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(ROOT)))
def test_no_file_reaches_up_or_across(path: Path) -> None:
    """Imports go down, or stay in the folder; parts and wire never meet; parts stand alone."""
    folder = folder_of(name_of(path))
    floor = FLOORS.get(folder, TOP)
    crossed = []
    for line, module in imports(path):
        if module.split(".")[0] != "bridge" or module == "bridge":
            continue
        other = folder_of(tuple(module.split(".")))
        there = FLOORS.get(other, TOP)
        if there > floor or (there == floor and other != folder) or (folder == other == "parts"):
            crossed.append(
                f"{path.relative_to(ROOT)}:{line}: floor {floor} imports {module} of floor {there}"
            )
    assert not crossed, "\n".join(crossed)


@pytest.mark.parametrize(
    "path",
    [path for path in FILES if FLOORS.get(folder_of(name_of(path)), TOP) <= 2],
    ids=lambda path: str(path.relative_to(ROOT)),
)
def test_the_lower_floors_are_pure(path: Path) -> None:
    """Floors 0 to 2 read no clock, file, socket or chance, print nothing, and know numpy alone."""
    bad = []
    for line, module in imports(path):
        first = module.split(".")[0]
        known = first in sys.stdlib_module_names or first in ("bridge", "numpy")
        if first in NEVER or not known:
            bad.append(f"{path.relative_to(ROOT)}:{line}: imports {module}")
    bad += [
        f"{path.relative_to(ROOT)}:{n}: calls {f}" for n, f in calls(path) if f in ("open", "print", "input")
    ]
    assert not bad, "\n".join(bad)


def test_no_imports_in_circles() -> None:
    """No file imports itself by way of others."""
    names = {".".join(name_of(path)): path for path in FILES}
    graph = {
        name: {module for _, module in imports(path) if module in names and module != name}
        for name, path in names.items()
    }
    done: set[str] = set()

    def walk(name: str, trail: tuple[str, ...]) -> None:
        assert name not in trail, " -> ".join((*trail[trail.index(name) :], name))
        if name in done:
            return
        for other in sorted(graph[name]):
            walk(other, (*trail, name))
        done.add(name)

    for name in sorted(graph):
        walk(name, ())


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(ROOT)))
def test_every_file_says_what_it_knows(path: Path) -> None:
    """A file opens with what it knows and what it must never know, and has at most 400 lines."""
    text = path.read_text(encoding="utf-8")
    if path.name != "__init__.py":
        opening = ast.get_docstring(ast.parse(text)) or ""
        assert opening.startswith("Knows:"), path
        assert "Must never know:" in opening, path
    assert text.count("\n") <= 400, f"{path}: split it"
