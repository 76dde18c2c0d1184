"""The rest of the main chain: cost ratios, memory, the hard case, cold starts.

Run with ``python benchmarks/chain.py`` on an otherwise quiet machine; times are of one core, warm,
except the cold starts, which are whole processes.
"""

from __future__ import annotations

import os

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

import math
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import numpy as np

import fieldsim as fs
from fieldsim.field.linkage.track import coil_in_rotor, track_of
from fieldsim.field.linkage.track_curve import angle_curve, track_curve

GEOMETRIES = Path(__file__).parent.parent / "geometries"
BAR = fs.Magnet("bar", fs.Cuboid((0.020, 0.010, 0.005)), 1.2)
ALONG_Z = fs.Shaft((0, 0, 0), (0, 0, 1))


def rotor(name: str, magnets: int, height: float, ratio: int) -> fs.Rotor:
    """Return a rotor with evenly spaced magnets of alternating poles."""
    mount = fs.Mount("bar", 0.022, height, fs.North.PLUS_SHAFT, count=magnets)
    return fs.Rotor(name, ALONG_Z, (1, 0, 0), (mount,), Fraction(ratio))


def machine(*rotors: fs.Rotor) -> fs.Machine:
    """Return a machine of rotors around the coil of 1800 turns."""
    coil = fs.Coil("coil", (0, 0.022, 0), (0, 0, 1), (1, 0, 0), (0.024, 0.016), 0.012, 0.006, 1800)
    return fs.Machine("benchmark", (BAR,), rotors, (coil,))


def best_s(work: Callable[[], object], rounds: int = 7) -> float:
    """Return the best time of a call on this core [s]."""
    found = math.inf
    for _ in range(rounds):
        start = time.thread_time()
        work()
        found = min(found, time.thread_time() - start)
    return found


def hard_case() -> None:
    """Print error against cost for a bar turning in a long coil with 1.5 mm clearance."""
    inside = fs.read(GEOMETRIES / "bar_inside_coil.yaml")
    turning, coil = inside.placed_rotors[0], inside.placed_coils[0]
    track, seen = track_of(turning.magnets[0]), coil_in_rotor(coil, turning)
    truth = track_curve(track, seen, 0.0, 1e-10)
    k = np.arange(len(truth.harmonics_m2))
    angles = np.linspace(0, 2 * math.pi, 721)
    wave = 2 * (np.exp(1j * np.outer(angles, k)) @ truth.harmonics_m2).real
    print("a bar turning in a long coil, 1.5 mm from its long sides:")
    for method in (track_curve, angle_curve):
        for tolerance in (1e-3, 1e-4, 1e-5, 1e-6, 1e-7):
            curve = method(track, seen, 0.0, tolerance)
            n = np.arange(len(curve.harmonics_m2))
            shown = 2 * (np.exp(1j * np.outer(angles, n)) @ curve.harmonics_m2).real
            rest = shown - wave
            error = float(
                np.abs(rest - curve.harmonics_m2[0].real + truth.harmonics_m2[0].real).max()
            )
            print(
                f"  {method.__name__:12s} asked {tolerance:.0e}: true error "
                f"{error / truth.swing_m2:.1e}, estimate {curve.error_m2 / truth.swing_m2:.1e}, "
                f"{curve.points} evaluations, {curve.angles} angles"
            )


def cold_start(*arguments: str) -> float:
    """Return the best wall time of a whole process of the command line [s]."""
    found = math.inf
    for _ in range(5):
        start = time.perf_counter()
        subprocess.run(
            [sys.executable, "-m", "fieldsim", *arguments], check=True, capture_output=True
        )
        found = min(found, time.perf_counter() - start)
    return found


def main() -> None:
    """Measure and print."""
    one = machine(rotor("upper", 1, 0.0115, 9))
    two = machine(rotor("upper", 4, 0.0115, 9), rotor("lower", 4, -0.0115, -9))
    single = best_s(lambda: fs.flux_table(one))
    double = best_s(lambda: fs.flux_table(two))
    print(f"one rotor with one magnet {single * 1e3:.1f} ms, at the default tolerance")
    print(f"two rotors with four each: {double / single:.2f} times that (at most 2.2)")
    gaps = [float(g) for g in np.linspace(0.001, 0.020, 20)]
    point = fs.OperatingPoint(two, crank_speed_rad_per_s=12.0, tolerance=1e-5)
    study = best_s(lambda: fs.gap_study(point, gaps), 2)
    print(f"20 rows of gaps: {study / double:.1f} times one table of the same machine (under 20)")
    hard_case()
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"peak memory of all this: {peak:.0f} MB (under 300)")
    print(f"cold start: fieldsim --help {cold_start('--help'):.2f} s (under 0.4)")
    shipped = str(GEOMETRIES / "two_facing_rotors.yaml")
    print(f"cold start: fieldsim emf {cold_start('emf', shipped):.2f} s (under 1.5)")


if __name__ == "__main__":
    main()
