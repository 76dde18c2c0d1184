"""Data flows one way: no room of the package imports from one behind it."""

import ast
from pathlib import Path

import pytest

import fieldsim

PACKAGE = Path(fieldsim.__file__).parent
ROOMS = ("errors", "geometry", "field", "waveform", "circuit", "studies", "output", "commands")
# The machine hands itself over to magpylib on request, inside the method that is asked for it.
ALLOWED = {("geometry", "field.magpylib_machine")}


def modules_imported(path: Path) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
        elif isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
    return {m.removeprefix("fieldsim.") for m in found if m.startswith("fieldsim.")}


@pytest.mark.parametrize("room", ROOMS[1:])
def test_no_arrow_points_back(room):
    behind = set(ROOMS[ROOMS.index(room) + 1 :])
    files = sorted((PACKAGE / room).glob("*.py"))
    assert files
    wrong = [
        f"{path.name} imports {module}"
        for path in files
        for module in modules_imported(path)
        if module.split(".")[0] in behind and (room, module) not in ALLOWED
    ]
    assert wrong == []
