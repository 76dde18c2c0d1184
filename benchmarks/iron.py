"""What iron costs: the flux table of a coil with a bolt beside the one without, and first solves.

Then what eddy currents add at a speed: the first time, and when only the speed is another; and the
turn that is solved cell by cell for iron that saturates, which is to take under ten seconds.

Run with ``python benchmarks/iron.py`` on an otherwise quiet machine. Times are the best of many,
taken side by side in one process on one core; the bounds are at most five times the table without
iron for the table with it, solved for already, and half a second for the first solve of a piece.
"""

from __future__ import annotations

import os

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path

import fieldsim as fs
from fieldsim.field.iron.coil_iron import CoilIron
from fieldsim.field.iron.iron_eddies import IronEddies
from fieldsim.waveform.emf import crank_speed
from fieldsim.waveform.flux_table import FluxTable, coil_iron
from fieldsim.waveform.moving_flux import flux_tables_at_speed

GEOMETRIES = Path(__file__).parents[1] / "geometries"
TOLERANCE = 1e-4
SHAPES: dict[str, fs.Core] = {
    "bolt 8 x 50 mm": fs.Core(fs.Rod(0.008, 0.050), offset=-0.008),
    "bolt 8 x 24 mm": fs.Core(fs.Rod(0.008, 0.024)),
    "tube 8/5 x 50 mm": fs.Core(fs.Tube(0.008, 0.005, 0.050), offset=-0.008),
    "slit tube 8/5 x 50 mm": fs.Core(fs.Tube(0.008, 0.005, 0.050, True), offset=-0.008),
    "block 8 x 8 x 50 mm": fs.Core(fs.Block((0.008, 0.008, 0.050)), offset=-0.008),
}


def best_s(work: Callable[[], object], repeats: int = 40) -> float:
    """Return the shortest of several runs [s]."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def with_core(machine: fs.Machine, core: fs.Core) -> fs.Machine:
    """Return the machine with another core in its only coil."""
    return replace(machine, coils=(replace(machine.coils[0], core=core),))


def at_speed(machine: fs.Machine, table: FluxTable, known: CoilIron | IronEddies) -> object:
    """Return the tables of a machine at a speed, with more or less of its iron known."""
    eddies = IronEddies(known) if isinstance(known, CoilIron) else known
    speed = crank_speed(machine, 12.0)
    return flux_tables_at_speed(table, machine, speed, eddies, TOLERANCE)


def main() -> None:
    """Print the tables."""
    machine = fs.read(GEOMETRIES / "bolt_beside_magnets.yaml")
    bare = with_core(machine, fs.Core())
    print(f"flux table at {TOLERANCE:.0e} of the swing; 'again' with the iron solved for")
    print(f"{'core':22}{'first solve ms':>16}{'table again ms':>16}{'without ms':>12}{'ratio':>8}")
    for name, core in SHAPES.items():
        made = with_core(machine, core)
        iron = coil_iron(made)
        first = best_s(partial(fs.flux_table, made, tolerance=TOLERANCE), 3)
        again = best_s(partial(fs.flux_table, made, tolerance=TOLERANCE, iron=iron))
        without = best_s(partial(fs.flux_table, bare, tolerance=TOLERANCE))
        print(
            f"{name:22}{(first - again) * 1e3:16.0f}{again * 1e3:16.2f}{without * 1e3:12.2f}"
            f"{again / without:8.1f}"
        )
    print(f"{'eddy currents':22}{'first ms':>16}{'other speed ms':>16}")
    for name, core in SHAPES.items():
        made = with_core(machine, core)
        iron = coil_iron(made)
        table, known = fs.flux_table(made, tolerance=TOLERANCE, iron=iron), IronEddies(iron)
        if known:
            first = best_s(partial(at_speed, made, table, iron), 3)
            again = best_s(partial(at_speed, made, table, known), 5)
            print(f"{name:22}{first * 1e3:16.0f}{again * 1e3:16.1f}")
    print(f"{'saturation':22}{'s':>16}{'cells':>16}{'angles':>12}")
    for name in ("bolt_beside_magnets", "steel_discs"):
        point = fs.OperatingPoint(fs.read(GEOMETRIES / f"{name}.yaml"), tolerance=TOLERANCE)
        _ = point.machine_emf
        found = fs.saturated_emf(point)
        took = best_s(partial(fs.saturated_emf, point), 3)
        print(f"{name:22}{took:16.2f}{found.cells:16}{found.angles:12}")


if __name__ == "__main__":
    main()
