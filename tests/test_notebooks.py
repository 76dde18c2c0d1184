"""The notebooks are kept without outputs and run from start to end."""

import json
from pathlib import Path

import pytest

FOLDER = Path(__file__).parents[1] / "geometries" / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))


def cells(path: Path) -> list[dict]:
    return json.loads(path.read_text(encoding="utf-8"))["cells"]


def test_there_are_two():
    assert len(NOTEBOOKS) == 2


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_it_is_kept_without_outputs(path):
    code = [cell for cell in cells(path) if cell["cell_type"] == "code"]
    assert all(cell["outputs"] == [] and cell["execution_count"] is None for cell in code)


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_it_runs(path, monkeypatch, capsys):
    import matplotlib as mpl

    monkeypatch.setattr(mpl, "rcParams", mpl.rcParams.copy())
    mpl.use("agg")
    monkeypatch.chdir(path.parent)
    names: dict[str, object] = {}
    for cell in cells(path):
        if cell["cell_type"] == "code":
            exec(compile("".join(cell["source"]), path.name, "exec"), names)
    mpl.pyplot.close("all")
    shown = capsys.readouterr().out
    assert "mA" in shown
