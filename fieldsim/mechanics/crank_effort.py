"""What the hand feels at the crank: torque, force on the arm, power, and where the power goes."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fieldsim.errors import TooHardError
from fieldsim.machine.gears import GearTrain
from fieldsim.machine.mechanics import Crank, Friction
from fieldsim.words.numbers import plain_number

__all__ = [
    "CrankEffort",
    "check_friction",
    "crank_effort",
    "electromagnetic_torque_Nm",
    "force_to_start_N",
]

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class CrankEffort:
    """Torque and power at the crank over a whole number of its turns.

    Parameters
    ----------
    torque_Nm
        What the hand must give, positive the way the crank turns, shape (angles,).
    speed_rad_per_s
        Of the crank, signed [rad/s].
    rotors_W
        Average power that the rotors' magnets take from their shafts [W].
    friction_W
        Average power lost to friction at the crank and the rotors [W].
    gears_W
        Average power lost in the gear meshes [W].
    """

    torque_Nm: Array = field(repr=False)
    speed_rad_per_s: float
    rotors_W: float
    friction_W: float
    gears_W: float

    @property
    def average_torque_Nm(self) -> float:
        """Average torque [N m]."""
        return float(self.torque_Nm.mean())

    @property
    def peak_torque_Nm(self) -> float:
        """Largest torque [N m]."""
        return float(self.torque_Nm.max())

    @property
    def least_torque_Nm(self) -> float:
        """Smallest torque [N m]; negative where the crank pulls the hand along."""
        return float(self.torque_Nm.min())

    @property
    def ripple(self) -> float:
        """Largest minus smallest torque over the average; infinite without an average."""
        swing = self.peak_torque_Nm - self.least_torque_Nm
        return (
            swing / abs(self.average_torque_Nm)
            if self.average_torque_Nm
            else math.inf
            if swing
            else 0.0
        )

    @property
    def hand_W(self) -> float:
        """Average power that the hand gives [W]."""
        return self.average_torque_Nm * abs(self.speed_rad_per_s)


def electromagnetic_torque_Nm(current_A: Array, slope_Wb_per_rad: Array) -> Array:
    """Return the torque that coils exert on a rotor.

    Parameters
    ----------
    current_A
        In each coil, positive along its turns, shape (coils, angles).
    slope_Wb_per_rad
        d(linkage)/d(rotor angle) of that rotor in each coil, shape (coils, angles).

    Returns
    -------
    ndarray
        On the rotor, positive the way its angle grows [N m], shape (angles,).

    Notes
    -----
    Virtual work at constant current: ``T = sum i d(linkage)/d(angle)`` (rigid magnets, no iron).
    A current driven by the EMF ``-d(linkage)/dt`` brakes, as it must.

    Examples
    --------
    >>> slope, speed, resistance = np.array([[2e-3]]), 100.0, 10.0
    >>> current = -slope * speed / resistance
    >>> torque = electromagnetic_torque_Nm(current, slope)
    >>> power = torque * speed + current[0] ** 2 * resistance
    >>> bool(torque[0] < 0), bool(abs(power[0]) < 1e-15)
    (True, True)
    """
    return np.asarray((np.asarray(current_A) * slope_Wb_per_rad).sum(axis=0))


def crank_effort(
    torque_on_rotor_Nm: Mapping[str, Array],
    train: GearTrain,
    crank_speed_rad_per_s: float,
    friction: Friction | None = None,
) -> CrankEffort:
    """Return the torque at the crank that keeps it turning at a steady speed.

    Parameters
    ----------
    torque_on_rotor_Nm
        By rotor, the sum of what coils and other rotors' magnets exert on it, positive the way
        its own angle grows, at equally spaced crank angles over whole periods, shape (angles,).
    train
        From the crank to the rotors; every rotor of the train has its friction.
    crank_speed_rad_per_s
        Not zero; negative turns the crank back.
    friction
        None for no friction.

    Raises
    ------
    ValueError
        If the speed is zero or the train does not turn a rotor that is named.

    Notes
    -----
    At a steady speed each rotor's shaft needs ``-T + friction``; the meshes pass it on as in
    `fieldsim.machine.gears.GearTrain.crank_torque_Nm`. Averages are over the samples, so the
    hand's power is that of rotors, friction and gears together, to rounding.

    Examples
    --------
    >>> from fractions import Fraction
    >>> train = GearTrain.from_ratios({"upper": Fraction(5)})
    >>> effort = crank_effort({"upper": np.full(8, -0.01)}, train, 2.0, Friction(crank=0.02))
    >>> round(effort.average_torque_Nm, 9), round(effort.hand_W, 9), round(effort.rotors_W, 9)
    (0.07, 0.14, 0.1)
    """
    if crank_speed_rad_per_s == 0:
        raise ValueError("the crank's speed must not be zero")
    friction = friction or Friction()
    sense = 1 if crank_speed_rad_per_s > 0 else -1
    ratios = {name: float(ratio) for name, ratio in train.ratios.items()}
    shape = np.broadcast_shapes(*(np.shape(t) for t in torque_on_rotor_Nm.values()), (1,))
    needed: dict[str, Array] = {}
    rotors_W, friction_W = 0.0, friction.crank * abs(crank_speed_rad_per_s)
    for name in {**ratios, **torque_on_rotor_Nm}:
        torque = np.broadcast_to(torque_on_rotor_Nm.get(name, np.zeros(1)), shape)
        speed = ratios.get(name, 0.0) * crank_speed_rad_per_s
        drag = friction.rotor_Nm(speed)
        needed[name] = -torque + math.copysign(drag, speed)
        rotors_W -= float(torque.mean()) * speed
        friction_W += drag * abs(speed)
    torque, lost = train.crank_torque_Nm(needed, sense)
    return CrankEffort(
        sense * torque + friction.crank,
        crank_speed_rad_per_s,
        rotors_W,
        friction_W,
        float(lost.mean()) * crank_speed_rad_per_s,
    )


def force_to_start_N(train: GearTrain, friction: Friction, arm: Crank) -> float:
    """Return the hand force that friction alone asks before anything turns [N].

    Examples
    --------
    >>> from fractions import Fraction
    >>> train = GearTrain.from_ratios({"upper": Fraction(-10)})
    >>> round(force_to_start_N(train, Friction(0.05, 0.003), Crank(0.08)), 9)
    1.0
    """
    needed = {
        name: np.array([math.copysign(friction.each_rotor, ratio)])
        for name, ratio in train.ratios.items()
    }
    torque, _ = train.crank_torque_Nm(needed)
    return (float(torque.sum()) + friction.crank) / arm.arm


def check_friction(train: GearTrain, friction: Friction, arm: Crank) -> None:
    """Refuse friction that the hand cannot overcome at any speed.

    Raises
    ------
    TooHardError
        If constant friction alone asks for more than the hand's force.

    Examples
    --------
    >>> from fractions import Fraction
    >>> train = GearTrain.from_ratios({"upper": Fraction(9)})
    >>> check_friction(train, Friction(crank=12.0), Crank(0.06))
    Traceback (most recent call last):
    ...
    fieldsim.errors.TooHardError: friction alone asks for 200 N on a crank arm of 60 mm, at any \
speed; the hand gives 60 N (crank.hand_force): less friction, a longer arm or a lower gear ratio
    """
    force = force_to_start_N(train, friction, arm)
    if force > arm.hand_force:
        raise TooHardError(
            f"friction alone asks for {plain_number(force)} N on a crank arm of "
            f"{plain_number(1e3 * arm.arm)} mm, at any speed; the hand gives "
            f"{plain_number(arm.hand_force)} N (crank.hand_force): less friction, a longer arm "
            "or a lower gear ratio"
        )
