"""Many machines at once against one after the other, side by side in one run.

Run with ``python benchmarks/many.py`` on an otherwise quiet machine; it takes a minute. Times are
of one core, warm. ``--long N`` works out N variants of the ring of lamps on two processes instead
(10,000 of them are the goal's), and ``--long N --random`` compares the range of a machine with N
plain random ones. To see what vector instructions are worth, set
``NPY_DISABLE_CPU_FEATURES`` to what `numpy.show_config` finds beyond X86_V3 (in numpy 2.4
"X86_V4 AVX512_ICL AVX512_SPR"; names that a numpy does not know it passes over, with a warning).
"""

from __future__ import annotations

import os

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

import argparse
import math
import resource
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

import fieldsim as fs
from fieldsim.circuit.emf_source import PeriodicEmf
from fieldsim.circuit.network import Circuit, CoilSet
from fieldsim.circuit.reduced_loads import without_users
from fieldsim.circuit.solver import periodic_steady_state, settled_state
from fieldsim.circuit.steady_figures import steady_figures
from fieldsim.field.linkage.curve_book import CurveBook
from fieldsim.field.linkage.pair_linkage import curves_of
from fieldsim.field.linkage.ring_winding import forget_windings
from fieldsim.field.linkage.track_curve import TrackCurve
from fieldsim.field.potential.cuboid import newtonian_gradient_xy
from fieldsim.machine.load.circuit_parts import Bridge, Parallel
from fieldsim.operation.company import TOGETHER
from fieldsim.report.beside import workers
from fieldsim.studies.ranges import ranges

GEOMETRIES = Path(__file__).parent.parent / "geometries"
TOLERANCE = 1e-4


def best_s(work: Callable[[], object], rounds: int = 3) -> float:
    """Return the best time of a call on this core [s]."""
    found = math.inf
    for _ in range(rounds):
        start = time.thread_time()
        work()
        found = min(found, time.thread_time() - start)
    return found


def coils(count: int, smoothed: bool) -> tuple[list[Circuit], list[PeriodicEmf]]:
    """Return coils of other turns and speeds, with bridge and lamps, and a capacitor or none."""
    point = fs.OperatingPoint(fs.read(GEOMETRIES / "lamp_ring.yaml"), "90 rpm", tolerance=1e-5)
    circuit, emf = point.coil_circuit.circuit, point.circuit_emf
    if not smoothed:
        bridge = circuit.outlets[0].load
        assert isinstance(bridge, Bridge)
        assert isinstance(bridge.load, Parallel)
        kept = without_users(bridge.load)
        lamps = next(part for part in bridge.load.parts if part != kept)
        circuit = circuit.with_load("pickup", replace(bridge, load=lamps))
    rng = np.random.default_rng(1)
    circuits, emfs = [], []
    for _ in range(count):
        turns = math.exp(0.3 * rng.normal())
        ohm = np.array(circuit.coils.resistance_ohm) * turns**2
        henry = np.array(circuit.coils.inductance_H) * turns**2
        circuits.append(circuit.with_coils(CoilSet.from_arrays(circuit.coils.names, ohm, henry)))
        emfs.append(emf.scaled(turns).faster(math.exp(0.2 * rng.normal())))
    return circuits, emfs


def one_by_one_s(
    circuits: list[Circuit], emfs: list[PeriodicEmf], solve: Callable[..., object]
) -> float:
    """Return what solving costs a circuit alone [s]."""
    pairs = list(zip(circuits, emfs, strict=True))
    return best_s(lambda: [solve(c, e, tolerance=TOLERANCE) for c, e in pairs]) / len(pairs)


def together_s(circuits: list[Circuit], emfs: list[PeriodicEmf]) -> float:
    """Return what solving costs a circuit among all of them [s]."""
    work = best_s(lambda: steady_figures(circuits, emfs, tolerance=TOLERANCE), 2)
    return work / len(circuits)


def steady_states() -> None:
    """Print what a steady state costs among 1000, and alone."""
    for smoothed in (False, True):
        circuits, emfs = coils(1000, smoothed)
        many = together_s(circuits, emfs)
        slow = one_by_one_s(circuits[:10], emfs[:10], settled_state)
        one = one_by_one_s(circuits[:10], emfs[:10], periodic_steady_state)
        what = "with a capacitor" if smoothed else "without"
        print(
            f"steady state of 1000 coils with bridge and lamps, {what}: {many * 1e3:.2f} ms each; "
            f"one by one {one * 1e3:.1f} ms, {one / many:.0f} times that, by all nodes at all "
            f"times {slow * 1e3:.1f} ms, {slow / many:.0f} times (at least 50)"
        )


def ring_variants(count: int, seed: int = 0) -> fs.Variants:
    """Return rings of lamps with other clearances, magnets, openings, gauges and lamps."""
    rng = np.random.default_rng(seed)
    changes = [
        {
            "clearance": 0.001 + 0.002 * rng.random(),
            "magnets.bar.size[0]": 0.018 + 0.004 * rng.random(),
            "coils.pickup.opening[0]": 0.012 + 0.004 * rng.random(),
            "coils.pickup.wire.gauge": f"AWG {rng.integers(28, 36)}",
            "load.lamps.parallel": int(rng.integers(1, 8)),
        }
        for _ in range(count)
    ]
    return fs.Variants(fs.read(GEOMETRIES / "lamp_ring.yaml"), changes)


def worked_out(machines: fs.Variants, **more: Any) -> fs.OperatingPoints:
    """Return the machines at 90 rpm, worked out to the benchmark's tolerance."""
    return fs.operating_points(
        machines, "90 rpm", tolerance=TOLERANCE, circuit_tolerance=TOLERANCE, **more
    )


def variants() -> None:
    """Print what a whole variant costs, and whether twice as many take twice as long."""
    small, large = ring_variants(100), ring_variants(200, seed=1)
    worked_out(small)
    made = best_s(lambda: list(small))
    once, twice = best_s(lambda: worked_out(small), 2), best_s(lambda: worked_out(large), 1)
    print(
        f"a variant of lamp_ring, from its changes to its figures: {once * 10:.1f} ms (10,000 on "
        f"two cores under 60 s: 12 ms), of which {made * 10:.1f} ms make its machine; "
        f"twice as many take {twice / once:.2f} times as long"
    )


def alike() -> None:
    """Print what is computed once."""
    table = best_s(lambda: fs.flux_table(_ring_of(1), tolerance=TOLERANCE))
    sixteen = best_s(lambda: fs.flux_table(_ring_of(16), tolerance=TOLERANCE))
    print(f"16 coils round a shaft: {sixteen / table:.2f} times one")
    machine = fs.read(GEOMETRIES / "two_facing_rotors.yaml")
    one = best_s(lambda: fs.flux_table(machine, tolerance=1e-5))
    gaps = [float(gap) for gap in np.linspace(0.001, 0.020, 20)]

    def study() -> object:
        return fs.gap_study(fs.OperatingPoint(machine, "120 rpm", tolerance=1e-5), gaps)

    def moved() -> object:
        point = fs.OperatingPoint(machine, "120 rpm", tolerance=1e-5)
        return [point.changed({"clearance": gap}) for gap in gaps]

    rows, points = best_s(study), best_s(moved, 9)
    forget_windings()
    print(
        f"20 rows of gaps: {rows * 1e3:.0f} ms, {rows / one:.1f} times one table of the same "
        f"machine, its winding known (under 20); {points * 1e3:.1f} ms of it for their machines"
    )


def floor() -> None:
    """Print what linkage costs beside the closed forms that it takes."""
    machines = list(ring_variants(200, seed=3))
    asked = [curves_of(m.placed_coils[0], m.placed_rotors[0], TOLERANCE)[0] for m in machines]

    def curves() -> list[TrackCurve]:
        forget_windings()
        book = CurveBook()
        for first in range(0, len(asked), TOGETHER):
            book.learn(asked[first : first + TOGETHER])
        return [curve for _, curve in book.curves.values()]

    points = sum(curve.points for curve in curves())
    at = 0.011 + 0.03 * np.random.default_rng(0).random((3, points))
    closed = best_s(lambda: newtonian_gradient_xy(at[0], at[1], at[2], (0.01, 0.005, 0.0025)))
    whole = best_s(curves)
    assert len(curves()) == len(asked)
    print(
        f"linkage of {len(asked)} windings: {whole / len(asked) * 1e3:.2f} ms each, "
        f"{whole / closed:.1f} times the closed forms that it takes (3)"
    )


def _ring_of(count: int) -> fs.Machine:
    """Return a rotor with one magnet over coils that stand alike round its shaft."""
    magnet = fs.Magnet("bar", fs.Cuboid((0.02, 0.01, 0.005)), 1.2)
    mount = fs.Mount("bar", 0.03, 0.012, fs.North.PLUS_SHAFT)
    rotor = fs.Rotor("rotor", fs.Shaft((0, 0, 0), (0, 0, 1)), (1, 0, 0), (mount,))
    made = []
    for i in range(count):
        c, s = math.cos(2 * math.pi * i / 16), math.sin(2 * math.pi * i / 16)
        centre = (0.03 * c, 0.03 * s, 0.0)
        made.append(
            fs.Coil(f"c{i}", centre, (0, 0, 1), (c, s, 0), (0.006, 0.004), 0.01, 0.002, 100)
        )
    return fs.Machine("ring", (magnet,), (rotor,), tuple(made))


def slider() -> None:
    """Print what a shifted slider costs: all that ``light`` says, from a neighbour."""
    machine = fs.read(GEOMETRIES / "lamp_ring.yaml")
    first = fs.OperatingPoint(machine, "90 rpm", tolerance=TOLERANCE, circuit_tolerance=1e-3)
    _ = first.light
    moved = iter(range(1, 100))

    def shift() -> object:
        return first.changed({"clearance": 0.002 + 1e-5 * next(moved)}).light

    print(f"a shifted slider, all that light says: {best_s(shift, 9) * 1e3:.0f} ms (under 50)")


def long_job(count: int) -> None:
    """Work out many variants on two processes, and say what that took."""
    machines = ring_variants(count)
    start = time.perf_counter()
    with workers(2) as pool:
        points = worked_out(machines, executor=pool)
    took = time.perf_counter() - start
    who = (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    memory = [resource.getrusage(each).ru_maxrss / 1024 for each in who]
    print(
        f"{count} variants on two processes: {took:.1f} s; {points.can_be.mean():.1%} can be, all "
        f"lamps light in {points.all_light.mean():.1%}; memory {memory[0]:.0f} MB here, at most "
        f"{memory[1]:.0f} MB in a process (under 1 GB together)"
    )


def random_machines(count: int) -> None:
    """Compare the range of a machine with that of plain random machines."""
    point = fs.OperatingPoint(fs.read(GEOMETRIES / "lamp_ring.yaml"), "40 rpm", tolerance=1e-3)
    with workers(2) as pool:
        few = ranges(point)
        many = ranges(point, machines=1 << (count - 1).bit_length(), executor=pool)
    for name in ("rms_V", "peak_V"):
        one, other = few.coil_ranges("pickup")[name], many.coil_ranges("pickup")[name]
        print(
            f"{name}: {one.low:.3f} to {one.high:.3f} of {few.machines} machines, "
            f"{other.low:.3f} to {other.high:.3f} of {many.machines}"
        )
    print(f"all lamps light in {few.share_all_light:.1%} and {many.share_all_light:.1%}")


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--long", type=int, metavar="N")
    parser.add_argument("--random", action="store_true")
    asked = parser.parse_args()
    if asked.long and asked.random:
        random_machines(asked.long)
    elif asked.long:
        long_job(asked.long)
    else:
        steady_states()
        variants()
        floor()
        alike()
        slider()


if __name__ == "__main__":
    main()
