"""One import for a notebook: quick, listed, documented, each name with an example that runs."""

import dataclasses
import inspect
import re
import subprocess
import sys

import pytest

import fieldsim as fs


def test_the_import_loads_nothing_heavy():
    code = (
        "import sys, fieldsim; "
        "print([m for m in ('numpy', 'pydantic', 'pint', 'matplotlib') if m in sys.modules])"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "[]"


def test_dir_lists_the_names_and_no_more():
    assert dir(fs) == sorted([*fs.__all__, "__version__"])


def test_the_docstring_names_each_once():
    lines = [
        line for line in fs.__doc__.splitlines() if re.match(r"    (?!import|machine|point)", line)
    ]
    named = [name for line in lines for name in line.split() if re.fullmatch(r"\w+", name)]
    assert sorted(named) == sorted(fs.__all__)


@pytest.mark.parametrize("name", fs.__all__)
def test_each_name_is_there_and_documented(name):
    found = getattr(fs, name)
    assert len(inspect.getdoc(found)) > 30
    assert found.__module__.startswith("fieldsim.")


@pytest.mark.parametrize(
    "name", ["Machine", "Magnet", "Rotor", "Coil", "CoilWire", "Load", "Crank"]
)
def test_a_part_documents_all_its_values(name):
    part = getattr(fs, name)
    for field in dataclasses.fields(part):
        if field.name not in ("file", "share_m"):  # what its machine or reader keeps
            assert f"\n    {field.name}\n" in part.__doc__


def test_an_unknown_name_says_what_there_is():
    with pytest.raises(AttributeError, match="fieldsim has no 'Machin'; there are: Machine"):
        _ = fs.Machin


def test_a_machine_and_a_point_show_themselves_as_tables():
    machine = fs.read("geometries/lamp_ring.yaml").changed({"title": "<i>Ring</i>"})
    shown = machine._repr_html_()
    assert "&lt;i&gt;Ring&lt;/i&gt;" in shown
    assert "<td>magnets.bar.remanence</td><td>1.2 T</td>" in shown
    point = fs.OperatingPoint(machine, "90 rpm", tolerance=1e-4)
    assert "<td>pickup, open</td><td>6.93 V RMS, 10.0 V peak</td>" in point._repr_html_()
    assert "<td>6 x white LED</td><td>7.14 mA on average, lights</td>" in point._repr_html_()
    assert repr(point) == "OperatingPoint('<i>Ring</i>', crank at 90 rpm)"
