"""How long torques of magnets take: two rotors of four magnets each, 120 angles.

Run as ``python benchmarks/effort.py``; set OPENBLAS_NUM_THREADS=1 for one core.
"""

from __future__ import annotations

import math
import time
from fractions import Fraction

import numpy as np

from fieldsim.field.force.rotor_force import rotor_forces
from fieldsim.machine.magnets import Cuboid, Magnet, North
from fieldsim.machine.placed import PlacedMagnet, PlacedRotor
from fieldsim.machine.shaft import Shaft
from fieldsim.mechanics.magnet_pairs import magnet_pair

ANGLES = 2 * math.pi * np.arange(120) / 120
BAR = Magnet("bar", Cuboid((0.02, 0.01, 0.005)), 1.2)


def wheel(name: str, shaft: Shaft) -> PlacedRotor:
    """Return a rotor of four magnets with alternating poles."""
    magnets = tuple(
        PlacedMagnet(BAR, 0.025, i * math.pi / 2, 0.0, (North.PLUS_SHAFT, North.MINUS_SHAFT)[i % 2])
        for i in range(4)
    )
    return PlacedRotor(name, shaft, (1, 0, 0), magnets)


def report(what: str, first: PlacedRotor, second: PlacedRotor) -> None:
    """Print how long the table of torques takes when both turn, in opposite senses."""
    start = time.perf_counter()
    forces = rotor_forces(first, second, ANGLES, -ANGLES)
    took_s = time.perf_counter() - start
    peak = 1e3 * float(np.abs(forces.torque_on_first_Nm).max())
    error = forces.error_Nm / (1e-3 * peak)
    print(f"{what:42s} {1e3 * took_s:7.1f} ms  peak {peak:.4g} mN m, error/peak {error:.0e}")


def main() -> None:
    """Print the timings."""
    low = wheel("low", Shaft((0, 0, 0), (0, 0, 1)))
    facing = wheel("facing", Shaft((0, 0, 0.016), (0, 0, 1)))
    beside = wheel("beside", Shaft((0.008, 0.003, 0.016), (0, 0.1, 1)))
    report("facing on one line, 120 angles", low, facing)
    report("shafts askew, 120 angles", low, beside)
    for what, second in (("facing", facing), ("askew", beside)):
        start = time.perf_counter()
        pair = magnet_pair(low, second, (Fraction(12), Fraction(-12)), Fraction(1, 12))
        took_s = time.perf_counter() - start
        angles = len(pair.forces.first_angle_rad)
        print(f"{f'{what}, a whole repeat ({angles} angles)':42s} {1e3 * took_s:7.1f} ms")


if __name__ == "__main__":
    main()
