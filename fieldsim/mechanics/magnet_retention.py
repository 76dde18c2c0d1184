"""Whether the glue holds: centrifugal and magnetic pull on each magnet against the joint.

The joint is a flat side of the magnet. The part of the load along that side shears it, the part
that leads away from the glue opens it; the joint is taken to fail when the two shares of its
strength add up to one. A load that presses the magnet on its arm does no harm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fieldsim.errors import ImpossibleError
from fieldsim.field.force.rotor_force import MagnetForces, magnet_poses
from fieldsim.machine.magnets import ArmAxis, Cuboid, Cylinder, Magnet, North
from fieldsim.machine.mechanics import Adhesive
from fieldsim.machine.placed import PlacedMagnet, PlacedRotor

__all__ = [
    "MagnetHold",
    "RotorHold",
    "arm_forces_N",
    "joint_area_m2",
    "retention",
]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class MagnetHold:
    """How one magnet is held.

    Parameters
    ----------
    index
        Of the magnet on its rotor, in the order of the file, from 0.
    name
        Of the kind of magnet.
    mass_kg
        Its mass [kg].
    centrifugal_N
        At the speed asked for, outward [N].
    magnetic_shear_N, magnetic_lift_N
        Largest magnetic load along the joint and away from it [N].
    glue_load
        Share of the joint's strength used at that speed; at 1 it fails.
    leaves_at_rad_per_s
        The rotor speed at which it fails [rad/s]; 0 if it does not even hold at rest, infinite if
        the load only presses it on.
    """

    index: int
    name: str
    mass_kg: float
    centrifugal_N: float
    magnetic_shear_N: float
    magnetic_lift_N: float
    glue_load: float
    leaves_at_rad_per_s: float

    @property
    def number(self) -> int:
        """Of the magnet on its rotor, from 1."""
        return self.index + 1


@dataclass(frozen=True)
class RotorHold:
    """How a rotor's magnets are held at a speed.

    Parameters
    ----------
    rotor
        Name.
    speed_rad_per_s
        Of the rotor, as a positive number [rad/s].
    magnets
        In the order of the file.
    imbalance_N
        Sum of the centrifugal forces of all magnets, arms left out: what shakes the shaft, turning
        with the rotor [N].
    """

    rotor: str
    speed_rad_per_s: float
    magnets: tuple[MagnetHold, ...]
    imbalance_N: float = 0.0

    @property
    def weakest(self) -> MagnetHold:
        """The magnet that leaves first."""
        return min(self.magnets, key=lambda m: (m.leaves_at_rad_per_s, -m.glue_load))

    @property
    def speed_margin(self) -> float:
        """The speed at which the first magnet leaves over the speed asked for."""
        leaves = self.weakest.leaves_at_rad_per_s
        return (
            leaves / self.speed_rad_per_s if self.speed_rad_per_s else math.inf if leaves else 0.0
        )


def joint_area_m2(magnet: Magnet, side: North) -> float:
    """Return the area of a magnet's flat side [m2].

    Raises
    ------
    ImpossibleError
        If the side is not flat.

    Examples
    --------
    >>> bar = Magnet("bar", Cuboid((0.02, 0.01, 0.005)), 1.2)
    >>> round(1e6 * joint_area_m2(bar, North.MINUS_SHAFT), 6)
    200.0
    """
    shape = magnet.shape
    if isinstance(shape, Cuboid):
        return shape.volume_m3 / shape.size[side.axis.value]
    if isinstance(shape, Cylinder) and shape.axis is side.axis:
        return shape.volume_m3 / shape.thickness
    raise ImpossibleError(
        f'the {side.value} side of magnet "{magnet.name}" is not flat; give the glued area '
        "(adhesive.area)"
    )


def arm_forces_N(rotor: PlacedRotor, magnets: MagnetForces, angle_rad: Array) -> Array:
    """Return what each magnet feels in its own arm's axes, shape (angles, magnets, 3).

    Parameters
    ----------
    rotor
        The rotor.
    magnets
        What its magnets feel, in global coordinates.
    angle_rad
        The rotor's angles for that table [rad], shape (angles,).
    """
    _, turn = magnet_poses(rotor, angle_rad)
    return np.asarray(np.einsum("amji,amj->ami", turn, magnets.force_N))


def retention(
    rotor: PlacedRotor, speed_rad_per_s: float, adhesive: Adhesive, magnetic_N: Array | None = None
) -> RotorHold:
    """Return how the glue holds a rotor's magnets.

    Parameters
    ----------
    rotor
        The rotor.
    speed_rad_per_s
        Its speed; the sign does not matter.
    adhesive
        Strengths, side and area of the joint, and the magnets' density. Where nothing is known of
        it, it never fails: the holds then tell the pulls alone.
    magnetic_N
        Magnetic force on each magnet in arm axes over the turn [N], shape (angles, magnets, 3),
        as from `arm_forces_N` plus `fieldsim.field.force.rotor_force.neighbour_forces`; None for
        none.

    Raises
    ------
    ImpossibleError
        If a strength that the load calls for is not given, or a glued area cannot be known.

    Notes
    -----
    Centrifugal force ``m w^2 r`` acts at the magnet's centre; that it also tilts the magnet over
    the edge of a thin joint is left to the peel strength one gives. Failure at
    ``shear / (A tau) + lift / (A sigma) = 1``, with the largest magnetic load of the turn, whatever
    its direction in the joint, added to the centrifugal one.

    Examples
    --------
    A 7.5 g block on 22 mm, held by 3 MPa over 2 cm2:

    >>> from fieldsim.machine.placed import PlacedRotor
    >>> from fieldsim.machine.shaft import Shaft
    >>> bar = Magnet("bar", Cuboid((0.02, 0.01, 0.005)), 1.2)
    >>> mounted = PlacedMagnet(bar, 0.022, 0.0, 0.0, North.PLUS_SHAFT)
    >>> rotor = PlacedRotor("low", Shaft((0, 0, 0), (0, 0, 1)), (1, 0, 0), (mounted,))
    >>> hold = retention(rotor, 314.16, Adhesive(shear_strength=3e6)).weakest
    >>> round(hold.centrifugal_N, 2), round(hold.glue_load, 3), round(hold.leaves_at_rad_per_s)
    (16.28, 0.027, 1907)
    """
    if magnetic_N is None:
        magnetic_N = np.zeros((1, len(rotor.magnets), 3))
    speed = abs(speed_rad_per_s)
    holds = [
        _hold(i, mounted, speed, adhesive, magnetic_N[:, i])
        for i, mounted in enumerate(rotor.magnets)
    ]
    return RotorHold(rotor.name, speed, tuple(holds), _imbalance_N(rotor, holds))


def _imbalance_N(rotor: PlacedRotor, holds: list[MagnetHold]) -> float:
    force = np.array([hold.centrifugal_N for hold in holds])
    angle = np.array([mounted.angle for mounted in rotor.magnets])
    total = float(np.abs(np.sum(force * np.exp(1j * angle))))
    # what evenly spaced magnets leave is rounding
    return total if total > 1e-9 * float(force.sum()) else 0.0


def _hold(
    index: int, mounted: PlacedMagnet, speed: float, adhesive: Adhesive, magnetic_N: Array
) -> MagnetHold:
    magnet = mounted.magnet
    side = adhesive.glued_on or North.PLUS_SHAFT
    area = adhesive.area or (joint_area_m2(magnet, side) if adhesive else 1.0)
    axis = side.axis.value
    across = magnetic_N[:, axis]
    # The glue is on `side`: a force the other way lifts the magnet off it.
    lifting = np.abs(across) if adhesive.glued_on is None else -side.sign * across
    along = np.delete(magnetic_N, axis, axis=1)
    shear = float(np.linalg.norm(along, axis=1).max(initial=0.0))
    lift = float(np.maximum(lifting, 0.0).max(initial=0.0))
    mass = adhesive.density * magnet.shape.volume_m3
    per_speed2 = mass * mounted.radius
    shears = side.axis is not ArmAxis.ARM
    lifts = side is North.IN
    shear_limit = peel_limit = math.inf
    if adhesive:
        shear_limit = _limit(adhesive.shear_strength, area, shear > 0 or shears, "shear", magnet)
        peel_limit = _limit(adhesive.peel_strength, area, lift > 0 or lifts, "peel", magnet)
    at_rest = shear / shear_limit + lift / peel_limit
    rate = per_speed2 / (shear_limit if shears else peel_limit) if shears or lifts else 0.0
    leaves = math.sqrt(max(1 - at_rest, 0.0) / rate) if rate else math.inf
    if at_rest >= 1:
        leaves = 0.0
    return MagnetHold(
        index,
        magnet.name,
        mass,
        per_speed2 * speed**2,
        shear,
        lift,
        at_rest + rate * speed**2,
        leaves,
    )


def _limit(strength: float | None, area: float, needed: bool, kind: str, magnet: Magnet) -> float:
    """Return the force that breaks the joint in this way [N]; infinite where none acts."""
    if strength is not None:
        return strength * area
    if needed:
        raise ImpossibleError(
            f'magnet "{magnet.name}" loads its glue in {kind}, but adhesive.{kind}_strength is not '
            "given; take it from the glue's data sheet, for these surfaces"
        )
    return math.inf
