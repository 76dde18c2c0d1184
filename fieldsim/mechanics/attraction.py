"""What the pull between two rotors does: to the hand, to the shafts, and to whoever assembles them.

All from a table of `fieldsim.field.force.rotor_force.RotorForces`. The hub of a rotor is the point
on its shaft at the mean height of its magnets.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fieldsim.field.force.rotor_force import MagnetForces, RotorForces, rotor_forces
from fieldsim.machine.placed import PlacedRotor

__all__ = [
    "AssemblyPull",
    "Attraction",
    "ShaftLoad",
    "ShaftPeak",
    "assembly_pull",
    "attraction",
    "hub_m",
    "shaft_load",
]

Array = NDArray[np.float64]


def hub_m(rotor: PlacedRotor) -> Array:
    """Return the point on the shaft at the mean height of the magnets [m], shape (3,).

    Examples
    --------
    >>> from fieldsim.machine.magnets import Cuboid, Magnet, North
    >>> from fieldsim.machine.placed import PlacedMagnet, PlacedRotor
    >>> from fieldsim.machine.shaft import Shaft
    >>> bar = Magnet("bar", Cuboid((0.02, 0.01, 0.005)), 1.2)
    >>> mounted = PlacedMagnet(bar, 0.022, 0.0, 0.01, North.PLUS_SHAFT)
    >>> hub_m(PlacedRotor("r", Shaft((0, 0, 0), (0, 0, 1)), (1, 0, 0), (mounted,))).tolist()
    [0.0, 0.0, 0.01]
    """
    height = np.mean([m.height for m in rotor.magnets])
    return np.asarray(rotor.shaft.through) + float(height) * np.asarray(rotor.shaft.along)


def _direction(first: PlacedRotor, second: PlacedRotor) -> Array:
    """Return the unit vector from the second hub to the first; the shaft's if they coincide."""
    between = hub_m(first) - hub_m(second)
    length = float(np.linalg.norm(between))
    return between / length if length > 1e-9 else np.asarray(second.shaft.along, dtype=float)


@dataclass(frozen=True, eq=False)
class ShaftLoad:
    """What a shaft bears from the magnets of its rotor.

    Parameters
    ----------
    axial_N
        Along the shaft, positive along ``along``, shape (angles,).
    transverse_N
        Size of the force across the shaft, shape (angles,).
    bending_Nm
        Size of the moment about axes across the shaft, at the point asked for, shape (angles,).
    """

    axial_N: Array = field(repr=False)
    transverse_N: Array = field(repr=False)
    bending_Nm: Array = field(repr=False)

    @property
    def peak(self) -> ShaftPeak:
        """The largest of each over the angles."""
        return ShaftPeak(
            float(np.abs(self.axial_N).max()),
            float(self.transverse_N.max()),
            float(self.bending_Nm.max()),
        )


@dataclass(frozen=True)
class ShaftPeak:
    """The most that a shaft bears: along it, across it, and as a moment that bends it at the hub.

    Parameters
    ----------
    axial_N, transverse_N
        Sizes of forces [N].
    bending_at_hub_Nm
        Size of a moment [N m].
    """

    axial_N: float
    transverse_N: float
    bending_at_hub_Nm: float


def shaft_load(rotor: PlacedRotor, magnets: MagnetForces, bearing_m: float = 0.0) -> ShaftLoad:
    """Return the load on a rotor's shaft.

    Parameters
    ----------
    rotor
        The rotor.
    magnets
        What its magnets feel.
    bearing_m
        Where on the shaft the bending moment is wanted, from the hub along ``along`` [m]; 0 is
        the hub itself, where the moment is that which tilts the rotor.

    Notes
    -----
    At a bearing beside the hub the transverse force adds its lever: a rotor on the free end of a
    shaft bends it most at the nearest bearing.

    Examples
    --------
    >>> from fieldsim.machine.magnets import Cuboid, Magnet, North
    >>> from fieldsim.machine.placed import PlacedMagnet, PlacedRotor
    >>> from fieldsim.machine.shaft import Shaft
    >>> bar = Magnet("bar", Cuboid((0.02, 0.01, 0.005)), 1.2)
    >>> mounted = PlacedMagnet(bar, 0.022, 0.0, 0.0, North.PLUS_SHAFT)
    >>> low = PlacedRotor("low", Shaft((0, 0, 0), (0, 0, 1)), (1, 0, 0), (mounted,))
    >>> both = rotor_forces(low, low.raised(0.02), 0.0, 0.0)
    >>> load = shaft_load(low, both.on_first)
    >>> round(float(load.bending_Nm[0] / load.axial_N[0]), 6)  # one magnet, 22 mm off the shaft
    0.022
    """
    along = np.asarray(rotor.shaft.along)
    total = magnets.total_N
    axial = total @ along
    moment = magnets.moment_about_Nm(hub_m(rotor) + bearing_m * along)
    return ShaftLoad(
        axial,
        np.linalg.norm(total - axial[:, None] * along, axis=1),
        np.linalg.norm(moment - (moment @ along)[:, None] * along, axis=1),
    )


@dataclass(frozen=True, eq=False)
class Attraction:
    """The pull between two rotors over a table of angles.

    Parameters
    ----------
    first, second
        Names of the rotors.
    pull_N
        Force on the second towards the first; negative pushes them apart; shape (angles,).
    first_load, second_load
        On the two shafts, with the moments at the hubs.
    force_error_N
        Estimated error of a force.
    """

    first: str
    second: str
    pull_N: Array = field(repr=False)
    first_load: ShaftLoad
    second_load: ShaftLoad
    force_error_N: float

    @property
    def peak_pull_N(self) -> float:
        """The strongest attraction over the table [N]; negative if they always push."""
        return float(self.pull_N.max())

    @property
    def peak_push_N(self) -> float:
        """The strongest repulsion over the table [N]; negative if they always pull."""
        return float(-self.pull_N.min())


def attraction(forces: RotorForces) -> Attraction:
    """Return the pull between two rotors and the loads on their shafts.

    Examples
    --------
    >>> from fieldsim.machine.magnets import Cuboid, Magnet, North
    >>> from fieldsim.machine.placed import PlacedMagnet, PlacedRotor
    >>> from fieldsim.machine.shaft import Shaft
    >>> bar = Magnet("bar", Cuboid((0.02, 0.01, 0.005)), 1.2)
    >>> mounted = PlacedMagnet(bar, 0.022, 0.0, 0.0, North.PLUS_SHAFT)
    >>> low = PlacedRotor("low", Shaft((0, 0, 0), (0, 0, 1)), (1, 0, 0), (mounted,))
    >>> result = attraction(rotor_forces(low, low.raised(0.02), 0.0, [0.0, np.pi]))
    >>> result.pull_N.argmax().item(), result.peak_pull_N > 0.1
    (0, True)
    """
    pull = forces.force_on_second_N @ _direction(forces.first, forces.second)
    return Attraction(
        forces.first.name,
        forces.second.name,
        pull,
        shaft_load(forces.first, forces.on_first),
        shaft_load(forces.second, forces.on_second),
        forces.error_N,
    )


@dataclass(frozen=True, eq=False)
class AssemblyPull:
    """The pull while one rotor is brought to its place along its shaft.

    Parameters
    ----------
    distance_m
        How far it still stands from its place [m], shape (distances,).
    pull_N
        Towards its place, at the relative angle where the pull in place is strongest, shape
        (distances,).
    angle_rad
        That angle of the moved rotor, the other at zero [rad].
    """

    distance_m: Array = field(repr=False)
    pull_N: Array = field(repr=False)
    angle_rad: float

    @property
    def peak_pull_N(self) -> float:
        """The strongest pull on the way [N]."""
        return float(self.pull_N.max())


def assembly_pull(
    fixed: PlacedRotor, moved: PlacedRotor, distance_m: ArrayLike, angles: int = 72
) -> AssemblyPull:
    """Return the pull that a builder must hold back while bringing two rotors together.

    Parameters
    ----------
    fixed
        The rotor that is there, held at angle zero.
    moved
        The rotor that comes in along its own shaft, from the side it ends up on, free to turn.
    distance_m
        From its place [m], zero or more, shape (distances,).
    angles
        How many angles of the moved rotor to try for the strongest pull.

    Raises
    ------
    ValueError
        If a distance is negative.

    Examples
    --------
    >>> from fieldsim.machine.magnets import Cuboid, Magnet, North
    >>> from fieldsim.machine.placed import PlacedMagnet, PlacedRotor
    >>> from fieldsim.machine.shaft import Shaft
    >>> bar = Magnet("bar", Cuboid((0.02, 0.01, 0.005)), 1.2)
    >>> mounted = PlacedMagnet(bar, 0.022, 0.0, 0.0, North.PLUS_SHAFT)
    >>> low = PlacedRotor("low", Shaft((0, 0, 0), (0, 0, 1)), (1, 0, 0), (mounted,))
    >>> pull = assembly_pull(low, low.raised(0.01), [0.0, 0.01, 0.05])
    >>> bool(np.all(np.diff(pull.pull_N) < 0)), round(pull.angle_rad, 9)
    (True, 0.0)
    """
    distance = np.atleast_1d(np.asarray(distance_m, dtype=float))
    if (distance < 0).any():
        raise ValueError("distances from the rotor's place must be zero or more")
    along = np.asarray(moved.shaft.along)
    side = 1.0 if (hub_m(moved) - hub_m(fixed)) @ along >= 0 else -1.0
    tried = 2 * np.pi * np.arange(angles) / angles
    in_place = rotor_forces(fixed, moved, 0.0, tried)
    best = float(tried[np.argmax(-side * (in_place.force_on_second_N @ along))])
    way = rotor_forces(fixed, moved, 0.0, best, side * distance)
    return AssemblyPull(distance, -side * (way.force_on_second_N @ along), best)
