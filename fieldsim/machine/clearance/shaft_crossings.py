"""Shafts that pass through the copper of a winding.

A file gives a shaft as a line without ends or thickness; rotors on one line that turn alike are
taken to share it. That it must pass through copper is certain where a winding lies on the line
between magnets that turn about it, and where windings lie beyond them on both sides: a shaft has to
come out somewhere.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from fieldsim.cautions import Caution, Hazard
from fieldsim.machine.clearance.clearances import turn_together, winding_bars
from fieldsim.machine.machine import Machine
from fieldsim.machine.placed import PlacedCoil, PlacedRotor
from fieldsim.machine.shaft import Shaft

__all__ = ["shaft_cautions"]

Array = NDArray[np.float64]
Stretch = tuple[float, float]  # of a shaft's line, heights from its ``through`` [m]

_TOUCH_M = 1e-6  # a line that only grazes a face does not pass through


def shaft_cautions(machine: Machine) -> tuple[Caution, ...]:
    """Return a caution for each winding that a shaft must pass through.

    Its value is the length of copper in the way [m]: where the shaft may come out on either side,
    that of the thinner.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> [c.where for c in shaft_cautions(read("geometries/bar_inside_coil.yaml"))]
    ['wound']
    >>> shaft_cautions(read("geometries/lamp_ring.yaml"))
    ()
    """
    return tuple(
        Caution(
            Hazard.SHAFT_IN_WINDING,
            coil.name,
            length_m,
            None,
            {"rotors": " and ".join(rotor.name for rotor in rotors)},
        )
        for rotors in _on_one_shaft(machine.placed_rotors)
        for coil in machine.placed_coils
        if (length_m := _copper_in_the_way_m(rotors, coil)) > _TOUCH_M
    )


def _on_one_shaft(rotors: Iterable[PlacedRotor]) -> list[list[PlacedRotor]]:
    """Return the rotors by the shaft that turns them: of one line, and turning alike."""
    shafts: list[list[PlacedRotor]] = []
    for rotor in rotors:
        own = next((of for of in shafts if turn_together(of[0], rotor)), None)
        if own is None:
            shafts.append([rotor])
        else:
            own.append(rotor)
    return shafts


def _copper_in_the_way_m(rotors: Sequence[PlacedRotor], coil: PlacedCoil) -> float:
    shaft = rotors[0].shaft
    low, high = _magnets_from_to(rotors, shaft)
    between = beyond = before = 0.0
    for first, last in _joined(_crossed(shaft, coil)):
        if first >= high:
            beyond += last - first
        elif last <= low:
            before += last - first
        else:
            between += last - first
    return between or min(before, beyond)


def _magnets_from_to(rotors: Iterable[PlacedRotor], shaft: Shaft) -> Stretch:
    """Return the heights along a line of the lowest and the highest centre of a magnet."""
    along = np.array(shaft.along)
    heights = [
        float(
            (np.array(r.shaft.through) + m.height * np.array(r.shaft.along) - shaft.through) @ along
        )
        for r in rotors
        for m in r.magnets
    ]
    return min(heights), max(heights)


def _crossed(shaft: Shaft, coil: PlacedCoil) -> Iterator[Stretch]:
    """Yield where a line runs inside each of a winding's bars: between three pairs of faces."""
    for centre, frame, half in winding_bars(coil):
        start = (np.array(shaft.through) - centre) @ frame
        rise = np.array(shaft.along) @ frame
        low, high = -math.inf, math.inf
        for x, dx, size in zip(start, rise, half, strict=True):
            if abs(dx) < 1e-12:
                if abs(x) >= size - _TOUCH_M:
                    low, high = 0.0, 0.0
                continue
            ends = sorted(((-size - x) / dx, (size - x) / dx))
            low, high = max(low, ends[0]), min(high, ends[1])
        if high - low > _TOUCH_M:
            yield float(low), float(high)


def _joined(stretches: Iterable[Stretch]) -> list[Stretch]:
    """Return stretches in order, those that overlap made one: bars share their corners."""
    found: list[Stretch] = []
    for low, high in sorted(stretches):
        if found and low <= found[-1][1] + _TOUCH_M:
            found[-1] = found[-1][0], max(high, found[-1][1])
        else:
            found.append((low, high))
    return found
