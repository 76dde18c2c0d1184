"""How much room a machine takes: the box around all that is described, rotors turning."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from fieldsim.machine.iron import Ball, Block
from fieldsim.machine.machine import Machine
from fieldsim.machine.magnets import ArmAxis, Cylinder, Sphere
from fieldsim.machine.placed import PlacedCoil, PlacedIron, PlacedMagnet, PlacedRotor

__all__ = ["overall_size_m"]

Array = NDArray[np.float64]
_Ends = tuple[Array, Array]  # lowest and highest along x, y and z, (3,) each


def overall_size_m(machine: Machine) -> tuple[float, float, float]:
    """Return the edges of the box, along x, y and z of the file, that the machine just fits into.

    Parameters
    ----------
    machine
        Any. Magnets count with the circles that they sweep, windings and iron as they stand; arms,
        shafts, cranks and frames are not described and do not count.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> [round(edge, 4) for edge in overall_size_m(read("geometries/lamp_ring.yaml"))]
    [0.0727, 0.0793, 0.024]
    """
    ends = [*_of_rotors(machine), *map(_of_coil, machine.placed_coils)]
    ends += map(_of_iron, machine.placed_iron)
    low = np.min([each[0] for each in ends], axis=0)
    high = np.max([each[1] for each in ends], axis=0)
    x, y, z = (high - low).tolist()
    return x, y, z


def _of_rotors(machine: Machine) -> Iterator[_Ends]:
    for rotor in machine.placed_rotors:
        for magnet in rotor.magnets:
            yield _swept(rotor, magnet)


def _swept(rotor: PlacedRotor, mounted: PlacedMagnet) -> _Ends:
    """Return the ends of the drum that a magnet sweeps."""
    shape = mounted.magnet.shape
    x, y, z = (edge / 2 for edge in mounted.magnet.size)
    if isinstance(shape, Sphere) or (isinstance(shape, Cylinder) and shape.axis is ArmAxis.SHAFT):
        y = 0.0  # no corners: the farthest point lies on the arm
    along = np.array(rotor.shaft.along)
    centre = np.array(rotor.shaft.through) + mounted.height * along
    return _drum(centre, along, math.hypot(abs(mounted.radius) + x, y), z)


def _drum(centre: Array, along: Array, radius: float, half_m: float) -> _Ends:
    reach = radius * np.sqrt(np.maximum(1.0 - along**2, 0.0)) + half_m * np.abs(along)
    return centre - reach, centre + reach


def _block(centre: Array, frame: Array, half_m: Array) -> _Ends:
    reach = np.abs(frame) @ half_m
    return centre - reach, centre + reach


def _of_coil(coil: PlacedCoil) -> _Ends:
    a, b = (edge / 2 + coil.build for edge in coil.opening)
    return _block(np.array(coil.centre), coil.frame, np.array([a, b, coil.length / 2]))


def _of_iron(piece: PlacedIron) -> _Ends:
    centre, shape = np.array(piece.centre), piece.shape
    a, b, c = (edge / 2 for edge in shape.size)
    if isinstance(shape, Block):
        return _block(centre, piece.frame, np.array([a, b, c]))
    if isinstance(shape, Ball):
        return centre - a, centre + a
    return _drum(centre, np.array(piece.axis), a, c)
