"""How many numbers a machine takes, foretold before any of them is worked out."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
from numpy.typing import NDArray

from fieldsim.errors import ImpossibleError
from fieldsim.field.linkage.ring_patches import singular_rings
from fieldsim.field.linkage.track import CoilInRotor, Track, coil_in_rotor, track_of
from fieldsim.machine.machine import Machine
from fieldsim.waveform.period import common_period

__all__ = ["machine_numbers", "refuse_large", "refuse_many"]

_SAMPLES = 8  # to an order and turn: four to the shortest wave, which goes up and down
_BESIDE = 8  # of a circuit's numbers a sample, beside one for each coil
_LONGEST = 100  # turns of the fastest rotor; a machine that takes longer is shortened
_MOST_ORDERS = 8192
_ALONG = 17  # points along an edge of a winding
_MOST = 1_200_000  # of one machine: half a gigabyte and ten seconds
_LARGE = 100_000  # of one machine: studies of smaller ones are the asker's patience
_MOST_OF_STUDY = 5_000_000
_LESS = (
    "fewer coils, a smaller radius, a wider clearance, gear ratios that come back together sooner "
    "or a rougher tolerance need less"
)


def machine_numbers(machine: Machine, tolerance: float) -> int:
    """Return about how many numbers the waveforms of a machine through one repeat are.

    Parameters
    ----------
    machine
        The machine.
    tolerance
        Error asked of its linkage: a smaller one takes more orders.

    Notes
    -----
    Orders of a linkage fall as exp(-rate m), where cosh(rate) = 1 + d^2 / (2 rho r) for rings about
    the shaft, one through the magnet and one through the winding, at a distance d from each other
    (the generating function of Legendre functions of half order, DLMF 14.19).

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> one = machine_numbers(read("geometries/one_rotor.yaml"), 1e-6)
    >>> 1e3 < one < 1e5
    True
    """
    orders = 1
    for rotor in machine.placed_rotors:
        for track in {track_of(mounted) for mounted in rotor.magnets}:
            for coil in machine.placed_coils:
                orders = max(orders, _orders(track, coil_in_rotor(coil, rotor), tolerance))
    return orders * _numbers_an_order(machine)


def refuse_large(machine: Machine, tolerance: float) -> None:
    """Refuse a machine that takes more memory and time than a small computer has.

    Raises
    ------
    ImpossibleError
        With what makes it large.
    """
    if _MOST_ORDERS * _numbers_an_order(machine) <= _MOST:
        return
    numbers = machine_numbers(machine, tolerance)
    if numbers > _MOST:
        raise ImpossibleError(
            f"coils and rotors: a machine {_parts(machine)} takes {numbers / 1e6:.3g} million "
            f"numbers; at most {_MOST / 1e6:.3g} million are worked out: {_LESS}"
        )


def refuse_many(machine: Machine, tolerance: float, count: int) -> None:
    """Refuse a study of so many large machines like this one that it would take minutes.

    Raises
    ------
    ImpossibleError
        With how many it may have.
    """
    numbers = machine_numbers(machine, tolerance)
    if numbers > _LARGE and count * numbers > max(numbers, _MOST_OF_STUDY):
        raise ImpossibleError(
            f"{count} machines {_parts(machine)} take minutes; at most "
            f"{_MOST_OF_STUDY // numbers} are worked out at once: {_LESS}"
        )


def _parts(machine: Machine) -> str:
    coils, rotors = len(machine.coils), len(machine.rotors)
    return f"of {coils} coil{'s' * (coils > 1)} and {rotors} rotor{'s' * (rotors > 1)} like this"


def _numbers_an_order(machine: Machine) -> int:
    ratios = [rotor.gear_ratio for rotor in machine.placed_rotors if rotor.gear_ratio]
    turns = 1.0
    if ratios:
        fastest = max(abs(ratio) for ratio in ratios)
        turns = min(float(common_period(ratios).turns * fastest), float(_LONGEST))
    return math.ceil(_SAMPLES * turns) * (len(machine.placed_coils) + _BESIDE)


def _orders(track: Track, coil: CoilInRotor, tolerance: float) -> int:
    """Return how many orders of a linkage most likely matter."""
    rings, points = singular_rings(track), _edges(coil)
    rho, height = np.hypot(points[:, 0], points[:, 1])[:, None], points[:, 2:]
    square = (rho - rings[:, 0]) ** 2 + (height - rings[:, 1]) ** 2
    near = float((square / np.maximum(2 * rho * rings[:, 0], 1e-300)).min())
    rate = math.acosh(1.0 + near)
    return min(math.ceil(-math.log(tolerance) / max(rate, 1e-12)), _MOST_ORDERS)


def _edges(coil: CoilInRotor) -> NDArray[np.float64]:
    """Return points along the edges of a winding, (points, 3) [m]."""
    a, b = coil.half_opening
    size = np.array([[a + d, b + d, coil.half_length] for d in (0.0, coil.build)])
    return np.asarray(coil.centre + (size[:, None] * _outline()).reshape(-1, 3) @ coil.frame.T)


@cache
def _outline() -> NDArray[np.float64]:
    """Return points along the upper and lower edges of a block of unit halves, (points, 3)."""
    t = np.linspace(-1.0, 1.0, _ALONG)
    ends = np.array([(t, side, height) for t in t for side in (-1, 1) for height in (-1, 1)])
    return np.concatenate([ends, ends[:, [1, 0, 2]]])
