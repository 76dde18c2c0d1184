"""Data flows one way: no room of the package imports from one behind it."""

import ast
from pathlib import Path

import pytest

import fieldsim

PACKAGE = Path(fieldsim.__file__).parent
ROOMS = (
    "wire",
    "machine",
    "machine_file",
    "field",
    "waveform",
    "circuit",
    "mechanics",
    "operation",
    "studies",
    "words",
    "charts",
    "drawing",
    "tables",
    "report",
    "live",
    "commands",
)
# Leaves: they import nothing of the package but each other, and any room may use them.
LEAVES = ("cautions", "errors", "files", "words.numbers")


def modules_imported(path: Path) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
        elif isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
    return {m.removeprefix("fieldsim.") for m in found if m.startswith("fieldsim.")}


@pytest.mark.parametrize("room", ROOMS)
def test_no_arrow_points_back(room):
    allowed = {*ROOMS[: ROOMS.index(room) + 1]}
    files = sorted((PACKAGE / room).rglob("*.py"))
    assert files
    wrong = [
        f"{path.relative_to(PACKAGE)} imports {module}"
        for path in files
        for module in modules_imported(path)
        if module not in LEAVES and module.split(".")[0] not in allowed
    ]
    assert wrong == []


@pytest.mark.parametrize("leaf", LEAVES)
def test_a_leaf_stands_on_nothing(leaf):
    path = PACKAGE.joinpath(*leaf.split(".")).with_suffix(".py")
    assert modules_imported(path) <= set(LEAVES)


def test_every_folder_is_a_room():
    folders = {p.name for p in PACKAGE.iterdir() if p.is_dir() and p.name != "__pycache__"}
    assert folders == set(ROOMS)
