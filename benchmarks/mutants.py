"""How many small mistakes the tests notice: a random sample of mutants, one test run each.

A mutant is the package with one small change: a sign turned, a number one greater, a text changed,
an argument left out. The tests that belong to the changed file run on it; if all of them still
pass, they would not have noticed that mistake either. Run as::

    python benchmarks/mutants.py fieldsim/words fieldsim/drawing --sample 50 --seed 1

Which tests belong to ``fieldsim/ROOM/module.py``: its own doctests, ``tests/ROOM/test_module.py``
(folders inside a room likewise) and those files of ``tests/ROOM`` that mirror no module but state
what a user sees; all of ``tests/ROOM`` if the module has no file of its own; and the files named
by ``--also``. All of them must pass on the unchanged package first.

The checkout is never touched: every worker has a copy of it in a temporary folder. A mutant that
runs into the time limit counts as caught, since nobody can miss it. Mutants that change nothing
anybody could see are argued in ``equivalent_mutants.txt`` beside this file and are left out.
Exit code 1 if under nine in ten are caught.

The changes are those that mutmut makes inside functions, taken from its table of operators and
applied to every statement instead, so that tables at the top of a module and properties count too.
"""

from __future__ import annotations

import argparse
import difflib
import os
import queue
import random
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree

import libcst as cst
import libcst.matchers as m
from mutmut.mutation.mutators import mutation_operators

ROOT = Path(__file__).resolve().parents[1]
EQUIVALENT = Path(__file__).with_name("equivalent_mutants.txt")
ENOUGH = 0.9
_LEAST_LIMIT_S = 60.0
_LIMIT_OVER_USUAL = 6.0


@dataclass(frozen=True)
class Mutant:
    """One change to one file.

    Parameters
    ----------
    path
        Of the file, from the root of the checkout.
    line
        Where the change begins, from 1.
    before, after
        The first line that differs, without its indent; ``after`` is empty where lines went away.
    code
        Of the whole changed file.
    """

    path: str
    line: int
    before: str
    after: str
    code: str


@dataclass(frozen=True)
class Verdict:
    """What the tests said of a mutant: ``caught``, ``survived`` or ``timed out``."""

    mutant: Mutant
    word: str


class _Sites(cst.CSTVisitor):
    """Collects pairs of a node and what may stand in its place, where a change can be seen.

    Not in annotations, imports, docstrings, ``__all__`` and decorators, which say nothing while
    the program runs or break it at once.
    """

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[cst.CSTNode, cst.CSTNode]] = []

    def on_visit(self, node: cst.CSTNode) -> bool:
        if isinstance(node, (cst.Annotation, cst.Decorator, cst.Import, cst.ImportFrom)):
            return False
        if m.matches(node, m.Expr(m.SimpleString() | m.ConcatenatedString())):
            return False
        if m.matches(node, m.If(m.Name("TYPE_CHECKING"))):
            return False
        if m.matches(node, m.Assign([m.AssignTarget(m.Name("__all__"))])):
            return False
        for kind, operator in mutation_operators:
            if isinstance(node, kind):
                self.found += [(node, changed) for changed in operator(node)]
        return True


def _first_difference(before: str, after: str) -> tuple[int, str, str]:
    """Return the number of the first line that differs, and the line before and after."""
    old, new = before.splitlines(), after.splitlines()
    for tag, i, j, k, end in difflib.SequenceMatcher(a=old, b=new, autojunk=False).get_opcodes():
        if tag != "equal":
            shown = " ".join(line.strip() for line in new[k:end])
            return i + 1, " ".join(line.strip() for line in old[i:j]), shown
    raise ValueError("nothing differs")


class Changes:
    """All the small changes that can be made to a module.

    Parameters
    ----------
    path
        What to call it.
    code
        Its text.

    Examples
    --------
    >>> changes = Changes("a.py", "a = b + 1")
    >>> [changes.mutant(i).after for i in range(len(changes))]
    ['a = None', 'a = b - 1', 'a = b + 2']
    """

    def __init__(self, path: str, code: str) -> None:
        self._path, self._code = path, code
        self._module = cst.parse_module(code)
        sites = _Sites()
        self._module.visit(sites)
        self._found = sites.found

    def __len__(self) -> int:
        return len(self._found)

    def mutant(self, number: int) -> Mutant:
        """Return the module with one of the changes."""
        changed = self._module.deep_replace(*self._found[number])
        assert isinstance(changed, cst.Module)
        return Mutant(self._path, *_first_difference(self._code, changed.code), changed.code)


def _modules(places: Iterable[str]) -> list[str]:
    """Return the modules at these files and below these folders, from the root, in order."""
    found: set[Path] = set()
    for place in places:
        path = ROOT / place
        if not path.exists():
            raise SystemExit(f"{place}: there is no such file or folder")
        found |= set(path.rglob("*.py")) if path.is_dir() else {path}
    return sorted(str(path.relative_to(ROOT)) for path in found)


def sample(places: Iterable[str], count: int, seed: int) -> list[Mutant]:
    """Return a random sample of all mutants of the files at these places, in order of file."""
    files = [Changes(path, (ROOT / path).read_text(encoding="utf-8")) for path in _modules(places)]
    everyone = [(i, j) for i, changes in enumerate(files) for j in range(len(changes))]
    chosen = random.Random(seed).sample(everyone, min(count, len(everyone)))
    print(f"{len(everyone)} mutants in {len(files)} files, {len(chosen)} of them tried", flush=True)
    return [files[i].mutant(j) for i, j in sorted(chosen)]


def files_of(path: str, root: Path) -> list[str]:
    """Return the test files that belong to a module, see the top of this file."""
    inside = Path(path).relative_to("fieldsim")
    room = root / "tests" / inside.parts[0]
    own = root / "tests" / inside.parent / f"test_{inside.stem}.py"
    if not room.is_dir():  # a module beside the rooms
        found = {own} if own.exists() else set(root.glob("tests/test_*.py"))
    else:
        everything = set(room.rglob("test_*.py"))
        claims = {test for test in everything if not _mirrors_a_module(test, root)}
        found = {own} | claims if own.exists() else everything
    return [path, *sorted(str(test.relative_to(root)) for test in found)]


def _mirrors_a_module(test: Path, root: Path) -> bool:
    """Return whether a test file is the mirror of a module."""
    folder = test.parent.relative_to(root / "tests")
    return (root / "fieldsim" / folder / f"{test.stem.removeprefix('test_')}.py").exists()


def equivalent(path: Path = EQUIVALENT) -> set[tuple[str, str, str]]:
    """Return file, line and changed line of the mutants that are argued to change nothing.

    Raises
    ------
    SystemExit
        If an entry does not have its four lines: file, line, changed line, reason.
    """
    text = path.read_text(encoding="utf-8") if path.exists() else ""
    entries = [
        [line.strip() for line in block.splitlines() if not line.startswith("#")]
        for block in text.split("\n\n")
    ]
    found = set()
    for entry in filter(None, entries):
        if len(entry) != 4:
            raise SystemExit(f"{path.name}: not four lines: {entry}")
        found.add((entry[0], entry[1].removeprefix("- "), entry[2].removeprefix("+").strip()))
    return found


def _run(
    copy: Path, tests: Sequence[str], limit_s: float, *more: str
) -> subprocess.CompletedProcess[str] | None:
    """Run tests in a copy, or return None if they took longer than the limit."""
    environment = {
        **os.environ,
        "PYTHONPATH": str(copy),
        "PYTHONDONTWRITEBYTECODE": "1",  # a mutant's bytecode must not outlive it
        "OPENBLAS_NUM_THREADS": "1",
        "MPLBACKEND": "Agg",
    }
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", *more, *tests]
    begun = subprocess.Popen(
        command,
        cwd=copy,
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
    )
    try:
        out, _ = begun.communicate(timeout=limit_s)
    except subprocess.TimeoutExpired:
        os.killpg(begun.pid, signal.SIGKILL)
        begun.communicate()
        return None
    return subprocess.CompletedProcess(command, begun.returncode, out, "")


def _usual_seconds(copy: Path, tests: Sequence[str], workers: int) -> dict[str, float]:
    """Run all tests on the unchanged package and return how long each file took.

    Raises
    ------
    SystemExit
        If one of them fails: then nothing could be said about a mutant.
    """
    record = copy / "usual.xml"
    done = _run(copy, tests, 3600.0, "-n", str(workers), f"--junitxml={record}")
    if done is None or done.returncode != 0:
        print(done.stdout if done else "longer than an hour")
        raise SystemExit("the tests must pass on the unchanged package first")
    seconds = dict.fromkeys(tests, 0.0)
    for case in ElementTree.parse(record).iter("testcase"):
        name = case.get("classname", "")
        for test in tests:
            if name.startswith(test.removesuffix(".py").replace("/", ".")):
                seconds[test] += float(case.get("time", 0.0))
    return seconds


def _judged(mutant: Mutant, copies: queue.Queue[Path], limit_s: float, also: list[str]) -> Verdict:
    """Run a mutant's tests in a copy that nobody uses."""
    copy = copies.get()
    place = copy / mutant.path
    before = place.read_bytes()
    try:
        place.write_text(mutant.code, encoding="utf-8")
        tests = [*files_of(mutant.path, copy), *also]
        done = _run(copy, tests, limit_s, "-x")
    finally:
        place.write_bytes(before)
        copies.put(copy)
    if done is None:
        return Verdict(mutant, "timed out")
    if done.returncode not in (0, 1, 2):  # failed, or could not even be imported
        raise SystemExit(f"{mutant.path}:{mutant.line}: no tests ran\n{done.stdout}")
    return Verdict(mutant, "survived" if done.returncode == 0 else "caught")


def _copied(folder: Path) -> Path:
    """Return a copy of the checkout in ``folder``."""
    passing = shutil.ignore_patterns(".git", ".venv", "__pycache__", ".*_cache", ".hypothesis")
    shutil.copytree(ROOT, folder, ignore=passing)
    return folder


def judged(mutants: Sequence[Mutant], also: list[str], workers: int) -> list[Verdict]:
    """Return what the tests say of each mutant, in the same order."""
    with tempfile.TemporaryDirectory(prefix="mutants_") as folder:
        copies: queue.Queue[Path] = queue.Queue()
        for i in range(workers):
            copies.put(_copied(Path(folder) / str(i)))
        tests = sorted(
            {test for mutant in mutants for test in files_of(mutant.path, ROOT)} | set(also)
        )
        seconds = _usual_seconds(Path(folder) / "0", tests, workers)

        def judge(mutant: Mutant) -> Verdict:
            usual = sum(seconds[test] for test in {*files_of(mutant.path, ROOT), *also})
            limit_s = _LEAST_LIMIT_S + _LIMIT_OVER_USUAL * usual
            verdict = _judged(mutant, copies, limit_s, also)
            print(f"{verdict.word:9s} {mutant.path}:{mutant.line}", flush=True)
            return verdict

        with ThreadPoolExecutor(workers) as pool:
            return list(pool.map(judge, mutants))


def report(verdicts: Sequence[Verdict], argued: int) -> bool:
    """Print the survivors and the sums, and return whether enough were caught."""
    for verdict in verdicts:
        if verdict.word == "survived":
            mutant = verdict.mutant
            print(f"\n{mutant.path}:{mutant.line}\n- {mutant.before}\n+ {mutant.after}")
    words = [verdict.word for verdict in verdicts]
    number = {word: words.count(word) for word in ("caught", "timed out", "survived")}
    share = 1 - number["survived"] / max(len(verdicts), 1)
    print("\n" + ", ".join(f"{count} {word}" for word, count in number.items()), end="")
    print(f", {argued} argued to be equivalent; {share:.1%} of {len(verdicts)} noticed")
    return share >= ENOUGH


def main() -> int:
    """Try a sample of mutants and return the exit code."""
    said = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n")[0])
    said.add_argument("places", nargs="+", help="folders and files of the package")
    said.add_argument("--sample", type=int, default=50, help="how many mutants")
    said.add_argument("--seed", type=int, default=1, help="another seed, another sample")
    said.add_argument("--also", nargs="*", default=[], help="test files to run on every mutant")
    said.add_argument("--workers", type=int, default=2, help="test runs at a time")
    options = said.parse_args()
    os.nice(10)  # others may want the processors as well
    drawn = sample(options.places, options.sample, options.seed)
    same = equivalent()
    mutants = [one for one in drawn if (one.path, one.before, one.after) not in same]
    verdicts = judged(mutants, options.also, options.workers)
    return 0 if report(verdicts, len(drawn) - len(mutants)) else 1


if __name__ == "__main__":
    raise SystemExit(main())
