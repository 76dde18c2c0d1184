"""How much a crank's speed swings as magnets hold it back and help it on in turn."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from fieldsim.machine.magnets import ArmAxis, Cuboid, Cylinder, Shape
from fieldsim.machine.placed import PlacedRotor

__all__ = ["SpeedSwing", "inertia_at_crank_kg_m2", "rotor_inertia_kg_m2", "speed_swing"]

Array = NDArray[np.float64]

_NEAREST = 1e-12  # of the barrier: how near to its top the energy is looked for


@dataclass(frozen=True)
class SpeedSwing:
    """Between what the speed swings under a hand that pulls evenly.

    Parameters
    ----------
    inertia_kg_m2
        Of all that turns, seen at the crank [kg m2].
    least, most
        Slowest and fastest, relative to the average speed: -0.2 for a fifth slower. At -1 it all
        but stops.
    """

    inertia_kg_m2: float
    least: float
    most: float

    @property
    def largest(self) -> float:
        """The larger of the two in size."""
        return max(-self.least, self.most)


def rotor_inertia_kg_m2(rotor: PlacedRotor, density_kg_m3: float) -> float:
    """Return the moment of inertia of a rotor's magnets about its shaft [kg m2]; arms left out.

    Notes
    -----
    Of each, ``m (r^2 + k^2)`` (parallel axes) with the square of its own radius of gyration k about
    a line along the shaft: (a^2 + b^2)/12 of a block, d^2/8 of a disc along the shaft, d^2/16 +
    h^2/12 of one across it, d^2/10 of a ball (closed forms).

    Examples
    --------
    Two blocks of 7.5 g, 20 mm along the arm and 10 mm across, at 25 mm:

    >>> from fieldsim.machine.magnets import Magnet, North
    >>> from fieldsim.machine.placed import PlacedMagnet
    >>> from fieldsim.machine.shaft import Shaft
    >>> bar = Magnet("bar", Cuboid((0.02, 0.01, 0.005)), 1.2)
    >>> mounted = PlacedMagnet(bar, 0.025, 0.0, 0.0, North.PLUS_SHAFT)
    >>> rotor = PlacedRotor("r", Shaft((0, 0, 0), (0, 0, 1)), (1, 0, 0), (mounted, mounted))
    >>> round(rotor_inertia_kg_m2(rotor, 7500.0), 12)
    1e-05
    """
    return sum(
        density_kg_m3
        * mounted.magnet.shape.volume_m3
        * (mounted.radius**2 + _own_square_m2(mounted.magnet.shape))
        for mounted in rotor.magnets
    )


def _own_square_m2(shape: Shape) -> float:
    """Return the square of a shape's radius of gyration about a line along the shaft [m2]."""
    if isinstance(shape, Cuboid):
        return (shape.size[0] ** 2 + shape.size[1] ** 2) / 12
    if not isinstance(shape, Cylinder):
        return shape.diameter**2 / 10
    if shape.axis is ArmAxis.SHAFT:
        return shape.diameter**2 / 8
    return shape.diameter**2 / 16 + shape.thickness**2 / 12


def inertia_at_crank_kg_m2(
    rotors: Sequence[PlacedRotor], ratios: Mapping[str, Fraction], density_kg_m3: float
) -> float:
    """Return the moment of inertia of all rotors' magnets, seen at the crank [kg m2].

    Notes
    -----
    Each counts by the square of its ratio. Arms, wheels and the crank itself are left out.
    """
    return sum(
        float(ratios[rotor.name]) ** 2 * rotor_inertia_kg_m2(rotor, density_kg_m3)
        for rotor in rotors
    )


def speed_swing(energy_J: Array, inertia_kg_m2: float, average_rad_per_s: float) -> SpeedSwing:
    """Return how much the speed swings that inertia alone keeps up.

    Parameters
    ----------
    energy_J
        Of the magnets at equal steps of the crank over a repeat, as from
        `fieldsim.mechanics.rest_positions.interaction_energy_J`, (angles,).
    inertia_kg_m2
        Seen at the crank, above zero.
    average_rad_per_s
        Turns over time, as a speed; the sign does not matter.

    Notes
    -----
    A hand that pulls evenly gives what is lost on average; what is left is exchanged between motion
    and magnets, J w^2/2 + U = E. E is such that a repeat takes its time: the mean of 1/w over the
    angle is one over the average speed. There is always such an E, the nearer to the top of U the
    slower the crank: it then lingers there.

    Examples
    --------
    By a barrier of a hundredth of the energy of motion, either way, the speed swings by half as
    much:

    >>> barrier = 0.01 * np.cos(2 * np.pi * np.arange(64) / 64)
    >>> swing = speed_swing(barrier, 0.02, 10.0)
    >>> round(swing.least, 4), round(swing.most, 4)
    (-0.005, 0.005)
    """
    from scipy.optimize import brentq

    top, bottom = float(energy_J.max()), float(energy_J.min())
    if top == bottom:
        return SpeedSwing(inertia_kg_m2, 0.0, 0.0)
    average = abs(average_rad_per_s)
    depth = (top - energy_J) * (2.0 / inertia_kg_m2)  # squares of speeds gained below the top

    def too_slow(log_square: float) -> float:
        """Return the logarithm of the time of a repeat over what it is to take."""
        return math.log(average * float(np.mean(1.0 / np.sqrt(depth + math.exp(log_square)))))

    lowest, highest = math.log(_NEAREST * float(depth.max())), math.log(average**2)
    stops = lowest >= highest or too_slow(lowest) <= 0.0
    least = 0.0 if stops else math.exp(brentq(too_slow, lowest, highest, xtol=1e-12))
    slowest, fastest = math.sqrt(least), math.sqrt(least + float(depth.max()))
    return SpeedSwing(inertia_kg_m2, slowest / average - 1.0, fastest / average - 1.0)
