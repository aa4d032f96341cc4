"""The shape of the house: layers, folders and messages, kept by tests and not by hope."""

from __future__ import annotations

import ast
import re
import tomllib
from importlib import import_module
from importlib.metadata import entry_points
from pathlib import Path

import pytest

from targets.target import find_targets

ROOT = Path(__file__).parent.parent
LAYERS = {"grammar": {"grammar"}, "compiler": {"grammar", "compiler"}, "targets": {"grammar", "compiler", "targets"}}
SOURCES = sorted(path for layer in LAYERS for path in (ROOT / layer).rglob("*.py"))


def imported(path: Path) -> set[str]:
    """Every module a file imports, also inside functions."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
    return found


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_imports_run_one_way(path: Path) -> None:
    layer = path.relative_to(ROOT).parts[0]
    ours = {name.split(".")[0] for name in imported(path)} & set(LAYERS)
    assert ours <= LAYERS[layer]
    if layer != "grammar":
        assert "lark" not in {name.split(".")[0] for name in imported(path)}


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_no_file_holds_a_second_idea(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 400


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_every_function_can_be_seen_at_once(path: Path) -> None:
    """From its ``def``: options of a command, declared above it, are not part of it."""
    functions = (ast.FunctionDef, ast.AsyncFunctionDef)
    found = [node for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))) if isinstance(node, functions)]
    assert [f.name for f in found if (f.end_lineno or f.lineno) - f.lineno + 1 > 60] == []


def test_targets_do_not_import_one_another() -> None:
    folders = target_folders()
    for path in (p for p in SOURCES if p.parts[-2] in folders and "targets" in p.parts):
        others = {f"targets.{folder}" for folder in folders - {path.parts[-2]}}
        assert not [name for name in imported(path) for other in others if name.startswith(other)], path


def target_folders() -> set[str]:
    return {path.parent.name for path in (ROOT / "targets").glob("*/emit.py")}


def test_every_target_folder_is_an_entry_point_and_has_the_same_furniture() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    registered = project["entry-points"]["rungwright.targets"]
    assert {name.replace("-", "_") for name in registered} == target_folders()
    assert {point.name for point in entry_points(group="rungwright.targets")} == set(registered)
    implementations = {target.name.replace("-", "_") for target in find_targets() if target.suffixes}
    for folder in target_folders():
        reader = ("read.py",) if folder in implementations else ()
        for part in ("emit.py", "templates", "README.md", *reader):
            assert (ROOT / "targets" / folder / part).exists(), f"targets/{folder}/{part}"


def test_imports_make_no_knot() -> None:
    """No module imports, at its top, one that leads back to it."""
    names = {".".join(p.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): p for p in SOURCES}
    graph = {name: {m for m in _top_imports(path) if m in names and m != name} for name, path in names.items()}
    done: set[str] = set()
    while True:
        free = {name for name in graph if name not in done and graph[name] <= done}
        if not free:
            break
        done |= free
    assert set(graph) == done


def _top_imports(path: Path) -> set[str]:
    found = set()
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
    return found


def test_every_code_is_explained_and_every_entry_is_used() -> None:
    from compiler.catalogue import entries

    explained = entries()
    used = {
        code
        for path in SOURCES
        if path.name not in ("faults.py", "catalogue.py")
        for code in re.findall(r'"(RW\d{3})"', path.read_text(encoding="utf-8"))
    }
    assert used <= set(explained)
    assert not set(explained) - used


@pytest.mark.parametrize("package", ["grammar", "compiler", "targets"])
def test_each_package_says_what_lives_there(package: str) -> None:
    assert (import_module(package).__doc__ or "").count(".") >= 2


def test_top_level_holds_what_was_agreed() -> None:
    agreed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "compiler", "grammar", "targets", "tests", "examples"}
    there = {p.name for p in ROOT.iterdir() if not p.name.startswith(".") and not p.name.endswith(".egg-info")}
    # README's first command leaves build and built behind, its next section a program of the reader's own.
    left_behind = {"build", "built", "dist"} | {p.name for p in ROOT.glob("*.seq")}
    assert there <= agreed | left_behind
