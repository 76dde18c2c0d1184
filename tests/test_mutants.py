"""The job that tries small mistakes: what it changes, which tests it runs, what it leaves out."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


@pytest.fixture(scope="module")
def job():
    place = ROOT / "benchmarks" / "mutants.py"
    made = importlib.util.spec_from_file_location("mutants_job", place)
    module = importlib.util.module_from_spec(made)
    sys.modules[made.name] = module
    made.loader.exec_module(module)
    yield module
    del sys.modules[made.name]


CODE = '''"""What it is."""

from __future__ import annotations

__all__ = ["f"]

UNITS = {"V": 1.0}


@property
def f(x: int | None) -> str:
    """Return a text."""
    return "a" if x < 3 else "b"
'''


def test_changes_are_made_where_they_can_be_seen(job):
    changes = job.Changes("a.py", CODE)
    mutants = [changes.mutant(i) for i in range(len(changes))]
    lines = {m.line for m in mutants}
    assert lines == {7, 13}  # not in docstrings, imports, annotations, decorators and __all__
    after = {m.after for m in mutants}
    assert 'return "a" if x <= 3 else "b"' in after
    assert 'UNITS = {"V": 2.0}' in after
    for mutant in mutants:
        assert mutant.code != CODE
        compile(mutant.code, "a.py", "exec")


def test_a_module_is_tried_by_its_mirror_and_by_the_claims_of_its_room(job):
    found = job.files_of("fieldsim/drawing/solids.py", ROOT)
    assert found[0] == "fieldsim/drawing/solids.py"  # its own examples
    assert "tests/drawing/test_solids.py" in found
    assert "tests/drawing/test_what_drawings_show.py" in found
    assert "tests/drawing/test_machine_drawing.py" not in found  # the mirror of another module
    without = job.files_of("fieldsim/drawing/views.py", ROOT)
    assert "tests/drawing/test_machine_drawing.py" in without


def test_a_sample_is_the_same_for_the_same_seed(job):
    one, two, other = (job.sample(["fieldsim/words"], 5, seed) for seed in (1, 1, 2))
    assert one == two != other
    assert len(one) == 5


def test_every_argued_mutant_is_still_a_line_of_its_file(job):
    argued = job.equivalent()
    assert argued
    for path, before, _ in argued:
        lines = [line.strip() for line in (ROOT / path).read_text("utf-8").splitlines()]
        assert before in lines, (path, before)
