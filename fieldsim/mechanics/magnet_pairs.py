"""Two rotors' magnets on each other through a whole repeat of the machine, however long it is.

Where both turn about one line, everything depends on the angle of one seen from the other, and one
relative turn says it all. Other pairs are followed on their way through the repeat while that is
short; a long way passes close by every pair of angles, and a grid of both angles stands in for it.
Between the tabulated angles a Fourier series is exact as soon as its highest orders are nothing.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.force.rotor_force import (
    MagnetForces,
    RotorForces,
    neighbour_forces,
    refuse_too_many,
    rotor_forces,
)
from fieldsim.machine.placed import PlacedRotor
from fieldsim.mechanics.fourier import fourier_walk, two_sided
from fieldsim.mechanics.magnet_retention import arm_forces_N

__all__ = ["MagnetPair", "magnet_loads_N", "magnet_pair", "magnet_pairs"]

Array = NDArray[np.float64]

_PER_TURN = 128
_LONGEST_WAY = 4096  # angles; a longer way is replaced by a grid of both angles
_GRID = 64
_RESOLVED = 1e-6  # highest orders of the torque, beside its largest
_MOST = 1024  # angles of a relative turn
_ROUNDING = 1e-9  # of a magnet's largest load: no load at all


@dataclass(frozen=True)
class MagnetPair:
    """The magnetic forces between two rotors, and how to find them at any crank angle.

    Parameters
    ----------
    forces
        At the tabulated angles.
    ratios
        Turns of both rotors for one of the crank.
    turns
        Crank turns in the repeat.
    coaxial
        ``1`` or ``-1`` if both turn about one line, with their ``along`` alike or opposed; else 0.
    grid
        Angles of each rotor, where the table is a grid of both; else 0.
    """

    forces: RotorForces
    ratios: tuple[Fraction, Fraction]
    turns: Fraction
    coaxial: int
    grid: int = 0

    @property
    def names(self) -> tuple[str, str]:
        """Names of the two rotors."""
        return self.forces.first.name, self.forces.second.name

    @property
    def locked(self) -> bool:
        """Whether both stand in one angle to each other for ever, on one line."""
        return self.coaxial != 0 and self.ratios[1] == self.coaxial * self.ratios[0]

    @property
    def resolution(self) -> float:
        """Size of the highest orders of the torque beside its largest; 0 is perfect."""
        torque = self.forces.torque_on_first_Nm
        return 0.0 if self.locked or self.grid else _tail(torque)

    def felt_by(self, name: str) -> tuple[MagnetForces, Array]:
        """Return what one of the two rotors' magnets feel, and that rotor's angles [rad]."""
        forces = self.forces
        if self.names.index(name) == 0:
            return forces.on_first, forces.first_angle_rad
        return forces.on_second, forces.second_angle_rad

    def through_repeat(self, values: Array, count: int, sense: int = 1) -> Array:
        """Return tabulated values at equal steps of the crank through the repeat.

        Parameters
        ----------
        values
            Torques, or forces in an arm's axes, at the table's angles, shape (angles, ...).
        count
            Number of steps, from crank angle 0.
        sense
            ``1`` if the crank turns forward, ``-1`` if back.

        Returns
        -------
        ndarray
            Shape (count, ...).
        """
        shape = (count, *values.shape[1:])
        if self.locked:
            return np.broadcast_to(values[0], shape)
        flat = values.reshape(len(values), -1)
        first, second = self.forces.first, self.forces.second
        a, b = (sense * int(r * self.turns) for r in self.ratios)
        if self.grid:
            square = flat.reshape(self.grid, self.grid, -1)
            spectrum = np.fft.fft2(square, axes=(0, 1)).reshape(flat.shape) / self.grid**2
            k = np.rint(np.fft.fftfreq(self.grid, 1 / self.grid)).astype(np.int64)
            one, two = (m.ravel() for m in np.meshgrid(k, k, indexing="ij"))
            phase = one * first.start + two * second.start
            steps = a * one + b * two
        else:
            spectrum, k = two_sided(flat)
            start = second.start - self.coaxial * first.start if self.coaxial else 0.0
            phase = k * start
            steps = k * (b - self.coaxial * a if self.coaxial else sense)
        return fourier_walk(spectrum * np.exp(1j * phase)[:, None], steps, count).reshape(shape)


def magnet_pair(
    first: PlacedRotor, second: PlacedRotor, ratios: tuple[Fraction, Fraction], turns: Fraction
) -> MagnetPair:
    """Return the magnetic forces of two rotors through a repeat.

    Parameters
    ----------
    first, second
        The rotors.
    ratios
        Turns of each for one of the crank.
    turns
        Crank turns in the repeat: both make whole turns in it.

    Examples
    --------
    Two facing magnets on opposed rotors: as far before they meet as behind, the torques are equal
    and opposite.

    >>> from fieldsim.machine.magnets import Cuboid, Magnet, North
    >>> from fieldsim.machine.placed import PlacedMagnet, PlacedRotor
    >>> from fieldsim.machine.shaft import Shaft
    >>> bar = Magnet("bar", Cuboid((0.02, 0.01, 0.005)), 1.2)
    >>> mounted = PlacedMagnet(bar, 0.022, 0.0, 0.0, North.PLUS_SHAFT)
    >>> low = PlacedRotor("low", Shaft((0, 0, 0), (0, 0, 1)), (1, 0, 0), (mounted,))
    >>> pair = magnet_pair(low, low.raised(0.02), (Fraction(1), Fraction(-1)), Fraction(1))
    >>> torque = pair.through_repeat(pair.forces.torque_on_first_Nm, 8)
    >>> bool(abs(torque[1] + torque[-1]) < 1e-9 < abs(torque[1]))
    True
    """
    sense = first.shaft.sense_of(second.shaft.through, second.shaft.along)
    if sense and ratios[1] == sense * ratios[0]:
        still = rotor_forces(first, second, first.start, second.start)
        return MagnetPair(still, ratios, turns, sense)
    if sense:
        count = _PER_TURN
        while True:
            angle = 2 * math.pi * np.arange(count) / count
            pair = MagnetPair(rotor_forces(first, second, 0.0, angle), ratios, turns, sense)
            if pair.resolution <= _RESOLVED or count >= _MOST:
                return pair
            count *= 2
    whole = [abs(int(r * turns)) for r in ratios]
    count = _PER_TURN * sum(whole)
    if count > _LONGEST_WAY:
        one, two = np.meshgrid(*[2 * math.pi * np.arange(_GRID) / _GRID] * 2, indexing="ij")
        forces = rotor_forces(first, second, one.ravel(), two.ravel())
        return MagnetPair(forces, ratios, turns, 0, _GRID)
    crank = 2 * math.pi * float(turns) * np.arange(count) / count
    forces = rotor_forces(
        first,
        second,
        first.start + float(ratios[0]) * crank,
        second.start + float(ratios[1]) * crank,
    )
    return MagnetPair(forces, ratios, turns, 0)


def magnet_pairs(
    rotors: Sequence[PlacedRotor], ratios: Sequence[Fraction], turns: Fraction
) -> tuple[MagnetPair, ...]:
    """Return every pair of rotors, as `magnet_pair` does.

    Raises
    ------
    ImpossibleError
        If there are more forces between magnets than can be worked out in time.

    Examples
    --------
    >>> magnet_pairs([], [], Fraction(1))
    ()
    """
    each_two = list(itertools.combinations(zip(rotors, ratios, strict=True), 2))
    # Those that turn as one are looked at through a turn, too: at assembly.
    refuse_too_many([(a, b) for (a, _), (b, _) in each_two], _PER_TURN)
    return tuple(magnet_pair(a, b, (p, q), turns) for (a, p), (b, q) in each_two)


def magnet_loads_N(
    rotors: Sequence[PlacedRotor],
    pairs: Sequence[MagnetPair],
    count: int,
    by_iron_N: Mapping[str, Array] | None = None,
) -> dict[str, Array]:
    """Return the magnetic force on every magnet in its arm's axes, all others together.

    Parameters
    ----------
    rotors, pairs
        All of them.
    count
        Steps of the crank through the repeat, for rotors with several partners.
    by_iron_N
        By rotor, what iron adds at these steps, shape (count, magnets, 3); None without iron.

    Returns
    -------
    dict
        By rotor, [N], shape (angles, magnets, 3), as
        `fieldsim.mechanics.magnet_retention.retention` takes it. What is rounding beside a magnet's
        largest load is zero.

    Examples
    --------
    >>> magnet_loads_N([], [], 8)
    {}
    """
    result = {}
    for rotor in rotors:
        tables = [
            (pair, arm_forces_N(rotor, *pair.felt_by(rotor.name)))
            for pair in pairs
            if rotor.name in pair.names
        ]
        load = neighbour_forces(rotor)[None]
        by_iron = (by_iron_N or {}).get(rotor.name)
        if len(tables) == 1 and by_iron is None:
            load = load + tables[0][1]
        else:
            load = sum((pair.through_repeat(table, count) for pair, table in tables), load)
        if by_iron is not None:
            load = load + by_iron
        largest = np.abs(load).max(initial=0.0)
        result[rotor.name] = np.where(np.abs(load) > _ROUNDING * largest, load, 0.0)
    return result


def _tail(samples: Array) -> float:
    size = np.abs(np.fft.rfft(samples))[1:]
    largest = float(size.max(initial=0.0))
    # Rounding of a torque that is nothing beside the forces must not look like a rough curve.
    return float(size[-(len(size) // 8) :].max()) / largest if largest > 1e-12 else 0.0
