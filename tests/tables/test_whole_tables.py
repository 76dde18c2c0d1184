"""Every key, column, unit and number that the commands give to other programs, as approved."""

from __future__ import annotations

import json
import math

import pytest
from approved import assert_approved
from machines import GEOMETRIES
from shown import COMMANDS, TABLES, file_name, line

from fieldsim.cli import main

DIGITS = 200  # of six: solvers stop at 5e-5 of what matters, on other processors a step later
NOISE = 2e-4  # below it in SI units stands what is left of cancelling, or an error


def as_lines(value, path=""):
    """Return one line for each number or word in an object; a long list by its ends and sum."""
    if isinstance(value, dict):
        return [row for key, inner in value.items() for row in as_lines(inner, f"{path}.{key}")]
    if isinstance(value, list) and len(value) > 8 and all(isinstance(v, float) for v in value):
        whole = math.fsum(abs(v) for v in value)
        shown = [value[0], value[1], value[-1], whole]
        return [f"{path}: {len(value)} numbers, {', '.join(map(number, shown))}"]
    if isinstance(value, list):
        rows = [row for i, inner in enumerate(value) for row in as_lines(inner, f"{path}[{i}]")]
        return rows or [f"{path}: []"]
    if "balance" in path and abs(value) < 1e-4:  # how well the books close is rounding
        return [f"{path}: small"]
    return [f"{path}: {number(value) if isinstance(value, float) else json.dumps(value)}"]


def number(value):
    """Return six digits; what is rounding beside 1 is written as nothing."""
    return f"{0.0 if abs(value) < 1e-11 else value:.5e}"


@pytest.mark.parametrize("name", COMMANDS)
def test_json(name, capsys):
    assert main([*line(name), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert_approved(f"json/{file_name(name, 'txt')}", "\n".join(as_lines(found)), DIGITS, NOISE)


def of_h5(path):
    import h5py

    rows = []
    with h5py.File(path) as file:
        rows += [f"{key} = {value!r}" for key, value in sorted(file.attrs.items())]
        for key, data in sorted(file.items()):
            names = [str(d[0].name).strip("/") if len(d) else "" for d in data.dims]
            more = {k: v for k, v in data.attrs.items() if k.islower() and isinstance(v, str)}
            values = data[()].ravel()
            if values.dtype.kind == "f":
                finite = [float(v) for v in values if math.isfinite(v)]
                shown = [*as_lines(finite, "values"), f"not finite: {len(values) - len(finite)}"]
            else:
                shown = [str([v.decode() if isinstance(v, bytes) else v for v in values.tolist()])]
            rows.append(f"{key} {data.shape} over {names} {more}: {'; '.join(shown)}")
    return "\n".join(rows)


@pytest.mark.parametrize("name", TABLES)
def test_hdf5(name, tmp_path):
    path = tmp_path / "a.h5"
    assert main([*line(name), "--out", str(path)]) == 0
    assert_approved(f"hdf5/{file_name(name, 'txt')}", of_h5(path), DIGITS, NOISE)


@pytest.mark.parametrize("name", TABLES)
def test_csv(name, tmp_path):
    path = tmp_path / "a.csv"
    assert main([*line(name), "--out", str(path)]) == 0
    head, *rows = path.read_text(encoding="utf-8").splitlines()
    shown = [head, *(rows if len(rows) <= 4 else [*rows[:2], f"{len(rows)} rows", rows[-1]])]

    def rounded(cell):
        try:
            return number(float(cell))
        except ValueError:
            return cell

    text = "\n".join(",".join(rounded(cell) for cell in row.split(",")) for row in shown)
    assert_approved(f"csv/{file_name(name, 'txt')}", text, DIGITS, NOISE)


def test_hdf5_of_a_report(tmp_path):
    ring = str(GEOMETRIES / "lamp_ring.yaml")
    assert main(["report", ring, "--crank-speed", "90 rpm", "--out", str(tmp_path / "out")]) == 0
    found = sorted((tmp_path / "out").glob("*.h5"))
    text = "\n".join(f"{path.name}\n{of_h5(path)}" for path in found)
    assert_approved("hdf5/report.txt", text, DIGITS, NOISE)
