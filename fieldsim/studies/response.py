"""What machines between some that were worked out give: a response surface through those.

One machine is worked out as it is stated, and for each uncertain input one with it at either end.
Each figure then follows every input along a parabola, and the inputs' effects add; of a figure that
is above zero in all of them the logarithm does, for there remanence, turns and clearance multiply
(G. E. P. Box and K. B. Wilson, J. Royal Stat. Soc. B 13 (1951) 1-45, from memory, without the
products of inputs).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.machine.machine import Machine
from fieldsim.operation.many_points import OperatingPoints

__all__ = ["ends", "on_surface"]

Array = NDArray[np.float64]

_SPEED = "speed_rad_per_s"  # known, not foretold


def ends(inputs: int) -> Array:
    """Return the offsets of the machines to be worked out, (2 inputs + 1, inputs).

    Examples
    --------
    >>> ends(2).tolist()
    [[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [-1.0, 0.0], [0.0, -1.0]]
    """
    one = np.eye(inputs)
    return np.concatenate([np.zeros((1, inputs)), one, 0.0 - one])


def on_surface(
    known: OperatingPoints, offsets: Array, machines: Sequence[Machine], speed_rad_per_s: Array
) -> OperatingPoints:
    """Return the figures of machines between those that are known.

    Parameters
    ----------
    known
        At `ends`; all of them can be.
    offsets
        Of each machine and input, from -1 to 1, (machines, inputs).
    machines, speed_rad_per_s
        Those machines, and their speeds.
    """
    names = [f.name for f in fields(known) if isinstance(getattr(known, f.name), np.ndarray)]
    found: dict[str, Any] = {
        name: _between(getattr(known, name), offsets) for name in names if name != _SPEED
    }
    return replace(
        known,
        machines=machines,
        speed_rad_per_s=speed_rad_per_s,
        problems=("",) * len(offsets),
        **found,
    )


def _between(values: Array, offsets: Array) -> Array:
    """Return values at offsets from those at `ends`, (machines, ...)."""
    if values.size == 0:
        return np.empty((len(offsets), *values.shape[1:]))
    above = (values > 0).all(axis=0)
    curved = np.where(above, np.log(np.where(above, values, 1.0)), values)
    up, down = np.split(curved[1:] - curved[0], 2)
    found = curved[0] + np.tensordot(offsets, (up - down) / 2, 1)
    found += np.tensordot(offsets**2, (up + down) / 2, 1)
    # What is never below zero, such as a lamp's current, is not so between either.
    least = np.where((values >= 0).all(axis=0), 0.0, -np.inf)
    return np.where(above, np.exp(np.where(above, found, 0.0)), np.maximum(found, least))
