"""A report of one design: its time, and how often each distinct thing is solved.

Run with ``python benchmarks/report.py`` on an otherwise quiet machine; with ``--against FOLDER``,
the checkout of another commit, both write the same report in turn and the ratio is printed.
"""

from __future__ import annotations

import os

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

import argparse
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any
from unittest import mock

ROOT = Path(__file__).parents[1]
DESIGN = ROOT / "geometries" / "lamp_ring.yaml"
SOLVERS = {
    "flux tables": ("fieldsim.operation.machine_at_speed", "flux_table"),
    "inductance matrices": ("fieldsim.circuit.machine_circuit", "inductance_matrix"),
    "steady states of the machine": ("fieldsim.circuit.solver", "periodic_steady_state"),
    "steady states with a meter": ("fieldsim.operation.light", "periodic_steady_state"),
    "clearances": ("fieldsim.operation.machine_at_speed", "check_collisions"),
}


def report_s(tree: Path, runs: int) -> list[float]:
    """Return the wall times of whole processes that write the report from a checkout [s]."""
    found = []
    environment = {**os.environ, "PYTHONPATH": str(tree)}
    for _ in range(runs):
        with tempfile.TemporaryDirectory() as folder:
            command = [sys.executable, "-m", "fieldsim", "report", str(DESIGN)]
            start = time.perf_counter()
            subprocess.run(
                [*command, "--crank-speed", "90 rpm", "--out", f"{folder}/report"],
                check=True, capture_output=True, env=environment, cwd=tree,
            )  # fmt: skip
            found.append(time.perf_counter() - start)
    return found


def counts() -> Counter[str]:
    """Return how often each solver is called for one report, and with how many distinct inputs."""
    import importlib

    from fieldsim.machine_file.reader import read
    from fieldsim.operation.operating_point import OperatingPoint
    from fieldsim.studies.design_study import study_design

    called: Counter[str] = Counter()

    def counted(name: str, function: Callable[..., Any]) -> Callable[..., Any]:
        def call(*given: Any, **named: Any) -> Any:
            called[name] += 1
            return function(*given, **named)

        return call

    patches = []
    for name, (module, attribute) in SOLVERS.items():
        original = getattr(importlib.import_module(module), attribute)
        patches.append(mock.patch(f"{module}.{attribute}", counted(name, original)))
    for patch in patches:
        patch.start()
    study = study_design(OperatingPoint(read(DESIGN), "90 rpm"))
    called["steps of what helps"] = 2 * len(study.sensitivity.levers)
    for patch in patches:
        patch.stop()
    return called


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--against", type=Path, help="checkout of another commit")
    parser.add_argument("--runs", type=int, default=5)
    asked = parser.parse_args()
    for name, count in counts().items():
        print(f"{name}: {count}")
    if asked.against is None:
        print(f"report of one design: {statistics.median(report_s(ROOT, asked.runs)):.2f} s")
        return
    ours, theirs = [], []
    for _ in range(asked.runs):
        theirs += report_s(asked.against, 1)
        ours += report_s(ROOT, 1)
    ratios = [b / a for a, b in zip(ours, theirs, strict=True)]
    print(f"report of one design: {statistics.median(ours):.2f} s", end=", ")
    print(f"there {statistics.median(theirs):.2f} s: {statistics.median(ratios):.2f} times")


if __name__ == "__main__":
    main()
